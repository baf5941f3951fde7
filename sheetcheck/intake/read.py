"""A workbook to a register: the one way in."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..errors import UnusableCall, UnusableInput
from ..register.derive import complete
from ..register.fields import FIELDS
from ..register.register import (
    EXAMPLE_TAG,
    Column,
    Problem,
    Register,
    Skipped,
    same_tag_key,
)
from .assemble import assemble, columns_of, problems_of
from .assign import assign
from .columns import ColumnMap
from .convert import convert
from .converted import Noted
from .forms import find_forms
from .grid import Fault, Grid, is_blank, plain_text
from .heading_rows import heading_score
from .join import Part, join_rows
from .legend import remarks, spell_out
from .limits import Allowance
from .locate import find_tables
from .numbers import Marks
from .polarity import said_around
from .quantities import parse_quantity
from .table import Table
from .workbook import Book, open_book

__all__ = ["Description", "describe_columns", "read_register"]


@dataclass(frozen=True, slots=True)
class Description:
    """How a workbook was understood, before any value is read.

    Attributes
    ----------
    columns
        Every column of the tables found.
    tables
        (sheet, first heading row, last heading row, rows, kind) of each table.
    questions
        (sheet, column, question) of what the user should settle.
    missing
        Fields that no column gives.
    """

    columns: list[Column]
    tables: list[tuple[str, int, int, int, str]]
    questions: list[tuple[str, str, str]]
    missing: list[str]


def read_register(
    path: str | Path,
    *,
    column_map: ColumnMap | None = None,
    sheet: str | None = None,
    allowance: Allowance | None = None,
) -> Register:
    """Read a workbook.

    Parameters
    ----------
    path
        The workbook; it is only read.
    column_map
        The user's decisions about columns.
    sheet
        The only sheet to read.
    allowance
        What the workbook may ask for; the usual, where None.

    Returns
    -------
    Register
        Values in SI, derived values included.

    Raises
    ------
    UnusableInput
        Where the file cannot be read, has no conveyor table or no tag column.
    """
    book = open_book(path, allowance)
    parts, tagless = _parts(book, column_map, sheet)
    said = tuple(remarks(book.grids))
    for grid in book.grids:
        # The tables hold their cells now; of a long register the grid is a fifth of all memory.
        grid.rows.clear()
    marks = Marks.of(_number_texts(parts))
    tons = _tons(parts, said)
    for part in parts:
        for name, index in part.fields.items():
            one, values = part.assigned[index], part.table.columns[index]
            part.values[name] = convert(
                name, values, one.unit, marks, tons=tons, opposite=one.opposite
            )
        _drop_untagged(part)
    parts = [part for part in parts if len(part.table)]
    if not parts:
        raise UnusableInput(book.file, "no row has a tag", "Fill the tag column.")
    if len(parts) == 1:
        # No other table can disagree with its cells, which are not asked for again.
        parts[0].table.columns.clear()
    joined = join_rows(parts, _main(parts))
    joined.problems += map(_not_used, tagless)
    register = assemble(book, parts, joined, tons)
    register.sheet = sheet or ""
    if column_map is not None:
        register.column_map = column_map.text
        register.problems += [
            Problem(
                entry.sheet,
                (entry.column,) if entry.column else (),
                entry.field,
                entry.header,
                "the column map names a heading that is not there "
                + (f"(its line {entry.line})" if entry.line else "(as read before)"),
                "Correct the map, or save a new one.",
            )
            for entry in column_map.unused(register.columns)
            # How another workbook was read says nothing of sheets that this one does not have.
            if entry.line or entry.sheet in book.sheets
        ]
    complete(register)
    return register


def describe_columns(
    path: str | Path, *, column_map: ColumnMap | None = None, sheet: str | None = None
) -> Description:
    """Tell how a workbook's columns are understood; a missing tag column is no error here.

    Parameters
    ----------
    path, column_map, sheet
        As of `read_register`.
    """
    book = open_book(path)
    parts = _understood(book, column_map, sheet)
    # One without a tag is described too: a column map may name its tag.
    parts = [part for part in parts if _is_conveyors(part) or _lacks_tag(part)] or parts
    tons = _tons(parts, tuple(remarks(book.grids)))
    given = {name for part in parts for name in part.fields}
    return Description(
        columns=[column for part in parts for column in columns_of(part, tons)],
        tables=[
            (part.table.sheet, *part.table.header_rows, len(part.table), part.table.kind)
            for part in parts
        ],
        questions=[
            (part.table.sheet, heading.place, one.question)
            for part in parts
            for heading, one in zip(part.table.headings, part.assigned, strict=True)
            if one.question
        ],
        missing=[name for name in FIELDS if name not in given],
    )


# --- tables ----------------------------------------------------------------------------------


def _grids(book: Book, sheet: str | None) -> Sequence[Grid]:
    if sheet is None:
        return book.grids
    chosen = [grid for grid in book.grids if grid.sheet.casefold() == sheet.casefold()]
    if not chosen:
        raise UnusableCall(
            book.file,
            f"there is no sheet {sheet!r} with cells in it",
            f"Its sheets are {', '.join(map(repr, book.sheets))}.",
        )
    return chosen


def _understood(book: Book, column_map: ColumnMap | None, sheet: str | None) -> list[Part]:
    """Understand all sheets; one without an upright table is tried as a form or sideways."""
    parts: list[Part] = []
    others: list[Grid] = []
    said = [text for text in remarks(book.grids) if "=" in text]
    for grid in _grids(book, sheet):
        known = column_map.headings(grid.sheet) if column_map is not None else frozenset()
        tables = _with_surroundings(find_tables(grid, known), said, grid)
        upright = [_part(table, column_map, said) for table in tables]
        if grid.lengths:
            for part in upright:
                _doubt_torn_rows(part, grid, book.file)
            # Values that stand under the wrong heading are no evidence of what it means.
            upright = [_part(part.table, column_map) for part in upright]
        upright = [part for part in upright if not _labels_for_tags(part)]
        parts += upright
        if not any("tag" in part.fields and len(part.fields) > 1 for part in upright):
            others.append(grid)
    parts += [
        _part(table, column_map, said)
        for table in _with_surroundings(find_forms(others), said, *others)
    ]
    if any(map(_T_IS_SHORT.search, remarks(book.grids))):
        for part in parts:
            _in_short_tons(part)
    return parts


def _with_surroundings(tables: list[Table], said: list[str], *grids: Grid) -> list[Table]:
    for table in tables:
        grid = next(grid for grid in grids if grid.sheet == table.sheet)
        titles, remarks = said_around(grid, table)
        table.around = (titles, (*remarks, *said))
    return tables


_T_IS_SHORT = re.compile(
    r"\bT\s*(?:=|is|means|stands for)\s*(?:a\s+|the\s+)?short tons?\b|\bshort tons?\s*\(T\)"
)
_CAPITAL_T = re.compile(r"(?<![A-Za-z])T\s*/|/\s*T(?![A-Za-z])")
_SHORT = {
    "t/h": "short ton/h",
    "t/week": "short ton/week",
    "currency/t": "currency/short ton",
}


def _in_short_tons(part: Part) -> None:
    """Take "T/h" and the like for short tons, where a remark says so."""
    for heading, one in zip(part.table.headings, part.assigned, strict=True):
        unit = _SHORT.get(one.unit or "")
        if unit is not None and not one.mapped and _CAPITAL_T.search(heading.shown):
            one.unit = unit
            one.why.append("a remark says that T is the short ton")


def _doubt_torn_rows(part: Part, grid: Grid, file: str) -> None:
    """Use nothing but the tag of a row of delimited text that has more cells than headings.

    A decimal comma, or a comma in a text, then ended a cell too early, and what follows stands
    under the wrong heading.
    """
    table, tag = part.table, part.fields.get("tag")
    first, last = table.header_rows
    heads = range(first - 1, last)
    most = max(grid.lengths[at] for at in heads)
    beyond = 1 + max(
        column for at in heads for column, value in enumerate(grid.rows[at]) if not is_blank(value)
    )
    lines = [number - 1 for _, number in table.at]
    lengths = [grid.lengths[at] for at in lines]
    usual = max(set(lengths), key=lengths.count, default=0)  # all may end in the same blank ones
    torn = [
        row
        for row, at in enumerate(lines)
        if grid.lengths[at] > most
        and (grid.lengths[at] != usual or not all(map(is_blank, grid.rows[at][beyond:])))
    ]
    problem = "has more cells than there are headings: its delimiter stands inside a value"
    todo = "Put such values in quotation marks, or save the register as xlsx."
    if 2 * len(torn) > len(lines):
        raise UnusableInput(f"{file}, row {lines[torn[0]] + 1} and others", problem, todo)
    for at, column in enumerate(table.columns):
        for row in torn:
            if at != tag and not is_blank(column[row]):
                text = plain_text(column[row])
                column[row] = Fault(text, f"was not used, for its row {problem}", todo)


def _labels_for_tags(part: Part) -> bool:
    """Whether what should be tags are labels: then a line of a form was taken for headings."""
    if "tag" not in part.fields:
        return False
    tags = [value for value in part.table.columns[part.fields["tag"]] if isinstance(value, str)]
    return sum(heading_score(tag) > 0 for tag in tags) > 0.3 * len(part.table)


def _part(table: Table, column_map: ColumnMap | None, said: Sequence[str] = ()) -> Part:
    spell_out(table, said)
    assigned = assign(table, column_map)
    fields = {one.field: at for at, one in enumerate(assigned) if one.field is not None}
    return Part(table, assigned, fields)


def _is_conveyors(part: Part) -> bool:
    return "tag" in part.fields and any(FIELDS[name].group != "Identity" for name in part.fields)


def _could_be_conveyors(part: Part) -> bool:
    """Whether there are tags, and questions that a column map would answer."""
    return "tag" in part.fields and any(
        FIELDS[name].group != "Identity" for one in part.assigned for name in one.candidates
    )


def _lacks_tag(part: Part) -> bool:
    """Whether a table holds data of conveyors, and nothing that tells which."""
    told = sum(FIELDS[name].group != "Identity" for name in part.fields)
    return "tag" not in part.fields and told >= 2


def _headings_in(part: Part) -> str:
    first, last = part.table.header_rows
    return f"headings in row {first}" if first == last else f"headings in rows {first} to {last}"


def _not_used(part: Part) -> Problem:
    """Say that a table is left out for want of a tag column."""
    return Problem(
        part.table.sheet,
        (),
        "tag",
        _headings_in(part),
        "no column holds the conveyors' tags: the whole table was not used",
        "Name its tag column in a column map (columns --save), or head that column 'Tag'.",
    )


def _parts(
    book: Book, column_map: ColumnMap | None, sheet: str | None
) -> tuple[list[Part], list[Part]]:
    """Tables to use, and those that cannot be used for want of a tag."""
    parts = _understood(book, column_map, sheet)
    usable = [part for part in parts if _is_conveyors(part)] or [
        part for part in parts if _could_be_conveyors(part)
    ]
    tagless = [part for part in parts if _lacks_tag(part)]
    if usable:
        return usable, tagless
    for part in tagless:
        raise UnusableInput(
            f"{book.file}, sheet {part.table.sheet}, {_headings_in(part)}",
            "no column holds the conveyors' tags",
            "Head that column 'Tag', or name it in a column map.",
        )
    raise UnusableInput(
        book.file,
        f"no conveyor table was found on {', '.join(grid.sheet for grid in book.grids)}",
        "Give a register with a heading row such as 'Tag, Belt width (mm)', or start from a "
        "blank one (the command 'blank').",
    )


def _main(parts: Sequence[Part]) -> list[int]:
    """Choose the tables whose rows are the register's: the fullest, and those of its kind."""

    def engineering(part: Part) -> set[str]:
        return {name for name in part.fields if FIELDS[name].group != "Identity"}

    def weight(index: int) -> tuple[int, int, int]:
        own = engineering(parts[index])
        belt = sum(FIELDS[name].per_belt for name in own)
        return belt + len(own), len(parts[index].table), -index

    best = max(range(len(parts)), key=weight)
    fields = engineering(parts[best])
    tags = {same_tag_key(tag) for tag in parts[best].tags}
    chosen = [best]
    for index, part in enumerate(parts):
        own = {same_tag_key(tag) for tag in part.tags}
        alike = 2 * len(engineering(part) & fields) >= len(engineering(part) | fields)
        # The same conveyors again are no further load points: perhaps an older survey.
        if index != best and alike and 2 * len(own & tags) < len(own):
            chosen.append(index)
            tags |= own
    return sorted(chosen)


def _drop_untagged(part: Part) -> None:
    """Leave out rows without a tag, and an empty register's example; both are listed."""
    table = part.table
    tag = part.fields["tag"]
    tags = part.values["tag"].values
    left_out = np.flatnonzero((tags == "") | (tags == EXAMPLE_TAG)).tolist()
    if not left_out:
        return
    for row in left_out:
        sheet, number = table.at[row]
        if tags[row]:
            table.skipped.append(Skipped(sheet, number, EXAMPLE_TAG, "an example, no conveyor"))
            continue
        filled = [
            column
            for column, values in enumerate(table.columns)
            if column != tag and not is_blank(values[row])
        ]
        text = plain_text(table.columns[filled[0]][row]) if filled else ""
        table.skipped.append(Skipped(sheet, number, text, "no tag"))
        problems = part.values["tag"].problems
        cause = next((f": its cell {noted.problem}" for noted in problems if noted.row == row), "")
        part.values["tag"].problems = [noted for noted in problems if noted.row != row]
        part.values["tag"].problems.append(
            Noted(
                row,
                text,
                f"the row has no tag and was left out{cause}",
                "Give the conveyor's tag.",
            )
        )
    _keep_problems(part, set(left_out))


def _keep_problems(part: Part, dropped: set[int]) -> None:
    """Turn a part's problems into sheet cells before rows go, then drop the rows."""
    table = part.table
    found = problems_of(part)
    kept = [row for row in range(len(table)) if row not in dropped]
    new = {row: at for at, row in enumerate(kept)}
    index = np.array(kept, np.intp)
    for column in part.values.values():
        column.values = column.values[index]
        if column.positions is not None:
            column.positions = column.positions[index]
        column.intervals = {new[r]: v for r, v in column.intervals.items() if r in new}
        column.approximate = {new[r] for r in column.approximate if r in new}
        column.problems = []
    part.problems = found
    table.columns = [[column[row] for row in kept] for column in table.columns]
    table.cells = {(new[r], c): v for (r, c), v in table.cells.items() if r in new}
    table.carried = {(new[r], c) for r, c in table.carried if r in new}
    table.sections = [table.sections[row] for row in kept] if table.sections else []
    table.at = [table.at[row] for row in kept]


# --- evidence over the whole register --------------------------------------------------------


def _number_texts(parts: Sequence[Part]) -> set[str]:
    """Texts in number columns, for how the register writes numbers."""
    return {
        value
        for part in parts
        for name, index in part.fields.items()
        if FIELDS[name].numeric
        for value in part.table.columns[index]
        if type(value) is str
    }


_METRIC = frozenset({"m", "mm", "cm", "m/s", "m/min", "kN/m", "N/mm", "kN", "kg/m", "t/m³"})
_US = frozenset({"in", "ft", "ft/min", "ft/s", "lbf/in", "lbf", "lb/ft", "lb/ft³"})


_TONS_ARE = re.compile(
    r"\b(?:tph|tons?)\b\s*(?:=|are|is)\s*(?:all\s+)?(?P<kind>short|metric|2000 lb)", re.IGNORECASE
)


def _tons(parts: Sequence[Part], said: Sequence[str]) -> str | None:
    """Tell what a ton is, by a remark or by the other units that headings and cells name."""
    kinds = {"metric" if m["kind"].lower() == "metric" else "short" for m in _told_tons(said)}
    if len(kinds) == 1:
        return "t/h" if kinds == {"metric"} else "short ton/h"
    units = {one.unit for part in parts for one in part.assigned if one.field and one.unit}
    read = (parse_quantity(text) for text in _number_texts(parts))
    units |= {found.unit for found in read if not isinstance(found, str) and found.unit}
    metric, us = units & _METRIC, units & _US
    if us and not metric:
        return "short ton/h"
    return "t/h" if metric and not us else None


def _told_tons(said: Sequence[str]) -> Iterator[re.Match[str]]:
    return (told for text in said for told in _TONS_ARE.finditer(text))
