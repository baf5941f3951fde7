"""Packages of odd but allowed build, given result sheets: sound again, and nothing is lost."""

from __future__ import annotations

import io
import struct
import zipfile
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from lxml import etree

from sheetcheck.report.into_book import add_sheets
from sheetcheck.report.model import Body, Cell, Column, Link, SheetModel
from sheetcheck.report.opc import MAIN, CannotCarry
from sheetcheck.report.self_check import check_copy
from tests.report.samples import (
    OPTIONS,
    carry,
    edited,
    parts,
    plain_book,
    raw_entries,
    repacked,
    result_sheets,
    rich_book,
    values,
)

TYPES, WORKBOOK, STYLES = "[Content_Types].xml", "xl/workbook.xml", "xl/styles.xml"
RELATIONSHIPS = b"application/vnd.openxmlformats-package.relationships+xml"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"


def self_checked(source: bytes, folder: Path) -> bytes:
    """What is written, once the program's own check of it has passed."""
    before, after = folder / "source.xlsx", folder / "copy.xlsx"
    before.write_bytes(source)
    with before.open("rb") as file, after.open("w+b") as target:
        carried = add_sheets(file, result_sheets(), target, OPTIONS, label="source.xlsx")
    check_copy(before, after, carried, "source.xlsx")
    return after.read_bytes()


def types_each_relationship_part(source: bytes) -> bytes:
    default = b'<Default Extension="rels" ContentType="%s"/>' % RELATIONSHIPS
    single = b"".join(
        b'<Override PartName="/%s" ContentType="%s"/>' % (name.encode(), RELATIONSHIPS)
        for name in parts(source)
        if name.endswith(".rels")
    )
    return edited(source, TYPES, default, single)


def types_a_part_that_is_not_there(source: bytes) -> bytes:
    return edited(
        source,
        TYPES,
        b"</Types>",
        b'<Override PartName="/xl/gone.xml" ContentType="a/b"/></Types>',
    )


@pytest.mark.parametrize("make", [types_each_relationship_part, types_a_part_that_is_not_there])
def test_every_part_of_a_copy_has_one_type(make, tmp_path):
    after = parts(self_checked(make(rich_book()), tmp_path))
    types = etree.fromstring(after[TYPES])
    single = [item.get("PartName") for item in types.iter(f"{{{PACKAGE}/content-types}}Override")]
    endings = {item.get("Extension") for item in types.iter(f"{{{PACKAGE}/content-types}}Default")}
    assert len(single) == len(set(single))
    assert {name.lstrip("/") for name in single} <= set(after)
    for name in set(after) - {TYPES}:
        assert f"/{name}" in single or name.rpartition(".")[2] in endings, name


@pytest.mark.parametrize(
    ("part", "old", "new", "said"),
    [
        (
            TYPES,
            b'<Override PartName="/xl/worksheets/sheet5.xml"',
            b"<Override PartName='/x'",
            "x",
        ),
        ("xl/drawings/_rels/drawing3.xml.rels", b"chart", b"chort", "chort"),
        (TYPES, b'Extension="png"', b'Extension="pong"', "has no type"),
    ],
)
def test_the_check_of_a_copy_asks_what_a_strict_reader_asks(part, old, new, said, tmp_path):
    before, after = tmp_path / "source.xlsx", tmp_path / "copy.xlsx"
    before.write_bytes(rich_book())
    with before.open("rb") as file, after.open("w+b") as target:
        carried = add_sheets(file, result_sheets(), target, OPTIONS, label="source.xlsx")
    written = after.read_bytes()
    after.write_bytes(edited(written, part, old, new))
    with pytest.raises(CannotCarry, match=said):
        check_copy(before, after, carried, "source.xlsx")


@pytest.mark.parametrize("identity", [65_533, 65_534, 2**33, 3])
def test_ids_of_sheets_stay_below_what_programs_take(identity):
    source = edited(plain_book(), WORKBOOK, b'sheetId="2"', b'sheetId="%d"' % identity)
    root = etree.fromstring(parts(carry(source))[WORKBOOK])
    found = [int(sheet.get("sheetId")) for sheet in root.iter(f"{{{MAIN}}}sheet")]
    assert len(set(found)) == len(found) == 4
    assert all(0 < number <= 65_534 for number in found[2:])


def test_a_name_with_the_scope_of_no_sheet_keeps_it():
    stray = b'<definedNames><definedName name="x" localSheetId="2">1</definedName></definedNames>'
    source = edited(plain_book(), WORKBOOK, b"<calcPr", stray + b"<calcPr")
    once = carry(source)
    assert b'name="x" localSheetId="4"' in parts(once)[WORKBOOK]  # of four sheets, from 0
    assert carry(once) == once


def test_a_redefined_number_format_shows_no_figure_of_ours():
    source = (
        edited(
            plain_book(),
            STYLES,
            b"<fonts",
            b'<numFmts count="1"><numFmt numFmtId="0" formatCode="yyyy"/></numFmts><fonts',
        )
        if b"<numFmts" not in parts(plain_book())[STYLES]
        else edited(plain_book(), STYLES, b'numFmtId="164"', b'numFmtId="0"')
    )
    sheet = SheetModel("Check results", (Column(9),), (), Body.of([(Cell(1, "headline"),)]), 0)
    written = carry(source, [sheet])
    styles = etree.fromstring(parts(written)[STYLES])
    (cell,) = etree.fromstring(parts(written)["xl/worksheets/sheet3.xml"]).iter(f"{{{MAIN}}}c")
    used = styles.find(f"{{{MAIN}}}cellXfs")[int(cell.get("s"))].get("numFmtId")
    codes = {n.get("numFmtId"): n.get("formatCode") for n in styles.iter(f"{{{MAIN}}}numFmt")}
    assert codes["0"] != "General"
    assert codes[used] == "General"


def test_as_many_formats_as_programs_open_and_no_more():
    def source(count: int) -> bytes:
        content = parts(plain_book())[STYLES]
        start = content.index(b"<cellXfs")
        end = content.index(b"</cellXfs>")
        first = content[content.index(b"<xf", start) : content.index(b"/>", start) + 2]
        return edited(plain_book(), STYLES, content[:end], content[:end] + first * count)

    for few in (1, 64_500):
        carry(source(few))
    with pytest.raises(CannotCarry, match="more than the 65,430 that programs open"):
        carry(source(65_400))


@pytest.mark.parametrize("written", ['"{}\n"', "'\t{}'", '"&#x{:x};"', '"0{}"', '"+{}"'])
def test_a_style_past_the_list_takes_on_no_look_of_ours(written):
    """However its number is written; programs show such a cell in the standard look."""
    past = 9 if "x}" in written else 40
    number = written.format(ord("9") if past == 9 else past)
    source = repacked(
        plain_book(),
        lambda n, c: (
            (n, c.replace(b'<c r="A1"', b'<c r="A1"\ns = %s' % number.encode()))
            if n.endswith("sheet1.xml")
            else (n, c)
        ),
    )
    styles = etree.fromstring(parts(carry(source))[STYLES])
    standard, *others = (dict(xf.attrib) for xf in styles.find(f"{{{MAIN}}}cellXfs"))
    assert others[past - 1] == standard


def test_a_source_without_styles_keeps_the_typeface_of_its_cells():
    relations = "xl/_rels/workbook.xml.rels"
    root = etree.fromstring(parts(plain_book())[relations])
    for item in [item for item in root if item.get("Target") == "styles.xml"]:
        root.remove(item)
    bare = repacked(plain_book(), lambda n, c: None if n == STYLES else (n, c))
    bare = edited(bare, relations, parts(bare)[relations], etree.tostring(root))
    book = openpyxl.load_workbook(io.BytesIO(carry(bare)))
    assert book["Conveyors"]["A1"].font.name == "Calibri"
    assert book["Check results"]["A3"].font.name == "Arial"


def test_bytes_of_names_and_the_archives_comment_stay():
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        archive.comment = b"kept by the stores"
        for name, content in parts(rich_book()).items():
            archive.writestr(name.replace("image1", "im_ge1"), content)
    # As a program of another code page writes it.
    source = target.getvalue().replace(b"im_ge1", b"im\xe4ge1")
    after = carry(source)
    assert b"im\xe4ge1" in source
    assert after.count(b"im\xe4ge1") == source.count(b"im\xe4ge1")
    assert after.endswith(struct.pack("<H", 18) + b"kept by the stores")
    old, new = raw_entries(source), raw_entries(after)
    assert all(new[name] == old[name] for name in old if "media" in name)


@pytest.mark.parametrize("name", ["R", "c", "TRUE", "False", "R2", "RC", "A1", "it's", "Belt-1"])
def test_links_to_sheets_of_every_name_are_quoted_where_they_must_be(name):
    sheet = SheetModel(
        "Check results", (Column(9),), (), Body.of([(Cell("x", "link", Link(name, "B2")),)]), 0
    )
    source = edited(
        plain_book(), WORKBOOK, b'name="Notes"', b'name="%s"' % name.encode().replace(b'"', b"")
    )
    markup = parts(carry(source, [sheet]))["xl/worksheets/sheet3.xml"].decode()
    quoted = "'{}'".format(name.replace("'", "''"))
    assert f'location="{quoted}!B2"' in markup


def test_no_link_leads_to_a_hidden_sheet():
    rows = [(Cell(name, "link", Link(name, "A1")),) for name in ("Conveyors", "hidden")]
    sheet = SheetModel("Check results", (Column(9),), (), Body.of(rows), 0)
    after = parts(carry(rich_book(), [sheet]))
    markup = next(c for n, c in after.items() if b"<t>hidden</t>" in c and "sheet" in n)
    assert markup.count(b"<hyperlink ") == 1
    assert b'location="Conveyors!A1"' in markup


def test_the_documents_properties_list_the_sheets_that_are_there():
    def listed(package: bytes) -> tuple[str, list[str]]:
        root = etree.fromstring(parts(package)["docProps/app.xml"])
        names = root.find("{*}TitlesOfParts/{*}vector")
        assert names.get("size") == str(len(names))
        return root.findtext("{*}HeadingPairs//{*}i4"), [name.text for name in names]

    once = carry(plain_book())
    assert listed(once) == ("4", ["Conveyors", "Notes", "Check results", "Check findings"])
    fewer = carry(once, result_sheets()[:1])
    assert listed(fewer) == ("3", ["Conveyors", "Notes", "Check results"])
    odd = edited(plain_book(), "docProps/app.xml", b"<vt:lpstr>Notes<", b"<vt:lpstr>Nodes<")
    assert parts(carry(odd))["docProps/app.xml"] == parts(odd)["docProps/app.xml"]


def test_numbers_that_are_none_read_back_alike(tmp_path):
    source = edited(plain_book(), "xl/worksheets/sheet1.xml", b"<v>900</v>", b"<v>NaN</v>")
    before, after = (values(package, ["Conveyors"]) for package in (source, carry(source)))
    assert repr(before) == repr(after)
    assert "nan" in repr(before)
    self_checked(source, tmp_path)


@pytest.mark.parametrize(
    "tag", ["=[http://x.invalid]S!$A$1", "=cmd|' /C calc'!A0", "Conveyors!A1"]
)
def test_a_tag_like_a_reference_stays_text_in_a_charts_title(tag):
    results, findings = result_sheets()
    chart = replace(findings.charts[0], title=f"{tag}, tail", series=findings.charts[0].series)
    after = parts(carry(plain_book(), [results, replace(findings, charts=(chart,))]))
    root = etree.fromstring(after["xl/charts/chart1.xml"])
    title = root.find("{*}chart/{*}title")
    assert "".join(title.itertext()) == f"{tag}, tail"
    assert not list(title.iter("{*}f"))


def test_signs_of_a_file_name_are_no_codes_of_a_footer():
    results, _ = result_sheets()
    page = replace(results.page, file="Sand&Gravel &P.xlsx")
    after = parts(carry(plain_book(), [replace(results, page=page)]))
    (footer,) = etree.fromstring(after["xl/worksheets/sheet3.xml"]).iter(f"{{{MAIN}}}oddFooter")
    assert "Sand&&Gravel &&P.xlsx – &A" in footer.text
