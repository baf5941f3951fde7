"""Delimited text: encodings, delimiters, line ends and quotation marks; what is torn is not used.

Quoting is by RFC 4180, and as spreadsheet programs and people write it.
"""

from __future__ import annotations

import os
import tracemalloc
from pathlib import Path

import pytest

from sheetcheck.errors import UnusableInput
from sheetcheck.intake import read_register
from sheetcheck.intake.limits import Allowance
from sheetcheck.intake.workbook import open_book

LINES = ["Tag{0}Gurtbreite [mm]{0}Länge [m]", "CV-1{0}900{0}48", "Ü-2{0}1200{0}96"]


def read(tmp_path, content: bytes | str):
    path = tmp_path / "register.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_register(path)


def values(register, *names):
    return [[register.value(row, name) for name in names] for row in range(len(register))]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"], ids=["unix", "windows", "old mac"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252"]
)
def test_encodings_delimiters_and_line_ends(tmp_path, encoding, delimiter, end):
    text = end.join(line.format(delimiter) for line in LINES)
    register = read(tmp_path, text.encode(encoding))
    expected = [["CV-1", 0.9, 48], ["Ü-2", 1.2, 96]]
    assert values(register, "tag", "belt_width", "conveyor_length") == expected
    assert register.cells.address(1, "conveyor_length") == "register!C3"


@pytest.mark.parametrize("mark", ["\ufeff", ""])
@pytest.mark.parametrize("said", ["sep=|", "SEP=|"])
def test_a_line_that_names_the_delimiter_is_counted(tmp_path, mark, said):
    register = read(tmp_path, f"{mark}{said}\r\nTag|Belt width (mm)\r\nCV-1|900\r\n")
    assert values(register, "tag", "belt_width") == [["CV-1", 0.9]]
    assert register.cells.address(0, "belt_width") == "register!B3"


@pytest.mark.parametrize(("delimiter", "quote"), [(";", ""), ("\t", ""), ("|", ""), (",", '"')])
def test_decimal_commas(tmp_path, delimiter, quote):
    rows = [
        ["Tag", "Bandgeschwindigkeit (m/s)", "Förderleistung (t/h)", "Achsabstand (m)"],
        *(["B1", "1,5", "1.200,5", "10,25"], ["B2", "2,25", "850,0", "120,5"]),
    ]
    text = "\n".join(delimiter.join(f"{quote}{cell}{quote}" for cell in row) for row in rows)
    found = values(read(tmp_path, text), "belt_speed", "tonnage", "conveyor_length")
    assert found == [[1.5, 1200.5, 10.25], [2.25, 850, 120.5]]


def test_a_title_with_commas_does_not_make_the_comma_the_delimiter(tmp_path):
    text = "Register, plant, 2024, rev 3\nTag;Belt width (mm)\nCV-1;900\nCV-2;1000\n"
    assert values(read(tmp_path, text), "belt_width") == [[0.9], [1.0]]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_quoted_line_breaks_keep_rows_together(tmp_path, end):
    text = end.join(
        ["Tag,Notes,Belt width (mm)", f'CV-1,"guards{end}renewed, ""all""",900', "CV-2,,1000"]
    )
    register = read(tmp_path, text)
    expected = [['guards renewed, "all"', 0.9], [None, 1.0]]
    assert values(register, "notes", "belt_width") == expected
    assert register.cells.address(1, "belt_width") == "register!C3"


@pytest.mark.parametrize("cells", ['"36""","4\' 6"""', '36",4\' 6"', '"36"" ", "4\' 6"""'])
def test_inch_marks(tmp_path, cells):
    found = values(
        read(tmp_path, f"Tag,Belt width,Skirt length\nCV-1,{cells}\n"),
        *("belt_width", "skirt_length"),
    )
    assert found == [[pytest.approx(0.9144), pytest.approx(1.3716)]]


def test_a_blank_before_a_quotation_mark(tmp_path):
    text = 'Tag, "Notes", "Belt width (mm)"\nCV-1, "1,2", 900\n'
    assert values(read(tmp_path, text), "notes", "belt_width") == [["1,2", 0.9]]


@pytest.mark.parametrize(
    "text",
    [
        'Tag,Notes,Belt width (mm)\nCV-1,"not closed,900\nCV-2,x,1000\n',
        'Tag,Notes,Belt width (mm)\nCV-1,"a" b,900\nCV-2,"36,1000\nCV-3,"42,1200\n',
        'Tag,Notes,Belt width (mm)\nCV-1,x,900\nCV-2,"x,1000',
    ],
    ids=["rows swallowed", "two of them", "the last row"],
)
def test_a_quotation_mark_that_is_not_closed(tmp_path, text):
    with pytest.raises(UnusableInput, match=r"register.csv.*line \d.*not closed"):
        read(tmp_path, text)


def test_rows_torn_by_a_decimal_comma_are_not_read_under_wrong_headings(tmp_path):
    text = (
        "Conveyor register\nTag,Belt speed (m/s),Belt width (mm),Conveyor length (m)\n"
        "CV-1,1,5,1200,48\nCV-2,2.5,1000,60\nCV-3,2.5,1000,60\nCV-4,1,5,1200,\n"
    )
    register = read(tmp_path, text)
    names = ("tag", "belt_speed", "belt_width", "conveyor_length")
    assert values(register, *names) == [
        ["CV-1", None, None, None],
        *(["CV-2", 2.5, 1.0, 60], ["CV-3", 2.5, 1.0, 60]),
        ["CV-4", None, None, None],
    ]
    told = [cell for problem in register.problems for cell in problem.cells]
    assert sorted(told) == ["B3", "B6", "C3", "C6", "D3", "D6"]
    assert all("more cells than" in problem.problem for problem in register.problems)


def test_a_torn_row_keeps_its_tag_wherever_the_tag_stands(tmp_path):
    text = (
        "Area,Tag,Belt speed (m/s),Belt width (mm)\n"
        "North,CV-1,1,5,1200\nNorth,CV-2,2.5,1000\nSouth,CV-3,2.5,1000\n"
    )
    register = read(tmp_path, text)
    assert values(register, "tag", "area", "belt_speed", "belt_width") == [
        ["CV-1", None, None, None],
        ["CV-2", "North", 2.5, 1.0],
        ["CV-3", "South", 2.5, 1.0],
    ]
    assert {problem.cells for problem in register.problems} == {("A2",), ("C2",), ("D2",)}


def test_a_text_torn_throughout_is_refused(tmp_path):
    text = "Tag,Belt speed (m/s),Belt width (mm)\nCV-1,1,5,1200\nCV-2,2,5,1000\n"
    with pytest.raises(UnusableInput, match=r"register.csv, row 2 and others: has more cells"):
        read(tmp_path, text)


@pytest.mark.parametrize("more", [("", ","), (",,", ",,"), ("", "")])
def test_blank_cells_after_all_rows_are_no_tear(tmp_path, more):
    head, body = more
    text = f"Tag,Belt width (mm){head}\nCV-1,900{body}\nCV-2,1000{body}\n"
    register = read(tmp_path, text)
    assert values(register, "belt_width") == [[0.9], [1.0]]
    assert register.problems == []


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a POSIX system")
def test_a_file_name_that_is_no_text(tmp_path):
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/reg\xff.csv"))
    try:
        path.write_text(LINES[0].format(",") + "\nCV-1,900,48\n", encoding="utf-8")
    except OSError:
        pytest.skip("this file system takes text names only")
    register = read_register(path)
    assert register.cells.address(0, "tag") == "'reg\ufffd'!A2"
    "".join([register.source.file, *register.source.sheets_read]).encode()


@pytest.mark.parametrize("first", ["Tag", '"36" belt'], ids=["strictly", "as people write"])
def test_a_text_of_too_many_cells_is_given_up_while_it_is_read(tmp_path, first):
    """The text is held at 6 bytes a character; each of its 8 million cells would take 8 more."""
    path = tmp_path / "register.csv"
    path.write_bytes(first.encode() + (b"," * 9_999 + b"\n") * 800)
    tracemalloc.start()
    try:
        with pytest.raises(UnusableInput, match="too many to read"):
            open_book(path, Allowance(cells=1e5))
        assert tracemalloc.get_traced_memory()[1] < 9 * path.stat().st_size
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize(
    "content",
    [
        b"Tag,Belt width (mm)\nCV-1,900\0\n",
        b"\0\1\2\3" * 50,
        "Tag,Belt width (mm)\nCV-1,900\n".encode("utf-32-le"),
    ],
    ids=["a nought within", "noise", "32 bits without a mark"],
)
def test_what_is_no_text(tmp_path, content):
    with pytest.raises(UnusableInput, match=r"register\.csv: is not a workbook and not text"):
        read(tmp_path, content)
