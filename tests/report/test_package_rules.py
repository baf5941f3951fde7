"""Each rule for written packages finds what it is there to find, and nothing in a sound one."""

from __future__ import annotations

import io
import re
import struct
import zipfile
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

from sheetcheck.report.model import Area, DropDown
from tests.report.package_rules import RULES, faults
from tests.report.samples import carry, edited, parts, repacked, result_sheets, rich_book

TYPES, WORKBOOK, STYLES = "[Content_Types].xml", "xl/workbook.xml", "xl/styles.xml"
Change = Callable[[bytes], bytes]


@cache
def sound() -> bytes:
    """A rich workbook with result sheets that hold one of everything."""
    results, findings = result_sheets()
    results = replace(
        results,
        merges=(Area(5, 0, 5, 1), Area(6, 0, 6, 1)),
        drop_downs=(DropDown(Area(7, 0, 7, 0), ("yes", "no")),),
        notes={(0, 0): "help"},
        row_breaks=(3,),
        page=replace(results.page, scale=80),
    )
    return carry(rich_book(), [results, findings])


def swap(part: str, old: bytes, new: bytes) -> Change:
    """The first place in the parts whose name or content holds `part`."""

    def change(package: bytes) -> bytes:
        done = []

        def one(name: str, content: bytes) -> tuple[str, bytes]:
            if not done and (part in name or part.encode() in content) and old in content:
                done.append(name)
                content = content.replace(old, new, 1)
            return name, content

        broken = repacked(package, one)
        assert done, (part, old)
        return broken

    return change


def doubled(package: bytes) -> bytes:
    return repacked_with(package, "xl/STYLES.xml", b"<x/>")


def repacked_with(package: bytes, name: str, content: bytes) -> bytes:
    target = io.BytesIO(package)
    with zipfile.ZipFile(target, "a") as archive:
        archive.writestr(name, content)
    return target.getvalue()


def other_sizes(package: bytes) -> bytes:
    """The local header of the first entry says another size than the directory."""
    return package[:22] + struct.pack("<I", 0xFFFFFFFF) + package[26:]


def both_selected(package: bytes) -> bytes:
    return repacked(
        package,
        lambda n, c: (
            (n, c.replace(b"<sheetView ", b'<sheetView tabSelected="1" '))
            if b"Check" in c or n.endswith("sheet2.xml")
            else (n, c)
        ),
    )


def many_links(package: bytes) -> bytes:
    more = b"".join(
        b'<hyperlink ref="B%d" location="Conveyors!A1"/>' % n for n in range(1, 65_532)
    )
    return swap("TQ-C04", b"</hyperlinks>", more + b"</hyperlinks>")(package)


def many_areas(package: bytes) -> bytes:
    areas = b" ".join(b"B%d" % (2 * n + 1) for n in range(8_193))
    return swap("TQ-C04", b'sqref="A8"', b'sqref="%s"' % areas)(package)


def many_formats(package: bytes) -> bytes:
    more = b'<xf numFmtId="0"/>' * 65_431
    content = parts(package)[STYLES]
    count = re.search(rb'<cellXfs count="(\d+)"', content)
    assert count
    package = edited(package, STYLES, b"</cellXfs>", more + b"</cellXfs>")
    now = b'<cellXfs count="%d"' % (int(count[1]) + 65_431)
    return edited(package, STYLES, count[0], now)


BROKEN: dict[str, list[Change]] = {
    "entries_have_plain_headers_that_agree": [other_sizes],
    "part_names_are_unique": [doubled],
    "every_part_has_one_type": [
        swap(TYPES, b'Extension="rels"', b'Extension="sler"'),
        swap(TYPES, b'"/xl/charts/chart1.xml"', b'"/xl/charts/chart91.xml"'),
        swap(TYPES, b"</Types>", b'<Default Extension="xml" ContentType="a/b"/></Types>'),
    ],
    "relationships_lead_to_parts": [
        swap("drawing3.xml.rels", b"charts/chart", b"charts/chort"),
        swap("workbook.xml.rels", b'Id="rId2"', b'Id="rId1"'),
    ],
    "identities_have_relationships": [swap(WORKBOOK, b'r:id="rId2"', b'r:id="rId99"')],
    "sheets_have_names_and_ids_of_their_own": [
        swap(WORKBOOK, b'name="hidden"', b'name="conveyors"'),
        swap(WORKBOOK, b'sheetId="2"', b'sheetId="1"'),
        swap(WORKBOOK, b'sheetId="2"', b'sheetId="65535"'),
        swap(WORKBOOK, b'name="hidden"', b'name="%s"' % (b"x" * 32)),
        swap(WORKBOOK, b'name="hidden"', b'name="a/b"'),
    ],
    "one_sheet_is_open": [
        both_selected,
        swap(WORKBOOK, b"<workbookView ", b'<workbookView activeTab="77" '),
    ],
    "names_have_scopes": [
        swap(WORKBOOK, b'localSheetId="4"', b'localSheetId="77"'),
        swap(WORKBOOK, b"'Check results'!$A$2", b"'Check findings'!$A$2"),
        swap(WORKBOOK, b'name="All_widths">Conveyors', b'name="All_widths">=Conveyors'),
    ],
    "cells_are_in_order_and_in_bounds": [
        swap("TQ-C05", b'<row r="2"', b'<row r="1"'),
        swap("TQ-C05", b'r="B4"', b'r="D4"'),
        swap("TQ-C05", b'<row r="3" ht="', b'<row r="3" ht="9'),
        swap("TQ-C05", b"<v>5</v>", b"<v>NaN</v>"),
        swap("TQ-C05", b"<t>Cleaning</t>", b"<t>%s</t>" % (b"x" * 32_768)),
    ],
    "cells_have_styles_that_are_there": [swap("TQ-C05", b' s="', b' s="999')],
    "styles_count_and_refer_right": [
        swap(STYLES, b'fonts count="', b'fonts count="9'),
        swap(STYLES, b'fontId="', b'fontId="99'),
        swap(STYLES, b'name="Check title"', b'name="Check subtitle"'),
        many_formats,
    ],
    "links_lead_somewhere": [
        many_links,
        swap("TQ-C04", b"'Check findings'!A3", b"Check findings!A3"),
        swap("TQ-C04", b"'Check findings'!A3", b"'Check nothing'!A3"),
        swap("TQ-C04", b"'Check findings'!A3", b"'Check findings'!A0"),
        swap("TQ-C04", b"Conveyors!B2", b"hidden!B2"),
    ],
    "restrictions_are_in_bounds": [
        many_areas,
        swap("TQ-C04", b"yes,no", b"yes," * 70),
        swap("TQ-C04", b'errorTitle="', b'errorTitle="%s' % (b"x" * 33)),
    ],
    "merged_areas_do_not_overlap": [swap("TQ-C04", b'ref="A7:B7"', b'ref="A6:C7"')],
    "columns_are_in_order": [swap("TQ-C04", b'<col min="2"', b'<col min="1"')],
    "printing_is_in_bounds": [
        swap("TQ-C04", b"<oddFooter>", b"<oddFooter>" + b"x" * 256),
        swap("TQ-C04", b'<rowBreaks count="1"', b'<rowBreaks count="2"'),
        swap("TQ-C04", b'scale="80"', b'scale="8"'),
    ],
    "tables_have_the_headings_of_their_cells": [
        swap("xl/tables/table1.xml", b'name="Width"', b'name="Tag"'),
        swap("xl/tables/table1.xml", b' ref="A1:B4"', b' ref="A1:C4"'),
    ],
    "notes_have_shapes": [swap("TQ-C04", b"<legacyDrawing ", b"<legacyDrawingHF ")],
    "drawings_stand_on_the_sheet_and_are_told_in_words": [
        swap("drawings/drawing3.xml", b' descr="', b' title="'),
        swap("drawings/drawing3.xml", b"<xdr:to><xdr:col>", b"<xdr:to><xdr:col>99999"),
    ],
    "charts_refer_to_cells_and_not_by_chance": [
        swap("charts/chart3.xml", b"'Check findings'!", b"Check findings!"),
        swap("charts/chart3.xml", b"'Check findings'!", b"'Check nothing'!"),
        swap(
            "charts/chart3.xml",
            b"</c:title>",
            b"<c:tx><c:strRef><c:f>Conveyors!A1</c:f></c:strRef></c:tx></c:title>",
        ),
    ],
    "properties_list_the_sheets": [swap("docProps/app.xml", b"Check results", b"Check insults")],
}


def test_a_sound_package_has_no_fault() -> None:
    assert faults(sound(), rich_book()) == []


def test_every_rule_is_tried() -> None:
    assert list(BROKEN) == [rule.__name__ for rule in RULES]


@pytest.mark.parametrize(
    ("rule", "number"),
    [(rule, n) for rule, changes in BROKEN.items() for n in range(len(changes))],
)
def test_a_broken_package_is_found_by_its_rule(rule: str, number: int) -> None:
    package = sound()
    broken = BROKEN[rule][number](package)
    assert broken != package
    assert any(fault.startswith(f"{rule}: ") for fault in faults(broken, rich_book()))
    assert not any("cannot be followed" in fault for fault in faults(broken, rich_book()))
