"""What the value reader does not see in an xlsx package, by a scan of the sheets' XML.

Error cells, formulas that were never calculated, hidden rows and columns, and number formats
that show a unit. A full parse of every cell would cost more than reading the values; the scan
looks only for the few cells that matter and runs over the raw text, so no entity is expanded.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal
from zipfile import ZipFile

from lxml import etree

from ..units import canonical
from .parts import Parts, elements, local_name

__all__ = ["SheetFacts", "format_unit", "scan", "shows_moment"]

_CHUNK = 4 << 20
_MOST_COLUMNS = 16_384
_NAME = rb"<(?:\w+:)?"
_REFERENCE = re.compile(rb"""\br=["']([A-Z]{1,3})([0-9]{1,7})["']""")
_FORMULA = _NAME + rb"f\b(?:[^>]*/>|[^>]*>[^<]*</(?:\w+:)?f>)\s*"
_ERROR = re.compile(
    _NAME
    + rb"""c\b([^>]*\bt=["']e["'][^>]*)>\s*(?:"""
    + _FORMULA
    + rb")?(?:"
    + _NAME
    + rb"v>([^<]*))?"
)
# A formula with no value, or an empty one that is not declared a text.
_UNCALCULATED = re.compile(
    _NAME
    + rb"""c\b([^>]*)>\s*"""
    + _FORMULA
    + rb"""(<(?:\w+:)?v\s*/>|<(?:\w+:)?v>\s*</(?:\w+:)?v>|</(?:\w+:)?c>)"""
)
_TEXT_TYPE = re.compile(rb"""\bt=["']str["']""")
_HIDDEN_ROW = re.compile(_NAME + rb"""row\b([^>]*\bhidden=["'](?:1|true)["'][^>]*)>""")
_ROW_NUMBER = re.compile(rb"""\br=["'](\d+)["']""")
_COLUMN = re.compile(_NAME + rb"""col\b([^>]*\bhidden=["'](?:1|true)["'][^>]*)>""")
_SPAN = re.compile(rb"""\b(min|max)=["'](\d+)["']""")
_FAR = re.compile(rb"""\br=["']([A-Z]{3})[0-9]""")
_LAST_ROW = re.compile(_NAME + rb"""row\b[^>]*\br=["'](\d+)["']""")


@dataclass
class SheetFacts:
    """Facts of one sheet; rows and columns are zero-based.

    ``shown`` holds the unit a cell's number format shows, ``"1"`` for a percentage, whose stored
    number is the fraction. ``merged`` holds the first and last cell of each merged area that the
    value reader does not give. ``far_column`` is a column beyond ZZ, if any cell stands there.
    """

    errors: dict[tuple[int, int], str] = field(default_factory=dict)
    uncalculated: set[tuple[int, int]] = field(default_factory=set)
    shown: dict[tuple[int, int], str] = field(default_factory=dict)
    merged: list[tuple[tuple[int, int], tuple[int, int]]] = field(default_factory=list)
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    far_column: int = 0
    last_row: int = 0


def scan(parts: Parts) -> dict[str, SheetFacts]:
    """Scan every worksheet of an xlsx package.

    Parameters
    ----------
    parts
        The package's parts.

    Returns
    -------
    dict
        Sheet name to its facts; empty where the package has no workbook part this can follow.

    Raises
    ------
    TooMuch
        Where a part holds more elements than are allowed.
    """
    styles, sheets = _styles_and_parts(parts)
    return {name: _scan_sheet(parts.package, part, styles) for name, part in sheets.items()}


def format_unit(code: str) -> str | None:
    """Give the unit that a number format shows: ``0.0" mm"`` shows mm, ``0%`` a fraction ("1")."""
    if shows_moment(code):
        return None
    section, bare = _first_section(code)
    if not re.search(r"[0#?]", bare):
        return None
    if "%" in bare:
        return "1"
    literals = "".join(a or b for a, b in re.findall(r'"([^"]*)"|\\(.)', section))
    return canonical(literals) if literals.strip() not in ("", "-") else None


def shows_moment(code: str) -> Literal["", "moment", "span"]:
    """Whether a number format shows a day or time (a moment), or a span such as ``[h]:mm``."""
    if re.search(r"\[(?:h+|m+|s+)\]", code.split(";", maxsplit=1)[0], re.IGNORECASE):
        return "span"
    return "moment" if re.search(r"[ymdhs]", _first_section(code)[1], re.IGNORECASE) else ""


def _first_section(code: str) -> tuple[str, str]:
    """A format's first section without what stands in brackets; and without its literals too."""
    section = re.sub(r"\[[^\]]*\]", "", code.split(";", maxsplit=1)[0])
    return section, re.sub(r'"[^"]*"|\\.|_.|\*.', "", section)


def _styles_and_parts(package: Parts) -> tuple[dict[bytes, str], dict[str, str]]:
    workbook = package.workbook()
    if workbook is None:
        return {}, {}
    names, relationships = package.names, package.relationships(workbook)
    styles: dict[bytes, str] = {}
    for kind, part in relationships.values():
        if kind == "styles" and part in names:
            styles = _unit_styles(package.parse(part))
        elif kind in ("worksheet", "sharedStrings") and part in names:
            package.begin(part)
    parts: dict[str, str] = {}
    for sheet in elements(package.parse(workbook), "sheet"):
        identity = next((v for k, v in sheet.attrib.items() if str(k).endswith("}id")), "")
        kind, part = relationships.get(str(identity), ("", ""))
        if kind == "worksheet" and part in names:
            parts[sheet.get("name", "")] = part
    return styles, parts


def _unit_styles(styles: etree._Element) -> dict[bytes, str]:
    """Cell style index (as written) to the unit its number format shows."""
    codes = {"9": "0%", "10": "0.00%"}
    codes |= {e.get("numFmtId", ""): e.get("formatCode", "") for e in elements(styles, "numFmt")}
    units = {identity: format_unit(code) for identity, code in codes.items()}
    found: dict[bytes, str] = {}
    for table in elements(styles, "cellXfs"):
        cells = [element for element in table if local_name(element) == "xf"]
        for index, element in enumerate(cells):
            unit = units.get(element.get("numFmtId", "0"))
            if unit is not None:
                found[str(index).encode()] = unit
    return found


def _chunks(package: ZipFile, part: str) -> Iterator[bytes]:
    """Sheet XML in pieces that end where a row begins."""
    rest = b""
    with package.open(part) as stream:
        head = stream.read(4)
        if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
            yield (head + stream.read()).decode("utf-16").encode()
            return
        rest = head
        while piece := stream.read(_CHUNK):
            rest += piece
            cut = max(rest.rfind(b"<row"), rest.rfind(b":row "))
            cut = rest.rfind(b"<", 0, cut + 1)
            if cut > 0:
                yield rest[:cut]
                rest = rest[cut:]
    yield rest


def _scan_sheet(package: ZipFile, part: str, styles: dict[bytes, str]) -> SheetFacts:
    facts = SheetFacts()
    styled = None
    if styles:
        known = b"|".join(sorted(styles, reverse=True))
        styled = re.compile(_NAME + rb"""c\b([^>]*\bs=["'](""" + known + rb""")["'][^>]*)>""")
    for chunk in _chunks(package, part):
        if b't="e"' in chunk or b"t='e'" in chunk:
            for error in _ERROR.finditer(chunk):
                _mark(facts.errors, error[1], (error[2] or b"#ERROR!").decode())
        if b"<f" in chunk or b":f" in chunk:
            for formula in _UNCALCULATED.finditer(chunk):
                where = _position(formula[1])
                blank_text = _TEXT_TYPE.search(formula[1]) and not formula[2].endswith(b"c>")
                if where and not blank_text:
                    facts.uncalculated.add(where)
        if styled is not None:
            for cell in styled.finditer(chunk):
                _mark(facts.shown, cell[1], styles[cell[2]])
        if b"hidden=" in chunk:
            _hidden(facts, chunk)
        facts.far_column = max(facts.far_column, _far_column(chunk))
        if last := chunk.rfind(b"row "):
            number = _LAST_ROW.search(chunk, max(0, chunk.rfind(b"<", 0, last)))
            if number:
                facts.last_row = max(facts.last_row, int(number[1]))
    return facts


def _far_column(chunk: bytes) -> int:
    """Column beyond ZZ that the last cell of a row stands in; 0 where none does."""
    far, end = 0, chunk.find(b"</row>")
    if end < 0:  # another way of writing rows: look at every cell
        return max((_column(found[1]) for found in _FAR.finditer(chunk)), default=0)
    while end >= 0:
        found = _FAR.match(chunk, chunk.rfind(b' r="', 0, end) + 1)
        if found:
            far = max(far, _column(found[1]))
        end = chunk.find(b"</row>", end + 6)
    return far


def _hidden(facts: SheetFacts, chunk: bytes) -> None:
    for row in _HIDDEN_ROW.finditer(chunk):
        if number := _ROW_NUMBER.search(row[1]):
            facts.hidden_rows.add(int(number[1]) - 1)
    for column in _COLUMN.finditer(chunk):
        span = {key: int(value) for key, value in _SPAN.findall(column[1])}
        if b"min" in span and b"max" in span:
            last = min(span[b"max"], _MOST_COLUMNS)
            facts.hidden_columns |= set(range(span[b"min"] - 1, last))


def _column(letters: bytes) -> int:
    index = 0
    for letter in letters:
        index = index * 26 + letter - 64
    return index - 1


def _position(attributes: bytes) -> tuple[int, int] | None:
    reference = _REFERENCE.search(attributes)
    return (int(reference[2]) - 1, _column(reference[1])) if reference else None


def _mark(into: dict[tuple[int, int], str], attributes: bytes, what: str) -> None:
    where = _position(attributes)
    if where is not None:
        into[where] = what
