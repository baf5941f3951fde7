"""A sheet as plain data: what stands in it, never how a workbook file says so.

One model feeds both outputs, the fresh workbook and the copy of the source with sheets added.
Rows and columns are counted from 0, as the writing library does; styles are names from `style`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, NamedTuple

__all__ = [
    "MAX_CELL_TEXT",
    "MAX_LINKS",
    "MAX_ROWS",
    "Area",
    "Body",
    "Cell",
    "Chart",
    "Column",
    "DropDown",
    "Link",
    "Number",
    "Page",
    "Row",
    "Series",
    "SheetModel",
    "Value",
    "continued",
    "part_name",
]

# Limits of the file format as spreadsheet programs keep them (ECMA-376 leaves some to the
# program); links: 65,530 a sheet, of which the public contract uses 60,000. A sheet takes
# 1,048,576 rows; ours go on in a further one earlier, since a row may take some 5 KB of markup
# (estimated) and a part of 2 GiB needs an archive of a kind that not every program opens.
MAX_ROWS = 250_000
MAX_CELL_TEXT = 32_767
MAX_LINKS = 60_000

Value = str | int | float | None


class Link(NamedTuple):
    """A place inside the workbook; ``own`` tells one of our sheets from one of the source's."""

    sheet: str
    cell: str
    own: bool = False


class Cell(NamedTuple):
    """A value with a style other than its column's, or with a link."""

    value: Value
    style: str = ""
    link: Link | None = None


Row = Sequence[Value | Cell]


@dataclass(frozen=True, slots=True)
class Column:
    """Width in characters, style of plain values, and outline level (0: not grouped).

    ``whole`` gives the style to the cells below the rows too, in a workbook of its own.
    """

    width: float
    style: str = "text"
    level: int = 0
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Body:
    """Rows made when asked for, so that a large sheet is never held whole.

    ``rows(start, stop)`` gives the rows of that range.
    """

    count: int
    rows: Callable[[int, int], Iterable[Row]]

    @classmethod
    def of(cls, rows: Sequence[Row]) -> Body:
        """Make a body of rows at hand."""
        return cls(len(rows), lambda start, stop: rows[start:stop])

    def __len__(self) -> int:
        return self.count

    def __iter__(self) -> Iterator[Row]:
        return iter(self.rows(0, self.count))


class Area(NamedTuple):
    """A rectangle of cells, ends included."""

    first_row: int
    first_column: int
    last_row: int
    last_column: int


Paper = Literal["A4", "A3", "Letter", "Tabloid"]


@dataclass(frozen=True, slots=True)
class Page:
    """Print set-up; the footer shows the file, the date and the page.

    With a `scale`, in per cent, pages break where the sheet says; without one the sheet is made to
    fit the width of a page, or one page, and programs may ignore its breaks.
    """

    file: str = ""
    date: str = ""
    paper: Paper = "A4"
    landscape: bool = True
    one_page: bool = False
    scale: int = 0


class Number(NamedTuple):
    """Least and greatest number a cell of a blank register takes, with the message shown."""

    low: float
    high: float
    message: str


@dataclass(frozen=True, slots=True)
class DropDown:
    """Cells that offer words, or that take numbers of a range only; `others` do the same."""

    cells: Area
    words: tuple[str, ...] = ()
    number: Number | None = None
    others: tuple[Area, ...] = ()


@dataclass(frozen=True, slots=True)
class Series:
    """A named run of cells of the same sheet: row ranges are ``(first, last)``, ends included.

    Pattern and width, in points, are those of a line.
    """

    name: str
    rows: tuple[int, int]
    categories: int
    values: int
    colour: str
    pattern: str = ""
    width: float = 2.0


@dataclass(frozen=True, slots=True)
class Chart:
    """A native chart over cells of its own sheet; sizes in pixels."""

    kind: Literal["stacked bar", "bar", "line"]
    title: str
    axis: str
    series: tuple[Series, ...]
    row: int
    column: int
    width: int
    height: int
    down_axis: str = ""


@dataclass(frozen=True, slots=True)
class SheetModel:
    """A sheet.

    Attributes
    ----------
    name
        Sheet name, at most 31 characters.
    columns
        Columns from the left.
    head
        Title and heading rows.
    repeat, repeat_columns
        How many rows at the end of the head, and columns at the left, every printed page repeats.
    body
        Rows under the head.
    printed, printed_columns
        How many rows from the top, and columns from the left, are printed; 0 for all.
    row_breaks, column_breaks
        Rows and columns that begin a printed page.
    freeze
        Rows and columns that stay in view.
    filtered
        Whether the last row of the head carries filter buttons.
    heights
        Row to height in points, where text does not set it.
    merges, charts, notes, drop_downs
        Merged cells; charts; (row, column) to the note of a cell; restricted cells.
    page
        Print set-up.
    """

    name: str
    columns: tuple[Column, ...]
    head: tuple[Row, ...]
    body: Body
    repeat: int = 1
    freeze: tuple[int, int] = (0, 0)
    filtered: bool = False
    repeat_columns: int = 0
    printed: int = 0
    printed_columns: int = 0
    row_breaks: tuple[int, ...] = ()
    column_breaks: tuple[int, ...] = ()
    heights: Mapping[int, float] = field(default_factory=dict)
    merges: tuple[Area, ...] = ()
    charts: tuple[Chart, ...] = ()
    notes: Mapping[tuple[int, int], str] = field(default_factory=dict)
    drop_downs: tuple[DropDown, ...] = ()
    page: Page = Page()

    def __iter__(self) -> Iterator[Row]:
        yield from self.head
        yield from self.body

    def __len__(self) -> int:
        return len(self.head) + len(self.body)


def part_name(name: str, number: int) -> str:
    """Name of the `number`-th part of a sheet, counted from 1."""
    return name if number == 1 else f"{name}, part {number}"


def continued(sheet: SheetModel, limit: int = MAX_ROWS) -> list[SheetModel]:
    """Split a sheet with more rows than one takes into as many as it needs.

    Each repeats the head; the further ones are named ``NAME, part 2`` and so on.
    """
    room = limit - len(sheet.head)
    if len(sheet.body) <= room:
        return [sheet]
    parts = []
    for number, start in enumerate(range(0, len(sheet.body), room), start=1):
        stop = min(start + room, len(sheet.body))
        name = part_name(sheet.name, number)
        body = Body(
            stop - start,
            lambda first, last, start=start: sheet.body.rows(start + first, start + last),  # type: ignore[misc]
        )
        parts.append(replace(sheet, name=name, body=body))
    return parts
