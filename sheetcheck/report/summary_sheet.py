"""The site on one page: what falls short, what to do first, what to measure, how much work."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np

from ..findings.cautions import SCREENING
from ..findings.gaps import Gap, gaps
from ..findings.quantities import Quantity, quantities
from ..findings.rank import (
    NO_WORK_BEFORE,
    Ranking,
    by_urgency,
    load_points,
    ranking,
    worst_first,
)
from ..findings.results import BANDS, Findings
from ..findings.summary import accepted_counts, band_counts, by_subject
from ..units import factor
from .display import Display, capital, listed
from .lists import headings as headings_row
from .lists import section_row
from .model import Area, Body, Cell, Chart, Column, Page, Row, Series, SheetModel
from .places import SUMMARY
from .style import SHOWN, band_colours, decimals
from .text_lines import lines_of, room_of

__all__ = ["summary_sheet"]

_MOST = 10
_MOST_NAMED = 4
_SHORT = BANDS.index("falls short")
_BAR, _BAR_TOO = "#7F2704", "#2E6E8E"

# Three panels side by side, a gap between two: what was found, what to measure, what is not known.
_COLUMNS = (
    Column(34, "plain"),
    *[Column(11, "plain")] * 5,
    Column(2, "plain"),
    Column(34, "plain"),
    *[Column(9, "plain")] * 3,
    Column(2, "plain"),
    Column(50, "plain"),
    *[Column(9, "plain")] * 3,
)
_LEFT, _MIDDLE, _RIGHT = 0, 7, 12
_WIDTHS = {_LEFT: 6, _MIDDLE: 4, _RIGHT: 4}
_LINE_HEIGHT, _CELL_PADDING, _ROW_HEIGHT = 12.0, 2.0, 14.0  # points
_POINTS_PER_PIXEL = 0.75
_A_YEAR = "/year"
# Rows of the sheet; names of inputs, whose bars are not stacked, may take two lines.
_AROUND_BARS, _LEGEND_ROWS, _BAR_ROWS = 7, 3, {"stacked bar": 1.25, "bar": 1.5}

_GAP_HEADINGS = ("Rows", "Verdicts", "Waiting")
_GAP_NOTE = (
    "Rows, verdicts: what this input alone would decide. Waiting: all verdicts that lack it."
)


def _characters(first: int, last: int) -> float:
    """Width of some columns in characters, with what stands beside each (5 pixels, 7 a digit)."""
    return sum(column.width + 5 / 7 for column in _COLUMNS[first : last + 1])


@dataclass(slots=True)
class _Panel:
    """Tables and charts, each under the last, that begin at `column` in sheet row `top`."""

    column: int
    top: int
    rows: list[Row] = field(default_factory=list)
    charts: list[Chart] = field(default_factory=list)

    @property
    def width(self) -> int:
        return _WIDTHS[self.column]

    def table(self, title: str, headings: Sequence[str], rows: Sequence[Row]) -> int:
        """Put a table; gives the sheet row of its first line."""
        if self.rows:
            self.rows.append(())
        self.rows += [section_row(title, self.width), headings_row(headings)]
        first = self.top + len(self.rows)
        self.rows += rows
        return first

    def chart(
        self,
        kind: Literal["stacked bar", "bar"],
        title: str,
        axis: str,
        series: Sequence[Series],
    ) -> None:
        """Put a chart, as wide as the panel and as high as its bars need."""
        first, last = series[0].rows
        # A chart of one bar says no more than the table beside it.
        if last == first:
            return
        self.rows.append(())
        # Title, scale and legend take so much in every program that a bar keeps its name.
        around = _AROUND_BARS + (_LEGEND_ROWS if len(series) > 1 else 0)
        height = around + math.ceil(_BAR_ROWS[kind] * (last - first + 1))
        self.charts.append(
            Chart(
                kind,
                title,
                axis,
                tuple(series),
                row=self.top + len(self.rows),
                column=self.column,
                width=int(_characters(self.column, self.column + self.width - 1) * 7),
                height=int((height * _ROW_HEIGHT - 6) / _POINTS_PER_PIXEL),
            )
        )
        self.rows += [()] * height


@dataclass(frozen=True, slots=True)
class _Worst:
    """A conveyor of the worst: its rows, and check to the rows that fall short of it.

    ``points`` names the load point of each row; empty where there is only one.
    """

    first: int
    rows: tuple[int, ...]
    short: Mapping[str, list[int]]
    points: Mapping[int, str]


def summary_sheet(findings: Findings, display: Display, page: Page, *, about: str) -> SheetModel:
    """Lay out the summary; values only, and charts over them.

    Parameters
    ----------
    findings, display, page
        As `results_sheet.results_sheet` takes them.
    about
        What was checked, in one line.
    """
    parts = ranking(findings)
    worst = _worst(findings)
    counts = _by_worst_verdict(findings)
    head: tuple[Row, ...] = (
        (Cell("Summary", "title"),),
        (Cell(about, "subtitle"),),
        (Cell(_headline(findings, parts), "headline"),),
        (Cell(_first_step(findings, worst), "strong line"),),
        (Cell(SCREENING, "subtitle"),),
        (Cell("Register rows by their worst verdict", "heading"), *(Cell(b, b) for b in SHOWN)),
        (
            Cell(f"Of {len(findings):,} in all", "heading"),
            *(Cell(counts[band], f"large {band}") for band in SHOWN),
        ),
        (),
    )
    heights: dict[int, float] = {0: 24, 1: 16, 2: 22, 3: 18, 4: 18, 5: 16, 6: 26, 7: 8}
    top = len(head)
    rows, merges = _worst_table(findings, parts, worst, top, heights)
    first_worst = top + len(rows) - len(worst)
    rows.append(())
    panels = _panels(findings, display, top + len(rows), (first_worst, len(worst)))
    for at in range(max(len(panel.rows) for panel in panels)):
        line: list[Cell | str | float | None] = [None] * len(_COLUMNS)
        for panel in panels:
            if at < len(panel.rows):
                cells = panel.rows[at]
                line[panel.column : panel.column + len(cells)] = cells
        rows.append(line)
    return SheetModel(
        SUMMARY,
        _COLUMNS,
        head,
        Body.of(rows),
        repeat=0,
        heights=heights,
        merges=tuple(merges),
        charts=tuple(chart for panel in panels for chart in panel.charts),
        page=replace(page, one_page=True),
    )


def _panels(
    findings: Findings, display: Display, top: int, worst: tuple[int, int]
) -> tuple[_Panel, _Panel, _Panel]:
    """The lower part: what was found, what to measure next, and what is not known."""
    found = gaps(findings)
    left, middle, right = (_Panel(column, top) for column in (_LEFT, _MIDDLE, _RIGHT))

    subjects = _by_subject(findings)
    first = left.table("Verdicts by subject", ["Subject", *map(capital, SHOWN)], subjects)
    span = (first, first + len(by_subject(findings)) - 1)
    plant = findings.ruling.plant
    colours = band_colours(plant.colours if plant else {})
    left.chart(
        "stacked bar",
        "Verdicts by subject",
        "verdicts",
        [
            Series(capital(band), span, 0, column, colours[band][0])
            for column, band in enumerate(SHOWN, start=1)
        ],
    )
    amounts = quantities(findings)
    # What flows all year is no work to do.
    flows = [item for item in amounts if item.unit.endswith(_A_YEAR)]
    work = [_work(item, display) for item in amounts if item not in flows]
    left.table(
        "Corrective work over the site",
        ["Work", "Amount", "Or up to", "Unit", "Conveyors"],
        work or [(Cell("None that falls short calls for.", "line"),)],
    )
    if flows:
        left.table(
            "Residue that passes the cleaners, where it can be reckoned",
            ["Over the site", "Amount", "Or up to", "Unit", "Conveyors"],
            [_flow(item, display) for item in flows],
        )

    next_ones = [gap for gap in found if gap.recorded][:_MOST]
    first = middle.table(
        "What to measure next",
        ["Input", *_GAP_HEADINGS],
        [*map(_gap_row, next_ones), (Cell(_GAP_NOTE, "subtitle"),)],
    )
    if next_ones:
        span = (first, first + len(next_ones) - 1)
        series = [Series("verdicts", span, _MIDDLE, _MIDDLE + 3, _BAR_TOO)]
        middle.chart("bar", "What to measure next", "verdicts waiting", series)
    unrecorded = [gap for gap in found if not gap.recorded]
    right.table(
        "Not recorded in this register",
        ["Input without a column", *_GAP_HEADINGS],
        [*map(_gap_row, unrecorded)]
        or [(Cell("Every input that a check needs has a column.", "line"),)],
    )
    outside = _outside(findings)
    if outside:
        right.table("Not judged though nothing is missing", ["Check and reason", "Rows"], outside)
    first, count = worst
    if count:
        span = (first, first + count - 1)
        bars = [Series("For people", span, 0, 1, _BAR), Series("Other", span, 0, 2, _BAR_TOO)]
        shorter = min(middle, right, key=lambda panel: len(panel.rows))
        shorter.chart("stacked bar", "Worst conveyors", "checks that fall short", bars)
    return left, middle, right


def _by_worst_verdict(findings: Findings) -> Counter[str]:
    """How many register rows have each band as their worst."""
    judging = [r.band for r in findings.results.values() if not r.check.information]
    left = np.ones(len(findings), bool)
    counts: Counter[str] = Counter()
    for word in SHOWN:
        has = left & np.any([band == BANDS.index(word) for band in judging], axis=0)
        counts[word] = int(has.sum())
        left &= ~has
    return counts


def _headline(findings: Findings, parts: Ranking) -> str:
    first = worst_first(findings)
    short, people = (int((part[first] > 0).sum()) for part in (parts.short, parts.people))
    if short:
        said = f"{short:,} of {len(first):,} conveyors fall short of at least one check"
        if people:
            said += f"; {people:,} of them in one that bears on people"
        unknown = _not_known_safe(findings)
        if unknown:
            said += f"; of {unknown:,} it is not known whether people can work on them safely"
        return f"{said}."
    open_ones = band_counts(findings)["not judged"]
    if open_ones:
        return f"No verdict falls short, but {open_ones:,} could not be judged: see below."
    return "No verdict falls short."


def _band_codes(findings: Findings, key: str) -> np.ndarray[Any, Any]:
    """Band codes of a check; none where it was not run."""
    return findings.results[key].band if key in findings.results else np.empty(0, np.int8)


def _not_known_safe(findings: Findings) -> int:
    """Conveyors of which isolation, guards or stop could not be judged, and none falls short."""
    bands = [_band_codes(findings, key) for key in NO_WORK_BEFORE if key in findings.results]
    if not bands:
        return 0
    unknown = np.any([band == BANDS.index("not judged") for band in bands], axis=0)
    unknown &= ~np.any([band == _SHORT for band in bands], axis=0)
    return len(set(findings.register.first_row[unknown].tolist()))


def _first_step(findings: Findings, worst: Sequence[_Worst]) -> str:
    for key in NO_WORK_BEFORE:
        short = np.flatnonzero(_band_codes(findings, key) == _SHORT)
        if len(short):
            conveyors = findings.register.first_row[short]
            first = int(conveyors[np.argmin(findings.rank[short])])
            others = len(set(conveyors.tolist())) - 1
            also = f" The same on {others:,} more." if others else ""
            tag = findings.register.values["tag"][first]
            step = _remedy(findings, _shortcomings(findings, first))
            return f"First: {tag}. {step} No work on or beside it before that.{also}"
    if not worst:
        return "First: record what is missing; see What to measure next."
    tag = findings.register.values["tag"][worst[0].first]
    return f"First: {tag}. {_remedy(findings, worst[0])}"


def _remedy(findings: Findings, worst: _Worst) -> str:
    """First thing to do, or the check's title where no remedy is known."""
    key, rows = next(iter(worst.short.items()))
    verdict = findings.verdict(key, rows[0])
    text = verdict.remedy or findings.results[key].check.title
    point = "" if findings.results[key].check.per_belt else worst.points.get(rows[0], "")
    return f"{text.removesuffix('.')} (load point {point})." if point else text


def _worst(findings: Findings) -> list[_Worst]:
    """The worst conveyors that fall short, each with what it falls short of."""
    found = [_shortcomings(findings, first) for first in worst_first(findings)[:_MOST]]
    return [worst for worst in found if worst.short]


def _shortcomings(findings: Findings, first: int) -> _Worst:
    """What the conveyor of a first register row falls short of, the most urgent first."""
    rows = np.flatnonzero(findings.register.first_row == first).tolist()
    short = {
        key: at
        for key, result in findings.results.items()
        if (at := [r for r in rows if result.band[r] == _SHORT and not findings.resting[key][r]])
    }
    ordered = {key: short[key] for key in by_urgency(short)}
    points = dict(zip(rows, load_points(findings, first), strict=False))
    return _Worst(first, tuple(rows), ordered, points)


def _worst_margin(findings: Findings, worst: _Worst) -> float:
    """Worst relative margin of what falls short; NaN where none of it is a number."""
    margins = [findings.results[key].relative_margin[at] for key, at in worst.short.items()]
    known = [float(margin) for margin in np.concatenate(margins) if not math.isnan(margin)]
    return min(known, default=math.nan)


def _what_falls_short(findings: Findings, worst: _Worst) -> str:
    """Titles of the checks, with the load points of those that are judged at each."""
    said = []
    for key, rows in worst.short.items():
        check = findings.results[key].check
        title = check.title.lower()
        if worst.points and not check.per_belt:
            title += f" ({listed([worst.points[row] for row in rows], _MOST_NAMED)})"
        said.append(title)
    return capital(listed(said, _MOST_NAMED))


def _worst_table(
    findings: Findings,
    parts: Ranking,
    worst: Sequence[_Worst],
    top: int,
    heights: dict[int, float],
) -> tuple[list[Row], list[Area]]:
    """Give the table over the whole width; its merged cells, and their rows' heights."""
    plant = findings.ruling.plant
    cost = f"Cost a year, {plant.currency}" if plant and plant.currency else "Cost a year"
    weighed = " by the plant's weights" if plant and plant.weights else ""
    names = ["Tag", "For people", "Other", cost, "Worst margin", "Not judged"]
    blank = [Cell("", "heading")] * (_RIGHT - _MIDDLE - 2)
    rows: list[Row] = [
        section_row(
            f"Worst conveyors{weighed}: how many checks fall short, and what to do first",
            len(_COLUMNS),
        ),
        (
            *headings_row(names),
            None,
            *(Cell("What falls short, for people first", "heading"), *blank),
            None,
            *(Cell("First step", "heading"), *blank),
        ),
    ]
    spans = [(column, column + _WIDTHS[column] - 1) for column in (_MIDDLE, _RIGHT)]
    merges = [Area(top + 1, first, top + 1, last) for first, last in spans]
    tags = findings.register.values["tag"]
    for one in worst:
        row = one.first
        texts = [_what_falls_short(findings, one), _remedy(findings, one)]
        at = top + len(rows)
        lines = 1
        for (first, last), text in zip(spans, texts, strict=True):
            merges.append(Area(at, first, at, last))
            lines = max(lines, lines_of(text, room_of(_characters(first, last))))
        heights[at] = lines * _LINE_HEIGHT + _CELL_PADDING
        margin = _worst_margin(findings, one)
        open_ones = sum(
            bool((result.band[list(one.rows)] == BANDS.index("not judged")).any())
            for result in findings.results.values()
        )
        rows.append(
            (
                Cell(str(tags[row]), "tag"),
                _count(parts.people[row]),
                _count(parts.short[row] - parts.people[row]),
                Cell(float(parts.yearly_cost[row]) or None, "count"),
                Cell(None if np.isnan(margin) else margin, "share"),
                _count(open_ones),
                None,
                *(Cell(texts[0], "text"), *[Cell("", "text")] * 3),
                None,
                *(Cell(texts[1], "text"), *[Cell("", "text")] * 3),
            )
        )
    if not worst:
        rows.append((Cell("None falls short.", "line"),))
    return rows, merges


def _count(value: float) -> Cell:
    return Cell(int(value), "count")


def _by_subject(findings: Findings) -> list[Row]:
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
    return [name, *(_count(counts.get(band, 0)) for band in SHOWN)]


def _gap_row(gap: Gap) -> Row:
    return [
        Cell(capital(gap.field.replace("_", " ")), "line"),
        _count(gap.rows),
        _count(gap.verdicts),
        _count(gap.waiting),
    ]


def _work(item: Quantity, display: Display) -> Row:
    unit = display.unit("conveyor_length") if item.unit == "m" else item.unit
    style = "number 1" if item.unit == "m" else "count"
    low, high = (
        display.number(number, item.unit, unit)._replace(style=style)
        for number in (item.low, item.high)
    )
    unit = "" if unit == "count" else unit
    return _amount(capital(item.what), low, high, unit, item.conveyors)


def _flow(item: Quantity, display: Display) -> Row:
    """A mass a year, in the tons of the register, to as many digits as it is known."""
    mass, rate = item.unit.removesuffix(_A_YEAR), display.unit("tonnage")
    tons = rate.removesuffix("/h") if rate.endswith("ton/h") else mass
    by = factor(f"{tons}/h", f"{mass}/h") or 1.0
    low, high = (_rounded(number / by) for number in (item.low, item.high))
    return _amount("In a year", low, high, f"{tons}{_A_YEAR}", item.conveyors)


def _rounded(value: float) -> Cell:
    """A number to two significant digits."""
    places = 1 - math.floor(math.log10(value)) if value > 0 else 0
    return Cell(round(value, places), decimals(places))


def _amount(what: str, low: Cell, high: Cell, unit: str, conveyors: int) -> Row:
    upper = high if high.value != low.value else Cell(None, high.style)
    return [Cell(what, "line"), low, upper, Cell(unit, "line"), _count(conveyors)]


def _outside(findings: Findings) -> list[Row]:
    """What is not judged although nothing is missing: neither list of missing inputs names it."""
    count: Counter[tuple[str, str]] = Counter()
    for result in findings.results.values():
        lacking = np.zeros(len(findings), bool)
        for name in result.check.inputs:
            lacking |= findings.columns.missing(name)
        for none, _ in result.none_of:
            lacking |= none
        unjudged = result.band == BANDS.index("not judged")
        whys = result.why[unjudged & (result.outside | ~lacking)]
        count.update((result.check.title, why) for why in whys.tolist())
    return [
        [Cell(f"{check}: {why}", "text"), _count(number)] for (check, why), number in count.items()
    ]
