"""tracking-places, -reach, -face, -clearance, -crown, -edge, -switches.

Sources beside each test; [C] marks common practice, no published source.
"""

from __future__ import annotations

import itertools

import pytest

from sheetcheck.findings.evaluate import evaluate
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
from tests.checks.reference import FOOT, INCH, read_data
from tests.conftest import make_register

PLACES = ("tracker_before_tail", "tracker_after_load", "tracker_before_head")


def at(tail, load, head, **more) -> dict:
    return dict(zip(PLACES, (tail, load, head), strict=True)) | more


def expected_places(tail: str, load: str, head: str, feeds: bool) -> str:
    """Three places [C]: tail and after-load are needed, the head where it feeds a belt."""
    if "none" in (tail, load) or (head == "none" and feeds):
        return SHORT
    if head == "none" or "passive" in (tail, load, head):
        return MARGINAL
    return MEETS


def test_places_all_combinations():
    words = ("none", "passive", "dynamic")
    cases = list(itertools.product(words, words, words, (True, False)))
    rows = [
        at(*case[:3], feeds_belt=case[3], pulley_crowned_tail=False, pulley_crowned_head=False)
        for case in cases
    ]
    assert bands("tracking-places", rows) == [expected_places(*case) for case in cases]


def test_places_missing_one_is_bounded():
    d = "dynamic"
    rows = [
        at(None, d, d, feeds_belt=True),  # short, marginal or meets
        at(d, None, d, feeds_belt=True),
        at(None, "none", d, feeds_belt=True),  # short whatever the tail has
        at(d, d, None, feeds_belt=False),  # marginal or meets
        at("passive", d, None, feeds_belt=False),  # marginal whatever the head has
        at(d, d, "none"),  # short if it feeds a belt, else marginal
        at(d, d, d),  # feeding a belt or not does not matter
        at(None, None, None),
        {},
    ]
    assert bands("tracking-places", rows) == [
        *(UNJUDGED, UNJUDGED, SHORT, UNJUDGED, MARGINAL, UNJUDGED, MEETS, UNJUDGED, UNJUDGED)
    ]


def test_places_tell_what_each_answer_would_give():
    verdict = judge("tracking-places", at(None, "dynamic", "dynamic", feeds_belt=True))
    assert verdict.if_known["tracker_before_tail"] == {
        "none": SHORT,
        "passive": MARGINAL,
        "dynamic": MEETS,
    }


def test_places_a_crowned_pulley_counts_as_passive_at_its_end():
    d = "dynamic"
    rows = [
        at("none", d, d, feeds_belt=True, pulley_crowned_tail=True, pulley_crowned_head=False),
        at(d, d, "none", feeds_belt=True, pulley_crowned_tail=False, pulley_crowned_head=True),
        at(d, "none", d, feeds_belt=True, pulley_crowned_tail=True, pulley_crowned_head=True),
        at(d, d, d, feeds_belt=True, pulley_crowned_tail=True, pulley_crowned_head=True),
    ]
    assert bands("tracking-places", rows) == [MARGINAL, MARGINAL, SHORT, MEETS]


# tracking-reach: 70 to 150 ft per dynamic device [C] ---------------------------------------


def test_reach_bands():
    lengths = [10.0, 70 * FOOT, 70 * FOOT * 1.001, 150 * FOOT * 0.999, 150 * FOOT * 1.001]
    rows = [{"tracker_spacing_max": length, "conveyor_length": 200.0} for length in lengths]
    assert bands("tracking-reach", rows) == [MEETS, MEETS, MARGINAL, MARGINAL, SHORT]
    verdict = judge("tracking-reach", rows[0])
    assert verdict.required == pytest.approx(21.336)


def test_reach_without_any_dynamic_device_is_the_whole_loop():
    none = at("none", "none", "passive", tracker_count=0, feeds_belt=True)
    verdict = judge("tracking-reach", none, conveyor_length=100.0)
    assert verdict.found == pytest.approx(200.0)
    assert verdict.band == SHORT
    assert band("tracking-reach", none, conveyor_length=10.0) == MEETS
    assert band("tracking-reach", none, conveyor_length=20.0) == MARGINAL


def test_reach_missing_is_not_judged():
    rows = [
        {},
        {"conveyor_length": 30.0},
        at("dynamic", "dynamic", "dynamic", conveyor_length=30.0),
        at("none", "none", "none", tracker_count=0),
        {"tracker_count": 3, "conveyor_length": 30.0},
    ]
    assert bands("tracking-reach", rows) == [UNJUDGED] * len(rows)


def test_reach_numbers_give_the_devices_for_the_loop():
    verdict = judge("tracking-reach", {"tracker_spacing_max": 90.0, "conveyor_length": 150.0})
    # loop 300 m: one device per 45.72 m at least, per 21.336 m at most
    counts = [n for n in verdict.numbers.values() if isinstance(n, int | float)]
    assert any(n == 7 for n in counts)
    assert any(n == 15 for n in counts)


# tracking-face: UFGS 15555A, pulley face above belt width 3, 4 and 6 in (75, 100, 150 mm) ---


def face(width: float, extra_tail: float, extra_head: float | None = None, **more) -> dict:
    head = extra_tail if extra_head is None else extra_head
    return {
        "belt_width": width,
        "pulley_face_tail": width + extra_tail,
        "pulley_face_head": width + head,
        **more,
    }


@pytest.mark.parametrize(
    ("width", "length", "required"),
    [
        (36 * INCH, 100.0, 0.075),
        (42 * INCH, 152.0, 0.075),
        (42 * INCH, 500 * FOOT, 0.100),
        (42 * INCH, 300.0, 0.100),
        (42.1 * INCH, 100.0, 0.150),
        (48 * INCH, 300.0, 0.150),
    ],
)
def test_face(width, length, required):
    short, at_limit = required - 0.001, required
    rows = [face(width, extra, conveyor_length=length) for extra in (short, at_limit, 0.2)]
    assert bands("tracking-face", rows) == [SHORT, MEETS, MEETS]
    verdict = judge("tracking-face", rows[1])
    assert verdict.required == pytest.approx(required)
    assert verdict.found == pytest.approx(required)


def test_face_published_rows_are_those_tested():
    table = [row for row in read_data("pulley_face_width.csv") if "UFGS 15555A" in row["source"]]
    assert {(row["belt_width"], row["allowance_total"]) for row in table} == {
        ("<=42", "4"),
        ("<=42", "3"),
        (">=48", "6"),
    }
    for inches, millimetres in ((3, 75), (4, 100), (6, 150)):  # rounded down
        assert millimetres <= inches * 25.4 < millimetres + 5


def test_face_standard_pulleys_have_the_allowance():
    # GOST R 51803-2001 Table 1, pulley faces for belts of 300 to 1200 mm (E6: 1000 mm, 1150 mm)
    table = [row for row in read_data("pulley_face_width.csv") if "GOST" in row["source"]]
    assert len(table) == 7
    rows = []
    for row in table:
        width, wide = float(row["belt_width"]) / 1e3, float(row["pulley_face"]) / 1e3
        rows += [face(width, wide - width, conveyor_length=length) for length in (50.0, 400.0)]
    assert bands("tracking-face", rows) == [MEETS] * 14


def test_face_the_narrower_end_decides():
    rows = [
        face(0.9, 0.2, 0.05, conveyor_length=50.0),
        face(0.9, 0.05, 0.2, conveyor_length=50.0),
    ]
    assert bands("tracking-face", rows) == [SHORT, SHORT]
    assert judge("tracking-face", rows[0]).found == pytest.approx(0.05)


def test_face_missing_end():
    one_short = face(0.9, 0.05, conveyor_length=50.0) | {"pulley_face_head": None}
    one_good = face(0.9, 0.2, conveyor_length=50.0) | {"pulley_face_head": None}
    assert bands("tracking-face", [one_short, one_good, {}]) == [SHORT, UNJUDGED, UNJUDGED]


def test_face_missing_length_is_bounded_over_its_two_rows():
    rows = [face(0.9, extra) for extra in (0.05, 0.09, 0.12)] + [face(1.4, 0.16)]
    assert bands("tracking-face", rows) == [SHORT, UNJUDGED, MEETS, MEETS]


# tracking-clearance: UFGS 15555A, return run, 3 in (75 mm) ---------------------------------


@pytest.mark.parametrize(
    ("clearance", "wander", "expected"),
    [
        (0.074, 0.0, SHORT),
        (0.075, 0.0, MEETS),
        (0.2, None, MEETS),
        (0.1, 0.099, MEETS),
        (0.1, 0.1, SHORT),  # more than the wander, not equal
        (0.1, 0.12, SHORT),
        (0.05, None, SHORT),
        (None, 0.02, UNJUDGED),
        (None, None, UNJUDGED),
    ],
)
def test_clearance(clearance, wander, expected):
    given = {"side_clearance": clearance, "belt_wander": wander}
    assert band("tracking-clearance", given) == expected


def test_clearance_names_a_wander_that_was_not_compared():
    verdict = judge("tracking-clearance", {"side_clearance": 0.2})
    assert any("wander" in text for text in verdict.assumptions)


# tracking-crown: Goodyear/Veyance guide (2010) p. 10, steel cord runs on flat pulleys ------


@pytest.mark.parametrize(
    ("tail", "head", "carcass", "expected"),
    [
        (False, False, "steel cord", NOT_APPLICABLE),
        (False, False, None, NOT_APPLICABLE),
        (True, False, "steel cord", SHORT),
        (False, True, "steel cord", SHORT),
        (True, True, "fabric", MEETS),
        (True, False, None, UNJUDGED),
        (True, None, "steel cord", SHORT),
        (True, None, "fabric", MEETS),
        (False, None, "fabric", UNJUDGED),
        (False, None, "steel cord", UNJUDGED),
        (None, None, None, UNJUDGED),
    ],
)
def test_crown(tail, head, carcass, expected):
    given = {
        "pulley_crowned_tail": tail,
        "pulley_crowned_head": head,
        "belt_carcass": carcass,
    }
    assert band("tracking-crown", given) == expected


def test_crown_general_answer_serves_both_ends_and_is_recorded():
    verdict = judge("tracking-crown", {"pulley_crowned": True, "belt_carcass": "steel cord"})
    assert verdict.band == SHORT
    assert verdict.assumptions


@pytest.mark.parametrize(
    ("damage", "expected"),
    [("none", MEETS), ("slight", MARGINAL), ("severe", SHORT), (None, UNJUDGED)],
)
def test_edge(damage, expected):
    assert band("tracking-edge", {"edge_damage": damage}) == expected


@pytest.mark.parametrize(("fitted", "expected"), [(True, MEETS), (False, SHORT), (None, UNJUDGED)])
def test_switches(fitted, expected):
    # UFGS 15501N
    assert band("tracking-switches", {"alignment_switches": fitted}) == expected


@pytest.mark.parametrize(
    ("key", "given", "first"),
    [
        ("tracking-places", at("none", "none", "none"), SHORT),
        ("tracking-reach", {"tracker_spacing_max": 90.0, "conveyor_length": 90.0}, SHORT),
        ("tracking-face", face(0.9, 0.05, conveyor_length=50.0), SHORT),
        ("tracking-clearance", {"side_clearance": 0.05}, SHORT),
        ("tracking-crown", {"pulley_crowned_tail": True, "belt_carcass": "steel cord"}, SHORT),
        ("tracking-edge", {"edge_damage": "severe"}, SHORT),
        ("tracking-switches", {"alignment_switches": False}, SHORT),
    ],
)
def test_tracking_is_judged_once_per_belt(key, given, first):
    rows = [given | {"tag": "CV 7"}, given | {"tag": "cv7"}, given | {"tag": "CV 70"}]
    assert bands(key, rows) == [first, NOT_APPLICABLE, first]


@pytest.mark.parametrize("long", [20.0, 152.4, 250.0, 5000.0])
def test_a_missing_length_is_both_rows_wherever_the_plant_parts_them(long):
    """90 mm over the belt: enough for a short conveyor (75 mm), not for a long one (100 mm)."""
    row = face(0.9, 0.09, conveyor_length=None)
    limits = {"tracking-face": {"long": long}}
    found = evaluate(make_register([row]), limits, checks=["tracking-face"], flips=False)
    verdict = found.verdict("tracking-face", 0)
    assert verdict.band == UNJUDGED
    assert set(verdict.if_known["conveyor_length"].values()) == {MEETS, SHORT}


def test_alignment_comes_before_any_device():
    given = {"conveyor_length": 100.0, "tracker_count": 0}
    given |= dict.fromkeys(
        ("tracker_before_tail", "tracker_after_load", "tracker_before_head"), "none"
    )
    verdict = judge("tracking-reach", given)
    assert verdict.remedy.startswith("Square the idlers, centre the load and clean the rolls")
    # A loop of 200 m: one in 45.72 m to one in 21.336 m.
    assert "(5 to 10 for the loop)" in verdict.alternatives[0]
    assert (verdict.numbers["least_devices"], verdict.numbers["most_devices"]) == (5, 10)


def test_a_known_end_that_is_too_narrow_decides_whatever_the_length():
    # 69 mm over the belt; 75 mm is the least that any length asks (UFGS 15555A).
    given = {"belt_width": 0.6, "pulley_face_head": 0.669}
    assert band("tracking-face", given) == "falls short"
    assert band("tracking-face", given, pulley_face_head=0.68) == "not judged"
