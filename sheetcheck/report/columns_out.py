"""How a workbook's columns were understood, as a table for the terminal or as JSON."""

from __future__ import annotations

import json
import shutil
import textwrap
from collections.abc import Sequence

from ..intake import Description
from .json_parts import picked

__all__ = ["columns_json", "columns_table"]


def columns_json(found: Description) -> str:
    """A list of objects, one a column; ``field`` is null where a column was left unmapped."""
    return json.dumps(
        [
            picked(column, "sheet column header field unit confidence why")
            for column in found.columns
        ],
        ensure_ascii=False,
        indent=1,
    )


def _table(heads: Sequence[str], lines: Sequence[Sequence[str]], room: int) -> list[str]:
    """Columns padded to their text; the last one wraps into the room that is left."""
    widths = [max(len(line[place]) for line in [heads, *lines]) for place in range(len(heads) - 1)]
    indent = sum(widths) + 2 * len(widths)
    last = max(20, room - indent)
    out = []
    for line in [heads, *lines]:
        start = "".join(
            f"{text:<{width}}  " for text, width in zip(line[:-1], widths, strict=True)
        )
        wrapped = textwrap.wrap(line[-1], last) or [""]
        out.append((start + wrapped[0]).rstrip())
        out += [" " * indent + more for more in wrapped[1:]]
    return out


def columns_table(found: Description) -> str:
    """Tables found, columns by table, questions, and fields that no column gives."""
    room = shutil.get_terminal_size((120, 24)).columns
    out: list[str] = []
    for sheet, first, last, rows, kind in found.tables:
        heads = f"row {first}" if first == last else f"rows {first} to {last}"
        out.append(f"Sheet {sheet!r}: {kind}, headings in {heads}, {rows} rows")
    for sheet in dict.fromkeys(column.sheet for column in found.columns):
        lines = [
            (
                column.column,
                " ".join(column.header.split()),
                column.field or "(not mapped)",
                column.unit or "",
                f"{column.confidence:.0%}",
                column.why,
            )
            for column in found.columns
            if column.sheet == sheet
        ]
        out += ["", f"{sheet}"]
        out += _table(("col", "heading", "field", "unit", "sure", "why"), lines, room)
    if found.questions:
        out += ["", "Questions to settle (in a column map: columns --save FILE.toml):"]
        out += [f"  {sheet}!{column}: {question}" for sheet, column, question in found.questions]
    if found.missing:
        out += ["", "No column gives:"]
        out += textwrap.wrap(
            ", ".join(found.missing), room, initial_indent="  ", subsequent_indent="  "
        )
    return "\n".join(out)
