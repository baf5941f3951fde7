"""How every column of the source was read, and what was assumed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ..findings.results import BANDS, Findings
from ..register.fields import FIELDS
from ..register.register import Column as SourceColumn
from ..register.register import cell_reference
from .display import capital
from .lists import ListColumn, list_sheet, section
from .model import Body, Cell, Page, Row, SheetModel
from .places import COLUMNS, cell_link

__all__ = ["columns_sheet"]

_ABOUT = (
    "A column that was not used says so. Correct a wrong reading in a column map: sheetcheck "
    "columns WORKBOOK --save FILE.toml, edit, and check --columns FILE.toml."
)
_JUDGED = tuple(BANDS.index(band) for band in ("meets", "marginal", "falls short"))


def columns_sheet(findings: Findings, page: Page, *, with_links: bool) -> SheetModel:
    """Lay out the columns, and under them the assumptions with how many verdicts rest on each."""

    def letter(column: SourceColumn) -> Cell | str:
        if not (with_links and column.cell):
            return column.column
        link = cell_link(cell_reference(column.sheet, column.cell))
        return Cell(column.column, "link", link)

    def meaning(column: SourceColumn) -> str:
        return capital(FIELDS[column.field].meaning) if column.field else ""

    sheet = list_sheet(
        COLUMNS,
        "How the columns were read",
        _ABOUT,
        (
            ListColumn(
                "Field, or check", 24, lambda c: capital((c.field or "").replace("_", " ")), "name"
            ),
            ListColumn("Used", 10, lambda c: "yes" if c.field else "no"),
            ListColumn("Why, or what was assumed", 40, lambda c: capital(c.why)),
            ListColumn("Sheet", 16, lambda c: c.sheet),
            ListColumn("Column", 8, letter),
            ListColumn("Header in the source", 30, lambda c: c.header),
            ListColumn("Unit", 9, lambda c: c.unit or ""),
            ListColumn("Confidence", 11, lambda c: c.confidence, "share"),
            ListColumn("Meaning", 40, meaning),
        ),
        findings.register.columns,
        page,
    )
    return replace(sheet, body=Body.of([*sheet.body, *_assumptions(findings, len(sheet.columns))]))


def _assumptions(findings: Findings, width: int) -> Iterator[Row]:
    counted = []
    for result in findings.results.values():
        judged = np.isin(result.band, _JUDGED)
        count: Counter[str] = Counter()
        for rows, text in (*result.assumed, *result.notes):
            count[text] += int((rows & judged).sum())
        for row, texts in result.assumptions.items():
            if judged[row]:
                count.update(texts)
        counted += [(result.check.title, number, text) for text, number in count.items() if number]
    columns = (
        ("Check", lambda of: Cell(of[0], "text")),
        ("Verdicts", lambda of: Cell(of[1], "count")),
        ("What they rest on", lambda of: capital(of[2])),
    )
    yield from section("What was assumed", width, columns, counted, "Nothing.")
