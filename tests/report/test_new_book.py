"""A fresh workbook, read back with libraries that had no part in writing it."""

from __future__ import annotations

import io
from dataclasses import replace

import openpyxl
import pytest
import python_calamine
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from sheetcheck.report.model import (
    MAX_CELL_TEXT,
    Area,
    Body,
    Cell,
    Column,
    DropDown,
    Link,
    Number,
    Page,
    SheetModel,
    continued,
)
from sheetcheck.report.new_book import write_book
from sheetcheck.report.rows import safe_text
from sheetcheck.report.style import STYLES
from tests.report.samples import OPTIONS, parts, result_sheets


def written(sheets: list[SheetModel], **options: bool) -> bytes:
    target = io.BytesIO()
    write_book(sheets, target, replace(OPTIONS, **options))
    return target.getvalue()


def opened(package: bytes) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(package))


def one_column(*values: object) -> SheetModel:
    return SheetModel(
        "Check results", (Column(20),), (("Head",),), Body.of([(value,) for value in values])
    )


def test_values_styles_and_links_read_back() -> None:
    book = opened(written(result_sheets()))
    assert book.sheetnames == ["Check results", "Check findings"]
    sheet = book["Check results"]
    assert [[cell.value for cell in row] for row in sheet["A2:C4"]] == [
        ["Tag", "Verdict", "Length, m"],
        ["=1+1", "falls short", 1.5],
        ["@TQ-C04", "meets", None],
    ]
    assert sheet["B3"].fill.fgColor.rgb == "FF7F2704"
    assert sheet["C3"].number_format == "#,##0.00_)"
    assert sheet["A3"].hyperlink.location == "'Check findings'!A3"
    assert sheet["A4"].hyperlink is None  # no sheet of a source is there
    assert sheet.freeze_panes == "B3"
    assert sheet.auto_filter.ref == "A2:C4"
    assert sheet.print_title_rows == "$2:$2"
    assert sheet.page_setup.orientation == "landscape"
    assert sheet.page_setup.fitToHeight == 0
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert sheet.oddFooter.left.text == "register && more.xlsx – &A"
    assert sheet.column_dimensions["B"].outlineLevel == 1


def test_a_sheet_with_a_scale_breaks_where_it_says() -> None:
    # ECMA-376 part 1, 18.3.1.3: a break stands behind the row or column of its number.
    page = Page(paper="A3", scale=80)
    sheet = replace(
        result_sheets()[0], row_breaks=(3,), column_breaks=(2,), printed_columns=2, page=page
    )
    book = opened(written([sheet, result_sheets()[1]]))
    first, second = book.worksheets
    assert [brk.id for brk in first.row_breaks.brk] == [3]
    assert [brk.id for brk in first.col_breaks.brk] == [2]
    assert (first.page_setup.scale, first.page_setup.paperSize) == (80, 8)
    assert not first.sheet_properties.pageSetUpPr.fitToPage
    assert first.print_area == "'Check results'!$A$1:$B$4"
    assert second.sheet_properties.pageSetUpPr.fitToPage
    assert second.page_setup.paperSize == 9


def test_nothing_is_a_formula() -> None:
    texts = ["=1+1", "+1", "-1", "@SUM(A1)", "{=1}", "http://x.invalid", "=cmd|' /C calc'!A0"]
    package = written([one_column(*texts)])
    sheet = opened(package).active
    assert [sheet.cell(row, 1).value for row in range(2, 9)] == texts
    assert {sheet.cell(row, 1).data_type for row in range(2, 9)} == {"s"}
    assert b"<f>" not in parts(package)["xl/worksheets/sheet1.xml"]
    assert sheet._hyperlinks == []


@given(st.text(alphabet=st.characters(exclude_categories=["Cs"]), min_size=1, max_size=40))
def test_any_text_reads_back_as_it_was(text: str) -> None:
    # ECMA-376 part 1, 22.9.2.19: what XML cannot hold is escaped; the reader here undoes it.
    package = written([one_column(text)])
    book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(package))
    assert book.get_sheet_by_index(0).to_python()[1:] == [[text]]


def test_lone_surrogates_become_the_replacement_character() -> None:
    assert opened(written([one_column("a\ud800b")])).active["A2"].value == "a\ufffdb"


def test_a_text_too_long_for_a_cell_says_that_it_was_cut() -> None:
    text = safe_text("x" * 40_000)
    assert len(text) == MAX_CELL_TEXT
    assert text.endswith(" … [cut here: 40,000 characters do not fit into a cell]")
    assert safe_text("y" * MAX_CELL_TEXT) == "y" * MAX_CELL_TEXT
    # Outside the basic plane a character counts twice.
    assert len(safe_text("😀" * 20_000).encode("utf-16-le")) // 2 <= MAX_CELL_TEXT


@pytest.mark.parametrize("value", [float("nan"), float("inf"), None, ""])
def test_what_is_no_number_leaves_the_cell_empty(value: float | str | None) -> None:
    assert opened(written([one_column(value)])).active["A2"].value is None


def test_the_same_sheets_give_the_same_bytes() -> None:
    assert written(result_sheets()) == written(result_sheets())


def test_charts_refer_to_our_sheet_and_carry_their_values() -> None:
    chart = parts(written(result_sheets()))["xl/charts/chart1.xml"].decode()
    assert "<c:f>'Check findings'!$C$3:$C$4</c:f>" in chart
    assert "<c:v>TQ-C05</c:v>" in chart
    assert "<c:v>5</c:v>" in chart


def test_a_chart_leaves_no_look_to_the_program_that_opens_it() -> None:
    (results, findings) = result_sheets()
    bars = findings.charts[0]
    points = replace(bars, kind="line", row=30)
    sheet = replace(findings, charts=(bars, points))
    written_parts = parts(written([results, sheet]))
    charts = [written_parts[f"xl/charts/chart{number}.xml"] for number in (1, 2)]
    space = "{http://schemas.openxmlformats.org/drawingml/2006/chart}"
    for chart in map(etree.fromstring, charts):
        # What is left out is "true" or "zero" by the schema: loops, and lines to the origin.
        (blanks,) = chart.iter(f"{space}dispBlanksAs")
        assert blanks.get("val") == "gap"
        for drawn in chart.iter(f"{space}scatterChart"):
            for series in drawn.iter(f"{space}ser"):
                assert series[-1].tag == f"{space}smooth"
                assert series[-1].get("val") == "0"
        axes = [*chart.iter(f"{space}valAx"), *chart.iter(f"{space}catAx")]
        assert len(axes) == 2
        for axis in axes:
            assert axis.find(f"{space}minorTickMark").get("val") == "none"
    assert sum(b"scatterChart" in chart for chart in charts) == 1


def test_links_past_the_limit_become_plain_text(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sheetcheck.report.rows.MAX_LINKS", 3)
    linked = [Cell(f"T{n}", "link", Link("Check results", "A1", own=True)) for n in range(5)]
    sheet = opened(written([one_column(*linked)])).active
    assert [sheet.cell(row, 1).hyperlink is not None for row in range(2, 7)] == [True] * 3 + [
        False
    ] * 2
    assert [sheet.cell(row, 1).font.underline for row in (2, 6)] == ["single", None]


def test_rows_past_the_limit_go_on_in_a_further_sheet() -> None:
    sheet = one_column(*range(10))
    further = continued(sheet, limit=5)
    assert [part.name for part in further] == [
        "Check results",
        "Check results, part 2",
        "Check results, part 3",
    ]
    assert [len(part) for part in further] == [5, 5, 3]
    book = opened(written(further))
    values = [
        cell.value
        for page in book.worksheets
        for (cell,) in page.iter_rows(min_row=2)
        if cell.value is not None
    ]
    assert values == list(range(10))
    assert continued(sheet, limit=11) == [sheet]


def test_drop_downs_ranges_notes_and_merges() -> None:
    sheet = replace(
        one_column("yes"),
        merges=(Area(4, 0, 4, 2),),
        columns=(Column(20),) * 3,
        notes={(0, 0): "help"},
        drop_downs=(
            DropDown(Area(1, 0, 9, 0), words=("yes", "no")),
            DropDown(Area(1, 1, 9, 1), number=Number(0.3, 2.6, "0.3 to 2.6 m")),
        ),
    )
    page = opened(written([sheet])).active
    assert page["A1"].comment.text == "help"
    assert [str(merged) for merged in page.merged_cells.ranges] == ["A5:C5"]
    words, number = page.data_validations.dataValidation
    assert (words.type, words.formula1, str(words.sqref)) == ("list", '"yes,no"', "A2:A10")
    assert (number.type, number.formula1, number.formula2) == ("decimal", "0.3", "2.6")


def test_protection_only_when_asked_for() -> None:
    assert not opened(written(result_sheets())).active.protection.sheet
    protected = opened(written(result_sheets(), protect=True)).active.protection
    assert protected.sheet
    assert not protected.autoFilter  # an unset bar is a permission


def test_one_style_name_is_one_look_in_the_file() -> None:
    sheet = SheetModel(
        "Check results",
        (Column(20),),
        (),
        Body.of([(Cell(name, name, Link("Check results", "A1", own=True)),) for name in STYLES]),
        repeat=0,
    )
    page = opened(written([sheet])).active
    for row, (name, look) in enumerate(STYLES.items(), start=1):
        cell = page.cell(row, 1)
        assert cell.value == name
        assert bool(cell.font.bold) == bool(look.get("bold"))
        assert cell.font.size == look["font_size"]
        assert cell.font.color.rgb == "FF" + look["font_color"].removeprefix("#")
        if "bg_color" in look:
            assert cell.fill.fgColor.rgb == "FF" + look["bg_color"].removeprefix("#")
        assert cell.number_format == look.get("num_format", "General")
        assert bool(cell.alignment.wrap_text) == bool(look.get("text_wrap"))
