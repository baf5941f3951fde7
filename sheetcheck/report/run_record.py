"""The machine-readable end of the record: enough to run a check again, and to compare it.

Every line of it is a text cell that says what it is, and beside it JSON or, for the files that
were given, one line of their text. A checked workbook read back gives the same object as
``--json``, as far as a comparison and a new run need it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import orjson

from ..errors import UnusableInput
from ..findings.columns import Array
from ..findings.results import BANDS, CheckResult, Findings
from ..findings.verdict_columns import numbers_of
from .json_parts import DIGITS, columns_of, dump, marks_of, pieces, plant_of, run_of, values_of
from .model import Body, Cell, Row

__all__ = ["NOTE", "TITLE", "read_record", "record_body"]

TITLE = "To run again and to compare"
NOTE = (
    "For the program: sheetcheck check --like THIS.xlsx runs with the same column map and limits; "
    "sheetcheck compare OLD.xlsx NEW.xlsx reads these lines. Values and limits in SI."
)
_RUN, _COLUMN, _ROW = "run", "column", "row"
_MAP, _LIMITS = "column map, line", "limits file, line"
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
                yield _line(_ROW, line)

    return Body(count, rows)


def _line(kind: str, text: str) -> Row:
    # A text that looks like the file format's own escape (_x0041_) would not survive every reader.
    text = text.replace("_x", "\\u005fx") if kind in (_RUN, _COLUMN, _ROW) else text
    pieces = [text[at : at + _PIECE] for at in range(0, len(text), _PIECE)] or [""]
    return (Cell(kind, "plain"), *(Cell(piece, "clipped") for piece in pieces[:_PIECES]))


def _head(findings: Findings, version: str) -> Iterator[Row]:
    register, ruling = findings.register, findings.ruling
    run = run_of(findings, version)
    run["date"] = ruling.on.isoformat() if ruling.on else None
    run["sheet"] = register.sheet or None
    run["plant"] = plant_of(findings)
    run["limits_file"] = ruling.plant.file if ruling.plant else None
    yield _line(_RUN, dump(run))
    for kind, text in (
        (_MAP, register.column_map),
        (_LIMITS, ruling.plant.text if ruling.plant else ""),
    ):
        if text:
            yield from (_line(kind, line) for line in text.split("\n"))
    for column in columns_of(findings, unmapped=True):
        yield _line(_COLUMN, dump(column))


def _rows(
    findings: Findings, rows: Array, marks: Mapping[int, dict[str, list[str]]]
) -> Iterator[str]:
    """Rows as JSON; their numbers have their digits already."""
    register = findings.register
    checks = [_verdicts(result, rows) for result in findings.results.values()]
    values = values_of(register, rows)
    for row, recorded, *each in zip(rows.tolist(), values, *checks, strict=True):
        sheet, number = register.cells.main(row)
        yield orjson.dumps(
            {
                "tag": str(register.values["tag"][row]),
                "load_point": register.value(row, "load_point"),
                "sheet": sheet,
                "row": number,
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


def read_record(rows: Iterable[Sequence[object]], file: str) -> dict[str, Any]:
    """Read the lines back.

    Parameters
    ----------
    rows
        Cells of the sheet `Check record`, from the top.
    file
        Name of the workbook, for messages.

    Returns
    -------
    dict
        As ``--json`` writes it, verdicts with ``band``, ``found`` and ``required`` only; further
        ``date``, ``sheet``, ``column_map`` and ``limits_text``, "" or None where there was none,
        and every column, unmapped ones too.

    Raises
    ------
    UnusableInput
        Where the sheet holds no such lines, or they were edited.
    """
    texts: dict[str, list[str]] = {kind: [] for kind in (_RUN, _MAP, _LIMITS, _COLUMN, _ROW)}
    begun = False
    for cells in rows:
        kind = str(cells[0]) if cells else ""
        begun = begun or kind == TITLE
        if begun and kind in texts:
            texts[kind].append("".join(str(cell) for cell in cells[1:]))
    if not texts[_RUN]:
        raise UnusableInput(
            f"{file}, sheet Check record",
            f"holds no part headed {TITLE!r}",
            "Check the register again with this version, or give the --json file of that run.",
        )
    try:
        found: dict[str, Any] = json.loads(texts[_RUN][0])
        found["columns"] = [json.loads(text) for text in texts[_COLUMN]]
        found["rows"] = [json.loads(text) for text in texts[_ROW]]
        for row in found["rows"]:
            row["checks"] = {
                key: dict(zip(("band", "found", "required"), [*verdict, None, None], strict=False))
                for key, verdict in row["checks"].items()
            }
    except (ValueError, KeyError, TypeError, AttributeError):
        raise UnusableInput(
            f"{file}, sheet Check record",
            f"the lines under {TITLE!r} have been edited and cannot be read",
            "Check the register again, or give the --json file of that run.",
        ) from None
    found["column_map"] = "\n".join(texts[_MAP])
    found["limits_text"] = "\n".join(texts[_LIMITS])
    return found
