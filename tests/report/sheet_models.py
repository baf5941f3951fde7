"""Result sheets as models, and what stands in them."""

from __future__ import annotations

from datetime import datetime

from sheetcheck.findings.results import Findings
from sheetcheck.report.model import Cell, SheetModel
from sheetcheck.report.sheets import report_sheets

WHEN = datetime(2026, 3, 14, 9, 26)


def laid_out(findings: Findings, *, with_links: bool = True) -> dict[str, SheetModel]:
    sheets = report_sheets(findings, when=WHEN, tool="0.0", with_links=with_links)
    return {sheet.name: sheet for sheet in sheets}


def text(cell: object) -> object:
    return cell.value if isinstance(cell, Cell) else cell


def table(sheet: SheetModel) -> list[dict[str, object]]:
    """Body rows by the names in the last row of the head; cells as they are."""
    names = [text(cell) for cell in sheet.head[-1]]
    return [dict(zip(names, row, strict=False)) for row in sheet.body]  # type: ignore[arg-type]


def values(sheet: SheetModel) -> list[list[object]]:
    return [[text(cell) for cell in row] for row in sheet]
