"""Pictures of the tension across the belt in the transitions that strain it most."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from ..findings.results import BANDS, Findings
from .display import Display
from .model import Body, Cell, Chart, Column, Page, Row, Series, SheetModel
from .places import TENSION

__all__ = ["tension_sheet"]

_MOST = 20
_ENDS = {
    "transition-tension-tail": ("tail", "tail_transition_length"),
    "transition-tension-head": ("head", "head_transition_length"),
}
_CALLING = tuple(BANDS.index(band) for band in ("falls short", "marginal"))
_HEAD = 2
_SIZE = (640, 400)
_NEEDED = ("profile", "shortest_length", "profile_at_shortest_length")
_EXISTS, _WOULD_DO = "#7F2704", "#2E6E8E"


def tension_sheet(findings: Findings, display: Display, page: Page) -> SheetModel | None:
    """Lay out the pictures, at most 20, the greatest peak first; None where none is called for."""
    rows: list[Row] = []
    charts: list[Chart] = []
    for key, row in _worst(findings):
        numbers = findings.numbers(key, row)
        if all(numbers.get(name) for name in _NEEDED):
            charts.append(_picture(findings, display, key, row, numbers, rows))
    if not charts:
        return None
    return SheetModel(
        TENSION,
        (*[Column(18, "number 1")] * 3, Column(3, "plain"), *[Column(14, "plain")] * 6),
        (
            (Cell("Tension across the belt", "title"),),
            (
                Cell(
                    "Computed along straight fibres from the pulley to the trough, edge to edge, "
                    f"at most {_MOST} transitions, the greatest peak first.",
                    "subtitle",
                ),
            ),
        ),
        Body.of(rows),
        repeat=0,
        heights={0: 24, 1: 20},
        charts=tuple(charts),
        page=page,
    )


def _worst(findings: Findings) -> list[tuple[str, int]]:
    found: list[tuple[float, str, int]] = []
    for key in _ENDS:
        result = findings.results.get(key)
        if result is not None:
            peaks = result.ends["found"][1]
            rows = np.flatnonzero(np.isin(result.band, _CALLING) & np.isfinite(peaks))
            found += [(-float(peaks[row]), key, row) for row in rows.tolist()]
    return [(key, row) for _, key, row in sorted(found)[:_MOST]]


def _picture(
    findings: Findings,
    display: Display,
    key: str,
    row: int,
    numbers: Mapping[str, Any],
    rows: list[Row],
) -> Chart:
    """Put one block of numbers under the others; gives the chart beside it."""
    end, field = _ENDS[key]
    unit, width = display.unit(field), display.unit("belt_width")
    tension = display.unit("belt_rated_tension")
    exists = float(findings.columns.get(field)[row])
    names = [
        f"at {display.words(length, 'm', unit)}, {what}"
        for length, what in (
            (exists, "as recorded"),
            (numbers["shortest_length"], "the shortest that would do"),
        )
    ]
    title = f"{findings.register.values['tag'][row]}, {end}"
    if rows:
        rows.append(())
    top = _HEAD + len(rows)
    rows.append((Cell(title, "section"), *[Cell("", "section")] * 2))
    headings = (f"From the centreline, {width}", *(f"{tension} {name}" for name in names))
    rows.append(tuple(Cell(name, "heading") for name in headings))
    first = _HEAD + len(rows)
    profiles = numbers["profile"], numbers["profile_at_shortest_length"]
    half = float(findings.columns.get("belt_width")[row]) / 2
    places = np.linspace(-half, half, len(profiles[0])).tolist()
    for place, *pair in zip(places, *profiles, strict=True):
        rows.append(
            (
                display.number(place, "m", width),
                *(display.number(value, "kN/m", tension) for value in pair),
            )
        )
    span = (first, _HEAD + len(rows) - 1)
    return Chart(
        "line",
        f"{title}: tension across the belt",
        f"from the centreline, {width}",
        (
            Series(names[0], span, 0, 1, _EXISTS),
            Series(names[1], span, 0, 2, _WOULD_DO, "dash"),
        ),
        row=top,
        column=4,
        width=_SIZE[0],
        height=_SIZE[1],
        down_axis=f"tension, {tension}",
    )
