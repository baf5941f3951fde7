"""transition-length-tail and -head against the published factors.

Factors: CEMA, Belt Conveyors for Bulk Materials, 7th ed., Table 7.29 (full trough); the same
table of earlier editions (half trough); one-third is two thirds of full trough rounded up
(derived). Read from data/transition_factors.csv, typed in by hand where a test names a value.
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
from tests.checks.reference import (
    FOOT,
    INCH,
    read_data,
    tolerance,
    transition_factor,
    trough_depth,
)
from tests.conftest import Approximate, make_register

TAIL, HEAD = "transition-length-tail", "transition-length-head"
GIVEN = {
    "belt_width": 36 * INCH,
    "trough_angle": 35,
    "belt_carcass": "fabric",
    "tail_tension_ratio": 0.8,
    "tail_pulley_lift": "full trough",
    "tail_transition_length": 2.6,
}
RATIO = {"over 90 %": 0.95, "60 to 90 %": 0.75, "under 60 %": 0.4}


def at_end(given: dict, end: str) -> dict:
    return {name.replace("tail_", f"{end}_"): value for name, value in given.items()}


def guard(length: float, factor: float, width: float = 36 * INCH) -> float:
    """Root sum of squares of the two measured inputs: length, and factor × width."""
    return math.hypot(
        tolerance("tail_transition_length", length), factor * tolerance("belt_width", width)
    )


@pytest.mark.parametrize("end", ["tail", "head"])
def test_every_row_of_the_table_gives_its_length(end):
    table = read_data("transition_factors.csv")
    assert len(table) == 54
    rows = [
        at_end(
            {
                "belt_width": 1.2,
                "trough_angle": float(row["trough_deg"]),
                "belt_carcass": row["carcass"],
                "tail_tension_ratio": RATIO[row["tension_band"]],
                "tail_pulley_lift": {"full trough": "full trough", "half trough": "half"}.get(
                    row["pulley_position"], "one-third"
                ),
                "tail_transition_length": 20.0,
            },
            end,
        )
        for row in table
    ]
    for number, row in enumerate(rows):
        verdict = judge(f"transition-length-{end}", row)
        expected = float(table[number]["factor_of_belt_width"]) * 1.2
        assert verdict.required == pytest.approx(expected, rel=1e-12)
        assert verdict.band == MEETS
        assert verdict.unit == "m"


def test_check_value_36_in_35_deg_80_per_cent_fabric():
    # 36 in × 2.4 = 86.4 in = 7.2 ft: CEMA Table 7.29, and common practice in the trade.
    verdict = judge(TAIL, GIVEN, tail_transition_length=6.5 * FOOT)
    assert verdict.required == pytest.approx(86.4 * INCH, rel=1e-12)
    assert verdict.required == pytest.approx(7.2 * FOOT, rel=1e-12)
    assert verdict.found == pytest.approx(6.5 * FOOT, rel=1e-12)
    assert verdict.margin == pytest.approx(-0.7 * FOOT, rel=1e-9)
    assert verdict.relative_margin == pytest.approx(-0.7 / 7.2, rel=1e-9)
    assert verdict.band == SHORT
    assert verdict.grade == "S"
    assert "7th" in verdict.source


def test_bands_about_the_limit_and_the_guard():
    required = 86.4 * INCH
    edge = required + guard(required, 2.4)
    for _ in range(20):  # the guard depends on the length itself
        edge = required + guard(edge, 2.4)
    lengths = [required * (1 - 1e-6), required, required * 1.002, edge * 0.9999, edge * 1.0001]
    got = bands(TAIL, [GIVEN | {"tail_transition_length": length} for length in lengths])
    assert got == [SHORT, MARGINAL, MARGINAL, MARGINAL, MEETS]


def test_rounding_error_at_the_limit_is_not_a_shortfall():
    assert band(TAIL, GIVEN, tail_transition_length=86.4 * INCH * (1 - 1e-12)) == MARGINAL


def test_approximate_length_widens_the_guard():
    length = 86.4 * INCH * 1.05
    assert band(TAIL, GIVEN, tail_transition_length=length) == MEETS
    assert band(TAIL, GIVEN, tail_transition_length=Approximate(length)) == MARGINAL


@pytest.mark.parametrize(
    ("angle", "factor"),
    [(10, 1.6), (20, 1.6), (20.5, 2.4), (30, 2.4), (35, 2.4), (36, 3.2), (45, 3.2)],
)
def test_between_the_rows_the_next_higher_angle_serves(angle, factor):
    verdict = judge(TAIL, GIVEN, trough_angle=angle, tail_transition_length=9.0)
    assert verdict.required == pytest.approx(factor * 36 * INCH, rel=1e-12)


@pytest.mark.parametrize(
    ("ratio", "factor"),
    [(0.30, 1.8), (0.599, 1.8), (0.60, 2.4), (0.75, 2.4), (0.90, 2.4), (0.901, 3.2), (1.1, 3.2)],
)
def test_both_ends_of_60_to_90_per_cent_are_in_the_middle_column(ratio, factor):
    verdict = judge(TAIL, GIVEN, tail_tension_ratio=ratio, tail_transition_length=9.0)
    assert verdict.required == pytest.approx(factor * 36 * INCH, rel=1e-12)


def test_tolerance_moves_no_row_and_no_column():
    # 35° and 60 % sit on a step; a degree or 5 % more or less would ask for another length.
    at_step = GIVEN | {"trough_angle": 35, "tail_tension_ratio": 0.6}
    assert band(TAIL, at_step, tail_transition_length=2.4 * 36 * INCH * 1.03) == MEETS


@pytest.mark.parametrize(
    ("share", "factor"),
    [(0.0, 2.4), (0.2, 2.4), (0.34, 1.6), (0.4, 1.6), (0.49, 1.6), (0.5, 1.2)],
)
def test_a_measured_lift_takes_the_next_lower_position(share, factor):
    lift = share * trough_depth(36 * INCH, 35)
    verdict = judge(TAIL, GIVEN, tail_pulley_lift=lift, tail_transition_length=9.0)
    assert verdict.required == pytest.approx(factor * 36 * INCH, rel=1e-12)
    assert verdict.band == MEETS


@pytest.mark.parametrize("share", [-0.1, 0.55, 1.0])
def test_a_lift_off_the_table_is_not_judged(share):
    lift = share * trough_depth(36 * INCH, 35)
    assert band(TAIL, GIVEN, tail_pulley_lift=lift, tail_transition_length=9.0) == UNJUDGED


def test_lift_is_measured_against_the_depth_that_the_centre_roll_gives():
    # A short centre roll makes a deeper trough, of which the same lift is a smaller share.
    lift = 0.36 * trough_depth(0.9, 35)
    given = GIVEN | {"belt_width": 0.9, "tail_pulley_lift": lift, "tail_transition_length": 9.0}
    assert judge(TAIL, given).required == pytest.approx(1.6 * 0.9)
    shorter = judge(TAIL, given, centre_roll_length=0.15)
    assert shorter.required == pytest.approx(2.4 * 0.9)


def test_disputed_factor_is_marginal_and_says_so():
    # Steel cord, 20°, under 60 %: sources give 2.0 or 2.8.
    given = {
        "belt_width": 1.4,
        "trough_angle": 20,
        "belt_carcass": "steel cord",
        "tail_tension_ratio": 0.5,
        "tail_pulley_lift": "full trough",
    }
    lengths = [1.99 * 1.4, 2.0 * 1.4, 2.4 * 1.4, 2.79 * 1.4, 2.8 * 1.4 + 0.01, 3.0 * 1.4]
    got = bands(TAIL, [given | {"tail_transition_length": length} for length in lengths])
    assert got == [SHORT, MARGINAL, MARGINAL, MARGINAL, MARGINAL, MEETS]
    verdict = judge(TAIL, given, tail_transition_length=2.4 * 1.4)
    assert verdict.required == pytest.approx(2.8 * 1.4)
    assert verdict.margin < 0
    said = " ".join((verdict.why, *verdict.assumptions)).casefold()
    assert "disagree" in said


@pytest.mark.parametrize("end", ["tail", "head"])
@pytest.mark.parametrize("missing", ["tail_transition_length", "belt_width", "trough_angle"])
def test_a_missing_number_is_not_judged(end, missing):
    assert band(f"transition-length-{end}", at_end(GIVEN | {missing: None}, end)) == UNJUDGED


def test_a_row_with_only_a_tag_is_not_judged():
    assert bands(TAIL, [{}, {"belt_width": 1.0}]) == [UNJUDGED, UNJUDGED]


def test_missing_carcass_is_bounded_over_both():
    # 35°, 80 %: fabric 2.4, steel cord 5.2 belt widths.
    unknown = GIVEN | {"belt_carcass": None}
    lengths = [2.3 * 36 * INCH, 3.0 * 36 * INCH, 5.6 * 36 * INCH]
    assert bands(TAIL, [unknown | {"tail_transition_length": length} for length in lengths]) == [
        SHORT,
        UNJUDGED,
        MEETS,
    ]
    astride = judge(TAIL, unknown, tail_transition_length=3.0 * 36 * INCH)
    assert astride.if_known["belt_carcass"] == {"fabric": MEETS, "steel cord": SHORT}
    agreed = judge(TAIL, unknown, tail_transition_length=2.3 * 36 * INCH)
    assert any("carcass" in text for text in agreed.assumptions)


def test_missing_tension_is_bounded_over_the_three_columns():
    # Fabric, 35°: 1.8, 2.4, 3.2 belt widths.
    unknown = GIVEN | {"tail_tension_ratio": None}
    factors = [1.7, 2.0, 2.8, 3.4]
    got = bands(
        TAIL, [unknown | {"tail_transition_length": factor * 36 * INCH} for factor in factors]
    )
    assert got == [SHORT, UNJUDGED, UNJUDGED, MEETS]
    verdict = judge(TAIL, unknown, tail_transition_length=2.0 * 36 * INCH)
    assert sorted(verdict.if_known["tail_tension_ratio"].values()) == [SHORT, SHORT, MEETS]


def test_missing_lift_is_bounded_over_the_three_positions():
    # Fabric, 35°, 80 %: half 1.2, one-third 1.6, full 2.4 belt widths.
    unknown = GIVEN | {"tail_pulley_lift": None}
    factors = [1.1, 1.4, 2.0, 2.6]
    got = bands(
        TAIL, [unknown | {"tail_transition_length": factor * 36 * INCH} for factor in factors]
    )
    assert got == [SHORT, UNJUDGED, UNJUDGED, MEETS]
    verdict = judge(TAIL, unknown, tail_transition_length=2.0 * 36 * INCH)
    assert verdict.if_known["tail_pulley_lift"] == {
        "full trough": SHORT,
        "one-third": MEETS,
        "half": MEETS,
    }


def test_general_tension_serves_an_end_without_its_own_and_is_recorded():
    general = GIVEN | {"tail_tension_ratio": None, "belt_tension_ratio": 0.95}
    verdict = judge(TAIL, general, tail_transition_length=9.0)
    assert verdict.required == pytest.approx(3.2 * 36 * INCH)
    assert any("tension" in text for text in verdict.assumptions)
    own = judge(TAIL, GIVEN, belt_tension_ratio=0.95, tail_transition_length=9.0)
    assert own.required == pytest.approx(2.4 * 36 * INCH)


def test_a_range_in_the_cell_is_bounded():
    required = 2.4 * 36 * INCH
    ranges = [
        (required - 0.5, required - 0.1),
        (required - 0.1, required + 0.3),
        (required + 0.3, required + 0.5),
    ]
    got = bands(TAIL, [GIVEN | {"tail_transition_length": item} for item in ranges])
    assert got == [SHORT, SHORT, MEETS]


def test_flat_belt_is_not_applicable_before_anything_is_missing():
    assert bands(TAIL, [{"trough_angle": 0}, GIVEN | {"trough_angle": 0}]) == [NOT_APPLICABLE] * 2


def test_above_45_degrees_is_not_judged_here():
    assert band(TAIL, GIVEN, trough_angle=46, tail_transition_length=20.0) == UNJUDGED
    assert band(TAIL, GIVEN, trough_angle=60, tail_transition_length=0.1) == UNJUDGED


def test_a_further_load_point_points_to_the_first_row():
    rows = [GIVEN | {"tag": "C-1"}, GIVEN | {"tag": "C 1", "tail_transition_length": 0.5}]
    assert bands(TAIL, rows) == [MEETS, NOT_APPLICABLE]


def test_cells_name_the_inputs_that_were_recorded():
    verdict = judge(TAIL, GIVEN)
    assert set(verdict.cells) >= set(GIVEN) - {"belt_tension_ratio"}
    assert all(cell.startswith("Conveyors!") for cell in verdict.cells.values())


def test_flip_points_are_the_exact_length_and_width():
    verdict = judge(TAIL, GIVEN, tail_transition_length=1.5)
    assert verdict.flips_at["tail_transition_length"] == pytest.approx(2.4 * 36 * INCH, rel=1e-6)
    assert verdict.flips_at["belt_width"] == pytest.approx(1.5 / 2.4, rel=1e-6)


def test_a_short_transition_has_a_remedy_with_the_length_needed():
    verdict = judge(TAIL, GIVEN, tail_transition_length=1.5)
    assert any(character.isdigit() for character in verdict.remedy)
    assert "tension" not in verdict.remedy.casefold() or "lower" not in verdict.remedy.casefold()


def test_reference_table_helper_reads_the_known_value():
    assert transition_factor("full trough", "fabric", 35, 0.8) == (2.4, None)
    assert transition_factor("half", "steel cord", 20, 0.3) == (1.4, 1.0)


OPERATING = {k: v for k, v in GIVEN.items() if k != "tail_tension_ratio"}


def judge_completed(given: dict, key: str = TAIL) -> Verdict:
    """One check after values have been derived from others, as they are when a file is read."""
    register = make_register([given])
    complete(register)
    return evaluate(register).verdict(key, 0)


@pytest.mark.parametrize(
    ("tension", "factor"), [(40.0, 1.8), (48.0, 2.4), (72.0, 2.4), (80.0, 3.2)]
)
@pytest.mark.parametrize("name", ["tail_operating_tension", "belt_operating_tension"])
def test_operating_tension_and_rating_give_the_ratio(tension, factor, name):
    given = OPERATING | {name: tension, "belt_rated_tension": 80.0, "tail_transition_length": 9.0}
    verdict = judge_completed(given)
    assert verdict.required == pytest.approx(factor * 36 * INCH)
    assert verdict.assumptions


def test_a_published_rating_lies_in_the_range_that_breaking_strength_gives():
    # E7: a belt maker's chart rates class 1000/4 at 110 kN/m, a factor of 9.09
    register = make_register([{"belt_nominal_strength": 1000.0, "belt_carcass": "fabric"}])
    complete(register)
    low, high = register.intervals[0, "belt_rated_tension"]
    assert (low, high) == pytest.approx((1000 / 12, 1000 / 8))
    assert low < 110 < high


def test_breaking_strength_is_no_rating_but_bounds_one():
    # Fabric: nominal strength ÷ 8 to 12 [C]; 800 kN/m gives 66.7 to 100 kN/m.
    given = OPERATING | {"belt_nominal_strength": 800.0}
    cases = [(36.0, 2.0, MEETS), (36.0, 1.7, SHORT), (50.0, 2.1, UNJUDGED), (65.0, 3.4, MEETS)]
    rows = [
        given | {"tail_operating_tension": tension, "tail_transition_length": f * 36 * INCH}
        for tension, f, _ in cases
    ]
    verdicts = [judge_completed(row) for row in rows]
    assert [verdict.band for verdict in verdicts] == [expected for *_, expected in cases]
    assert any("rat" in text for text in verdicts[0].assumptions)


@pytest.mark.parametrize("rolls", [2, 5])
def test_no_number_counts_outside_the_table_of_three_rolls(rolls):
    # A length far too short says nothing of idlers that the table is not for.
    short = judge(TAIL, GIVEN, idler_rolls=rolls, tail_transition_length=0.3)
    blank = judge(TAIL, GIVEN, idler_rolls=rolls, tail_transition_length=None)
    for verdict in (short, blank):
        assert (verdict.band, verdict.remedy) == (UNJUDGED, "")
        assert verdict.why == "the factor table is for three-roll idlers"


def test_flips_and_cells_of_a_derived_ratio_are_of_the_two_that_were_measured():
    # 60 ÷ 80 = 0.75; the band of the table changes at 0.6 and above 0.9 of the rating. A length
    # between 1.8 and 2.4 belt widths falls short until the tension is under 48, or the rating
    # above 100.
    given = OPERATING | {"tail_transition_length": 2.0 * 36 * INCH, "belt_rated_tension": 80.0}
    verdict = judge_completed(given | {"tail_operating_tension": 60.0})
    assert verdict.band == SHORT
    assert verdict.flips_at["tail_operating_tension"] == pytest.approx(48.0, rel=1e-6)
    assert verdict.flips_at["belt_rated_tension"] == pytest.approx(100.0, rel=1e-6)
    assert "tail_tension_ratio" not in verdict.flips_at
    assert {"tail_operating_tension", "belt_rated_tension"} < set(verdict.cells)
    assert "tail_tension_ratio" not in verdict.cells
    # A recorded ratio goes before both, and they are not read.
    recorded = judge_completed(
        given | {"tail_operating_tension": 60.0, "tail_tension_ratio": 0.75}
    )
    assert not {"tail_operating_tension", "belt_rated_tension"} & set(recorded.cells)


def test_a_window_narrower_than_a_coarse_search_is_found():
    # 1.4 m belt, 45°, 75 % of rated, fabric: full trough 3.2 B, one-third 2.15 B, half 1.6 B. The
    # pulley stands in the one-third row from H/3 = 0.11 m up.
    row = {"belt_width": 1.4, "trough_angle": 45.0, "belt_carcass": "fabric"}
    row |= {"tail_tension_ratio": 0.75, "tail_transition_length": 4.482, "tail_pulley_lift": 0.0}
    verdict = judge(TAIL, row)
    assert verdict.band == "marginal"
    third = 1.4 / 3 * math.sin(math.radians(45)) / 3
    assert verdict.flips_at["tail_pulley_lift"] == pytest.approx(third, rel=1e-4)
