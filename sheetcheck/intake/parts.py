"""Parts of a workbook's package, and how they point to one another (ECMA-376 part 2)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from posixpath import join, normpath, split
from urllib.parse import unquote
from zipfile import ZipFile

from lxml import etree

__all__ = ["Locked", "Parts", "TooMuch", "elements", "local_name"]

_MANIFEST = "META-INF/manifest.xml"
_PROLOGUE = 1 << 16
_ROOT = re.compile(rb"<[^?!]")


class TooMuch(Exception):
    """A part holds more than is allowed."""


class Locked(Exception):
    """What a workbook holds is encrypted."""


class Parts:
    """A package, some of whose XML parts are parsed whole.

    Parameters
    ----------
    package
        The open package.
    most
        XML elements that such a part may hold.
    """

    def __init__(self, package: ZipFile, most: float) -> None:
        self.package = package
        self._most = most
        self.names = frozenset(package.namelist())
        self._actual = {_folded(name): name for name in self.names}

    def actual(self, part: str) -> str:
        """Name of a part as the archive spells it; `part` itself where it holds none.

        Programs find a part whatever the case of its name and whichever way its slashes lean.
        """
        return self._actual.get(_folded(part)) or self._actual.get(_folded(unquote(part)), part)

    def parse(self, part: str) -> etree._Element:
        """Give the root of an XML part.

        Raises
        ------
        TooMuch
            Where it holds more elements than are allowed.
        """
        self.begin(part)
        content = self.package.read(part)
        if content.count(b"<") > self._most:
            raise TooMuch(f"has a part {part!r} of more than {self._most:,.0f} elements")
        parser = etree.XMLParser(
            resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False
        )
        return etree.fromstring(content, parser)

    def begin(self, part: str) -> None:
        """Look at what stands before a part's root: a reader may pass over what it declares."""
        with self.package.open(part) as stream:
            head = stream.read(_PROLOGUE).replace(b"\0", b"")  # of 16-bit text, the letters
        root = _ROOT.search(head)
        if b"<!DOCTYPE" in head[: root.start() if root else None]:
            raise ValueError(f"part {part!r} has a document type, which no office program writes")
        if root is None:
            raise ValueError(f"part {part!r} has no root")

    def check_unlocked(self) -> None:
        """Look at what an OpenDocument package says of its parts (OASIS ODF 1.2, part 3).

        Raises
        ------
        Locked
            Where any is encrypted.
        """
        if _MANIFEST in self.names and b"encryption-data" in self.package.read(_MANIFEST):
            raise Locked

    def relationships(self, part: str) -> dict[str, tuple[str, str]]:
        """Relationship id to its kind and the part it points to; of the package, where ""."""
        folder, own = split(part.replace("\\", "/"))
        name = self.actual(join(folder, "_rels", f"{own}.rels"))
        if name not in self.names:
            return {}
        found: dict[str, tuple[str, str]] = {}
        for element in elements(self.parse(name), "Relationship"):
            target = element.get("Target", "")
            whole = (
                target.lstrip("/") if target.startswith("/") else normpath(join(folder, target))
            )
            kind = element.get("Type", "").rpartition("/")[2]
            found[element.get("Id", "")] = kind, self.actual(whole)
        return found

    def workbook(self) -> str | None:
        """Name of the part that the package says is its workbook, if it is there."""
        return next(
            (
                part
                for kind, part in self.relationships("").values()
                if kind == "officeDocument" and part in self.names
            ),
            None,
        )


def _folded(name: str) -> str:
    """The form under which names of parts are equal."""
    return name.replace("\\", "/").lstrip("/").casefold()


def local_name(element: etree._Element) -> str:
    """Name of an element without its namespace; "" of what is no element."""
    return etree.QName(element).localname if isinstance(element.tag, str) else ""


def elements(root: etree._Element, name: str) -> Iterator[etree._Element]:
    """Give all elements of a local name under a root."""
    return (element for element in root.iter() if local_name(element) == name)
