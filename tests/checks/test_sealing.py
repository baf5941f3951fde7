"""seal-edge, seal-wander, seal-chute-max, seal-length, seal-kind, seal-air.

Sources beside each test; [C] marks common practice, no published source.
"""

from __future__ import annotations

import math

import pytest

from tests.checks.judging import (
    INFORMATION,
    MARGINAL,
    MEETS,
    NOT_APPLICABLE,
    SHORT,
    UNJUDGED,
    band,
    bands,
    judge,
)
from tests.checks.reference import FOOT, INCH, edge_distance, troughed_width, uncertainty
from tests.conftest import Approximate

# seal-edge: free edge (geometry) against the CEMA edge distance, eq. 4.12 as quoted --------

EDGE = {
    "belt_width": 1.0,
    "trough_angle": 35,
    "centre_roll_length": 1 / 3,
    "chute_width_inside": 0.6,
    "chute_wall_thickness": 0.01,
    "seal_kind": "single strip",
}


def free_edge(**values: float) -> float:
    outside = values["chute_width_inside"] + 2 * values["chute_wall_thickness"]
    inner = values.get("centre_roll_length")
    return (troughed_width(values["belt_width"], values["trough_angle"], inner) - outside) / 2


def edge_margin(**values: float) -> float:
    required = edge_distance(values["belt_width"])
    if "seal_footprint" in values:
        required = max(required, values["seal_footprint"])
    return free_edge(**values) - required


def measured(given: dict) -> dict:
    return {name: value for name, value in given.items() if name != "seal_kind"}


def test_published_sizes_of_a_36_in_belt():
    assert edge_distance(36 * INCH) == pytest.approx(2.88 * INCH, rel=1e-12)  # CEMA eq. 4.12
    # 31.66 in by geometry [D]; 31.7 in is trade knowledge [C]
    assert troughed_width(36 * INCH, 35) == pytest.approx(31.66 * INCH, abs=0.005 * INCH)


def test_edge_check_value_3_83_in():
    # 36 in, 35°, 24 in chute, thin wall [D]
    verdict = judge(
        "seal-edge",
        {
            "belt_width": 36 * INCH,
            "trough_angle": 35,
            "chute_width_inside": 24 * INCH,
            "chute_wall_thickness": 0.0,
            "seal_kind": "single strip",
        },
    )
    assert verdict.found == pytest.approx(3.83 * INCH, abs=0.005 * INCH)
    assert verdict.required == pytest.approx(2.88 * INCH, rel=1e-9)
    assert verdict.unit == "m"
    assert any("roll" in text for text in verdict.assumptions)  # three equal rolls


def test_edge_bands_and_guard():
    seen = set()
    for chute in (0.75, 0.71, 0.7037, 0.7035, 0.70, 0.69, 0.685, 0.68, 0.66, 0.6):
        given = EDGE | {"chute_width_inside": chute}
        margin = edge_margin(**measured(given))
        spread = uncertainty(edge_margin, measured(given))
        expected = SHORT if margin < 0 else MARGINAL if margin < spread else MEETS
        assert band("seal-edge", given) == expected, chute
        seen.add(expected)
    assert seen == {SHORT, MARGINAL, MEETS}


def test_edge_wall_counts_on_both_sides():
    thin, thick = judge("seal-edge", EDGE), judge("seal-edge", EDGE, chute_wall_thickness=0.03)
    assert thin.found - thick.found == pytest.approx(0.02)


@pytest.mark.parametrize(
    ("kind", "footprint", "required"),
    [
        ("none", None, edge_distance(1.0)),
        ("single strip", None, edge_distance(1.0)),
        ("single strip", 0.04, edge_distance(1.0)),
        ("single strip", 0.09, 0.09),
        ("dual lip", None, edge_distance(1.0)),  # 77.9 mm, more than 75 mm
        ("dual lip", 0.09, 0.09),
        ("other", 0.12, 0.12),
        ("other", 0.02, edge_distance(1.0)),
    ],
)
def test_edge_required(kind, footprint, required):
    verdict = judge("seal-edge", EDGE, seal_kind=kind, seal_footprint=footprint)
    assert verdict.required == pytest.approx(required, rel=1e-9)


def test_edge_dual_lip_without_footprint_needs_75_mm_on_a_narrow_belt():
    # Dual-lip seals take 3 to 4 in, 75 to 100 mm [C]; 0.6 m belt: e = 55.9 mm.
    given = EDGE | {
        "belt_width": 0.6,
        "centre_roll_length": 0.2,
        "chute_width_inside": 0.3,
        "seal_kind": "dual lip",
    }
    assert judge("seal-edge", given).required == pytest.approx(0.075)


def test_edge_other_seal_needs_its_footprint():
    assert band("seal-edge", EDGE, seal_kind="other") == UNJUDGED


def test_edge_missing_kind_is_bounded_without_other():
    narrow = EDGE | {"belt_width": 0.6, "centre_roll_length": 0.2, "seal_kind": None}
    # e = 55.9 mm for none and single strip, 75 mm for dual lip
    chutes = [0.25, 0.375, 0.46]
    got = bands("seal-edge", [narrow | {"chute_width_inside": chute} for chute in chutes])
    assert got == [MEETS, UNJUDGED, SHORT]
    verdict = judge("seal-edge", narrow, chute_width_inside=0.375)
    assert verdict.if_known["seal_kind"]["dual lip"] == SHORT
    assert set(verdict.if_known["seal_kind"]) == {"none", "single strip", "dual lip"}


def test_edge_missing_kind_does_not_matter_with_a_footprint():
    assert band("seal-edge", EDGE, seal_kind=None, seal_footprint=0.05) == MEETS


def test_edge_missing_wall_is_bounded_to_12_mm():
    unknown = EDGE | {"chute_wall_thickness": None}
    members = {}
    for chute in (0.6, 0.685, 0.7, 0.725, 0.75):
        members[chute] = {
            band("seal-edge", EDGE, chute_width_inside=chute, chute_wall_thickness=wall)
            for wall in (0.0, 0.003, 0.006, 0.009, 0.012)
        }
        got = band("seal-edge", unknown, chute_width_inside=chute)
        expected = next(iter(members[chute])) if len(members[chute]) == 1 else UNJUDGED
        assert got == expected, chute
    assert any(len(item) > 1 for item in members.values())


@pytest.mark.parametrize("missing", ["belt_width", "trough_angle", "chute_width_inside"])
def test_edge_missing_numbers(missing):
    assert band("seal-edge", EDGE | {missing: None}) == UNJUDGED


def test_edge_of_a_flat_belt_is_its_full_width():
    flat = {k: v for k, v in EDGE.items() if k != "centre_roll_length"} | {"trough_angle": 0}
    assert judge("seal-edge", flat).found == pytest.approx((1.0 - 0.62) / 2)


def test_edge_of_a_two_roll_trough_has_no_centre():
    given = {k: v for k, v in EDGE.items() if k != "centre_roll_length"} | {"idler_rolls": 2}
    verdict = judge("seal-edge", given)
    assert verdict.found == pytest.approx((math.cos(math.radians(35)) - 0.62) / 2)


def test_edge_of_a_five_roll_trough_is_not_judged():
    assert band("seal-edge", EDGE, idler_rolls=5) == UNJUDGED
    assert band("seal-wander", WANDER, idler_rolls=5) == UNJUDGED
    assert judge("seal-chute-max", EDGE, idler_rolls=5).required is None


def test_edge_approximate_chute_widens_the_guard():
    given = EDGE | {"chute_width_inside": 0.68}
    assert band("seal-edge", given) == MEETS
    assert band("seal-edge", given | {"chute_width_inside": Approximate(0.68)}) == MARGINAL


def test_edge_is_judged_at_every_load_point():
    rows = [EDGE | {"tag": "C-1"}, EDGE | {"tag": "C-1", "chute_width_inside": 0.9}]
    assert bands("seal-edge", rows) == [MEETS, SHORT]


# seal-wander -------------------------------------------------------------------------------

WANDER = EDGE | {"seal_footprint": 0.04, "belt_wander": 0.02}


def wander_margin(**values: float) -> float:
    return free_edge(**values) - values["belt_wander"] - values["seal_footprint"]


def test_wander_bands_and_guard():
    seen = set()
    for wander in (0.0, 0.05, 0.07, 0.075, 0.08, 0.085, 0.0898, 0.09, 0.1):
        given = WANDER | {"belt_wander": wander}
        margin = wander_margin(**measured(given))
        spread = uncertainty(wander_margin, measured(given))
        expected = SHORT if margin < 0 else MARGINAL if margin < spread else MEETS
        verdict = judge("seal-wander", given)
        assert verdict.band == expected, wander
        assert verdict.found == pytest.approx(free_edge(**measured(given)) - wander, rel=1e-9)
        assert verdict.required == pytest.approx(0.04)
        seen.add(expected)
    assert seen == {SHORT, MARGINAL, MEETS}


def test_wander_without_a_seal_is_not_applicable():
    assert band("seal-wander", WANDER, seal_kind="none") == NOT_APPLICABLE
    assert band("seal-wander", {"seal_kind": "none"}) == NOT_APPLICABLE


def test_wander_missing_is_not_judged_and_says_what_the_belt_could_take():
    verdict = judge("seal-wander", WANDER, belt_wander=None)
    assert verdict.band == UNJUDGED
    could = free_edge(**measured(EDGE)) - 0.04
    numbers = [n for n in verdict.numbers.values() if isinstance(n, int | float)]
    assert any(n == pytest.approx(could, rel=1e-6) for n in numbers)


@pytest.mark.parametrize(
    ("kind", "low", "high"), [("single strip", 0.025, 0.05), ("dual lip", 0.075, 0.1)]
)
def test_wander_missing_footprint_is_bounded_by_the_kind(kind, low, high):
    # Footprints 25 to 50 mm and 75 to 100 mm [C]
    unknown = WANDER | {"seal_kind": kind, "seal_footprint": None}
    lengths = set()
    for wander in (0.0, 0.02, 0.04, 0.06, 0.08, 0.1, 0.12):
        members = {
            band("seal-wander", WANDER, seal_kind=kind, seal_footprint=f, belt_wander=wander)
            for f in (low, (3 * low + high) / 4, (low + high) / 2, (low + 3 * high) / 4, high)
        }
        expected = next(iter(members)) if len(members) == 1 else UNJUDGED
        assert band("seal-wander", unknown, belt_wander=wander) == expected, wander
        lengths.add(len(members))
    assert len(lengths) > 1


def test_wander_of_an_other_seal_needs_its_footprint():
    assert band("seal-wander", WANDER, seal_kind="other", seal_footprint=None) == UNJUDGED


@pytest.mark.parametrize("missing", ["belt_width", "trough_angle", "chute_width_inside"])
def test_wander_missing_numbers(missing):
    assert band("seal-wander", WANDER | {missing: None}) == UNJUDGED


# seal-chute-max: information ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "edge", "wall"),
    [
        ({}, edge_distance(1.0), 0.01),
        ({"chute_wall_thickness": None}, edge_distance(1.0), 0.012),
        ({"seal_footprint": 0.13}, 0.13, 0.01),
    ],
)
def test_widest_chute(changes, edge, wall):
    verdict = judge("seal-chute-max", EDGE, **changes)
    widest = min(2 / 3, troughed_width(1.0, 35, 1 / 3) - 2 * edge - 2 * wall)
    assert verdict.band == INFORMATION
    assert verdict.required == pytest.approx(widest, rel=1e-9)


def test_widest_chute_then_meets_seal_edge_at_its_nominal_size():
    widest = judge("seal-chute-max", EDGE, trough_angle=45).required
    at = judge("seal-edge", EDGE, trough_angle=45, chute_width_inside=widest)
    assert at.margin == pytest.approx(0, abs=1e-9)
    assert widest < 2 / 3


def test_widest_chute_is_information_when_the_belt_is_unknown():
    assert judge("seal-chute-max", {}).band == INFORMATION
    assert judge("seal-chute-max", {}).required is None


# seal-length: CEMA 2 ft per 100 ft/min and US Army 5 ft + 1 ft per 100 ft/min, both as quoted in
# NIOSH RI 9689 (2012) Table 5.2; 4·B Goodyear/Veyance guide (2010) p. 20 ------------------


def test_length_published_values_at_600_ft_per_min():
    given = {"belt_speed": 600 * FOOT / 60, "belt_width": 30 * INCH}
    # 12 ft (CEMA), 11 ft (US Army), 10 ft (4·B)
    got = bands("seal-length", [given | {"skirt_length": n * FOOT} for n in (9.9, 10.5, 11.5, 12)])
    assert got == [SHORT, MARGINAL, MARGINAL, MEETS]
    verdict = judge("seal-length", given, skirt_length=11.5 * FOOT)
    assert verdict.required == pytest.approx(12 * FOOT, rel=1e-9)
    assert verdict.margin < 0
    numbers = [n for n in verdict.numbers.values() if isinstance(n, int | float)]
    for rule in (12 * FOOT, 11 * FOOT, 10 * FOOT):
        assert any(n == pytest.approx(rule, rel=1e-6) for n in numbers), rule


@pytest.mark.parametrize(
    ("speed", "width", "rules"),
    [
        (1.0, 1.0, (1.2, 2.124, 4.0)),
        (5.0, 0.6, (6.0, 4.524, 2.4)),
        (0.5, 0.45, (0.6, 1.824, 1.8)),
    ],
)
def test_length_bands_about_the_shortest_and_the_longest_rule(speed, width, rules):
    given = {"belt_speed": speed, "belt_width": width}
    low, high = min(rules), max(rules)
    lengths = [low * 0.999, low * 1.001, high * 0.999, high, high * 1.001]
    got = bands("seal-length", [given | {"skirt_length": length} for length in lengths])
    assert got == [SHORT, MARGINAL, MARGINAL, MEETS, MEETS]
    assert judge("seal-length", given, skirt_length=1).required == pytest.approx(high)


@pytest.mark.parametrize("missing", ["belt_speed", "belt_width", "skirt_length"])
def test_length_missing(missing):
    given = {"belt_speed": 2.0, "belt_width": 1.0, "skirt_length": 9.0}
    assert band("seal-length", given | {missing: None}) == UNJUDGED


# seal-kind [C] -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("dust", "seal", "expected"),
    [
        *[(dust, "none", SHORT) for dust in ("dry dusty", "combustible")],
        *[(dust, "single strip", MARGINAL) for dust in ("dry dusty", "combustible")],
        *[(dust, "dual lip", MEETS) for dust in ("dry dusty", "combustible")],
        *[(dust, "none", MARGINAL) for dust in ("sticky", "wet", "benign")],
        *[(dust, "single strip", MEETS) for dust in ("sticky", "wet", "benign")],
        *[(dust, "dual lip", MEETS) for dust in ("sticky", "wet", "benign")],
        *[(dust, "other", UNJUDGED) for dust in ("dry dusty", "combustible")],
        (None, "none", UNJUDGED),
        (None, "single strip", UNJUDGED),
        (None, "dual lip", MEETS),
        ("combustible", None, UNJUDGED),
        ("wet", None, UNJUDGED),
        (None, None, UNJUDGED),
    ],
)
def test_kind(dust, seal, expected):
    assert band("seal-kind", {"dust_kind": dust, "seal_kind": seal}) == expected


def test_kind_tells_what_either_word_would_give():
    verdict = judge("seal-kind", {"dust_kind": "combustible"})
    assert verdict.if_known["seal_kind"] == {
        "none": SHORT,
        "single strip": MARGINAL,
        "dual lip": MEETS,
    }


# seal-air: NIOSH RI 9689 (2012) eq. 5.2 and 5.3; ACGIH Industrial Ventilation VS-50-20 ----

AIR = {
    "belt_width": 1.0,
    "belt_speed": 2.0,
    "tonnage": 500.0,
    "bulk_density": 1.25,
    "drop_height": 3.0,
    "material_size_mean": 0.02,
    "chute_open_area": 0.05,
    "exhaust_airflow": 1.0,
    "dust_kind": "wet",
}
CFM = FOOT**3 / 60


def induced_published(tons_per_hour: float, feet: float, size_feet: float, square_feet: float):
    """NIOSH eq. 5.3 in its own units: Q = 10·A·(R·S²/D)^(1/3), ft³/min, short tons per hour."""
    return 10 * square_feet * (tons_per_hour * feet**2 / size_feet) ** (1 / 3)


def induced(tonnage: float, drop: float, size: float, area: float) -> float:
    return CFM * induced_published(tonnage / 0.90718474, drop / FOOT, size / FOOT, area / FOOT**2)


def test_air_induced_constant_is_the_published_formula_in_si():
    assert induced(1, 1, 1, 1) == pytest.approx(0.07798, rel=2e-4)


def test_air_required_is_guide_or_the_sum_of_displaced_and_induced():
    guide = 500 * CFM / FOOT * 1.0  # 500 ft³/min per foot of belt width from 200 ft/min up
    moved = 500 / 1.25 / 3600 + induced(500, 3, 0.02, 0.05)
    assert guide > moved
    assert judge("seal-air", AIR).required == pytest.approx(guide, rel=1e-6)
    wider = judge("seal-air", AIR, chute_open_area=0.5)
    moved = 500 / 1.25 / 3600 + induced(500, 3, 0.02, 0.5)
    assert moved > guide
    assert wider.required == pytest.approx(moved, rel=3e-4)
    assert wider.unit == "m³/s"


@pytest.mark.parametrize(("fpm", "cfm_per_foot"), [(150, 350), (199, 350), (200, 500), (450, 500)])
def test_air_guide_steps_at_200_ft_per_min(fpm, cfm_per_foot):
    verdict = judge(
        "seal-air", AIR, belt_speed=fpm * FOOT / 60, belt_width=1.2, chute_open_area=0.001
    )
    assert verdict.required == pytest.approx(cfm_per_foot * CFM / FOOT * 1.2, rel=1e-6)


def test_air_bands():
    guide = 500 * CFM / FOOT
    flows = [guide * 0.999, guide, guide * 1.001]
    got = bands("seal-air", [AIR | {"exhaust_airflow": flow} for flow in flows])
    assert got == [SHORT, MEETS, MEETS]


@pytest.mark.parametrize(
    "missing",
    ["tonnage", "bulk_density", "drop_height", "material_size_mean", "chute_open_area"],
)
def test_air_with_only_the_guide_is_at_best_marginal(missing):
    given = AIR | {missing: None}
    assert band("seal-air", given, exhaust_airflow=5.0) == MARGINAL
    assert band("seal-air", given, exhaust_airflow=0.1) == SHORT


def test_air_outside_the_formula_s_size_range_has_only_the_guide():
    # Valid for a mean size above 3 mm
    assert band("seal-air", AIR, material_size_mean=0.002, exhaust_airflow=5.0) == MARGINAL


def test_air_just_inside_the_size_range_is_compared_in_full():
    assert band("seal-air", AIR, material_size_mean=0.00302, exhaust_airflow=5.0) == MEETS


def test_air_without_an_airflow_is_information():
    assert band("seal-air", AIR, exhaust_airflow=None) == INFORMATION
    assert band("seal-air", {}) == INFORMATION


@pytest.mark.parametrize("missing", ["belt_width", "belt_speed"])
def test_air_without_the_guide_is_never_good(missing):
    got = band("seal-air", AIR | {missing: None}, exhaust_airflow=5.0)
    assert got in (UNJUDGED, SHORT)


def test_air_displaced_is_volume_rate():
    verdict = judge("seal-air", AIR)
    numbers = [n for n in verdict.numbers.values() if isinstance(n, int | float)]
    assert any(n == pytest.approx(500 / 1.25 / 3600, rel=1e-9) for n in numbers)
    assert any(n == pytest.approx(induced(500, 3, 0.02, 0.05), rel=3e-4) for n in numbers)
    assert not math.isnan(sum(numbers))


# seal-air: the rest of ACGIH VS-50-20 as OSHA reprints it -------------------------------------

DUSTY = {
    "belt_width": 36 * INCH,
    "belt_speed": 2.0,  # above 200 ft/min: 500 cfm a foot, 1,500 cfm
    "dust_kind": "combustible",
    "drop_height": 1.5,
    "exhaust_airflow": 5.0,
}


@pytest.mark.parametrize(
    ("changes", "cfm"),
    [
        ({}, 1500 + 700),
        ({"belt_width": 37 * INCH}, 37 / 12 * 500 + 1000),
        ({"drop_height": 3 * 0.3048}, 1500),  # more than 3 ft
        ({"drop_height": 0.0}, 1500),
        ({"drop_height": None}, 1500),
        ({"dust_kind": "wet"}, 1500),
        ({"dust_kind": "dry dusty"}, 1500 + 700),
    ],
)
def test_a_long_drop_of_dusty_material_asks_for_more_air(changes, cfm):
    verdict = judge("seal-air", DUSTY, **changes)
    assert verdict.required == pytest.approx(cfm * CFM)


def test_the_indraft_at_all_openings_is_asked_too():
    # 150 ft/min = 0.762 m/s through 3 m²; 200 ft/min stands beside.
    verdict = judge("seal-air", DUSTY, chute_open_area=3.0)
    assert verdict.required == pytest.approx(3.0 * 0.762)
    assert verdict.numbers["indraft_air"] == pytest.approx([3 * 0.762, 3 * 1.016])


def test_very_dry_dust_is_a_grey_range_up_to_twice_the_guide():
    known = {"tonnage": 100.0, "bulk_density": 1.0, "chute_open_area": 0.01}
    given = DUSTY | known | {"dust_kind": "dry dusty", "material_size_mean": 0.02}
    guide = 2200 * CFM
    flows = [guide * 0.99, guide, guide * 1.99, guide * 2.0]
    got = bands("seal-air", [given | {"exhaust_airflow": flow} for flow in flows])
    assert got == [SHORT, MARGINAL, MARGINAL, MEETS]
    wet = bands("seal-air", [given | {"dust_kind": "combustible", "exhaust_airflow": guide}])
    assert wet == [MEETS]


def test_an_unknown_dust_is_every_dust():
    given = DUSTY | {"dust_kind": None, "exhaust_airflow": 1600 * CFM}
    assert band("seal-air", given) == UNJUDGED
    assert band("seal-air", given, exhaust_airflow=1400 * CFM) == SHORT


def test_another_kind_of_seal_needs_its_footprint():
    verdict = judge("seal-edge", EDGE, seal_kind="other", seal_footprint=None)
    assert verdict.band == UNJUDGED
    assert verdict.remedy == "Record the seal footprint."
