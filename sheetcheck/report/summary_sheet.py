"""The site on one page: bands by subject, the worst conveyors, what to measure and to do next."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from ..findings.gaps import Gap, gaps
from ..findings.quantities import Quantity, quantities
from ..findings.rank import ranking
from ..findings.results import BANDS, Findings
from ..findings.summary import accepted_counts, band_counts, by_subject
from .display import Display, capital
from .model import Body, Cell, Chart, Column, Page, Row, Series, SheetModel
from .places import RESULTS, SUMMARY, place
from .style import band_colours

__all__ = ["summary_sheet"]

_MOST = 10
_SHOWN = ("falls short", "not judged", "marginal", "meets", "not applicable")
_BAR = "#2E6E8E"
_LEFT, _GAP, _CHARTS, _RIGHT = 6, 6, 7, 9  # columns: tables, a gap, charts, the list on the right
_HEAD = 3
_CHART_ROWS = 15
_ROW_PIXELS = 20
_CHART_SIZE = (500, _CHART_ROWS * _ROW_PIXELS - 8)

_GAP_HEADINGS = ("Rows", "Verdicts", "Waiting")
_GAP_NOTE = (
    "Rows and verdicts that this input alone would decide; verdicts that wait for it at all."
)

Block = list[Row]


def summary_sheet(
    findings: Findings, display: Display, page: Page, *, results_head: int, about: str
) -> SheetModel:
    """Lay out the summary; values only, and charts over them.

    Parameters
    ----------
    findings, display, page
        As `results_sheet.results_sheet` takes them.
    results_head
        Rows above the first row of the results sheet, which tags link to.
    about
        What was checked, in one line.
    """
    found = gaps(findings)
    left: Block = []
    charts: list[Chart] = []

    def add(title: str, headings: Sequence[str], rows: Block) -> int:
        """Put a table under the last one; gives the sheet row of its first line."""
        if left:
            left.append([None] * _LEFT)
        left.append([Cell(title, "section")] + [Cell("", "section")] * (_LEFT - 1))
        left.append([Cell(name, "heading") for name in headings])
        first = _HEAD + len(left)
        left.extend([*row, *[None] * (_LEFT - len(row))] for row in rows)
        return first

    def chart(
        kind: Literal["stacked bar", "bar"], title: str, axis: str, series: list[Series]
    ) -> None:
        # A chart of one bar says no more than the table beside it.
        if series[0].rows[1] > series[0].rows[0]:
            charts.append(
                Chart(
                    kind,
                    title,
                    axis,
                    tuple(series),
                    row=_HEAD + len(charts) * _CHART_ROWS,
                    column=_CHARTS,
                    width=_CHART_SIZE[0],
                    height=_CHART_SIZE[1],
                )
            )

    subjects = _by_subject(findings)
    first = add("Verdicts by subject", ["Subject", *map(capital, _SHOWN)], subjects)
    rows = (first, first + len(by_subject(findings)) - 1)
    plant = findings.ruling.plant
    colours = band_colours(plant.colours if plant else {})
    chart(
        "stacked bar",
        "Verdicts by subject",
        "verdicts",
        [
            Series(capital(band), rows, 0, column, colours[band][0])
            for column, band in enumerate(_SHOWN, start=1)
        ],
    )

    worst = _worst(findings, results_head)
    cost = f"Cost a year, {plant.currency}" if plant and plant.currency else "Cost a year"
    first = add(
        "Worst conveyors",
        ["Tag", "Falls short", "For people", cost, "Worst margin", "Rank"],
        worst,
    )
    if worst:
        series = [Series("falls short", (first, first + len(worst) - 1), 0, 1, _BAR)]
        chart("bar", "Worst conveyors", "checks that fall short", series)

    next_ones = [gap for gap in found if gap.recorded][:_MOST]
    first = add(
        "What to measure next",
        ["Input", *_GAP_HEADINGS],
        [*map(_gap_row, next_ones), (Cell(_GAP_NOTE, "subtitle"),)],
    )
    if next_ones:
        series = [Series("verdicts", (first, first + len(next_ones) - 1), 0, 3, _BAR)]
        chart("bar", "What to measure next", "verdicts waiting", series)

    work = quantities(findings)
    add(
        "Corrective work over the site",
        ["Work", "Amount", "Unit", "Conveyors"],
        _work(work, display),
    )

    right = _not_recorded([gap for gap in found if not gap.recorded])
    right += _outside(findings)
    return _page(left, right, charts, page, about)


def _page(left: Block, right: Block, charts: list[Chart], page: Page, about: str) -> SheetModel:
    height = max(len(left), len(right), len(charts) * _CHART_ROWS)
    beside: Row = [None] * (_RIGHT - _GAP)
    rows: Block = []
    for at in range(height):
        ours = left[at] if at < len(left) else [None] * _LEFT
        rows.append((*ours, *beside, *(right[at] if at < len(right) else ())))
    columns = (
        Column(40, "plain"),
        *[Column(12, "plain")] * (_LEFT - 1),
        Column(2, "plain"),
        *[Column(37, "plain")] * 2,
        Column(30, "plain"),
        *[Column(11, "plain")] * 3,
    )
    return SheetModel(
        SUMMARY,
        columns,
        (
            (Cell("Summary", "title"),),
            (Cell(about, "subtitle"),),
            (),
        ),
        Body.of(rows),
        repeat=0,
        heights={0: 24, 1: 20},
        charts=tuple(charts),
        page=replace(page, one_page=True),
    )


def _count(value: float) -> Cell:
    return Cell(int(value), "count")


def _by_subject(findings: Findings) -> Block:
    """One row a subject, one for all, and one for what the plant accepts of these."""
    rows = [
        _bands(Cell(capital(subject), "line"), counts)
        for subject, counts in by_subject(findings).items()
    ]
    rows.append(_bands(Cell("All", "tag"), band_counts(findings)))
    accepted = accepted_counts(findings)
    if accepted:
        rows.append(_bands(Cell("Of these, accepted by the plant", "line"), accepted))
    return rows


def _bands(name: Cell, counts: Mapping[str, int]) -> Row:
    return [name, *(_count(counts.get(band, 0)) for band in _SHOWN)]


def _worst(findings: Findings, results_head: int) -> Block:
    parts = ranking(findings)
    order = np.argsort(findings.rank)[:_MOST]
    tags = findings.register.values["tag"]
    rows: Block = []
    for row in order.tolist():
        if not parts.short[row]:
            continue
        margin = float(parts.worst_margin[row])
        rows.append(
            [
                Cell(str(tags[row]), "tag link", place(RESULTS, results_head, row)),
                _count(parts.short[row]),
                _count(parts.people[row]),
                Cell(float(parts.yearly_cost[row]) or None, "count"),
                Cell(None if np.isnan(margin) else margin, "share"),
                _count(findings.rank[row]),
            ]
        )
    return rows


def _gap_row(gap: Gap) -> Row:
    return [
        Cell(capital(gap.field.replace("_", " ")), "line"),
        _count(gap.rows),
        _count(gap.verdicts),
        _count(gap.waiting),
    ]


def _work(work: list[Quantity], display: Display) -> Block:
    rows: Block = []
    for item in work:
        unit = display.unit("conveyor_length") if item.unit == "m" else item.unit
        number: float | tuple[float, float] = item.low
        if item.low != item.high:
            number = (item.low, item.high)
        cell = display.number(number, item.unit, unit)
        style = "number 1" if item.unit == "m" else "count"
        rows.append(
            [
                Cell(capital(item.what), "line"),
                cell._replace(style=style),
                Cell("" if unit == "count" else unit, "line"),
                _count(item.rows),
            ]
        )
    return rows


def _not_recorded(found: list[Gap]) -> Block:
    rows: Block = [
        [Cell("Not recorded in this register", "section")] + [Cell("", "section")] * 3,
        [
            Cell(name, "heading")
            for name in (
                "Input without a column",
                *_GAP_HEADINGS,
            )
        ],
    ]
    rows += map(_gap_row, found)
    if not found:
        rows.append([Cell("Every input that a check needs has a column.", "plain"), *[None] * 3])
    return rows


def _outside(findings: Findings) -> Block:
    """What is not judged although nothing is missing: neither list of missing inputs names it."""
    count: Counter[tuple[str, str]] = Counter()
    for result in findings.results.values():
        lacking = np.zeros(len(findings), bool)
        for name in result.check.inputs:
            lacking |= findings.columns.missing(name)
        for none, _ in result.none_of:
            lacking |= none
        whys = result.why[(result.band == BANDS.index("not judged")) & ~lacking]
        count.update((result.check.title, why) for why in whys.tolist())
    if not count:
        return []
    title = Cell("Not judged though nothing is missing", "section")
    rows: Block = [[None] * 4, [title] + [Cell("", "section")] * 3]
    rows.append([Cell("Check and reason", "heading"), Cell("Rows", "heading")])
    rows += [
        [Cell(f"{check}: {why}", "text"), _count(number)] for (check, why), number in count.items()
    ]
    return rows
