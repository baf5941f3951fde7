"""The column map: the user's decisions about columns, in TOML, in and out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ..errors import UnusableCall
from ..files import replacing
from ..register.fields import FIELDS
from ..register.register import Column
from ..toml_lines import TomlText, quoted, read_toml
from .headers import fits_unit, word_list
from .quantities import TONS, parse_unit

__all__ = ["ColumnMap", "Entry", "load_column_map", "parse_column_map", "save_column_map"]

_OPEN = "?"
"""What stands for the field of a column that is still a question."""
_KEYS = frozenset({"sheet", "column", "header", "field", "unit", "yes"})


@dataclass(frozen=True, slots=True)
class Entry:
    """One decision: a column of a sheet holds a field, or nothing that is used (None).

    ``open`` is a question that nobody has answered yet, and so no decision. ``unit`` None leaves
    the unit to the heading; ``line`` is its line in the file, 0 for how a column was read in an
    earlier run; ``by_letter`` has the column's letter tell it too; ``yes`` says what a yes means,
    "there" or "missing".
    """

    sheet: str
    column: str
    header: str
    field: str | None
    unit: str | None
    line: int
    by_letter: bool = False
    open: bool = False
    yes: str = ""


@dataclass(frozen=True, slots=True)
class ColumnMap:
    """The decisions of one file, and its text."""

    path: str
    entries: tuple[Entry, ...]
    text: str = ""

    def find(self, sheet: str, column: str, header: str) -> Entry | None:
        """Give the decision about a column, found by its heading; None where there is none.

        A heading that stands twice on the sheet is told by its column letter too.
        """
        words = word_list(header)
        same = [
            entry
            for entry in self.entries
            if entry.sheet.casefold() == sheet.casefold() and word_list(entry.header) == words
        ]
        if len(same) > 1 or any(entry.by_letter for entry in same):
            same = [entry for entry in same if entry.column == column]
        return same[0] if same and not same[0].open else None

    def headings(self, sheet: str) -> frozenset[str]:
        """Every text that stands in a heading of a sheet, in lower case."""
        return frozenset(
            part.casefold()
            for entry in self.entries
            if entry.sheet.casefold() == sheet.casefold()
            for part in entry.header.split(" | ")
        )

    def unused(self, columns: Sequence[Column]) -> list[Entry]:
        """Entries that fit no column of a workbook: its headings have changed since."""
        return [
            entry
            for entry in self.entries
            if not any(
                entry.sheet.casefold() == column.sheet.casefold()
                and word_list(entry.header) == word_list(column.header)
                for column in columns
            )
        ]


def load_column_map(path: str | Path) -> ColumnMap:
    """Read a column map: TOML of ``[[column]]`` tables, with the keys of `Entry`.

    Raises UnusableCall, naming the line, where the file cannot be used.
    """
    path = Path(path)
    return replace(_column_map(read_toml(path, "column map")), path=str(path))


def parse_column_map(text: str, name: str) -> ColumnMap:
    """Read the text of a column map, which messages call `name`; raises as `load_column_map`."""
    return _column_map(TomlText(text, name))


def _column_map(toml: TomlText) -> ColumnMap:
    for key, tables in toml.content.items():
        if key != "column" or not isinstance(tables, list):
            raise toml.error(
                (key,), f"{key!r} is not known here", "A column map holds [[column]] tables only."
            )
    tables = toml.content.get("column", [])
    heads = toml.heads("column") if tables else []
    if len(heads) != len(tables):
        raise UnusableCall(
            toml.name,
            "its columns are not [[column]] tables",
            "Write each as [[column]] with lines of its own.",
        )
    numbered = zip(tables, heads, strict=True)
    entries = tuple(_entry(toml, at, *item) for at, item in enumerate(numbered))
    first: dict[object, int] = {}
    for at, entry in enumerate(entries):
        column = _same(entry)
        if first.setdefault(column, entry.line) != entry.line:
            problem = f"is about the column of line {first[column]} again"
            raise toml.error(("column", at), problem, "Keep one of the two.")
    return ColumnMap(toml.name, entries, toml.text)


def _same(one: Entry | Column) -> tuple[str, tuple[str, ...], str]:
    """What tells a column from the others of a map."""
    return one.sheet.casefold(), tuple(word_list(one.header)), one.column


def _entry(toml: TomlText, number: int, table: dict[str, Any], line: int) -> Entry:
    def error(key: str, problem: str, what_to_do: str) -> UnusableCall:
        at = ("column", number, key) if key else ("column", number)
        return toml.error(at, problem, what_to_do)

    for key, value in table.items():
        if key not in _KEYS:
            known = ", ".join(sorted(_KEYS))
            raise error(key, f"{key!r} is not known here", f"Use {known}.")
        if not isinstance(value, str):
            raise error(key, f"{key} is not text", 'Put it in quotation marks ("").')
    for key in ("sheet", "header"):
        if key not in table:
            raise error("", f"{key} is missing", f'Add {key} = "...".')
    if (yes := table.get("yes", "")) not in ("", "there", "missing"):
        raise error("yes", f"yes is {yes!r}", 'Write "there" or "missing".')
    field, unit_text = table.get("field", ""), table.get("unit", "")
    entry = Entry(
        table["sheet"], table.get("column", ""), table["header"], field or None, None, line
    )
    if field == _OPEN:
        return replace(entry, field=None, open=True)
    if field and field not in FIELDS:
        raise error(
            "field", f"there is no field {field!r}", 'Use a field\'s name, or "" to leave out.'
        )
    unit = parse_unit(unit_text) if unit_text else None
    if unit_text and (unit is None or (field and not fits_unit(field, unit))):
        problem = "is not a unit that is known" if unit is None else f"does not measure {field}"
        raise error("unit", f"{unit_text!r} {problem}", "Correct the unit.")
    return replace(entry, unit=unit, yes=yes)


def save_column_map(
    path: str | Path, columns: Sequence[Column], source: str, *, overwrite: bool = False
) -> None:
    """Write how every column was understood, as a column map to edit and reuse.

    `source` is the workbook's name, for a remark. Raises OutputExists where the file is there and
    may not be replaced; UnusableCall where it cannot be written.
    """
    lines = [
        f"# Column map of {source}",
        '# One [[column]] for each column. Change field and unit; field "" leaves a column out,',
        '# "?" leaves it a question.',
    ]
    first = {_same(column): column for column in reversed(columns)}
    for column in columns:
        if first[_same(column)] is not column:
            continue  # tables one below the other: one entry tells for both
        lines += [
            "",
            f"# confidence {column.confidence:.2f}: " + " ".join(column.why.split()),
            "[[column]]",
            f"sheet = {quoted(column.sheet)}",
            f"column = {quoted(column.column)}",
            f"header = {quoted(column.header)}",
            f"field = {quoted(column.field or (_OPEN if column.asked else ''))}",
            f"unit = {quoted(_written(column.unit))}",
        ]
    with replacing(Path(path), overwrite=overwrite) as file:
        file.write(("\n".join(lines) + "\n").encode())


def _written(unit: str | None) -> str:
    return "" if unit is None else "tph" if unit == TONS else unit
