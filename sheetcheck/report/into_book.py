"""Our sheets added to a copy of the source workbook, of which nothing else changes.

Office libraries that load and save a workbook drop what they do not know. Here the source's parts
are copied as compressed bytes; only the list of content types, the workbook part, its
relationships and the style sheet are edited, and those only by adding to them. Our sheets hold no
dates and no formulas, so neither the source's date system nor its calculation chain matters.
"""

from __future__ import annotations

import posixpath
import re
import zipfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from html import unescape
from typing import BinaryIO

from lxml import etree

from .archive import ArchiveWriter
from .model import SheetModel
from .opc import (
    CONTENT_TYPES,
    MAIN,
    RELATIONSHIPS_TYPE,
    VARIANT,
    ContentTypes,
    Package,
    Relationships,
    folded,
    new_root,
    parse,
    relationships_part,
    serialised,
)
from .rows import RowStream
from .seal import is_sealed, shared_texts
from .skeleton import BookOptions, SheetParts, Skeleton, lay_out
from .style_merge import digit_width_scale, merge_styles
from .workbook_part import Added, Sheet, WorkbookPart, free_names

__all__ = ["Carried", "add_sheets"]

_SPREADSHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml"
_STYLES_TYPE = f"{_SPREADSHEET}.styles+xml"
_NEW_STYLES = "xl/styles.xml"  # some readers look nowhere else
_TAKES_SHEETS = (
    f"{_SPREADSHEET}.sheet.main+xml",
    f"{_SPREADSHEET}.template.main+xml",
    "application/vnd.ms-excel.sheet.macroEnabled.main+xml",
    "application/vnd.ms-excel.template.macroEnabled.main+xml",
)
# Two patterns, each with one beginning, are searched several times faster than one for both. The
# number may have blanks and line ends around it, and digits written as references.
_INDEX = rb"\s*=\s*[\"']([0-9\s+&#xA-Fa-f;]{1,60})[\"']"
_STYLED_CELL, _STYLED_COLUMN = (re.compile(rb"\s%s" % name + _INDEX) for name in (b"s", b"style"))
_MOST_SCANNED = 2 << 30  # bytes: as many as a workbook that is read may usually unpack to
_OUR_WORKBOOK = "xl/workbook.xml"
_OUR_STYLES = "xl/styles.xml"


@dataclass(frozen=True, slots=True)
class Carried:
    """What became of every part and of our sheets.

    Attributes
    ----------
    copied, edited, new, removed
        Part names.
    names
        Our sheets' model names to their names in the workbook.
    replaced
        Names of the sheets of an earlier run.
    notes
        What the user should know.
    """

    copied: tuple[str, ...]
    edited: tuple[str, ...]
    new: tuple[str, ...]
    removed: tuple[str, ...]
    names: Mapping[str, str]
    replaced: tuple[str, ...]
    notes: tuple[str, ...]


def add_sheets(
    source: BinaryIO,
    sheets: Sequence[SheetModel],
    target: BinaryIO,
    options: BookOptions,
    *,
    label: str,
) -> Carried:
    """Write a copy of `source` with `sheets` at its end, in place of any earlier sheets of ours.

    Parameters
    ----------
    source, target
        Open binary files; `target` is seekable and empty.
    sheets
        What to add, in order.
    options
        What holds for all of our sheets.
    label
        How messages name the source.

    Raises
    ------
    CannotCarry
        Where sheets cannot be added without a loss or a doubt; `target` is then of no use.
    """
    package = Package(source, label)
    try:
        base = _open(package)
        names = free_names([s.name for s in sheets], [s.name for s in base.workbook.sheets])
        skeleton = lay_out(sheets, names, options, width_scale=digit_width_scale(base.styles))
        plan = _take_in(base, skeleton, list(names.values()))
    except (ValueError, IndexError, KeyError, OverflowError) as error:
        # A number that is none, an index past its list: the package contradicts itself.
        raise package.refusal(f"contradicts itself ({error!r})") from error
    seen = {sheet.name for sheet in base.workbook.sheets if not sheet.hidden}
    rows = RowStream(plan.styles, names, seen)
    copied = []
    with ArchiveWriter(target, package.comment) as archive:
        for entry in package.entries:
            if entry.filename in plan.edited:
                archive.add(entry.filename, plan.edited[entry.filename])
            elif folded(entry.filename) not in {*base.removed, folded(base.main)}:
                try:
                    archive.copy(source, entry)
                except zipfile.BadZipFile as error:
                    raise package.refusal(f"is damaged ({error})") from error
                copied.append(entry.filename)
        for name, content in {**plan.edited, **plan.parts}.items():
            if name not in package or name in plan.parts:
                archive.add(name, content)
        for name, laid_out, sheet in zip(plan.names, plan.sheets, sheets, strict=True):
            archive.add(name, laid_out.stream(sheet, rows))
        base.workbook.mark(rows.seals)
        main = package.actual(base.main)
        archive.add(main, serialised(base.workbook.root))
    return Carried(
        copied=tuple(copied),
        edited=(*plan.edited, main),
        new=(*plan.parts, *plan.names),
        removed=tuple(name for name in package if folded(name) in base.removed),
        names=names,
        replaced=base.replaced,
        notes=base.notes,
    )


@dataclass(frozen=True, slots=True)
class _Base:
    """The source without earlier sheets of ours: its editable parts, parsed."""

    package: Package
    main: str
    types: ContentTypes
    workbook: WorkbookPart
    relations: Relationships
    styles_part: str
    styles: etree._Element
    removed: frozenset[str]
    replaced: tuple[str, ...]
    notes: tuple[str, ...]
    titles: tuple[str, ...]


def _open(package: Package) -> _Base:
    types = ContentTypes(package.xml(CONTENT_TYPES))
    found = package.relationships("").of_kind("officeDocument")
    if not found or found[0].target not in package:
        raise package.refusal("names no workbook part")
    main = found[0].target
    types.remove(types.loose(package))
    (kind,) = types.of(main)
    if kind not in _TAKES_SHEETS:
        raise package.refusal(f"has a workbook part that takes no sheets ({kind or 'no type'})")
    if any("digital-signature" in kind for kind in types.kinds()):
        raise package.refusal("is signed, and its signature would no longer hold")
    workbook = WorkbookPart(package.read(main), package.label)
    relations = package.relationships(main)
    if relations.of_kind("revisionHeaders"):
        raise package.refusal("is a shared workbook that records changes")
    titles = _titles(workbook, relations)
    own = _own(package, workbook, relations)
    removed = _remove(package, types, workbook, relations, own)
    if not workbook.sheets:
        raise package.refusal("has no sheets of its own")
    styles_part, styles = _style_sheet(package, types, relations)
    notes = []
    if workbook.structure_locked:
        notes.append(
            f"{package.label}: the workbook's structure is locked; the copy keeps the lock, so "
            "the added sheets cannot be moved or deleted before it is lifted."
        )
    return _Base(
        package,
        main,
        types,
        workbook,
        relations,
        styles_part,
        styles,
        removed,
        tuple(sheet.name for sheet in own),
        tuple(notes),
        titles,
    )


def _style_sheet(
    package: Package, types: ContentTypes, relations: Relationships
) -> tuple[str, etree._Element]:
    """Find the style sheet, or start one where the source has none to be found."""
    found = relations.of_kind("styles")
    if found and found[0].target in package:
        return found[0].target, package.xml(found[0].target)
    if _NEW_STYLES in package:
        raise package.refusal("has a style sheet that its workbook does not refer to")
    relations.remove(item.identity for item in found)
    relations.add("styles", _NEW_STYLES)
    types.remove([_NEW_STYLES])
    types.add(_NEW_STYLES, _STYLES_TYPE)
    return _NEW_STYLES, new_root("styleSheet", MAIN)


def _titles(workbook: WorkbookPart, relations: Relationships) -> tuple[str, ...]:
    """Names of the worksheets, as a program lists them in the document's properties."""
    pages = {item.identity for item in relations.of_kind("worksheet")}
    return tuple(sheet.name for sheet in workbook.sheets if sheet.relationship in pages)


def _own(package: Package, workbook: WorkbookPart, relations: Relationships) -> list[Sheet]:
    """Earlier sheets of ours that are still as they were written."""
    marked = [sheet for sheet in workbook.sheets if sheet.seal]
    if not marked:
        return []
    part = {item.identity: item.target for item in relations.of_kind("worksheet")}
    strings = next((item.target for item in relations.of_kind("sharedStrings")), "")
    texts = shared_texts(package, strings)
    return [
        sheet
        for sheet in marked
        if sheet.relationship in part
        and is_sealed(package, part[sheet.relationship], sheet.seal, texts)
    ]


def _remove(
    package: Package,
    types: ContentTypes,
    workbook: WorkbookPart,
    relations: Relationships,
    own: Sequence[Sheet],
) -> frozenset[str]:
    """Take earlier sheets of ours out, with the parts that nothing else refers to."""
    if not own:
        return frozenset()
    identities = {sheet.relationship for sheet in own}
    ours = [item.target for item in relations if item.identity in identities]
    workbook.remove(own)
    relations.remove(identities)

    def targets(part: str) -> Iterable[str]:
        found = relations if part == relations.part else package.relationships(part)
        return [item.target for item in found if not item.external and item.target in package]

    kept = {folded(part) for part in _reached([""], targets)}
    gone = [part for part in _reached(ours, targets) if folded(part) not in kept]
    names = [name for part in gone for name in (part, relationships_part(part))]
    types.remove(names)
    return frozenset(map(folded, names))


def _reached(start: Iterable[str], targets: Callable[[str], Iterable[str]]) -> list[str]:
    """Give the parts in `start` and all that they lead to, each once."""
    found: dict[str, str] = {}
    waiting = list(start)
    while waiting:
        part = waiting.pop()
        if folded(part) not in found:
            found[folded(part)] = part
            waiting.extend(targets(part))
    return list(found.values())


@dataclass(frozen=True, slots=True)
class _Plan:
    """What the new package holds beside the copied parts."""

    edited: Mapping[str, bytes]
    parts: Mapping[str, bytes]
    names: tuple[str, ...]
    sheets: tuple[SheetParts, ...]
    styles: Mapping[str, int]


def _take_in(base: _Base, skeleton: Skeleton, names: Sequence[str]) -> _Plan:
    """Give our parts names of their own in the source and enter them into its lists."""
    ours = {**skeleton.parts, **{parts.part: b"" for parts in skeleton.sheets}}
    relations = {
        part: Relationships(part, parse(ours[name], name))
        for part in ours
        if (name := relationships_part(part)) in ours
    }
    our_types = ContentTypes(parse(ours[CONTENT_TYPES], CONTENT_TYPES))
    our_workbook = WorkbookPart(ours[_OUR_WORKBOOK], _OUR_WORKBOOK)

    def targets(part: str) -> Iterable[str]:
        return [item.target for item in relations[part]] if part in relations else []

    taken = {folded(name) for name in base.package} - base.removed
    places: dict[str, str] = {}
    for part in _reached([parts.part for parts in skeleton.sheets], targets):
        places[part] = _free_part(part, taken)
        taken.add(folded(places[part]))
        base.types.add(places[part], *our_types.of(part))

    added = []
    for index, (parts, name) in enumerate(zip(skeleton.sheets, names, strict=True)):
        identity = base.relations.add("worksheet", places[parts.part])
        added.append(Added(name, identity, our_workbook.scoped_names(index)))
    base.workbook.append(added)

    wanted = skeleton.styles
    merged = merge_styles(
        base.styles,
        parse(ours[_OUR_STYLES], _OUR_STYLES),
        wanted.values(),
        used=_greatest_style(base),
        again=bool(base.replaced),
    )
    sheet_parts = {parts.part for parts in skeleton.sheets}
    new_parts = {places[part]: ours[part] for part in places if part not in sheet_parts}
    for part, place in places.items():
        if part in relations:
            moved = relations[part].moved(place, places)
            new_parts[relationships_part(place)] = serialised(moved.root)
    for part in new_parts:
        if base.types.of(part) == [""]:  # a source may type each of its relationship parts
            base.types.add(part, RELATIONSHIPS_TYPE)
    properties = _properties(base)
    edited = {
        CONTENT_TYPES: base.types.root,
        **properties,
        relationships_part(base.main): base.relations.root,
        base.styles_part: base.styles,
    }
    return _Plan(
        edited={base.package.actual(name): serialised(root) for name, root in edited.items()},
        parts=new_parts,
        names=tuple(places[parts.part] for parts in skeleton.sheets),
        # A second selected sheet would open the workbook with its sheets grouped.
        sheets=tuple(
            replace(parts, before=parts.before.replace(b' tabSelected="1"', b""))
            for parts in skeleton.sheets
        ),
        styles={name: merged[index] for name, index in wanted.items()},
    )


def _properties(base: _Base) -> dict[str, etree._Element]:
    """Give the document's properties with the new titles of sheets, where they list the old."""
    for item in base.package.relationships("").of_kind("extended-properties"):
        if item.target not in base.package:
            continue
        root = base.package.xml(item.target)
        count, names = root.find("{*}HeadingPairs//{*}i4"), root.find("{*}TitlesOfParts/{*}vector")
        if count is None or names is None:
            continue
        listed = list(names)[: len(base.titles)]
        if [name.text for name in listed] != list(base.titles) or count.text != str(len(listed)):
            continue  # out of step already
        now = _titles(base.workbook, base.relations)
        for name in listed:
            names.remove(name)
        for at, text in enumerate(now):
            name = etree.Element(f"{{{VARIANT}}}lpstr")
            name.text = text
            names.insert(at, name)
        names.set("size", str(len(names)))
        count.text = str(len(now))
        return {item.target: root}
    return {}


def _greatest_style(base: _Base) -> int:
    """Greatest index of a cell format that the source's own sheets use.

    Where it lies past the source's list, programs show the standard look (or call the workbook
    damaged); without this such cells would take on a look of ours.
    """
    sizes = {
        entry.filename: entry.file_size  # once each, however many relationships there are
        for item in base.relations
        if item.kind.casefold().endswith("sheet")
        and folded(item.target) not in base.removed
        and (entry := base.package.entry(item.target))
    }
    if sum(sizes.values()) > _MOST_SCANNED:
        raise base.package.refusal(
            f"has sheets that unpack to more than {_MOST_SCANNED >> 20:,} MiB"
        )
    greatest = 0
    for part in sizes:
        for piece in base.package.pieces(part):
            found = {*_STYLED_CELL.findall(piece), *_STYLED_COLUMN.findall(piece)}
            greatest = max(greatest, *(int(unescape(text.decode())) for text in found), 0)
    return greatest


def _free_part(part: str, taken: set[str]) -> str:
    """Give a part name like `part` that is not taken: the same stem, the next free number."""
    stem, ending = posixpath.splitext(part)
    stem = stem.rstrip("0123456789")
    number = 1
    while folded(f"{stem}{number}{ending}") in taken:
        number += 1
    return f"{stem}{number}{ending}"
