"""Every written copy is checked before it takes its place."""

from __future__ import annotations

import re
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import BinaryIO

from .archive import raw_bytes
from .into_book import Carried
from .opc import CONTENT_TYPES, CannotCarry, ContentTypes, Package

__all__ = ["check_copy"]

_READ_BACK = Path(__file__).with_name("read_back.py")
_RELATIONS = re.compile(r"(.*/|)_rels/(.*)\.rels", re.IGNORECASE | re.DOTALL)
_PATIENCE = 600.0  # seconds; reading takes some 30 a million rows


def check_copy(source: Path, copy: Path, carried: Carried, label: str) -> None:
    """Hold a written copy against its source.

    Parameters
    ----------
    source, copy
        The two files.
    carried
        What the writer says it did.
    label
        How messages name the source.

    Raises
    ------
    CannotCarry
        Where any part differs that should not, an entry does not read, or a value has changed.
    """
    with source.open("rb") as before, copy.open("rb") as after:
        fault = (
            _first_fault(before, after, carried)
            or next(iter(sorted(_loose_ends(after) - _loose_ends(before))), "")
            or _read_back(source, copy, carried)
        )
    if fault:
        raise CannotCarry(
            label,
            f"was not carried over whole: {fault}",
            "The results stand in a workbook of their own.",
        )


def _first_fault(before: BinaryIO, after: BinaryIO, carried: Carried) -> str:
    with zipfile.ZipFile(before) as old, zipfile.ZipFile(after) as new:
        expected = [*carried.copied, *carried.edited, *carried.new]
        if sorted(new.namelist()) != sorted(expected):
            return "the list of parts is not the one meant"
        for name in carried.copied:
            ours, theirs = new.getinfo(name), old.getinfo(name)
            if (ours.CRC, ours.file_size, ours.compress_size) != (
                theirs.CRC,
                theirs.file_size,
                theirs.compress_size,
            ) or any(
                x != y
                for x, y in zip(raw_bytes(before, theirs), raw_bytes(after, ours), strict=True)
            ):
                return f"part {name} differs"
        for name in (*carried.edited, *carried.new):
            with new.open(name) as part:
                try:
                    while part.read(1 << 20):
                        pass
                except zipfile.BadZipFile:
                    return f"part {name} is damaged"
    return ""


def _loose_ends(file: BinaryIO) -> set[str]:
    """What a strict reader asks: every part has a type, every relationship leads to a part."""
    package = Package(file, "")
    types = ContentTypes(package.xml(CONTENT_TYPES))
    parts = [name for name in package if name != CONTENT_TYPES and not name.endswith("/")]
    found = {
        f"part {name} has no type"
        for name, kind in zip(parts, types.of(*parts), strict=True)
        if not kind
    }
    found |= {f"part {name}, whose type is given, is not there" for name in types.loose(package)}
    for name in parts:
        owner = _RELATIONS.fullmatch(name.replace("\\", "/"))
        if not owner:
            continue
        try:
            relations = package.relationships("".join(owner.groups()))
        except CannotCarry as damage:
            found.add(damage.problem)
            continue
        found |= {
            f"part {name} leads to {item.target}, which is not there"
            for item in relations
            if not item.external and item.target not in package
        }
    return found


def _read_back(source: Path, copy: Path, carried: Carried) -> str:
    left_out = [*carried.names.values(), *carried.replaced]
    command = [sys.executable, "-I", str(_READ_BACK), str(source), str(copy), *left_out]
    try:
        run = subprocess.run(
            command, capture_output=True, text=True, encoding="utf-8", timeout=_PATIENCE
        )
    except subprocess.TimeoutExpired:
        return "reading it back takes too long"
    if run.returncode == 0:
        return ""
    return run.stdout.strip() or "it cannot be read back"
