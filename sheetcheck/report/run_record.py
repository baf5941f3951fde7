"""The machine-readable end of the record: enough to run a check again, and to compare it.

Every line of it is a text cell that says what it is, and beside it JSON or, for the files that
were given, one line of their text. A checked workbook read back gives the same object as
``--json``, as far as a comparison and a new run need it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from ..errors import UnusableInput
from ..findings.results import BANDS, Findings
from .json_parts import columns_of, derived_of, dump, pieces, plant_of, run_of, values_of
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
    derived = derived_of(findings)

    def rows(start: int, stop: int) -> Iterator[Row]:
        yield from head[start:stop]
        for part in pieces(max(start - len(head), 0), max(stop - len(head), 0)):
            values = values_of(findings.register, part)
            for row, recorded in zip(part.tolist(), values, strict=True):
                line = _row(findings, row, recorded, derived.get(row, []))
                yield _line(_ROW, dump(line))

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


def _row(
    findings: Findings, row: int, values: dict[str, Any], derived: list[str]
) -> dict[str, Any]:
    register = findings.register
    sheet, number = register.cells.main(row)
    checks = {}
    for key, result in findings.results.items():
        verdict: list[Any] = [BANDS[result.band[row]]]
        for name in ("found", "required"):
            low, high = (float(end[row]) for end in result.ends[name])
            verdict.append(None if low != low or high != high else [low, high])
        checks[key] = [
            item[0] if isinstance(item, list) and item[0] == item[1] else item for item in verdict
        ]
        while checks[key][-1] is None:
            checks[key].pop()
    return {
        "tag": str(register.values["tag"][row]),
        "load_point": register.value(row, "load_point"),
        "sheet": sheet,
        "row": number,
        "values": {
            name: item[:_LONGEST_TEXT] if isinstance(item, str) else item
            for name, item in values.items()
        },
        "derived": derived,
        "checks": checks,
    }


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
