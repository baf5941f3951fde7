"""transition-tension-tail and -head: the fibre model against numerical integration.

The model is derived mechanics [D]; the mean strain over the width is integrated here with
scipy.integrate.quad and the extremes are sought on a fine grid. Limits 1.15 and 1.30 of rated
tension: Goodyear/Veyance guide (2010) p. 23, and ISO 5293:1981 in summary.
"""

from __future__ import annotations

import math

import pytest

from sheetcheck.findings.evaluate import evaluate
from sheetcheck.findings.results import Verdict
from sheetcheck.register.derive import complete
from tests.checks.judging import (
    MARGINAL,
    MEETS,
    NOT_APPLICABLE,
    SHORT,
    UNJUDGED,
    band,
    bands,
    judge,
)
from tests.checks.reference import read_data, strain, tension_profile, trough_depth, uncertainty
from tests.conftest import make_register

TAIL, HEAD = "transition-tension-tail", "transition-tension-head"
GIVEN = {
    "belt_width": 1.2,
    "trough_angle": 35,
    "head_transition_length": 3.0,
    "head_tension_ratio": 0.8,
    "head_pulley_lift": "full trough",
    "belt_rated_tension": 80.0,
    "belt_modulus": 6000.0,
    "belt_carcass": "fabric",
    "centre_roll_length": 0.4,
}


def at_tail(given: dict) -> dict:
    return {name.replace("head_", "tail_"): value for name, value in given.items()}


def peak_margin(**values: float) -> float:
    return 1.15 - tension_profile(**arguments(values))[0]


def least_margin(**values: float) -> float:
    return tension_profile(**arguments(values))[1]


def arguments(values: dict) -> dict:
    return {
        "width": values["belt_width"],
        "angle": values["trough_angle"],
        "length": values["head_transition_length"],
        "ratio": values["head_tension_ratio"],
        "modulus_ratio": values["belt_modulus"] / values["belt_rated_tension"],
        "lift": values["lift"],
        "centre": values["centre_roll_length"],
    }


def measured(given: dict) -> dict:
    skip = ("belt_carcass", "head_pulley_lift")
    return {name: value for name, value in given.items() if name not in skip}


@pytest.mark.parametrize("angle", [20, 35, 45, 60])
@pytest.mark.parametrize("lift_share", [0.0, 1 / 3, 0.5, 0.8, -0.2])
@pytest.mark.parametrize("length", [1.2, 3.0, 8.0])
def test_peak_and_least_tension_agree_with_quadrature(angle, lift_share, length):
    lift = lift_share * trough_depth(1.2, angle, 0.4)
    verdict = judge(
        HEAD, GIVEN, trough_angle=angle, head_pulley_lift=lift, head_transition_length=length
    )
    peak, least = tension_profile(1.2, angle, length, 0.8, 75.0, lift, 0.4)
    assert verdict.found == pytest.approx(peak, rel=1e-6)
    assert verdict.required == pytest.approx(1.15)
    assert verdict.unit == "1"
    least_shown = next(value for name, value in verdict.numbers.items() if "least" in name)
    assert least_shown == pytest.approx(least, abs=2e-5) or least_shown == pytest.approx(
        least * 80.0, abs=2e-3
    )


@pytest.mark.parametrize(
    ("word", "share"), [("full trough", 0), ("one-third", 1 / 3), ("half", 0.5)]
)
def test_position_words_stand_for_shares_of_the_trough_depth(word, share):
    by_word = judge(HEAD, GIVEN, head_pulley_lift=word)
    by_number = judge(HEAD, GIVEN, head_pulley_lift=share * trough_depth(1.2, 35, 0.4))
    assert by_word.found == pytest.approx(by_number.found, rel=1e-12)


def test_centre_roll_not_recorded_means_three_equal_rolls_and_says_so():
    verdict = judge(HEAD, GIVEN, centre_roll_length=None)
    assert verdict.found == pytest.approx(tension_profile(1.2, 35, 3.0, 0.8, 75.0)[0], rel=1e-6)
    assert any("roll" in text for text in verdict.assumptions)


def test_identity_with_the_published_length_formula():
    # ISO 5293:2004 length L1 as quoted: L1 = (v/sin λ)·√((M/ΔT)(1 − cos λ)). At zero lift
    # M·e(edge) = ΔT within ΔT/(2M) + 1e-4 relative. Vectors: own arithmetic, derived.
    vectors = [
        row for row in read_data("iso5293_vectors.csv") if float(row["pulley_rise_mm"]) == 0
    ]
    assert len(vectors) == 10
    for row in vectors:
        angle, a = float(row["lam_deg"]), float(row["wing_mm"])
        length, modulus = float(row["L2004_mm"]), float(row["M_N_mm"])
        rise = float(row["dT_N_mm"])
        tilt = math.radians(angle)
        published = (
            float(row["v_mm"]) / math.sin(tilt) * math.sqrt(modulus / rise * (1 - math.cos(tilt)))
        )
        assert length == pytest.approx(published, rel=1e-4)
        edge = modulus * strain(a, length, angle, 0.0)
        assert edge == pytest.approx(rise, rel=rise / (2 * modulus) + 1e-4)
        assert edge == pytest.approx(rise, rel=0.006)


def test_package_holds_the_identity_too():
    # The peak above the mean is M·(e(edge) − ē); for a shallow wing e rises as s², so with equal
    # rolls ē is e(edge)·2/9 to first order. Taken back from the check's own found.
    for row in read_data("iso5293_vectors.csv"):
        if float(row["pulley_rise_mm"]) != 0:
            continue
        width, a = float(row["BW_mm"]) / 1e3, float(row["wing_mm"]) / 1e3
        rated, modulus = float(row["TR_N_mm"]), float(row["M_N_mm"])
        length, rise = float(row["L2004_mm"]) / 1e3, float(row["dT_N_mm"])
        verdict = judge(
            HEAD,
            GIVEN,
            belt_width=width,
            trough_angle=float(row["lam_deg"]),
            centre_roll_length=width - 2 * a,
            head_transition_length=length,
            head_tension_ratio=float(row["r"]),
            belt_rated_tension=rated,
            belt_modulus=modulus,
        )
        above_mean = (verdict.found - float(row["r"])) * rated
        share = 1 - 2 * a / (3 * width)
        # the root's second-order term adds up to 0.2 % of the mean
        assert above_mean / share == pytest.approx(rise, rel=rise / (2 * modulus) + 2.5e-3)


def peak_at(length: float) -> float:
    return tension_profile(1.2, 35, length, 0.8, 75.0, 0.0, 0.4)[0]


def length_for_peak(peak: float) -> float:
    low, high = 0.3, 30.0
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (low, middle) if peak_at(middle) < peak else (middle, high)
    return high


def test_bands_about_both_limits():
    # ratio 0.8: buckling does not interfere. The far edge of the grey range is not guarded.
    at_130, at_115 = length_for_peak(1.30), length_for_peak(1.15)
    given = measured(GIVEN)
    lengths = [at_130 * 0.999, at_130 * 1.001, at_115 * 0.999, at_115 * 1.001]
    rows = [GIVEN | {"head_transition_length": length} for length in lengths]
    assert bands(HEAD, rows) == [SHORT, MARGINAL, MARGINAL, MARGINAL]
    guarded = at_115
    for _ in range(200):
        now = given | {"head_transition_length": guarded}
        if peak_margin(**now, lift=0.0) > uncertainty(peak_margin, now, lift=0.0):
            break
        guarded *= 1.005
    assert guarded < 3 * at_115
    rows = [GIVEN | {"head_transition_length": guarded * share} for share in (0.985, 1.015)]
    assert bands(HEAD, rows) == [MARGINAL, MEETS]


def test_slack_centre_falls_short():
    # Long before the edge is overstretched the slack centre would buckle at low tension.
    low = GIVEN | {"head_tension_ratio": 0.05, "head_transition_length": 2.0}
    peak, least = tension_profile(1.2, 35, 2.0, 0.05, 75.0, 0.0, 0.4)
    assert peak < 1.15
    assert least < 0
    verdict = judge(HEAD, low)
    assert verdict.band == SHORT
    assert verdict.remedy


def test_guard_serves_the_buckling_limit_too():
    # Chosen so that the least tension is above nothing by less, then by more, than its guard.
    got = []
    for ratio in (0.13, 0.2):
        given = GIVEN | {"head_tension_ratio": ratio, "head_transition_length": 2.0}
        now = measured(given)
        least = least_margin(**now, lift=0.0)
        spread = uncertainty(least_margin, now, lift=0.0)
        got.append((least > 0, least < spread))
    assert got == [(True, True), (True, False)]
    rows = [
        GIVEN | {"head_tension_ratio": ratio, "head_transition_length": 2.0}
        for ratio in (0.13, 0.2)
    ]
    assert bands(HEAD, rows) == [MARGINAL, MEETS]


def test_buckling_inside_the_wing_is_seen_when_the_pulley_is_raised():
    # With a raised pulley the shortest fibre lies on the wing, not at the centre or the edge.
    depth = trough_depth(1.2, 35, 0.4)
    lift = 0.5 * depth
    edges = [strain(0, 1.0, 35, lift), strain(0.4, 1.0, 35, lift)]
    inside = min(strain(s * 0.004, 1.0, 35, lift) for s in range(101))
    assert inside < min(edges)
    modulus_ratio, length = 75.0, 1.0
    flat_peak, flat_least = tension_profile(1.2, 35, length, 0.0, modulus_ratio, lift, 0.4)
    ratio = -flat_least - 0.004  # just not enough
    given = GIVEN | {"head_tension_ratio": ratio, "head_transition_length": length}
    assert ratio + flat_peak < 1.15
    assert band(HEAD, given, head_pulley_lift=lift) == SHORT


@pytest.mark.parametrize(
    "missing",
    [*("belt_width", "trough_angle", "head_transition_length", "head_tension_ratio")],
)
def test_missing_numbers_are_not_judged(missing):
    assert band(HEAD, GIVEN | {missing: None}) == UNJUDGED
    assert band(TAIL, at_tail(GIVEN | {missing: None})) == UNJUDGED


def test_five_rolls_are_outside_the_model():
    assert band(HEAD, GIVEN, idler_rolls=5) == UNJUDGED
    assert band(HEAD, GIVEN, idler_rolls=3) == band(HEAD, GIVEN)


def test_flat_is_not_applicable_first():
    assert bands(HEAD, [{"trough_angle": 0}]) == [NOT_APPLICABLE]
    assert bands(TAIL, [{"trough_angle": 0}]) == [NOT_APPLICABLE]


def bounded_bands(low: float, high: float, length: float) -> set[str]:
    """Bands over a modulus range, as multiples of rated tension.

    The modulus was not measured, so that its tolerance is no part of the guard.
    """
    given = measured(GIVEN | {"head_transition_length": length})
    del given["belt_modulus"]
    members = set()
    for factor in (low, (low + high) / 2, high):

        def peak(factor: float = factor, **values: float) -> float:
            modulus = factor * GIVEN["belt_rated_tension"]
            # rated × the same multiple: the rating cancels in modulus ÷ rated tension
            return peak_margin(**values | {"belt_rated_tension": 80.0}, belt_modulus=modulus)

        def least(factor: float = factor, **values: float) -> float:
            modulus = factor * GIVEN["belt_rated_tension"]
            return least_margin(**values | {"belt_rated_tension": 80.0}, belt_modulus=modulus)

        margins = [(f(**given, lift=0.0), uncertainty(f, given, lift=0.0)) for f in (peak, least)]
        if margins[0][0] < 1.15 - 1.30 or margins[1][0] < 0:
            members.add(SHORT)
        elif any(margin < spread for margin, spread in margins):
            members.add(MARGINAL)
        else:
            members.add(MEETS)
    return members


@pytest.mark.parametrize("length", [1.4, 1.9, 2.2, 2.6, 3.4, 5.0])
@pytest.mark.parametrize(
    ("designation", "carcass", "low", "high"),
    [
        ("EP 800/4", "fabric", 50, 100),
        ("NN 800/4", "fabric", 40, 65),
        ("", "fabric", 40, 100),
        ("ST 800", "steel cord", 450, 500),
    ],
)
def test_missing_modulus_is_bounded_over_its_range(length, designation, carcass, low, high):
    unknown = judge(
        HEAD,
        GIVEN,
        belt_modulus=None,
        belt_designation=designation or None,
        belt_carcass=carcass,
        head_transition_length=length,
    )
    members = bounded_bands(low, high, length)
    assert unknown.band == (members.pop() if len(members) == 1 else UNJUDGED)


def test_missing_modulus_says_what_was_assumed():
    verdict = judge(HEAD, GIVEN, belt_modulus=None, head_transition_length=6.0)
    assert verdict.band == MEETS
    assert any("modulus" in text for text in verdict.assumptions)


def test_missing_lift_is_bounded_over_the_three_positions():
    for length in (1.3, 1.8, 2.3, 4.0):
        members = {
            band(HEAD, GIVEN, head_pulley_lift=word, head_transition_length=length)
            for word in ("full trough", "one-third", "half")
        }
        got = band(HEAD, GIVEN, head_pulley_lift=None, head_transition_length=length)
        assert got == (members.pop() if len(members) == 1 else UNJUDGED)


def test_general_tension_cannot_show_the_tail_free_of_buckling():
    # The general figure is the belt's highest; the tail may run far slacker.
    general = at_tail(GIVEN) | {"tail_tension_ratio": None, "belt_tension_ratio": 0.8}
    assert band(TAIL, at_tail(GIVEN), tail_transition_length=6.0) == MEETS
    verdict = judge(TAIL, general, tail_transition_length=6.0)
    assert verdict.band == MARGINAL
    assert "tail tension not recorded" in " ".join((verdict.why, *verdict.assumptions))
    assert band(TAIL, general, tail_transition_length=1.0) == SHORT
    at_head = GIVEN | {"head_tension_ratio": None, "belt_tension_ratio": 0.8}
    assert band(HEAD, at_head, head_transition_length=6.0) == MEETS


@pytest.mark.parametrize("name", ["tail_operating_tension", "belt_operating_tension"])
def test_a_general_operating_tension_shows_no_more_than_a_general_ratio(name):
    given = at_tail(GIVEN) | {"tail_tension_ratio": None, "tail_transition_length": 6.0}
    register = make_register([given | {name: 64.0}])
    complete(register)
    expected = MEETS if name == "tail_operating_tension" else MARGINAL
    assert evaluate(register, checks=[TAIL]).verdict(TAIL, 0).band == expected


def test_the_profile_has_41_points_and_the_given_mean():
    verdict = judge(HEAD, GIVEN)
    profile = next(
        value for name, value in verdict.numbers.items() if "profile" in name and len(value) == 41
    )
    assert max(profile) == pytest.approx(verdict.found, rel=1e-9) or max(profile) == pytest.approx(
        verdict.found * 80.0, rel=1e-9
    )
    assert list(profile) == pytest.approx(list(reversed(profile)), rel=1e-9)


def table_lengths() -> list[tuple[dict[str, str], float, float]]:
    """Each row of the factor table, with mid-column tension and the column's upper end."""
    columns = {"over 90 %": (0.95, 1.0), "60 to 90 %": (0.75, 0.9), "under 60 %": (0.3, 0.599)}
    return [(row, *columns[row["tension_band"]]) for row in read_data("transition_factors.csv")]


def test_the_two_methods_agree_on_the_table_s_own_lengths():
    # Mid-range moduli; at mid-column tension the fibre model's peak is at most 1.20.
    share = {"full trough": 0.0, "one-third trough": 1 / 3, "half trough": 0.5}
    slack, above = set(), set()
    for row, middle, upper in table_lengths():
        angle = float(row["trough_deg"])
        modulus = 75.0 if row["carcass"] == "fabric" else 475.0
        for ratio in (middle, upper):
            length = float(row["factor_of_belt_width"]) * 1.2
            lift = share[row["pulley_position"]] * trough_depth(1.2, angle)
            verdict = judge(
                HEAD,
                GIVEN,
                centre_roll_length=None,
                trough_angle=angle,
                belt_carcass=row["carcass"],
                head_pulley_lift=lift,
                head_tension_ratio=ratio,
                head_transition_length=length,
                belt_modulus=modulus * 80.0,
            )
            peak, least = tension_profile(1.2, angle, length, ratio, modulus, lift)
            assert verdict.found == pytest.approx(peak, rel=1e-6)
            assert verdict.found <= (1.15 if row["carcass"] == "fabric" else 1.30)
            place = (row["pulley_position"], row["carcass"], row["tension_band"])
            if ratio == middle:
                assert verdict.found <= 1.20
            if verdict.found > 1.20:
                above.add((*place, angle))
            if least < 0:
                slack.add(place)
    # Known disagreements. Half trough, steel cord, low tension buckles by the model; steel cord
    # at a column's upper end passes 1.20 in these rows, and 1.30 in none.
    assert slack == {("half trough", "steel cord", "under 60 %")}
    assert above == {
        ("full trough", "steel cord", "under 60 %", 45),
        ("half trough", "steel cord", "over 90 %", 45),
        ("half trough", "steel cord", "60 to 90 %", 45),
        ("half trough", "steel cord", "under 60 %", 45),
        ("one-third trough", "steel cord", "under 60 %", 35),
        ("one-third trough", "steel cord", "over 90 %", 45),
        ("one-third trough", "steel cord", "60 to 90 %", 45),
        ("one-third trough", "steel cord", "under 60 %", 45),
    }


# Ratios that an operating tension gives -------------------------------------------------------


def by_tension(tension: float, rated: float, key: str = HEAD, **more: float) -> Verdict:
    """The verdict where operating tension and rating are recorded, and no ratio."""
    given = {k: v for k, v in GIVEN.items() if k != "head_tension_ratio"} | more
    register = make_register(
        [given | {"head_operating_tension": tension, "belt_rated_tension": rated}]
    )
    complete(register)
    return evaluate(register).verdict(key, 0)


def operating_margin(**values: float) -> float:
    values["head_tension_ratio"] = (
        values.pop("head_operating_tension") / values["belt_rated_tension"]
    )
    return peak_margin(**values)


def test_operating_tension_and_rating_are_what_was_measured():
    # T̄ is the operating tension itself, so that the rating moves the share and not T̄.
    verdict = by_tension(64.0, 80.0)
    names = ("belt_width", "trough_angle", "head_transition_length", "belt_modulus")
    measured = {name: GIVEN[name] for name in (*names, "centre_roll_length")}
    measured |= {"head_operating_tension": 64.0, "belt_rated_tension": 80.0}
    fixed = {"lift": 0.0}
    expected = uncertainty(operating_margin, measured, **fixed)
    assert verdict.numbers["measuring_uncertainty"] == pytest.approx(expected, rel=1e-3)


def test_a_rating_turns_the_verdict_where_rerunning_turns_it():
    verdict = by_tension(64.0, 80.0)
    turn = verdict.flips_at["belt_rated_tension"]
    assert by_tension(64.0, turn * (1 + 1e-6)).band == verdict.band
    assert by_tension(64.0, turn * (1 - 1e-6)).band != verdict.band
    assert "head_tension_ratio" not in {*verdict.cells, *verdict.flips_at}
