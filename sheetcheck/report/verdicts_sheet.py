"""Every verdict on one row: what was found and required, also where it meets."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

import numpy as np

from ..findings.results import Findings, Verdict
from ..findings.verdict_columns import VerdictColumns
from .display import Display, capital, width_of
from .figures import Figures
from .findings_sheet import by_sheet, why_of
from .model import Body, Cell, Column, Page, Row, SheetModel
from .places import VERDICTS

__all__ = ["MOST_VERDICTS", "holds_all_verdicts", "verdicts_sheet"]

MOST_VERDICTS = 25_000
"""A longer list helps nobody in a spreadsheet; CSV and JSON hold any number."""

_PIECE = 200
_HEAD = 3
_HEADINGS = (
    ("Tag", 0),
    ("Load point", 10),
    ("Check", 24),
    ("Verdict", 11.5),
    ("Why", 36),
    ("Found", 20),
    ("Required", 11),
    ("Margin", 11),
    ("Unit", 12),
    ("Source cells", 34),
    ("Assumed", 32),
    ("What to do", 42),
    ("Source", 42),
    ("Grade", 6.5),
)
_STYLES = {"Tag": "tag", "Unit": "line"}
_ABOUT = (
    "One row for each register row and check, in the order of the register; a positive margin is "
    "on the good side. Use the filters for one conveyor, one check or one verdict."
)


def holds_all_verdicts(findings: Findings) -> bool:
    """Whether the verdicts are few enough for a sheet."""
    return len(findings) * len(findings.results) <= MOST_VERDICTS


def verdicts_sheet(findings: Findings, display: Display, page: Page) -> SheetModel | None:
    """Lay out the list; None where it would be too long.

    Parameters
    ----------
    findings, display, page
        As `results_sheet.results_sheet` takes them.
    """
    if not holds_all_verdicts(findings):
        return None
    register = findings.register
    shown = [
        at
        for at, (name, _) in enumerate(_HEADINGS)
        if name != "Load point" or register.has("load_point")
    ]
    figures = Figures(findings, display)

    def lines(first: int, last: int) -> Iterator[Row]:
        """Lines of some register rows."""
        columns = VerdictColumns(findings, np.arange(first, last))
        for verdicts in zip(*map(columns.verdicts, findings.results), strict=True):
            for verdict in verdicts:
                cells = _cells(findings, display, figures, verdict)
                yield [cells[at] for at in shown]

    def rows(start: int, stop: int) -> Iterator[Row]:
        each = len(findings.results)
        for first in range(start // each, -(-stop // each), _PIECE):
            last = min(first + _PIECE, len(findings))
            yield from islice(
                lines(first, last), max(start - first * each, 0), stop - first * each
            )

    tags = width_of(register.values["tag"], 8)
    return SheetModel(
        VERDICTS,
        tuple(
            Column(width or tags, _STYLES.get(name, "text"))
            for name, width in (_HEADINGS[at] for at in shown)
        ),
        (
            (Cell("Every verdict", "title"),),
            (Cell(_ABOUT, "subtitle"),),
            tuple(Cell(_HEADINGS[at][0], "heading") for at in shown),
        ),
        Body(len(findings) * len(findings.results), rows),
        freeze=(_HEAD, 1),
        filtered=True,
        heights={0: 24, 1: 20},
        page=page,
    )


def _cells(
    findings: Findings, display: Display, figures: Figures, verdict: Verdict
) -> list[Cell | str | None]:
    register = findings.register
    load_point, shown = register.value(verdict.row, "load_point"), figures.of(verdict)
    return [
        str(register.values["tag"][verdict.row]),
        load_point if isinstance(load_point, str) else None,
        findings.results[verdict.key].check.title,
        Cell(verdict.band, verdict.band),
        why_of(verdict, display),
        shown.found,
        shown.required,
        shown.margin,
        shown.unit,
        by_sheet(verdict.cells.values()),
        capital("; ".join(verdict.assumptions)),
        verdict.remedy,
        verdict.source,
        verdict.grade,
    ]
