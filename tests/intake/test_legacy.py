"""Workbooks of the format before 2007 (xls): what values do not show, and damage.

``data/kept.xls`` is made by LibreOffice (see `kept`); what is read of it is compared with the same
grid as xlsx in `test_workbook`. Records below are by [MS-XLS], their container by [MS-CFB].
"""

from __future__ import annotations

import contextlib
import io
import random
import struct
from pathlib import Path

import pytest
from python_calamine import CalamineWorkbook

from sheetcheck.errors import UnusableInput
from sheetcheck.intake import read_register
from sheetcheck.intake.legacy import scan_legacy
from sheetcheck.intake.workbook import open_book

KEPT = (Path(__file__).parent / "data" / "kept.xls").read_bytes()
FREE, END = 0xFFFFFFFF, 0xFFFFFFFE


def record(kind: int, content: bytes = b"") -> bytes:
    return struct.pack("<2H", kind, len(content)) + content


def begin(version: int, kind: int) -> bytes:
    return record(0x0809, struct.pack("<2H", version, kind) + bytes(12))


def stream(cells: bytes, *, version: int = 0x0600, code: str = '0" mm"') -> bytes:
    """A workbook of one sheet, "S"; cell format 1 shows `code`."""
    if version == 0x0600:
        name, shown = b"\x01\x00S", struct.pack("<HB", len(code), 1) + code.encode("utf-16-le")
    else:
        name, shown = b"\x01S", bytes([len(code)]) + code.encode("cp1252")

    def globals_at(start: int) -> bytes:
        return (
            begin(version, 5)
            + record(0x0085, struct.pack("<IH", start, 0) + name)
            + record(0x041E, struct.pack("<H", 164) + shown)
            + b"".join(record(0x00E0, struct.pack("<2H", 0, key) + bytes(16)) for key in (0, 164))
            + record(0x000A)
        )

    return globals_at(len(globals_at(0))) + begin(version, 16) + cells + record(0x000A)


def container(
    content: bytes, *, name: str = "Workbook", root_name: str = "Root Entry", shift: int = 9
) -> bytes:
    """One stream in a file: in sectors of its own from 4096 bytes on, in small ones below."""
    sector = 1 << shift
    small = len(content) < 4096
    unit = 64 if small else sector
    blocks = [content[at : at + unit].ljust(unit, b"\0") for at in range(0, len(content), unit)]
    chain = [*range(1, len(blocks)), END]
    held = b"".join(blocks)
    held = held.ljust(-(-len(held) // sector) * sector, b"\0")
    data = len(held) // sector
    small_table = struct.pack(f"<{len(chain)}I", *chain).ljust(sector, b"\xff") if small else b""
    first_small = data if small else END
    entries = data + (1 if small else 0)

    def entry(title: str, kind: int, start: int, size: int) -> bytes:
        text = (title + "\0").encode("utf-16-le")
        head = text.ljust(64, b"\0") + struct.pack("<HBB3I", len(text), kind, 1, FREE, FREE, 1)
        return head.ljust(116, b"\0") + struct.pack("<IQ", start, size)

    root = entry(root_name, 5, 0 if small else END, len(held) if small else 0)
    directory = (root + entry(name, 2, 0, len(content))).ljust(sector, b"\0")
    table = [*range(1, data), END, *([END] if small else []), END, 0xFFFFFFFD]
    table += [FREE] * (sector // 4 - len(table))
    header = (
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
        + bytes(16)
        + struct.pack("<5H", 0x3E, 3 if shift == 9 else 4, 0xFFFE, shift, 6)
        + struct.pack("<6xII", 0, 1)
        + struct.pack("<I4xI", entries, 4096)
        + struct.pack("<4I", first_small, int(small), END, 0)
        + struct.pack("<I", entries + 1)
    )
    header = header.ljust(512, b"\xff").ljust(sector, b"\0")
    return header + held + small_table + directory + struct.pack(f"<{sector // 4}I", *table)


CELLS = (
    record(0x007D, struct.pack("<6H", 2, 300, 2560, 0, 1, 0))  # columns C to the last, hidden
    + record(0x0208, struct.pack("<6HI", 1, 0, 3, 255, 0, 0, 0x20))  # row 2, hidden
    + record(0x0203, struct.pack("<3Hd", 0, 0, 1, 900.0))  # Number
    + record(0x027E, struct.pack("<3HI", 0, 1, 1, 900 << 2 | 2))  # RK
    + record(0x00BD, struct.pack("<2H", 1, 0) + struct.pack("<HIHIH", 1, 6, 0, 6, 1))  # MulRk
    + begin(0x0600, 0x20)  # a chart within the sheet, whose cells are none of the sheet's
    + record(0x0203, struct.pack("<3Hd", 7, 7, 1, 900.0))
    + record(0x000A)
    + record(0x0205, struct.pack("<3H2B", 2, 0, 1, 0x2A, 1))  # BoolErr
    + record(0x0205, struct.pack("<3H2B", 2, 1, 1, 1, 0))
    + record(0x0006, struct.pack("<3HBxB3xH", 3, 0, 1, 2, 0x17, 0xFFFF) + bytes(8))  # Formula
    + record(0x0006, struct.pack("<3HBxB3xH", 3, 1, 1, 1, 1, 0xFFFF) + bytes(8))
    + record(0x0006, struct.pack("<3Hd", 3, 2, 1, 1.5) + bytes(8))
)


@pytest.mark.parametrize("shift", [9, 12])
@pytest.mark.parametrize("name", ["Workbook", "Book"])
@pytest.mark.parametrize("version", [0x0600, 0x0500])
@pytest.mark.parametrize(("long", "root"), [(False, "Root Entry"), (False, "R"), (True, "R")])
def test_what_values_do_not_show(shift, name, version, long, root):
    cells = CELLS + (record(0x01B6, bytes(8000)) if long else b"")
    content = container(stream(cells, version=version), name=name, root_name=root, shift=shift)
    (facts,) = scan_legacy(content)
    assert facts.shown == dict.fromkeys([(0, 0), (0, 1), (1, 0), (3, 2)], "mm")
    assert facts.errors == {(2, 0): "#N/A", (3, 0): "#REF!"}
    assert facts.hidden_rows == {1}
    assert facts.hidden_columns == set(range(2, 256))


def test_a_name_in_another_code_page_hides_no_error(tmp_path):
    """CodePage 1251; its letters are Python's own table of that code page."""
    name = "Лист".encode("cp1251")
    short, long = b"\x01S", bytes([len(name)]) + name
    book = stream(CELLS, version=0x0500)
    # The name is longer, and the sheet starts later, by the code page's record too.
    page = record(0x0042, struct.pack("<H", 1251))
    old = record(0x0085, struct.pack("<IH", book.index(begin(0x0500, 16)), 0) + short)
    start = book.index(begin(0x0500, 16)) + len(page) + len(long) - len(short)
    new = page + record(0x0085, struct.pack("<IH", start, 0) + long)
    assert old in book
    path = tmp_path / "register.xls"
    path.write_bytes(container(book.replace(old, new)))
    (grid,) = open_book(path).grids
    assert grid.sheet == "Лист"
    assert [row[0].text for row in grid.rows[2:4]] == ["#N/A", "#REF!"]


def test_a_percentage_that_the_workbook_need_not_spell_out():
    content = stream(record(0x0203, struct.pack("<3Hd", 0, 0, 1, 0.8)))
    own, built_in = (struct.pack("<2H", 0, key) + bytes(16) for key in (164, 9))
    assert own in content
    (found,) = scan_legacy(container(content.replace(own, built_in)))
    assert found.shown == {(0, 0): "1"}


def test_the_value_reader_takes_the_files_above_for_workbooks():
    """So they are no private format of ours; it gives nothing of errors."""
    book = CalamineWorkbook.from_filelike(io.BytesIO(container(stream(CELLS))))
    rows = book.get_sheet_by_name("S").to_python()
    assert rows == [[900, 900, ""], [1, 1, ""], ["", True, ""], ["", True, 1.5]]


def test_a_sheet_cut_off_is_damage():
    whole = stream(CELLS)
    for end in (len(whole) - 4, len(whole) - 30, 40):
        with pytest.raises((ValueError, struct.error)):
            scan_legacy(container(whole[:end]))


def test_a_text_that_is_missing_is_no_blank_cell():
    """LabelSst, of a workbook without a table of texts."""
    cells = record(0x00FD, struct.pack("<3HI", 0, 0, 1, 0))
    with pytest.raises(ValueError, match="text is missing"):
        scan_legacy(container(stream(cells)))


def test_sectors_in_a_circle():
    content = bytearray(KEPT)
    (first,) = struct.unpack_from("<I", KEPT, 76)
    table = 512 + 512 * first
    content[table : table + 512] = bytes(512)  # every sector is followed by the first
    with pytest.raises((ValueError, LookupError)):
        scan_legacy(bytes(content))


def test_random_damage_is_found_or_harmless():
    chance = random.Random(20260131)
    for _ in range(1500):
        harmed = bytearray(KEPT)
        for _ in range(chance.randrange(1, 6)):
            harmed[chance.randrange(len(harmed))] = chance.choice((0, 1, 0x7F, 0x80, 0xFF))
        with contextlib.suppress(ValueError, LookupError, struct.error):
            scan_legacy(bytes(harmed))


def test_a_password(tmp_path):
    """FilePass, which stands before everything that is encrypted."""
    content = stream(CELLS)
    first = begin(0x0600, 5)
    path = tmp_path / "locked.xls"
    locked = first + record(0x002F, struct.pack("<H", 1) + bytes(52)) + content[len(first) :]
    path.write_bytes(container(locked))
    with pytest.raises(UnusableInput, match=r"locked\.xls.*password"):
        read_register(path)


@pytest.mark.parametrize("share", [0.1, 0.4, 0.7, 0.95])
def test_a_workbook_cut_short(tmp_path, share):
    path = tmp_path / "cut.xls"
    path.write_bytes(KEPT[: int(share * len(KEPT))])
    with pytest.raises(UnusableInput) as caught:
        read_register(path)
    assert "cut.xls" in str(caught.value)
    assert "\n" not in str(caught.value)
