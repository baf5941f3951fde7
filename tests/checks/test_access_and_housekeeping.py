"""access-* and housekeeping-*.

Sources beside each test; [C] marks common practice, no published source.
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
from tests.checks.reference import FOOT, INCH, uncertainty

# access-opening: both sides 300 mm [C] -----------------------------------------------------


@pytest.mark.parametrize(
    ("count", "width", "height", "expected"),
    [
        (0, None, None, SHORT),
        (0, 0.5, 0.5, SHORT),
        (1, 0.3, 0.3, MEETS),
        (2, 0.6, 0.45, MEETS),
        (1, 0.299, 0.5, MARGINAL),
        (1, 0.5, 0.2, MARGINAL),
        (1, 0.2, 0.2, MARGINAL),
        (1, None, None, UNJUDGED),
        (1, 0.5, None, UNJUDGED),
        (None, None, None, UNJUDGED),
    ],
)
def test_opening(count, width, height, expected):
    given = {"door_count": count, "door_width": width, "door_height": height}
    assert band("access-opening", given) == expected


def test_opening_with_one_known_side_too_small_is_never_good():
    given = {"door_count": 1, "door_width": 0.2}
    assert band("access-opening", given) == MARGINAL


# access-closure [C] ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("count", "gasket", "latch", "expected"),
    [
        (1, True, True, MEETS),
        (1, True, False, MARGINAL),
        (1, False, True, MARGINAL),
        (1, False, False, SHORT),
        (0, None, None, NOT_APPLICABLE),
        (0, True, True, NOT_APPLICABLE),
        (1, None, True, UNJUDGED),
        (1, None, False, UNJUDGED),
        (2, None, None, UNJUDGED),
        (None, None, None, UNJUDGED),
    ],
)
def test_closure(count, gasket, latch, expected):
    given = {"door_count": count, "door_gasket": gasket, "door_latch": latch}
    assert band("access-closure", given) == expected


def test_barrier():
    # 30 CFR 56.14107; EN 620 cl. 4.2.4 by title
    cases = [(1, True), (1, False), (1, None), (0, False), (0, None), (None, None)]
    rows = [{"door_count": count, "door_barrier": barrier} for count, barrier in cases]
    assert bands("access-barrier", rows) == [
        *(MEETS, SHORT, UNJUDGED, NOT_APPLICABLE, NOT_APPLICABLE, UNJUDGED)
    ]


@pytest.mark.parametrize(
    ("key", "field"),
    [
        ("access-isolation", "isolation_procedure"),  # 29 CFR 1910.147; 30 CFR 56.14105
        ("access-guard", "nip_guards"),  # 30 CFR 56.14107
        ("access-stop", "emergency_stop"),  # 30 CFR 56.14109
    ],
)
def test_yes_or_no(key, field):
    assert bands(key, [{field: True}, {field: False}, {field: None}]) == [MEETS, SHORT, UNJUDGED]
    verdict = judge(key, {field: False})
    assert "Code of Federal Regulations" in verdict.source
    assert verdict.remedy


# access-service: ISO 14122-2, 600 mm -------------------------------------------------------


@pytest.mark.parametrize(
    ("reach", "width", "expected"),
    [
        (True, 0.6, MEETS),
        (True, 0.9, MEETS),
        (True, 0.599, SHORT),
        (False, 0.9, SHORT),
        (False, None, SHORT),
        (None, 0.4, SHORT),
        (True, None, UNJUDGED),
        (None, 0.9, UNJUDGED),
        (None, None, UNJUDGED),
    ],
)
def test_service(reach, width, expected):
    given = {"component_reach": reach, "service_clear_width": width}
    assert band("access-service", given) == expected


# housekeeping ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("level", "expected"),
    [("none", MEETS), ("light", MARGINAL), ("heavy", SHORT), (None, UNJUDGED)],
)
def test_spillage(level, expected):
    # 30 CFR 56.20003; 29 CFR 1910.22
    assert band("housekeeping-spillage", {"spillage_level": level}) == expected


DUST = {"dust_kind": "combustible", "bulk_density": 0.65}
POUND_PER_CUBIC_FOOT = 0.45359237 / FOOT**3 / 1000  # t/m³


def depth_allowed(bulk_density: float) -> float:
    """OSHA memorandum of 21 April 2015: 1/32 in at 75 lb/ft³, deeper where lighter."""
    return INCH / 32 * max(1.0, 75 * POUND_PER_CUBIC_FOOT / bulk_density)


@pytest.mark.parametrize(
    ("density", "thirty_seconds"),
    [
        (75 * POUND_PER_CUBIC_FOOT, 1.0),
        (37.5 * POUND_PER_CUBIC_FOOT, 2.0),
        (100 * POUND_PER_CUBIC_FOOT, 1.0),
        (25 * POUND_PER_CUBIC_FOOT, 3.0),
    ],
)
def test_dust_depth_required(density, thirty_seconds):
    verdict = judge("housekeeping-dust", DUST, bulk_density=density, dust_layer_depth=0.0)
    assert verdict.required == pytest.approx(thirty_seconds * INCH / 32, rel=1e-9)


def dust_margin(dust_layer_depth: float, bulk_density: float) -> float:
    return depth_allowed(bulk_density) - dust_layer_depth


def test_dust_bands_and_guard():
    seen = set()
    for depth in (0.0, 0.0005, 0.0012, 0.00125, 0.00132, 0.0014, 0.00145, 0.003):
        given = DUST | {"dust_layer_depth": depth}
        now = {"dust_layer_depth": depth, "bulk_density": 0.65}
        margin, spread = dust_margin(**now), uncertainty(dust_margin, now)
        expected = SHORT if margin < 0 else MARGINAL if margin < spread else MEETS
        assert band("housekeeping-dust", given) == expected, depth
        seen.add(expected)
    assert seen == {SHORT, MARGINAL, MEETS}


def test_dust_that_does_not_burn_is_not_applicable():
    for kind in ("dry dusty", "sticky", "wet", "benign"):
        assert band("housekeeping-dust", {"dust_kind": kind}) == NOT_APPLICABLE


@pytest.mark.parametrize(
    "missing", [{"dust_layer_depth": None}, {"bulk_density": None}, {"dust_kind": None}]
)
def test_dust_missing(missing):
    assert band("housekeeping-dust", DUST | {"dust_layer_depth": 0.001} | missing) == UNJUDGED


COST = {
    "cleanup_hours": 10.0,
    "labour_rate": 50.0,
    "spilled_mass": 2.0,
    "material_value": 30.0,
}


def test_cost_a_year():
    verdict = judge("housekeeping-cost", COST)
    assert verdict.band == INFORMATION
    # 52 weeks, or 365.25 days ÷ 7
    assert verdict.found == pytest.approx((10 * 50 + 2 * 30) * 52, rel=5e-3)


@pytest.mark.parametrize("missing", list(COST))
def test_cost_is_information_and_no_number_is_made_up(missing):
    verdict = judge("housekeeping-cost", COST | {missing: None})
    assert verdict.band == INFORMATION
    assert verdict.found != pytest.approx((10 * 50 + 2 * 30) * 52, rel=5e-3)


@pytest.mark.parametrize(
    "key",
    [
        *("access-opening", "access-closure", "access-barrier", "access-isolation"),
        *("access-guard", "access-stop", "access-service"),
        *("housekeeping-spillage", "housekeeping-dust"),
    ],
)
def test_a_row_with_only_a_tag_is_not_judged(key):
    assert bands(key, [{}]) == [UNJUDGED]


@pytest.mark.parametrize(
    ("stop", "railing", "expected"),
    [
        (True, None, "meets"),
        (True, False, "meets"),
        (False, True, "marginal"),
        (False, False, "falls short"),
        (False, None, "falls short"),
        (None, True, "not judged"),
        (None, None, "not judged"),
    ],
)
def test_railings_in_place_of_a_stop_are_marginal(stop, railing, expected):
    # 30 CFR 56.14109 takes railings instead of stops; other jurisdictions do not.
    verdict = judge("access-stop", {"emergency_stop": stop, "travelway_railing": railing})
    assert verdict.band == expected
    assert ("other jurisdictions do not" in verdict.why) == (expected == "marginal")
