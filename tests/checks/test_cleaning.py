"""cleaning-stages, -blade, -duty, -carryback, -plough.

Efficiencies and blade rules are common practice, no published source [C]; duty and plough limits
US Army TM 5-810-15.
"""

from __future__ import annotations

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
from tests.checks.reference import FOOT, INCH

METAL = ("tungsten carbide", "stainless steel")


def fitted(primary: bool | None, secondary: bool | None) -> dict:
    return {"primary_cleaner": primary, "secondary_cleaner": secondary}


@pytest.mark.parametrize(
    ("primary", "secondary", "expected"),
    [
        (True, True, MEETS),
        (True, False, SHORT),
        (False, True, SHORT),
        (False, False, SHORT),
        (None, False, SHORT),
        (False, None, SHORT),
        (True, None, UNJUDGED),
        (None, True, UNJUDGED),
        (None, None, UNJUDGED),
    ],
)
def test_stages(primary, secondary, expected):
    assert band("cleaning-stages", fitted(primary, secondary)) == expected


def test_a_third_cleaner_does_not_stand_for_a_second():
    assert band("cleaning-stages", fitted(True, False) | {"tertiary_cleaner": True}) == SHORT


@pytest.mark.parametrize(
    ("blade", "expected"),
    [
        ("tungsten carbide", MEETS),
        ("stainless steel", MEETS),
        ("urethane", SHORT),
        ("rubber", SHORT),
        ("ceramic", MARGINAL),
        ("brush", MARGINAL),
        ("other", MARGINAL),
        (None, UNJUDGED),
    ],
)
def test_blade(blade, expected):
    given = {"secondary_cleaner": True, "secondary_blade": blade, "splice_kind": "vulcanised"}
    assert band("cleaning-blade", given) == expected


@pytest.mark.parametrize("blade", ["tungsten carbide", "urethane", None])
def test_blade_without_a_secondary_is_not_applicable(blade):
    given = {"secondary_cleaner": False, "secondary_blade": blade}
    assert band("cleaning-blade", given) == NOT_APPLICABLE


@pytest.mark.parametrize("blade", METAL)
def test_blade_of_metal_over_mechanical_splices_is_marginal(blade):
    given = {"secondary_cleaner": True, "secondary_blade": blade}
    mechanical = judge("cleaning-blade", given, splice_kind="mechanical")
    assert mechanical.band == MARGINAL
    assert "fastener" in mechanical.why or "splice" in mechanical.why
    unknown = judge("cleaning-blade", given)
    assert unknown.band == MEETS
    assert "splice" in " ".join((unknown.why, *unknown.assumptions))


def test_blade_of_urethane_over_mechanical_splices_still_falls_short():
    given = {"secondary_cleaner": True, "secondary_blade": "urethane"}
    assert band("cleaning-blade", given, splice_kind="mechanical") == SHORT


def test_blade_when_the_cleaner_itself_is_unknown():
    # metal: meets or not applicable; urethane: falls short or not applicable
    for blade in ("tungsten carbide", "urethane", None):
        assert band("cleaning-blade", {"secondary_blade": blade}) == UNJUDGED


# cleaning-duty: counterweighted cleaners not above 350 ft/min or 36 in, US Army TM 5-810-15 --

DUTY = {
    "cleaner_duty_selected": True,
    "cleaner_tensioner": "counterweight",
    "belt_speed": 1.5,
    "belt_width": 0.8,
    "reversing": False,
    "cleaner_reversible": False,
}


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({}, MEETS),
        ({"cleaner_duty_selected": False}, SHORT),
        ({"cleaner_duty_selected": None}, UNJUDGED),
        ({"belt_speed": 350 * FOOT / 60}, MEETS),
        ({"belt_speed": 350 * FOOT / 60 * 1.001}, SHORT),
        ({"belt_width": 36 * INCH}, MEETS),
        ({"belt_width": 36 * INCH * 1.001}, SHORT),
        ({"belt_speed": 4.0, "cleaner_tensioner": "spring"}, MEETS),
        ({"belt_speed": 4.0, "cleaner_duty_selected": None}, SHORT),
        ({"reversing": True}, SHORT),
        ({"reversing": True, "cleaner_duty_selected": None}, SHORT),
        ({"reversing": True, "cleaner_reversible": True}, MEETS),
        ({"reversing": True, "cleaner_reversible": True, "cleaner_duty_selected": None}, UNJUDGED),
    ],
)
def test_duty(changes, expected):
    assert band("cleaning-duty", DUTY | changes) == expected


@pytest.mark.parametrize(
    ("missing", "word"),
    [("cleaner_tensioner", "tension"), ("belt_speed", "speed"), ("reversing", "revers")],
)
def test_duty_names_what_was_not_compared(missing, word):
    verdict = judge("cleaning-duty", DUTY | {missing: None})
    assert verdict.band == MEETS
    assert any(word in text.casefold() for text in verdict.assumptions)


# cleaning-carryback: one stage removes 40 to 50 %, two with a metal secondary about 90 % [C] --

RESIDUE = {
    "carryback_initial": 0.5,
    "carryback_target": 0.1,
    "primary_cleaner": True,
    "secondary_cleaner": True,
    "secondary_blade": "tungsten carbide",
    "belt_width": 1.0,
    "belt_speed": 2.0,
    "cleaned_width": 0.8,
    "operating_hours": 5000,
}


@pytest.mark.parametrize(
    ("changes", "low", "high"),
    [
        ({}, 0.05, 0.05),
        ({"secondary_blade": "stainless steel"}, 0.05, 0.05),
        ({"secondary_blade": "urethane"}, 0.05, 0.3),
        ({"secondary_cleaner": False, "secondary_blade": None}, 0.25, 0.3),
        ({"primary_cleaner": False}, 0.25, 0.3),
        ({"primary_cleaner": False, "secondary_blade": None}, 0.25, 0.3),
        (
            {"primary_cleaner": False, "secondary_cleaner": False, "secondary_blade": None},
            *(0.5, 0.5),
        ),
        ({"carryback_measured": 0.07}, 0.07, 0.07),
    ],
)
@pytest.mark.parametrize("target", [0.02, 0.1, 0.27, 0.4, 0.6])
def test_carryback_residue_and_bands(changes, low, high, target):
    verdict = judge("cleaning-carryback", RESIDUE | changes, carryback_target=target)
    if low == high:
        assert verdict.found == pytest.approx(low)
    else:
        assert verdict.found == pytest.approx((low, high))
    assert verdict.required == pytest.approx(target)
    assert verdict.band == (MEETS if high <= target else SHORT if low > target else MARGINAL)


def test_carryback_at_the_target_meets():
    assert band("cleaning-carryback", RESIDUE, carryback_measured=0.1) == MEETS
    assert band("cleaning-carryback", RESIDUE, carryback_measured=0.1001) == SHORT


def test_carryback_measured_needs_no_cleaner_data():
    given = {"carryback_measured": 0.05, "carryback_target": 0.1}
    assert band("cleaning-carryback", given) == MEETS


def test_carryback_numbers_are_mass_rate_and_mass_a_year():
    verdict = judge("cleaning-carryback", RESIDUE, carryback_measured=0.1)
    numbers = [n for n in verdict.numbers.values() if isinstance(n, int | float)]
    hourly = 0.1 * 0.8 * 2.0 * 3600
    assert any(n == pytest.approx(hourly, rel=1e-9) for n in numbers)
    assert any(n == pytest.approx(hourly * 5000 / 1000, rel=1e-9) for n in numbers)


def test_carryback_without_a_cleaned_width_takes_the_belt_s_and_says_so():
    verdict = judge("cleaning-carryback", RESIDUE, carryback_measured=0.1, cleaned_width=None)
    numbers = [n for n in verdict.numbers.values() if isinstance(n, int | float)]
    assert any(n == pytest.approx(0.1 * 1.0 * 2.0 * 3600, rel=1e-9) for n in numbers)
    assert any("width" in text for text in verdict.assumptions)


def test_carryback_with_a_cleaned_width_assumes_none():
    verdict = judge("cleaning-carryback", RESIDUE, carryback_measured=0.1)
    assert not any("width" in text for text in verdict.assumptions)


def test_carryback_without_a_target_is_information():
    assert band("cleaning-carryback", RESIDUE, carryback_target=None) == INFORMATION
    assert band("cleaning-carryback", {}) == INFORMATION


def test_carryback_missing_is_never_good():
    assert band("cleaning-carryback", RESIDUE | {"carryback_initial": None}) == UNJUDGED
    assert band("cleaning-carryback", RESIDUE | {"primary_cleaner": None}) == UNJUDGED
    assert band("cleaning-carryback", RESIDUE | {"secondary_cleaner": None}) == UNJUDGED


def test_carryback_missing_cleaners_are_bounded():
    given = RESIDUE | {"primary_cleaner": None, "secondary_cleaner": None}
    assert band("cleaning-carryback", given, carryback_target=0.6) == MEETS
    assert band("cleaning-carryback", given, carryback_target=0.01) == SHORT


@pytest.mark.parametrize(("plough", "expected"), [(True, MEETS), (False, SHORT), (None, UNJUDGED)])
def test_plough(plough, expected):
    # US Army TM 5-810-15
    assert band("cleaning-plough", {"tail_plough": plough}) == expected


@pytest.mark.parametrize(
    ("key", "given", "first"),
    [
        ("cleaning-stages", fitted(True, False), SHORT),
        ("cleaning-blade", {"secondary_cleaner": True, "secondary_blade": "rubber"}, SHORT),
        ("cleaning-duty", {"cleaner_duty_selected": False}, SHORT),
        ("cleaning-carryback", RESIDUE, MEETS),
        ("cleaning-plough", {"tail_plough": False}, SHORT),
    ],
)
def test_cleaning_is_judged_once_per_belt(key, given, first):
    rows = [given | {"tag": "CV 7"}, given | {"tag": "CV-7"}, given | {"tag": "CV-8"}]
    assert bands(key, rows) == [first, NOT_APPLICABLE, first]


def test_a_reversing_belt_is_not_judged_without_word_of_its_cleaners():
    given = {"cleaner_duty_selected": True, "reversing": True}
    verdict = judge("cleaning-duty", given)
    assert verdict.band == "not judged"
    assert verdict.remedy == "Record the cleaner reversible."
    assert band("cleaning-duty", given, cleaner_reversible=True) == "meets"
    assert band("cleaning-duty", given, cleaner_reversible=False) == "falls short"
    assert band("cleaning-duty", given, cleaner_duty_selected=False) == "falls short"


def test_a_blade_that_would_be_named_would_mean_a_cleaner():
    known = judge("cleaning-blade", {"splice_kind": "vulcanised"}).if_known["secondary_blade"]
    assert known["tungsten carbide"] == "meets"
    assert known["urethane"] == "falls short"
    assert known["ceramic"] == "marginal"
