"""The part of the survey that is filled in at a desk: a row for each conveyor, a column each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime

import numpy as np

from ..findings.gaps import Lack
from ..findings.results import Findings
from ..register.fields import FIELDS, POSITIONS
from ..register.register import Register
from .display import Display, capital, listed, width_of
from .field_words import OFFICE, heading, label, offered, spelt
from .handwriting import writing_height
from .lists import ListColumn, headings, title_rows
from .model import Area, Body, Cell, DropDown, Page, Row, SheetModel
from .paper import papers, scale_that_fits, width_in_points

__all__ = ["office_form"]

_NAME = "Office data"
_SUBTITLE = (
    "From drawings, the belt maker's data sheet and records: nobody can measure this at the belt. "
    "A dash means that it is known or not needed."
)
_NOT_ASKED = Cell("–", "not applicable")
_TO_FILL_IN = Cell("", "fill in")
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
    columns = [
        *(_told(register, name) for name in identity),
        *(_asked(name, asked[name], display) for name in names),
        *(ListColumn(text, 13, lambda row: _TO_FILL_IN) for text in _SIGNED),
    ]
    head: list[Row] = [
        *title_rows(_NAME, _SUBTITLE),
        *_sources(names, asked, us=display.us),
        (),
        headings(column.heading for column in columns),
    ]
    first, last = len(head), len(head) + len(rows) - 1

    def body(start: int, stop: int) -> Iterator[Row]:
        return ([column.value(row) for column in columns] for row in rows[start:stop])

    drop_downs = (
        DropDown(Area(first, at, last, at), words)
        for at, name in enumerate(names, start=len(identity))
        if (words := offered(FIELDS[name], us=display.us))
    )
    models = tuple(column.model for column in columns)
    paper, _ = papers(us=display.us)
    page = Page(register.source.file, f"{when.day} {when:%B %Y}", paper)
    scale = max(scale_that_fits(page, width_in_points(models)), _LEAST_SCALE)
    return SheetModel(
        _NAME,
        models,
        tuple(head),
        Body(len(rows), body),
        freeze=(len(head), len(identity)),
        repeat_columns=len(identity),
        heights={0: 24, 1: 20} | dict.fromkeys(range(first, last + 1), writing_height(scale)),
        drop_downs=tuple(drop_downs),
        page=replace(page, scale=scale),
    )


def _told(register: Register, name: str) -> ListColumn:
    width = width_of(register.values[name], 8, 24)
    return ListColumn(FIELDS[name].name, width, lambda row: Cell(register.value(row, name), "tag"))  # type: ignore[arg-type]


def _asked(name: str, lack: Lack, display: Display) -> ListColumn:
    field, text = FIELDS[name], heading(FIELDS[name], display.unit(name), us=display.us)
    # A heading is wrapped at its words; the longest answer fits its box.
    answers = (*field.choices, *(POSITIONS if field.kind == "lift" else ()))
    width = width_of([*text.split(" "), *answers], 9, 20)
    return ListColumn(text, width, lambda row: _TO_FILL_IN if lack.lacking[row] else _NOT_ASKED)


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
