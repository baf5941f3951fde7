"""transition-loading and transition-idlers.

CEMA, Belt Conveyors for Bulk Materials, 7th ed., note with Table 7.27: at least one idler of full
trough before the load, at which the transition ends. Idler positions:
data/transition_idler_positions.csv (read values); the closed form and the angles are derived.
"""

from __future__ import annotations

import math

import pytest

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
from tests.checks.reference import read_data

LOADING, IDLERS = "transition-loading", "transition-idlers"
GIVEN = {
    "trough_angle": 35,
    "belt_width": 1.0,
    "tail_transition_length": 2.0,
    "chute_back": 3.5,
    "load_start": 4.0,
}


def test_load_bands_about_the_first_full_idler():
    # U = √(0.0203² + 0.02²) = 0.0285 m: both lengths are measured to 1 % [C].
    places = [1.9, 2.0 * (1 - 1e-6), 2.0, 2.028, 2.029, 2.6, 3.3]
    got = bands(LOADING, [GIVEN | {"chute_back": place} for place in places])
    assert got == [SHORT, SHORT, MARGINAL, MARGINAL, MEETS, MEETS, MEETS]


@pytest.mark.parametrize("pitch", [None, 0.6, 3.0])
def test_the_idler_pitch_has_no_part_in_it(pitch):
    # A load beyond the first fully troughed idler lands on a troughed belt, whatever the pitch.
    assert band(LOADING, GIVEN, chute_back=2.1, carry_idler_spacing=pitch) == MEETS


def test_load_verdict_shows_place_and_transition():
    verdict = judge(LOADING, GIVEN, chute_back=1.6)
    assert verdict.found == pytest.approx(1.6)
    assert verdict.required == pytest.approx(2.0)
    assert verdict.margin == pytest.approx(-0.4)
    assert verdict.unit == "m"
    assert "0.4" in verdict.remedy or "400" in verdict.remedy or "2" in verdict.remedy


def test_the_smaller_of_the_two_places_counts():
    assert judge(LOADING, GIVEN, chute_back=3.9, load_start=1.5).found == pytest.approx(1.5)
    assert band(LOADING, GIVEN, chute_back=3.9, load_start=1.5) == SHORT
    assert band(LOADING, GIVEN, chute_back=3.5, load_start=None) == MEETS


def test_landing_point_alone_says_that_the_chute_back_was_not_compared():
    verdict = judge(LOADING, GIVEN, chute_back=None)
    assert verdict.band == MEETS
    assert "chute back" in " ".join((verdict.why, *verdict.assumptions)).casefold()


@pytest.mark.parametrize(
    "missing",
    [
        {"chute_back": None, "load_start": None},
        {"tail_transition_length": None},
    ],
)
def test_load_missing_inputs(missing):
    assert band(LOADING, GIVEN | missing) == UNJUDGED


def test_a_transition_of_unknown_angle_is_taken_for_a_troughed_belt_and_says_so():
    # A flat belt would be not applicable: troughed is the stricter reading.
    unknown = GIVEN | {"trough_angle": None}
    assert bands(LOADING, [unknown, unknown | {"chute_back": 1.0}]) == [MEETS, SHORT]
    assert any("trough" in text for text in judge(LOADING, unknown).assumptions)


def test_of_a_place_given_as_a_range_the_worse_end_counts():
    ranges = [(1.5, 1.8), (1.8, 2.4), (2.01, 2.9), (2.1, 3.4)]
    got = bands(LOADING, [GIVEN | {"chute_back": item, "load_start": None} for item in ranges])
    assert got == [SHORT, SHORT, MARGINAL, MEETS]


def test_flat_belt_needs_no_transition():
    assert bands(LOADING, [{"trough_angle": 0}]) == [NOT_APPLICABLE]
    assert bands(IDLERS, [{"trough_angle": 0}]) == [NOT_APPLICABLE]


def test_each_load_point_is_judged():
    rows = [GIVEN | {"tag": "C-1"}, GIVEN | {"tag": "C-1", "chute_back": 1.0}]
    assert bands(LOADING, rows) == [MEETS, SHORT]


@pytest.mark.parametrize(
    ("angle", "idlers", "expected"),
    [
        (10, 0, NOT_APPLICABLE),
        (20, 0, NOT_APPLICABLE),
        (20, None, NOT_APPLICABLE),
        (20.1, 0, SHORT),
        (35, 0, SHORT),
        (35, 1, MEETS),
        (45, 3, MEETS),
        (60, 0, SHORT),
        (35, None, UNJUDGED),
        (None, 2, UNJUDGED),
    ],
)
def test_transition_idlers(angle, idlers, expected):
    given = {"trough_angle": angle, "tail_transition_idlers": idlers, "belt_width": 1.0}
    assert band(IDLERS, given | {"tail_transition_length": 2.0}) == expected


def test_missing_angle_and_no_idlers_is_not_good():
    assert band(IDLERS, {"tail_transition_idlers": 0}) == UNJUDGED


def test_a_further_load_point_is_not_judged_again():
    row = {"tag": "C-1", "trough_angle": 35, "tail_transition_idlers": 0}
    assert bands(IDLERS, [row, row]) == [SHORT, NOT_APPLICABLE]


def numbers_in(value) -> list[float]:
    if isinstance(value, int | float):
        return [float(value)]
    if isinstance(value, dict):
        return [number for item in value.values() for number in numbers_in(item)]
    if isinstance(value, list | tuple):
        return [number for item in value for number in numbers_in(item)]
    return []


def test_schedule_gives_the_published_positions_and_their_angles():
    length, tilt = 2.0, math.radians(35)
    verdict = judge(
        IDLERS,
        {"trough_angle": 35, "tail_transition_idlers": 0, "belt_width": 1.0},
        tail_transition_length=length,
    )
    given = numbers_in(dict(verdict.numbers))
    table = read_data("transition_idler_positions.csv")
    assert len(table) == 10
    for row in table:
        n, k = int(row["n_idlers"]), int(row["k"])
        share = k * (k + 1) / ((n + 1) * (n + 2))
        assert share == pytest.approx(float(row["printed_fraction_of_Y"]), abs=0.005)
        angle = math.degrees(
            math.atan(share * math.sin(tilt) / (1 - share * (1 - math.cos(tilt))))
        )
        assert any(
            number == pytest.approx(share * length, abs=1e-6)
            or number == pytest.approx(share, abs=1e-9)
            for number in given
        ), (n, k)
        assert any(number == pytest.approx(angle, abs=1e-6) for number in given), (n, k)
