"""One sheet as a grid of values, and what a cell may hold beside plain values."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

__all__ = ["Area", "Fault", "Grid", "Shown", "Value", "column_letter", "is_blank", "plain_text"]


@dataclass(frozen=True, slots=True)
class Fault:
    """A cell without a usable value: an error such as ``#N/A``, or a formula never calculated."""

    text: str
    problem: str
    what_to_do: str


@dataclass(frozen=True, slots=True)
class Shown:
    """A number whose format shows a unit that is not in its text, such as ``0.0" m"``."""

    value: float
    unit: str


Moment = datetime.date | datetime.datetime | datetime.time | datetime.timedelta
Value = float | str | bool | Moment | Fault | Shown | None


@dataclass(frozen=True, slots=True)
class Area:
    """Merged cells: zero-based first and last row and column."""

    top: int
    left: int
    bottom: int
    right: int


def column_letter(index: int) -> str:
    """Letters of a zero-based column: 0 is A, 26 is AA."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def is_blank(value: object) -> bool:
    """Whether a cell holds nothing, or nothing but blanks."""
    return value is None or value == "" or (isinstance(value, str) and not value.strip())


def plain_text(value: object) -> str:
    """Text of a cell on one line, as a person would quote it."""
    if value is None:
        return ""
    if isinstance(value, Fault):
        return value.text
    if isinstance(value, Shown):
        return f"{value.value:.12g} {value.unit}"
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, float):
        return f"{value:.12g}"
    return " ".join(str(value).split())


@dataclass
class Grid:
    """Values of one sheet from A1 on, rows of equal length.

    Attributes
    ----------
    rows
        Values by zero-based row and column.
    merged
        Merged areas.
    hidden_rows, hidden_columns
        Zero-based.
    lengths
        Of delimited text, how many cells each line had before blank ones were added.
    """

    sheet: str
    rows: list[list[Value]]
    merged: list[Area] = field(default_factory=list)
    hidden_rows: frozenset[int] = frozenset()
    hidden_columns: frozenset[int] = frozenset()
    hidden: bool = False
    lengths: list[int] = field(default_factory=list)

    @property
    def width(self) -> int:
        """Number of columns."""
        return len(self.rows[0]) if self.rows else 0

    @cached_property
    def area_at(self) -> dict[tuple[int, int], Area]:
        """Every cell of a merged area to that area."""
        return {cell: area for area in self.merged for cell in _cells(area)}

    def turned(self) -> Grid:
        """Give the sheet with rows and columns exchanged."""
        return Grid(
            sheet=self.sheet,
            rows=[list(column) for column in zip(*self.rows, strict=True)],
            merged=[Area(a.left, a.top, a.right, a.bottom) for a in self.merged],
            hidden_rows=self.hidden_columns,
            hidden_columns=self.hidden_rows,
            hidden=self.hidden,
        )


def _cells(area: Area) -> Iterator[tuple[int, int]]:
    for row in range(area.top, area.bottom + 1):
        for column in range(area.left, area.right + 1):
            yield row, column
