"""One spelling for the parts of an xlsx package: XML may write the same cells in very many ways.

The reader of values and the scan for facts both know the spelling that nearly every program
writes, and every tag of a sheet is held to it. A sheet written otherwise is read as XML and
written anew, so that both read the same: what takes long is done only for the few that need it.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable, Iterator
from html import escape
from typing import TypeVar

from lxml import etree

from .grid import column_letter
from .parts import Parts, elements, local_name

__all__ = ["Spelled", "column_index"]

_CHUNK = 4 << 20
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_LINKS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE_LINKS = "http://schemas.openxmlformats.org/package/2006/relationships"
# A comment, section of raw text or character reference; and among the rows, a tag that is not
# written as usual, or stands in another order: so no prefix or odd quotation mark is there.
_ODD = re.compile(rb"<!|&#")
_ODD_TAG = re.compile(
    rb"<(?!"
    rb'c r="[^"]*"(?: [a-z]+="[^"&>]*")*+/?>|/c>|v>(?![ \t\r\n])|(?<![ \t\r\n]<)/v>|v/>'
    rb'|row r="[0-9]+"(?: [\w:]+="[^"&>]*")*+/?>|/row>|f[ />]|/f>|/?is>|/?t>'
    rb'|t xml:space="preserve">)|</(?:v|is)>\s*<f'
)
_CELL = re.compile(rb'<c r="([^"]*)"')
_ENCODING = re.compile(rb"""(?:\xef\xbb\xbf)?\s*<\?xml[^>]*\bencoding\s*=\s*["']([^"']*)""")
_ADDRESS = re.compile(r"([A-Z]{1,3})([1-9][0-9]{0,6})")
_WORKBOOK = "xl/workbook.xml"
_PLACES = {"sharedStrings": "xl/sharedStrings.xml", "styles": "xl/styles.xml"}
_TRUE = ("1", "true")
_T = TypeVar("_T")


class _Unusual(Exception):
    """A sheet is not written in the usual spelling."""


class Spelled:
    """An xlsx package whose sheets are read in one spelling.

    Attributes
    ----------
    sheets
        Name of each worksheet to its part.
    styles
        Root of the style sheet, if there is one.
    """

    def __init__(self, package: Parts) -> None:
        self._package = package
        self._anew: dict[str, bytes] = {}
        self._listed: list[tuple[str, str, str, str]] = []
        self._odd = False
        self.sheets: dict[str, str] = {}
        self.styles: etree._Element | None = None
        workbook = package.workbook()
        if workbook is None:
            return
        linked = package.relationships(workbook)
        self._parts = {k: p for k, p in linked.values() if k in _PLACES and p in package.names}
        self._odd = workbook != _WORKBOOK or any(p != _PLACES[k] for k, p in self._parts.items())
        self._odd |= not all(map(self._is_utf_8, [workbook, *self._parts.values()]))
        if part := self._parts.get("styles"):
            self.styles = package.parse(part)
            self._anew[part] = etree.tostring(self.styles, encoding="utf-8")
        if part := self._parts.get("sharedStrings"):
            package.begin(part)
            content = package.package.read(part)
            if _ODD.search(content) or not self._is_utf_8(part):
                self._odd = True
                texts = (_text(item) for item in _each(content, "si"))
                said = "".join(f"<si>{text}</si>" for text in texts)
                self._anew[part] = f'<sst xmlns="{_MAIN}">{said}</sst>'.encode()
        root = package.parse(workbook)
        self._since_1904 = any(
            one.get("date1904", "").strip() in _TRUE for one in elements(root, "workbookPr")
        )
        for sheet in elements(root, "sheet"):
            identity = next((v for k, v in sheet.attrib.items() if str(k).endswith("}id")), "")
            kind, part = linked.get(str(identity), ("", ""))
            name = sheet.get("name", "")
            self._odd |= len(sheet.get("sheetId", "")) > 9  # the reader's has 32 bits
            self._listed.append((name, sheet.get("state", "visible"), kind, part))
            if kind == "worksheet" and part in package.names:
                self.sheets[name] = part

    def scan(self, name: str, scan: Callable[[Iterator[bytes]], _T]) -> _T:
        """Give a scan what stands before a worksheet's rows, then its rows, in pieces.

        Raises
        ------
        ValueError
            Where two cells claim one address, or one an address that there is not.
        """
        part = self.sheets[name]
        self._package.begin(part)
        try:
            return scan(self._pieces(part))
        except _Unusual:
            pass
        try:
            self._anew[part] = _written_anew(self._package.package.read(part))
        except ValueError as error:
            raise ValueError(f"sheet {name!r}: {error}") from None
        self._odd = True
        return scan(iter([self._anew[part]]))

    def _is_utf_8(self, part: str) -> bool:
        with self._package.package.open(part) as stream:
            head = stream.read(1024)
        said = _ENCODING.match(head)
        return b"\0" not in head and (said is None or said[1].lower() == b"utf-8")

    def _pieces(self, part: str) -> Iterator[bytes]:
        """Give a sheet in pieces that begin with a row but for the first; held to the spelling."""
        if not self._is_utf_8(part):
            raise _Unusual
        known: dict[bytes, bool] = {}
        number = 0
        for at, piece in enumerate(_cut(self._package.package, part)):
            rows = piece
            if not at:
                _, begun, rows = piece.partition(b"<sheetData")
                if not begun or not rows.startswith((b">", b"/>")):
                    raise _Unusual
                rows = b"" if rows.startswith(b"/") else rows
            rows = rows.partition(b"</sheetData>")[0]
            if _ODD.search(piece) or _ODD_TAG.search(rows):
                raise _Unusual
            for row in rows.split(b'<row r="')[1:]:
                own = row[: row.index(b'"')]
                letters = (b" ".join(_CELL.findall(row)) + b" ").replace(own + b" ", b" ")
                if letters not in known:
                    known[letters] = _in_order(letters)
                if not known[letters] or not number < int(own):
                    raise _Unusual
                number = int(own)
            yield piece

    def package(self) -> bytes | None:
        """Give a package of the same sheets with each part where and as it usually is.

        None, once all sheets were scanned, where this one is written so.
        """
        if not self._odd:
            return None
        file = io.BytesIO()
        links = [(kind, _PLACES[kind].removeprefix("xl/")) for kind in self._parts]
        written = {part: _PLACES[kind] for kind, part in self._parts.items()}
        listed = ""
        for at, (name, state, kind, part) in enumerate(self._listed):
            kind = "worksheet" if kind == "worksheet" else "chartsheet"
            listed += (
                f'<sheet name="{escape(name)}" sheetId="{at + 1}" '
                f'state="{escape(state)}" r:id="r{len(links)}"/>'
            )
            links.append((kind, f"{kind}s/sheet{at + 1}.xml"))
            if part in self.sheets.values():
                written[part] = f"xl/{kind}s/sheet{at + 1}.xml"
        with zipfile.ZipFile(file, "w") as new:
            for part, name in written.items():
                anew = self._anew.get(part)
                new.writestr(name, self._package.package.read(part) if anew is None else anew)
            new.writestr("_rels/.rels", _relationships(("officeDocument", _WORKBOOK)))
            new.writestr("xl/_rels/workbook.xml.rels", _relationships(*links))
            new.writestr(
                _WORKBOOK,
                f'<workbook xmlns="{_MAIN}" xmlns:r="{_LINKS}"><workbookPr '
                f'date1904="{self._since_1904:d}"/><sheets>{listed}</sheets></workbook>',
            )
        return file.getvalue()


def column_index(letters: str) -> int:
    """Zero-based index of a column: A is 0, AA is 26."""
    index = 0
    for letter in letters:
        index = index * 26 + ord(letter) - 64
    return index - 1


def _cut(package: zipfile.ZipFile, part: str) -> Iterator[bytes]:
    rest = b""
    with package.open(part) as stream:
        while piece := stream.read(_CHUNK):
            rest += piece
            if (cut := rest.rfind(b"<row ")) > 0:
                yield rest[:cut]
                rest = rest[cut:]
    yield rest


def _in_order(letters: bytes) -> bool:
    """Whether what is left of a row's addresses are columns, each right of the one before."""
    columns = letters.decode("latin-1").split()
    if not all(re.fullmatch("[A-Z]{1,3}", column) for column in columns):
        return False
    indices = [column_index(column) for column in columns]
    return indices == sorted(set(indices))


def _relationships(*links: tuple[str, str]) -> str:
    inner = "".join(
        f'<Relationship Id="r{at}" Type="{_LINKS}/{kind}" Target="{target}"/>'
        for at, (kind, target) in enumerate(links)
    )
    return f'<Relationships xmlns="{_PACKAGE_LINKS}">{inner}</Relationships>'


def _each(content: bytes, *names: str) -> Iterator[etree._Element]:
    """Give the elements of some local names as they end; each is gone after the next is given."""
    for _, element in etree.iterparse(
        io.BytesIO(content),
        tag=[f"{{*}}{name}" for name in names],
        remove_comments=True,
        remove_pis=True,
        resolve_entities=False,
        no_network=True,
        huge_tree=False,
    ):
        yield element
        element.clear()
        while element.getprevious() is not None:
            del element.getparent()[0]


def _text(element: etree._Element) -> str:
    """A text in the usual spelling, of a rich one without how it is pronounced."""
    text = "".join(
        "".join(map(str, one.itertext()))
        for one in elements(element, "t")
        if not any(local_name(above) == "rPh" for above in one.iterancestors())
    )
    return f'<t xml:space="preserve">{escape(text)}</t>'


def _is_hidden(element: etree._Element) -> int:
    return element.get("hidden", "").strip() in _TRUE


def _written_anew(content: bytes) -> bytes:
    """A worksheet's columns, cells and merged areas in the usual spelling, in order."""
    columns = merged = ""
    hidden: dict[int, int] = {}
    rows: dict[int, dict[int, str]] = {}
    number = 0
    for element in _each(content, "row", "col", "mergeCell"):
        kind = local_name(element)
        if kind == "mergeCell":
            merged += f'<mergeCell ref="{escape(element.get("ref", ""))}"/>'
        elif kind == "col":
            said = "".join(f' {k}="{escape(element.get(k, ""))}"' for k in ("min", "max"))
            columns += f'<col{said} hidden="{_is_hidden(element):d}"/>'
        elif any(local_name(above) == "sheetData" for above in element.iterancestors()):
            number = int(element.get("r", number + 1))
            hidden[number] = hidden.get(number, 0) | _is_hidden(element)
            _add_cells(element, number, rows.setdefault(number, {}))
    out = [f'<worksheet xmlns="{_MAIN}"><cols>{columns}</cols><sheetData>']
    for number, cells in sorted(rows.items()):
        said = f'<row r="{number}" hidden="{hidden[number]:d}">'
        out += [said, *(cell for _, cell in sorted(cells.items())), "</row>"]
    areas = f"<mergeCells>{merged}</mergeCells>" if merged else ""
    return "".join([*out, "</sheetData>", areas, "</worksheet>"]).encode()


def _add_cells(row: etree._Element, number: int, cells: dict[int, str]) -> None:
    column = -1
    for cell in row.iterchildren("{*}c"):
        address = cell.get("r", "").strip() or f"{column_letter(column + 1)}{number}"
        found = _ADDRESS.fullmatch(address)
        if found is None or int(found[2]) != number:
            raise ValueError(f"a cell of row {number} is called {address!r}")
        column = column_index(found[1])
        if column in cells:
            raise ValueError(f"cell {address} stands twice; programs differ in which they show")
        cells[column] = _cell(cell, address)


def _cell(cell: etree._Element, address: str) -> str:
    kind = cell.get("t", "n").strip()
    style = cell.get("s", "0").strip()
    formula = value = ""
    for part in cell:
        name = str(part.tag).rpartition("}")[2]
        if name == "f":
            formula = "<f/>"
        elif name == "is" and kind == "inlineStr":
            value = f"<is>{_text(part)}</is>"
        elif name == "v":
            text = "".join(map(str, part.itertext()))
            value = f"<v>{escape(text if kind == 'str' else text.strip())}</v>"
    return f'<c r="{address}" s="{escape(style)}" t="{escape(kind)}">{formula}{value}</c>'
