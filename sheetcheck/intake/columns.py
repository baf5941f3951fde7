"""The column map: the user's decisions about columns, in TOML, in and out."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ..errors import UnusableCall
from ..files import replacing
from ..register.fields import FIELDS
from ..register.register import Column
from .headers import fits_unit, word_list
from .quantities import TONS, parse_unit

__all__ = ["ColumnMap", "Entry", "load_column_map", "parse_column_map", "save_column_map"]

_OPEN = "?"
"""What stands for the field of a column that is still a question."""
_KEYS = frozenset({"sheet", "column", "header", "field", "unit"})


@dataclass(frozen=True, slots=True)
class Entry:
    """One decision: a column of a sheet holds a field, or nothing that is used (None).

    ``open`` is a question that nobody has answered yet, and so no decision. ``unit`` None leaves
    the unit to the heading; ``line`` is its line in the file, 0 for how a column was read in an
    earlier run; ``by_letter`` has the column's letter tell it too.
    """

    sheet: str
    column: str
    header: str
    field: str | None
    unit: str | None
    line: int
    by_letter: bool = False
    open: bool = False


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
    """Read a column map.

    Parameters
    ----------
    path
        A TOML file of ``[[column]]`` tables with ``sheet``, ``column``, ``header``, ``field``
        and ``unit``.

    Raises
    ------
    UnusableCall
        Naming the line, where the file cannot be used.
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        reason = error.strerror or "unknown reason"
        raise UnusableCall(
            str(path), f"the column map cannot be read ({reason})", "Check the path."
        ) from None
    except UnicodeDecodeError:
        raise UnusableCall(
            path.name, "the column map is not UTF-8 text", "Save it as UTF-8."
        ) from None
    return replace(parse_column_map(text, path.name), path=str(path))


def parse_column_map(text: str, name: str) -> ColumnMap:
    """Read the text of a column map; `name` is what messages call it.

    Raises
    ------
    UnusableCall
        Naming the line, where the text cannot be used.
    """
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise UnusableCall(
            name, f"the column map is not valid TOML: {error}", "Correct that line."
        ) from None
    except (ValueError, RecursionError):
        # The parser takes integers and nesting as Python does, and passes its errors on.
        raise UnusableCall(
            name, "holds a number or a nesting too large to read", "Take it out."
        ) from None
    lines = [
        number
        for number, line in enumerate(text.splitlines(), 1)
        if re.match(r"\s*\[\[\s*\"?column\"?\s*\]\]", line)
    ]
    unknown = sorted(set(content) - {"column"})
    tables = content.get("column", [])
    if unknown or not isinstance(tables, list):
        what = unknown[0] if unknown else "column"
        line = next((n for n, t in enumerate(text.splitlines(), 1) if what in t), 1)
        raise UnusableCall(
            f"{name}, line {line}",
            f"{what!r} is not known here",
            "A column map holds [[column]] tables only.",
        )
    if len(tables) != len(lines):
        raise UnusableCall(
            name,
            "its columns are not [[column]] tables",
            "Write each as [[column]] with lines of its own.",
        )
    entries = []
    for table, line in zip(tables, lines, strict=True):
        block = text.splitlines()[line : line + len(table) + 12]
        entries.append(_entry(table, line, block, name))
    return ColumnMap(name, tuple(entries), text)


def _entry(table: object, line: int, block: list[str], file: str) -> Entry:
    def where(key: str) -> str:
        for offset, text in enumerate(block, 1):
            if text.lstrip().startswith("[["):
                break
            if re.match(rf"\s*\"?{re.escape(key)}\"?\s*=", text):
                return f"{file}, line {line + offset}"
        return f"{file}, line {line}"

    if not isinstance(table, dict):
        raise UnusableCall(f"{file}, line {line}", "is not a table", "Write [[column]].")
    for key, value in table.items():
        if key not in _KEYS:
            known = ", ".join(sorted(_KEYS))
            raise UnusableCall(where(key), f"{key!r} is not known here", f"Use {known}.")
        if not isinstance(value, str):
            raise UnusableCall(where(key), f"{key} is not text", 'Put it in quotation marks ("").')
    for key in ("sheet", "header"):
        if key not in table:
            raise UnusableCall(f"{file}, line {line}", f"{key} is missing", f'Add {key} = "...".')
    name, unit_text = table.get("field", ""), table.get("unit", "")
    if name == _OPEN:
        return Entry(
            table["sheet"], table.get("column", ""), table["header"], None, None, line, open=True
        )
    if name and name not in FIELDS:
        raise UnusableCall(
            where("field"),
            f"there is no field {name!r}",
            'Use a field\'s name, or "" to leave out.',
        )
    unit = parse_unit(unit_text) if unit_text else None
    if unit_text and (unit is None or (name and not fits_unit(name, unit))):
        problem = "is not a unit that is known" if unit is None else f"does not measure {name}"
        raise UnusableCall(where("unit"), f"{unit_text!r} {problem}", "Correct the unit.")
    return Entry(
        table["sheet"], table.get("column", ""), table["header"], name or None, unit, line
    )


def _quoted(text: str) -> str:
    """Write a basic TOML string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + re.sub("[\x00-\x1f\x7f]", lambda c: f"\\u{ord(c[0]):04x}", escaped) + '"'


def save_column_map(
    path: str | Path, columns: Sequence[Column], source: str, *, overwrite: bool = False
) -> None:
    """Write how columns were understood, as a column map to edit and reuse.

    Parameters
    ----------
    path
        File to write.
    columns
        Every column of the tables found.
    source
        Name of the workbook, for a remark.
    overwrite
        Whether an existing file may be replaced.

    Raises
    ------
    OutputExists
        Where the file is there and may not be replaced.
    UnusableCall
        Where it cannot be written.
    """
    lines = [
        f"# Column map of {source}",
        '# One [[column]] for each column. Change field and unit; field "" leaves a column out,',
        '# "?" leaves it a question.',
    ]
    for column in columns:
        lines += [
            "",
            f"# confidence {column.confidence:.2f}: " + " ".join(column.why.split()),
            "[[column]]",
            f"sheet = {_quoted(column.sheet)}",
            f"column = {_quoted(column.column)}",
            f"header = {_quoted(column.header)}",
            f"field = {_quoted(column.field or (_OPEN if column.asked else ''))}",
            f"unit = {_quoted(_written(column.unit))}",
        ]
    with replacing(Path(path), overwrite=overwrite) as file:
        file.write(("\n".join(lines) + "\n").encode())


def _written(unit: str | None) -> str:
    return "" if unit is None else "tph" if unit == TONS else unit
