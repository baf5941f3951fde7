"""The list of findings: the worst conveyor first, one row per verdict that asks for something."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cache, lru_cache
from typing import Any, NamedTuple

import numpy as np

from ..findings.plant import Notice
from ..findings.rank import by_urgency
from ..findings.results import BANDS, Findings, Verdict
from ..findings.verdict_columns import VerdictColumns
from ..findings.words import say
from ..register.fields import FIELDS
from ..register.register import cell_reference
from .display import Display, capital, listed, width_of
from .figures import Figures, Shown
from .lists import ListColumn, list_sheet
from .model import Cell, Page, SheetModel, Value
from .places import FINDINGS, cell_link

__all__ = ["Listing", "by_sheet", "findings_sheet", "why_of"]

_PIECE = 10_000
_ORDER = ("falls short", "marginal", "not judged")


class Listing:
    """Which verdicts the findings sheet lists, in its order.

    After the conveyors' own come what a limits file calls for: limits laxer than published ones,
    accepted deviations that have run out or cover nothing.

    Every *falls short* and *marginal*, and every *not judged* that waits for an input which the
    register has a column for. Inputs that it has no column for are listed once each, elsewhere.

    Parameters
    ----------
    findings
        What was judged.

    Attributes
    ----------
    rows, checks
        Register row and place of the check of each line.
    """

    def __init__(self, findings: Findings) -> None:
        self._findings = findings
        self._keys = list(findings.results)
        urgency = by_urgency(self._keys)
        rows, checks, order = [], [], []
        for number, (key, result) in enumerate(findings.results.items()):
            for place_in_order, band in enumerate(_ORDER):
                hit = result.band == BANDS.index(band)
                if band == "not judged":
                    hit &= _waits_for_a_column(findings, key)
                found = np.flatnonzero(hit)
                # Small numbers: a long register has millions of findings.
                rows.append(found.astype(np.int32))
                checks.append(np.full(len(found), number, np.int16))
                order.append(np.full(len(found), place_in_order, np.int16))
        row, check = np.concatenate(rows), np.concatenate(checks)
        urgent = np.array([urgency.index(key) for key in self._keys], np.int16)[check]
        sorting = np.lexsort((urgent, np.concatenate(order), row, findings.rank[row]))
        self.rows, self.checks = row[sorting], check[sorting]
        self.notices = findings.ruling.notices

    def __len__(self) -> int:
        return len(self.rows) + len(self.notices)

    def verdicts(self, start: int, stop: int) -> list[Verdict]:
        """Verdicts of some lines, in their order."""
        lines, checks = self.rows[start:stop], self.checks[start:stop]
        register_rows, places = np.unique(lines, return_inverse=True)
        columns = VerdictColumns(self._findings, register_rows)
        found = np.empty(len(lines), object)
        for number in sorted(set(checks.tolist())):
            at = np.flatnonzero(checks == number)
            for line, verdict in zip(
                at.tolist(), columns.verdicts(self._keys[number], places[at]), strict=True
            ):
                found[line] = verdict
        return list(found)


def _waits_for_a_column(findings: Findings, key: str) -> np.ndarray[Any, Any]:
    result = findings.results[key]
    register, columns = findings.register, findings.columns
    waits = np.zeros(len(findings), bool)
    for name in result.check.inputs:
        if register.has(name) or register.has(FIELDS[name].stand_in):
            waits |= columns.missing(name)
    for rows, names in result.none_of:
        if any(register.has(name) for name in names):
            waits |= rows
    return waits & ~result.outside


_BAND_CELLS = {band: Cell(band, band) for band in BANDS}
_ABOUT = (
    "The worst conveyor first{}; of each, what people need before any work. All that falls short "
    "or is marginal, and what is not judged for want of a value in a column that is there. Grade: "
    "S source read, Q quoted elsewhere, D derived here, C common practice, no published source, M "
    "from memory."
)


class _Line(NamedTuple):
    """A verdict, its figures, and what all lines of its conveyor share: tag and load point."""

    verdict: Verdict
    figures: Shown
    tag: Cell
    load_point: str | None


def findings_sheet(
    findings: Findings, display: Display, listing: Listing, page: Page, *, with_links: bool
) -> SheetModel:
    """Lay out the list.

    Parameters
    ----------
    findings, display, listing, page
        As `results_sheet.results_sheet` takes them.
    with_links
        Whether the source's sheets stand in the same workbook.
    """
    register, figures = findings.register, Figures(findings, display)

    @lru_cache(maxsize=1)
    def conveyor(row: int) -> tuple[Cell, str | None]:
        tag, load_point = str(register.values["tag"][row]), register.value(row, "load_point")
        return Cell(tag, "tag"), str(load_point or "") or None

    def lines(start: int, stop: int) -> Iterator[_Line | Notice]:
        for first in range(start, min(stop, len(listing.rows)), _PIECE):
            last = min(first + _PIECE, stop, len(listing.rows))
            for verdict in listing.verdicts(first, last):
                yield _Line(verdict, figures.of(verdict), *conveyor(verdict.row))
        after = len(listing.rows)
        yield from listing.notices[max(start - after, 0) : max(stop - after, 0)]

    plant = findings.ruling.plant
    return list_sheet(
        FINDINGS,
        "Findings",
        _ABOUT.format(", by the plant's weights" if plant and plant.weights else ""),
        [
            column._replace(value=_or_notice(column))
            for column in _columns(findings, display, with_links)
            if column.heading != "Load point" or register.has("load_point")
        ],
        lines,
        page,
        count=len(listing),
        filtered=True,
        heights={0: 24, 2: 20},
    )


def _columns(findings: Findings, display: Display, with_links: bool) -> Iterator[ListColumn]:
    register, present = findings.register, cache(findings.columns.get)
    sheets = [cell_reference(table.sheet, "AA999") for table in register.cells.tables]

    def flips(line: _Line) -> str:
        shown = [
            display.flip(name, value, present(name)[line.verdict.row])
            for name, value in line.verdict.flips_at.items()
            if value is not None
        ]
        return capital("; ".join(filter(None, shown)))

    def source_cell(line: _Line) -> Cell:
        text = line.figures.source_cell
        if not text:
            return Cell("")
        return Cell(text, "link", cell_link(text)) if with_links else Cell(text, "line")

    yield from (
        ListColumn("Tag", width_of(register.values["tag"], 8), lambda of: of.tag, "tag"),
        ListColumn("Load point", 10, lambda of: of.load_point),
        ListColumn("Verdict", 11.5, lambda of: _BAND_CELLS[of.verdict.band]),
        ListColumn("Why", 34, lambda of: why_of(of.verdict, display)),
        ListColumn("Question", 26, lambda of: findings.results[of.verdict.key].check.question),
        ListColumn("Found", 16, lambda of: of.figures.found),
        ListColumn("Required", 10.5, lambda of: of.figures.required),
        ListColumn("Short by", 10.5, lambda of: of.figures.short, "number 2"),
        ListColumn("Unit", 7.5, lambda of: of.figures.unit, "line"),
        ListColumn("What to do", 38, lambda of: of.verdict.to_do),
        ListColumn("Band changes at", 27, flips),
        ListColumn("Source cell", width_of(sheets, 15), source_cell),
        ListColumn("Assumed", 26, lambda of: capital("; ".join(of.verdict.assumptions))),
        ListColumn("Source", 31, lambda of: of.verdict.source),
        ListColumn("Grade", 6.5, lambda of: of.verdict.grade),
        ListColumn("Basis", 10, lambda of: of.verdict.basis),
        ListColumn("Check", 25, lambda of: of.verdict.key, "line", False),
        ListColumn("Rank", 6, lambda of: int(findings.rank[of.verdict.row]), "count", False),
        ListColumn(
            "All source cells",
            40,
            lambda of: by_sheet(of.verdict.cells.values()),
            "line",
            False,
        ),
    )


_OF_A_NOTICE: Mapping[str, Callable[[Notice], Value | Cell]] = {
    "Tag": lambda notice: Cell(notice.tag or "all", "tag"),
    "Verdict": lambda notice: Cell(notice.kind, "name"),
    "Why": lambda notice: capital(notice.text),
    "What to do": lambda notice: notice.what_to_do,
    "Source": lambda notice: "limits file",
    "Check": lambda notice: notice.check,
}


def _nothing(_: Notice) -> None:
    return None


def _or_notice(column: ListColumn) -> Callable[[_Line | Notice], Value | Cell]:
    """A column's cell of a line, or of a notice, which has a few of them."""
    of_notice = _OF_A_NOTICE.get(column.heading, _nothing)
    return lambda line: column.value(line) if isinstance(line, _Line) else of_notice(line)


def by_sheet(references: Iterable[str]) -> str:
    """References with each sheet named once: ``Conveyors!D7, H7; Cleaners!C4``."""
    cells: dict[str, list[str]] = {}
    for reference in dict.fromkeys(references):
        sheet, _, cell = reference.rpartition("!")
        cells.setdefault(sheet, []).append(cell)
    return "; ".join(f"{sheet}!{listed(found)}" for sheet, found in cells.items())


def why_of(verdict: Verdict, display: Display) -> str:
    """Why, what a missing input would decide, and what the plant accepts of it."""
    said = [verdict.why, *_if_known(verdict, display)]
    if verdict.accepted:
        colon = " " if verdict.accepted.startswith("by the plant") else ": "
        said.append(f"accepted{colon}{verdict.accepted}")
    return capital("; ".join(said))


def _if_known(verdict: Verdict, display: Display) -> Iterator[str]:
    for name, outcomes in verdict.if_known.items():
        # An input whose every value leaves it open decides nothing alone.
        if set(outcomes.values()) != {"not judged"}:
            each = listed(f"{display.tried(name, v)}: {b}" for v, b in outcomes.items())
            yield f"{say(name)} would give {each}"
