"""The sheets of a workbook's bytes, piece by piece as plain values; see `isolate` for where.

Only plain values leave here, since they cross from one process to another.
"""

from __future__ import annotations

import io
import lzma
import re
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import chain, repeat
from operator import ne
from typing import Any, Protocol, TypeVar

from lxml import etree
from python_calamine import (
    CalamineError,
    CalamineWorkbook,
    PasswordError,
    SheetTypeEnum,
    SheetVisibleEnum,
)

from ..errors import UnusableInput
from .binary import BinaryBook, is_binary
from .facts import SheetFacts, scan
from .legacy import scan_legacy
from .limits import SMALL_PART, Allowance
from .open_document import is_open_document, scan_open_document
from .parts import Locked, Parts, TooMuch
from .spelling import Spelled

__all__ = ["MESSAGE", "read_sheets"]

MESSAGE = tuple[Any, ...]
"""What is sent: ``("size", bytes)``, ``("names", names)``; for each sheet ``("sheet", name,
hidden, merged areas, facts)`` and then any number of ``("rows", blank rows before, rows)``."""

_CELLS_A_PIECE = 20_000
_DENSITY = 3  # a byte of a binary part takes as long as three of XML (measured: 3.5)
_SAVE_AGAIN = "Open it in a spreadsheet program, save it again, and check that."
_ROOM = "Delete what the register does not need and save it again, or allow more with --room."
_RESULT_SHEET = re.compile(
    r"Check (?:results|findings|summary|cautions|columns|record|verdicts|tension)"
    r"(?:, part \d+)?(?: \(?\d+\)?)?\Z"
)
_ENCRYPTED = 0x01
# Endings of parts that are never unpacked: a picture may be packed as tightly as it likes.
_PICTURES = (".bmp", ".emf", ".gif", ".ico", ".jpeg", ".jpg", ".png", ".tif", ".tiff", ".wmf")
# What damaged packages make the readers of zip archives and XML raise.
_DAMAGE = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    struct.error,
    etree.XMLSyntaxError,
    EOFError,
    RuntimeError,
    ValueError,
    LookupError,
    OSError,
    OverflowError,
)


def read_sheets(
    content: bytes, file: str, allowance: Allowance, only: str | None = None
) -> Iterator[MESSAGE]:
    """Read every worksheet.

    Parameters
    ----------
    content, file
        The workbook's bytes, and its name for messages.
    allowance
        Limits in force.
    only
        Pattern of the names of the sheets wanted. Where None, all but the result sheets of an
        earlier run are, and facts about their cells.

    Yields
    ------
    tuple
        See `MESSAGE`.

    Raises
    ------
    UnusableInput
        Where the workbook cannot be read, or asks for more than is allowed.
    """
    package = _package(content, file, allowance)
    size = len(content) if package is None else _unpacked(package)
    yield "size", size
    pages = _careful(partial(_pages, content, package, file, allowance, only is None), file)
    if any(page.dense for page in pages):
        yield "size", _DENSITY * size
    names = [page.name for page in pages]
    yield "names", tuple(names)
    wanted = re.compile(only).match if only is not None else _not_ours(names)
    cells = 0
    for page in pages:
        if page.read is None or not wanted(page.name):
            continue
        sheet, facts = _careful(page.read, file)
        marked = _marked(facts)
        height, width = _extent(sheet, marked)
        if height * width > allowance.cells:
            raise _too_far(file, page.name)
        cells += height * width
        if cells > allowance.cells:
            raise UnusableInput(
                f"{file}, sheet {page.name}",
                f"has, with the sheets before it, more than {allowance.cells:,.0f} cells, counted "
                "to the last row and column of each",
                _ROOM,
            )
        yield (
            "sheet",
            page.name,
            page.hidden,
            _merged(sheet, facts, f"{file}, sheet {page.name}", height, width),
            None if facts is None else vars(facts),
        )
        rows = {row for row, _ in marked}
        # The oldest format gives whole numbers as integers.
        yield from _rows(sheet, width, rows, integers=package is None)


def _not_ours(names: list[str]) -> Callable[[str], bool]:
    ours = {name for name in names if _RESULT_SHEET.match(name)}
    if not {"Check results", "Check record"} <= ours:
        ours = set()
    return lambda name: name not in ours


# --- the pages of a workbook -----------------------------------------------------------------


class _Sheet(Protocol):
    """A sheet's values: of the library that reads workbooks, or of our own reader."""

    @property
    def start(self) -> tuple[int, int] | None: ...
    @property
    def end(self) -> tuple[int, int] | None: ...
    @property
    def merged_cell_ranges(self) -> list[tuple[tuple[int, int], tuple[int, int]]] | None: ...
    def iter_rows(self) -> Iterator[list[Any]]: ...


@dataclass(frozen=True, slots=True)
class _Page:
    """A sheet before it is read; one without cells, such as a chart, cannot be."""

    name: str
    hidden: bool
    read: Callable[[], tuple[_Sheet, SheetFacts | None]] | None
    dense: bool = False


def _pages(
    content: bytes,
    package: zipfile.ZipFile | None,
    file: str,
    allowance: Allowance,
    with_facts: bool,
) -> list[_Page]:
    parts = None if package is None else Parts(package, allowance.elements)
    if parts is not None:
        parts.check_unlocked()
    if parts is not None and is_binary(parts):
        binary = BinaryBook(parts)

        def read_binary(name: str, part: str) -> tuple[_Sheet, SheetFacts]:
            sheet = binary.read(name, part, allowance.cells)
            return sheet, sheet.facts

        return [
            _Page(name, hidden, partial(read_binary, name, part) if part else None, dense=True)
            for name, hidden, part in binary.sheets
        ]
    # Damage is named before the reader of values meets it.
    in_order = scan_legacy(content) if with_facts and parts is None else []
    facts: dict[str, SheetFacts] = {}
    if with_facts and parts is not None:
        facts, anew = _facts(parts, file, allowance)
        content = anew or content
    book = CalamineWorkbook.from_filelike(io.BytesIO(content))
    if in_order:
        facts = dict(zip(book.sheet_names, in_order, strict=True))

    def read(name: str) -> tuple[_Sheet, SheetFacts | None]:
        if with_facts and name not in facts:
            # Its errors would pass for blank cells.
            raise ValueError(f"nothing tells which part holds its sheet {name!r}")
        return book.get_sheet_by_name(name), facts.get(name)

    return [
        _Page(
            meta.name,
            meta.visible is not SheetVisibleEnum.Visible,
            partial(read, meta.name) if meta.typ is SheetTypeEnum.WorkSheet else None,
        )
        for meta in book.sheets_metadata
    ]


_T = TypeVar("_T")


def _careful(read: Callable[[], _T], file: str) -> _T:
    """Call the reader of workbooks, which has errors of several kinds for damaged files."""
    try:
        return read()
    except (PasswordError, Locked):
        raise _locked(file) from None
    except TooMuch as error:
        raise UnusableInput(file, str(error), _ROOM) from None
    except (CalamineError, *_DAMAGE) as error:
        raise UnusableInput(
            file, f"cannot be read as a workbook ({_reason(error)})", _SAVE_AGAIN
        ) from None


def _reason(error: Exception) -> str:
    if isinstance(error, (struct.error, IndexError)):
        return "a part of it is cut short or points to nothing"
    return " ".join(str(error).split())[:200] or type(error).__name__


def _locked(file: str) -> UnusableInput:
    return UnusableInput(
        file, "is password-protected", "Save a copy without the password and check that."
    )


def _too_far(file: str, sheet: str) -> UnusableInput:
    return UnusableInput(
        f"{file}, sheet {sheet}",
        "has cells so far out that reading it could exhaust memory",
        "Delete the cells far below or beside the table and save again.",
    )


# --- the package -----------------------------------------------------------------------------


def _package(content: bytes, file: str, allowance: Allowance) -> zipfile.ZipFile | None:
    """Open a package, if it is one, and hold its directory to the limits."""
    if not content.startswith(b"PK"):
        return None
    try:
        package = zipfile.ZipFile(io.BytesIO(content))
    except _DAMAGE as error:
        raise UnusableInput(file, f"is damaged ({_reason(error)})", _SAVE_AGAIN) from None
    entries = package.infolist()
    if len(entries) > allowance.entries:
        raise UnusableInput(
            file,
            f"has {len(entries):,} parts; no more than {allowance.entries:,.0f} are read",
            _ROOM,
        )
    seen: set[str] = set()
    for entry in entries:
        name = entry.filename.replace("\\", "/").casefold()
        if name in seen:
            raise UnusableInput(
                file,
                f"holds two parts named {entry.filename!r}; programs differ in which they show",
                _SAVE_AGAIN,
            )
        seen.add(name)
        if entry.flag_bits & _ENCRYPTED:
            raise _locked(file)
        if not name.endswith(_PICTURES) and entry.file_size > max(
            SMALL_PART, allowance.ratio * entry.compress_size
        ):
            raise UnusableInput(
                file,
                f"has a part {entry.filename!r} that unpacks to more than "
                f"{allowance.ratio:.0f} times its size",
                _ROOM,
            )
    if _unpacked(package) > allowance.unpacked:
        raise UnusableInput(
            file, f"unpacks to more than {allowance.unpacked / (1 << 20):,.0f} MiB", _ROOM
        )
    return package


def _unpacked(package: zipfile.ZipFile) -> int:
    """Bytes that the parts unpack to, but for pictures."""
    return sum(
        entry.file_size
        for entry in package.infolist()
        if not entry.filename.casefold().endswith(_PICTURES)
    )


def _facts(
    parts: Parts, file: str, allowance: Allowance
) -> tuple[dict[str, SheetFacts], bytes | None]:
    """Facts of the sheets, and the package anew where it is spelled in an unusual way."""
    try:
        if is_open_document(parts):
            return scan_open_document(parts, allowance.cells), None
        spelled = Spelled(parts)
        facts = scan(spelled)
        for sheet, fact in facts.items():
            if (fact.far_column + 1) * fact.last_row > allowance.cells:
                raise _too_far(file, sheet)
        return facts, spelled.package()
    except _DAMAGE as error:
        raise UnusableInput(file, f"is damaged ({_reason(error)})", _SAVE_AGAIN) from None


# --- one sheet -------------------------------------------------------------------------------


def _marked(facts: SheetFacts | None) -> set[tuple[int, int]]:
    """Cells whose value says nothing, and which are not blank all the same."""
    return set() if facts is None else {*facts.errors, *facts.uncalculated}


def _extent(sheet: _Sheet, marked: set[tuple[int, int]]) -> tuple[int, int]:
    """Rows and columns, counted from A1."""
    ends = [*marked, *([] if sheet.end is None else [sheet.end])]
    return (
        max((row + 1 for row, _ in ends), default=0),
        max((column + 1 for _, column in ends), default=0),
    )


def _merged(
    sheet: _Sheet, facts: SheetFacts | None, where: str, height: int, width: int
) -> list[tuple[int, int, int, int]]:
    """Merged areas, cut to the cells there are: a file may claim areas of any size."""
    areas = [
        (top, left, min(bottom, height - 1), min(right, width - 1))
        for (top, left), (bottom, right) in sheet.merged_cell_ranges
        or (facts.merged if facts is not None else [])
        if top < height and left < width
    ]
    if sum((b - t + 1) * (r - x + 1) for t, x, b, r in areas) > height * width:
        raise UnusableInput(
            where,
            "has merged cells that overlap",
            "Unmerge the cells of the table and save again.",
        )
    return areas


def _rows(sheet: _Sheet, width: int, marked: set[int], *, integers: bool) -> Iterator[MESSAGE]:
    """Give all rows but blank ones at the end, in pieces; blank ones before are a number.

    Rows that are `marked` count as not blank.
    """
    if not width:
        return
    # The reader's rows are of the columns and rows in which it saw anything.
    start = sheet.start[1] if sheet.start is not None else 0
    last, end = sheet.end if sheet.end is not None else (-1, start - 1)
    left, right = [""] * start, [""] * (width - end - 1)
    beyond = repeat([""] * (end - start + 1), max(max(marked, default=-1) - last, 0))
    empty = [""] * width
    before = 0
    piece: list[list[Any]] = []
    for at, row in enumerate(chain(sheet.iter_rows(), beyond)):
        whole = left + row + right
        if any(map(ne, row, row)):
            whole = ["NaN" if value != value else value for value in whole]
        if whole == empty and at not in marked:
            if piece:
                yield "rows", before, piece
                before, piece = 0, []
            before += 1
            continue
        if integers:
            whole = [float(value) if type(value) is int else value for value in whole]
        piece.append(whole)
        if len(piece) * width >= _CELLS_A_PIECE:
            yield "rows", before, piece
            before, piece = 0, []
    if piece:
        yield "rows", before, piece
