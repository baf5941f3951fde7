"""A form for a walk-down: for each conveyor, only what its register lacks to be judged."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import numpy as np

from ..findings.results import BANDS, Findings
from ..register.fields import FIELDS, POSITIONS
from .display import Display, capital, listed, width_of
from .model import Body, Cell, Column, Page, Row, SheetModel, continued
from .skeleton import BookOptions
from .write import write_results

__all__ = ["survey_sheet", "write_survey"]

_NOT_JUDGED = BANDS.index("not judged")
_HEADINGS = (
    ("Tag", 0),
    ("Load point", 11),
    ("To find out", 24),
    ("What it is", 44),
    ("Unit or words", 28),
    ("Found", 22),
    ("Checks that wait for it", 36),
)
_MOST_CHECKS = 4


def write_survey(
    findings: Findings, path: str | Path, *, overwrite: bool = False, when: datetime | None = None
) -> None:
    """Write the form for one register.

    Parameters
    ----------
    findings
        The register, judged; what no verdict waits for is not asked.
    path
        File to write.
    overwrite
        Whether a file that is there may be replaced.
    when
        Moment of the run; now, where not given.

    Raises
    ------
    OutputExists
        Where the file is there and `overwrite` is not set.
    UnusableCall
        Where it cannot be written.
    """
    when = when or datetime.now()
    options = BookOptions(f"Survey for {findings.register.source.file}", when)
    write_results(
        continued(survey_sheet(findings, when)), Path(path), options, overwrite=overwrite
    )


def survey_sheet(findings: Findings, when: datetime) -> SheetModel:
    """Lay out the form: a line for each conveyor and input, in the order of the register."""
    register = findings.register
    display = Display(register)
    waiting = _waiting(findings)
    lines = [
        (row, field) for row, fields in enumerate(waiting) for field in FIELDS if field in fields
    ]

    def rows(start: int, stop: int) -> Iterator[Row]:
        for row, field in lines[start:stop]:
            point = register.value(row, "load_point")
            yield (
                Cell(str(register.values["tag"][row]), "tag"),
                point if isinstance(point, str) else "",
                Cell(capital(field.replace("_", " ")), "name"),
                capital(FIELDS[field].meaning),
                _answer(field, display),
                Cell("", "fill in"),
                listed(waiting[row][field], _MOST_CHECKS),
            )

    widths = {"Tag": width_of(register.values["tag"], 10)}
    conveyors = len({row for row, _ in lines})
    return SheetModel(
        "Survey",
        tuple(Column(widths.get(name, width)) for name, width in _HEADINGS),
        (
            (Cell("Survey form", "title"),),
            (
                Cell(
                    f"{register.source.file}: {len(lines):,} things to find out on {conveyors:,} "
                    "of its rows. Keep out of reach of a running belt; isolate, lock and try "
                    "before anything is opened.",
                    "subtitle",
                ),
            ),
            tuple(Cell(name, "heading") for name, _ in _HEADINGS),
        ),
        Body(len(lines), rows),
        freeze=(3, 1),
        filtered=True,
        heights={0: 24, 1: 20},
        page=Page(register.source.file, f"{when.day} {when:%B %Y}"),
    )


def _waiting(findings: Findings) -> list[dict[str, list[str]]]:
    """For each row, the inputs that it lacks and the checks that are not judged without them."""
    found: list[dict[str, list[str]]] = [{} for _ in range(len(findings))]
    for key, result in findings.results.items():
        for row in np.flatnonzero(result.band == _NOT_JUDGED).tolist():
            for field in findings.missing_inputs(key, row):
                found[row].setdefault(field, []).append(result.check.title)
    return found


def _answer(field: str, display: Display) -> str:
    spec = FIELDS[field]
    if spec.kind == "yes/no":
        return "yes or no"
    if spec.choices:
        return listed(spec.choices)
    if spec.kind == "lift":
        return f"{display.unit(field)}, or {listed(POSITIONS)}"
    return "number" if spec.kind == "count" else display.unit(field)
