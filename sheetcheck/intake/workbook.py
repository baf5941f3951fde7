"""Opening a source: the only place that does. Gives its sheets as grids."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..errors import UnusableInput
from ..files import content_of
from .delimited import read_delimited
from .facts import SheetFacts
from .grid import Area, Fault, Grid, Shown
from .isolate import read_apart
from .limits import Allowance

__all__ = ["SUFFIXES", "Book", "open_book", "sheets_of"]

SUFFIXES = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods", ".csv")
"""File endings that are read."""

_OLE2 = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")


@dataclass(frozen=True, slots=True)
class Book:
    """An opened source.

    Attributes
    ----------
    path, file, sha256
        Path as given, its last part, and the hash of its content.
    sheets
        Names of all sheets.
    grids
        Worksheets that hold anything, result sheets of an earlier run left out.
    """

    path: str
    file: str
    sha256: str
    sheets: tuple[str, ...]
    grids: tuple[Grid, ...]


def open_book(path: str | Path, allowance: Allowance | None = None) -> Book:
    """Open a workbook or delimited text and read every sheet.

    Parameters
    ----------
    path
        File to read; it is opened for reading only, once.
    allowance
        What it may ask for; the usual, where None.

    Raises
    ------
    UnusableInput
        Where the file is missing, locked, empty, password-protected, too much or no workbook.
    """
    path, allowance = Path(path), allowance or Allowance()
    if path.name.startswith("~$"):
        raise UnusableInput(
            path.name, "only says that its workbook is open somewhere", "Give the workbook itself."
        )
    content = _content_of(path, allowance)
    digest = hashlib.sha256(content).hexdigest()
    if content.startswith(_OLE2) and _ENCRYPTED in content:
        raise UnusableInput(
            path.name, "is password-protected", "Save a copy without the password and check that."
        )
    if content.startswith((b"PK\x03\x04", _OLE2)):
        sheets, grids = _read_workbook(content, path.name, allowance)
    elif path.suffix.lower() in (".csv", ".tsv", ".txt"):
        rows, lengths = read_delimited(content, path.name, allowance)
        sheets = (_as_text(path.stem),)
        grids = [Grid(sheets[0], rows, lengths=lengths)]
    else:
        raise UnusableInput(
            path.name, "is not a workbook", f"Give one of {', '.join(SUFFIXES)}, saved as such."
        )
    grids = [grid for grid in grids if grid.rows]
    if not grids:
        raise UnusableInput(path.name, "holds no cells", "Give a workbook with a conveyor table.")
    return Book(str(path), _as_text(path.name), digest, sheets, tuple(grids))


def _as_text(name: str) -> str:
    """A file's name, which need not be text to the system; to the report it must be."""
    return os.fsencode(name).decode("utf-8", "replace")


def _content_of(path: Path, allowance: Allowance) -> bytes:
    smaller = "Give a workbook with the register only, or allow more with --room."
    content = content_of(path, "a workbook", allowance.unpacked, UnusableInput, smaller)
    if not content:
        raise UnusableInput(path.name, "is empty (0 bytes)", "Give the workbook itself.")
    return content


def sheets_of(path: Path, only: str) -> list[Grid]:
    """Read those sheets of a workbook whose names match the pattern `only`; values alone."""
    allowance = Allowance()
    return _read_workbook(_content_of(path, allowance), path.name, allowance, only)[1]


def _read_workbook(
    content: bytes, file: str, allowance: Allowance, only: str | None = None
) -> tuple[tuple[str, ...], list[Grid]]:
    names: tuple[str, ...] = ()
    read: list[tuple[Grid, Mapping[str, Any] | None]] = []
    for kind, *rest in read_apart(content, file, allowance, only):
        if kind == "names":
            names = rest[0]
        elif kind == "sheet":
            name, hidden, merged, facts = rest
            read.append((Grid(name, [], [Area(*area) for area in merged], hidden=hidden), facts))
        else:
            blank, rows = rest
            grid = read[-1][0]
            grid.rows += [[""] * len(rows[0]) for _ in range(blank)]
            grid.rows += rows
    for grid, facts in read:
        if facts is not None:
            _apply(SheetFacts(**facts), grid)
    return names, [grid for grid, _ in read]


def _apply(facts: SheetFacts, grid: Grid) -> None:
    """Put what the scan found into the grid's cells."""
    rows, width = grid.rows, grid.width

    def inside(cell: tuple[int, int]) -> bool:
        return cell[0] < len(rows) and cell[1] < width

    for row, column in filter(inside, facts.errors):
        text = facts.errors[row, column]
        rows[row][column] = Fault(
            text, f"holds the spreadsheet error {text}", "Correct the formula or type the value."
        )
    for row, column in filter(inside, facts.uncalculated):
        rows[row][column] = Fault(
            "",
            "holds a formula that was never calculated",
            "Open the workbook in a spreadsheet program, let it calculate, and save it.",
        )
    for (row, column), unit in facts.shown.items():
        if inside((row, column)):
            value = rows[row][column]
            if isinstance(value, float):
                rows[row][column] = Shown(value, unit)
    grid.hidden_rows = frozenset(facts.hidden_rows)
    grid.hidden_columns = frozenset(facts.hidden_columns)
