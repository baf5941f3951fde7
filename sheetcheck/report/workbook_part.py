"""The workbook part: its list of sheets and defined names, and the mark on sheets of ours."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import count

from lxml import etree

from .opc import MAIN, RELATION, CannotCarry, parse

__all__ = ["MARK", "Added", "Sheet", "WorkbookPart", "free_names"]

# A sheet of ours carries a hidden defined name with its own scope, whose text is the name that the
# sheet was given. Spreadsheet programs keep such names and move them with their sheet, and they
# stand in the workbook part. With the name goes a seal over what stands in the sheet (see `seal`).
# A sheet that somebody renamed or copied has another name than its mark says, and one that
# somebody wrote into another seal: it is theirs from then on, and stays.
MARK = "sheetcheck_sheet"
_LAST_ID = 65_534  # sheets have greater ones in no program

_STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main"
_MAX_NAME = 31
_CARRIED_NAMES = ("_xlnm.Print_Titles", "_xlnm.Print_Area", "_xlnm._FilterDatabase")


def _tag(name: str) -> str:
    return f"{{{MAIN}}}{name}"


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet in the list: name, identity of its relationship, and its seal if it is marked."""

    name: str
    relationship: str
    hidden: bool
    seal: str


@dataclass(frozen=True, slots=True)
class Added:
    """A sheet to add; ``names`` are its defined names (name to formula and whether hidden)."""

    name: str
    relationship: str
    names: Mapping[str, tuple[str, bool]]


def free_names(wanted: Sequence[str], taken: Iterable[str]) -> dict[str, str]:
    """Give each wanted sheet name, a number appended where the workbook has one like it."""
    used = {name.casefold() for name in taken}
    names = {}
    for name in wanted:
        free, number = name, 1
        while free.casefold() in used:
            number += 1
            ending = f" {number}"
            free = name[: _MAX_NAME - len(ending)] + ending
        used.add(free.casefold())
        names[name] = free
    return names


class WorkbookPart:
    """The workbook part's XML, edited in place.

    Raises
    ------
    CannotCarry
        Where it is of the strict variant, or is no workbook part.
    """

    def __init__(self, content: bytes, label: str) -> None:
        self.label = label
        self.root = parse(content, label)
        if self.root.tag == f"{{{_STRICT}}}workbook":
            raise CannotCarry(
                label,
                "is saved as Strict Open XML, to which ordinary sheets cannot be added",
                "Save it as an ordinary xlsx workbook to have the sheets added.",
            )
        sheets = self.root.find(_tag("sheets"))
        if self.root.tag != _tag("workbook") or sheets is None:
            raise CannotCarry(label, "has no list of sheets", "Save the workbook anew.")
        self._sheets = sheets

    @property
    def structure_locked(self) -> bool:
        """Whether the structure is protected."""
        lock = self.root.find(_tag("workbookProtection"))
        return lock is not None and lock.get("lockStructure") in ("1", "true", "on")

    @property
    def sheets(self) -> list[Sheet]:
        """The sheets in the order of their tabs."""
        marks = {}
        for name in self._names():
            if name.get("name", "").casefold() == MARK and name.get("localSheetId", "").isdigit():
                text = (name.text or "").strip().removeprefix('"').removesuffix('"')
                seal, _, marked = text.replace('""', '"').partition(" ")
                marks[int(name.get("localSheetId", "")), marked] = seal
        return [
            Sheet(
                item.get("name", ""),
                item.get(f"{{{RELATION}}}id", ""),
                item.get("state", "visible") != "visible",
                marks.get((index, item.get("name", "")), ""),
            )
            for index, item in enumerate(self._items())
        ]

    def _items(self) -> list[etree._Element]:
        return list(self._sheets.iterchildren(_tag("sheet")))

    def _names(self) -> list[etree._Element]:
        names = self.root.find(_tag("definedNames"))
        return [] if names is None else list(names.iterchildren(_tag("definedName")))

    def remove(self, own: Sequence[Sheet]) -> None:
        """Take sheets out; names with a sheet's scope and the active tab stay with theirs."""
        sheets = self.sheets
        kept = [index for index, sheet in enumerate(sheets) if sheet not in own]
        place = {old: new for new, old in enumerate(kept)}
        # Where the active tab was ours: the first one to be seen, ours again if there is no other.
        seen = next((place[i] for i in kept if not sheets[i].hidden), len(kept))
        for item, sheet in zip(self._items(), sheets, strict=True):
            if sheet in own:
                self._sheets.remove(item)
        for name in self._names():
            scope = name.get("localSheetId")
            if scope is None:
                continue
            parent = name.getparent()
            if int(scope) in place:
                name.set("localSheetId", str(place[int(scope)]))
            elif int(scope) >= len(sheets):
                name.set("localSheetId", str(int(scope) - len(own)))
            elif parent is not None:
                parent.remove(name)
                if not len(parent):
                    self.root.remove(parent)
        for view in self.root.iter(_tag("workbookView")):
            for attribute in ("activeTab", "firstSheet"):
                tab = view.get(attribute)
                if tab is not None:
                    view.set(attribute, str(place.get(int(tab), seen)))

    def append(self, added: Sequence[Added]) -> None:
        """Put sheets at the end of the list, each with its names."""
        self._keep_active_tab()
        taken = {int(item.get("sheetId", "0")) for item in self._items()}
        identity = max(taken, default=0)
        for name in self._names():
            # A scope of no sheet would come to mean one of ours.
            if int(name.get("localSheetId", "-1")) >= len(self._items()):
                name.set("localSheetId", str(int(name.get("localSheetId", "")) + len(added)))
        for sheet in added:
            identity += 1
            if identity in taken or identity > _LAST_ID:
                identity = next(number for number in count(1) if number not in taken)
            taken.add(identity)
            scope = str(len(self._items()))
            item = etree.SubElement(self._sheets, _tag("sheet"))
            item.set("name", sheet.name)
            item.set("sheetId", str(identity))
            item.set(f"{{{RELATION}}}id", sheet.relationship)
            for key, (formula, hidden) in sheet.names.items():
                self._define(scope, key, formula, hidden)

    def _keep_active_tab(self) -> None:
        # A tab past the end would come to mean one of ours.
        number = len(self._items())
        seen = next((i for i, sheet in enumerate(self.sheets) if not sheet.hidden), 0)
        for view in self.root.iter(_tag("workbookView")):
            for attribute in ("activeTab", "firstSheet"):
                if int(view.get(attribute, "0")) >= max(number, 1):
                    view.set(attribute, str(seen))

    def mark(self, seals: Mapping[str, str]) -> None:
        """Mark sheets as ours: name to seal."""
        for scope, sheet in enumerate(self.sheets):
            if sheet.name in seals:
                text = f"{seals[sheet.name]} {sheet.name}".replace('"', '""')
                self._define(str(scope), MARK, f'"{text}"', hidden=True)

    def _define(self, scope: str, name: str, formula: str, hidden: bool) -> None:
        element = etree.SubElement(self._name_list(), _tag("definedName"))
        element.set("name", name)
        element.set("localSheetId", scope)
        if hidden:
            element.set("hidden", "1")
        element.text = formula

    def _name_list(self) -> etree._Element:
        names = self.root.find(_tag("definedNames"))
        if names is None:
            names = etree.Element(_tag("definedNames"))
            # The element order is fixed (ECMA-376 part 1, 18.2.27, CT_Workbook).
            before = [
                found
                for tag in ("sheets", "functionGroups", "externalReferences")
                if (found := self.root.find(_tag(tag))) is not None
            ]
            before[-1].addnext(names)
        return names

    def scoped_names(self, index: int) -> dict[str, tuple[str, bool]]:
        """Give print titles, print area and filter range of one sheet, as `Added` takes them."""
        return {
            name.get("name", ""): (name.text or "", name.get("hidden") == "1")
            for name in self._names()
            if name.get("localSheetId") == str(index) and name.get("name") in _CARRIED_NAMES
        }
