"""The machine-readable end of the record: enough to run a check again, and to compare it.

Every line of it is a text cell that says what it is, and beside it JSON or, for the files that
were given, one line of their text. `result_form` reads it back.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import orjson

from ..findings.columns import Array
from ..findings.results import BANDS, CheckResult, Findings
from ..findings.verdict_columns import numbers_of
from .json_parts import (
    DIGITS,
    columns_of,
    dump,
    marks_of,
    pieces,
    place_of,
    plant_of,
    run_of,
    values_of,
)
from .model import Body, Cell, Row

__all__ = ["COLUMN", "LIMITS", "MAP", "NOTE", "ROW", "RUN", "TITLE", "record_body"]

TITLE = "To run again and to compare"
NOTE = (
    "For the program: sheetcheck check --like THIS.xlsx runs with the same column map and limits; "
    "sheetcheck compare OLD.xlsx NEW.xlsx reads these lines. Values and limits in SI."
)
RUN, COLUMN, ROW = "run", "column", "row"
MAP, LIMITS = "column map, line", "limits file, line"
"""What begins each line."""
_PIECE = 15_000  # characters a cell, of the 32,767 UTF-16 units that it holds
_LONGEST_TEXT = 1_000
_PIECES = 7


def record_body(findings: Findings, version: str, before: Sequence[Row]) -> Body:
    """Make the record's rows: those at hand, then these lines, made when asked for."""
    head = [*before, *_head(findings, version)]
    count = len(head) + len(findings)
    marks = marks_of(findings)

    def rows(start: int, stop: int) -> Iterator[Row]:
        yield from head[start:stop]
        for part in pieces(max(start - len(head), 0), max(stop - len(head), 0)):
            for line in _rows(findings, part, marks):
                yield _line(ROW, line)

    return Body(count, rows)


def _line(kind: str, text: str) -> Row:
    # A text that looks like the file format's own escape (_x0041_) would not survive every reader.
    text = text.replace("_x", "\\u005fx") if kind in (RUN, COLUMN, ROW) else text
    pieces = [text[at : at + _PIECE] for at in range(0, len(text), _PIECE)] or [""]
    return (Cell(kind, "plain"), *(Cell(piece, "clipped") for piece in pieces[:_PIECES]))


def _head(findings: Findings, version: str) -> Iterator[Row]:
    register, ruling = findings.register, findings.ruling
    run = run_of(findings, version)
    run["date"] = ruling.on.isoformat() if ruling.on else None
    run["sheet"] = register.sheet or None
    run["plant"] = plant_of(findings)
    run["limits_file"] = ruling.plant.file if ruling.plant else None
    yield _line(RUN, dump(run))
    for kind, text in (
        (MAP, register.column_map),
        (LIMITS, ruling.plant.text if ruling.plant else ""),
    ):
        if text:
            yield from (_line(kind, line) for line in text.split("\n"))
    for column in columns_of(findings, unmapped=True):
        yield _line(COLUMN, dump(column))


def _rows(
    findings: Findings, rows: Array, marks: Mapping[int, dict[str, list[str]]]
) -> Iterator[str]:
    """Rows as JSON; their numbers have their digits already."""
    register = findings.register
    checks = [_verdicts(result, rows) for result in findings.results.values()]
    values = values_of(register, rows)
    for row, recorded, *each in zip(rows.tolist(), values, *checks, strict=True):
        yield orjson.dumps(
            {
                **place_of(register, row),
                "values": {
                    name: item[:_LONGEST_TEXT] if isinstance(item, str) else item
                    for name, item in recorded.items()
                },
                **marks[row],
                "checks": dict(zip(findings.results, each, strict=True)),
            }
        ).decode()


def _verdicts(result: CheckResult, rows: Array) -> list[tuple[Any, ...]]:
    """Band, found and required of each row; what is unknown at the end is left out."""
    found, required = (
        numbers_of(low[rows], high[rows], DIGITS)
        for low, high in (result.ends[name] for name in ("found", "required"))
    )
    lines: list[tuple[Any, ...]] = []
    for code, *numbers in zip(result.band[rows].tolist(), found, required, strict=True):
        while numbers and numbers[-1] is None:
            numbers.pop()
        lines.append((BANDS[code], *numbers))
    return lines
