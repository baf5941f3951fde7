"""Sheets added to a copy of a foreign workbook: what may change, and what was kept."""

from __future__ import annotations

import io
import re
import tracemalloc
import warnings
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from lxml import etree

from sheetcheck.report import into_book, opc
from sheetcheck.report.into_book import add_sheets
from sheetcheck.report.model import SheetModel
from sheetcheck.report.opc import MAIN, CannotCarry
from sheetcheck.report.self_check import check_copy
from sheetcheck.report.workbook_part import free_names
from tests.report.samples import (
    OPTIONS,
    OURS,
    assert_nothing_else_changed,
    carry,
    edited,
    parts,
    plain_book,
    repacked,
    result_sheets,
    rich_book,
    values,
)


def tag(name: str) -> str:
    return f"{{{MAIN}}}{name}"


def workbook_xml(package: bytes) -> etree._Element:
    return etree.fromstring(parts(package)["xl/workbook.xml"])


def sheet_names(package: bytes) -> list[str]:
    return [item.get("name", "") for item in workbook_xml(package).iter(tag("sheet"))]


def scoped_names(package: bytes) -> list[tuple[str, int, str]]:
    return [
        (item.get("name", ""), int(item.get("localSheetId", "-1")), item.text or "")
        for item in workbook_xml(package).iter(tag("definedName"))
    ]


def assert_styles_only_grew(before: bytes, after: bytes) -> None:
    old_root = etree.fromstring(parts(before)["xl/styles.xml"])
    new_root = etree.fromstring(parts(after)["xl/styles.xml"])
    for container in old_root:
        new = new_root.find(container.tag)
        assert new is not None
        entries = [etree.tostring(item, method="c14n2") for item in container]
        assert [etree.tostring(item, method="c14n2") for item in new][: len(entries)] == entries
        if "count" in container.attrib:
            assert int(new.get("count", "0")) == len(new)


@pytest.fixture(params=["plain", "1904", "rich"])
def source(request: pytest.FixtureRequest) -> bytes:
    makers = {
        "plain": plain_book,
        "1904": lambda: plain_book(date_1904=True),
        "rich": rich_book,
    }
    return makers[request.param]()


def test_nothing_of_the_source_changes(source: bytes) -> None:
    after = carry(source)
    assert_nothing_else_changed(source, after)
    assert_styles_only_grew(source, after)
    before_names = sheet_names(source)
    assert sheet_names(after) == before_names + OURS
    assert values(after, before_names) == values(source, before_names)


def test_another_library_opens_it(source: bytes) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # what it says it drops
        before = openpyxl.load_workbook(io.BytesIO(source))
        after = openpyxl.load_workbook(io.BytesIO(carry(source)))
    assert after.sheetnames == before.sheetnames + OURS
    assert after.active.title == before.active.title
    assert after["Check results"]["A3"].value == "=1+1"
    assert after["Check results"]["A3"].data_type == "s"
    assert after["Check results"]["B3"].fill.fgColor.rgb == "FF7F2704"
    for sheet in before.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                twin = after[sheet.title][cell.coordinate]
                assert (twin.value, twin.number_format) == (cell.value, cell.number_format)
                looks = [repr((x.font, x.fill, x.border)) for x in (cell, twin)]
                assert looks[0] == looks[1]


def test_the_source_stays_active_and_nothing_of_ours_is_selected(source: bytes) -> None:
    after = carry(source)
    before_view = workbook_xml(source).find(f".//{tag('workbookView')}")
    after_view = workbook_xml(after).find(f".//{tag('workbookView')}")
    assert dict(after_view.attrib) == dict(before_view.attrib)
    new = set(parts(after)) - set(parts(source))
    assert not any(b"tabSelected" in parts(after)[name] for name in new)


def test_names_with_a_scope_point_where_they_did() -> None:
    before, after = scoped_names(rich_book()), scoped_names(carry(rich_book()))
    assert after[: len(before)] == before
    added = after[len(before) :]
    results = sheet_names(carry(rich_book())).index("Check results")
    assert ("_xlnm._FilterDatabase", results, "'Check results'!$A$2:$C$4") in added
    assert ("_xlnm.Print_Titles", results + 1, "'Check findings'!$2:$2") in added


def test_ids_and_relationships_are_unique_and_resolve() -> None:
    after = parts(carry(rich_book()))
    sheets = list(etree.fromstring(after["xl/workbook.xml"]).iter(tag("sheet")))
    for attribute in ("sheetId", "name"):
        assert len({item.get(attribute, "").casefold() for item in sheets}) == len(sheets)
    types = etree.fromstring(after["[Content_Types].xml"])
    overrides = [item.get("PartName") for item in types if item.get("PartName")]
    assert len(overrides) == len(set(overrides))
    assert {name[1:] for name in overrides if name} <= set(after)
    for name, content in after.items():
        if not name.endswith(".rels"):
            continue
        folder = Path(name).parent.parent
        items = list(etree.fromstring(content))
        assert len({item.get("Id") for item in items}) == len(items)
        for item in items:
            if item.get("TargetMode") != "External":
                target = item.get("Target", "")
                place = target[1:] if target.startswith("/") else str(folder / target)
                parts_of_it = []
                for step in place.split("/"):
                    if step == "..":
                        parts_of_it.pop()
                    elif step != ".":
                        parts_of_it.append(step)
                assert "/".join(parts_of_it) in after, (name, target)


def test_a_second_run_replaces_the_first() -> None:
    once = carry(rich_book())
    assert carry(once) == once


def test_fewer_sheets_on_the_second_run_leave_no_part_behind() -> None:
    once, twice = carry(rich_book()), carry(carry(rich_book()), result_sheets()[:1])
    assert sheet_names(twice) == [*sheet_names(rich_book()), "Check results"]
    gone = set(parts(once)) - set(parts(twice))
    kinds = sorted(re.sub("[0-9]", "", name.rpartition("/")[2]) for name in gone)
    assert kinds == ["chart.xml", "drawing.xml", "drawing.xml.rels", "sheet.xml", "sheet.xml.rels"]
    assert_nothing_else_changed(rich_book(), twice)


def test_a_source_sheet_of_our_name_stays_and_ours_gets_a_number() -> None:
    source = edited(plain_book(), "xl/workbook.xml", b'name="Notes"', b'name="check RESULTS"')
    after = carry(source)
    assert sheet_names(after) == [
        "Conveyors",
        "check RESULTS",
        "Check results 2",
        "Check findings",
    ]
    assert carry(after) == after


def test_links_and_charts_follow_a_sheet_that_got_a_number() -> None:
    source = edited(plain_book(), "xl/workbook.xml", b'name="Notes"', b'name="Check findings"')
    after = parts(carry(source))
    new = b"".join(after[name] for name in set(after) - set(parts(source)))
    assert b"'Check findings 2'!A3" in new
    assert b"<c:f>'Check findings 2'!$C$3:$C$4</c:f>" in new


def test_a_result_sheet_that_was_renamed_belongs_to_the_user() -> None:
    once = carry(plain_book())
    kept = edited(once, "xl/workbook.xml", b'name="Check results"', b'name="Last year"')
    after = carry(kept)
    assert sheet_names(after) == ["Conveyors", "Notes", "Last year", *OURS]
    assert values(after, ["Last year"]) == values(once, ["Check results"])


def test_scopes_and_active_tab_move_when_a_result_sheet_stood_before_others() -> None:
    once = carry(plain_book())
    first, second = b'<sheet name="Conveyors"', b'<sheet name="Check results"'
    markup = parts(once)["xl/workbook.xml"]
    ours = markup[markup.index(second) : markup.index(b"/>", markup.index(second)) + 2]
    moved = markup.replace(ours, b"").replace(first, ours + first)
    moved = moved.replace(b'localSheetId="2"', b'localSheetId="0"').replace(
        b'activeTab="1"', b'activeTab="2"'
    )
    moved = moved.replace(
        b"<definedNames>", b'<definedNames><definedName name="x" localSheetId="1">1</definedName>'
    )
    source = edited(once, "xl/workbook.xml", markup, moved)
    assert sheet_names(source) == ["Check results", "Conveyors", "Notes", "Check findings"]
    after = carry(source)
    assert sheet_names(after) == ["Conveyors", "Notes", *OURS]
    assert ("x", 0, "1") in scoped_names(after)
    assert workbook_xml(after).find(f".//{tag('workbookView')}").get("activeTab") == "1"


def prefixed(package: bytes) -> bytes:
    markup = parts(package)["xl/workbook.xml"]
    for name in (b"workbook", b"sheets", b"sheet ", b"bookViews", b"workbookView", b"calcPr"):
        markup = markup.replace(b"<" + name, b"<x:" + name).replace(b"</" + name, b"</x:" + name)
    for name in (b"fileVersion", b"workbookPr"):
        markup = markup.replace(b"<" + name + b" ", b"<x:" + name + b" ")
    markup = markup.replace(b"xmlns=", b"xmlns:x=")
    return edited(package, "xl/workbook.xml", parts(package)["xl/workbook.xml"], markup)


def absolute(package: bytes) -> bytes:
    return edited(package, "xl/_rels/workbook.xml.rels", b'Target="', b'Target="/xl/')


def in_utf16(package: bytes) -> bytes:
    markup = parts(package)["xl/workbook.xml"].decode().replace("UTF-8", "UTF-16")
    return edited(
        package, "xl/workbook.xml", parts(package)["xl/workbook.xml"], markup.encode("utf-16")
    )


def without_styles(package: bytes) -> bytes:
    relations = "xl/_rels/workbook.xml.rels"
    root = etree.fromstring(parts(package)[relations])
    for item in list(root):
        if item.get("Target") == "styles.xml":
            root.remove(item)
    package = repacked(package, lambda name, c: None if name == "xl/styles.xml" else (name, c))
    return edited(package, relations, parts(package)[relations], etree.tostring(root))


def streamed(package: bytes) -> bytes:
    """Written to a pipe: data descriptors behind the entries, no sizes before them."""

    class Pipe(io.RawIOBase):
        def __init__(self) -> None:
            self.content = bytearray()

        def writable(self) -> bool:
            return True

        def write(self, data: bytes) -> int:  # type: ignore[override]
            self.content += data
            return len(data)

    pipe = Pipe()
    with zipfile.ZipFile(pipe, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts(package).items():
            archive.writestr(name, content)
    return bytes(pipe.content)


@pytest.mark.parametrize("form", [prefixed, absolute, in_utf16, without_styles, streamed])
def test_unusual_packages(form: object) -> None:
    source = form(plain_book())  # type: ignore[operator]
    after = carry(source)
    assert_nothing_else_changed(source, after)
    names = ["Conveyors", "Notes"]
    # The reader does not take UTF-16; what was carried over is UTF-8 in the edited parts.
    readable = plain_book() if form is in_utf16 else source
    assert values(after, names) == values(readable, names)
    assert values(after, OURS[:1]) == values(carry(plain_book()), OURS[:1])
    book = openpyxl.load_workbook(io.BytesIO(after))
    assert book.sheetnames == ["Conveyors", "Notes", *OURS]
    assert book["Check results"]["B3"].fill.fgColor.rgb == "FF7F2704"


def strict(package: bytes) -> bytes:
    return edited(
        package,
        "xl/workbook.xml",
        b"http://schemas.openxmlformats.org/spreadsheetml/2006/main",
        b"http://purl.oclc.org/ooxml/spreadsheetml/main",
    )


def signed(package: bytes) -> bytes:
    return edited(
        package,
        "[Content_Types].xml",
        b"</Types>",
        b'<Default Extension="sigs" ContentType='
        b'"application/vnd.openxmlformats-package.digital-signature-origin"/></Types>',
    )


def shared(package: bytes) -> bytes:
    return edited(
        package,
        "xl/_rels/workbook.xml.rels",
        b"</Relationships>",
        b'<Relationship Id="r99" Type="http://schemas.openxmlformats.org/officeDocument/2006/'
        b'relationships/revisionHeaders" Target="revisions/revisionHeaders.xml"/></Relationships>',
    )


def twice(package: bytes) -> bytes:
    target = io.BytesIO(package)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # the library says that it is a duplicate
        with zipfile.ZipFile(target, "a") as archive:
            archive.writestr("xl/styles.xml", b"<other/>")
    return target.getvalue()


def expanding(package: bytes) -> bytes:
    markup = parts(package)["xl/workbook.xml"]
    start = markup.index(b"<workbook")
    laughs = b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]>'
    return edited(package, "xl/workbook.xml", markup, markup[:start] + laughs + markup[start:])


@pytest.mark.parametrize(
    ("form", "said"),
    [
        (strict, "Strict Open XML"),
        (signed, "is signed"),
        (shared, "shared workbook"),
        (twice, "two parts named xl/styles.xml"),
        (expanding, "document type"),
        (lambda package: package[:200], "no readable xlsx package"),
        (lambda package: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + package, "password-protected"),
        (lambda package: b"Tag,Width\n", "no readable xlsx package"),
        (
            lambda package: edited(package, "xl/workbook.xml", b'sheetId="1"', b'sheetId="one"'),
            "contradicts itself",
        ),
        (
            lambda package: edited(
                package, "[Content_Types].xml", b"sheet.main+xml", b"sheet.binary.main"
            ),
            "takes no sheets",
        ),
    ],
)
def test_what_cannot_be_carried_is_refused_with_a_reason(form: object, said: str) -> None:
    with pytest.raises(CannotCarry) as refusal:
        carry(form(plain_book()))  # type: ignore[operator]
    assert said in str(refusal.value)
    assert "\n" not in str(refusal.value)


def _relation(kind: str, target: str) -> bytes:
    return (
        b'<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        b'<Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/'
        b'relationships/%s" Target="%s"/></Relationships>' % (kind.encode(), target.encode())
    )


# Where the second result sheet begins in what `carry` writes, and what somebody did to it.
WRITTEN_INTO = {
    "a text": (b"<t>TQ-C05</t>", b"<t>TQ-C05, seen 3 May</t>"),
    "a number": (b"<v>5</v>", b"<v>6</v>"),
    "a formula": (b"<v>5</v>", b"<f>2+3</f><v>5</v>"),
    "a new cell": (b"</sheetData>", b'<row r="9"><c r="H9"><v>0</v></c></row></sheetData>'),
    "a switch": (b"</sheetData>", b'<row r="9"><c r="H9" t="b"><v>0</v></c></row></sheetData>'),
    "a cleared cell": (b"<v>5</v>", b""),
}


@pytest.mark.parametrize("what", WRITTEN_INTO)
def test_what_somebody_wrote_into_a_result_sheet_is_kept(what: str) -> None:
    once = carry(plain_book())
    part = next(n for n, c in parts(once).items() if b"<t>TQ-C05</t>" in c)
    theirs = edited(once, part, *WRITTEN_INTO[what])
    after = carry(theirs)
    assert sheet_names(after) == [
        "Conveyors",
        "Notes",
        "Check findings",
        "Check results",
        "Check findings 2",
    ]
    assert parts(after)[part] == parts(theirs)[part]
    assert carry(after) == after


@pytest.mark.parametrize("kind", ["comments", "threadedComment", "image", "hyperlink"])
def test_a_result_sheet_with_a_note_or_a_picture_is_kept(kind: str) -> None:
    once = carry(plain_book(), result_sheets()[:1])
    place = "xl/worksheets/_rels/sheet3.xml.rels"
    assert "xl/worksheets/sheet3.xml" in parts(once)
    target = io.BytesIO(once)
    with zipfile.ZipFile(target, "a") as archive:
        archive.writestr(place, _relation(kind, "../docProps/app.xml"))
    after = carry(target.getvalue(), result_sheets()[:1])
    assert sheet_names(after) == ["Conveyors", "Notes", "Check results", "Check results 2"]


def test_a_result_sheet_that_was_sorted_and_saved_elsewhere_is_replaced() -> None:
    """Rows in another order, texts in the shared table, numbers written otherwise."""
    once = carry(plain_book())
    part = next(n for n, c in parts(once).items() if b"<t>TQ-C05</t>" in c)
    strings = parts(once)["xl/sharedStrings.xml"]
    count = strings.count(b"<si>")
    inline = b' t="inlineStr"><is><t>TQ-C05</t></is>'
    change = {
        part: [
            (inline, b' t="s"><v>%d</v>' % count),
            (b"<v>5</v>", b"<v>5.0</v>"),
            (b'r="3"', b'r="99"'),
            (b'"A3"', b'"A99"'),
            (b'"B3"', b'"B99"'),
            (b'"C3"', b'"C99"'),
        ],
        "xl/sharedStrings.xml": [
            (b"</sst>", b"<si><r><t>TQ</t></r><r><t>-C05</t></r><rPh><t>x</t></rPh></si></sst>")
        ],
    }

    def saved(name: str, content: bytes) -> tuple[str, bytes]:
        for old, new in change.get(name, ()):
            assert old in content
            content = content.replace(old, new)
        return name, content

    assert sheet_names(carry(repacked(once, saved))) == sheet_names(once)


def test_a_copied_mark_takes_nobodys_sheet_away() -> None:
    """The user's own sheet, renamed to a name of ours and with the hidden name of one of ours."""
    once = carry(plain_book())
    mark = next(text for name, _, text in scoped_names(once) if name == "sheetcheck_sheet")
    theirs = edited(once, "xl/workbook.xml", b'name="Notes"', b'name="Check results"')
    theirs = edited(
        theirs,
        "xl/workbook.xml",
        b'<sheet name="Check results" sheetId="3"',
        b'<sheet name="Old" sheetId="3"',
    )
    theirs = edited(
        theirs,
        "xl/workbook.xml",
        b"</definedNames>",
        b'<definedName name="sheetcheck_sheet" localSheetId="1" hidden="1">%s</definedName>'
        b"</definedNames>" % mark.encode(),
    )
    after = carry(theirs)
    assert sheet_names(after) == [
        "Conveyors",
        "Check results",
        "Old",
        "Check results 2",
        "Check findings",
    ]
    assert values(after, ["Check results"]) == [[["invented"]]]


def style_at(place: int) -> bytes:
    """A sheet in which a cell has the style 4321 at that place of its part."""
    return b"a" * place + b' s="4321"' + b"a" * (1 << 20)


@pytest.mark.parametrize("place", [0, (1 << 20) - 9, (1 << 20) - 4, (1 << 20) - 1, 3 << 20])
def test_a_style_is_found_wherever_a_piece_ends(place: int) -> None:
    content = repacked(
        plain_book(), lambda n, c: (n, style_at(place)) if n.endswith("sheet1.xml") else (n, c)
    )
    package = opc.Package(io.BytesIO(content), "source.xlsx")
    pieces = list(package.pieces("xl/worksheets/sheet1.xml"))
    assert any(b' s="4321"' in piece for piece in pieces)
    assert max(map(len, pieces)) < (1 << 20) + 1000


def test_a_sheet_without_an_element_costs_no_more_than_a_piece() -> None:
    """Pieces that waited for the end of one held all of such a part, again and again."""

    def change(name: str, content: bytes) -> tuple[str, bytes]:
        return name, style_at(64 << 20) if name.endswith("sheet1.xml") else content

    source = io.BytesIO(repacked(plain_book(), change))
    tracemalloc.start()
    try:
        for _ in opc.Package(source, "source.xlsx").pieces("xl/worksheets/sheet1.xml"):
            pass
        assert tracemalloc.get_traced_memory()[1] < 8 << 20
    finally:
        tracemalloc.stop()


def test_sheets_too_large_to_search_are_not_carried(monkeypatch: Any) -> None:
    source = plain_book()
    sizes = [len(c) for n, c in parts(source).items() if n.startswith("xl/worksheets/sheet")]
    # A part is searched once, however many relationships lead to it.
    again = b'<Relationship Id="r%d" Type="x/worksheet" Target="worksheets/sheet1.xml"/>'
    more = b"".join(again % n for n in range(90, 99)) + b"</Relationships>"
    source = edited(source, "xl/_rels/workbook.xml.rels", b"</Relationships>", more)
    monkeypatch.setattr(into_book, "_MOST_SCANNED", sum(sizes))
    carry(source)
    monkeypatch.setattr(into_book, "_MOST_SCANNED", sum(sizes) - 1)
    with pytest.raises(CannotCarry, match="has sheets that unpack to more than"):
        carry(source)


def test_an_index_that_led_nowhere_does_not_come_to_mean_our_style() -> None:
    source = edited(
        plain_book(), "xl/styles.xml", b'fontId="0" fillId="0"', b'fontId="3" fillId="0"'
    )
    root = etree.fromstring(parts(carry(source))["xl/styles.xml"])
    fonts = root.find(tag("fonts"))
    assert fonts is not None
    first, *others = [etree.tostring(font, method="c14n2") for font in fonts]
    assert others[:3] == [first] * 3


def test_column_widths_allow_for_a_smaller_standard_font() -> None:
    def width(package: bytes) -> float:
        book = openpyxl.load_workbook(io.BytesIO(package))
        return float(book["Check results"].column_dimensions["A"].width)

    small = edited(plain_book(), "xl/styles.xml", b'<sz val="11"/>', b'<sz val="8"/>')
    # Digits of an 8-point typeface are about 5 pixels wide, of the usual one 7.
    assert width(carry(small)) == pytest.approx(width(carry(plain_book())) * 7 / 5, rel=0.05)


def test_a_locked_structure_stays_locked_and_is_mentioned() -> None:
    source = edited(
        plain_book(),
        "xl/workbook.xml",
        b"<bookViews>",
        b'<workbookProtection lockStructure="1"/><bookViews>',
    )
    target = io.BytesIO()
    carried = add_sheets(io.BytesIO(source), result_sheets(), target, OPTIONS, label="locked.xlsx")
    assert "structure is locked" in carried.notes[0]
    assert b'lockStructure="1"' in parts(target.getvalue())["xl/workbook.xml"]


def test_free_names_keep_to_31_characters() -> None:
    long = "A sheet name of just 31 letters"
    assert free_names([long, "b"], [long.upper(), "B", "b 2"]) == {
        long: "A sheet name of just 31 lette 2",
        "b": "b 3",
    }


@pytest.fixture
def checked(tmp_path: Path) -> tuple[Path, Path, object]:
    source, copy = tmp_path / "source.xlsx", tmp_path / "copy.xlsx"
    source.write_bytes(rich_book())
    with source.open("rb") as file, copy.open("w+b") as target:
        carried = add_sheets(file, result_sheets(), target, OPTIONS, label="source.xlsx")
    return source, copy, carried


def test_the_check_of_a_copy_passes_a_good_one(checked: tuple[Path, Path, object]) -> None:
    source, copy, carried = checked
    check_copy(source, copy, carried, "source.xlsx")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("part", "old", "new", "said"),
    [
        ("xl/worksheets/sheet1.xml", b"<v>700</v>", b"<v>701</v>", "sheet1.xml differs"),
        ("xl/workbook.xml", b'name="hidden"', b'name="gone"', "list of sheets"),
    ],
)
def test_the_check_of_a_copy_sees_a_change(
    checked: tuple[Path, Path, object], part: str, old: bytes, new: bytes, said: str
) -> None:
    source, copy, carried = checked
    copy.write_bytes(edited(copy.read_bytes(), part, old, new))
    with pytest.raises(CannotCarry, match=said):
        check_copy(source, copy, carried, "source.xlsx")  # type: ignore[arg-type]


def test_the_check_of_a_copy_sees_a_changed_value(
    checked: tuple[Path, Path, object], tmp_path: Path
) -> None:
    source, copy, carried = checked
    other = tmp_path / "other.xlsx"
    # Dates and durations are told by their style: another number format is another value.
    other.write_bytes(
        edited(copy.read_bytes(), "xl/styles.xml", b'formatCode="0.0', b'formatCode="yyyy')
    )
    with pytest.raises(CannotCarry, match="does not read the same"):
        check_copy(source, other, carried, "source.xlsx")  # type: ignore[arg-type]


def test_models_are_not_used_up() -> None:
    sheets: list[SheetModel] = result_sheets()
    assert carry(plain_book(), sheets) == carry(plain_book(), sheets)


# ECMA-376 part 1, 18.3.1.99 (CT_Worksheet) and 18.2.27 (CT_Workbook): children in this order.
# The lists are from memory.
_WORKSHEET = (
    *("sheetPr", "dimension", "sheetViews", "sheetFormatPr", "cols", "sheetData", "sheetCalcPr"),
    *("sheetProtection", "protectedRanges", "scenarios", "autoFilter", "sortState"),
    *("dataConsolidate", "customSheetViews", "mergeCells", "phoneticPr", "conditionalFormatting"),
    *("dataValidations", "hyperlinks", "printOptions", "pageMargins", "pageSetup", "headerFooter"),
    *("rowBreaks", "colBreaks", "customProperties", "cellWatches", "ignoredErrors", "smartTags"),
    *("drawing", "legacyDrawing", "legacyDrawingHF", "picture", "oleObjects", "controls"),
    *("webPublishItems", "tableParts", "extLst"),
)
_WORKBOOK = (
    *("fileVersion", "fileSharing", "workbookPr", "workbookProtection", "bookViews", "sheets"),
    *("functionGroups", "externalReferences", "definedNames", "calcPr", "oleSize"),
    *("customWorkbookViews", "pivotCaches", "smartTagPr", "smartTagTypes", "webPublishing"),
    *("fileRecoveryPr", "webPublishObjects", "extLst"),
)


def test_elements_stand_in_the_order_of_the_schema() -> None:
    before, after = parts(rich_book()), parts(carry(rich_book()))
    checked = {"xl/workbook.xml": _WORKBOOK}
    checked |= {name: _WORKSHEET for name in set(after) - set(before) if "/sheet" in name}
    checked = {name: order for name, order in checked.items() if name.endswith(".xml")}
    assert len(checked) == 3
    for name, order in checked.items():
        children = [etree.QName(child).localname for child in etree.fromstring(after[name])]
        places = [order.index(child) for child in children]
        assert places == sorted(places), (name, children)


def test_cells_of_a_row_and_rows_of_a_sheet_are_in_order() -> None:
    before, after = parts(plain_book()), parts(carry(plain_book()))
    for name in set(after) - set(before):
        if not re.search(r"sheet[0-9]+\.xml\Z", name):
            continue
        rows = list(etree.fromstring(after[name]).iter(tag("row")))
        numbers = [int(row.get("r", "0")) for row in rows]
        assert numbers == sorted(set(numbers))
        for row in rows:
            columns = [
                openpyxl.utils.cell.coordinate_from_string(cell.get("r"))[0] for cell in row
            ]
            order = [openpyxl.utils.column_index_from_string(letters) for letters in columns]
            assert order == sorted(set(order))
