"""load-width, load-lump, load-fill, load-support, load-impact.

Sources beside each test; [C] marks common practice, no published source.
"""

from __future__ import annotations

import math

import pytest

from sheetcheck.findings.evaluate import evaluate
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
from tests.checks.reference import FOOT, GRAVITY, INCH, cema_area, read_data, uncertainty
from tests.conftest import make_register

# load-width: Goodyear/Veyance guide (2010) p. 19, two thirds of belt width ----------------


def test_width_check_value_36_in_belt_takes_a_24_in_chute():
    verdict = judge("load-width", {"belt_width": 36 * INCH, "chute_width_inside": 24 * INCH})
    assert verdict.required == pytest.approx(24 * INCH, rel=1e-12)
    assert verdict.band == MEETS  # nominal sizes: equal meets
    assert verdict.margin == pytest.approx(0, abs=1e-12)


def test_width_is_not_guarded():
    widths = [0.5, 0.5999, 0.6, 0.6001, 0.7]
    got = bands("load-width", [{"belt_width": 0.9, "chute_width_inside": w} for w in widths])
    assert got == [MEETS, MEETS, MEETS, SHORT, SHORT]


@pytest.mark.parametrize("given", [{"belt_width": 0.9}, {"chute_width_inside": 0.5}, {}])
def test_width_missing(given):
    assert band("load-width", given) == UNJUDGED


def test_width_is_judged_at_every_load_point():
    rows = [
        {"tag": "C-1", "belt_width": 0.9, "chute_width_inside": 0.5},
        {"tag": "C-1", "belt_width": 0.9, "chute_width_inside": 0.8},
    ]
    assert bands("load-width", rows) == [MEETS, SHORT]


# load-lump: crusher maker's handbook quoting the CEMA rule (B/3, B/5, B/6, B/10); chute rule
# Goodyear/Veyance guide (2010) -----------------------------------------------------------

LUMP = {
    "belt_width": 0.9,
    "lump_size": 0.1,
    "lump_mix": "with fines",
    "surcharge_angle": 20,
}


@pytest.mark.parametrize(
    ("mix", "surcharge", "divisor"),
    [
        ("with fines", 15, 3),
        ("with fines", 20, 3),
        ("uniform", 20, 5),
        ("with fines", 20.5, 6),
        ("with fines", 30, 6),
        ("uniform", 25, 10),
        ("uniform", 30, 10),
    ],
)
def test_lump_belt_rule(mix, surcharge, divisor):
    given = LUMP | {"lump_mix": mix, "surcharge_angle": surcharge}
    limit = 0.9 / divisor
    assert judge("load-lump", given).required == pytest.approx(limit, rel=1e-12)
    got = bands("load-lump", [given | {"lump_size": limit * share} for share in (0.99, 1, 1.01)])
    assert got == [MEETS, MEETS, SHORT]


def test_lump_above_30_degrees_is_not_judged():
    assert band("load-lump", LUMP, surcharge_angle=31) == UNJUDGED


@pytest.mark.parametrize(("mix", "divisor"), [("with fines", 2.0), ("uniform", 3.5)])
def test_lump_chute_rule_governs_where_it_is_stricter(mix, divisor):
    given = LUMP | {"lump_mix": mix, "chute_width_inside": 0.3}
    limit = min(0.3 / divisor, 0.9 / {"with fines": 3, "uniform": 5}[mix])
    assert judge("load-lump", given, lump_size=0.01).required == pytest.approx(limit, rel=1e-12)
    got = bands("load-lump", [given | {"lump_size": limit * share} for share in (0.99, 1, 1.01)])
    assert got == [MEETS, MEETS, SHORT]


def test_lump_without_a_chute_width_says_that_the_chute_was_not_compared():
    verdict = judge("load-lump", LUMP)
    assert verdict.band == MEETS
    assert any("chute" in text for text in verdict.assumptions)


@pytest.mark.parametrize("missing", ["belt_width", "lump_size", "surcharge_angle"])
def test_lump_missing_numbers(missing):
    assert band("load-lump", LUMP | {missing: None}) == UNJUDGED


def test_lump_missing_mix_is_bounded():
    unknown = LUMP | {"lump_mix": None}
    got = bands("load-lump", [unknown | {"lump_size": size} for size in (0.17, 0.2, 0.31)])
    assert got == [MEETS, UNJUDGED, SHORT]
    verdict = judge("load-lump", unknown, lump_size=0.2)
    assert verdict.if_known["lump_mix"] == {"with fines": MEETS, "uniform": SHORT}


def test_lump_chute_part_that_falls_short_decides_over_a_missing_surcharge_not_over_a_steep_one():
    given = LUMP | {"chute_width_inside": 0.3, "surcharge_angle": None, "lump_size": 0.2}
    assert band("load-lump", given) == SHORT
    assert band("load-lump", given, lump_size=0.1) == UNJUDGED
    assert band("load-lump", given, surcharge_angle=35) == UNJUDGED


# load-fill: CEMA area, eq. 4.11 to 4.13 as quoted, here by quadrature ----------------------

FILL = {
    "belt_width": 36 * INCH,
    "trough_angle": 35,
    "surcharge_angle": 20,
    "belt_speed": 2.0,
    "bulk_density": 1.2,
}


def tonnage_for(fill: float, given: dict = FILL) -> float:
    area = cema_area(given["belt_width"], given["trough_angle"], given["surcharge_angle"])
    return fill * area * given["belt_speed"] * given["bulk_density"] * 3600


def test_area_by_quadrature_agrees_with_the_tabulated_formula_values():
    # data/cema_area_ft2.csv: formula values (derived), three decimals.
    table = read_data("cema_area_ft2.csv")
    assert len(table) > 200
    for row in table[::7]:
        area = cema_area(
            float(row["bw_in"]) * INCH, float(row["trough_deg"]), float(row["surcharge_deg"])
        )
        assert area / FOOT**2 == pytest.approx(float(row["area_ft2_formula"]), abs=6e-4)


def test_published_selection_example_is_about_three_quarters_full():
    # E3: 1000 tons/h at 60 lb/ft³, 600 ft/min: 42 in, 35°, 15° carries 7525 ft³/h per 100 ft/min
    # (74 %). Short tons. CEMA style selection example.
    given = {
        "belt_width": 42 * INCH,
        "trough_angle": 35,
        "surcharge_angle": 15,
        "belt_speed": 600 * FOOT / 60,
        "bulk_density": 60 * 0.45359237 / FOOT**3 / 1000,
        "tonnage": 907.18474,
    }
    verdict = judge("load-fill", given)
    assert verdict.found == pytest.approx(1000 * 2000 / 60 / 6 / 7525, rel=2e-3)
    assert verdict.found == pytest.approx(0.74, abs=0.005)
    assert verdict.band == MEETS


@pytest.mark.parametrize(
    ("fill", "expected"),
    [(0.5, MEETS), (0.799, MEETS), (0.801, MARGINAL), (0.999, MARGINAL), (1.001, SHORT)],
)
def test_fill_bands(fill, expected):
    verdict = judge("load-fill", FILL, tonnage=tonnage_for(fill))
    assert verdict.found == pytest.approx(fill, rel=1e-6)
    assert verdict.required == pytest.approx(1.0)
    assert verdict.band == expected


def test_a_tighter_fill_is_enforced_although_the_old_grey_edge_lies_above_it():
    register = make_register(
        [{"tag": f"F{fill}", "tonnage": tonnage_for(fill)} | FILL for fill in (0.69, 0.756, 0.81)]
    )
    found = evaluate(register, {"load-fill": {"full": 0.7}}, checks=["load-fill"])
    verdicts = [found.verdict("load-fill", row) for row in range(3)]
    assert [verdict.band for verdict in verdicts] == [MEETS, SHORT, SHORT]
    assert verdicts[1].why == "more than the belt can carry"
    # What is advised keeps to it too.
    assert found.numbers("load-fill", 1)["tonnage_allowed"] == pytest.approx(tonnage_for(0.7))


def test_fill_of_other_than_three_rolls_is_not_judged():
    given = FILL | {"tonnage": 300.0}
    assert bands("load-fill", [given | {"idler_rolls": rolls} for rolls in (3, 5)]) == [
        *(MEETS, UNJUDGED)
    ]


def test_fill_flat_is_not_applicable():
    assert bands("load-fill", [{"trough_angle": 0}]) == [NOT_APPLICABLE]


@pytest.mark.parametrize(
    "missing",
    [*("belt_width", "trough_angle", "surcharge_angle", "belt_speed", "bulk_density", "tonnage")],
)
def test_fill_missing(missing):
    assert band("load-fill", FILL | {"tonnage": 300.0} | {missing: None}) == UNJUDGED


# load-support: sag at most 1 % (US Army TM 5-810-15); beds marginal [C] --------------------

SUPPORT = {
    "belt_mass": 14.0,
    "tonnage": 600.0,
    "belt_speed": 2.0,
    "load_idler_spacing": 0.5,
    "load_support": "impact idlers",
}


def sag(**values: float) -> float:
    load = values["belt_mass"] + values["tonnage"] / 3.6 / values["belt_speed"]
    return load * GRAVITY * values["load_idler_spacing"] / (8 * values["load_belt_tension"] * 1e3)


def sag_margin(**values: float) -> float:
    return 0.01 - sag(**values)


def measured_support(tension: float) -> dict:
    return {k: v for k, v in SUPPORT.items() if k != "load_support"} | {
        "load_belt_tension": tension
    }


def tension_for(share_of_limit: float) -> float:
    return sag(**measured_support(1.0)) / (0.01 * share_of_limit)


def test_sag_factor_as_published():
    # E9: sag 3 % asks for a factor of 4.2 (1/(8·0.03)) times load and pitch; common sag factor.
    factor = 1 / (8 * 0.03)
    assert factor == pytest.approx(4.2, abs=0.05)
    load = 14.0 + 600 / 3.6 / 2.0
    verdict = judge("load-support", SUPPORT, load_belt_tension=load * GRAVITY * 0.5 * factor / 1e3)
    assert verdict.found == pytest.approx(0.03, rel=1e-5)
    assert verdict.band == SHORT


def test_support_bands_and_guard():
    for share in (1.001, 0.999, 0.95, 0.9, 0.8):
        tension = tension_for(share)
        now = measured_support(tension)
        margin = sag_margin(**now)
        spread = uncertainty(sag_margin, now)
        verdict = judge("load-support", SUPPORT, load_belt_tension=tension)
        assert verdict.found == pytest.approx(sag(**now), rel=1e-4)
        assert verdict.required == pytest.approx(0.01)
        expected = SHORT if margin < 0 else MARGINAL if margin < spread else MEETS
        assert verdict.band == expected, share


def test_support_guard_is_seen_from_both_sides():
    got = [band("load-support", SUPPORT, load_belt_tension=tension_for(s)) for s in (0.97, 0.7)]
    assert got == [MARGINAL, MEETS]


@pytest.mark.parametrize("kind", ["impact bed", "slider bed"])
def test_a_bed_is_marginal_because_its_length_is_not_compared(kind):
    assert band("load-support", SUPPORT, load_support=kind, load_belt_tension=50.0) == MARGINAL


@pytest.mark.parametrize("missing", ["belt_mass", "tonnage", "belt_speed", "load_belt_tension"])
def test_support_missing_numbers(missing):
    given = SUPPORT | {"load_belt_tension": 50.0} | {missing: None}
    assert band("load-support", given) == UNJUDGED


def test_support_missing_pitch_is_bounded_from_03_to_15_m():
    unknown = SUPPORT | {"load_idler_spacing": None}
    # sag is proportional to pitch: at 0.5 m share of the limit is 1.5 → 0.9 to 4.5 over the range
    got = [band("load-support", unknown, load_belt_tension=tension_for(s)) for s in (0.1, 1.0, 2)]
    assert got == [MEETS, UNJUDGED, SHORT]


def test_support_missing_kind_is_bounded():
    unknown = SUPPORT | {"load_support": None}
    assert band("load-support", unknown, load_belt_tension=tension_for(0.5)) == UNJUDGED
    assert band("load-support", unknown, load_belt_tension=tension_for(0.97)) == MARGINAL


# load-impact: information ------------------------------------------------------------------

IMPACT = {"lump_size": 0.2, "bulk_density": 1.5, "drop_height": 3.0, "tonnage": 800.0}


def test_impact_numbers():
    # m = 0.6·ρs·d³ with ρs 1.6 × bulk density [C]; stream force 1.2302·Q·√drop [D]:
    # (Q/3.6)·√(2·g·h) = Q·√h·√(2 g)/3.6.
    assert math.sqrt(2 * GRAVITY) / 3.6 == pytest.approx(1.2302, abs=5e-5)
    verdict = judge("load-impact", IMPACT)
    assert verdict.band == INFORMATION
    mass = 0.6 * 1.6 * 1500 * 0.2**3
    numbers = [v for v in verdict.numbers.values() if isinstance(v, int | float)]
    assert any(n == pytest.approx(mass * GRAVITY * 3.0, rel=1e-4) for n in numbers)
    assert any(n == pytest.approx(1.2302 * 800 * math.sqrt(3.0), rel=1e-4) for n in numbers)


@pytest.mark.parametrize(
    ("joules", "duty"),
    [(265, 1), (277, 2), (1340, 2), (1370, 3), (2690, 3), (2730, 4)],
)
def test_impact_duty_steps_at_200_1000_and_2000_foot_pounds(joules, duty):
    # CEMA 575, from memory: 271, 1356 and 2712 J
    for foot_pounds, limit in ((200, 271), (1000, 1356), (2000, 2712)):
        assert foot_pounds * FOOT * 0.45359237 * GRAVITY == pytest.approx(limit, abs=0.5)
    drop = joules / (0.6 * 1.6 * 1500 * 0.2**3 * GRAVITY)
    assert judge("load-impact", IMPACT, drop_height=drop).numbers["duty_class"] == duty


@pytest.mark.parametrize("missing", list(IMPACT))
def test_impact_stays_information_when_something_is_missing(missing):
    assert band("load-impact", IMPACT | {missing: None}) == INFORMATION
