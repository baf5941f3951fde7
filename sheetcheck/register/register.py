"""The register: one row per load point, values in SI, and where each value came from."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from .fields import FIELDS

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "EXAMPLE_TAG",
    "Cells",
    "Column",
    "Problem",
    "Register",
    "Skipped",
    "Source",
    "TableSource",
    "cell_reference",
    "same_tag_key",
    "split_reference",
]

EXAMPLE_TAG = FIELDS["tag"].example
"""Tag of the invented row in an empty register, which is never read as a conveyor."""

_PLAIN_SHEET = re.compile(r"[A-Za-z_][A-Za-z0-9_.]*\Z")
# Cells, also as row and column, and the two truth values.
_LOOKS_LIKE_CELL = re.compile(r"(?i:[a-z]{1,3}[0-9]+|r[0-9]*|c[0-9]*|r[0-9]*c[0-9]*|true|false)\Z")


def cell_reference(sheet: str, cell: str) -> str:
    """``Sheet!H7``, with the sheet quoted as a spreadsheet would where it needs to be."""
    if _PLAIN_SHEET.match(sheet) and not _LOOKS_LIKE_CELL.match(sheet):
        return f"{sheet}!{cell}"
    return "'{}'!{}".format(sheet.replace("'", "''"), cell)


def split_reference(reference: str) -> tuple[str, str]:
    """Sheet name, without its quotes, and cell of a reference that `cell_reference` made."""
    sheet, _, cell = reference.rpartition("!")
    if sheet.startswith("'"):
        sheet = sheet[1:-1].replace("''", "'")
    return sheet, cell


def same_tag_key(tag: str) -> str:
    """Key under which differently spelt tags are one: ``CV 101``, ``CV-101`` and ``cv101``.

    A mark between two figures stays: ``B1-01`` and ``B10-1`` are two conveyors.
    """
    parted = re.sub(r"(?<=\d)[\s\-_./–—]+(?=\d)", "\0", tag)
    return re.sub(r"[\s\-_./–—]+", "", parted).replace("\0", "-").casefold()


@dataclass(frozen=True, slots=True)
class Problem:
    """Something in the source that could not be used, or was used with a doubt.

    ``used`` tells whether the value still went into the checks.
    """

    sheet: str
    cells: tuple[str, ...]
    field: str | None
    text: str
    problem: str
    what_to_do: str
    used: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """How one source column was understood; ``field`` is None where it was left unmapped.

    ``asked`` tells a question from a column that is none of the fields; ``cell`` is where its
    heading stands.
    """

    sheet: str
    column: str
    header: str
    field: str | None
    unit: str | None
    confidence: float
    why: str
    asked: bool = False
    cell: str = ""


@dataclass(frozen=True, slots=True)
class Skipped:
    """A source row inside a table that is no conveyor: a section, a total, a repeated header."""

    sheet: str
    row: int
    text: str
    reason: str


@dataclass(frozen=True, slots=True)
class Source:
    """The workbook a register was read from."""

    path: str
    file: str
    sha256: str
    sheets: tuple[str, ...]
    sheets_read: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TableSource:
    """One table of the source: its sheet and the column letter of each field it gives."""

    sheet: str
    columns: Mapping[str, str]


class Cells:
    """Source cell of any value, computed when asked.

    Parameters
    ----------
    tables
        The source's tables.
    parts
        For each register row, the (table index, sheet row number) pairs it was joined from; the
        first is its main table.
    exceptions
        (row, field) to a full reference, where table column × row is not the answer.
    """

    def __init__(
        self,
        tables: Sequence[TableSource],
        parts: Sequence[Sequence[tuple[int, int]]],
        exceptions: Mapping[tuple[int, str], str] | None = None,
    ) -> None:
        self.tables = tuple(tables)
        self.parts = parts
        self.exceptions = dict(exceptions or {})

    def address(self, row: int, name: str) -> str | None:
        """Give the reference, such as ``Conveyors!H7``, of one value; None if it has no cell."""
        return self.addresses([row], name)[0]

    def addresses(self, rows: Sequence[int], name: str) -> list[str | None]:
        """Give the references of one field's values in some rows."""
        columns = [
            cell_reference(table.sheet, table.columns[name]) if name in table.columns else ""
            for table in self.tables
        ]
        found: list[str | None] = []
        for row in rows:
            for table, number in self.parts[row]:
                if columns[table]:
                    found.append(f"{columns[table]}{number}")
                    break
            else:
                found.append(None)
        if self.exceptions:
            found = [
                self.exceptions.get((row, name), usual)
                for row, usual in zip(rows, found, strict=True)
            ]
        return found

    def main(self, row: int) -> tuple[str, int]:
        """Sheet and row number of the main table's row."""
        table, number = self.parts[row][0]
        return self.tables[table].sheet, number


@dataclass
class Register:
    """All that was understood of one workbook.

    Attributes
    ----------
    values
        Field to a column of n rows: float64 with NaN for numbers and counts, in the field's SI
        unit; 1.0, 0.0 or NaN for yes/no; str arrays with "" for missing words and texts. A
        pulley lift is float64 metres, or NaN where ``positions`` has a word. Fields that the
        source has no column for are absent.
    positions
        Pulley lift field to a str column of position words, "" where none.
    intervals
        (row, field) to (low, high): the cell is a range, or a value known only within a range;
        `values` is NaN there.
    approximate
        (row, field) of values marked approximate.
    derived
        (row, field) to how a value was derived from others; shown as an assumption.
    estimated
        (row, field) of what was derived over a range that a plant may change.
    by_tension
        (row, field) of tension ratios that are an operating tension over the rated one: those
        two were measured, and not the ratio.
    apart
        Row to the first row of its conveyor, where one tag stands on belts that differ.
    column_map, sheet
        Text of the column map it was read by, and the only sheet that was asked for; empty for
        none.
    """

    values: dict[str, np.ndarray[Any, Any]]
    cells: Cells
    columns: list[Column]
    problems: list[Problem]
    skipped: list[Skipped]
    source: Source
    positions: dict[str, np.ndarray[Any, Any]] = field(default_factory=dict)
    intervals: dict[tuple[int, str], tuple[float, float]] = field(default_factory=dict)
    approximate: set[tuple[int, str]] = field(default_factory=set)
    derived: dict[tuple[int, str], str] = field(default_factory=dict)
    estimated: set[tuple[int, str]] = field(default_factory=set)
    by_tension: set[tuple[int, str]] = field(default_factory=set)
    apart: dict[int, int] = field(default_factory=dict)
    column_map: str = ""
    sheet: str = ""

    def __len__(self) -> int:
        return len(self.values["tag"])

    @cached_property
    def first_row(self) -> np.ndarray[Any, np.dtype[np.intp]]:
        """For each row, the first row of the same conveyor (spelling of the tag aside)."""
        first: dict[str, int] = {}
        keys = (same_tag_key(tag) for tag in self.values["tag"].tolist())
        found = (first.setdefault(key, row) for row, key in enumerate(keys))
        return np.fromiter(
            (self.apart.get(row, of_tag) for row, of_tag in enumerate(found)), np.intp, len(self)
        )

    @cached_property
    def derived_fields(self) -> frozenset[str]:
        """Fields of which any value was derived."""
        return frozenset(name for _, name in self.derived)

    @cached_property
    def ranged_fields(self) -> frozenset[str]:
        """Fields of which any value is a range."""
        return frozenset(name for _, name in self.intervals)

    def has(self, name: str) -> bool:
        """Whether the source records `name` for any row (as a value, a word or an interval)."""
        return name in self.values

    def value(self, row: int, name: str) -> float | str | bool | tuple[float, float] | None:
        """One value in the form the JSON output carries it; None where missing."""
        if (row, name) in self.intervals:
            return self.intervals[row, name]
        if name in self.positions and self.positions[name][row]:
            return str(self.positions[name][row])
        if name not in self.values:
            return None
        item = self.values[name][row]
        if FIELDS[name].kind in ("text", "choice"):
            return str(item) or None
        if np.isnan(item):
            return None
        return bool(item) if FIELDS[name].kind == "yes/no" else float(item)

    @cached_property
    def unit_of(self) -> Mapping[tuple[str, str], str]:
        """Sheet and field to the unit that its column was read in."""
        return {(c.sheet, c.field): c.unit for c in self.columns if c.field and c.unit}

    @cached_property
    def table(self) -> pd.DataFrame:
        """The values as a pandas table in SI, one row per register row, absent fields left out.

        Words and yes/no are categoricals, a pulley lift column with position words holds objects;
        intervals are NaN here and stand in `intervals`.
        """
        import pandas as pd

        columns: dict[str, Any] = {}
        for name, column in self.values.items():
            kind = FIELDS[name].kind
            if kind == "text":
                columns[name] = pd.Series([item or None for item in column.tolist()], dtype=object)
            elif kind == "choice":
                words = [item or None for item in column.tolist()]
                columns[name] = pd.Categorical(words, categories=list(FIELDS[name].choices))
            elif kind == "yes/no":
                words = [None if np.isnan(item) else bool(item) for item in column]
                columns[name] = pd.Categorical(words, categories=[True, False])
            elif name in self.positions and (self.positions[name] != "").any():
                columns[name] = pd.Series(
                    [self.value(row, name) for row in range(len(self))], dtype=object
                )
            else:
                columns[name] = column
        return pd.DataFrame(columns)
