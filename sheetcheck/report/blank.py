"""An empty register to fill in: every field, its unit, help, and cells that take what fits."""

from __future__ import annotations

from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import Literal

from ..register.fields import FIELDS, POSITIONS, Field
from ..units import factor
from .display import capital, customary_unit, listed, width_of
from .field_words import heading, offered, spelt, written_unit
from .handwriting import writing_height
from .lists import headings, title_rows
from .model import Area, Body, Cell, Column, DropDown, Number, Page, Row, SheetModel
from .paper import papers
from .skeleton import BookOptions
from .write import write_results

__all__ = ["blank_sheet", "write_blank"]

_ROWS = 500  # rows with drop-downs and ranges
_SCALE = 70  # of printed pages; the columns go over several, each with the tag
_ABOUT = (
    "One row for each conveyor, or for each of its load points. Leave empty what is not known. "
    "Point at a heading for help. The row tagged EXAMPLE is invented and is not read."
)
_RULED = 17  # of these, ruled for filling in by hand, as many as a page takes
# The same bytes every time: what the file says does not depend on the day.
_WHEN = datetime(2026, 1, 1)


def write_blank(
    path: str | Path, units: Literal["metric", "us"] = "metric", *, overwrite: bool = False
) -> None:
    """Write an empty register.

    Parameters
    ----------
    path
        File to write.
    units
        ``"metric"`` or ``"us"``: the units in its header.
    overwrite
        Whether a file that is there may be replaced.

    Raises
    ------
    OutputExists
        Where the file is there and `overwrite` is not set.
    UnusableCall
        Where it cannot be written.
    """
    sheet = blank_sheet(us=units == "us")
    options = BookOptions("Conveyor register", _WHEN)
    write_results([sheet], Path(path), options, overwrite=overwrite)


def blank_sheet(*, us: bool) -> SheetModel:
    """Lay out the empty register in metric or US units."""
    units = {name: customary_unit(name, us=us) for name in FIELDS}
    names = [heading(field, units[name], us=us) for name, field in FIELDS.items()]
    groups = [
        Cell("" if number else group, "heading over several")
        for group, fields in groupby(FIELDS.values(), key=lambda field: field.group)
        for number, _ in enumerate(fields)
    ]
    head: tuple[Row, ...] = (
        *title_rows("Register of troughed belt conveyors", _ABOUT),
        tuple(groups),
        headings(names),
    )
    example = tuple(Cell(_example(FIELDS[name], units[name], us=us), "example") for name in FIELDS)
    # As text, a tag such as 1-2 stays one and becomes no date.
    looks = ["fill in text" if field.kind == "text" else "fill in" for field in FIELDS.values()]
    ruled = tuple(Cell("", look) for look in looks)
    first = len(head) + 1
    columns = tuple(
        Column(_width(name, field), look, whole=field.kind == "text")
        for name, field, look in zip(names, FIELDS.values(), looks, strict=True)
    )
    to_write_in = range(first, first + _RULED)
    return SheetModel(
        "Conveyors",
        columns,
        head,
        Body.of([example, *[ruled] * _RULED]),
        repeat=2,
        repeat_columns=1,
        freeze=(len(head), 1),
        page=Page(paper=papers(us=us)[0], scale=_SCALE),
        heights={0: 24, 1: 20, 2: 18} | dict.fromkeys(to_write_in, writing_height(_SCALE)),
        notes={
            (len(head) - 1, at): _help(field, units[name], us=us)
            for at, (name, field) in enumerate(FIELDS.items())
        },
        drop_downs=tuple(
            drop_down
            for at, (name, field) in enumerate(FIELDS.items())
            if (
                drop_down := _drop_down(
                    field, units[name], Area(first, at, first + _ROWS - 1, at), us=us
                )
            )
        ),
    )


def _width(text: str, field: Field) -> float:
    least = 18 if field.kind == "text" else 9
    # A heading goes over two lines.
    return width_of([*text.split(" "), text[: len(text) // 2 + 4]], least, 30)


def _example(field: Field, unit: str, *, us: bool) -> str | float | None:
    if field.kind == "count" and field.example:
        return int(field.example)
    if field.kind == "number" and field.example:
        return float(f"{float(field.example) / (factor(unit, field.unit) or 1.0):.3g}")
    return spelt(field.example, us=us) or None


def _ends(field: Field, unit: str) -> tuple[float, float] | None:
    """Least and greatest number that is neither impossible nor doubtful, in `unit`."""
    spans = (field.possible, field.plausible)
    low, high = max(s.low for s in spans), min(s.high for s in spans)
    if field.usual:
        low = min(low, *field.usual)
    if low == float("-inf") and high == float("inf"):
        return None
    by = factor(unit, field.unit) or 1.0
    # A range with one end open is closed where no plant reaches.
    low, high = max(low, -1e6), min(high, 1e6)
    return float(f"{low / by:.4g}"), float(f"{high / by:.4g}")


def _drop_down(field: Field, unit: str, cells: Area, *, us: bool) -> DropDown | None:
    if words := offered(field, us=us):
        return DropDown(cells, words=words)
    ends = _ends(field, unit) if field.kind in ("number", "count") else None
    if ends is None:
        return None
    low, high = ends
    written = written_unit(field, unit, us=us)
    message = f"Usual here: {low:g} to {high:g} {written}".rstrip() + ". Keep it all the same?"
    return DropDown(cells, number=Number(low, high, message))


def _help(field: Field, unit: str, *, us: bool) -> str:
    written = written_unit(field, unit, us=us)
    lines = [f"{capital(field.meaning)}."]
    if field.kind == "yes/no":
        lines.append("yes or no")
    elif field.choices:
        lines.append(f"One of: {listed(field.choices)}.")
    elif field.kind == "lift":
        lines.append(f"A number (unit: {written}), or one of: {listed(POSITIONS)}.")
    elif field.kind == "number":
        lines.append(f"A number (unit: {written}).")
    elif field.kind == "count":
        lines.append("A whole number.")
    return spelt("\n".join(lines), us=us)
