"""The words of a finding: what would decide it, what decided it, and the cell that did."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from sheetcheck.findings import evaluate
from sheetcheck.report.display import Display
from sheetcheck.report.model import SheetModel
from tests.conftest import make_register
from tests.report.sheet_models import laid_out, table, text


def sheets_of(row: Mapping[str, Any], check: str) -> dict[str, SheetModel]:
    return laid_out(evaluate(make_register([row]), checks=[check]))


def why(row: Mapping[str, Any], check: str) -> str:
    (line,) = table(sheets_of(row, check)["Check verdicts"])
    return str(text(line["Why"]))


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("tail_pulley_lift", "full trough", "full trough"),
        ("conveyor_length", "a short conveyor", "a short conveyor"),
        ("tail_tension_ratio", "0.182137", "18.21%"),
        ("chute_wall_thickness", "0.0123456", "12.35 mm"),
        ("belt_modulus", "12345.6", "12350 kN/m"),
        ("trough_angle", "35", "35°"),
        ("idler_rolls", "3", "3"),
    ],
)
def test_a_tried_value_has_the_unit_of_a_number_and_no_more_digits_than_are_known(
    field: str, value: str, said: str
) -> None:
    assert Display(make_register([{"belt_width": 1.2}])).tried(field, value) == said


def test_inputs_of_which_none_decides_alone_leave_no_loose_end() -> None:
    closure = {"door_count": 1}
    verdict = evaluate(make_register([closure])).verdict("access-closure", 0)
    assert {band for known in verdict.if_known.values() for band in known.values()} == {
        "not judged"
    }
    assert why(closure, "access-closure") == "Door gasket and door latch would decide it"
    assert why(closure | {"door_gasket": True}, "access-closure") == (
        "Door latch would decide it; door latch would give yes: meets, no: marginal"
    )


DUTY = {"cleaner_duty_selected": True, "reversing": False, "cleaner_reversible": False}


@pytest.mark.parametrize(
    ("check", "row", "found", "deciding"),
    [
        (
            "access-service",
            {"component_reach": False, "service_clear_width": 0.65},
            "Component reach: no",
            "component_reach",
        ),
        (
            "access-service",
            {"component_reach": True, "service_clear_width": 0.5},
            500,
            "service_clear_width",
        ),
        # Where both fall short the number says by how much.
        (
            "access-service",
            {"component_reach": False, "service_clear_width": 0.5},
            500,
            "service_clear_width",
        ),
        ("access-opening", {"door_count": 0}, "Door count: 0", "door_count"),
        (
            "cleaning-stages",
            {"primary_cleaner": True, "secondary_cleaner": False},
            "Secondary cleaner: no",
            "secondary_cleaner",
        ),
        (
            "cleaning-stages",
            {"primary_cleaner": False, "secondary_cleaner": False},
            "Primary cleaner, secondary cleaner: no",
            "primary_cleaner",
        ),
        # What is missing does not hide what is known to be wanting.
        (
            "cleaning-stages",
            {"primary_cleaner": None, "secondary_cleaner": False},
            "Secondary cleaner: no",
            "secondary_cleaner",
        ),
        (
            "access-closure",
            {"door_gasket": True, "door_latch": False, "door_count": 1},
            "Door latch: no",
            "door_latch",
        ),
        # A "no" that has no part in it is not named.
        (
            "cleaning-duty",
            DUTY | {"cleaner_duty_selected": False, "cleaner_tensioner": "spring"},
            "Cleaner duty selected: no",
            "cleaner_duty_selected",
        ),
        (
            "cleaning-duty",
            DUTY | {"reversing": True},
            "Cleaner reversible: no",
            "cleaner_reversible",
        ),
        (
            "cleaning-duty",
            DUTY | {"cleaner_tensioner": "counterweight", "belt_speed": 3.0},
            "Cleaner tensioner: counterweight",
            "cleaner_tensioner",
        ),
        (
            "tracking-places",
            {
                "tracker_before_tail": "none",
                "tracker_after_load": "dynamic",
                "tracker_before_head": "none",
                "feeds_belt": True,
            },
            "Tracker before tail, tracker before head: none",
            "tracker_before_tail",
        ),
        # Here the "yes" is on the bad side.
        (
            "tracking-crown",
            {
                "belt_carcass": "steel cord",
                "pulley_crowned_tail": False,
                "pulley_crowned_head": True,
            },
            "Pulley crowned head: yes",
            "pulley_crowned_head",
        ),
        (
            "tracking-crown",
            {"belt_carcass": "steel cord", "pulley_crowned": True},
            "Pulley crowned: yes",
            "pulley_crowned",
        ),
        (
            "seal-kind",
            {"dust_kind": "dry dusty", "seal_kind": "single strip"},
            "Seal kind: single strip; dust kind: dry dusty",
            "seal_kind",
        ),
        ("access-guard", {"nip_guards": False}, "no", "nip_guards"),
        # The number decides, though a "none" stands beside it.
        (
            "tracking-reach",
            {"tracker_spacing_max": 90.0, "tracker_before_tail": "none"},
            90,
            "tracker_spacing_max",
        ),
        # The number would be another with a cleaner: it is still the number that decides.
        (
            "cleaning-carryback",
            {
                "primary_cleaner": False,
                "secondary_cleaner": False,
                "secondary_blade": "rubber",
                "carryback_initial": 0.2,
                "carryback_target": 0.15,
            },
            0.2,
            "carryback_initial",
        ),
    ],
)
def test_what_decided_is_shown_with_its_own_cell_before_the_others(
    check: str, row: Mapping[str, Any], found: object, deciding: str
) -> None:
    findings = evaluate(make_register([row]), checks=[check])
    sheets = laid_out(findings)
    (line,) = table(sheets["Check findings"])
    (beside,) = table(sheets["Check verdicts"])
    verdict = findings.verdict(check, 0)
    assert text(line["Verdict"]) in ("falls short", "marginal")
    assert text(line["Source cell"]) == verdict.cells[deciding]
    for shown in (line, beside):
        assert text(shown["Found"]) == (found if isinstance(found, str) else pytest.approx(found))
        # Numbers that meet what is required do not stand beside a verdict of words.
        numbers = [shown["Required"], shown.get("Short by"), shown.get("Margin")]
        if isinstance(found, str):
            assert [text(cell) for cell in numbers] == [None] * 3
            assert shown["Unit"] == ""
        else:
            assert text(shown["Required"]) is not None


def test_a_verdict_that_meets_keeps_its_numbers_and_names_all_that_is_recorded() -> None:
    service = {"component_reach": True, "service_clear_width": 0.65}
    stages = {"primary_cleaner": True, "secondary_cleaner": True}
    checks = ["access-service", "cleaning-stages"]
    sheets = laid_out(evaluate(make_register([service | stages]), checks=checks))
    shown = {text(row["Check"]): row for row in table(sheets["Check verdicts"])}
    assert text(shown["Service access"]["Found"]) == pytest.approx(650)
    assert text(shown["Service access"]["Margin"]) == pytest.approx(50)
    assert text(shown["Cleaner stages"]["Found"]) == "Primary cleaner, secondary cleaner: yes"
