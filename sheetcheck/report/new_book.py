"""Sheets as a workbook of their own."""

from __future__ import annotations

from collections.abc import Sequence
from typing import BinaryIO

from .archive import ArchiveWriter
from .model import SheetModel
from .opc import CONTENT_TYPES, ContentTypes, Relationships, parse, relationships_part, serialised
from .rows import RowStream
from .skeleton import BookOptions, lay_out
from .workbook_part import WorkbookPart

__all__ = ["write_book"]

_WORKBOOK = "xl/workbook.xml"
_TEXTS = "xl/sharedStrings.xml"


def write_book(sheets: Sequence[SheetModel], target: BinaryIO, options: BookOptions) -> None:
    """Write `sheets` as a new workbook; the same sheets and options give the same bytes.

    Parameters
    ----------
    sheets
        Models, in order; the workbook opens on the first.
    target
        Open, seekable and empty binary file.
    options
        What holds for all of them.
    """
    skeleton = lay_out(sheets, {}, options)
    parts = dict(skeleton.parts)
    # Rows hold their texts themselves, so the library's table of texts is not referred to.
    del parts[_TEXTS]
    types = ContentTypes(parse(parts.pop(CONTENT_TYPES), CONTENT_TYPES))
    types.remove([_TEXTS])
    name = relationships_part(_WORKBOOK)
    relations = Relationships(_WORKBOOK, parse(parts[name], name))
    relations.remove(item.identity for item in relations.of_kind("sharedStrings"))
    parts[name] = serialised(relations.root)
    workbook = WorkbookPart(parts.pop(_WORKBOOK), _WORKBOOK)
    rows = RowStream(skeleton.styles, {sheet.name: sheet.name for sheet in sheets})
    with ArchiveWriter(target) as archive:
        archive.add(CONTENT_TYPES, serialised(types.root))
        for part, content in parts.items():
            archive.add(part, content)
        for laid_out, sheet in zip(skeleton.sheets, sheets, strict=True):
            archive.add(laid_out.part, laid_out.stream(sheet, rows))
        if options.results:
            workbook.mark(rows.seals)
        archive.add(_WORKBOOK, serialised(workbook.root))
