"""Excel Binary Workbooks: read like the same grid as xlsx, or refused in one clear line.

The workbooks come from `xlsb_book`, written from the specification [MS-XLSB]. What stands in
them is compared with the same grid written as xlsx by xlsxwriter, and the plain cells with what
python-calamine, a reader that shares no code with ours, gives for the same bytes.
"""

from __future__ import annotations

import contextlib
import datetime
import io
import random
import shutil
import subprocess
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import openpyxl
import pytest
from python_calamine import CalamineWorkbook
from typer.testing import CliRunner

from sheetcheck.cli import app
from sheetcheck.errors import UnusableInput
from sheetcheck.intake import read_register
from sheetcheck.intake.grid import Area, Fault, Shown
from sheetcheck.intake.limits import Allowance
from sheetcheck.intake.sheets import read_sheets
from sheetcheck.intake.workbook import open_book

from .kept import DAY, KEPT, MORNING, as_xlsx
from .told import told
from .xlsb_book import ERRORS, Error, Formula, Rich, Sheet, Styled, package, parts, record

HEAD = ["Tag", "Belt width (mm)", "Belt speed (m/s)"]
PLAIN = Sheet([HEAD, ["CV-1", 900, 1.5], ["CV-2", 1200.5, 2.25]])


def write(path, sheets: Mapping[str, Sheet] | Sheet, *, since_1904: bool = False):
    named = {"Conveyors": sheets} if isinstance(sheets, Sheet) else dict(sheets)
    path.write_bytes(package(named, since_1904=since_1904))
    return path


# --- the same register -----------------------------------------------------------------------


@pytest.mark.parametrize("since_1904", [False, True], ids=["1900", "1904"])
@pytest.mark.parametrize("form", [{}, {"inline": True}, {"short": True}], ids=str)
def test_a_register_is_read_like_the_same_grid_as_xlsx(tmp_path, form, since_1904):
    ours = told(write(tmp_path / "a.xlsb", replace(KEPT, **form), since_1904=since_1904))
    theirs = told(as_xlsx(tmp_path / "a.xlsx", KEPT, since_1904=since_1904))
    for part, expected in theirs.items():
        assert ours[part] == expected, part


def test_the_register_is_read_right(tmp_path):
    """The truth of the grid above, so that both readers cannot be wrong alike."""
    register = read_register(write(tmp_path / "kept.xlsb", KEPT))
    assert register.values["tag"].tolist() == [f"CV-10{number}" for number in range(1, 6)]
    widths = [register.value(row, "belt_width") for row in range(5)]
    assert widths == pytest.approx([0.9, 1.2, 1.05, 1.0668, None], abs=1e-12)
    assert [register.value(row, "belt_speed") for row in range(3)] == [1.5, 2.25, 2.0]
    assert [register.value(row, "tail_tension_ratio") for row in (0, 1, 3)] == [0.8, 0.455, 1.0]
    assert [register.value(row, "nip_guards") for row in (0, 2, 4)] == [True, False, True]
    assert register.value(2, "area") == "North"  # merged with the cell above
    assert register.cells.address(0, "belt_width") == "Conveyors!E9"
    assert register.cells.address(4, "tail_transition_length") == "Conveyors!G13"
    said = {problem.cells: problem.problem for problem in register.problems}
    assert said["G10",] == "holds the spreadsheet error #N/A"
    assert said["H11",] == "holds the spreadsheet error #DIV/0!"
    assert "one number" in said["G12",]
    assert "date" in said["J11",]
    assert "date" in said["J13",]
    assert "hidden" in said["C10",]


def test_a_hidden_sheet_is_read_and_marked(tmp_path):
    book = open_book(
        write(tmp_path / "a.xlsb", {"Front": Sheet([["x"]]), "Old": replace(PLAIN, hidden=True)})
    )
    assert [(grid.sheet, grid.hidden) for grid in book.grids] == [("Front", False), ("Old", True)]
    assert read_register(tmp_path / "a.xlsb").values["belt_width"].tolist() == [0.9, 1.2005]


# --- cells -----------------------------------------------------------------------------------


def grid(tmp_path, sheet: Sheet, **options):
    (only,) = open_book(write(tmp_path / "cells.xlsb", sheet, **options)).grids
    return only


NUMBERS = [
    0, 1, -1, 900, 2**29 - 1, -(2**29), 2**29, 0.01, -0.05, 1.005, 12345.67, 1.5, -2.25, 1e300,
    1 / 3, 5e-324, 123456789.12, 0.1 + 0.2,
]  # fmt: skip


@pytest.mark.parametrize("short", [False, True])
def test_numbers_in_all_their_encodings(tmp_path, short):
    kinds = {part[0] for part in _cells_of(Sheet([NUMBERS]))}
    assert kinds == {2, 5}, "short numbers and whole ones"
    assert grid(tmp_path, Sheet([NUMBERS], short=short)).rows == [NUMBERS]


def _cells_of(sheet: Sheet) -> list[bytes]:
    """Records of a sheet's cells; none of them is longer than 127 bytes."""
    content = parts({"Conveyors": sheet})["xl/worksheets/sheet1.bin"]
    at, found = content.index(record(145)) + len(record(145)), []
    while not content.startswith(record(146), at):
        end = at + 2 + content[at + 1]
        found.append(content[at:end])
        at = end
    return [cell for cell in found if cell[0]]


@pytest.mark.parametrize("form", [{}, {"inline": True}, {"short": True}], ids=str)
def test_texts(tmp_path, form):
    texts = ["CV-1", "", " spaced ", "line\nbreak", "ünïcode ½ ≥ 35°", "😀", "#N/A", "x" * 32_767]
    assert grid(tmp_path, Sheet([texts, ["last"]], **form)).rows[0] == texts


def test_other_cells(tmp_path):
    cells = [Rich("bold part"), True, False, Formula("text"), Formula(""), Formula(False), None]
    cells += [Formula(-1e-9), Styled(None, "0%"), Styled(7, '0" mm"'), Styled("7", '0" mm"')]
    expected = ["bold part", True, False, "text", "", False, "", -1e-9, "", Shown(7.0, "mm"), "7"]
    for short in (False, True):
        assert grid(tmp_path, Sheet([cells], short=short)).rows == [expected]


@pytest.mark.parametrize("wrapped", [Error, lambda text: Formula(Error(text))])
def test_errors_are_no_blanks(tmp_path, wrapped: Callable[[str], Any]):
    (row,) = grid(tmp_path, Sheet([[wrapped(text) for text in ERRORS]])).rows
    assert all(isinstance(cell, Fault) for cell in row)
    assert [cell.text for cell in row] == list(ERRORS)


@pytest.mark.parametrize("since_1904", [False, True], ids=["1900", "1904"])
def test_moments(tmp_path, since_1904):
    moments = [DAY, MORNING, datetime.date(2024, 2, 29)]
    span = Styled(1.5, "[h]:mm")
    time = Styled(0.3125, "hh:mm")
    expected = [*moments, datetime.timedelta(days=1.5), datetime.time(7, 30)]
    rows = grid(tmp_path, Sheet([[*moments, span, time]]), since_1904=since_1904).rows
    assert rows == [expected]
    assert type(rows[0][0]) is datetime.date


def test_days_of_the_year_1900_and_numbers_that_are_no_day(tmp_path):
    """ECMA-376 part 1, 18.17.4.1: day 1 is 1 January 1900, day 61 is 1 March 1900."""
    days = [Styled(number, "yyyy\\-mm\\-dd") for number in (1, 59, 61, 3_000_000, -3)]
    expected = [*(datetime.date(1900, *day) for day in ((1, 1), (2, 28), (3, 1))), 3_000_000, -3]
    assert grid(tmp_path, Sheet([days])).rows == [expected]


def test_merged_and_hidden(tmp_path):
    only = grid(tmp_path, KEPT)
    assert Area(3, 2, 3, 6) in only.merged
    assert len(only.merged) == 4
    assert only.hidden_rows == {9}
    assert only.hidden_columns == {8}


def test_plain_cells_are_what_a_second_library_reads(tmp_path):
    """Reference: python-calamine, on numbers, texts and yes/no in the long form."""
    rows = [[*NUMBERS], ["a", "b\nc", "", "ü"], [True, False, 7.5], [None, None, "late"]]
    sheet = Sheet(rows, top=4, left=3)
    for form in (sheet, replace(sheet, inline=True)):
        content = write(tmp_path / "a.xlsb", form).read_bytes()
        book = CalamineWorkbook.from_filelike(io.BytesIO(content))
        theirs = [[""] * 3 + row for row in book.get_sheet_by_index(0).iter_rows()]
        assert grid(tmp_path, form).rows == theirs


@pytest.mark.skipif(shutil.which("soffice") is None, reason="needs LibreOffice to open the file")
def test_an_office_program_reads_the_same(tmp_path):
    """Reference: what LibreOffice saves as xlsx after it has opened the binary workbook.

    It makes formulas of yes/no and errors that are constants, so here they come from formulas.
    """

    def calculated(value: Any) -> Any:
        return Formula(value) if isinstance(value, Error | bool) else value

    rows = [[calculated(value) for value in row] for row in KEPT.rows]
    path = write(tmp_path / "kept.xlsb", replace(KEPT, rows=rows))
    subprocess.run(
        [
            *("soffice", f"-env:UserInstallation=file://{tmp_path}/profile", "--headless"),
            *("--convert-to", "xlsx", "--outdir", str(tmp_path), str(path)),
        ],
        check=True,
        capture_output=True,
        timeout=120,
    )
    assert told(tmp_path / "kept.xlsx") == told(path)


# --- what cannot be read ---------------------------------------------------------------------


def refusal(path) -> str:
    with pytest.raises(UnusableInput) as caught:
        read_register(path)
    message = str(caught.value)
    assert "\n" not in message
    assert path.name in message
    assert caught.value.what_to_do
    return message


def rewritten(change: Mapping[str, Callable[[bytes], bytes] | None]) -> bytes:
    """A sound workbook with some parts changed, or left out where None."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts({"Conveyors": PLAIN}).items():
            act = change.get(name, bytes)
            if act is not None:
                archive.writestr(name, act(content))
    return file.getvalue()


BINARY = [
    "xl/workbook.bin",
    "xl/worksheets/sheet1.bin",
    "xl/styles.bin",
    "xl/sharedStrings.bin",
]


@pytest.mark.parametrize("part", BINARY)
@pytest.mark.parametrize("share", [0.0, 0.3, 0.6, 0.9])
def test_a_part_cut_short(tmp_path, part, share):
    path = tmp_path / "cut.xlsb"
    path.write_bytes(rewritten({part: lambda content: content[: int(share * len(content))]}))
    assert "cut short" in refusal(path)


def test_a_sheet_cut_off_between_records(tmp_path):
    """A whole number of records is no whole sheet: conveyors would be missing unseen."""
    path = tmp_path / "cut.xlsb"
    cells = _cells_of(PLAIN)

    def cut(content: bytes) -> bytes:
        return content[: content.index(cells[-1])]

    path.write_bytes(rewritten({"xl/worksheets/sheet1.bin": cut}))
    assert "cut short" in refusal(path)


@pytest.mark.parametrize("part", BINARY)
def test_a_missing_part(tmp_path, part):
    path = tmp_path / "missing.xlsb"
    path.write_bytes(rewritten({part: None}))
    assert "cannot be read" in refusal(path)


def test_a_package_that_does_not_say_which_part_is_the_workbook(tmp_path):
    path = tmp_path / "register.xlsb"
    path.write_bytes(rewritten({"_rels/.rels": None}))
    assert read_register(path).values["belt_width"].tolist() == [0.9, 1.2005]


def test_files_that_are_no_package(tmp_path):
    whole = package({"Conveyors": PLAIN})
    path = tmp_path / "register.xlsb"
    for content, says in [
        (b"", "empty"),
        (whole[: len(whole) // 2], "damaged"),
        (b"Tag,Belt width (mm)\nCV-1,900\n", "not a workbook"),
        # [MS-OFFCRYPTO] 2.3.4: an OLE2 file whose directory names EncryptedPackage.
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + "EncryptedPackage".encode("utf-16-le"), "password"),
    ]:
        path.write_bytes(content)
        assert says in refusal(path)


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        (record(0, (5).to_bytes(4, "little") + bytes(13)) * 2, "row 6 is out of its place"),
        (record(0, (1 << 20).to_bytes(4, "little") + bytes(13)), "row 1048577"),
        (record(2, bytes(12)), "cell of row 0 is out of its place"),
        (record(0, bytes(17)) + record(2, bytes(12)) * 2, "cell of row 1 is out of its place"),
        (record(0, bytes(17)) + record(2, b"\0\x40" + bytes(10)), "cell of row 1"),
        (record(0, bytes(17)) + record(7, bytes(8) + b"\xff" * 4), "cannot be read"),
        (record(0, bytes(17)) + record(6, bytes(8) + b"\xff\x7f\0\0"), "cut short"),
        (record(0, bytes(17)) + record(6, bytes(8) + b"\0\x80\0\0" + bytes(1 << 16)), "longer"),
        (record(0, bytes(17)) + record(5, bytes(9)), "cannot be read"),
    ],
    ids=["row twice", "row too far", "no row", "cell twice", "far column", "no text", "cut text",
         "long text", "no number"],
)  # fmt: skip
def test_records_that_make_no_sense(tmp_path, cells, says):
    path = tmp_path / "odd.xlsb"

    def put(content: bytes) -> bytes:
        return content.replace(record(145), record(145) + cells, 1)

    path.write_bytes(rewritten({"xl/worksheets/sheet1.bin": put}))
    assert says in refusal(path)


def test_cells_far_out_are_refused(tmp_path):
    sheet = Sheet([HEAD, ["CV-1", 900, 1.5], [], [None] * 16_383 + ["far"]])
    sheet = replace(sheet, rows=[*sheet.rows, *[[None] * 16_383 + ["far"]] * 1300])
    assert "exhaust memory" in refusal(write(tmp_path / "far.xlsb", sheet))


def test_one_text_in_very_many_cells_is_refused(tmp_path):
    """Each cell takes a few bytes here, and a whole text where it is handed on."""
    sheet = Sheet([["x" * 32_767] * 1000] * 12)
    assert "more text" in refusal(write(tmp_path / "text.xlsb", sheet))


def test_random_damage_is_read_or_refused():
    """In this process: what harms here would harm nobody else, and no traceback may come."""
    chance = random.Random(20260131)
    for part in BINARY * 150:

        def harm(content: bytes) -> bytes:
            harmed = bytearray(content)
            for _ in range(chance.randrange(1, 4)):
                harmed[chance.randrange(len(harmed))] = chance.choice((0, 1, 0x7F, 0x80, 0xFF))
            return bytes(harmed)

        with contextlib.suppress(UnusableInput):
            list(read_sheets(rewritten({part: harm}), "harmed.xlsb", Allowance()))


# --- the main job ----------------------------------------------------------------------------


def test_a_check_writes_the_results_alone_and_says_so(tmp_path):
    path = write(tmp_path / "register.xlsb", KEPT)
    before = path.read_bytes()
    out = tmp_path / "out"
    result = CliRunner().invoke(app, ["check", str(path), "--out", str(out)])
    assert result.exit_code == 0, result.output
    assert path.read_bytes() == before
    assert [file.name for file in out.iterdir()] == ["register.checked.xlsx"]
    (note,) = [line for line in result.output.splitlines() if "take no added sheets" in line]
    assert "register.xlsb" in note
    sheets = openpyxl.load_workbook(out / "register.checked.xlsx", read_only=True).sheetnames
    assert sheets[0] == "Check results"
    assert "Conveyors" not in sheets
