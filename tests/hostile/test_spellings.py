"""One sheet in the spellings that XML and ECMA-376 part 1 (18.3.1) allow: one reading.

What the sheet holds is written down here; each way of writing it must give just that.
"""

from __future__ import annotations

import io
import re
import zipfile
from itertools import product

import pytest

from sheetcheck.intake.limits import Allowance
from sheetcheck.intake.sheets import read_sheets
from tests.hostile.conftest import check, the_line

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
LINKS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE_LINKS = "http://schemas.openxmlformats.org/package/2006/relationships"
TEXTS = ["Tag", "Belt width (mm)", "Belt speed (m/s)", "Trough angle (°)", "CV-1", "CV-2 & <a>"]
ROWS = [
    ["Tag", "Belt width (mm)", "Belt speed (m/s)", "Trough angle (°)"],
    ["CV-1", 900.0, "", ""],
    ["CV-2 & <a>", "", 2.5, 35.0],
]
ERRORS = {(1, 3): "#DIV/0!"}
UNCALCULATED = {(1, 2)}
HIDDEN_ROWS, HIDDEN_COLUMNS = {2}, {1}

COMMENT = '<!--<row r="2"><c r="B2" t="e"><v>#REF!</v></c></row>-->'
# How each part of a sheet may be written; the first way is the usual one.
WAYS = {
    "prefix": ["", "x:"],
    "encoding": ["utf-8", "utf-16", "utf-16-be", "iso-8859-1"],
    "quote": ['"', "'"],
    "addresses": ["all", "rows", "none"],
    "texts": ["shared", "inline", "formula"],
    "figures": ["plain", "cdata", "character", "blank"],
    "comments": ["", COMMENT],
    "attributes": ["usual", "turned", "spread"],
    "order": ["usual", "rows", "cells"],
    "between": ["", "\n\t"],
    "place": ["usual", "elsewhere"],
}
USUAL = {kind: ways[0] for kind, ways in WAYS.items()}
ONE_BY_ONE = [USUAL | {kind: way} for kind, ways in WAYS.items() for way in ways]
IN_PAIRS = [
    USUAL | {"texts": texts, "figures": figures, "addresses": addresses, "prefix": prefix}
    for texts, figures, addresses, prefix in product(
        *(WAYS[kind] for kind in ("texts", "figures", "addresses", "prefix"))
    )
] + [
    USUAL
    | {"encoding": encoding, "comments": COMMENT, "quote": "'", "order": order, "place": place}
    for encoding, order, place in product(*(WAYS[k] for k in ("encoding", "order", "place")))
]


def escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;")


class Writer:
    """Writes the sheet in one way."""

    def __init__(self, way: dict[str, str]) -> None:
        self.way = way

    def tag(self, name: str, inner: str | None = None, **attributes: object) -> str:
        way, quote = self.way["attributes"], self.way["quote"]
        pairs = [f"{key}={quote}{value}{quote}" for key, value in attributes.items()]
        if way == "turned":
            pairs.reverse()
        gap = "\n  " if way == "spread" else " "
        said = "".join(gap + (p.replace("=", " = ") if way == "spread" else p) for p in pairs)
        name = self.way["prefix"] + name
        end = " " if way == "spread" else ""
        if inner is None:
            return f"<{name}{said}{end}/>"
        between = self.way["between"] if inner.endswith(">") else ""
        return f"<{name}{said}>{between}{self.way['comments']}{inner}{between}</{name}{end}>"

    def figure(self, text: str) -> str:
        kind = self.way["figures"]
        if kind == "cdata":
            return f"<![CDATA[{text}]]>"
        if kind == "character":
            return "".join(
                f"&#{ord(c)};" if at % 2 else f"&#x{ord(c):x};" for at, c in enumerate(text)
            )
        return f" {text}\n" if kind == "blank" else text

    def address(self, column: int, row: int) -> dict[str, str]:
        return {"r": f"{'ABCD'[column]}{row}"} if self.way["addresses"] == "all" else {}

    def text(self, where: dict[str, str], text: str) -> str:
        kind = self.way["texts"]
        if kind == "shared":
            value = self.tag("v", self.figure(str(TEXTS.index(text))))
            return self.tag("c", value, **where, t="s")
        if kind == "inline":
            halves = [escaped(text[:2]), escaped(text[2:])]
            runs = "".join(self.tag("r", self.tag("t", half)) for half in halves)
            return self.tag("c", self.tag("is", runs), **where, t="inlineStr")
        return self.tag("c", self.tag("f", "1") + self.tag("v", escaped(text)), **where, t="str")

    def cell(self, row: int, column: int) -> str:
        where = self.address(column, row + 1)
        if (row, column) in ERRORS:
            error = self.tag("v", self.figure(ERRORS[row, column]))
            return self.tag("c", self.tag("f", "1/0") + error, **where, t="e")
        if (row, column) in UNCALCULATED:
            return self.tag("c", self.tag("f", "A1*2"), **where)
        value = ROWS[row][column]
        if isinstance(value, str):
            return self.text(where, value) if value else self.tag("c", **where, s="0")
        return self.tag("c", self.tag("v", self.figure(f"{value:g}")), **where)

    def sheet(self) -> str:
        rows = []
        for at in range(len(ROWS)):
            cells = [self.cell(at, column) for column in range(4)]
            if self.way["order"] == "cells" and self.way["addresses"] == "all":
                cells.reverse()
            number = {} if self.way["addresses"] == "none" else {"r": at + 1}
            hidden = {"hidden": "true"} if at in HIDDEN_ROWS else {}
            rows.append(self.tag("row", "".join(cells), **number, **hidden))
        if self.way["order"] == "rows" and self.way["addresses"] == "all":
            rows.reverse()
        columns = self.tag("cols", self.tag("col", min=2, max=2, width=9, hidden=1))
        merged = self.tag("mergeCells", self.tag("mergeCell", ref="A5:B5"))
        inner = columns + self.tag("sheetData", "".join(rows)) + merged
        return self.root("worksheet", inner)

    def root(self, name: str, inner: str) -> str:
        prefix = self.way["prefix"]
        space = f"xmlns:{prefix[:-1]}" if prefix else "xmlns"
        return f'<{prefix}{name} {space}="{MAIN}" xmlns:r="{LINKS}">{inner}</{prefix}{name}>'

    def encoded(self, text: str) -> bytes:
        encoding = self.way["encoding"]
        mark = b"\xfe\xff" if encoding == "utf-16-be" else b""
        said = encoding[:6] if encoding.startswith("utf-16") else encoding
        return mark + f'<?xml version="1.0" encoding="{said}"?>\n{text}'.encode(encoding)

    def package(self) -> bytes:
        usual = self.way["place"] == "usual"
        book, folder = (
            ("xl/workbook.xml", "worksheets") if usual else ("stuff/the_book.xml", "a b")
        )
        top = book.partition("/")[0]
        texts = "".join(self.tag("si", self.tag("t", escaped(text))) for text in TEXTS)
        identity = 1 if usual else 4294967299
        name = f'name="Conveyors" sheetId="{identity}" r:id="one"'
        listed = f"<{self.way['prefix']}sheet {name}/>"
        parts = {
            "_rels/.rels": self.links(officeDocument=f"/{book}"),
            book: self.encoded(self.root("workbook", self.tag("sheets", listed))),
            f"{top}/_rels/{book.rpartition('/')[2]}.rels": self.links(
                worksheet=f"{folder}/one.xml", sharedStrings="sharedStrings.xml"
            ),
            f"{top}/{folder}/one.xml": self.encoded(self.sheet()),
            f"{top}/sharedStrings.xml": self.encoded(self.root("sst", texts)),
        }
        file = io.BytesIO()
        with zipfile.ZipFile(file, "w") as package:
            for part, content in parts.items():
                package.writestr(part, content)
        return file.getvalue()

    def links(self, **targets: str) -> str:
        inner = "".join(
            f'<Relationship Id="{"one" if kind == "worksheet" else kind}" '
            f'Type="{LINKS}/{kind}" Target="{target}"/>'
            for kind, target in targets.items()
        )
        return f'<Relationships xmlns="{PACKAGE_LINKS}">{inner}</Relationships>'


def reading(content: bytes):
    """The rows of the only sheet, and what is known of its cells."""
    rows, facts = [], {}
    for kind, *rest in read_sheets(content, "book.xlsx", Allowance()):
        if kind == "sheet":
            facts = rest[3]
        elif kind == "rows":
            rows += [[""] * 4 for _ in range(rest[0])] + rest[1]
    return rows, facts


@pytest.mark.parametrize("ways", [ONE_BY_ONE, IN_PAIRS], ids=["one by one", "together"])
def test_every_spelling_of_a_sheet_gives_one_reading(ways):
    for way in ways:
        rows, facts = reading(Writer(way).package())
        for row, column in ERRORS:
            rows[row][column] = ""  # how an error reads as a value says nothing
        assert rows == ROWS, way
        assert facts["errors"] == ERRORS, way
        assert facts["uncalculated"] == UNCALCULATED, way
        assert facts["hidden_rows"] == HIDDEN_ROWS, way
        assert facts["hidden_columns"] == HIDDEN_COLUMNS, way


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("</sheetData>", '<row r="2"><c r="B2"><v>1</v></c></row></sheetData>', "cell B2 .*twice"),
        ('<c r="C3"', '<c r="B3"><v>7</v></c><c r="B3"', "cell B3 .*twice"),
        ('<c r="C3"', '<c r="C7"', "row 3 is called 'C7'"),
    ],
)
def test_cells_that_claim_one_address_are_refused(tmp_path, old, new, says):
    path = tmp_path / "book.xlsx"
    with zipfile.ZipFile(io.BytesIO(Writer(USUAL).package())) as package:
        parts = {name: package.read(name).decode() for name in package.namelist()}
    sheet = "xl/worksheets/one.xml"
    assert old in parts[sheet]
    parts[sheet] = parts[sheet].replace(old, new, 1)
    with zipfile.ZipFile(path, "w") as package:
        for name, content in parts.items():
            package.writestr(name, content)
    assert re.search(f"'Conveyors'.*{says}", the_line(check(path)))
