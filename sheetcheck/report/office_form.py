"""The part of the survey that is filled in at a desk: a row for each conveyor, a column each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime

import numpy as np

from ..findings.gaps import Lack
from ..findings.results import Findings
from ..register.fields import FIELDS, POSITIONS, Field
from .display import Display, capital, listed, width_of
from .field_words import OFFICE, heading, label, offered, spelt
from .handwriting import writing_height
from .model import Area, Body, Cell, Column, DropDown, Page, Row, SheetModel
from .paper import papers, scale_that_fits, width_in_points

__all__ = ["office_form"]

_NAME = "Office data"
_SUBTITLE = (
    "From drawings, the belt maker's data sheet and records: nobody can measure this at the belt. "
    "A dash means that it is known or not needed."
)
_NOT_ASKED = Cell("–", "not applicable")
_LEAST_SCALE = 60  # a table wider than that goes over several pages
_SIGNED = ("Taken from", "Filled in by, when")


def office_form(
    findings: Findings, lacking: Mapping[str, Lack], when: datetime
) -> SheetModel | None:
    """Lay out the table; None where nothing is asked of the office.

    Parameters
    ----------
    findings, lacking
        The register, judged, and what it lacks.
    when
        Moment of the run.
    """
    register, display = findings.register, Display(findings.register)
    asked = {name: lack for name, lack in lacking.items() if FIELDS[name].place == OFFICE}
    if not asked:
        return None
    names = sorted(asked, key=lambda n: (-asked[n].alone.sum(), -asked[n].lacking.sum()))
    rows = np.flatnonzero(np.any([lack.lacking for lack in asked.values()], axis=0)).tolist()
    points = any(register.value(row, "load_point") for row in rows)
    identity = ["tag", *["load_point"] * points]
    asking = [heading(FIELDS[name], display.unit(name), us=display.us) for name in names]
    headings = [*(FIELDS[name].name for name in identity), *asking, *_SIGNED]
    widths = [
        *(width_of(register.values[name], 8, 24) for name in identity),
        *(_width(text, FIELDS[name]) for text, name in zip(asking, names, strict=True)),
        *[13.0] * len(_SIGNED),
    ]
    head: list[Row] = [
        (Cell("Office data", "title"),),
        (Cell(_SUBTITLE, "subtitle"),),
        *_sources(names, asked, us=display.us),
        (),
        tuple(Cell(text, "heading") for text in headings),
    ]
    first, last = len(head), len(head) + len(rows) - 1

    def body(start: int, stop: int) -> Iterator[Row]:
        for row in rows[start:stop]:
            yield (
                *(Cell(register.value(row, name), "tag") for name in identity),  # type: ignore[arg-type]
                *(Cell("", "fill in") if asked[n].lacking[row] else _NOT_ASKED for n in names),
                *[Cell("", "fill in")] * len(_SIGNED),
            )

    drop_downs = (
        DropDown(Area(first, at, last, at), words)
        for at, name in enumerate(names, start=len(identity))
        if (words := offered(FIELDS[name], us=display.us))
    )
    columns = tuple(Column(width) for width in widths)
    paper, _ = papers(us=display.us)
    page = Page(register.source.file, f"{when.day} {when:%B %Y}", paper)
    scale = max(scale_that_fits(page, width_in_points(columns)), _LEAST_SCALE)
    return SheetModel(
        _NAME,
        columns,
        tuple(head),
        Body(len(rows), body),
        freeze=(len(head), len(identity)),
        repeat_columns=len(identity),
        heights={0: 24, 1: 20} | dict.fromkeys(range(first, last + 1), writing_height(scale)),
        drop_downs=tuple(drop_downs),
        page=replace(page, scale=scale),
    )


def _width(text: str, field: Field) -> float:
    # A heading is wrapped at its words; the longest answer fits its box.
    answers = (*field.choices, *(POSITIONS if field.kind == "lift" else ()))
    return width_of([*text.split(" "), *answers], 9, 20)


def _sources(names: list[str], asked: Mapping[str, Lack], *, us: bool) -> Iterator[Row]:
    """For each column, where its figures stand, its words, and how many verdicts they decide."""
    for name in names:
        field, lack = FIELDS[name], asked[name]
        alone, others = int(lack.alone.sum()), int((lack.lacking - lack.alone).sum())
        text = f"{label(name, us=us)}: {spelt(FIELDS[name].how, us=us)}"
        if field.choices:
            text += f" ({listed(field.choices)})"
        decided = [f"decides {_verdicts(alone)} alone"] * bool(alone)
        decided += [f"{_verdicts(others)} with other figures"] * bool(others)
        yield (Cell(f"{text}. {capital(', '.join(decided))}.", "plain"),)


def _verdicts(count: int) -> str:
    return f"{count:,} verdict" + ("s" if count > 1 else "")
