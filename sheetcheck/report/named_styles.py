"""Cell styles with names, as a spreadsheet program's style gallery lists them.

The writing library writes formats without names. Here each of our looks becomes a cell style, and
a cell format that is based on it (ECMA-376 part 1, 18.8.7 cellStyle, 18.8.9 cellStyleXfs, 18.8.10
cellXfs): whoever changes the style in the gallery changes every cell that has it.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping

from lxml import etree

from .opc import MAIN

__all__ = ["name_styles", "parted", "style_name"]

_PREFIX = "Check"
_NUMBERED = re.compile(r"(.*?)(?: \(([0-9]+)\))?", re.DOTALL)


def style_name(look: str) -> str:
    """Name in the gallery of a look in `style.STYLES`."""
    return f"{_PREFIX} {look}"


def parted(name: str) -> tuple[str, int]:
    """Part a style's name from the number in brackets behind it, 1 where there is none."""
    found = _NUMBERED.fullmatch(name)
    assert found is not None  # it takes any text
    return found[1], int(found[2] or 1)


def name_styles(root: etree._Element, formats: Mapping[str, int]) -> dict[str, int]:
    """Name the looks in a style sheet of the writing library's, in place.

    Parameters
    ----------
    root
        The style sheet.
    formats
        Look to the index of its cell format; two that are alike may share one.

    Returns
    -------
    dict of str to int
        Look to the index of a cell format of its own, based on the style of its name.
    """
    bases, cells, names = (
        root.find(f"{{{MAIN}}}{tag}") for tag in ("cellStyleXfs", "cellXfs", "cellStyles")
    )
    assert bases is not None
    assert cells is not None
    assert names is not None
    written = list(cells)
    del cells[1:]
    places = {}
    for look, index in formats.items():
        entry = written[index]
        base = _copy(entry, bases)
        del base.attrib["xfId"]
        named = etree.SubElement(names, f"{{{MAIN}}}cellStyle")
        named.set("name", style_name(look))
        named.set("xfId", str(len(bases) - 1))
        _copy(entry, cells).set("xfId", str(len(bases) - 1))
        places[look] = len(cells) - 1
    for container in (bases, cells, names):
        container.set("count", str(len(container)))
    return places


def _copy(entry: etree._Element, parent: etree._Element) -> etree._Element:
    made = copy.copy(entry)
    parent.append(made)
    return made
