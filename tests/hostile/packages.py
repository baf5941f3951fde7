"""Workbooks made to harm, each from a sound register; written by the tests, never kept."""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Callable, Iterable, Mapping
from functools import cache

import xlsxwriter

__all__ = ["MADE_TO_HARM", "register", "repacked", "xlsx"]

HEADINGS = ["Tag", "Belt width (mm)", "Belt speed (m/s)", "Trough angle (°)", "Nip guards"]
ROWS = [["CV-1", 900, 1.5, 35, "yes"], ["CV-2", 1200, 2.5, 35, "no"]]
WORKBOOK, SHEET, STYLES = "xl/workbook.xml", "xl/worksheets/sheet1.xml", "xl/styles.xml"
STRINGS = "xl/sharedStrings.xml"
MIB = 1 << 20


def xlsx(rows: Iterable[Iterable[object]], sheet: str = "Conveyors") -> bytes:
    file = io.BytesIO()
    with xlsxwriter.Workbook(file, {"strings_to_formulas": False}) as book:
        page = book.add_worksheet(sheet)
        for at, row in enumerate(rows):
            page.write_row(at, 0, row)
    return file.getvalue()


@cache
def register() -> bytes:
    return xlsx([HEADINGS, *ROWS])


def repacked(
    content: bytes,
    change: Mapping[str, Callable[[bytes], bytes]] | None = None,
    more: Iterable[tuple[str, bytes]] = (),
) -> bytes:
    """The same package with some parts changed and some added."""
    change = dict(change or {})
    file = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            new.writestr(name, change.pop(name, bytes)(old.read(name)))
        assert not change, "no such part"
        for name, part in more:
            new.writestr(name, part)
    return file.getvalue()


def _with(part: str, change: Callable[[bytes], bytes]) -> Callable[[], bytes]:
    return lambda: repacked(register(), {part: change})


def _put(before: bytes, text: bytes, times: int = 1) -> Callable[[bytes], bytes]:
    """Insert `text` so many times before the first place where `before` stands."""

    def change(part: bytes) -> bytes:
        assert before in part
        return part.replace(before, text * times + before, 1)

    return change


def _swap(old: bytes, new: bytes) -> Callable[[bytes], bytes]:
    def change(part: bytes) -> bytes:
        assert old in part
        return part.replace(old, new, 1)

    return change


def _declared(declaration: bytes) -> Callable[[bytes], bytes]:
    """Put a document type before the root element."""

    def change(part: bytes) -> bytes:
        at = part.index(b"<", part.index(b"?>") if part.startswith(b"<?") else 0)
        return part[:at] + declaration + part[at:]

    return change


_LAUGHS = (
    b'<!DOCTYPE x [<!ENTITY a "ha">'
    + b"".join(
        b'<!ENTITY %c "%s">' % (98 + level, b"&%c;" % (97 + level) * 10) for level in range(9)
    )
    + b"]>"
)
_QUADRATIC = b'<!DOCTYPE x [<!ENTITY a "' + b"a" * 50_000 + b'">]>'
_OUTSIDE = b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>'
_REMOTE = b'<!DOCTYPE x SYSTEM "http://127.0.0.1:9/x.dtd">'


def _with_entity(declaration: bytes, use: bytes, old: bytes = b"CV-1"):
    return lambda part: _swap(old, use)(_declared(declaration)(part))


def _forged_size(content: bytes, part: str, size: int) -> bytes:
    """Write another unpacked size for a part into both of its headers."""
    file = bytearray(content)
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        entry = package.getinfo(part)
    struct.pack_into("<I", file, entry.header_offset + 22, size)
    at = file.rindex(part.encode()) - 46
    assert file[at : at + 4] == b"PK\x01\x02"
    struct.pack_into("<I", file, at + 24, size)
    return bytes(file)


def _flagged(content: bytes, part: str, *, flag: int | None = None, method: int | None = None):
    """Say of a part that it is encrypted, or compressed in an unheard-of way."""
    file = bytearray(content)
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        start = package.getinfo(part).header_offset
    at = file.rindex(part.encode()) - 46
    for place in (start + 6, at + 8):
        if flag is not None:
            struct.pack_into("<H", file, place, flag)
        if method is not None:
            struct.pack_into("<H", file, place + 2, method)
    return bytes(file)


def _overlapping() -> bytes:
    """Many directory entries for one piece of data, which unpacks again for each."""
    content = repacked(register(), more=[("xl/worksheets/sheet9.xml", b" " * (2 * MIB))])
    end = content.rindex(b"PK\x05\x06")
    count, size, start = struct.unpack_from("<HII", content, end + 10)
    directory = content[start : start + size]
    at = directory.index(b"xl/worksheets/sheet9.xml") - 46
    entry = directory[at : at + 46 + 24]
    more = b"".join(entry[:46] + f"xl/worksheets/{n:06d}.xml".encode() for n in range(3000))
    tail = bytearray(content[end:])
    struct.pack_into("<HHI", tail, 8, count + 3000, count + 3000, size + len(more))
    return content[:start] + directory + more + bytes(tail)


def _doubled() -> bytes:
    file = io.BytesIO(register())
    with zipfile.ZipFile(file, "a") as package, zipfile.ZipFile(io.BytesIO(register())) as old:
        part = old.read(SHEET)
        package.writestr("XL/worksheets/Sheet1.xml", part.replace(b">900<", b">500<"))
    return file.getvalue()


def _many_parts() -> bytes:
    return repacked(register(), more=((f"xl/odd/{n}.xml", b"") for n in range(10_001)))


def _sst(attributes: bytes) -> Callable[[bytes], bytes]:
    def change(part: bytes) -> bytes:
        start = part.index(b"<sst")
        end = part.index(b">", start)
        root = b'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" '
        return part[:start] + root + attributes + part[end:]

    return change


def _multiplied() -> bytes:
    """One long shared string in very many cells: each cell is given a copy of it."""
    long = b"<si><t>" + b"x" * 32_000 + b"</t></si>"
    content = register()
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        number = package.read(STRINGS).count(b"<si>")
    cells = b"".join(
        b'<row r="%d">%s</row>' % (row, b'<c t="s"><v>%d</v></c>' % number * 100)
        for row in range(10, 1500)
    )
    return repacked(content, {STRINGS: _put(b"</sst>", long), SHEET: _put(b"</sheetData>", cells)})


def _without(part: str) -> bytes:
    with zipfile.ZipFile(io.BytesIO(register())) as package:
        return _archive({n: package.read(n) for n in package.namelist() if n != part})


def _archive(parts: Mapping[str, bytes]) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as package:
        for name, content in parts.items():
            package.writestr(name, content)
    return file.getvalue()


_FAR = b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'

# What it is, how it is made, and words that the one line about it must hold.
MADE_TO_HARM: dict[str, tuple[Callable[[], bytes], str]] = {
    "bomb in a sheet": (_with(SHEET, _put(b"</sheetData>", b" ", 8 * MIB)), "times its size"),
    "bomb in the strings": (_with(STRINGS, _put(b"</sst>", b" ", 8 * MIB)), "times its size"),
    "bomb in the styles": (_with(STYLES, _put(b"</styleSheet>", b" ", 8 * MIB)), "its size"),
    "bomb in a part of an unheard-of kind": (
        lambda: repacked(register(), more=[("xl/chartsheets/sheet1.dat", b" " * (8 * MIB))]),
        "times its size",
    ),
    "bomb with a forged size": (
        lambda: _forged_size(
            repacked(register(), {SHEET: _put(b"</sheetData>", b" ", 8 * MIB)}), SHEET, 3000
        ),
        "damaged",
    ),
    "bomb of overlapping parts": (_overlapping, "unpacks to more|damaged"),
    "too many parts": (_many_parts, "10,000"),
    "two parts of one name": (_doubled, "two parts"),
    "an encrypted part": (lambda: _flagged(register(), SHEET, flag=1), "password"),
    "an unknown compression": (lambda: _flagged(register(), SHEET, method=99), "damaged"),
    "laughs in the workbook part": (_with(WORKBOOK, _declared(_LAUGHS)), "document type"),
    "laughs in the styles": (_with(STYLES, _declared(_LAUGHS)), "document type"),
    "laughs in a sheet": (
        _with(SHEET, _with_entity(_LAUGHS, b"<v>&j;<", b"<v>900<")),
        "document type",
    ),
    "laughs in the strings": (_with(STRINGS, _with_entity(_LAUGHS, b"&j;")), "document type"),
    "quadratic blow-up in the strings": (
        _with(STRINGS, _with_entity(_QUADRATIC, b"&a;" * 50_000)),
        "document type",
    ),
    "outside entity in the workbook part": (_with(WORKBOOK, _declared(_OUTSIDE)), "document type"),
    "outside entity in the strings": (
        _with(STRINGS, _with_entity(_OUTSIDE, b"&a;")),
        "document type",
    ),
    "remote document type": (_with(WORKBOOK, _declared(_REMOTE)), "document type"),
    "deep nesting in the workbook part": (
        _with(WORKBOOK, _put(b"</workbook>", b"<x>", 100_000)),
        "damaged",
    ),
    "deep nesting in the styles": (
        _with(STYLES, _put(b"</styleSheet>", b"<x>", 100_000)),
        "damaged",
    ),
    "deep nesting in a sheet": (
        _with(SHEET, _put(b"</sheetData>", b"<x>", 1_000_000)),
        "damaged",
    ),
    "deep nesting in the strings": (_with(STRINGS, _put(b"</sst>", b"<x>", 1_000_000)), ""),
    "cell in the last corner": (_with(SHEET, _put(b"</sheetData>", _FAR)), "far out"),
    "cells in the last row, all columns to ZZ": (
        _with(
            SHEET, _put(b"</sheetData>", b'<row r="1048576"><c r="ZZ1048576"><v>1</v></c></row>')
        ),
        "memory",
    ),
    "row beyond all rows": (
        _with(SHEET, _put(b"</sheetData>", b'<row r="4294967290"><c><v>1</v></c></row>')),
        "",
    ),
    "forged count of strings": (
        _with(STRINGS, _sst(b'count="4294967295" uniqueCount="4294967295"')),
        "memory|damaged",
    ),
    "one string in very many cells": (_multiplied, "memory|takes more than"),
    "millions of styles": (
        _with(STYLES, _put(b"</cellXfs>", b'<xf numFmtId="%d"/>' % 9, 3_000_000)),
        "its size|elements",
    ),
    "merged areas of the whole sheet, many times": (
        _with(
            SHEET,
            _put(
                b"<pageMargins",
                b"<mergeCells>%s</mergeCells>" % (b'<mergeCell ref="A1:XFD1048576"/>' * 100_000),
            ),
        ),
        "merged",
    ),
    "very many error cells": (
        _with(SHEET, _put(b"</sheetData>", b'<row r="9"><c r="A9" t="e">', 150_000)),
        "damaged",
    ),
    "a string that is not in the table": (
        _with(SHEET, _swap(b't="s"><v>0<', b't="s"><v>987654<')),
        "cannot be read",
    ),
    "no table of strings": (lambda: _without(STRINGS), "cannot be read|damaged"),
    "no sheet part": (lambda: _without(SHEET), "cannot be read|damaged"),
    "no workbook part": (lambda: _without(WORKBOOK), "holds no cells"),
    "a sheet cut in the middle": (_with(SHEET, lambda part: part[: len(part) // 2]), "damaged"),
    "another archive": (lambda: _archive({"word/document.xml": b"<w/>"}), "cannot be read"),
    "an empty archive": (lambda: _archive({}), ""),
    "an archive in an archive": (lambda: _archive({"register.xlsx": register()}), "cannot"),
}
