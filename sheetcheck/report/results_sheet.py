"""The matrix of all verdicts: one row per register row, one column per check."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import groupby
from typing import NamedTuple

import numpy as np

from ..findings.columns import Array
from ..findings.results import BANDS, Findings
from ..register.fields import FIELDS
from .display import Display, capital, listed, width_of
from .lists import ListColumn, headings
from .model import Body, Cell, Page, Row, SheetModel
from .paper import scale_that_fits, width_in_points
from .places import RESULTS
from .style import SHOWN

__all__ = ["results_sheet"]

_HEAD = 4  # rows
_MOST_REASONS = 4
_PIECE = 2_000
_BAND_WIDTH = 11.5  # takes "not applicable", the longest band
_FIGURE_WIDTH = 11
_REMARK_WIDTHS = (24, 45)  # least and most
_REPEATED = 2
# Pages are filled with whole subjects as long as they print at this per cent of full size.
_LEAST_SCALE = 62

# What an engineer looks for first, where the register or a check gives it: fields as recorded,
# and the found or required number of a check, in the unit of a field where it is not the check's.
_FIELDS = ("belt_width", "belt_speed", "trough_angle", "tonnage", "material")
_FIGURES = (
    ("Tail transition, found", "transition-length-tail", "found", ""),
    ("Tail transition, required", "transition-length-tail", "required", ""),
    ("Head transition, required", "transition-length-head", "required", ""),
    ("Free belt edge, found", "seal-edge", "found", ""),
    ("Free belt edge, required", "seal-edge", "required", ""),
    ("Widest chute", "seal-chute-max", "required", "chute_width_inside"),
    ("Skirtboard, required", "seal-length", "required", ""),
    ("Belt filling", "load-fill", "found", ""),
    ("Residue after cleaning", "cleaning-carryback", "found", ""),
    ("Cost a year", "housekeeping-cost", "found", ""),
)


_ABOUT = (
    "One column per check; unless the sheet is protected, the mark above the first of a subject "
    "closes the others. For what is behind a verdict filter Check findings by the tag. An empty "
    "number could not be computed. A verdict marked doubtful rests on a value to confirm: see "
    "Check record."
)


class _Line(NamedTuple):
    """A register row, the codes of its bands check by check, and how many judge it so."""

    row: int
    bands: list[int]
    counts: list[int]

    @property
    def worst(self) -> str:
        judged = (word for word in SHOWN if self.counts[BANDS.index(word)])
        return next(judged, "not applicable")


class _Block(NamedTuple):
    """Columns under one heading, on one page when printed."""

    title: str
    columns: list[ListColumn]


def results_sheet(findings: Findings, display: Display, page: Page) -> SheetModel:
    """Lay out the matrix.

    Parameters
    ----------
    findings
        What was judged.
    display
        Units.
    page
        Print set-up.
    """
    register = findings.register
    identity = _Block("", list(_identity(findings)))
    blocks = [
        identity,
        *_verdicts(findings),
        _Block("Key figures", list(_figures(findings, display))),
    ]
    remarks = register.values["notes"].tolist() if register.has("notes") else []
    blocks, breaks, scale = _fitted([block for block in blocks if block.columns], remarks, page)
    columns = [column for block in blocks for column in block.columns]
    values = [column.value for column in columns]
    groups = [
        Cell("" if at else block.title, "heading")
        for block in blocks
        for at in range(len(block.columns))
    ]

    def rows(start: int, stop: int) -> Iterator[Row]:
        return ([value(line) for value in values] for line in _lines(findings, start, stop))

    return SheetModel(
        RESULTS,
        tuple(column.model for column in columns),
        (
            (Cell("Results", "title"),),
            # It stands beside the columns that every printed page repeats.
            (Cell("", "plain"), Cell("", "plain"), Cell(_ABOUT, "subtitle")),
            tuple(groups),
            headings(column.heading for column in columns),
        ),
        Body(len(findings), rows),
        repeat=2,
        freeze=(_HEAD, _REPEATED + register.has("area")),
        filtered=True,
        heights={0: 24, 2: 20},
        repeat_columns=_REPEATED,
        column_breaks=breaks,
        page=replace(page, scale=scale),
    )


def _lines(findings: Findings, start: int, stop: int) -> Iterator[_Line]:
    """Rows in pieces, so that a long register takes no more room than a short one."""
    results = findings.results.values()
    judging = np.array([not result.check.information for result in results])
    for first in range(start, stop, _PIECE):
        rows = slice(first, min(first + _PIECE, stop))
        bands = np.array([result.band[rows] for result in results]).T
        judged = bands[:, judging]
        counts = np.array([(judged == code).sum(axis=1) for code in range(len(BANDS))]).T
        yield from map(_Line, range(rows.start, rows.stop), bands.tolist(), counts.tolist())


def _pages(blocks: Sequence[_Block], page: Page) -> tuple[tuple[int, ...], int]:
    """Columns that begin a page, and the print scale; no block is parted.

    Every page repeats the first columns.
    """
    repeated = width_in_points(column.model for column in blocks[0].columns[:_REPEATED])
    breaks: list[int] = []
    widths = [0.0]
    start = 0
    for block in blocks:
        width = width_in_points(column.model for column in block.columns)
        scale = scale_that_fits(page, widths[-1] + width, in_copy=True)
        if start and scale < _LEAST_SCALE:
            breaks.append(start)
            widths.append(repeated)
        widths[-1] += width
        start += len(block.columns)
    return tuple(breaks), scale_that_fits(page, max(widths), in_copy=True)


def _fitted(
    blocks: list[_Block], remarks: list[str], page: Page
) -> tuple[list[_Block], tuple[int, ...], int]:
    """Blocks with that of the remarks, narrow rather than on a page of its own; as `_pages`.

    On a page of its own it is wide again.
    """
    if not any(remarks):
        return (blocks, *_pages(blocks, page))
    before = sum(len(block.columns) for block in blocks)
    wide = width_of(remarks, *_REMARK_WIDTHS)
    for width in (wide, _REMARK_WIDTHS[0], wide):
        column = ListColumn("Remarks in the register", width, lambda line: remarks[line.row])
        every = [*blocks, _Block("As recorded, not judged", [column])]
        breaks, scale = _pages(every, page)
        if before not in breaks:
            break
    return every, breaks, scale


def _text(column: Array, line: _Line) -> str:
    return str(column[line.row])


def _count(code: int, line: _Line) -> int:
    return line.counts[code]


def _identity(findings: Findings) -> Iterator[ListColumn]:
    values = findings.register.values
    tags = values["tag"]
    accepted = Counter(row for _, row in findings.ruling.accepted)
    checks = [result.check for result in findings.results.values()]

    def why(line: _Line) -> str:
        worst, code = line.worst, BANDS.index(line.worst)
        if worst in ("meets", "not applicable"):
            return ""
        named = [
            check.title.lower()
            for check, band in zip(checks, line.bands, strict=True)
            if band == code and not check.information
        ]
        return f"{capital(worst)}: {listed(named, _MOST_REASONS)}"

    yield ListColumn("Tag", width_of(tags, 8), lambda line: str(tags[line.row]), "tag")
    yield ListColumn("Worst verdict", 14, lambda line: Cell(line.worst, line.worst))
    for name in ("area", "load_point"):
        if findings.register.has(name):
            yield ListColumn(
                capital(name.replace("_", " ")),
                width_of(values[name], 8, 24),
                partial(_text, values[name]),
            )
    yield ListColumn("Why", 48, why)
    for word in ("falls short", "marginal", "not judged"):
        code = BANDS.index(word)
        yield ListColumn(capital(word), 7.5, partial(_count, code), "count")
    if accepted:
        yield ListColumn("Accepted", 7.5, lambda line: accepted[line.row], "count")
    yield ListColumn("Rank", 6, lambda line: int(findings.rank[line.row]), "count")


def _verdicts(findings: Findings) -> Iterator[_Block]:
    """A block a subject, a column a check; what is accepted or doubtful says so."""
    checks = [result.check for result in findings.results.values()]
    places = {check.key: at for at, check in enumerate(checks)}
    shown = [Cell(word, word) for word in BANDS]
    said = {(row, places[key]): "accepted" for key, row in findings.ruling.accepted}
    for key, rows in findings.resting.items():
        # Said of what is accepted too.
        for row in np.flatnonzero(rows).tolist():
            place = row, places[key]
            said[place] = f"{said[place]}, doubtful" if place in said else "doubtful"

    def verdict(at: int, line: _Line) -> Cell:
        cell, more = shown[line.bands[at]], said.get((line.row, at), "")
        return Cell(f"{cell.value}, {more}", cell.style) if more else cell

    for subject, some in groupby(checks, key=lambda check: check.subject):
        yield _Block(
            capital(subject),
            [
                ListColumn(
                    check.title,
                    _BAND_WIDTH,
                    partial(verdict, places[check.key]),
                    "information",
                    # The first of a subject parts its group from the one before.
                    level=int(number > 0),
                )
                for number, check in enumerate(some)
            ],
        )


def _figures(findings: Findings, display: Display) -> Iterator[ListColumn]:
    """Fields as recorded and numbers of checks that an engineer looks for first."""
    register, plant = findings.register, findings.ruling.plant

    def recorded(name: str, line: _Line) -> Cell:
        return display.recorded(name, register.value(line.row, name))

    def figure(ends: tuple[Array, Array], si: str, unit: str, line: _Line) -> Cell:
        low, high = (float(part[line.row]) for part in ends)
        number = None if math.isnan(low) else low if low == high else (low, high)
        return display.number(number, si, unit)

    for name in _FIELDS:
        if register.has(name):
            text = FIELDS[name].kind == "text"
            unit = display.unit(name) if FIELDS[name].numeric else ""
            yield ListColumn(
                ", ".join(filter(None, (capital(name.replace("_", " ")), unit))),
                width_of(register.values[name], 10, 24) if text else _FIGURE_WIDTH,
                partial(recorded, name),
            )
    for title, key, end, field in _FIGURES:
        if key not in findings.results or np.isnan(findings.results[key].ends[end][0]).all():
            continue
        check = findings.results[key].check
        unit = display.unit(field) if field else display.unit_of(check)
        said = unit.replace("currency", plant.currency) if plant and plant.currency else unit

        yield ListColumn(
            title if said == "1" else f"{title}, {said}",
            _FIGURE_WIDTH,
            partial(figure, findings.results[key].ends[end], check.unit, unit),
        )
