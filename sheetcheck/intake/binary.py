"""Workbooks of binary parts (xlsb), by the open specification [MS-XLSB].

Section numbers and names of structures are its; record numbers are of its section 2.3. The
library that reads the other formats leaves out, of this one, cells in the short form (some
programs write no other after a row's first), errors that formulas gave, texts with formats of
their own, and merged areas, and gives whole days as numbers. So its records are read here.
"""

from __future__ import annotations

import datetime
import struct
from collections.abc import Iterator
from dataclasses import dataclass, field

from .facts import SheetFacts, format_unit, shows_moment
from .parts import Parts, TooMuch

__all__ = ["ERRORS", "BinaryBook", "BinarySheet", "is_binary"]

_ROW, _SHARED, _RICH = 0, 19, 62
# Cells (2.5.10): a column, a style, a value; those that keep a formula's last value, it too.
_BLANK, _SHORT_NUMBER, _ERROR, _YES_NO, _NUMBER, _TEXT, _SHARED_TEXT = range(1, 8)
_FORMULAS = {8: _TEXT, 9: _NUMBER, 10: _YES_NO, 11: _ERROR}
# ShortCell: no column; it is the one after the cell before.
_SHORT_CELLS = {12 + at: _BLANK + at for at in range(7)} | {61: _RICH}
_CELLS = {kind: kind for kind in (*range(1, 8), _RICH)} | _FORMULAS
_COLUMNS, _MERGED = 60, 176
_FORMAT, _CELL_FORMAT, _FIRST_CELL_FORMAT, _LAST_CELL_FORMAT = 44, 47, 617, 618
_WORKBOOK, _SHEET = 153, 156
_END_SHEET, _END_BOOK, _END_TEXTS, _END_STYLES = 130, 132, 160, 279
_MOST_ROWS, _MOST_COLUMNS, _MOST_LETTERS = 1 << 20, 1 << 14, 32_767
_LETTERS_A_CELL = 16  # on average: what is one text here becomes many when it is handed on

_MILLISECOND = datetime.timedelta(milliseconds=1)
ERRORS = {  # BErr, the same in both binary formats
    0x00: "#NULL!",
    0x07: "#DIV/0!",
    0x0F: "#VALUE!",
    0x17: "#REF!",
    0x1D: "#NAME?",
    0x24: "#NUM!",
    0x2A: "#N/A",
    0x2B: "#GETTING_DATA",
}
# ECMA-376 part 1, 18.8.30: formats that a workbook need not spell out.
_BUILT_IN = {9: "0%", 10: "0.00%"}
_BUILT_IN |= dict.fromkeys((*range(14, 23), *range(27, 37), 45, 47, *range(50, 59)), "yyyy")
_BUILT_IN |= {46: "[h]:mm:ss"}

Value = float | str | bool | datetime.date | datetime.time | datetime.timedelta


def is_binary(parts: Parts) -> bool:
    """Whether the package's workbook is a binary part."""
    return _workbook_of(parts).endswith(".bin")


def _workbook_of(parts: Parts) -> str:
    """The workbook's part; where the package does not say which, the usual one."""
    return parts.workbook() or ("xl/workbook.bin" if "xl/workbook.bin" in parts.names else "")


@dataclass
class BinarySheet:
    """One worksheet.

    Attributes
    ----------
    start, end
        Zero-based first and last cell that rows are given for; `end` is None of an empty sheet.
    facts
        What its values do not show.
    """

    name: str
    start: tuple[int, int] = (0, 0)
    end: tuple[int, int] | None = None
    facts: SheetFacts = field(default_factory=SheetFacts)
    _rows: list[list[Value]] = field(default_factory=list)

    @property
    def merged_cell_ranges(self) -> list[tuple[tuple[int, int], tuple[int, int]]]:
        """First and last cell of merged areas."""
        return self.facts.merged

    def iter_rows(self) -> Iterator[list[Value]]:
        """Give rows of equal length, from A1 on."""
        width = self.end[1] + 1 if self.end else 0
        for row in self._rows:
            yield row + [""] * (width - len(row))


class BinaryBook:
    """A workbook of binary parts.

    Parameters
    ----------
    parts
        The parts of its package.

    Attributes
    ----------
    sheets
        (name, hidden, part) of each sheet; the part is "" where it is no worksheet.

    Raises
    ------
    ValueError, LookupError, struct.error
        Where a part is damaged.
    TooMuch
        Where a part holds more elements.
    """

    def __init__(self, parts: Parts) -> None:
        workbook = _workbook_of(parts)
        relations = parts.relationships(workbook)
        self._package = package = parts.package
        self._since_1904 = False
        self.sheets: list[tuple[str, bool, str]] = []
        for number, content in _records(package.read(workbook), _END_BOOK):
            if number == _WORKBOOK:
                self._since_1904 = bool(content[0] & 1)
            elif number == _SHEET:
                state = struct.unpack_from("<I", content)[0]
                key, at = _wide(content, 8)
                name = _wide(content, at)[0]
                kind, part = relations.get(key, ("", ""))
                if key and part not in parts.names:
                    raise ValueError(f"its sheet {name!r} is missing")
                self.sheets.append((name, bool(state), part if kind == "worksheet" else ""))
        own = dict(relations.values())
        self._texts = self._read_texts(own["sharedStrings"]) if "sharedStrings" in own else []
        self._moments: dict[int, str] = {}
        self._units: dict[int, str] = {}
        if "styles" in own:  # without them, days would be numbers
            self._read_styles(own["styles"])

    def _read_texts(self, part: str) -> list[str]:
        """2.1.7.45 Shared Strings."""
        return [
            _wide(content, 1)[0]
            for number, content in _records(self._package.read(part), _END_TEXTS)
            if number == _SHARED
        ]

    def _read_styles(self, part: str) -> None:
        """2.1.7.50 Styles: which cell formats show a moment, or a unit."""
        codes = dict(_BUILT_IN)
        style, inside = 0, False
        for number, content in _records(self._package.read(part), _END_STYLES):
            if number == _FORMAT:
                codes[struct.unpack_from("<H", content)[0]] = _wide(content, 2)[0]
            elif number in (_FIRST_CELL_FORMAT, _LAST_CELL_FORMAT):
                inside = number == _FIRST_CELL_FORMAT
            elif number == _CELL_FORMAT and inside:
                code = codes.get(struct.unpack_from("<H", content, 2)[0], "")
                if shows_moment(code):
                    self._moments[style] = code
                elif unit := format_unit(code):
                    self._units[style] = unit
                style += 1

    def read(self, name: str, part: str, most_cells: float) -> BinarySheet:
        """Read a worksheet (2.1.7.62), up to the row in which it has more cells than allowed.

        A sheet cut off there has an `end` beyond `most_cells`.

        Raises
        ------
        TooMuch
            Where its cells repeat more text than that many may hold.
        """
        sheet = BinarySheet(name)
        rows, facts = sheet._rows, sheet.facts
        width = held = letters = 0
        column = -1
        for number, content in _records(self._package.read(part), _END_SHEET):
            if number in _SHORT_CELLS:
                number, content = _SHORT_CELLS[number], struct.pack("<i", column + 1) + content
            if number in _CELLS:
                column = int.from_bytes(content[:4], "little")
                if number == _BLANK:
                    continue
                if not rows or not len(rows[-1]) <= column < _MOST_COLUMNS:
                    raise ValueError(f"a cell of row {len(rows)} is out of its place")
                line = rows[-1]
                gap = column - len(line)
                held += gap + 1
                width = max(width, column + 1)
                sheet.end = (len(rows) - 1, width - 1)
                if held > most_cells:
                    break
                if gap:
                    line += [""] * gap
                value = self._value(_CELLS[number], content, sheet.end[0], column, facts)
                line.append(value)
                if type(value) is str:
                    letters += len(value)
                    if letters > _LETTERS_A_CELL * most_cells:
                        raise TooMuch(f"has a sheet {name!r} of more text than is read")
            elif number == _ROW:
                row, flags = struct.unpack_from("<I7xB", content)
                if not len(rows) <= row < _MOST_ROWS:
                    raise ValueError(f"row {row + 1} is out of its place")
                rows.extend([] for _ in range(row + 1 - len(rows)))
                column = -1
                if flags & 0x10:
                    facts.hidden_rows.add(row)
            elif number == _COLUMNS:
                first, last, flags = struct.unpack_from("<II8xB", content)
                if flags & 1:
                    facts.hidden_columns |= set(range(first, min(last + 1, _MOST_COLUMNS)))
            elif number == _MERGED:
                top, bottom, left, right = struct.unpack_from("<4I", content)
                facts.merged.append(((top, left), (bottom, right)))
        del rows[sheet.end[0] + 1 if sheet.end else 0 :]
        return sheet

    def _value(self, kind: int, content: bytes, row: int, column: int, facts: SheetFacts) -> Value:
        """The value of a cell; what it does not show, into `facts`."""
        if kind == _SHARED_TEXT:
            return self._texts[int.from_bytes(content[8:12], "little")]
        if kind in (_SHORT_NUMBER, _NUMBER):
            number = _short_number(content) if kind == _SHORT_NUMBER else _number(content)
            style = int.from_bytes(content[4:7], "little")
            if style in self._moments:
                return _moment(number, self._moments[style], self._since_1904)
            if style in self._units:
                facts.shown[row, column] = self._units[style]
            return number
        if kind == _TEXT:
            return _wide(content, 8)[0]
        if kind == _RICH:
            return _wide(content, 9)[0]
        if kind == _YES_NO:
            return bool(content[8])
        facts.errors[row, column] = ERRORS.get(content[8], "#ERROR!")
        return ""


def _records(content: bytes, last: int) -> Iterator[tuple[int, bytes]]:
    """Give number and content of each record of a part, up to its last."""
    at, whole = 0, len(content)
    try:
        while True:
            number = content[at]
            at += 1
            if number & 0x80:
                number = number & 0x7F | (content[at] & 0x7F) << 7
                at += 1
            size = content[at]
            at += 1
            if size & 0x80:
                size &= 0x7F
                for shift in (7, 14, 21):
                    byte = content[at]
                    at += 1
                    size |= (byte & 0x7F) << shift
                    if not byte & 0x80:
                        break
            end = at + size
            if end > whole:
                raise IndexError
            yield number, content[at:end]
            if number == last:
                return
            at = end
    except IndexError:
        raise ValueError("a part of it is cut short") from None


def _wide(content: bytes, at: int) -> tuple[str, int]:
    """Text at a place (2.5.169 XLWideString), and where it ends; absent is empty."""
    count = struct.unpack_from("<I", content, at)[0]
    at += 4
    if count == 0xFFFFFFFF:
        return "", at
    if count > _MOST_LETTERS:
        raise ValueError("a text is longer than a cell can hold")
    end = at + 2 * count
    if end > len(content):
        raise ValueError("a text is cut short")
    return content[at:end].decode("utf-16-le", "replace"), end


def _number(content: bytes) -> float:
    value: float = struct.unpack_from("<d", content, 8)[0]
    return value


def _short_number(content: bytes) -> float:
    """2.5.123 RkNumber: 30 bits of a whole number or of a float, perhaps of its hundredfold."""
    bits: int = struct.unpack_from("<i", content, 8)[0]
    if bits & 2:
        number = float(bits >> 2)
    else:
        number = struct.unpack("<d", struct.pack("<ii", 0, bits & ~3))[0]
    return number / 100 if bits & 1 else number


def _moment(number: float, code: str, since_1904: bool) -> Value:
    """The day, time or span that a number of days stands for; the number where it is none."""
    try:
        span = datetime.timedelta(days=number)
        if shows_moment(code) == "span":
            return span
        if number < 0:
            return number
        if since_1904:
            zero = datetime.datetime(1904, 1, 1)
        else:  # the year 1900 has a leap day in this calendar (ECMA-376 part 1, 18.17.4.1)
            zero = datetime.datetime(1899, 12, 30 if number >= 60 else 31)
        moment = zero + datetime.timedelta(milliseconds=round(span / _MILLISECOND))
    except (OverflowError, ValueError):
        return number
    if 0 <= number < 1:
        return moment.time()
    return moment if moment.time() != datetime.time() else moment.date()
