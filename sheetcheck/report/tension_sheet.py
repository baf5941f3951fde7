"""Pictures of the tension across the belt in the transitions that strain it most."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from ..findings.results import BANDS, Findings
from .display import Display, capital
from .lists import headings as headings_row
from .lists import section_row, title_rows
from .model import Body, Cell, Chart, Column, Page, Row, Series, SheetModel
from .paper import scale_that_fits, width_in_points
from .places import TENSION

__all__ = ["tension_sheet"]

_MOST = 20
_ENDS = {
    "transition-tension-tail": ("tail", "tail_transition_length"),
    "transition-tension-head": ("head", "head_transition_length"),
}
_CALLING = tuple(BANDS.index(band) for band in ("falls short", "marginal"))
_COLUMNS = (
    *[Column(18, "number 1")] * 3,
    Column(3, "plain"),
    Column(34, "plain"),
    *[Column(13, "plain")] * 4,
)
_ABOUT = (
    "Computed along straight fibres from the pulley to the trough, edge to edge. At most "
    f"{_MOST} transitions: those that fall short, then the marginal ones, the greatest peak first."
)
_FACTS = 4  # column at which chart and facts begin
_CHART_SIZE = (620, 408)
_CHART_ROWS = 24
_TITLE_HEIGHTS = {0: 24.0, 1: 20.0}
_POINT_HEIGHT, _SECTION_HEIGHT, _HEADING_HEIGHT = 12.0, 18.0, 40.0
_PROFILES = ("#7F2704", ""), ("#2E6E8E", "dash")  # as it is, and as would do
_RATED, _LIMIT = "#595959", "#000000"
_SLACK = ("#000000", "long_dash_dot_dot")
# A least tension below this share of the rated one is shown against the line of no tension.
_NEAR_SLACK = 0.25


def tension_sheet(findings: Findings, display: Display, page: Page) -> SheetModel | None:
    """Lay out the pictures, at most 20, a page each; None where none is called for."""
    pictures = [
        _Picture(findings, display, key, row, numbers)
        for key, row in _worst(findings)
        if (numbers := findings.numbers(key, row)).get("profile")
    ]
    if not pictures:
        return None
    rows: list[Row] = []
    charts: list[Chart] = []
    breaks: list[int] = []
    heights = dict(_TITLE_HEIGHTS)
    for picture in pictures:
        top = len(_TITLE_HEIGHTS) + len(rows)
        if rows:
            breaks.append(top)
        block, chart = picture.block(top)
        rows += block
        charts.append(chart)
        heights |= dict.fromkeys(range(top, top + len(block)), _POINT_HEIGHT)
        heights |= {top: _SECTION_HEIGHT, top + 1: _HEADING_HEIGHT}
    last = breaks[0] if breaks else len(heights)
    first_page = sum(height for row, height in heights.items() if row < last)
    scale = scale_that_fits(page, width_in_points(_COLUMNS), first_page, in_copy=True)
    return SheetModel(
        TENSION,
        _COLUMNS,
        title_rows("Tension across the belt", _ABOUT),
        Body.of(rows),
        repeat=0,
        heights=heights,
        charts=tuple(charts),
        row_breaks=tuple(breaks),
        page=replace(page, scale=scale),
    )


def _worst(findings: Findings) -> list[tuple[str, int]]:
    found: list[tuple[bool, float, str, int]] = []
    for key in _ENDS:
        result = findings.results.get(key)
        if result is not None:
            peaks = result.ends["found"][1]
            short = result.band == BANDS.index("falls short")
            rows = np.flatnonzero(np.isin(result.band, _CALLING) & np.isfinite(peaks))
            found += [(not short[row], -float(peaks[row]), key, row) for row in rows.tolist()]
    return [(key, row) for _, _, key, row in sorted(found)[:_MOST]]


class _Line(NamedTuple):
    """A tension that holds from edge to edge: how a table and a chart name it, and its look."""

    heading: str
    name: str
    tension: float
    colour: str
    pattern: str


@dataclass(frozen=True, slots=True)
class _Picture:
    """One transition: its points, its chart, and beside them what the chart shows in words."""

    findings: Findings
    display: Display
    key: str
    row: int
    numbers: Mapping[str, Any]

    def block(self, top: int) -> tuple[list[Row], Chart]:
        """Give the rows, and the chart, of the block whose first row is `top`."""
        findings, display = self.findings, self.display
        end, field = _ENDS[self.key]
        width = display.unit("belt_width")
        title = f"{findings.register.values['tag'][self.row]}, {end}"
        half = float(findings.columns.get("belt_width")[self.row]) / 2
        names, profiles = self._profiles(field)
        headings = [f"From the centreline, {width}", *(f"{self._unit} {name}" for name in names)]
        style = display.number(half, "m", width).style
        points = [
            [display.number(place, "m", width)._replace(style=style), *map(self._tension, values)]
            for place, *values in zip(
                np.linspace(-half, half, len(profiles[0])).tolist(), *profiles, strict=True
            )
        ]
        lines = self._lines()
        limits = [
            headings_row((headings[0], *(line.heading for line in lines))),
            *(
                [display.number(at, "m", width), *(self._tension(x.tension) for x in lines)]
                for at in (-half, half)
            ),
        ]
        beside = [*[[]] * (_CHART_ROWS - 1), *self._facts(), [], *limits]
        # Cells of the gap between, and of a profile that is not drawn, have no frame.
        gap = [Cell(None, "plain")] * (_FACTS - 1 - len(names))
        rows: list[Row] = [section_row(title, len(_COLUMNS)), headings_row(headings)]
        rows += [
            (*point, *gap, *(beside[at] if at < len(beside) else ()))
            for at, point in enumerate(points)
        ]
        first, drawn = top + 2, top + len(beside)
        series = [
            Series(capital(name), (first, first + len(points) - 1), 0, at, *look, 2.25)
            for at, (name, look) in enumerate(zip(names, _PROFILES, strict=False), start=1)
        ]
        series += [
            Series(line.name, (drawn, drawn + 1), _FACTS, at, line.colour, line.pattern, 1.25)
            for at, line in enumerate(lines, start=_FACTS + 1)
        ]
        chart = Chart(
            "line",
            f"{title}: tension across the belt",
            f"from the centreline, {width}",
            tuple(series),
            top + 1,
            _FACTS,
            *_CHART_SIZE,
            down_axis=f"tension, {self._unit}",
        )
        return rows, chart

    @property
    def _unit(self) -> str:
        return self.display.unit("belt_rated_tension")

    @property
    def _rated(self) -> float:
        peak, found = self.numbers["peak_tension"], self.findings.results[self.key].ends["found"]
        return float(np.max(peak) / found[1][self.row])

    def _tension(self, value: float) -> Cell:
        return self.display.number(value, "kN/m", self._unit)

    def _length(self, value: float) -> str:
        return self.display.words(value, "m", self.display.unit(_ENDS[self.key][1]))

    def _profiles(self, field: str) -> tuple[list[str], list[Any]]:
        exists = float(self.findings.columns.get(field)[self.row])
        names, profiles = [f"at {self._length(exists)}, as recorded"], [self.numbers["profile"]]
        shortest = self.numbers.get("shortest_length")
        if shortest and self.numbers.get("profile_at_shortest_length"):
            names.append(f"at {self._length(shortest)}, the shortest that would do")
            profiles.append(self.numbers["profile_at_shortest_length"])
        return names, profiles

    def _lines(self) -> list[_Line]:
        """Lines that the profile is held against."""
        peak = self.findings.results[self.key].limits["peak"]
        times = f"{peak:g} × rated"
        lines = [
            _Line("Rated", "Rated tension", self._rated, _RATED, "round_dot"),
            _Line(times, f"Limit, {times}", peak * self._rated, _LIMIT, "long_dash"),
        ]
        if min(self.numbers["profile"]) < _NEAR_SLACK * self._rated:
            lines.append(_Line("None", "No tension: the belt buckles", 0.0, *_SLACK))
        return lines

    def _facts(self) -> list[list[Cell]]:
        verdict = self.findings.verdict(self.key, self.row)
        remedies = verdict.remedy, *verdict.alternatives
        tensions = {
            "Peak tension, as recorded": np.max(self.numbers["peak_tension"]),
            "Least tension": np.min(self.numbers["least_tension"]),
        }
        facts = [("What to do" if not at else "", text) for at, text in enumerate(remedies)]
        facts += [
            (
                name,
                f"{self.display.words(float(value), 'kN/m', self._unit)}, "
                f"{value / self._rated:.0%} of rated",
            )
            for name, value in tensions.items()
        ]
        return [
            [Cell("Verdict", "name"), Cell(verdict.band, verdict.band)],
            *(
                [Cell(name, "name"), Cell(text, "plain")]
                for name, text in (("Why", capital(verdict.why)), *facts)
            ),
        ]
