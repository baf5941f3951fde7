"""A located table: headings and body of one table, however it lay on its sheet."""

from __future__ import annotations

from dataclasses import dataclass, field

from ..register.register import Skipped
from .grid import Value

__all__ = ["Heading", "Table"]


@dataclass(frozen=True, slots=True)
class Heading:
    """Heading of one column of a table.

    Attributes
    ----------
    text
        Its own text.
    group
        Texts of the merged headings above it, joined.
    unit_text
        Text of a units row, "" where there is none.
    place
        Column letter, or the row number where the table lies on its side.
    shown
        The whole heading, as it is quoted.
    hidden
        Whether the column is hidden.
    """

    text: str
    group: str
    unit_text: str
    place: str
    shown: str
    hidden: bool = False


@dataclass
class Table:
    """One table of conveyors.

    Attributes
    ----------
    sheet
        The sheet it stands on (of a form, the first sheet of its kind).
    headings, columns
        One heading and one column of values per source column, columns of equal length.
    at
        For each row its sheet and its row number (of a sideways table or form, of its tag).
    cells
        Where column letter × row number is not the answer: (row, column) to sheet and cell.
    sections
        Section heading in force at each row, "" where none; and the cell it stands in.
    carried
        (row, column) whose value was carried down, from a merged cell or a ditto mark.
    skipped
        Rows of the source left out, with the reason.
    hidden_rows
        Numbers of its hidden rows.
    note_unit
        Unit of length that a line above the table gives for all sizes, if one does.
    header_rows, heading_line
        First and last row of the headings, and the row (of a sideways table, the column) that
        the headings themselves stand in, below their groups.
    kind
        ``"table"``, ``"sideways"`` or ``"form"``.
    hidden
        Whether its sheet is hidden.
    around
        Titles, the sheet's name among them, and remarks above and below it.
    """

    sheet: str
    headings: list[Heading]
    columns: list[list[Value]]
    at: list[tuple[str, int]]
    cells: dict[tuple[int, int], tuple[str, str]] = field(default_factory=dict)
    sections: list[tuple[str, str]] = field(default_factory=list)
    carried: set[tuple[int, int]] = field(default_factory=set)
    skipped: list[Skipped] = field(default_factory=list)
    hidden_rows: set[int] = field(default_factory=set)
    note_unit: str | None = None
    header_rows: tuple[int, int] = (0, 0)
    heading_line: int = 0
    kind: str = "table"
    hidden: bool = False
    around: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())

    def __len__(self) -> int:
        return len(self.at)

    def cell(self, row: int, column: int) -> str:
        """Give the cell address of a value, such as ``H7``."""
        if (row, column) in self.cells:
            return self.cells[row, column][1]
        return f"{self.headings[column].place}{self.at[row][1]}"

    def sheet_of(self, row: int, column: int) -> str:
        """Name of the sheet that a value stands on."""
        if (row, column) in self.cells:
            return self.cells[row, column][0]
        return self.at[row][0]
