"""Cell styles with names in both outputs, read back with a library that had no part in them."""

from __future__ import annotations

import io
import warnings
from dataclasses import replace

import openpyxl
import pytest
from lxml import etree

from sheetcheck.report.into_book import add_sheets
from sheetcheck.report.model import Body, Cell, Column, Link, SheetModel
from sheetcheck.report.named_styles import parted
from sheetcheck.report.new_book import write_book
from sheetcheck.report.opc import MAIN, CannotCarry
from sheetcheck.report.style import STYLES, styles_with
from tests.report.samples import OPTIONS, carry, edited, parts, plain_book, rich_book

EVERY = SheetModel(
    "Check results",
    (Column(20),),
    (),
    Body.of([(Cell(name, name, Link("Check results", "A1", own=True)),) for name in STYLES]),
    repeat=0,
)
STYLE_SHEET = "xl/styles.xml"


def own_book() -> bytes:
    target = io.BytesIO()
    write_book([EVERY], target, OPTIONS)
    return target.getvalue()


def opened(package: bytes) -> openpyxl.Workbook:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # what the library says it drops
        return openpyxl.load_workbook(io.BytesIO(package))


def entries(package: bytes, container: str) -> list[etree._Element]:
    found = etree.fromstring(parts(package)[STYLE_SHEET]).find(f"{{{MAIN}}}{container}")
    assert found is not None
    assert int(found.get("count", "-1")) == len(found)
    return list(found)


def style_names(package: bytes) -> list[str]:
    return [item.get("name", "") for item in entries(package, "cellStyles")]


def styled(package: bytes, name: str, *, fill: str = "FFFFEE99") -> bytes:
    """A workbook of somebody's with a cell style of that name, on cell B2."""
    book = opened(package)
    style = openpyxl.styles.NamedStyle(name)
    style.fill = openpyxl.styles.PatternFill("solid", fgColor=fill)
    book["Conveyors"]["B2"].style = style
    target = io.BytesIO()
    book.save(target)
    return target.getvalue()


@pytest.mark.parametrize(
    "package",
    [own_book(), carry(plain_book(), [EVERY]), carry(rich_book(), [EVERY])],
    ids=["own", "carried", "carried into a rich one"],
)
def test_every_look_is_a_style_of_its_name_that_looks_the_same(package: bytes) -> None:
    book = opened(package)
    for row, look in enumerate(STYLES, start=1):
        cell = book["Check results"].cell(row, 1)
        assert (cell.value, cell.style) == (look, f"Check {look}")
    cells, bases = entries(package, "cellXfs"), entries(package, "cellStyleXfs")
    named = {
        int(item.get("xfId", "")): item.get("name", "")
        for item in entries(package, "cellStyles")
        if item.get("name", "").startswith("Check ")
    }
    seen = set()
    for entry in cells:
        place = int(entry.get("xfId", "0"))
        if place in named:
            base = bases[place]
            seen.add(named[place])
            for name in ("numFmtId", "fontId", "fillId", "borderId"):
                assert entry.get(name) == base.get(name)
            assert "xfId" not in base.attrib
            twins = ([etree.tostring(x, method="c14n2") for x in item] for item in (entry, base))
            assert next(twins) == next(twins)
    assert seen == {f"Check {look}" for look in STYLES}


def test_a_source_style_of_our_name_keeps_its_look_and_ours_gets_a_number() -> None:
    source = styled(plain_book(), "check MEETS")
    once = carry(source, [EVERY])
    assert {"check MEETS", "Check meets (2)"} <= set(style_names(once))
    assert "Check meets" not in style_names(once)
    book = opened(once)
    theirs = book["Conveyors"]["B2"]
    assert (theirs.style, theirs.fill.fgColor.rgb) == ("check MEETS", "FFFFEE99")
    ours = book["Check results"].cell(1 + list(STYLES).index("meets"), 1)
    assert (ours.style, ours.fill.fgColor.rgb) == ("Check meets (2)", "FFC6E4F2")
    # Ours is known again by its number, theirs stays.
    assert carry(once, [EVERY]) == once


def test_a_second_run_changes_our_styles_and_adds_none() -> None:
    once = carry(plain_book(), [EVERY])
    blacker = replace(OPTIONS, styles=styles_with({"falls short": ("#000000", "#FFFFFF")}))
    target = io.BytesIO()
    add_sheets(io.BytesIO(once), [EVERY], target, blacker, label="source.xlsx")
    twice = target.getvalue()
    assert style_names(twice) == style_names(once)
    short = 1 + list(STYLES).index("falls short")
    cell = opened(twice)["Check results"].cell(short, 1)
    assert (cell.style, cell.fill.fgColor.rgb) == ("Check falls short", "FF000000")
    base = opened(twice)._named_styles["Check falls short"]
    assert base.fill.fgColor.rgb == "FF000000"
    before, after = (entries(package, "cellStyleXfs") for package in (once, twice))
    changed = [a for a, b in zip(before, after, strict=True) if dict(a.attrib) != dict(b.attrib)]
    # The band's own style, and that of its large count in the summary.
    assert len(changed) == 2


@pytest.mark.parametrize("shared", ["0", "Check section"])
def test_a_base_that_a_style_of_ours_came_to_share_keeps_its_look(shared: str) -> None:
    # As a program leaves it that puts styles which look alike on one base.
    once = carry(plain_book(), [EVERY])
    bases = {item.get("name", ""): item.get("xfId", "") for item in entries(once, "cellStyles")}
    title = b'name="Check title" xfId="%b"'
    own, other = bases["Check title"].encode(), bases.get(shared, shared).encode()
    folded = edited(once, STYLE_SHEET, title % own, title % other)
    again = carry(folded, [EVERY])
    assert style_names(again) == style_names(once)
    before, after = (
        [etree.tostring(base, method="c14n2") for base in entries(package, "cellStyleXfs")]
        for package in (folded, again)
    )
    assert after[: len(before)] == before
    for name in ("Normal", "Check title", "Check section"):
        was, now = (opened(package)._named_styles[name] for package in (once, again))
        assert (now.font, now.fill, now.border) == (was.font, was.fill, was.border)
    assert carry(again, [EVERY]) == again


def test_a_style_sheet_without_bases_gets_a_standard_one() -> None:
    markup = parts(plain_book())[STYLE_SHEET]
    for container in (b"cellStyleXfs", b"cellStyles"):
        start = markup.index(b"<" + container)
        end = markup.index(b"</" + container + b">") + len(container) + 3
        markup = markup[:start] + markup[end:]
    source = edited(plain_book(), STYLE_SHEET, parts(plain_book())[STYLE_SHEET], markup)
    after = carry(source, [EVERY])
    assert style_names(after)[0] == "Normal"
    assert dict(entries(after, "cellStyleXfs")[0].attrib) == {
        "numFmtId": "0",
        "fontId": "0",
        "fillId": "0",
        "borderId": "0",
    }
    assert opened(after)["Check results"]["A1"].style == "Check title"
    assert opened(after)["Conveyors"]["A1"].style == "Normal"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'<c r="B2">', b'<c r="B2" s="7">'),
        (b'<row r="2" ', b'<row r="2" s=\'7\' customFormat="1" '),
        (b"<sheetData>", b'<cols><col min="2" max="2" width="9" style="7"/></cols><sheetData>'),
    ],
    ids=["cell", "row", "column"],
)
def test_a_cell_whose_format_is_not_in_the_list_does_not_take_on_ours(
    old: bytes, new: bytes
) -> None:
    # Programs show such cells in the standard look, or call the workbook damaged.
    source = edited(plain_book(), "xl/worksheets/sheet1.xml", old, new)
    listed = len(entries(source, "cellXfs"))
    assert listed < 7
    after = carry(source, [EVERY])
    first, *padding = [
        etree.tostring(entry, method="c14n2")
        for at, entry in enumerate(entries(after, "cellXfs")[:8])
        if at == 0 or at >= listed
    ]
    assert padding == [first] * (8 - listed)
    assert parts(after)["xl/worksheets/sheet1.xml"] == parts(source)["xl/worksheets/sheet1.xml"]
    assert opened(after)["Check results"]["A1"].style == "Check title"
    # The sheets of the first run do not count, and so the second gives the same.
    assert carry(after, [EVERY]) == after


def test_a_format_past_what_programs_take_is_refused() -> None:
    source = edited(
        plain_book(), "xl/worksheets/sheet1.xml", b'<c r="B2">', b'<c r="B2" s="99999999">'
    )
    with pytest.raises(CannotCarry, match="contradicts itself"):
        carry(source, [EVERY])


def test_a_dangling_base_does_not_come_to_mean_ours() -> None:
    source = edited(plain_book(), STYLE_SHEET, b'borderId="0" xfId="0"', b'borderId="0" xfId="3"')
    after = carry(source, [EVERY])
    first, *padding = [
        etree.tostring(entry, method="c14n2") for entry in entries(after, "cellStyleXfs")[:4]
    ]
    assert padding == [first] * 3


@pytest.mark.parametrize(
    ("name", "both"),
    [
        ("Check meets", ("Check meets", 1)),
        ("Check meets (3)", ("Check meets", 3)),
        ("Check number 2", ("Check number 2", 1)),
        ("Check number 2 (2)", ("Check number 2", 2)),
        ("", ("", 1)),
    ],
)
def test_numbers_in_brackets_tell_styles_of_one_name_apart(
    name: str, both: tuple[str, int]
) -> None:
    assert parted(name) == both
