"""Opening sources: what cannot be opened says so in one line; what values do not show is seen."""

from __future__ import annotations

import datetime
import hashlib
import io
import os
import shutil
import subprocess
import zipfile
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter

from sheetcheck.errors import UnusableInput
from sheetcheck.intake import read_register
from sheetcheck.intake.facts import format_unit
from sheetcheck.intake.grid import Fault, Shown, column_letter
from sheetcheck.intake.limits import Allowance
from sheetcheck.intake.workbook import open_book

from .kept import KEPT, as_xlsx
from .told import told

HEAD = ["Tag", "Belt width (mm)", "Belt speed (m/s)"]
ROWS = [HEAD, ["CV-1", 900, 1.5], ["CV-2", 1200, 2.5]]


def refusal(path):
    with pytest.raises(UnusableInput) as caught:
        read_register(path)
    message = str(caught.value)
    assert "\n" not in message
    assert path.name in message
    assert caught.value.what_to_do
    assert caught.value.exit_status == 2
    return message


def test_missing_file(tmp_path):
    assert "no such file" in refusal(tmp_path / "gone.xlsx")


def test_folder(tmp_path):
    assert "folder" in refusal(tmp_path)


def test_empty_file(tmp_path):
    path = tmp_path / "empty.xlsx"
    path.write_bytes(b"")
    assert "empty" in refusal(path)


def test_not_a_workbook(tmp_path):
    path = tmp_path / "picture.xlsx"
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(100))
    assert "not a workbook" in refusal(path)


def test_text_named_xlsx(tmp_path):
    path = tmp_path / "really_csv.xlsx"
    path.write_text("Tag,Belt width (mm)\nCV-1,900\n")
    assert "not a workbook" in refusal(path)


def test_truncated_workbook(build, tmp_path):
    path = build(ROWS)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    refusal(path)


def test_zip_that_is_no_workbook(tmp_path):
    path = tmp_path / "archive.xlsx"
    with zipfile.ZipFile(path, "w") as package:
        package.writestr("readme.txt", "nothing here")
    refusal(path)


def test_locked_file(build, monkeypatch):
    path = build(ROWS)

    def locked(self):
        raise PermissionError(13, "in use")

    monkeypatch.setattr(type(path), "read_bytes", locked)
    assert "open in another program" in refusal(path)


def test_password_protected_workbook(tmp_path):
    # The wrapper of an encrypted workbook: an OLE2 file whose directory names EncryptedPackage
    # ([MS-OFFCRYPTO] 2.3.4). The rest does not matter here.
    path = tmp_path / "secret.xlsx"
    head = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504)
    path.write_bytes(head + "EncryptedPackage".encode("utf-16-le") + bytes(512))
    assert "password" in refusal(path)


def test_workbook_without_cells(build):
    assert "no cells" in refusal(build([]))


def test_no_conveyor_table(build):
    message = refusal(build([["Item", "Price"], ["Rope", 3]]))
    assert "no conveyor table" in message


def test_no_tag_column(build):
    message = refusal(build([["Belt width (mm)", "Belt speed (m/s)"], [900, 1.5]]))
    assert "sheet Conveyors" in message
    assert "row 1" in message
    assert "tag" in message


def test_the_source_is_not_touched(build):
    path = build(ROWS)
    before = hashlib.sha256(path.read_bytes()).hexdigest(), os.stat(path).st_mtime_ns
    register = read_register(path)
    assert (hashlib.sha256(path.read_bytes()).hexdigest(), os.stat(path).st_mtime_ns) == before
    assert register.source.sha256 == before[0]
    assert register.source.file == path.name


def test_errors_and_formulas_without_a_value_are_problems_naming_the_cell(build):
    def spoil(book):
        sheet = book.active
        sheet["B2"] = "#DIV/0!"
        sheet["B2"].data_type = "e"
        sheet["C2"] = "=1+1"  # written without a calculated value

    register = read_register(build(ROWS, change=spoil))
    assert register.value(0, "belt_width") is None
    assert register.value(0, "belt_speed") is None
    error, formula = register.problems
    assert (error.cells, error.text, error.used) == (("B2",), "#DIV/0!", False)
    assert (formula.cells, formula.used) == (("C2",), False)
    assert "never calculated" in formula.problem
    assert "calculate" in formula.what_to_do


def test_formulas_with_a_value_are_read_by_it(tmp_path):
    path = tmp_path / "calculated.xlsx"
    book = xlsxwriter.Workbook(path)
    sheet = book.add_worksheet("Conveyors")
    sheet.write_row(0, 0, HEAD)
    sheet.write_string(1, 0, "CV-1")
    sheet.write_formula(1, 1, "=450*2", None, 900)
    sheet.write_formula(1, 2, '=""', None, "x")
    book.close()
    blank = tmp_path / "blank.xlsx"
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(blank, "w") as new:
        for name in old.namelist():  # calculated, and its value is a blank text
            new.writestr(name, old.read(name).replace(b"<v>x</v>", b"<v></v>"))
    register = read_register(blank)
    assert register.value(0, "belt_width") == 0.9
    assert register.problems == []


def test_a_formula_without_a_value_is_no_blank_cell_even_in_a_last_row_of_its_own(build):
    """The value reader ends where values end; a row must not be lost for it."""

    def add(book):
        book.active["E6"] = "=1+1"

    (grid,) = open_book(build(ROWS, change=add)).grids
    assert isinstance(grid.rows[5][4], Fault)
    assert [len(row) for row in grid.rows] == [5] * 6


@pytest.mark.parametrize(
    ("code", "unit"),
    [
        ('0.0" mm"', "mm"),
        ('#,##0\\ "kN/m"', "kN/m"),
        ('0.00" m/s";[Red]-0.00" m/s"', "m/s"),
        ("0%", "1"),
        ("0.0 %", "1"),
        ("General", None),
        ("0.00", None),
        ("dd/mm/yyyy", None),
        ('yyyy"m"', None),
        ('0" pcs"', None),
        ("@", None),
    ],
)
def test_units_in_number_formats(code, unit):
    assert format_unit(code) == unit


def test_units_that_only_the_number_format_shows(build):
    def format_cells(book):
        sheet = book.active
        sheet["B2"].number_format = '0" mm"'
        sheet["B3"].number_format = '0.00" m"'
        sheet["C2"].number_format = "0%"
        sheet["C3"].number_format = "0%"

    register = read_register(
        build(
            [["Tag", "Belt width", "Tail tension ratio"], ["CV-1", 900, 0.8], ["CV-2", 1.2, 0.45]],
            change=format_cells,
        )
    )
    assert [register.value(row, "belt_width") for row in (0, 1)] == [0.9, 1.2]
    assert [register.value(row, "tail_tension_ratio") for row in (0, 1)] == [0.8, 0.45]


def test_percentages_shown_by_format_under_a_percent_heading(build):
    def percent(book):
        book.active["B2"].number_format = "0%"

    register = read_register(
        build([["Tag", "Tail tension (% of rated)"], ["CV-1", 0.8]], change=percent)
    )
    assert register.value(0, "tail_tension_ratio") == 0.8
    assert register.problems == []


def test_the_scan_finds_what_openpyxl_says(build):
    """Outside reference: openpyxl on the same file."""

    def decorate(book):
        sheet = book.active
        sheet["A5"] = "#N/A"
        sheet["A5"].data_type = "e"
        sheet["B5"] = "=SUM(B2:B3)"
        sheet["C5"].value = 3
        sheet["C5"].number_format = '0" mm"'
        sheet.row_dimensions[2].hidden = True
        sheet.column_dimensions["C"].hidden = True
        sheet["A7"] = "merged"
        sheet["D8"] = "beside"
        sheet.merge_cells("A7:C8")

    path = build(ROWS, change=decorate)
    (grid,) = open_book(path).grids
    sheet = openpyxl.load_workbook(path).active
    faults = {
        f"{column_letter(column)}{row + 1}"
        for row, values in enumerate(grid.rows)
        for column, value in enumerate(values)
        if isinstance(value, Fault)
    }
    expected = {
        cell.coordinate for line in sheet.iter_rows() for cell in line if cell.data_type in "ef"
    }
    assert faults == expected == {"A5", "B5"}
    assert grid.rows[4][2] == Shown(3.0, "mm")
    assert {row + 1 for row in grid.hidden_rows} == {
        number for number, row in sheet.row_dimensions.items() if row.hidden
    }
    assert {column_letter(column) for column in grid.hidden_columns} == {"C"}
    (area,) = grid.merged
    (reference,) = sheet.merged_cells.ranges
    assert (area.top + 1, area.left + 1, area.bottom + 1, area.right + 1) == (
        reference.min_row,
        reference.min_col,
        reference.max_row,
        reference.max_col,
    )


def test_dates_where_numbers_belong(build):
    register = read_register(
        build([["Tag", "Lump size (mm)"], ["CV-1", datetime.date(2024, 3, 6)], ["CV-2", 75]])
    )
    assert register.value(0, "lump_size") is None
    (found,) = register.problems
    assert "date" in found.problem
    assert found.cells == ("B2",)


def test_far_cells_are_refused_before_they_are_read(build):
    def far(book):
        book.active["XFD1048576"] = 1

    assert "exhaust memory" in refusal(build(ROWS, change=far))


def test_entities_are_not_expanded(build, tmp_path):
    source = build(ROWS)
    path = tmp_path / "entities.xlsx"
    bomb = '<!DOCTYPE a [<!ENTITY x "xxxxxxxxxx">]>'
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "xl/workbook.xml":
                content = bomb.encode() + content
            new.writestr(name, content)
    try:
        register = read_register(path)
    except UnusableInput:
        return
    assert register.value(0, "tag") == "CV-1"


def test_result_sheets_of_an_earlier_run_are_not_read(build):
    register = read_register(
        build(
            {
                "Conveyors": ROWS,
                "Check results": [["Tag", "Belt width (mm)"], ["CV-9", 700]],
                "Check record": [["made by", "an earlier run"]],
            }
        )
    )
    assert register.values["tag"].tolist() == ["CV-1", "CV-2"]


# --- delimited text --------------------------------------------------------------------------


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_delimited_text(tmp_path, delimiter, encoding):
    lines = [["Tag", "Gurtbreite [mm]", "Länge [m]"], ["CV-1", "900", "48"], ["Ü-2", "1200", "96"]]
    text = "\r\n".join(delimiter.join(f'"{cell}"' for cell in line) for line in lines)
    path = tmp_path / "register.csv"
    path.write_bytes(text.encode(encoding))
    register = read_register(path)
    assert register.values["tag"].tolist() == ["CV-1", "Ü-2"]
    assert register.values["belt_width"].tolist() == [0.9, 1.2]
    assert register.values["conveyor_length"].tolist() == [48, 96]
    assert register.cells.address(1, "belt_width") == "register!B3"


def test_decimal_commas_in_delimited_text(tmp_path):
    path = tmp_path / "register.csv"
    path.write_text(
        "Tag;Bandgeschwindigkeit (m/s);Förderleistung (t/h)\nCV-1;1,5;1.200\nCV-2;2,25;850\n"
    )
    register = read_register(path)
    assert register.values["belt_speed"].tolist() == [1.5, 2.25]
    assert register.values["tonnage"].tolist() == [1200, 850]


def test_quoted_line_breaks_in_delimited_text(tmp_path):
    path = tmp_path / "register.csv"
    path.write_text('Tag,"Belt width\n(mm)",Notes\nCV-1,900,"guards\nrenewed"\n')
    register = read_register(path)
    assert register.value(0, "belt_width") == 0.9
    assert register.value(0, "notes") == "guards renewed"


# --- other workbook formats ------------------------------------------------------------------


def open_document(path, rows):
    """A minimal OpenDocument spreadsheet (OASIS ODF 1.2, part 1)."""

    def cell(value):
        if isinstance(value, str):
            return (
                f'<table:table-cell office:value-type="string"><text:p>{value}</text:p>'
                "</table:table-cell>"
            )
        return (
            f'<table:table-cell office:value-type="float" office:value="{value}">'
            f"<text:p>{value}</text:p></table:table-cell>"
        )

    body = "".join(
        "<table:table-row>" + "".join(map(cell, row)) + "</table:table-row>" for row in rows
    )
    space = "urn:oasis:names:tc:opendocument:xmlns:"
    content = (
        '<?xml version="1.0" encoding="UTF-8"?><office:document-content office:version="1.2" '
        f'xmlns:office="{space}office:1.0" xmlns:table="{space}table:1.0" '
        f'xmlns:text="{space}text:1.0"><office:body><office:spreadsheet>'
        f'<table:table table:name="Conveyors">{body}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    with zipfile.ZipFile(path, "w") as package:
        package.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        package.writestr("content.xml", content)
        package.writestr(
            "META-INF/manifest.xml",
            '<?xml version="1.0"?><manifest:manifest xmlns:manifest='
            f'"{space}manifest:1.0"><manifest:file-entry manifest:full-path="/" '
            'manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/>'
            "</manifest:manifest>",
        )


def test_open_document(tmp_path):
    path = tmp_path / "register.ods"
    open_document(path, ROWS)
    register = read_register(path)
    assert register.values["belt_width"].tolist() == [0.9, 1.2]
    assert register.cells.address(1, "belt_width") == "Conveyors!B3"


@pytest.mark.parametrize("suffix", ["xls", "ods"])
def test_other_formats_are_read_like_the_same_grid_as_xlsx(tmp_path, suffix):
    """The files that LibreOffice made: values, units, cells, errors, percentages, hidden rows."""
    expected = told(as_xlsx(tmp_path / "kept.xlsx", KEPT))
    found = told(Path(__file__).parent / "data" / f"kept.{suffix}")
    for part, value in expected.items():
        assert found[part] == value, part
    (grid,) = open_book(Path(__file__).parent / "data" / f"kept.{suffix}").grids
    (reference,) = open_book(tmp_path / "kept.xlsx").grids
    assert grid.hidden_rows == reference.hidden_rows == {9}
    assert grid.hidden_columns == reference.hidden_columns == {8}
    assert {(area.top, area.left) for area in grid.merged} == {(3, 2), (5, 4), (5, 6), (9, 3)}


@pytest.mark.skipif(shutil.which("soffice") is None, reason="needs LibreOffice to make the files")
@pytest.mark.parametrize("suffix", ["xls", "ods"])
def test_formats_written_by_an_office_program(tmp_path, suffix):
    path = as_xlsx(tmp_path / "kept.xlsx", KEPT)
    subprocess.run(
        [
            *("soffice", f"-env:UserInstallation=file://{tmp_path}/profile", "--headless"),
            *("--convert-to", suffix, "--outdir", str(tmp_path / "out"), str(path)),
        ],
        check=True,
        capture_output=True,
        timeout=120,
    )
    assert told(tmp_path / "out" / f"kept.{suffix}") == told(path)


def test_a_workbook_under_a_wrong_ending(build, tmp_path):
    path = tmp_path / "register.xls"
    path.write_bytes(build(ROWS).read_bytes())
    assert read_register(path).values["belt_width"].tolist() == [0.9, 1.2]


def test_sheet_parts_are_read_in_any_packaging(build, tmp_path):
    """Absolute targets and stored parts, as other programs write them."""
    path = tmp_path / "other.xlsx"
    with zipfile.ZipFile(build(ROWS)) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name.endswith("workbook.xml.rels"):
                content = content.replace(b'Target="worksheets/', b'Target="/xl/worksheets/')
            new.writestr(name, content)
    assert read_register(path).values["belt_width"].tolist() == [0.9, 1.2]
    assert io.BytesIO(path.read_bytes()).read(2) == b"PK"


def repacked(path, change):
    """The same package, each part's name and content passed through `change`."""
    with zipfile.ZipFile(io.BytesIO(path.read_bytes())) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            new.writestr(*change(name, old.read(name)))


SPELLINGS = {
    "the sheet": lambda name: name.replace("sheet1.xml", "SHEET1.xml"),
    "its folder": lambda name: name.replace("worksheets", "Worksheets"),
    "the workbook": lambda name: name.replace("workbook.xml", "Workbook.xml"),
    "relationships": lambda name: name.replace("_rels", "_Rels"),
    "slashes": lambda name: name.replace("/", "\\"),
}


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_errors_are_seen_however_part_names_are_spelled(build, spelling):
    """Part names are equal whatever their case: ECMA-376 part 2, 6.2.2.3 (clause from memory)."""

    def change(book):
        book.active["B2"], book.active["C3"] = "#DIV/0!", "=1/0"
        book.active["B2"].data_type = "e"

    path = build(ROWS, change=change)
    repacked(path, lambda name, content: (SPELLINGS[spelling](name), content))
    register = read_register(path)
    assert {problem.cells for problem in register.problems} == {("B2",), ("C3",)}
    assert [register.value(row, "belt_width") for row in (0, 1)] == [None, 1.2]


def test_a_sheet_whose_errors_cannot_be_looked_for_is_refused(build):
    """A line break in its name, which one reader of XML takes for a blank and another does not."""
    path = build({"Belt list": ROWS})
    repacked(path, lambda name, content: (name, content.replace(b"Belt list", b"Belt\nlist")))
    assert "nothing tells which part holds its sheet" in refusal(path)


def test_cells_of_all_sheets_together_are_limited(build):
    far = {f"Sheet {n}": [["x"]] for n in range(3)}

    def change(book):
        for sheet in book:
            sheet.cell(400, 100).value = "y"

    path = build(far, change=change)
    assert len(open_book(path, Allowance(cells=120_000)).grids) == 3
    with pytest.raises(UnusableInput, match=r"Sheet 2: has, with the sheets before it.*--room"):
        open_book(path, Allowance(cells=119_999))
