"""Whether a sheet of ours still holds what was written into it, and nothing else.

Its seal is taken of texts and numbers, by their columns but not by the order of rows, so that it
outlasts sorting, formats, and another program that saves the workbook. A formula, a note or a
picture breaks it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

from lxml import etree

from .opc import MAIN, CannotCarry, Package
from .rows import inline, number_said, row_seal, seal

__all__ = ["is_sealed", "shared_texts"]

_OURS = {"drawing", "printerSettings"}
_MOST_DROPPED = 100
_ROW, _TEXT, _VALUE, _FORMULA = (f"{{{MAIN}}}{name}" for name in ("row", "t", "v", "f"))


def shared_texts(package: Package, part: str) -> list[str]:
    """Give the texts that the workbook's cells share; none where `part` is ``""``."""
    return [_text(item) for item in package.elements(part, f"{{{MAIN}}}si")] if part else []


def is_sealed(package: Package, part: str, given: str, texts: Sequence[str]) -> bool:
    """Tell whether the sheet in `part` is as written by the seal `given`."""
    relations = package.relationships(part)
    if {item.kind.rpartition("/")[2] for item in relations} - _OURS:
        return False
    try:
        drawings = [package.xml(item.target) for item in relations.of_kind("drawing")]
        charts = sum(str(child.tag).endswith("Anchor") for one in drawings for child in one)
        rows = sum(row_seal(list(_said(row, texts))) for row in package.elements(part, _ROW))
    except (CannotCarry, ValueError, IndexError, etree.XMLSyntaxError):
        return False
    # A program may drop a chart; nobody's work is in it.
    return any(seal(rows, number) == given for number in range(charts, charts + _MOST_DROPPED))


def _said(row: etree._Element, texts: Sequence[str]) -> Iterator[str]:
    for cell in row.iterchildren(f"{{{MAIN}}}c"):
        if cell.find(_FORMULA) is not None:
            raise ValueError("a formula, which we never write")
        kind, value = cell.get("t", "n"), cell.findtext(_VALUE) or ""
        letters = cell.get("r", "").rstrip("0123456789")
        text = texts[int(value)] if kind == "s" else value or _text(cell)
        if not text:
            continue
        if kind == "n":
            yield letters + number_said(float(text))
        else:
            # Of another kind is nothing of ours: it is told apart by the kind.
            kind = "" if kind in ("s", "str", "inlineStr") else kind
            yield kind + letters + inline(escape(text, quote=False))


def _text(element: etree._Element) -> str:
    """Text of a cell or a shared item, without what is only said of how it sounds."""
    sound = {item for spoken in element.iter(f"{{{MAIN}}}rPh") for item in spoken}
    return "".join(item.text or "" for item in element.iter(_TEXT) if item not in sound)
