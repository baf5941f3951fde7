"""Lists as sheets: each column says once its heading, width, style and what stands in it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any, NamedTuple

from .model import Body, Cell, Column, Page, Row, SheetModel, Value

__all__ = ["HEAD", "ListColumn", "headings", "list_sheet", "section", "section_row", "title_rows"]

HEAD = 3
"""Rows above the first line of a list: title, what it is about, headings."""


class ListColumn(NamedTuple):
    """A column of a list; `value` gives its cell of an item.

    Columns of use on a screen only are not `printed`; they stand last.
    """

    heading: str
    width: float
    value: Callable[[Any], Value | Cell]
    style: str = "text"
    printed: bool = True
    level: int = 0

    @property
    def model(self) -> Column:
        """Width, style and outline level alone."""
        return Column(self.width, self.style, self.level)


def headings(names: Iterable[str]) -> Row:
    """Names as a row of headings."""
    return tuple(Cell(name, "heading") for name in names)


def title_rows(title: str, about: str, names: Iterable[str] = ()) -> tuple[Row, ...]:
    """Title, a line about the sheet, and headings if there are any."""
    rows: tuple[Row, ...] = ((Cell(title, "title"),), (Cell(about, "subtitle"),))
    line = headings(names)
    return (*rows, line) if line else rows


def list_sheet(
    name: str,
    title: str,
    about: str,
    columns: Sequence[ListColumn],
    items: Sequence[Any] | Callable[[int, int], Iterable[Any]],
    page: Page,
    *,
    count: int | None = None,
    **more: Any,
) -> SheetModel:
    """Lay out a list.

    Parameters
    ----------
    name, title, about
        Of the sheet, over the list, and under the title.
    columns
        From the left.
    items
        What its lines tell of: at hand, or `count` of them, made when asked for as a `Body`'s.
    page
        Print set-up.
    more
        Further attributes of `SheetModel`.
    """
    values = [column.value for column in columns]

    def rows(start: int, stop: int) -> Iterator[Row]:
        asked = items(start, stop) if callable(items) else items[start:stop]
        return ([value(item) for value in values] for item in asked)

    printed = sum(column.printed for column in columns)
    usual: dict[str, Any] = {
        "freeze": (HEAD, 1),
        "heights": {0: 24, 1: 20},
        "printed_columns": 0 if printed == len(columns) else printed,
    }
    return SheetModel(
        name,
        tuple(column.model for column in columns),
        title_rows(title, about, (column.heading for column in columns)),
        Body(len(items) if count is None else count, rows),  # type: ignore[arg-type]
        page=page,
        **(usual | more),
    )


def section_row(title: str, width: int) -> Row:
    """Title of a part of a sheet, over `width` columns."""
    return (Cell(title, "section"), *[Cell("", "section")] * (width - 1))


def section(
    title: str,
    width: int,
    columns: Sequence[tuple[str, Callable[[Any], Value | Cell]]] = (),
    items: Iterable[Any] = (),
    none: str = "None.",
) -> Iterator[Row]:
    """A part of a sheet `width` columns wide: an empty row, its title, headings and lines.

    Each column is a heading and what gives its cell of an item; without items it says `none`.
    """
    yield ()
    yield section_row(title, width)
    if columns:
        yield headings(name for name, _ in columns)
        empty = True
        for item in items:
            empty = False
            yield [value(item) for _, value in columns]
        if empty:
            yield (Cell(none, "text"),)
