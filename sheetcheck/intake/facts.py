"""What the value reader does not see in an xlsx package, by a scan of the sheets' XML.

Error cells, formulas that were never calculated, hidden rows and columns, and number formats
that show a unit. A full parse of every cell would cost more than reading the values; the scan
looks only for the few cells that matter, in the one spelling that `spelling` gives every sheet.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import partial
from typing import Literal, cast

from lxml import etree

from ..units import canonical
from .parts import elements, local_name
from .spelling import Spelled, column_index

__all__ = ["SheetFacts", "format_unit", "scan", "shows_moment"]

_MOST_COLUMNS = 16_384
# Of cells and rows in the usual spelling, where an address stands first.
_FORMULA = rb"<f[^>]*/>|<f[^>]*>[^<]*</f>"
_AT = rb'<c r="([A-Z]+)([0-9]+)"'
_ERROR = re.compile(_AT + rb'[^>]* t="e"[^>]*>\s*(?:' + _FORMULA + rb")?\s*(?:<v>([^<]*))?")
# A formula with no value, or an empty one that is not declared a text.
_UNCALCULATED = re.compile(_AT + rb"([^>]*)>\s*(?:" + _FORMULA + rb")\s*(</c>|<v/>|<v></v>)")
_HIDDEN_ROW = re.compile(rb'<row r="([0-9]+)"[^>]* hidden="(?:1|true)"')
_ROW = re.compile(rb'<row r="([0-9]+)"')
_FAR = re.compile(rb'<c r="([A-Z]{3})[0-9]')


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


def scan(book: Spelled) -> dict[str, SheetFacts]:
    """Scan every worksheet of an xlsx package.

    Parameters
    ----------
    book
        The package's sheets.

    Returns
    -------
    dict
        Sheet name to its facts; empty where the package has no workbook part this can follow.

    Raises
    ------
    ValueError
        Where a sheet's cells contradict one another, naming sheet and cell.
    """
    styles = {} if book.styles is None else _unit_styles(book.styles)
    return {name: book.scan(name, partial(_scan_sheet, styles=styles)) for name in book.sheets}


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


def _scan_sheet(pieces: Iterator[bytes], styles: dict[bytes, str]) -> SheetFacts:
    facts = SheetFacts()
    styled = None
    if styles:
        known = b"|".join(sorted(styles, reverse=True))
        styled = re.compile(_AT + rb'[^>]* s="(' + known + rb')"')
    columns = etree.XMLPullParser(events=("start",), tag="{*}col", resolve_entities=False)
    for at, piece in enumerate(pieces):
        head, begun, rows = piece.partition(b"<sheetData") if not at else (b"", b"", piece)
        if begun:
            columns.feed(head)
            _hide_columns(facts, columns)
        rows = rows.partition(b"</sheetData>")[0]
        if b' t="e"' in rows:
            for error in _ERROR.finditer(rows):
                facts.errors[_position(error)] = (error[3] or b"#ERROR!").decode()
        if b"<f" in rows:
            for formula in _UNCALCULATED.finditer(rows):
                if b' t="str"' not in formula[3] or formula[4] == b"</c>":
                    facts.uncalculated.add(_position(formula))
        if styled is not None:
            for cell in styled.finditer(rows):
                facts.shown[_position(cell)] = styles[cell[3]]
        if b" hidden=" in rows:
            facts.hidden_rows |= {int(row[1]) - 1 for row in _HIDDEN_ROW.finditer(rows)}
        far = (column_index(found.decode()) for found in set(_FAR.findall(rows)))
        facts.far_column = max(facts.far_column, *far, 0)
        if last := _ROW.match(rows, max(0, rows.rfind(b"<row "))):
            facts.last_row = max(facts.last_row, int(last[1]))
    return facts


def _hide_columns(facts: SheetFacts, columns: etree.XMLPullParser) -> None:
    for _, column in cast(Iterator[tuple[str, etree._Element]], columns.read_events()):
        if column.get("hidden", "").strip() in ("1", "true"):
            last = min(int(column.get("max", "0")), _MOST_COLUMNS)
            facts.hidden_columns |= set(range(int(column.get("min", "1")) - 1, last))


def _position(found: re.Match[bytes]) -> tuple[int, int]:
    return int(found[2]) - 1, column_index(found[1].decode())
