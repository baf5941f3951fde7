"""Our cell styles put at the end of the source's: nothing of the source's moves or changes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from lxml import etree

from .named_styles import parted
from .opc import MAIN, CannotCarry

__all__ = ["digit_width_scale", "merge_styles"]

# ECMA-376 part 1, 18.8.39 (CT_Stylesheet): children in this order.
_ORDER = (
    "numFmts",
    "fonts",
    "fills",
    "borders",
    "cellStyleXfs",
    "cellXfs",
    "cellStyles",
    "dxfs",
    "tableStyles",
    "colors",
    "extLst",
)
# Cell formats and formats of cell styles that are not built in, together: what spreadsheet
# programs keep to ([MS-OI29500] 2.1.698 and 2.1.700). Of other lists nobody needs as many.
MAX_FORMATS = 65_430
# What a program shows where a workbook says nothing (common practice, no published source).
_STANDARD_FONT = (("sz", "11"), ("name", "Calibri"), ("family", "2"))
_BUILT_IN = {0: "General", 49: "@"}  # ECMA-376 part 1, 18.8.30; those that our looks use
_FIRST_OWN_NUMBER_FORMAT = 164
_APPLIES = ("applyNumberFormat", "applyFont", "applyFill", "applyBorder", "applyAlignment")
_OUR_DIGIT = 7  # pixels: widths here are meant for the standard font of a new workbook
_PIXELS_PER_POINT = 96 / 72
_DIGIT_PER_EM = 0.5  # common practice, no published source: digits of office typefaces

Shape = tuple[str, tuple[tuple[str, str], ...], tuple[Any, ...]]


def _tag(name: str) -> str:
    return f"{{{MAIN}}}{name}"


def _children(container: etree._Element | None) -> list[etree._Element]:
    if container is None:
        return []
    return [child for child in container if isinstance(child.tag, str)]


def _attributes(element: etree._Element) -> dict[str, str]:
    return {str(key): str(value) for key, value in element.attrib.items()}


def _shape(element: etree._Element) -> Shape:
    attributes = tuple(sorted(_attributes(element).items()))
    return str(element.tag), attributes, tuple(map(_shape, _children(element)))


def _copy(element: etree._Element, parent: etree._Element) -> etree._Element:
    # Built anew, so that it takes the prefixes the source uses.
    made = etree.SubElement(parent, element.tag, _attributes(element))
    for child in _children(element):
        _copy(child, made)
    return made


def _container(root: etree._Element, name: str, ours: etree._Element | None) -> etree._Element:
    """Find a list of the style sheet; where it is missing, start one that changes no cell.

    Entry 0 is what cells without a style use, so a new list begins with the standard entries.
    """
    found = root.find(_tag(name))
    if found is not None:
        return found
    made = etree.Element(_tag(name))
    later = {_tag(other) for other in _ORDER[_ORDER.index(name) + 1 :]}
    place = next((i for i, child in enumerate(root) if child.tag in later), len(root))
    root.insert(place, made)
    if name == "fonts":
        font = etree.SubElement(made, _tag("font"))
        for child, value in _STANDARD_FONT:
            etree.SubElement(font, _tag(child)).set("val", value)
        return made
    for element in _children(ours)[: 2 if name == "fills" else 1]:
        _copy(element, made)
    return made


class _List:
    """One list of the style sheet, in which an equal entry is found again."""

    def __init__(self, root: etree._Element, ours: etree._Element, name: str) -> None:
        self.ours = _children(ours.find(_tag(name)))
        self.element = _container(root, name, ours.find(_tag(name)))
        self._known: dict[Shape, int] = {}
        self.size = 0
        for child in _children(self.element):
            self._known.setdefault(_shape(child), self.size)
            self.size += 1

    def fill_to(self, size: int) -> None:
        """Repeat the first entry up to `size`, for indices of the source that lead nowhere.

        Programs show those in the standard look; without this they would take on ours.
        """
        if size > max(MAX_FORMATS, self.size):
            raise ValueError(f"a style refers to entry {size - 1:,} of a list of {self.size:,}")
        first = _children(self.element)[:1]
        while first and self.size < size:
            _copy(first[0], self.element)
            self.size += 1
            self.element.set("count", str(self.size))

    def index(self, element: etree._Element) -> int:
        """Index of an entry equal to `element`, added where there is none."""
        shape = _shape(element)
        if shape not in self._known:
            self._known[shape] = self.add(element)
        return self._known[shape]

    def add(self, element: etree._Element) -> int:
        """Add an entry, whether or not there is one like it; gives its index."""
        _copy(element, self.element)
        self.size += 1
        self.element.set("count", str(self.size))
        return self.size - 1

    def replace(self, index: int, element: etree._Element) -> None:
        """Put another entry in the place of one."""
        old = _children(self.element)[index]
        if _shape(old) != _shape(element):
            old.addprevious(_copy(element, self.element))
            self.element.remove(old)


def merge_styles(
    source: etree._Element,
    ours: etree._Element,
    wanted: Iterable[int],
    *,
    used: int = 0,
    again: bool = False,
) -> dict[int, int]:
    """Add our cell formats and the named cell styles they are based on, in place.

    Parameters
    ----------
    source, ours
        Roots of the two style sheets.
    wanted
        Indices into our cell formats.
    used
        Greatest index of a cell format that the source's sheets use.
    again
        Whether the source carries styles of an earlier run, which ours replace.

    Returns
    -------
    dict of int to int
        Index of each in the source.

    Raises
    ------
    CannotCarry
        Where the source has as many cell formats as programs allow.
    """
    fonts, fills, borders = (_List(source, ours, name) for name in ("fonts", "fills", "borders"))
    bases, formats = (_List(source, ours, name) for name in ("cellStyleXfs", "cellXfs"))
    lists = {"fontId": fonts, "fillId": fills, "borderId": borders}
    for name, entries in (*lists.items(), ("xfId", bases)):
        entries.fill_to(1 + _greatest(source, name))
    formats.fill_to(1 + used)
    styles = _NamedStyles(source, ours, bases, again)
    numbers = _NumberFormats(source, ours)

    def ours_there(entry: etree._Element) -> etree._Element:
        """One of our entries with the source's indices in place of ours."""
        made = etree.Element(_tag("xf"), _attributes(entry))
        for child in _children(entry):
            _copy(child, made)
        for name, entries in lists.items():
            made.set(name, str(entries.index(entries.ours[int(entry.get(name, "0"))])))
        made.set("numFmtId", str(numbers.identity(int(entry.get("numFmtId", "0")))))
        # Said of every part of the look, so that the source's standard style shows through none.
        for name in _APPLIES:
            made.set(name, "1")
        return made

    places = {}
    for index in wanted:
        entry = ours_there(formats.ours[index])
        base = int(entry.get("xfId", "0"))
        entry.set("xfId", str(styles.index(base, ours_there(bases.ours[base]))))
        places[index] = formats.index(entry)
    built_in = {_base(style) for style in source.iter(_tag("cellStyle")) if style.get("builtinId")}
    count = formats.size + bases.size - len(built_in)
    if count > MAX_FORMATS:
        raise CannotCarry(
            "style sheet",
            f"would have {count:,} formats of cells and cell styles with those of the result "
            f"sheets, more than the {MAX_FORMATS:,} that programs open",
            "Remove unused cell styles from the workbook.",
        )
    return places


def _greatest(source: etree._Element, name: str) -> int:
    """Greatest index that any of the source's formats or cell styles has under `name`."""
    entries = source.iter(_tag("xf"), _tag("cellStyle"))
    return max((int(entry.get(name, "0")) for entry in entries), default=0)


class _NamedStyles:
    """Named cell styles; a name of ours that the source has already gets a number."""

    def __init__(
        self, root: etree._Element, ours: etree._Element, bases: _List, again: bool
    ) -> None:
        self._element = _container(root, "cellStyles", ours.find(_tag("cellStyles")))
        self._bases = bases
        self._again = again
        self._ours = {
            _base(item): item.get("name", "") for item in _children(ours.find(_tag("cellStyles")))
        }
        # Name without its number, case aside, to number to the style.
        self._known: dict[str, dict[int, etree._Element]] = {}
        for item in _children(self._element):
            name, number = parted(item.get("name", ""))
            self._known.setdefault(name.casefold(), {})[number] = item

    def index(self, ours: int, base: etree._Element) -> int:
        """Index of the base of one of our styles, added with its name where it is not there."""
        name = self._ours[ours]
        known = self._known.get(name.casefold(), {})
        if known and self._again:
            # Ours took the last number when it came, so the last one is ours.
            return self._renewed(known[max(known)], base)
        place = self._bases.add(base)
        number = max(known, default=0) + 1
        item = etree.SubElement(self._element, _tag("cellStyle"))
        item.set("name", name if number == 1 else f"{name} ({number})")
        item.set("xfId", str(place))
        self._element.set("count", str(len(_children(self._element))))
        return place

    def _renewed(self, style: etree._Element, base: etree._Element) -> int:
        """Index of the base of a style of ours, which takes on its present look."""
        place = _base(style)
        if place > 0 and [_base(item) for item in _children(self._element)].count(place) == 1:
            self._bases.replace(place, base)
        else:
            # Another program has put it on a base that is not, or not only, ours.
            place = self._bases.add(base)
            style.set("xfId", str(place))
        return place


def _base(style: etree._Element) -> int:
    return int(style.get("xfId", "0"))


class _NumberFormats:
    """Number formats, which have identities of their own."""

    def __init__(self, root: etree._Element, ours: etree._Element) -> None:
        self._root = root
        self._ours = ours
        self._codes = {
            int(item.get("numFmtId", "0")): item.get("formatCode", "")
            for item in _children(ours.find(_tag("numFmts")))
        }
        self._known = {
            item.get("formatCode", ""): int(item.get("numFmtId", "0"))
            for item in _children(root.find(_tag("numFmts")))
        }
        self._redefined = set(self._known.values())

    def identity(self, ours: int) -> int:
        if ours not in self._codes and ours not in self._redefined:
            return ours  # built into the file format
        code = self._codes[ours] if ours in self._codes else _BUILT_IN[ours]
        if code not in self._known:
            container = _container(self._root, "numFmts", None)
            number = max([_FIRST_OWN_NUMBER_FORMAT - 1, *self._known.values()]) + 1
            item = etree.SubElement(container, _tag("numFmt"))
            item.set("numFmtId", str(number))
            item.set("formatCode", code)
            container.set("count", str(len(_children(container))))
            self._known[code] = number
        return self._known[code]


def _normal(root: etree._Element) -> int:
    """Index of the base format of the standard style."""
    for style in _children(root.find(_tag("cellStyles"))):
        if style.get("builtinId") == "0":
            return int(style.get("xfId", "0"))
    return 0


def digit_width_scale(source: etree._Element) -> float:
    """Factor on column widths: they count digits of the source's standard font, ours do not."""
    bases = _children(source.find(_tag("cellStyleXfs")))
    fonts = _children(source.find(_tag("fonts")))
    normal = _normal(source)
    font = int(bases[normal].get("fontId", "0")) if normal < len(bases) else 0
    size = fonts[font].find(_tag("sz")) if font < len(fonts) else None
    if size is None:
        return 1.0
    points = float(size.get("val", "11"))
    digit = max(round(points * _PIXELS_PER_POINT * _DIGIT_PER_EM), 1)
    return _OUR_DIGIT / digit
