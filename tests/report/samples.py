"""Sheets and foreign workbooks that the report's tests share."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import python_calamine
import xlsxwriter

from sheetcheck.report.into_book import add_sheets
from sheetcheck.report.model import Body, Cell, Chart, Column, Link, Page, Series, SheetModel
from sheetcheck.report.skeleton import BookOptions

OPTIONS = BookOptions("An invented register", datetime(2026, 3, 14, 9, 26))

OURS = ["Check results", "Check findings"]
# What the public contract lets change in a copy.
MAY_CHANGE = {
    "[content_types].xml",
    "workbook.xml",
    "workbook.xml.rels",
    "styles.xml",
    "app.xml",
}


def png() -> bytes:
    """The smallest picture there is: one grey pixel."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    header = struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0\x80"))
        + chunk(b"IEND", b"")
    )


def result_sheets() -> list[SheetModel]:
    page = Page("register & more.xlsx", "14 March 2026")
    head = (("Results of an invented register",), ("Tag", "Verdict", "Length, m"))
    results = [
        (
            Cell("=1+1", "link", Link("Check findings", "A3", own=True)),
            Cell("falls short", "falls short"),
            Cell(1.5, "number 2"),
        ),
        (
            Cell("@TQ-C04", "link", Link("Conveyors", "B2")),
            Cell("meets", "meets"),
            None,
        ),
    ]
    findings = [("TQ-C04", "Transition", 3), ("TQ-C05", "Cleaning", 5)]
    return [
        SheetModel(
            "Check results",
            (Column(12, "tag"), Column(14, level=1), Column(10, "number 1", level=1)),
            head,
            Body.of(results),
            freeze=(2, 1),
            filtered=True,
            page=page,
        ),
        SheetModel(
            "Check findings",
            (Column(12, "tag"), Column(14), Column(10, "count")),
            head,
            Body.of(findings),
            page=page,
            charts=(
                Chart(
                    "bar",
                    "Findings",
                    "number",
                    (Series("findings", (2, 3), 0, 2, "#336699"),),
                    row=6,
                    column=0,
                    width=400,
                    height=200,
                ),
            ),
        ),
    ]


def carry(
    source: bytes, sheets: list[SheetModel] | None = None, label: str = "source.xlsx"
) -> bytes:
    """The source with result sheets added."""
    target = io.BytesIO()
    add_sheets(io.BytesIO(source), sheets or result_sheets(), target, OPTIONS, label=label)
    return target.getvalue()


def parts(package: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(package)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def repacked(package: bytes, change: Callable[[str, bytes], tuple[str, bytes] | None]) -> bytes:
    """A package with each part's name and content passed through `change`; None drops it."""
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts(package).items():
            changed = change(name, content)
            if changed is not None:
                archive.writestr(*changed)
    return target.getvalue()


def edited(package: bytes, part: str, old: bytes, new: bytes) -> bytes:
    """A package with one replacement in one part, which must be there."""

    def change(name: str, content: bytes) -> tuple[str, bytes]:
        if name == part:
            assert old in content
            content = content.replace(old, new)
        return name, content

    return repacked(package, change)


def plain_book(**options: object) -> bytes:
    """Two sheets, a date, a formula with its value, and the second sheet active."""
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, {"in_memory": True, **options})
    book.set_properties({"created": OPTIONS.created})
    first = book.add_worksheet("Conveyors")
    date = book.add_format({"num_format": "yyyy-mm-dd"})
    first.write_row(0, 0, ["Tag", "Belt width (mm)", "Installed"])
    for row, width in enumerate((900, 1200), start=1):
        first.write_string(row, 0, f"TQ-C0{row}")
        first.write_number(row, 1, width)
        first.write_datetime(row, 2, datetime(2011, 5, 17), date)
    first.write_formula(3, 1, "=SUM(B2:B3)", None, 2100)
    second = book.add_worksheet("Notes")
    second.write_string(0, 0, "invented")
    second.activate()
    book.close()
    return buffer.getvalue()


def rich_book() -> bytes:
    """A workbook with the things that libraries lose."""
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, {"in_memory": True})
    book.set_properties({"created": OPTIONS.created})
    sheet = book.add_worksheet("Conveyors")
    bold = book.add_format({"bold": True, "bg_color": "#FFEE99", "num_format": '0.0" kW"'})
    sheet.write_row(0, 0, ["Tag", "Width", "Kind"], bold)
    for row in range(1, 9):
        sheet.write_string(row, 0, f"TQ-C{row:02d}")
        sheet.write_number(row, 1, 600 + 100 * row, bold)
        sheet.write_string(row, 2, "fabric")
    sheet.write_rich_string(9, 0, "a ", bold, "rich", " text")
    sheet.data_validation("C2:C9", {"validate": "list", "source": ["fabric", "steel cord"]})
    sheet.conditional_format("B2:B9", {"type": "data_bar", "data_bar_2010": True})
    sheet.conditional_format(
        "B2:B9", {"type": "cell", "criteria": ">", "value": 900, "format": bold}
    )
    sheet.write_comment("A2", "seen on the walk-down")
    sheet.insert_image("E2", "grey.png", {"image_data": io.BytesIO(png())})
    sheet.insert_textbox("E8", "a text box")
    sheet.add_sparkline("D2", {"range": "Conveyors!B2:B9"})
    sheet.protect("secret")
    chart = book.add_chart({"type": "column"})
    chart.add_series({"categories": "=Conveyors!$A$2:$A$9", "values": "=Conveyors!$B$2:$B$9"})
    sheet.insert_chart("E12", chart)
    other = book.add_worksheet("Other list")
    other.add_table("A1:B4", {"columns": [{"header": "Tag"}, {"header": "Width"}]})
    other.set_header("&L&G", {"image_left": "grey.png", "image_data_left": io.BytesIO(png())})
    other.repeat_rows(0)
    hidden = book.add_worksheet("hidden")
    hidden.hide()
    line = book.add_chart({"type": "line"})
    line.add_series({"values": "=Conveyors!$B$2:$B$9"})
    book.add_chartsheet("Chart sheet").set_chart(line)
    book.define_name("All_widths", "=Conveyors!$B$2:$B$9")
    book.define_name("'Other list'!Local", "='Other list'!$A$1")
    book.set_custom_property("Checked by", "nobody")
    book.close()
    return buffer.getvalue()


def corpus() -> list[Path]:
    folder = Path(__file__).parents[3] / "shared" / "corpus"
    return sorted(path for path in folder.glob("*.xls[xm]"))


def raw_entries(package: bytes) -> dict[str, tuple[bytes, int]]:
    """Name to compressed bytes and checksum, read by hand from the local headers."""
    entries = {}
    with zipfile.ZipFile(io.BytesIO(package)) as archive:
        for entry in archive.infolist():
            name, extra = struct.unpack_from("<HH", package, entry.header_offset + 26)
            start = entry.header_offset + 30 + name + extra
            entries[entry.filename] = (package[start : start + entry.compress_size], entry.CRC)
    return entries


def values(package: bytes, names: list[str]) -> list[object]:
    book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(package))
    found: list[object] = []
    for name in names:
        try:
            found.append(book.get_sheet_by_name(name).to_python())
        except python_calamine.CalamineError as error:
            found.append(str(error))
    return found


def assert_nothing_else_changed(before: bytes, after: bytes) -> None:
    old, new = raw_entries(before), raw_entries(after)
    changed = {name for name in old if new.get(name) != old[name]}
    # By the last part of the name: some programs keep them in another folder than xl.
    assert {
        name.replace("\\", "/").rpartition("/")[2].casefold() for name in changed
    } <= MAY_CHANGE
    assert len(changed) <= 5
    with zipfile.ZipFile(io.BytesIO(after)) as archive:
        names = [name.replace("\\", "/").casefold() for name in archive.namelist()]
        assert len(names) == len(set(names))
        for name in set(new) - set(old):
            assert archive.read(name)
