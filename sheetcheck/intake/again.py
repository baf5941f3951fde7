"""A checked workbook read back: the lines of its record, and its columns as they were read."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from ..errors import UnusableInput
from ..register.register import Register
from .columns import ColumnMap, Entry, parse_column_map
from .headers import word_list
from .workbook import sheets_of

__all__ = ["columns_as_before", "record_lines", "restore_reasons"]

_RECORD = r"Check record(?: \(?\d+\)?)?(?:, part \d+)?\Z"
_TITLE = "Record"
_TONS = re.compile(r"\btons (?:taken for|may be)\b")


def record_lines(path: Path) -> Iterator[Sequence[object]]:
    """Give the cells of a checked workbook's record, row by row.

    Raises
    ------
    UnusableInput
        Where the file cannot be read, or has no record.
    """
    found = False
    for grid in sheets_of(path, _RECORD):
        if grid.rows and grid.rows[0][0] == _TITLE:
            found = True
            yield from grid.rows
    if not found:
        raise UnusableInput(
            path.name, "holds no sheet Check record", "Give a workbook that sheetcheck wrote."
        )


def columns_as_before(text: str, file: str, columns: Sequence[Mapping[str, Any]]) -> ColumnMap:
    """Make the column map by which a register was read in an earlier run.

    Parameters
    ----------
    text
        The column map given then; empty for none.
    file
        The checked workbook, for messages.
    columns
        Every column as it was read then. Those that the map does not decide are added to it,
        except the ones left unmapped: about these the same question arises again.
    """
    given = parse_column_map(text, f"the column map in {file}").entries
    chosen = ColumnMap(file, given, text)
    same = Counter((c["sheet"], tuple(word_list(c["header"]))) for c in columns)
    added = [
        Entry(
            sheet=column["sheet"],
            column=column["column"],
            header=column["header"],
            field=column["field"],
            # What a ton is hangs on the other units of the register: settled again each time.
            unit=None if _TONS.search(column["why"]) else column["unit"],
            line=0,
            by_letter=same[column["sheet"], tuple(word_list(column["header"]))] > 1,
        )
        for column in columns
        if column["field"]
        and chosen.find(column["sheet"], column["column"], column["header"]) is None
    ]
    return ColumnMap(file, (*given, *added), text)


def restore_reasons(register: Register, columns: Sequence[Mapping[str, Any]]) -> None:
    """Put back why each column was read so and how sure that was, where it is read so again.

    Only for the very file of the earlier run: reasons count cells.
    """
    before = {(c["sheet"], c["column"], c["header"], c["field"], c["unit"]): c for c in columns}
    for at, column in enumerate(register.columns):
        key = (column.sheet, column.column, column.header, column.field, column.unit)
        if key in before:
            register.columns[at] = replace(
                column, why=before[key]["why"], confidence=before[key]["confidence"]
            )
