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
