"""Foreign and damaged workbooks: carried over whole, or refused with a reason."""

from __future__ import annotations

import io
import random
import re
import warnings
from pathlib import Path

import openpyxl
import pytest
import python_calamine

from sheetcheck.report.opc import CannotCarry
from tests.report.samples import (
    OURS,
    assert_nothing_else_changed,
    carry,
    corpus,
    edited,
    parts,
    plain_book,
    rich_book,
    values,
)

_REFUSED = {
    "calamine_075.xlsx": "password-protected",
    "calamine_081.xlsx": "damaged part",
    "closedxml_083.xlsx": "Strict Open XML",
    "closedxml_089.xlsx": "no readable xlsx package",
    "excelize_069.xlsx": "password-protected",
    "excelize_094.xlsx": "password-protected",
    "excelize_095.xlsx": "password-protected",
    "excelize_098.xlsx": "no sheets of its own",
    "exceljs_084.xlsx": "no part [Content_Types].xml",
}


@pytest.mark.skipif(not corpus(), reason="the corpus of foreign workbooks is not at hand")
@pytest.mark.parametrize("path", corpus(), ids=lambda path: path.name)
def test_foreign_workbooks(path: Path) -> None:
    source = path.read_bytes()
    if path.name in _REFUSED:
        with pytest.raises(CannotCarry) as refusal:
            carry(source)
        assert _REFUSED[path.name] in str(refusal.value)
        return
    after = carry(source)
    assert_nothing_else_changed(source, after)
    assert carry(after) == after
    try:
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(source))
    except python_calamine.CalamineError:
        return  # unreadable before, and of no matter after
    assert values(after, book.sheet_names) == values(source, book.sheet_names)
    assert values(after, OURS[:1]) == values(carry(plain_book()), OURS[:1])
    assert opens(after) or not opens(source)


def opens(package: bytes) -> bool:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what the library says it drops is not the matter here
        try:
            openpyxl.load_workbook(io.BytesIO(package))
        except Exception:
            return False
    return True


def test_an_index_past_all_reason_is_refused_at_once() -> None:
    source = edited(
        plain_book(), "xl/styles.xml", b'fontId="0" fillId="0"', b'fontId="4294967296" fillId="0"'
    )
    with pytest.raises(CannotCarry, match="contradicts itself"):
        carry(source)


def test_damaged_packages_are_carried_or_refused() -> None:
    chance = random.Random(0)
    source = carry(rich_book())
    damaged = ["[Content_Types].xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels"]
    damaged += ["xl/styles.xml", "_rels/.rels", "xl/worksheets/_rels/sheet1.xml.rels"]
    carried, refusals = 0, []
    for _ in range(200):
        part = chance.choice(damaged)
        content = bytearray(parts(source)[part])
        for _ in range(chance.randint(1, 3)):
            start = chance.randrange(len(content))
            stop = start + chance.randint(1, 40)
            numbers = list(re.finditer(rb'"[0-9]+"', content))
            match chance.randrange(4):
                case 0:
                    content[start] = chance.randrange(32, 127)
                case 1:
                    del content[start:stop]
                case 2:
                    content[start:start] = content[stop : stop + 60]
                case 3 if numbers:
                    number = chance.choice(numbers)
                    value = chance.choice([b'"-1"', b'"99999"', b'""', b'"x"', b'"1e999"'])
                    content[number.start() : number.end()] = value
        package = edited(source, part, parts(source)[part], bytes(content))
        try:
            carry(package)
            carried += 1
        except CannotCarry as refusal:
            refusals.append(str(refusal))
    assert min(carried, len(refusals)) > 20
    assert not any("\n" in refusal for refusal in refusals)


def test_a_source_whose_directory_lies_is_refused() -> None:
    source = bytearray(plain_book())
    # The local header of the first entry, which the central directory points to.
    source[0:4] = b"none"
    with pytest.raises(CannotCarry, match=r"is damaged|damaged part"):
        carry(bytes(source))
