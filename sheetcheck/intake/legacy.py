"""What the value reader does not see in a workbook of the format before 2007 (xls).

Errors, hidden rows and columns, and number formats that show a unit. Records are of [MS-XLS], the
file system within the file of [MS-CFB]; names of structures are theirs.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from .binary import ERRORS
from .facts import SheetFacts, format_unit
from .parts import Locked

__all__ = ["scan_legacy"]

# [MS-CFB]: numbers of sectors that end a chain, and sizes in bytes.
_LAST_SECTOR, _HEADER, _ENTRY, _IN_HEADER = 0xFFFFFFFA, 512, 128, 109

_BEGIN, _END, _SHEET, _FORMAT, _CELL_FORMAT = 0x0809, 0x000A, 0x0085, 0x041E, 0x00E0
_ROW, _COLUMNS, _PASSWORD = 0x0208, 0x007D, 0x002F
_NUMBERS = (0x0203, 0x027E)  # Number, RK
_MANY_NUMBERS, _YES_NO_OR_ERROR, _FORMULA = 0x00BD, 0x0205, 0x0006
_TEXTS, _SHARED_TEXT = 0x00FC, 0x00FD
_UNICODE = 0x0600  # version of the records in which texts have 16 bits a character


def scan_legacy(content: bytes) -> list[SheetFacts]:
    """Scan every sheet of a workbook.

    Parameters
    ----------
    content
        The file.

    Returns
    -------
    list
        Facts of each sheet, in the order in which the workbook lists its sheets: their names
        may be in any code page.

    Raises
    ------
    Locked
        Where a password is needed.
    ValueError, LookupError, struct.error
        Where the file is damaged.
    """
    stream = _workbook_stream(content)
    version, texts = _UNICODE, 0
    starts: list[int] = []
    codes = {9: "0%", 10: "0.00%"}
    styles: list[int] = []
    for kind, record in _records(stream, 0):
        if kind == _BEGIN:
            (version,) = struct.unpack_from("<H", record)
        elif kind == _PASSWORD:
            raise Locked
        elif kind == _TEXTS:
            (texts,) = struct.unpack_from("<I", record, 4)
        elif kind == _SHEET:
            starts.append(struct.unpack_from("<I", record)[0])
        elif kind == _FORMAT:
            size = 2 if version == _UNICODE else 1
            codes[struct.unpack_from("<H", record)[0]] = _text(record, 2, size, version)
        elif kind == _CELL_FORMAT:
            styles.append(struct.unpack_from("<H", record, 2)[0])
    by_code = {key: format_unit(code) for key, code in codes.items()}
    units = {at: unit for at, key in enumerate(styles) if (unit := by_code.get(key))}
    return [_scan_sheet(stream, start, units, texts) for start in starts]


def _scan_sheet(stream: bytes, start: int, units: dict[int, str], texts: int) -> SheetFacts:
    facts = SheetFacts()
    for kind, record in _records(stream, start):
        if kind == _SHARED_TEXT:
            if struct.unpack_from("<I", record, 6)[0] >= texts:
                raise ValueError("a text is missing")  # the reader would give a blank cell
        elif kind in _NUMBERS:
            row, column, style = struct.unpack_from("<3H", record)
            if style in units:
                facts.shown[row, column] = units[style]
        elif kind == _MANY_NUMBERS:
            row, column = struct.unpack_from("<2H", record)
            for at in range((len(record) - 6) // 6):
                (style,) = struct.unpack_from("<H", record, 4 + 6 * at)
                if style in units:
                    facts.shown[row, column + at] = units[style]
        elif kind == _YES_NO_OR_ERROR:
            row, column, _, code, is_error = struct.unpack_from("<3H2B", record)
            if is_error:
                facts.errors[row, column] = ERRORS.get(code, "#ERROR!")
        elif kind == _FORMULA:
            row, column, style, what, code, no_number = struct.unpack_from("<3HBxB3xH", record)
            if no_number == 0xFFFF:
                if what == 2:
                    facts.errors[row, column] = ERRORS.get(code, "#ERROR!")
            elif style in units:
                facts.shown[row, column] = units[style]
        elif kind == _ROW:
            row, flags = struct.unpack_from("<H10xH", record)
            if flags & 0x20:
                facts.hidden_rows.add(row)
        elif kind == _COLUMNS:
            first, last, flags = struct.unpack_from("<HH4xH", record)
            if flags & 1:
                facts.hidden_columns |= set(range(first, min(last, 0xFF) + 1))
    return facts


def _records(stream: bytes, at: int) -> Iterator[tuple[int, bytes]]:
    """Give kind and content of the records of one substream; those of a chart in it are not."""
    depth = 0
    while True:
        kind, size = struct.unpack_from("<2H", stream, at)
        at += 4
        if at + size > len(stream):
            raise ValueError("a record is cut short")
        depth += (kind == _BEGIN) - (kind == _END)
        if not depth:
            return
        if depth == 1:
            yield kind, stream[at : at + size]
        at += size


def _text(record: bytes, at: int, size: int, version: int) -> str:
    """A text whose count of characters takes `size` bytes (XLUnicodeString and its short form)."""
    count = int.from_bytes(record[at : at + size], "little")
    at += size
    if version != _UNICODE:
        return record[at : at + count].decode("cp1252", "replace")
    if record[at] & 1:
        return record[at + 1 : at + 1 + 2 * count].decode("utf-16-le", "replace")
    return record[at + 1 : at + 1 + count].decode("latin-1")


# --- the file system within the file ---------------------------------------------------------


def _workbook_stream(content: bytes) -> bytes:
    """The stream that holds the workbook's records."""
    shift, small_shift = struct.unpack_from("<2H", content, 30)
    if shift not in (9, 12) or small_shift != 6:
        raise ValueError("its sectors have an unknown size")
    first_entry, _, smallest, first_small, _, more, _ = struct.unpack_from("<4x7I", content, 44)
    sector = 1 << shift

    def sectors(first: int, table: list[int]) -> Iterator[int]:
        for _ in range(len(table)):
            if first >= _LAST_SECTOR:
                return
            yield first
            first = table[first]
        if first < _LAST_SECTOR:
            raise ValueError("its sectors run in a circle")

    def whole(numbers: Iterator[int]) -> bytes:
        start = max(_HEADER, sector)
        return b"".join(content[start + n * sector : start + (n + 1) * sector] for n in numbers)

    def words(block: bytes) -> list[int]:
        return list(struct.unpack(f"<{len(block) // 4}I", block[: len(block) // 4 * 4]))

    # The sectors of the table of sectors: the first are named in the header, others in a chain.
    named = words(content[76 : 76 + 4 * _IN_HEADER])
    while more < _LAST_SECTOR:
        *further, more = words(whole(iter([more])))
        named += further
        # One names 128 sectors or more; a table may be larger than it need be.
        if len(named) > len(content) // sector // 32 + 2 * _IN_HEADER:
            raise ValueError("its table of sectors is larger than the file")
    table = words(whole(number for number in named if number < _LAST_SECTOR))
    entries = whole(sectors(first_entry, table))
    found: dict[str, tuple[int, int]] = {}
    for at in range(0, len(entries) - _ENTRY + 1, _ENTRY):
        entry = entries[at : at + _ENTRY]
        (length,) = struct.unpack_from("<H", entry, 64)
        name = entry[: max(length - 2, 0)].decode("utf-16-le", "replace")
        found.setdefault(name, struct.unpack_from("<2I", entry, 116))
    if "Workbook" not in found and "Book" not in found:
        raise ValueError("it holds no workbook")
    start, size = found.get("Workbook") or found["Book"]
    if size >= smallest:
        return whole(sectors(start, table))[:size]
    small = words(whole(sectors(first_small, table)))
    root: int = struct.unpack_from("<I", entries, 116)[0]  # the first entry, however it is named
    store = whole(sectors(root, table))
    return b"".join(store[n << 6 : (n + 1) << 6] for n in sectors(start, small))[:size]
