"""Parts, relationships and content types of an office package (ECMA-376 part 2).

Nothing here looks outside the package: entities, document types and the network are off.
"""

from __future__ import annotations

import posixpath
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import BinaryIO
from urllib.parse import unquote

from lxml import etree

from ..errors import SheetcheckError

__all__ = [
    "CONTENT_TYPES",
    "MAIN",
    "RELATION",
    "RELATIONSHIPS_TYPE",
    "VARIANT",
    "CannotCarry",
    "ContentTypes",
    "Package",
    "Relationship",
    "Relationships",
    "folded",
    "new_root",
    "parse",
    "relationships_part",
    "serialised",
]

CONTENT_TYPES = "[Content_Types].xml"
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
RELATION = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE_RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
VARIANT = "http://schemas.openxmlformats.org/officeDocument/2006/docPropsVTypes"
RELATIONSHIPS_TYPE = "application/vnd.openxmlformats-package.relationships+xml"
_TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"

# What a workbook kept by people stays far below; hostile ones do not.
MAX_ENTRIES = 10_000
MAX_PATCHED_PART = 64 << 20
_PIECE = 1 << 20
_OVERLAP = 256

_OLE2 = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED = 0x01


class CannotCarry(SheetcheckError):
    """The source cannot take added sheets without a loss or a doubt; results go elsewhere."""


def parse(content: bytes, part: str) -> etree._Element:
    """Parse the XML of `part`.

    Raises
    ------
    CannotCarry
        Where it is not well formed, or carries a document type.
    """
    parser = etree.XMLParser(
        resolve_entities=False, load_dtd=False, no_network=True, huge_tree=False
    )
    try:
        root = etree.fromstring(content, parser)
    except (etree.XMLSyntaxError, ValueError) as error:
        raise CannotCarry(part, f"cannot be read ({error})", "Save the workbook anew.") from None
    if root.getroottree().docinfo.internalDTD is not None:
        raise CannotCarry(part, "carries a document type, which no office program writes", "")
    return root


def new_root(name: str, namespace: str) -> etree._Element:
    """Start a part whose elements need no prefix."""
    return etree.fromstring(f'<{name} xmlns="{namespace}"/>')


def serialised(root: etree._Element) -> bytes:
    """Write a part as XML in UTF-8, declaration first."""
    return etree.tostring(
        root.getroottree(), xml_declaration=True, encoding="UTF-8", standalone=True
    )


def folded(name: str) -> str:
    """Give the form under which part names are equal: case aside, always forward slashes."""
    return name.replace("\\", "/").lstrip("/").casefold()


def relationships_part(part: str) -> str:
    """Name of the part that holds the relationships of `part`; of the package for ``""``."""
    folder, name = posixpath.split(part)
    return posixpath.join(folder, "_rels", f"{name}.rels")


class Package:
    """A package open for reading.

    Parameters
    ----------
    file
        The open file.
    label
        How messages name it.

    Raises
    ------
    CannotCarry
        Where it is no zip archive, is encrypted, or holds one name twice.
    """

    def __init__(self, file: BinaryIO, label: str) -> None:
        self.file = file
        self.label = label
        file.seek(0)
        if file.read(len(_OLE2)) == _OLE2:
            raise self.refusal("is password-protected or in the old binary format")
        try:
            self._zip = zipfile.ZipFile(file)
        except (zipfile.BadZipFile, NotImplementedError, ValueError) as error:
            raise self.refusal(f"is no readable xlsx package ({error})") from None
        self.entries = self._zip.infolist()
        self.comment = self._zip.comment
        if len(self.entries) > MAX_ENTRIES:
            raise self.refusal(f"has {len(self.entries):,} parts, more than {MAX_ENTRIES:,}")
        self._named: dict[str, zipfile.ZipInfo] = {}
        for entry in self.entries:
            if folded(entry.filename) in self._named:
                raise self.refusal(f"holds two parts named {entry.filename}")
            if ".." in folded(entry.filename).split("/"):
                raise self.refusal(f"holds a part outside itself ({entry.filename})")
            if entry.flag_bits & _ENCRYPTED:
                raise self.refusal(f"holds an encrypted part ({entry.filename})")
            self._named[folded(entry.filename)] = entry

    def refusal(self, problem: str) -> CannotCarry:
        """Give an exception saying why this package takes no added sheets."""
        return CannotCarry(self.label, problem, "The results stand in a workbook of their own.")

    def __contains__(self, part: str) -> bool:
        return self.entry(part) is not None

    def __iter__(self) -> Iterator[str]:
        return iter(entry.filename for entry in self.entries)

    def entry(self, part: str) -> zipfile.ZipInfo | None:
        """Give the archive entry of `part`, spelling of the name as forgiving as programs are."""
        return self._named.get(folded(part)) or self._named.get(folded(unquote(part)))

    def actual(self, part: str) -> str:
        """Give a part's name as the archive spells it; `part` itself where it has none."""
        entry = self.entry(part)
        return part if entry is None else entry.filename

    def read(self, part: str) -> bytes:
        """Give a part's content, at most 64 MiB of it."""
        entry = self.entry(part)
        if entry is None:
            raise self.refusal(f"has no part {part}")
        try:
            with self._zip.open(entry) as stream:
                content = stream.read(MAX_PATCHED_PART + 1)
        except (zipfile.BadZipFile, NotImplementedError, EOFError, zlib.error) as error:
            raise self.refusal(f"has a damaged part {part} ({error})") from None
        if len(content) > MAX_PATCHED_PART:
            raise self.refusal(f"has a part {part} of more than {MAX_PATCHED_PART >> 20} MiB")
        return content

    def pieces(self, part: str) -> Iterator[bytes]:
        """Give a part's content, however large, in pieces for a search.

        Each begins with the end of the one before, 256 bytes: what lies across two of them and
        is no longer than that lies in one. Of 16-bit text, the letters are given.
        """
        entry = self.entry(part)
        if entry is None:
            raise self.refusal(f"has no part {part}")
        rest = b""
        try:
            with self._zip.open(entry) as stream:
                while piece := stream.read(_PIECE):
                    text = rest + piece.replace(b"\0", b"")
                    rest = text[-_OVERLAP:]
                    yield text
        except (zipfile.BadZipFile, NotImplementedError, EOFError, zlib.error) as error:
            raise self.refusal(f"has a damaged part {part} ({error})") from None

    def elements(self, part: str, tag: str) -> Iterator[etree._Element]:
        """Give the elements of a part, however large, that have a tag; each is emptied after."""
        entry = self.entry(part)
        if entry is None:
            raise self.refusal(f"has no part {part}")
        with self._zip.open(entry) as stream:
            found = etree.iterparse(
                stream, tag=tag, resolve_entities=False, load_dtd=False, no_network=True
            )
            for _, element in found:
                yield element
                element.clear()
                while element.getprevious() is not None:
                    del element.getparent()[0]

    def xml(self, part: str) -> etree._Element:
        """Give the parsed root of a part."""
        return parse(self.read(part), f"{self.label}, part {part}")

    def relationships(self, part: str) -> Relationships:
        """Give the relationships of `part`; empty where it has none."""
        name = relationships_part(part)
        return Relationships(part, self.xml(name) if name in self else None)


@dataclass(frozen=True, slots=True)
class Relationship:
    """One relationship; ``target`` is a part name, or an address where ``external``.

    ``kind`` is the full address of its type.
    """

    identity: str
    kind: str
    target: str
    external: bool


class Relationships:
    """The relationships of one part, read and added to.

    Parameters
    ----------
    part
        The part they start from; ``""`` for the package.
    root
        Their XML; None starts an empty set.
    """

    def __init__(self, part: str, root: etree._Element | None = None) -> None:
        self.part = part
        if root is None:
            root = new_root("Relationships", _PACKAGE_RELATIONS)
        self.root = root

    def _elements(self) -> Iterator[etree._Element]:
        return self.root.iterchildren(f"{{{_PACKAGE_RELATIONS}}}Relationship")

    def __iter__(self) -> Iterator[Relationship]:
        for element in self._elements():
            external = element.get("TargetMode") == "External"
            target = element.get("Target", "")
            yield Relationship(
                element.get("Id", ""),
                element.get("Type", ""),
                target if external else self._resolved(target),
                external,
            )

    def _resolved(self, target: str) -> str:
        target = target.replace("\\", "/").partition("#")[0]
        if not target.startswith("/"):
            target = posixpath.join(posixpath.dirname(self.part), target)
        return posixpath.normpath(target).lstrip("/")

    def of_kind(self, kind: str) -> list[Relationship]:
        """Give the internal relationships of a kind, the last word of the type's address."""
        return [item for item in self if item.kind.endswith(f"/{kind}") and not item.external]

    def add(self, kind: str, target: str) -> str:
        """Add a relationship of `kind` to the part `target`; gives its identity."""
        taken = {item.identity.casefold() for item in self}
        number = len(taken) + 1
        while f"rid{number}" in taken:
            number += 1
        self._put(Relationship(f"rId{number}", f"{RELATION}/{kind}", target, False))
        return f"rId{number}"

    def _put(self, item: Relationship) -> None:
        element = etree.SubElement(self.root, f"{{{_PACKAGE_RELATIONS}}}Relationship")
        element.set("Id", item.identity)
        element.set("Type", item.kind)
        element.set(
            "Target", posixpath.relpath(f"/{item.target}", f"/{posixpath.dirname(self.part)}")
        )

    def remove(self, identities: Iterable[str]) -> None:
        """Take relationships away."""
        gone = set(identities)
        for element in list(self._elements()):
            if element.get("Id") in gone:
                self.root.remove(element)

    def moved(self, part: str, places: Mapping[str, str]) -> Relationships:
        """Give the same relationships for the part named `part`, their targets renamed alike."""
        result = Relationships(part)
        for item in self:
            result._put(replace(item, target=places[item.target]))
        return result


class ContentTypes:
    """The package's list of content types."""

    def __init__(self, root: etree._Element) -> None:
        self.root = root

    def _declared(self, name: str, key: str) -> dict[str, str]:
        return {
            folded(element.get(key, "")): element.get("ContentType", "")
            for element in self.root.iterchildren(f"{{{_TYPES}}}{name}")
        }

    def of(self, *parts: str) -> list[str]:
        """Content type of each part; ``""`` where none is declared."""
        single, endings = (
            self._declared("Override", "PartName"),
            self._declared("Default", "Extension"),
        )
        return [
            single.get(folded(part)) or endings.get(folded(part).rpartition(".")[2], "")
            for part in parts
        ]

    def loose(self, package: Package) -> list[str]:
        """Parts of whose type something is said though they are not there."""
        return [name for name in self._declared("Override", "PartName") if name not in package]

    def kinds(self) -> set[str]:
        """Every content type declared."""
        return {element.get("ContentType", "") for element in self.root.iterchildren("{*}*")}

    def add(self, part: str, kind: str) -> None:
        """Declare the type of a new part."""
        element = etree.SubElement(self.root, f"{{{_TYPES}}}Override")
        element.set("PartName", f"/{part}")
        element.set("ContentType", kind)

    def remove(self, parts: Iterable[str]) -> None:
        """Take away what is declared for single parts."""
        gone = {folded(part) for part in parts}
        for element in list(self.root.iterchildren(f"{{{_TYPES}}}Override")):
            if folded(element.get("PartName", "")) in gone:
                self.root.remove(element)
