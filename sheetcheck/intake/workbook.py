"""Opening a source: the only place that does. Gives its sheets as grids."""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TypeVar, cast

from lxml import etree
from python_calamine import (
    CalamineError,
    CalamineWorkbook,
    PasswordError,
    SheetTypeEnum,
    SheetVisibleEnum,
)

from ..errors import UnusableInput
from .delimited import read_delimited
from .facts import SheetFacts, scan
from .grid import Area, Fault, Grid, Shown, Value

__all__ = ["MOST_BYTES", "MOST_CELLS", "SUFFIXES", "Book", "careful", "content_of", "open_book"]

SUFFIXES = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods", ".csv")
"""File endings that are read."""

MOST_CELLS = 30_000_000
"""A sheet with more cells (rows times columns) is refused: reading it could exhaust memory."""

MOST_BYTES = 2 << 30
"""A workbook that unpacks to more is refused."""

_OLE2 = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_RESULT_SHEET = re.compile(
    r"Check (?:results|findings|summary|cautions|columns|record|tension)"
    r"(?:, part \d+)?(?: \(?\d+\)?)?\Z"
)


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


def open_book(path: str | Path) -> Book:
    """Open a workbook or delimited text and read every sheet.

    Parameters
    ----------
    path
        File to read; it is opened for reading only, once.

    Raises
    ------
    UnusableInput
        Where the file is missing, locked, empty, password-protected or no workbook.
    """
    path = Path(path)
    content = content_of(path)
    digest = hashlib.sha256(content).hexdigest()
    if content.startswith(_OLE2) and _ENCRYPTED in content:
        raise UnusableInput(
            path.name, "is password-protected", "Save a copy without the password and check that."
        )
    if content.startswith((b"PK\x03\x04", _OLE2)):
        sheets, grids = _read_workbook(content, path.name)
    elif path.suffix.lower() in (".csv", ".tsv", ".txt"):
        grids = [Grid(path.stem, read_delimited(content, path.name))]
        sheets = (path.stem,)
    else:
        raise UnusableInput(
            path.name, "is not a workbook", f"Give one of {', '.join(SUFFIXES)}, saved as such."
        )
    grids = [grid for grid in grids if grid.rows]
    if not grids:
        raise UnusableInput(path.name, "holds no cells", "Give a workbook with a conveyor table.")
    return Book(str(path), path.name, digest, sheets, tuple(grids))


def content_of(path: Path) -> bytes:
    """Read a file whole; why it cannot be read is said in plain words."""
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        raise UnusableInput(str(path), "there is no such file", "Check the path.") from None
    except IsADirectoryError:
        raise UnusableInput(str(path), "is a folder", "Give a workbook.") from None
    except PermissionError:
        raise UnusableInput(
            str(path),
            "cannot be opened for reading; it may be open in another program",
            "Close it there, or copy it, and try again.",
        ) from None
    except OSError as error:
        reason = error.strerror or "unknown reason"
        raise UnusableInput(
            str(path), f"cannot be read ({reason})", "Copy it to a local disk and try again."
        ) from None
    if not content:
        raise UnusableInput(path.name, "is empty (0 bytes)", "Give the workbook itself.")
    return content


def _read_workbook(content: bytes, file: str) -> tuple[tuple[str, ...], list[Grid]]:
    facts = _facts(content, file)
    for sheet, fact in facts.items():
        if (fact.far_column + 1) * fact.last_row > MOST_CELLS:
            raise UnusableInput(
                f"{file}, sheet {sheet}",
                "has cells so far out that reading it could exhaust memory",
                "Delete the cells far below or beside the table and save again.",
            )
    # The reader gives Python exceptions of several kinds for damaged files.
    book = careful(lambda: CalamineWorkbook.from_filelike(io.BytesIO(content)), file)
    grids = []
    metadata = book.sheets_metadata
    ours = {meta.name for meta in metadata if _RESULT_SHEET.match(meta.name)}
    if not {"Check results", "Check record"} <= ours:
        ours = set()
    for meta in metadata:
        if meta.typ is not SheetTypeEnum.WorkSheet or meta.name in ours:
            continue
        name = meta.name
        found = careful(partial(book.get_sheet_by_name, name), file)
        rows = cast(list[list[Value]], found.to_python(skip_empty_area=False))
        merged = _merged(found.merged_cell_ranges or [], rows)
        if not facts:  # the older formats give whole numbers as integers
            rows = [[float(v) if type(v) is int else v for v in row] for row in rows]
        grid = Grid(meta.name, rows, merged, hidden=meta.visible is not SheetVisibleEnum.Visible)
        if meta.name in facts:
            _apply(facts[meta.name], grid)
        grids.append(grid)
    return tuple(meta.name for meta in metadata), grids


def _merged(
    ranges: list[tuple[tuple[int, int], tuple[int, int]]], rows: list[list[Value]]
) -> list[Area]:
    """Merged areas, cut to the cells there are: a file may claim areas of any size."""
    bottom, right = len(rows) - 1, len(rows[0]) - 1 if rows else -1
    return [
        Area(top, left, min(last, bottom), min(end, right))
        for (top, left), (last, end) in ranges
        if top <= bottom and left <= right
    ]


_T = TypeVar("_T")


def careful(read: Callable[[], _T], file: str) -> _T:
    """Call a reader of workbooks; its errors become one that says what to do."""
    try:
        return read()
    except PasswordError:
        raise UnusableInput(
            file, "is password-protected", "Save a copy without the password and check that."
        ) from None
    except (CalamineError, zipfile.BadZipFile, ValueError, OSError, IndexError) as error:
        raise UnusableInput(
            file,
            f"cannot be read as a workbook ({' '.join(str(error).split())})",
            "Open it in a spreadsheet program, save it again, and check that.",
        ) from None


def _facts(content: bytes, file: str) -> dict[str, SheetFacts]:
    if not content.startswith(b"PK"):
        return {}
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as package:
            names = package.namelist()
            if sum(part.file_size for part in package.infolist()) > MOST_BYTES:
                raise UnusableInput(
                    file,
                    f"unpacks to more than {MOST_BYTES >> 30} GiB",
                    "Save it again in a spreadsheet program, without what is not needed.",
                )
            if any(name.endswith(".bin") and "worksheets/" in name for name in names):
                return {}  # xlsb: binary parts
            return scan(package)
    except (zipfile.BadZipFile, etree.XMLSyntaxError, ValueError, KeyError, OSError) as error:
        raise UnusableInput(
            file,
            f"is damaged ({' '.join(str(error).split())})",
            "Open it in a spreadsheet program, save it again, and check that.",
        ) from None


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
