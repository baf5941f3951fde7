"""Rows of a sheet as the XML of the file format, streamed.

The writing library's own cells take five times as long as these lines (tests/benchmarks), and a
register of 20,000 rows gives millions of cells. Everything about a sheet but its rows is left to
the library. Every text is an inline string: nothing here can become a formula.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import cache
from hashlib import blake2b
from html import escape

from ..register.register import cell_reference
from .model import MAX_CELL_TEXT, MAX_LINKS, Cell, Link, SheetModel, Value
from .style import STYLES
from .text_lines import lines_of, room_of

__all__ = ["RowStream", "cell_name", "inline", "number_said", "row_seal", "safe_text", "seal"]

# ECMA-376 part 1, 22.9.2.19 (ST_Xstring): characters that XML cannot hold are written _xHHHH_, and
# text that happens to look like that has its underscore escaped.
_NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]|\r")
_LOOKS_ESCAPED = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
_SURROGATE = re.compile("[\ud800-\udfff]")
_SPACED = re.compile(r"\A\s|\s\Z|\n|  ")
_CHUNK = 500
_REMEMBERED = 10_000
_PLAIN_TEXT, _WRAPPED, _BOLD = range(3)
_LINE, _PADDING, _MOST_HEIGHT = 12.0, 2.0, 409.0  # points; the last is the file format's limit
_SURELY_FITS = 0.8  # letters per character of a column's width
_UNLINKED = {"link": "line"}


def safe_text(text: str) -> str:
    """Text as a cell can hold it: at most 32,767 characters, a cut one says so."""
    # The file format counts UTF-16 units; a character outside the basic plane is two of them.
    if 2 * len(text) <= MAX_CELL_TEXT:
        return text
    length = len(text) + sum(character > "\uffff" for character in text)
    if length <= MAX_CELL_TEXT:
        return text
    note = f" … [cut here: {length:,} characters do not fit into a cell]"
    room = MAX_CELL_TEXT - len(note)
    kept = text.encode("utf-16-le", "surrogatepass")[: 2 * room]
    return kept.decode("utf-16-le", "ignore") + note


def inline(text: str) -> str:
    """Give the end of a cell of text that is escaped already."""
    space = ' xml:space="preserve"' if _SPACED.search(text) else ""
    return f' t="inlineStr"><is><t{space}>{text}</t></is></c>'


def row_seal(said: Sequence[str]) -> int:
    """Give the share of a row in the seal of its sheet, from what its cells say."""
    text = "\n".join(said).encode()
    return int.from_bytes(blake2b(text, digest_size=16).digest(), "big") if said else 0


def number_said(value: float) -> str:
    """Give a number as it goes into a seal, to as many digits as every program keeps."""
    return f"{value:.12g}"


def seal(rows: int, charts: int) -> str:
    """Give the seal of a sheet with the sum of its rows' shares and so many charts."""
    return f"{rows % (1 << 128):032x}.{charts}"


def _markup(text: str) -> str:
    if (
        text.isprintable()
        and "_x" not in text
        and "  " not in text
        and text[:1] != " " != text[-1:]
        and len(text) < MAX_CELL_TEXT
    ):
        return f' t="inlineStr"><is><t>{escape(text, quote=False)}</t></is></c>'
    text = _LOOKS_ESCAPED.sub("_x005F_", safe_text(text))
    text = _NOT_XML.sub(lambda found: f"_x{ord(found[0]):04X}_", text)
    return inline(escape(_SURROGATE.sub("\ufffd", text), quote=False))


@cache
def _kind(style: str) -> int:
    look = STYLES[style]
    if not look.get("text_wrap"):
        return _PLAIN_TEXT
    return _BOLD if look.get("bold") else _WRAPPED


@cache
def _letters(column: int) -> str:
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def cell_name(row: int, column: int) -> str:
    """``A1`` of a row and column counted from 0."""
    return f"{_letters(column)}{row + 1}"


class RowStream:
    """Writes the rows of sheets.

    Parameters
    ----------
    styles
        Style name to its number in the workbook the rows go into.
    names
        Our sheet names to the names they have there.
    seen
        Names of the source's sheets that can be seen; a link to another would do nothing.

    Attributes
    ----------
    seals
        Name there of each sheet whose rows were written to the seal of the sheet.
    """

    def __init__(
        self,
        styles: Mapping[str, int],
        names: Mapping[str, str],
        seen: Collection[str] = (),
    ) -> None:
        self._styles = styles
        self._names = names
        self._seen = seen
        self.seals: dict[str, str] = {}
        self._texts: dict[str, str] = {}

    def rows(self, sheet: SheetModel, links: list[str]) -> Iterator[bytes]:
        """Give the content of ``sheetData`` in pieces; link elements are put into `links`."""
        looks = {name: (f'" s="{style}"', _kind(name)) for name, style in self._styles.items()}
        columns = [
            (
                f'<c r="{_letters(at)}',
                _letters(at),
                column.style,
                *looks[column.style],
                column.width * _SURELY_FITS,
                (0, room_of(column.width), room_of(column.width, bold=True)),
            )
            for at, column in enumerate(sheet.columns)
        ]
        known = self._texts
        sum_of_rows = 0
        pieces: list[str] = []
        for number, row in enumerate(sheet, start=1):
            start = len(pieces)
            pieces.append("")
            said: list[str] = []
            lines = 1
            for column, cell in zip(columns, row, strict=False):
                start_of_cell, letter, name, style, kind, fits, rooms = column
                value: Value
                if isinstance(cell, Cell):
                    value, own, link = cell
                    own = own or name
                    if link is not None and len(links) < MAX_LINKS and self._leads(link):
                        links.append(self._link(f"{letter}{number}", link))
                    elif own in _UNLINKED:
                        own = _UNLINKED[own]
                    style, kind = looks[own]
                else:
                    value = cell
                if isinstance(value, str):
                    # Most texts (band words, questions, units, sources) come again and again.
                    content = known.get(value) or self._text(value)
                    if value:
                        said.append(letter + content)
                    if kind and (len(value) > fits or "\n" in value):
                        lines = max(lines, lines_of(value, rooms[kind]))
                else:
                    content = _number(value)
                    if len(content) > 2:
                        said.append(letter + number_said(value))  # type: ignore[arg-type]
                pieces.append(f"{start_of_cell}{number}{style}{content}")
            height = sheet.heights.get(number - 1, min(lines * _LINE + _PADDING, _MOST_HEIGHT))
            pieces[start] = f'<row r="{number}" ht="{height:g}" customHeight="1">'
            pieces.append("</row>")
            sum_of_rows += row_seal(said)
            if number % _CHUNK == 0:
                yield "".join(pieces).encode()
                pieces.clear()
        name = self._names.get(sheet.name, sheet.name)
        self.seals[name] = seal(sum_of_rows, len(sheet.charts))
        yield "".join(pieces).encode()

    def _leads(self, link: Link) -> bool:
        return link.sheet in (self._names if link.own else self._seen)

    def _text(self, text: str) -> str:
        markup = _markup(text) if text else "/>"
        if len(self._texts) < _REMEMBERED:
            self._texts[text] = markup
        return markup

    def _link(self, cell: str, link: Link) -> str:
        sheet = self._names.get(link.sheet, link.sheet) if link.own else link.sheet
        place = _markup_attribute(cell_reference(sheet, link.cell))
        return f'<hyperlink ref="{cell}" location={place}/>'


def _number(value: int | float | None) -> str:
    if type(value) is int:
        return f"><v>{value}</v></c>"
    if value is None or not math.isfinite(value):
        return "/>"
    # numpy's scalars are numbers too, but their repr names their type.
    return f"><v>{float(value)!r}</v></c>"


def _markup_attribute(text: str) -> str:
    text = escape(_NOT_XML.sub("", _SURROGATE.sub("\ufffd", text)), quote=False)
    # In an attribute a line end or a tab would be read as a blank.
    for sign, name in (('"', "&quot;"), ("\n", "&#10;"), ("\t", "&#9;")):
        text = text.replace(sign, name)
    return f'"{text}"'
