"""The form for a walk-down: everything that a verdict waits for, and nothing else."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import openpyxl
import pytest

from sheetcheck.errors import OutputExists
from sheetcheck.findings import evaluate
from sheetcheck.findings.results import Findings
from sheetcheck.register.fields import FIELDS
from sheetcheck.report.survey import write_survey
from tests.conftest import make_register

WHEN = datetime(2026, 3, 14, 9, 26)


@pytest.fixture(scope="module")
def findings() -> Findings:
    return evaluate(
        make_register(
            [
                {"belt_width": 0.9, "chute_width_inside": 0.6, "primary_cleaner": 1},
                {"belt_width": 0.9, "primary_cleaner": 1, "secondary_cleaner": 1},
            ]
        )
    )


@pytest.fixture(scope="module")
def form(findings: Findings, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("survey") / "survey.xlsx"
    write_survey(findings, path, when=WHEN)
    return path


def test_it_asks_for_what_a_verdict_waits_for_and_nothing_else(
    findings: Findings, form: Path
) -> None:
    sheet = openpyxl.load_workbook(form).active
    asked = {(row[0], row[2]) for row in sheet.iter_rows(min_row=4, values_only=True)}
    expected = {
        (f"T{row + 1}", name.replace("_", " ").capitalize())
        for row in range(2)
        for verdict in findings.verdicts(row)
        if verdict.band == "not judged"
        for name in findings.missing_inputs(verdict.key, row)
    }
    assert asked == expected
    assert ("T2", "Chute width inside") in asked
    assert ("T1", "Chute width inside") not in asked
    assert ("T1", "Secondary cleaner") in asked
    assert ("T2", "Secondary cleaner") not in asked


def test_each_line_says_how_to_answer_and_leaves_room(form: Path) -> None:
    sheet = openpyxl.load_workbook(form).active
    for row in sheet.iter_rows(min_row=4):
        field = FIELDS[str(row[2].value).lower().replace(" ", "_")]
        answer = str(row[4].value)
        if field.choices:
            assert answer == ", ".join(field.choices)
        elif field.kind == "yes/no":
            assert answer == "yes or no"
        else:
            assert answer
        assert row[5].value is None
        assert row[6].value


def test_a_complete_register_has_nothing_to_ask(tmp_path: Path) -> None:
    findings = evaluate(make_register([{"tail_plough": 1}]), checks=["cleaning-plough"])
    write_survey(findings, tmp_path / "survey.xlsx", when=WHEN)
    sheet = openpyxl.load_workbook(tmp_path / "survey.xlsx").active
    assert "0 things to find out" in str(sheet["A2"].value)
    with pytest.raises(OutputExists):
        write_survey(findings, tmp_path / "survey.xlsx", when=WHEN)
