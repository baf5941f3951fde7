"""Small files that claim a great deal, and a harmless sheet beside the register."""

import zipfile

import pytest
import xlsxwriter

from sheetcheck.intake import read_register

CELL = '<table:table-cell office:value-type="string"><text:p>CV-1</text:p></table:table-cell>'


@pytest.mark.parametrize("times", [1_048_575, 2_000_000_000])
def test_rows_that_only_repeat_are_refused(refused, tmp_path, times):
    spaces = " ".join(
        f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for name in ("office", "table", "text")
    )
    path = tmp_path / "register.ods"
    with zipfile.ZipFile(path, "w") as package:
        package.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        package.writestr(
            "content.xml",
            f"<office:document-content {spaces}><office:body><office:spreadsheet>"
            f'<table:table table:name="Conveyors"><table:table-row '
            f'table:number-rows-repeated="{times}">{CELL}</table:table-row></table:table>'
            "</office:spreadsheet></office:body></office:document-content>",
        )
    refused(path, "repeats cells")


def test_a_blank_merged_area_beside_words_is_no_table(tmp_path):
    path = tmp_path / "register.xlsx"
    with xlsxwriter.Workbook(path) as book:
        cover = book.add_worksheet("Cover")
        cover.write_column("A1", ["Notes", "Name"])
        cover.merge_range("A4:B6", "")
        page = book.add_worksheet("Conveyors")
        page.write_row("A1", ["Tag", "Belt width (mm)", "Belt speed (m/s)"])
        page.write_row("A2", ["CV-1", 900, 2.5])
    assert read_register(path).values["belt_width"].tolist() == [0.9]
