"""Every verdict on one row: what was found and required, also where it meets."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

import numpy as np

from ..findings.results import Findings, Verdict
from ..findings.verdict_columns import VerdictColumns
from .display import Display, capital, width_of
from .figures import Figures, Shown
from .findings_sheet import by_sheet, why_of
from .lists import ListColumn, list_sheet
from .model import Cell, Page, SheetModel
from .places import VERDICTS

__all__ = ["MOST_VERDICTS", "holds_all_verdicts", "verdicts_sheet"]

MOST_VERDICTS = 25_000
"""A longer list helps nobody in a spreadsheet; CSV and JSON hold any number."""

_PIECE = 200
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
    figures = Figures(findings, display)

    def lines(first: int, last: int) -> Iterator[tuple[Verdict, Shown]]:
        """Verdicts on some register rows, with their figures."""
        columns = VerdictColumns(findings, np.arange(first, last))
        for verdicts in zip(*map(columns.verdicts, findings.results), strict=True):
            yield from ((verdict, figures.of(verdict)) for verdict in verdicts)

    def items(start: int, stop: int) -> Iterator[tuple[Verdict, Shown]]:
        each = len(findings.results)
        for first in range(start // each, -(-stop // each), _PIECE):
            last = min(first + _PIECE, len(findings))
            yield from islice(
                lines(first, last), max(start - first * each, 0), stop - first * each
            )

    return list_sheet(
        VERDICTS,
        "Every verdict",
        _ABOUT,
        list(_columns(findings, display)),
        items,
        page,
        count=len(findings) * len(findings.results),
        filtered=True,
    )


def _columns(findings: Findings, display: Display) -> Iterator[ListColumn]:
    tags = findings.register.values["tag"]
    load_points = findings.register.values.get("load_point")
    yield ListColumn("Tag", width_of(tags, 8), lambda of: str(tags[of[0].row]), "tag")
    if load_points is not None and findings.register.has("load_point"):
        yield ListColumn("Load point", 10, lambda of: load_points[of[0].row] or None)
    yield from (
        ListColumn("Check", 24, lambda of: findings.results[of[0].key].check.title),
        ListColumn("Verdict", 11.5, lambda of: Cell(of[0].band, of[0].band)),
        ListColumn("Why", 36, lambda of: why_of(of[0], display)),
        ListColumn("Found", 20, lambda of: of[1].found),
        ListColumn("Required", 11, lambda of: of[1].required),
        ListColumn("Margin", 11, lambda of: of[1].margin),
        ListColumn("Unit", 12, lambda of: of[1].unit, "line"),
        ListColumn("Source cells", 34, lambda of: by_sheet(of[0].cells.values())),
        ListColumn("Assumed", 32, lambda of: capital("; ".join(of[0].assumptions))),
        ListColumn("What to do", 42, lambda of: of[0].to_do),
        ListColumn("Source", 42, lambda of: of[0].source),
        ListColumn("Grade", 6.5, lambda of: of[0].grade),
        ListColumn("Basis", 10, lambda of: of[0].basis),
    )
