"""The register's own remarks beside the matrix of verdicts."""

from __future__ import annotations

from pathlib import Path

import pytest

from sheetcheck.findings import evaluate
from sheetcheck.intake import read_register
from sheetcheck.report.model import SheetModel
from tests.conftest import make_register
from tests.report.sheet_models import laid_out, table, text, values

REMARKS = "Remarks in the register"
DEMO = Path(__file__).parents[2] / "demo_workbooks"


def results(*remarks: str | None) -> SheetModel:
    rows = [{"belt_width": 1.2, "notes": remark} for remark in remarks]
    return laid_out(evaluate(make_register(rows)))["Check results"]


def test_remarks_stand_last_word_for_word_and_are_printed() -> None:
    said = ["no guards at tail, fix!", None, "=1+1"]
    sheet = results(*said)
    assert text(sheet.head[-1][-1]) == REMARKS
    assert [text(row[REMARKS]) or None for row in table(sheet)] == said
    assert len(sheet.columns) == len(sheet.head[-1]) == len(sheet.head[-2])
    assert sheet.printed_columns == 0  # all of them
    assert sheet.columns[-1].style == "text"  # which wraps


def test_remarks_judge_nothing() -> None:
    with_remarks, without = results("no guards at tail, fix!"), results(None)
    width = len(without.columns)
    assert [row[:width] for row in values(with_remarks)[3:]] == values(without)[3:]


@pytest.mark.parametrize("remarks", [(None, None), ("", "")])
def test_without_remarks_there_is_no_column_for_them(remarks: tuple[str | None, ...]) -> None:
    assert REMARKS not in [text(cell) for cell in results(*remarks).head[-1]]


@pytest.mark.parametrize(("length", "least", "most"), [(5, 24, 24), (600, 45, 45)])
def test_remarks_take_a_width_that_can_be_read(length: int, least: int, most: int) -> None:
    assert least <= results("a " * (length // 2)).columns[-1].width <= most


@pytest.mark.parametrize("name", ["tern_quay_register", "harrow_sidings_acquired"])
def test_remarks_are_narrow_rather_than_alone_on_a_page(name: str) -> None:
    register = read_register(DEMO / f"{name}.xlsx")
    sheet = laid_out(evaluate(register, flips=False))["Check results"]
    assert text(sheet.head[-1][-1]) == REMARKS
    assert len(sheet.columns) - 1 not in sheet.column_breaks
    assert sheet.columns[-1].width >= 24
    assert [text(row[REMARKS]) for row in table(sheet)] == register.values["notes"].tolist()
