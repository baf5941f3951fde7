"""OpenDocument spreadsheets written by hand, by OASIS ODF 1.2 part 1: what values do not show."""

from __future__ import annotations

import io
import zipfile

import pytest

from sheetcheck.errors import UnusableInput
from sheetcheck.intake import read_register
from sheetcheck.intake.grid import Area, Fault, Shown
from sheetcheck.intake.workbook import open_book

_SPACE = "urn:oasis:names:tc:opendocument:xmlns:"
SPACES = (
    " ".join(
        f'xmlns:{name}="{_SPACE}{long}:1.0"'
        for name, long in [
            *(("office", "office"), ("table", "table"), ("text", "text"), ("style", "style")),
            ("number", "datastyle"),
        ]
    )
    + ' xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"'
)
HEAD = "".join(
    f'<table:table-cell office:value-type="string"><text:p>{text}</text:p></table:table-cell>'
    for text in ("Tag", "Belt width", "Tail tension (% of rated)")
)


def number(value: float, more: str = "", shown: str = "", kind: str = "float") -> str:
    return (
        f'<table:table-cell office:value-type="{kind}" office:value="{value}" {more}>'
        f"<text:p>{shown or value}</text:p></table:table-cell>"
    )


def text(value: str, more: str = "") -> str:
    return (
        f'<table:table-cell office:value-type="string" {more}><text:p>{value}</text:p>'
        "</table:table-cell>"
    )


def row(*cells: str, more: str = "") -> str:
    return f"<table:table-row {more}>{''.join(cells)}</table:table-row>"


def write(tmp_path, body: str, *, automatic: str = "", styles: str = ""):
    """A package with one table, "Conveyors"; `body` holds its columns and rows."""
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {SPACES}>'
        f"<office:automatic-styles>{automatic}</office:automatic-styles><office:body>"
        f'<office:spreadsheet><table:table table:name="Conveyors">{body}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as package:
        package.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        package.writestr("content.xml", content)
        package.writestr(
            "META-INF/manifest.xml",
            f'<manifest:manifest xmlns:manifest="{_SPACE}manifest:1.0"><manifest:file-entry '
            'manifest:full-path="/" '
            'manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/>'
            "</manifest:manifest>",
        )
        if styles:
            package.writestr(
                "styles.xml",
                f"<office:document-styles {SPACES}><office:styles>{styles}</office:styles>"
                "</office:document-styles>",
            )
    path = tmp_path / "register.ods"
    path.write_bytes(file.getvalue())
    return path


def rows(path):
    (grid,) = open_book(path).grids
    return grid.rows


MILLIMETRES = (
    '<number:number-style style:name="N1"><number:number/><number:text> mm</number:text>'
    "</number:number-style>"
)


def cell_style(name: str, *, shows: str = "", parent: str = "Default") -> str:
    data = f'style:data-style-name="{shows}"' if shows else ""
    return (
        f'<style:style style:name="{name}" style:family="table-cell" '
        f'style:parent-style-name="{parent}" {data}/>'
    )


def test_errors_are_no_blanks_and_no_noughts(tmp_path):
    error = 'table:formula="of:=1/0" office:string-value=""'
    cells = [
        text("#DIV/0!", error + ' calcext:value-type="error"'),
        number(0, 'table:formula="of:=NA()"', "#N/A"),  # a nought, were it not for what is shown
        number(0, 'table:formula="of:=A1"', "Err:522"),
        text("#N/A"),  # typed
        number(2, 'table:formula="of:=1+1"'),
    ]
    (found,) = rows(write(tmp_path, row(*cells)))
    assert [cell.text for cell in found[:3]] == ["#DIV/0!", "#N/A", "Err:522"]
    assert all(isinstance(cell, Fault) for cell in found[:3])
    assert found[3:] == ["#N/A", 2.0]


def test_an_error_alone_in_the_last_row(tmp_path):
    error = text("#N/A", 'table:formula="of:=NA()" office:string-value=""')
    found = rows(write(tmp_path, row(text("a")) + row() + row("<table:table-cell/>", error)))
    assert isinstance(found[2][1], Fault)
    assert found[0] == ["a", ""]


def test_formulas_never_calculated(tmp_path):
    body = row(HEAD) + row(text("CV-1"), '<table:table-cell table:formula="of:=900*1"/>')
    register = read_register(write(tmp_path, body))
    assert "never calculated" in register.problems[0].problem
    assert register.problems[0].cells == ("B2",)


def test_percentages_and_units_of_formats(tmp_path):
    """From the cell's style, its parent, the row's, the column's; by repetition; by sections."""
    automatic = (
        cell_style("own", shows="N1")
        + cell_style("child", parent="named")
        + cell_style("sections", shows="N2")
        + cell_style("plain")
        + '<number:number-style style:name="N2P0"><number:text> m</number:text>'
        "</number:number-style>"
        '<number:number-style style:name="N2"><number:text>negative</number:text>'
        '<style:map style:condition="value()&gt;=0" style:apply-style-name="N2P0"/>'
        "</number:number-style>"
    )
    column = '<table:table-column table:default-cell-style-name="own"/>'
    others = '<table:table-column table:number-columns-repeated="3"/>'
    body = (
        column
        + others
        + row(number(900), number(900))
        + row(number(0.8, kind="percentage"), number(1.2, 'table:style-name="sections"'))
        + row(number(1, 'table:style-name="plain"'), number(2, 'table:style-name="child"'))
        + row(number(3), number(4), more='table:default-cell-style-name="own"')
        + row(
            number(5, 'table:style-name="own" table:number-columns-repeated="3"'),
            more='table:number-rows-repeated="2"',
        )
    )
    styles = MILLIMETRES + cell_style("named", shows="N1")
    found = rows(write(tmp_path, body, automatic=automatic, styles=styles))
    mm = [Shown(float(value), "mm") for value in (900, 2, 3, 4, 5)]
    assert found == [
        [mm[0], 900.0, ""],
        [Shown(0.8, "1"), Shown(1.2, "m"), ""],
        [1.0, mm[1], ""],
        [mm[2], mm[3], ""],
        [mm[4]] * 3,
        [mm[4]] * 3,
    ]


def test_a_percentage_under_a_percent_heading_is_the_fraction(tmp_path):
    body = row(HEAD) + row(text("CV-1"), text("900 mm"), number(0.8, kind="percentage"))
    register = read_register(write(tmp_path, body))
    assert register.value(0, "tail_tension_ratio") == 0.8
    assert register.value(0, "belt_width") == 0.9
    assert register.problems == []


def test_merged_and_hidden_and_where_cells_stand(tmp_path):
    """A table that starts below and right of A1, after repeated blank rows and columns."""
    body = (
        '<table:table-column table:number-columns-repeated="3"/>'
        '<table:table-column table:visibility="collapse" table:number-columns-repeated="2"/>'
        + row("<table:table-cell/>", more='table:number-rows-repeated="6"')
        + row('<table:table-cell table:number-columns-repeated="2"/>', HEAD)
        + row(
            '<table:table-cell table:number-columns-repeated="2"/>',
            text("CV-1", 'table:number-rows-spanned="2" table:number-columns-spanned="1"'),
            text("900 mm"),
            more='table:visibility="filter"',
        )
        + row('<table:covered-table-cell table:number-columns-repeated="3"/>', text("1 m"))
        + row(more='table:visibility="collapse" table:number-rows-repeated="1000000"')
    )
    path = write(tmp_path, body)
    (grid,) = open_book(path).grids
    assert grid.merged == [Area(7, 2, 8, 2)]
    assert grid.hidden_rows == {7}
    assert grid.hidden_columns == {3, 4}
    register = read_register(path)
    assert register.cells.address(0, "belt_width") == "Conveyors!D8"
    assert register.value(0, "belt_width") == 0.9


def test_a_table_inside_a_cell_is_no_sheet(tmp_path):
    inner = f'<table:table table:name="inner">{row(number(7, kind="percentage"))}</table:table>'
    cell = f"<table:table-cell>{inner}</table:table-cell>"
    path = write(tmp_path, row(HEAD) + row(text("CV-1"), text("900 mm"), number(80)) + row(cell))
    register = read_register(path)
    assert register.source.sheets == ("Conveyors",)
    assert register.value(0, "tail_tension_ratio") == 0.8


@pytest.mark.parametrize("part", ["content.xml", "encrypted-package"])
def test_a_password(tmp_path, part):
    """OASIS ODF 1.2 part 3: parts that a password locks; by 1.3 all of them in one."""
    path = tmp_path / "locked.ods"
    with zipfile.ZipFile(path, "w") as package:
        package.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        package.writestr(part, bytes(range(256)))
        package.writestr(
            "META-INF/manifest.xml",
            f'<manifest:manifest xmlns:manifest="{_SPACE}manifest:1.0"><manifest:file-entry '
            f'manifest:full-path="{part}" manifest:media-type="text/xml">'
            "<manifest:encryption-data/></manifest:file-entry></manifest:manifest>",
        )
    with pytest.raises(UnusableInput, match=r"locked\.ods.*password"):
        open_book(path)


@pytest.mark.parametrize(
    ("body", "says"),
    [
        (row(number(1), more='table:number-rows-repeated="-4"'), "damaged|cannot be read"),
        (row(number(1, 'table:number-columns-repeated="x"')), "damaged|cannot be read"),
        (
            row(
                number(1, 'table:number-columns-repeated="16000"', kind="percentage"),
                more='table:number-rows-repeated="1000000"',
            ),
            "more than 20,000,000 cells",
        ),
        (row(number(1)).replace("</table:table-row>", ""), "damaged"),
    ],
    ids=["fewer than no rows", "no number", "far too many", "cut"],
)
def test_what_cannot_be_read(tmp_path, body, says):
    with pytest.raises(UnusableInput, match=says) as caught:
        open_book(write(tmp_path, body))
    assert "register.ods" in str(caught.value)
