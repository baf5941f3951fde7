"""Writes Excel Binary Workbooks for tests, small but whole, from the open specification.

[MS-XLSB] says what stands in the records (numbers of sections and names of structures below are
its; record numbers are of its section 2.3), ECMA-376 part 2 how parts make a package. No
spreadsheet program at hand saves this format; LibreOffice and a second library open what is
written here and show the same values (tried by hand).
"""

from __future__ import annotations

import datetime
import io
import struct
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

__all__ = ["ERRORS", "Error", "Formula", "Rich", "Sheet", "Styled", "package", "parts", "record"]

ERRORS = {  # BErr
    "#NULL!": 0x00,
    "#DIV/0!": 0x07,
    "#VALUE!": 0x0F,
    "#REF!": 0x17,
    "#NAME?": 0x1D,
    "#NUM!": 0x24,
    "#N/A": 0x2A,
    "#GETTING_DATA": 0x2B,
}
_DATE = "yyyy\\-mm\\-dd"
_FIRST_CODE = 164  # number formats below are the program's own
_NULL = b"\xff\xff\xff\xff"
_AUTOMATIC = bytes(8)  # BrtColor: the colour is the program's choice


@dataclass(frozen=True)
class Error:
    """An error as a constant of the cell, or the value of a formula."""

    text: str


@dataclass(frozen=True)
class Formula:
    """A formula that gives the value of a constant, with that value kept beside it."""

    value: float | str | bool | Error


@dataclass(frozen=True)
class Rich:
    """A text of which a part is formatted, in the cell itself."""

    text: str


@dataclass(frozen=True)
class Styled:
    """A value, None for a blank cell, shown by a number format."""

    value: Any
    code: str


@dataclass
class Sheet:
    """Rows of values; None is no cell at all. Areas are (first row, first column, last row,
    last column); all indices are zero-based and count from A1."""

    rows: Sequence[Sequence[Any]]
    top: int = 0
    left: int = 0
    merged: Sequence[tuple[int, int, int, int]] = ()
    hidden: bool = False
    hidden_rows: frozenset[int] = frozenset()
    hidden_columns: Sequence[tuple[int, int]] = ()
    inline: bool = False  # texts in the cells instead of the shared table
    short: bool = False  # cells without a column where they follow another


def package(sheets: dict[str, Sheet], *, since_1904: bool = False) -> bytes:
    """The whole workbook."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts(sheets, since_1904=since_1904).items():
            archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return file.getvalue()


def parts(sheets: dict[str, Sheet], *, since_1904: bool = False) -> dict[str, bytes]:
    """Part name to content."""
    shared = _Shared(since_1904)
    pages = {
        f"xl/worksheets/sheet{number}.bin": _worksheet(sheet, shared)
        for number, sheet in enumerate(sheets.values(), 1)
    }
    inside = {f"rId{at}": part for at, part in enumerate(pages, 1)}
    inside |= {"rIdStyles": "xl/styles.bin", "rIdStrings": "xl/sharedStrings.bin"}
    kinds = {"worksheets": "worksheet", "styles": "styles", "sharedStrings": "sharedStrings"}

    def kind(part: str) -> str:
        return next(word for start, word in kinds.items() if part.startswith(f"xl/{start}"))

    types = {part: f"application/vnd.ms-excel.{kind(part)}" for part in inside.values()}
    types["xl/workbook.bin"] = "application/vnd.ms-excel.sheet.binary.macroEnabled.main"
    return {
        "[Content_Types].xml": _content_types(types),
        "_rels/.rels": _relationships({"rId1": ("officeDocument", "xl/workbook.bin")}),
        "xl/workbook.bin": _workbook(sheets, since_1904),
        "xl/_rels/workbook.bin.rels": _relationships(
            {key: (kind(part), part.removeprefix("xl/")) for key, part in inside.items()}
        ),
        **pages,
        "xl/styles.bin": _styles(list(shared.codes)),
        "xl/sharedStrings.bin": _strings(shared),
    }


# --- packaging: ECMA-376 part 2 --------------------------------------------------------------


def _content_types(types: dict[str, str]) -> bytes:
    overrides = "".join(
        f'<Override PartName="/{part}" ContentType="{kind}"/>' for part, kind in types.items()
    )
    return (
        '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>'
        '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
        '<Default Extension="rels" '
        'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f"{overrides}</Types>"
    ).encode()


def _relationships(targets: dict[str, tuple[str, str]]) -> bytes:
    kinds = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    each = "".join(
        f'<Relationship Id="{key}" Type="{kinds}/{kind}" Target="{target}"/>'
        for key, (kind, target) in targets.items()
    )
    return (
        '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>'
        '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        f"{each}</Relationships>"
    ).encode()


# --- records ---------------------------------------------------------------------------------


def record(number: int, content: bytes = b"") -> bytes:
    """Number in one or two bytes of seven bits, the lower first; size likewise in up to four."""
    head = bytes([number]) if number < 0x80 else bytes([number & 0x7F | 0x80, number >> 7])
    size, rest = b"", len(content)
    while rest >= 0x80:
        size += bytes([rest & 0x7F | 0x80])
        rest >>= 7
    return head + size + bytes([rest]) + content


def _wide(text: str) -> bytes:
    """2.5.169 XLWideString: the count of 16-bit characters, and they."""
    content = text.encode("utf-16-le")
    return struct.pack("<I", len(content) // 2) + content


@dataclass
class _Shared:
    """What all sheets share; a style's number is the place of its number format."""

    since_1904: bool
    codes: dict[str, int] = field(default_factory=lambda: {"General": 0})
    texts: dict[str, int] = field(default_factory=dict)
    uses: int = 0

    def style(self, code: str) -> int:
        return self.codes.setdefault(code, len(self.codes))

    def text(self, text: str) -> int:
        self.uses += 1
        return self.texts.setdefault(text, len(self.texts))

    def serial(self, day: datetime.date) -> float:
        """Days since the date system's own zero; the parts of a day as a fraction."""
        zero = (
            datetime.datetime(1904, 1, 1) if self.since_1904 else datetime.datetime(1899, 12, 30)
        )
        if not isinstance(day, datetime.datetime):
            day = datetime.datetime.combine(day, datetime.time())
        return (day - zero) / datetime.timedelta(days=1)


# --- cells -----------------------------------------------------------------------------------


def _cell(column: int, value: Any, shared: _Shared, *, inline: bool) -> bytes:
    code = "General"
    if isinstance(value, Styled):
        value, code = value.value, value.code
    if isinstance(value, datetime.date):
        value, code = shared.serial(value), _DATE
    # 2.5.10 Cell: the column, 24 bits for the style, and no phonetic guide.
    head = struct.pack("<II", column, shared.style(code))
    match value:
        case None:
            return record(1, head)  # BrtCellBlank
        case Formula():
            return _formula(head, value.value)
        case Error():
            return record(3, head + bytes([ERRORS[value.text]]))  # BrtCellError
        case bool():
            return record(4, head + bytes([value]))  # BrtCellBool
        case int() | float():
            short = _short_number(value)
            if short is not None:
                return record(2, head + short)  # BrtCellRk
            return record(5, head + struct.pack("<d", value))  # BrtCellReal
        case Rich():
            run = struct.pack("<I", 1) + struct.pack("<HH", len(value.text) // 2, 0)
            return record(62, head + b"\x01" + _wide(value.text) + run)  # BrtCellRString
        case str() if inline:
            return record(6, head + _wide(value))  # BrtCellSt
        case str():
            return record(7, head + struct.pack("<I", shared.text(value)))  # BrtCellIsst
    raise TypeError(f"no cell for {value!r}")


def _shortened(cell: bytes) -> bytes:
    """The same cell in its short form (ShortCell), where it has one: no column."""
    number, size = cell[0], cell[1]
    if number not in range(1, 8) or size & 0x80:
        return cell
    return record(number + 11, cell[2 + 4 :])


def _short_number(value: float) -> bytes | None:
    """2.5.123 RkNumber: 30 bits of a whole number or of a float, perhaps of its hundredfold."""
    for hundredfold in (0, 1):
        number = value * 100 if hundredfold else value
        if hundredfold and number / 100 != value:
            continue
        if number == int(number) and -(1 << 29) <= number < 1 << 29:
            return struct.pack("<i", int(number) << 2 | 2 | hundredfold)
        bits = struct.pack("<d", number)
        if bits[:4] == bytes(4) and not bits[4] & 3:
            return bytes([bits[4] | hundredfold]) + bits[5:]
    return None


def _formula(head: bytes, value: float | str | bool | Error) -> bytes:
    """BrtFmla…: the value as last calculated, then a formula of one constant (Ptg)."""
    match value:
        case Error():
            code = bytes([ERRORS[value.text]])
            number, kept, tokens = 11, code, b"\x1c" + code
        case bool():
            number, kept, tokens = 10, bytes([value]), bytes([0x1D, value])
        case str():
            text = value.encode("utf-16-le")
            tokens = b"\x17" + struct.pack("<H", len(text) // 2) + text
            number, kept = 8, _wide(value)
        case _:
            kept = struct.pack("<d", value)
            number, tokens = 9, b"\x1f" + kept
    flags = struct.pack("<H", 0)
    parsed = struct.pack("<I", len(tokens)) + tokens + struct.pack("<I", 0)
    return record(number, head + kept + flags + parsed)


# --- parts -----------------------------------------------------------------------------------


def _worksheet(sheet: Sheet, shared: _Shared) -> bytes:
    """2.1.7.62 Worksheet."""
    height, width = len(sheet.rows), max(map(len, sheet.rows), default=0)
    area = (sheet.top, sheet.top + max(height, 1) - 1, sheet.left, sheet.left + max(width, 1) - 1)
    content = bytearray(
        record(129) + record(148, struct.pack("<4I", *area))
    )  # BrtBeginSheet, BrtWsDim
    if sheet.hidden_columns:
        content += record(390)  # BrtBeginColInfos
        for first, last in sheet.hidden_columns:
            content += record(60, struct.pack("<IIIIH", first, last, 0, 0, 1))  # BrtColInfo
        content += record(391)
    content += record(145)  # BrtBeginSheetData
    for at, row in enumerate(sheet.rows, sheet.top):
        cells = [(at, value) for at, value in enumerate(row, sheet.left) if value is not None]
        if cells or at in sheet.hidden_rows:
            content += _row_header(at, [column for column, _ in cells], at in sheet.hidden_rows)
        before = None
        for column, value in cells:
            cell = _cell(column, value, shared, inline=sheet.inline)
            follows = before is not None and column == before + 1
            content += _shortened(cell) if sheet.short and follows else cell
            before = column
    content += record(146)
    if sheet.merged:
        content += record(177, struct.pack("<I", len(sheet.merged)))  # BrtBeginMergeCells
        for top, left, bottom, right in sheet.merged:
            content += record(176, struct.pack("<4I", top, bottom, left, right))  # BrtMergeCell
        content += record(178)
    return bytes(content + record(130))  # BrtEndSheet


def _row_header(row: int, columns: Sequence[int], hidden: bool) -> bytes:
    """2.4.761 BrtRowHdr: which columns are used is told for each block of 1024 of them."""
    blocks: dict[int, list[int]] = {}
    for column in columns:
        blocks.setdefault(column >> 10, []).append(column)
    content = struct.pack("<IIHBBBI", row, 0, 300, 0, 0x10 * hidden, 0, len(blocks))
    for used in blocks.values():
        content += struct.pack("<II", used[0], used[-1])
    return record(0, content)


def _workbook(sheets: dict[str, Sheet], since_1904: bool) -> bytes:
    """2.1.7.61 Workbook."""
    content = record(131)  # BrtBeginBook
    content += record(153, struct.pack("<II", since_1904, 0) + _wide(""))  # BrtWbProp
    content += record(135)  # BrtBeginBookViews, BrtBookView
    first = next(at for at, sheet in enumerate(sheets.values()) if not sheet.hidden)
    content += record(158, struct.pack("<4i3IB", 0, 0, 28800, 17600, 600, first, first, 0x78))
    content += record(136) + record(143)  # …, BrtBeginBundleShs
    for number, (name, sheet) in enumerate(sheets.items(), 1):
        place = struct.pack("<II", sheet.hidden, number) + _wide(f"rId{number}") + _wide(name)
        content += record(156, place)  # BrtBundleSh
    content += record(144)
    content += record(157, struct.pack("<IIIdIB", 0, 0, 100, 0.001, 1, 0))  # BrtCalcProp
    return content + record(132)  # BrtEndBook


def _strings(shared: _Shared) -> bytes:
    """2.1.7.45 Shared Strings."""
    items = (record(19, b"\0" + _wide(text)) for text in shared.texts)  # BrtSSTItem
    head = struct.pack("<II", shared.uses, len(shared.texts))
    return record(159, head) + b"".join(items) + record(160)


def _styles(codes: Sequence[str]) -> bytes:
    """2.1.7.50 Styles: one font, two fills, one border, and a cell format for each code."""
    own = [(_FIRST_CODE + at, code) for at, code in enumerate(codes) if at]
    formats = [record(44, struct.pack("<H", key) + _wide(code)) for key, code in own]  # BrtFmt
    font = struct.pack("<4H4B", 220, 0, 400, 0, 0, 2, 0, 0) + _AUTOMATIC + b"\0" + _wide("Calibri")
    fills = [
        record(45, struct.pack("<I", pattern) + 2 * _AUTOMATIC + bytes(4 + 5 * 8 + 4))
        for pattern in (0, 17)  # none, and the grey that a program keeps in second place
    ]
    edge = struct.pack("<BB", 0, 0) + _AUTOMATIC
    keys = [0, *(key for key, _ in own)]
    style = struct.pack("<IHBB", 0, 1, 0, 0xFF) + _wide("Normal")
    return (
        record(278)  # BrtBeginStyleSheet
        + (_list(615, 616, formats) if formats else b"")
        + _list(611, 612, [record(43, font)])
        + _list(603, 604, fills)
        + _list(613, 614, [record(46, b"\0" + 5 * edge)])
        + _list(626, 627, [_cell_format(0xFFFF, 0)])
        + _list(617, 618, [_cell_format(0, key) for key in keys])
        + _list(619, 620, [record(48, style)])
        + record(279)
    )


def _list(begin: int, end: int, records: Iterable[bytes]) -> bytes:
    each = list(records)
    return record(begin, struct.pack("<I", len(each))) + b"".join(each) + record(end)


def _cell_format(parent: int, number_format: int) -> bytes:
    """2.4.862 BrtXF; its last bits say that the number format is the cell's own."""
    own = int(number_format != 0)
    return record(47, struct.pack("<5H2B2H", parent, number_format, 0, 0, 0, 0, 0, 0x1010, own))
