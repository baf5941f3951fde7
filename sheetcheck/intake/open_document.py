"""What the value reader does not see in an OpenDocument spreadsheet (OASIS ODF 1.2, part 1).

Errors, formulas that were never calculated, merged areas, hidden rows and columns, and number
formats that show a unit. Names of elements and attributes are the standard's, but for the mark
of an error, which LibreOffice adds in a namespace of its own.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import product
from typing import cast

from lxml import etree

from ..units import canonical
from .facts import SheetFacts
from .parts import Parts, TooMuch

__all__ = ["is_open_document", "scan_open_document"]

_CONTENT, _STYLES = "content.xml", "styles.xml"
_SPACE = "{urn:oasis:names:tc:opendocument:xmlns:%s:1.0}"
_TABLE, _OFFICE, _STYLE, _NUMBER, _TEXT = (
    _SPACE % name for name in ("table", "office", "style", "datastyle", "text")
)
_CALC = "{urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0}"
_CELLS = (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell")
_KIND, _CALC_KIND = f"{_OFFICE}value-type", f"{_CALC}value-type"
_FORMULA, _VISIBILITY, _STYLE_NAME, _DEFAULT_STYLE = (
    f"{_TABLE}{name}"
    for name in ("formula", "visibility", "style-name", "default-cell-style-name")
)
_ROWS, _COLUMNS, _ROWS_SPANNED, _COLUMNS_SPANNED = (
    f"{_TABLE}number-{name}"
    for name in ("rows-repeated", "columns-repeated", "rows-spanned", "columns-spanned")
)
_HIDDEN = ("collapse", "filter")
_ERROR = re.compile(r"#(?:N/A|DIV/0!|VALUE!|REF!|NAME\?|NUM!|NULL!)|Err:\d+")
_MOST_COLUMNS, _MOST_ROWS = 1 << 14, 1 << 20
_REPEATED = 200  # of all cells that are allowed, one in so many may be there by repetition alone


def is_open_document(parts: Parts) -> bool:
    """Whether the package is of this format."""
    return _CONTENT in parts.names and parts.workbook() is None


def scan_open_document(parts: Parts, most_cells: float) -> dict[str, SheetFacts]:
    """Scan every table of an OpenDocument package.

    Parameters
    ----------
    parts
        The package's parts.
    most_cells
        Cells of a sheet.

    Returns
    -------
    dict
        Sheet name to its facts.

    Raises
    ------
    TooMuch
        Where there is more than that.
    """
    parts.begin(_CONTENT)
    styles = _Styles()
    if _STYLES in parts.names:
        styles.read(parts.parse(_STYLES))
    found: dict[str, SheetFacts] = {}
    sheet = _Sheet(SheetFacts(), styles, most_cells)
    depth = 0  # a cell may hold a table of its own, which is no sheet
    with parts.package.open(_CONTENT) as stream:
        for event, element in etree.iterparse(
            stream,
            events=("start", "end"),
            tag=[
                f"{_OFFICE}automatic-styles",
                *(f"{_TABLE}table{part}" for part in ("", "-column", "-row")),
            ],
            resolve_entities=False,
            no_network=True,
            huge_tree=False,
        ):
            kind = etree.QName(element).localname
            if kind == "automatic-styles" and event == "end":
                styles.read(element)
            elif kind == "table":
                depth += 1 if event == "start" else -1
                if event == "start" and depth == 1:
                    sheet = _Sheet(SheetFacts(), styles, most_cells)
                    found[element.get(f"{_TABLE}name", "")] = sheet.facts
            elif depth == 1 and kind == "table-column" and event == "start":
                sheet.add_columns(element)
            elif depth == 1 and kind == "table-row" and event == "end":
                sheet.add_rows(element)
                element.clear()
                while element.getprevious() is not None:
                    del element.getparent()[0]
    return found


class _Styles:
    """Which cell styles show a unit."""

    def __init__(self) -> None:
        self._shown: dict[str, str | None] = {}  # number style to its unit
        self._number_style: dict[str, str] = {}
        self._parent: dict[str, str] = {}
        self._units: dict[str, str | None] = {}

    def read(self, root: etree._Element) -> None:
        """Take in all styles under an element."""
        for element in root.iter(f"{_NUMBER}number-style", f"{_NUMBER}percentage-style"):
            name = element.get(f"{_STYLE}name", "")
            if element.tag.endswith("percentage-style"):
                self._shown[name] = "1"
                continue
            literals = "".join(text.text or "" for text in element.iter(f"{_NUMBER}text"))
            # Of a format in sections, this is the last; the first stands under a name of its own.
            first = next(element.iter(f"{_STYLE}map"), None)
            named = first.get(f"{_STYLE}apply-style-name", "") if first is not None else ""
            self._shown[name] = self._shown.get(named) if named else canonical(literals)
        for element in root.iter(f"{_STYLE}style"):
            if element.get(f"{_STYLE}family") == "table-cell":
                name = element.get(f"{_STYLE}name", "")
                self._number_style[name] = element.get(f"{_STYLE}data-style-name", "")
                self._parent[name] = element.get(f"{_STYLE}parent-style-name", "")

    def unit(self, name: str) -> str | None:
        """Give the unit that a cell style, or the nearest parent with a number style, shows."""
        if name not in self._units:
            nearest = name
            for _ in self._parent:  # no chain is longer, unless it is a circle
                if self._number_style.get(nearest):
                    break
                nearest = self._parent.get(nearest, "")
            self._units[name] = self._shown.get(self._number_style.get(nearest, ""))
        return self._units[name]


class _Sheet:
    """Takes in the columns and rows of one table, in order."""

    def __init__(self, facts: SheetFacts, styles: _Styles, most_cells: float) -> None:
        self.facts = facts
        self._styles = styles
        self._most = self._left = most_cells
        self._column_styles: list[str] = []
        self._row = self._repeated = 0

    def add_columns(self, element: etree._Element) -> None:
        said = _attributes(element)
        first = len(self._column_styles)
        count = min(_times(said, _COLUMNS), _MOST_COLUMNS - first)
        self._column_styles += [said.get(_DEFAULT_STYLE, "")] * count
        if said.get(_VISIBILITY) in _HIDDEN:
            self.facts.hidden_columns |= set(range(first, first + count))

    def add_rows(self, element: etree._Element) -> None:
        said = _attributes(element)
        rows = range(self._row, self._row + _times(said, _ROWS))
        self._row = rows.stop
        column = filled = end = 0
        for cell in element:
            if cell.tag not in _CELLS:
                continue
            its = _attributes(cell)
            times = _times(its, _COLUMNS) if _COLUMNS in its else 1
            if _KIND in its or _FORMULA in its:
                filled, end = filled + times, column + times
                its.setdefault(_STYLE_NAME, said.get(_DEFAULT_STYLE, ""))
                self._add_cells(cell, its, rows, range(column, column + times))
            if _ROWS_SPANNED in its or _COLUMNS_SPANNED in its:
                last = rows.start + _times(its, _ROWS_SPANNED) - 1
                right = column + _times(its, _COLUMNS_SPANNED) - 1
                if (last, right) != (rows.start, column):
                    self.facts.merged.append(((rows.start, column), (last, right)))
            column += times
        self._repeated += max(len(rows) * filled - len(element), 0)
        if self._repeated > self._most / _REPEATED:
            raise TooMuch(
                f"repeats cells more than {self._most / _REPEATED:,.0f} times on one sheet"
            )
        if filled and max(rows.stop / _MOST_ROWS, end / _MOST_COLUMNS) > 1:
            raise TooMuch("has cells beyond the last row or column that programs show")
        if filled and said.get(_VISIBILITY) in _HIDDEN:
            self._spend(len(rows))
            self.facts.hidden_rows |= set(rows)

    def _add_cells(
        self, cell: etree._Element, its: dict[str, str], rows: range, columns: range
    ) -> None:
        kind = its.get(_KIND)
        if kind is None:
            self.facts.uncalculated |= set(self._places(rows, columns))
        elif error := _error_in(cell, its):
            self.facts.errors |= dict.fromkeys(self._places(rows, columns), error)
        elif kind == "percentage":
            self.facts.shown |= dict.fromkeys(self._places(rows, columns), "1")
        elif kind == "float" and its[_STYLE_NAME]:
            if unit := self._styles.unit(its[_STYLE_NAME]):
                self.facts.shown |= dict.fromkeys(self._places(rows, columns), unit)
        elif kind == "float":
            for at in columns[: max(len(self._column_styles) - columns.start, 0)]:
                if unit := self._styles.unit(self._column_styles[at]):
                    self.facts.shown |= dict.fromkeys(self._places(rows, range(at, at + 1)), unit)

    def _places(self, rows: range, columns: range) -> Iterator[tuple[int, int]]:
        self._spend(len(rows) * len(columns))
        return product(rows, columns)

    def _spend(self, cells: int) -> None:
        self._left -= cells
        if self._left < 0:
            raise TooMuch(f"has a sheet of more than {self._most:,.0f} cells that need a look")


def _attributes(element: etree._Element) -> dict[str, str]:
    return cast(dict[str, str], dict(element.items()))  # bytes are only what was set as such


def _error_in(cell: etree._Element, its: dict[str, str]) -> str:
    """The error that a cell shows: marked as one, or what a formula came to; "" where none."""
    marked = its.get(_CALC_KIND) == "error"
    if not marked and _FORMULA not in its:
        return ""
    shown = (str(text) for part in cell.findall(f"{_TEXT}p") for text in part.itertext())
    error = _ERROR.fullmatch("".join(shown).strip())
    return error[0] if error else "#ERROR!" if marked else ""


def _times(said: dict[str, str], name: str) -> int:
    count = int(said.get(name, "1"))
    if count < 1:
        raise ValueError(f"{name.rpartition('}')[2]} is {count}")
    return count
