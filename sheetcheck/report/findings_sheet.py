"""The list of findings: the worst conveyor first, one row per verdict that asks for something."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import cache, lru_cache
from operator import itemgetter
from typing import Any

import numpy as np

from ..findings.plant import Notice
from ..findings.rank import by_urgency
from ..findings.results import BANDS, Findings, Verdict
from ..findings.verdict_columns import VerdictColumns
from ..findings.words import say
from ..register.fields import FIELDS
from ..register.register import cell_reference
from .display import Display, capital, listed, width_of
from .figures import Figures
from .model import Body, Cell, Column, Page, Row, SheetModel, Value
from .places import FINDINGS, RESULTS, cell_link, place

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
    head
        Rows of the sheet above the first line.
    """

    head = 3

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
        self._first = np.full(len(findings), -1)
        self._first[self.rows[::-1]] = np.arange(len(self.rows))[::-1]

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

    def first_of(self, row: int) -> int | None:
        """Line at which a register row's findings begin; None where it has none."""
        line = int(self._first[row])
        return None if line < 0 else line


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
    return waits


_HEADINGS = (
    ("Tag", 0),
    ("Load point", 10),
    ("Verdict", 11.5),
    ("Why", 34),
    ("Question", 26),
    ("Found", 16),
    ("Required", 10.5),
    ("Short by", 10.5),
    ("Unit", 7.5),
    ("What to do", 38),
    ("Band changes at", 27),
    ("Source cell", 15),
    ("Assumed", 26),
    ("Source", 31),
    ("Grade", 6.5),
    ("Check", 25),
    ("Rank", 6),
    ("All source cells", 40),
)
_BAND_CELLS = {band: Cell(band, band) for band in BANDS}
_NOT_PRINTED = 3  # the last columns, of use on a screen


_ABOUT = (
    "The worst conveyor first{}; of each, what people need before any work. All that falls short "
    "or is marginal, and what is not judged for want of a value in a column that is there. Grade: "
    "S source read, Q quoted elsewhere, D derived here, C common practice, no published source, M "
    "from memory."
)


def findings_sheet(
    findings: Findings,
    display: Display,
    listing: Listing,
    page: Page,
    *,
    results_head: int,
    with_links: bool,
) -> SheetModel:
    """Lay out the list.

    Parameters
    ----------
    findings, display, listing, page
        As `results_sheet.results_sheet` takes them.
    results_head
        Rows above the first row of the results sheet, which tags link to.
    with_links
        Whether the source's sheets stand in the same workbook.
    """
    register = findings.register
    has_load_points = register.has("load_point")
    shown = [
        at for at, (name, _) in enumerate(_HEADINGS) if has_load_points or name != "Load point"
    ]

    figures = Figures(findings, display)
    chosen = itemgetter(*shown)
    present = cache(findings.columns.get)

    @lru_cache(maxsize=1)
    def conveyor(row: int) -> tuple[Cell, str | None, int]:
        """Tag, load point and rank, of which each row has many lines."""
        tag, load_point = str(register.values["tag"][row]), register.value(row, "load_point")
        return (
            Cell(tag, "tag link", place(RESULTS, results_head, row)),
            load_point if isinstance(load_point, str) else None,
            int(findings.rank[row]),
        )

    def line(verdict: Verdict) -> Row:
        cells = _cells(
            findings, display, figures, verdict, conveyor(verdict.row), present, with_links
        )
        return chosen(cells)  # type: ignore[no-any-return]

    def rows(start: int, stop: int) -> Iterator[Row]:
        for first in range(start, min(stop, len(listing.rows)), _PIECE):
            last = min(first + _PIECE, stop, len(listing.rows))
            yield from map(line, listing.verdicts(first, last))
        after = len(listing.rows)
        for notice in listing.notices[max(start - after, 0) : max(stop - after, 0)]:
            yield chosen(_notice(notice))

    plant = findings.ruling.plant
    about = _ABOUT.format(", by the plant's weights" if plant and plant.weights else "")
    sheets = [cell_reference(table.sheet, "AA999") for table in register.cells.tables]
    widths = {"Tag": width_of(register.values["tag"], 8), "Source cell": width_of(sheets, 15)}
    styles = {
        "Tag": "tag",
        "Short by": "number 2",
        "Unit": "line",
        "Check": "line",
        "Rank": "count",
        "All source cells": "line",
    }
    columns = tuple(
        Column(widths.get(name, width), styles.get(name, "text"))
        for name, width in (_HEADINGS[at] for at in shown)
    )
    return SheetModel(
        FINDINGS,
        columns,
        (
            (Cell("Findings", "title"),),
            (Cell(about, "subtitle"),),
            tuple(Cell(_HEADINGS[at][0], "heading") for at in shown),
        ),
        Body(len(listing), rows),
        printed_columns=len(columns) - _NOT_PRINTED,
        freeze=(listing.head, 1),
        filtered=True,
        heights={0: 24, 2: 20},
        page=page,
    )


def _cells(
    findings: Findings,
    display: Display,
    figures: Figures,
    verdict: Verdict,
    conveyor: tuple[Cell, str | None, int],
    present: Callable[[str], Any],
    with_links: bool,
) -> list[Cell | Value]:
    tag, load_point, rank = conveyor
    flips = [
        display.flip(name, value, present(name)[verdict.row])
        for name, value in verdict.flips_at.items()
        if value is not None
    ]
    shown, source_cell = figures.of(verdict), Cell("")
    if shown.source_cell:
        link = cell_link(shown.source_cell) if with_links else None
        source_cell = Cell(shown.source_cell, "link" if with_links else "line", link)
    return [
        tag,
        load_point,
        _BAND_CELLS[verdict.band],
        why_of(verdict, display),
        findings.results[verdict.key].check.question,
        shown.found,
        shown.required,
        shown.short,
        shown.unit,
        verdict.remedy,
        capital("; ".join(filter(None, flips))),
        source_cell,
        capital("; ".join(verdict.assumptions)),
        verdict.source,
        verdict.grade,
        verdict.key,
        rank,
        by_sheet(verdict.cells.values()),
    ]


def _notice(notice: Notice) -> list[Cell | Value]:
    cells: dict[str, Cell | Value] = dict.fromkeys(name for name, _ in _HEADINGS)
    cells |= {
        "Tag": Cell(notice.tag or "all", "tag"),
        "Verdict": Cell(notice.kind, "name"),
        "Why": capital(notice.text),
        "What to do": notice.what_to_do,
        "Source": "limits file",
        "Check": notice.check,
    }
    return list(cells.values())


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
        said.append(f"accepted: {verdict.accepted}")
    return capital("; ".join(said))


def _if_known(verdict: Verdict, display: Display) -> Iterator[str]:
    for name, outcomes in verdict.if_known.items():
        # An input whose every value leaves it open decides nothing alone.
        if set(outcomes.values()) != {"not judged"}:
            each = listed(f"{display.tried(name, v)}: {b}" for v, b in outcomes.items())
            yield f"{say(name)} would give {each}"
