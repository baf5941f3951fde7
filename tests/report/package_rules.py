"""What makes spreadsheet programs offer a repair, or mislead: one rule function for each kind.

`faults` runs them all over a package. Of a copy, only those count that its source has not, and
parts that are the source's byte for byte are not looked into. Limits are those of ECMA-376 part 1
and [MS-OI29500]; where programs keep narrower ones they stand beside the rule, from memory.
"""

from __future__ import annotations

import io
import posixpath
import re
import struct
import zipfile
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from functools import cached_property
from urllib.parse import unquote

from lxml import etree

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}"
TYPES = "[Content_Types].xml"
ROWS, COLUMNS = 1_048_576, 16_384
_CELL = re.compile(r"\$?([A-Z]{1,3})\$?([0-9]{1,7})")
_PLACE = re.compile(r"(?:'((?:[^']|'')+)'|([^'!]+))!(.+)", re.DOTALL)
_BARE = re.compile(r"[^\W\d][\w.]*")
_LIKE_A_CELL = re.compile(r"(?i)[a-z]{1,3}[0-9]+|r[0-9]*|c[0-9]*|r[0-9]*c[0-9]*|true|false")
_UNQUALIFIED = re.compile(r"\{[^}]*\}")


class Book:
    """A package, opened as a strict reader would."""

    def __init__(self, content: bytes, source: Book | None = None) -> None:
        self.content, self.source = content, source
        self.zip = zipfile.ZipFile(io.BytesIO(content))
        self.names = [n for n in self.zip.namelist() if not n.endswith("/")]
        self.folded = {n.replace("\\", "/").casefold(): n for n in self.names}
        self._parsed: dict[str, etree._Element] = {}

    def read(self, part: str) -> bytes:
        return self.zip.read(part)

    def find(self, part: str) -> str | None:
        return self.folded.get(unquote(part).lstrip("/").casefold())

    def fresh(self, part: str) -> bool:
        old = self.source
        return old is None or part not in old.names or old.read(part) != self.read(part)

    def xml(self, part: str) -> etree._Element:
        if part not in self._parsed:
            self._parsed[part] = etree.fromstring(self.read(part))
        return self._parsed[part]

    def relations(self, part: str) -> list[tuple[str, str, str | None, str]]:
        """(identity, kind, part led to or None, target as it stands) of each relationship."""
        folder, name = posixpath.split(part.replace("\\", "/"))
        place = self.find(posixpath.join(folder, "_rels", f"{name}.rels"))
        found = []
        for item in self.xml(place) if place else ():
            target, inside = item.get("Target", ""), item.get("TargetMode") != "External"
            path = posixpath.normpath(posixpath.join("/", folder, target.replace("\\", "/")))
            kind = item.get("Type", "").rpartition("/")[2]
            led = self.find(path.partition("#")[0]) if inside else ""
            found.append((item.get("Id", ""), kind, led, target))
        return found

    def of_kind(self, part: str, *kinds: str) -> list[str]:
        return [led for _, kind, led, _ in self.relations(part) if kind in kinds and led]

    @cached_property
    def main(self) -> str:
        return self.of_kind("", "officeDocument")[0]

    @cached_property
    def sheets(self) -> list[tuple[etree._Element, str | None]]:
        led = {identity: part for identity, _, part, _ in self.relations(self.main)}
        return [
            (s, led.get(s.get(f"{RELATION}id"))) for s in self.xml(self.main).iter(f"{MAIN}sheet")
        ]

    @cached_property
    def titles(self) -> dict[str, str]:
        """Sheet name, case aside, to its state."""
        return {s.get("name").casefold(): s.get("state", "visible") for s, _ in self.sheets}

    @cached_property
    def styles(self) -> etree._Element | None:
        found = self.of_kind(self.main, "styles")
        return self.xml(found[0]) if found else None

    def fresh_sheets(self) -> Iterator[tuple[str, etree._Element]]:
        for _, part in self.sheets:
            if part and self.fresh(part) and self.xml(part).tag == f"{MAIN}worksheet":
                yield part, self.xml(part)

    def fresh_parts(self, kind: str) -> Iterator[tuple[str, etree._Element]]:
        for part in self.names:
            if kind in part and part.endswith(".xml") and self.fresh(part):
                yield part, self.xml(part)


def _units(text: str) -> int:
    return len(text.encode("utf-16-le", "surrogatepass")) // 2


def _number(letters: str) -> int:
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - 64
    return number


def _area(text: str) -> tuple[int, int, int, int] | None:
    ends = [_CELL.fullmatch(end) for end in text.split(":")]
    if not 1 <= len(ends) <= 2 or None in ends:
        return None
    (top, left), (bottom, right) = (
        (int(end[2]), _number(end[1]))
        for end in (ends[0], ends[-1])  # type: ignore[index]
    )
    whole = 1 <= top <= bottom <= ROWS and 1 <= left <= right <= COLUMNS
    return (top, left, bottom, right) if whole else None


def _place_fault(book: Book, text: str) -> str:
    """What is wrong with ``Sheet!A1``, or nothing."""
    found = _PLACE.fullmatch(text)
    if not found:
        return f"{text!r} names no sheet"
    name = found[1].replace("''", "'") if found[1] else found[2]
    if name.casefold() not in book.titles:
        return f"{text!r} leads to no sheet"
    if not found[1] and (not _BARE.fullmatch(name) or _LIKE_A_CELL.fullmatch(name)):
        return f"{text!r} lacks apostrophes"
    return "" if _area(found[3]) else f"{text!r} leads to no cell"


def _repeated(what: str, items: Iterable[str]) -> Iterator[str]:
    yield from (f"two {what} {item!r}" for item, n in Counter(items).items() if n > 1)


# --- the rules -------------------------------------------------------------------------------


def entries_have_plain_headers_that_agree(book: Book) -> Iterator[str]:
    for entry in book.zip.infolist():
        at = entry.header_offset
        signature, _, _, method, _, _, crc, packed, size, name, extra = struct.unpack_from(
            "<4s5H3I2H", book.content, at
        )
        behind = entry.flag_bits & 8
        same = (crc, packed, size) == (entry.CRC, entry.compress_size, entry.file_size)
        if signature != b"PK\3\4" or method != entry.compress_type or not (behind or same):
            yield f"{entry.filename}: local header and directory differ"
        raw = book.content[at + 30 : at + 30 + name]
        if raw not in book.content[book.zip.start_dir :]:
            yield f"{entry.filename}: local name and directory differ"
        more = book.content[at + 30 + name : at + 30 + name + extra]
        if more[:2] == b"\1\0" and entry.file_size < 1 << 32:
            yield f"{entry.filename}: 64-bit header without need"


def part_names_are_unique(book: Book) -> Iterator[str]:
    yield from _repeated("parts", (name.casefold() for name in book.names))


def every_part_has_one_type(book: Book) -> Iterator[str]:
    items = [item for item in book.xml(TYPES) if isinstance(item.tag, str)]
    single = [i.get("PartName", "").casefold() for i in items if i.get("PartName")]
    endings = [i.get("Extension", "").casefold() for i in items if i.get("Extension")]
    yield from _repeated("types for", [*single, *endings])
    for name in single:
        if not book.find(name):
            yield f"type of a part that is not there, {name}"
    for name in book.names:
        ending = name.casefold().rpartition(".")[2]
        if name != TYPES and f"/{name.casefold()}" not in single and ending not in endings:
            yield f"{name}: no type"


def relationships_lead_to_parts(book: Book) -> Iterator[str]:
    for name in book.names:
        found = re.fullmatch(r"(.*/|)_rels/(.*)\.rels", name)
        if found:
            relations = book.relations(found[1] + found[2])
            yield from _repeated(f"relationships in {name}", (one for one, *_ in relations))
            for identity, _, led, target in relations:
                if led is None:
                    yield f"{name}: {identity} leads to no part ({target})"


def identities_have_relationships(book: Book) -> Iterator[str]:
    for part in book.names:
        if part.endswith(".xml") and part != TYPES and book.fresh(part):
            known = {identity for identity, *_ in book.relations(part)}
            for element in book.xml(part).iter(etree.Element):
                for key, value in element.attrib.items():
                    if str(key).startswith(RELATION) and value not in known:
                        yield f"{part}: {value} has no relationship"


def sheets_have_names_and_ids_of_their_own(book: Book) -> Iterator[str]:
    sheets = [sheet for sheet, _ in book.sheets]
    yield from _repeated("sheets", (sheet.get("name").casefold() for sheet in sheets))
    yield from _repeated("sheet ids", (sheet.get("sheetId") for sheet in sheets))
    yield from _repeated("sheets on one part", (part for _, part in book.sheets if part))
    for sheet in sheets:
        name = sheet.get("name")
        if not 1 <= _units(name) <= 31 or re.search(r"[\[\]:*?/\\\0-\x1f]|^'|'$", name):
            yield f"sheet name {name!r}"
        if not 1 <= int(sheet.get("sheetId")) <= 65_534:
            yield f"sheet id {sheet.get('sheetId')}"


def one_sheet_is_open(book: Book) -> Iterator[str]:
    states = list(book.titles.values())
    for view in book.xml(book.main).iter(f"{MAIN}workbookView"):
        active = int(view.get("activeTab", "0"))
        if active >= len(states) or states[active] != "visible":
            yield "the active sheet cannot be seen"
    selected = [
        part
        for _, part in book.sheets
        if part and re.search(rb'tabSelected="(1|true)"', book.read(part))
    ]
    if len(selected) > 1:
        yield f"{len(selected)} selected sheets"


def names_have_scopes(book: Book) -> Iterator[str]:
    root = book.xml(book.main)
    names = list(root.iter(f"{MAIN}definedName"))
    keys = [f"{n.get('name', '').casefold()} of {n.get('localSheetId')}" for n in names]
    yield from _repeated("names", keys)
    titles = list(book.titles)
    for name in names:
        key, scope, text = name.get("name"), name.get("localSheetId"), name.text or ""
        if not text.strip() or text.startswith("=") or len(text) > 8192:
            yield f"name {key}: text {text[:40]!r}"
        if scope is None:
            continue
        if int(scope) >= len(titles):
            yield f"name {key} has the scope of no sheet"
        elif key.startswith("_xlnm.") and "#REF!" not in text:
            for piece in re.findall(r"(?:^|,)(?:'((?:[^']|'')+)'|([^'!,]+))!", text):
                sheet = (piece[0].replace("''", "'") or piece[1]).casefold()
                if sheet != titles[int(scope)]:
                    yield f"name {key} of sheet {scope} points to {sheet!r}"


def cells_are_in_order_and_in_bounds(book: Book) -> Iterator[str]:
    strings = sum(
        book.read(part).count(b"<si>") + book.read(part).count(b"<si ")
        for part in book.of_kind(book.main, "sharedStrings")
    )
    for part, root in book.fresh_sheets():
        last = 0
        for row in root.iter(f"{MAIN}row"):
            number, height = int(row.get("r", last + 1)), float(row.get("ht", "0"))
            if not last < number <= ROWS:
                yield f"{part}: row {number} after {last}"
            if not 0 <= height <= 409.5:
                yield f"{part}: row {number} is {height} points high"
            last, before = number, 0
            for cell in row.iterchildren(f"{MAIN}c"):
                place = _CELL.fullmatch(cell.get("r", ""))
                at = _number(place[1]) if place else before + 1
                if not before < at <= COLUMNS or (place and int(place[2]) != number):
                    yield f"{part}: cell {cell.get('r')} in row {number}"
                before = at
                text = "".join(t.text or "" for t in cell.iter(f"{MAIN}t"))
                if _units(re.sub("_x[0-9A-Fa-f]{4}_", "x", text)) > 32_767:
                    yield f"{part}: {cell.get('r')} has too long a text"
                value = cell.findtext(f"{MAIN}v")
                if cell.get("t") == "s" and not int(value or "0") < strings:
                    yield f"{part}: {cell.get('r')} has a text that is not there"
                if (
                    cell.get("t", "n") == "n"
                    and value
                    and not float("-inf") < float(value) < 1e309
                ):
                    yield f"{part}: {cell.get('r')} has the number {value}"


def cells_have_styles_that_are_there(book: Book) -> Iterator[str]:
    formats = book.styles.find(f"{MAIN}cellXfs") if book.styles is not None else None
    count = 1 if formats is None else len(formats)
    for part, root in book.fresh_sheets():
        used = {int(e.get("s", "0")) for e in root.iter(f"{MAIN}c", f"{MAIN}row")}
        used |= {int(e.get("style", "0")) for e in root.iter(f"{MAIN}col")}
        if max(used, default=0) >= count:
            yield f"{part}: style {max(used)} of {count}"


def styles_count_and_refer_right(book: Book) -> Iterator[str]:
    if book.styles is None:
        return
    lists = {etree.QName(e).localname: e for e in book.styles if isinstance(e.tag, str)}
    sizes = {name: len(entries) for name, entries in lists.items()}
    for name, entries in lists.items():
        if entries.get("count", str(len(entries))) != str(len(entries)):
            yield f"styles: {name} says {entries.get('count')} and holds {len(entries)}"
    keys = {"fontId": "fonts", "fillId": "fills", "borderId": "borders", "xfId": "cellStyleXfs"}
    for entry in book.styles.iter(f"{MAIN}xf", f"{MAIN}cellStyle"):
        for key, name in keys.items():
            if int(entry.get(key, "0")) >= max(sizes.get(name, 0), 1):
                yield f"styles: {key} {entry.get(key)} of {sizes.get(name, 0)}"
    named = list(book.styles.iter(f"{MAIN}cellStyle"))
    yield from _repeated("cell styles", (style.get("name", "").casefold() for style in named))
    own = list(book.styles.iterfind(f"{MAIN}numFmts/{MAIN}numFmt"))
    yield from _repeated("number formats", (item.get("numFmtId") for item in own))
    built_in = {style.get("xfId") for style in named if style.get("builtinId")}
    both = sizes.get("cellXfs", 0) + sizes.get("cellStyleXfs", 0) - len(built_in)
    if max(both, len(named)) > 65_430:  # [MS-OI29500] 2.1.698, 2.1.700
        yield f"styles: {both} formats, {len(named)} styles"


def links_lead_somewhere(book: Book) -> Iterator[str]:
    for part, root in book.fresh_sheets():
        links = list(root.iter(f"{MAIN}hyperlink"))
        if len(links) > 65_530:
            yield f"{part}: {len(links)} links"
        yield from _repeated(f"links in {part} at", (link.get("ref") for link in links))
        for link in links:
            place = link.get("location", "")
            if link.get(f"{RELATION}id") or not place:
                continue
            fault = _place_fault(book, place)
            name = place.rpartition("!")[0].strip("'").replace("''", "'").casefold()
            if not fault and book.titles[name] != "visible":
                fault = f"{place!r} leads to a hidden sheet"
            if fault:
                yield f"{part}: link at {link.get('ref')}: {fault}"


def restrictions_are_in_bounds(book: Book) -> Iterator[str]:
    for part, root in book.fresh_sheets():
        rules = root.find(f"{MAIN}dataValidations")
        if rules is not None and rules.get("count") != str(len(rules)):
            yield f"{part}: {len(rules)} restrictions, {rules.get('count')} said"
        for rule in () if rules is None else rules:
            areas = rule.get("sqref", "").split()
            if not 1 <= len(areas) <= 8_192 or not all(map(_area, areas)):
                yield f"{part}: restriction of {len(areas)} areas"
            words = rule.findtext(f"{MAIN}formula1") or ""
            if _units(words) > 257:
                yield f"{part}: {_units(words)} characters of words to choose from"
            for key, most in {
                "errorTitle": 32,
                "promptTitle": 32,
                "error": 224,
                "prompt": 255,
            }.items():
                if _units(rule.get(key, "")) > most:
                    yield f"{part}: {key} of {_units(rule.get(key))} characters"


def merged_areas_do_not_overlap(book: Book) -> Iterator[str]:
    for part, root in book.fresh_sheets():
        taken: set[tuple[int, int]] = set()
        for merge in root.iter(f"{MAIN}mergeCell"):
            area = _area(merge.get("ref", ""))
            if area is None or area[:2] == area[2:]:
                yield f"{part}: merged area {merge.get('ref')}"
                continue
            cells = {
                (r, c) for r in range(area[0], area[2] + 1) for c in range(area[1], area[3] + 1)
            }
            if taken & cells:
                yield f"{part}: merged area {merge.get('ref')} overlaps another"
            taken |= cells


def columns_are_in_order(book: Book) -> Iterator[str]:
    for part, root in book.fresh_sheets():
        last = 0
        for column in root.iter(f"{MAIN}col"):
            first, end = int(column.get("min")), int(column.get("max"))
            if not last < first <= end <= COLUMNS or float(column.get("width", "0")) > 255:
                yield f"{part}: columns {first} to {end}"
            last = end


def printing_is_in_bounds(book: Book) -> Iterator[str]:
    for part, root in book.fresh_sheets():
        for text in root.iter(f"{MAIN}oddHeader", f"{MAIN}oddFooter"):
            if _units(text.text or "") > 255:
                yield f"{part}: a footer of {_units(text.text)} characters"
        for breaks in root.iter(f"{MAIN}rowBreaks", f"{MAIN}colBreaks"):
            if len(breaks) > 1_026 or breaks.get("count") != str(len(breaks)):
                yield f"{part}: {len(breaks)} page breaks, {breaks.get('count')} said"
        for page in root.iter(f"{MAIN}pageSetup"):
            if not 10 <= int(page.get("scale", "100")) <= 400:
                yield f"{part}: print scale {page.get('scale')}"


def tables_have_the_headings_of_their_cells(book: Book) -> Iterator[str]:
    tables = [
        (part, table) for _, part in book.sheets if part for table in book.of_kind(part, "table")
    ]
    yield from _repeated(
        "tables", (book.xml(t).get("displayName", "").casefold() for _, t in tables)
    )
    yield from _repeated("table ids", (book.xml(t).get("id", "") for _, t in tables))
    for part, place in tables:
        table = book.xml(place)
        area = _area(table.get("ref", ""))
        names = [column.get("name", "") for column in table.iter(f"{MAIN}tableColumn")]
        yield from _repeated(f"columns of {place}", (name.casefold() for name in names))
        if area is None or len(names) != area[3] - area[1] + 1:
            yield f"{place}: {len(names)} columns for {table.get('ref')}"
            continue
        cells = {c.get("r"): c for c in book.xml(part).iter(f"{MAIN}c")}
        at = {
            _number(_CELL.fullmatch(r)[1]): c for r, c in cells.items() if r.endswith(str(area[0]))
        }  # type: ignore[index]
        for number, name in enumerate(names, start=area[1]):
            cell = at.get(number)
            texts = [] if cell is None else [t.text or "" for t in cell.iter(f"{MAIN}t")]
            if cell is None or (cell.get("t") == "inlineStr" and "".join(texts) != name):
                yield f"{place}: heading {name!r} is not in its cell"


def notes_have_shapes(book: Book) -> Iterator[str]:
    for part, root in book.fresh_sheets():
        if book.of_kind(part, "comments") and root.find(f"{MAIN}legacyDrawing") is None:
            yield f"{part}: notes without shapes"


def drawings_stand_on_the_sheet_and_are_told_in_words(book: Book) -> Iterator[str]:
    for part, root in book.fresh_parts("drawings/drawing"):
        for anchor in root:
            ends = [
                [int(child.text) for child in end if not child.tag.endswith("Off")]
                for end in anchor
                if end.tag.endswith(("}from", "}to"))
            ]
            for column, row in ends:
                if not (0 <= column < COLUMNS and 0 <= row < ROWS):
                    yield f"{part}: a drawing at row {row}, column {column}"
            if len(ends) == 2 and (ends[0][0] > ends[1][0] or ends[0][1] > ends[1][1]):
                yield f"{part}: a drawing ends before it begins"
        for shape in root.iter("{*}cNvPr"):
            if not shape.get("descr"):
                yield f"{part}: {shape.get('name')} has no text for those who cannot see it"


def charts_refer_to_cells_and_not_by_chance(book: Book) -> Iterator[str]:
    for part, root in book.fresh_parts("charts/chart"):
        for formula in root.iter("{*}f"):
            fault = _place_fault(book, (formula.text or "").strip("()"))
            if fault:
                yield f"{part}: {fault}"
            if _UNQUALIFIED.sub("", formula.getparent().getparent().tag) in ("tx", "title"):
                yield f"{part}: a title is a reference, {formula.text}"
        axes = {
            item.get("val") for item in root.iter("{*}axId") if item.getparent().tag.endswith("Ax")
        }
        if {item.get("val") for item in root.iter("{*}axId")} - axes:
            yield f"{part}: an axis is not there"


def properties_list_the_sheets(book: Book) -> Iterator[str]:
    kinds = {identity: kind for identity, kind, *_ in book.relations(book.main)}
    pages = [
        sheet.get("name")
        for sheet, _ in book.sheets
        if kinds.get(sheet.get(f"{RELATION}id")) == "worksheet"
    ]
    for part in book.of_kind("", "extended-properties"):
        listed = [e.text for e in book.xml(part).iterfind("{*}TitlesOfParts/{*}vector/{*}lpstr")]
        if listed and listed[: len(pages)] != pages:
            yield f"{part}: other sheets than there are"


RULES: tuple[Callable[[Book], Iterator[str]], ...] = (
    entries_have_plain_headers_that_agree,
    part_names_are_unique,
    every_part_has_one_type,
    relationships_lead_to_parts,
    identities_have_relationships,
    sheets_have_names_and_ids_of_their_own,
    one_sheet_is_open,
    names_have_scopes,
    cells_are_in_order_and_in_bounds,
    cells_have_styles_that_are_there,
    styles_count_and_refer_right,
    links_lead_somewhere,
    restrictions_are_in_bounds,
    merged_areas_do_not_overlap,
    columns_are_in_order,
    printing_is_in_bounds,
    tables_have_the_headings_of_their_cells,
    notes_have_shapes,
    drawings_stand_on_the_sheet_and_are_told_in_words,
    charts_refer_to_cells_and_not_by_chance,
    properties_list_the_sheets,
)


def _found(rule: Callable[[Book], Iterator[str]], book: Book) -> set[str]:
    try:
        return set(rule(book))
    except (etree.XMLSyntaxError, ValueError, LookupError, TypeError, zipfile.BadZipFile) as error:
        return {f"cannot be followed ({type(error).__name__})"}


def faults(content: bytes, source: bytes | None = None) -> list[str]:
    """Every fault of a package that its source, where there is one, has not."""
    before = Book(source) if source else None
    book = Book(content, before)
    return [
        f"{rule.__name__}: {fault}"
        for rule in RULES
        for fault in sorted(_found(rule, book) - (_found(rule, before) if before else set()))
    ]
