"""How every column of the source was read, and what was assumed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from ..findings.results import BANDS, Findings
from ..register.fields import FIELDS
from ..register.register import Column as SourceColumn
from ..register.register import cell_reference
from .display import capital
from .model import Body, Cell, Column, Page, Row, SheetModel
from .places import COLUMNS, cell_link

__all__ = ["columns_sheet"]

_HEADINGS = (
    ("Field, or check", 24),
    ("Used", 10),
    ("Why, or what was assumed", 40),
    ("Sheet", 16),
    ("Column", 8),
    ("Header in the source", 30),
    ("Unit", 9),
    ("Confidence", 11),
    ("Meaning", 40),
)
_JUDGED = tuple(BANDS.index(band) for band in ("meets", "marginal", "falls short"))


def columns_sheet(findings: Findings, page: Page, *, with_links: bool) -> SheetModel:
    """Lay out the columns, and under them the assumptions with how many verdicts rest on each."""
    rows: list[Row] = [_row(column, with_links) for column in findings.register.columns]
    rows += _assumptions(findings)
    return SheetModel(
        COLUMNS,
        tuple(Column(width) for _, width in _HEADINGS),
        (
            (Cell("How the columns were read", "title"),),
            (
                Cell(
                    "A column that was not used says so. Correct a wrong reading in a column map: "
                    "sheetcheck columns WORKBOOK --save FILE.toml, edit, and check --columns "
                    "FILE.toml.",
                    "subtitle",
                ),
            ),
            tuple(Cell(name, "heading") for name, _ in _HEADINGS),
        ),
        Body.of(rows),
        freeze=(3, 1),
        heights={0: 24, 1: 20},
        page=page,
    )


def _row(column: SourceColumn, with_links: bool) -> Row:
    used = column.field is not None
    letter: Cell | str = column.column
    if with_links and column.column.isalpha():
        link = cell_link(cell_reference(column.sheet, f"{column.column}1"))
        letter = Cell(column.column, "link", link)
    return (
        Cell(capital(column.field.replace("_", " ")) if column.field else "", "name"),
        "yes" if used else "no",
        capital(column.why),
        column.sheet,
        letter,
        column.header,
        column.unit or "",
        Cell(column.confidence, "share"),
        capital(FIELDS[column.field].meaning) if column.field else "",
    )


def _assumptions(findings: Findings) -> Iterator[Row]:
    last = len(_HEADINGS) - 1
    yield ()
    yield (Cell("What was assumed", "section"), *[Cell("", "section")] * last)
    yield tuple(Cell(name, "heading") for name in ("Check", "Verdicts", "What they rest on"))
    found = False
    for result in findings.results.values():
        judged = np.isin(result.band, _JUDGED)
        count: Counter[str] = Counter()
        for rows, text in (*result.assumed, *result.notes):
            count[text] += int((rows & judged).sum())
        for row, texts in result.assumptions.items():
            if judged[row]:
                count.update(texts)
        for text, number in count.items():
            if number:
                found = True
                yield (Cell(result.check.title, "text"), Cell(number, "count"), capital(text))
    if not found:
        yield (Cell("Nothing.", "text"),)
