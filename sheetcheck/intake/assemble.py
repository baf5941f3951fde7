"""Tables understood and joined to one register: values, cells, problems."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from typing import Any

import numpy as np

from ..register.fields import FIELDS
from ..register.register import (
    Cells,
    Column,
    Problem,
    Register,
    Source,
    TableSource,
    cell_reference,
    same_tag_key,
)
from .converted import Column as Converted
from .converted import Noted
from .grid import column_letter, plain_text
from .join import Joined, Part, reference
from .quantities import TONS
from .table import Heading, Table
from .workbook import Book

__all__ = ["assemble", "columns_of", "problems_of"]

_TODO_COLUMN = "Say which in a column map (columns --save), or write a plainer heading."


def columns_of(part: Part, tons: str | None) -> list[Column]:
    """Tell how each column of a table was understood; `tons` is what a ton is taken for."""
    columns = []
    for heading, one in zip(part.table.headings, part.assigned, strict=True):
        why = list(one.why)
        unit = one.unit
        if one.field is not None:
            if unit == TONS:
                unit = tons or "t/h"
                why.append(
                    f"tons taken for {tons} by the other units or a remark"
                    if tons
                    else "tons may be short or metric"
                )
            column = part.values.get(one.field)
            if column is not None and column.placeholders:
                why.append(f"{column.placeholders} cells say that the value is not known")
        if one.question:
            why.append("question: " + one.question)
        columns.append(
            Column(
                part.table.sheet,
                heading.place,
                heading.shown,
                one.field,
                unit if one.field is not None else None,
                round(one.confidence, 2),
                "; ".join(why),
                asked=one.field is None and bool(one.question),
                cell=_cell_of(part.table, heading),
            )
        )
    return columns


def problems_of(part: Part) -> list[Problem]:
    """Turn the problems of a part's columns into problems of sheet cells."""
    table = part.table
    found: list[Problem] = []
    for name, index in part.fields.items():
        # Cells of a column that say the same, or of which the same is to be said, are one problem.
        together: dict[tuple[str, str, str, str, bool], list[Noted]] = {}
        for noted in part.values[name].problems:
            sheet, text = table.sheet_of(noted.row, index), "" if noted.whole else noted.text
            key = (sheet, text, noted.problem, noted.what_to_do, noted.used)
            together.setdefault(key, []).append(noted)
        for (sheet, text, problem, todo, used), several in together.items():
            found.append(
                Problem(
                    sheet,
                    tuple(table.cell(noted.row, index) for noted in several),
                    name,
                    text or ", ".join(dict.fromkeys(noted.text for noted in several[:3])),
                    problem,
                    todo,
                    used,
                )
            )
    return found


def _cell_of(table: Table, heading: Heading) -> str:
    """Cell in which a heading stands."""
    if table.kind == "table":
        return f"{heading.place}{table.heading_line}"
    if table.kind == "sideways":
        return f"{column_letter(table.heading_line - 1)}{heading.place}"
    return heading.place


def _asked(part: Part) -> list[Problem]:
    """Columns that are a question, as problems."""
    table = part.table
    found = []
    for heading, one in zip(table.headings, part.assigned, strict=True):
        if one.question and one.field is None:
            name = one.candidates[0] if len(one.candidates) == 1 else None
            found.append(
                Problem(
                    table.sheet,
                    (_cell_of(table, heading),),
                    name,
                    heading.shown,
                    f"the column was not used: {one.question}",
                    _TODO_COLUMN,
                )
            )
    return found


def _hidden(part: Part) -> list[Problem]:
    found = []
    rows = sorted(part.table.hidden_rows)
    place = part.table.headings[part.fields["tag"]].place
    if part.table.hidden:
        found.append(
            Problem(
                part.table.sheet,
                (),
                None,
                part.table.sheet,
                "the sheet is hidden; it was read like any other",
                "Unhide it to look at it, or name the sheet to read.",
                True,
            )
        )
    if rows:
        found.append(
            Problem(
                part.table.sheet,
                tuple(f"{place}{row}" for row in rows),
                None,
                f"{len(rows)} hidden row" + ("s" if len(rows) > 1 else ""),
                "hidden rows were read like any other",
                "Unhide them to look at them, or delete what no longer exists.",
                True,
            )
        )
    return found


def _blank_column(name: str, size: int) -> np.ndarray[Any, Any]:
    if FIELDS[name].kind in ("text", "choice"):
        return np.full(size, "", dtype="<U1")
    return np.full(size, np.nan)


def assemble(book: Book, parts: Sequence[Part], joined: Joined, tons: str | None) -> Register:
    """Put tables together.

    Parameters
    ----------
    book
        The source.
    parts
        Its tables, converted.
    joined
        Which of their rows make up each register row.
    tons
        What a ton is taken for.

    Returns
    -------
    Register
        Without derived values.
    """
    rows = joined.rows
    size = len(rows)
    index_of = np.full((len(parts), size), -1, np.intp)
    for at, pairs in enumerate(rows):
        for part_index, row in pairs:
            index_of[part_index, at] = row
    sources, index_in = _sources(parts)
    cells = Cells(
        sources,
        [
            [(index_in[index, parts[index].table.at[row][0]], parts[index].table.at[row][1])
             for index, row in pairs]
            for pairs in rows
        ],
    )  # fmt: skip
    register = Register(
        {},
        cells,
        [column for part in parts for column in columns_of(part, tons)],
        list(
            chain.from_iterable(
                [
                    *_asked(part),
                    *_hidden(part),
                    *(problems_of(part) if part.problems is None else part.problems),
                ]
                for part in parts
            )
        )
        + joined.problems,
        [skipped for part in parts for skipped in part.table.skipped],
        Source(
            book.path,
            book.file,
            book.sha256,
            book.sheets,
            tuple(dict.fromkeys(sheet for part in parts for sheet, _ in part.table.at)),
        ),
    )
    order = _order(parts, rows)
    names = [name for name in FIELDS if any(name in part.fields for part in parts)]
    for name in names:
        _fill(register, parts, index_of, order, name)
    _exact_cells(register, parts, rows)
    _carried(register, parts, rows)
    _areas(register, parts, rows)
    _number_load_points(register)
    return register


def _sources(parts: Sequence[Part]) -> tuple[list[TableSource], dict[tuple[int, str], int]]:
    """Source tables, one for each part and sheet, and where each stands in the list.

    Columns are named where column letter × row number is the cell of a value.
    """
    sources: list[TableSource] = []
    index_in: dict[tuple[int, str], int] = {}
    for index, part in enumerate(parts):
        upright = part.table.kind == "table"
        letters = {name: part.table.headings[at].place for name, at in part.fields.items()}
        for sheet in dict.fromkeys(sheet for sheet, _ in part.table.at):
            index_in[index, sheet] = len(sources)
            sources.append(TableSource(sheet, letters if upright else {}))
    return sources, index_in


def _order(parts: Sequence[Part], rows: list[list[tuple[int, int]]]) -> list[int]:
    """Parts in the order in which they may give a value: main tables first."""
    first = {pairs[0][0] for pairs in rows}
    return sorted(range(len(parts)), key=lambda index: (index not in first, index))


def _is_missing(values: np.ndarray[Any, Any]) -> np.ndarray[Any, np.dtype[np.bool_]]:
    return np.asarray(values == "" if values.dtype.kind == "U" else np.isnan(values), bool)


def _fill(
    register: Register,
    parts: Sequence[Part],
    index_of: np.ndarray[Any, np.dtype[np.intp]],
    order: Sequence[int],
    name: str,
) -> None:
    """Put one field's columns together; an earlier table goes before a later one."""
    size = index_of.shape[1]
    result: np.ndarray[Any, Any] | None = None
    positions: np.ndarray[Any, Any] | None = None
    taken = np.zeros(size, bool)
    for index in order:
        column = parts[index].values.get(name)
        if column is None:
            continue
        rows = np.flatnonzero(index_of[index] >= 0)
        source = index_of[index][rows]
        values = column.values[source]
        given = ~_is_missing(values)
        words = None if column.positions is None else column.positions[source]
        if words is not None:
            given |= words != ""
        if column.intervals:
            given |= np.isin(source, list(column.intervals))
        _compare(register, parts, name, rows[given & taken[rows]], index_of, index)
        take = given & ~taken[rows]
        target = rows[take]
        if result is None:
            result = _blank_column(name, size)
        if result.dtype.kind == "U" and values.dtype.itemsize > result.dtype.itemsize:
            result = result.astype(values.dtype)
        result[target] = values[take]
        if words is not None:
            if positions is None:
                positions = np.full(size, "", dtype="<U11")
            positions[target] = words[take]
        if column.intervals or column.approximate or len(order) > 1:
            for at, row in zip(target.tolist(), source[take].tolist(), strict=True):
                if row in column.intervals:
                    register.intervals[at, name] = column.intervals[row]
                if row in column.approximate:
                    register.approximate.add((at, name))
                if len(order) > 1:
                    _point(register, parts[index], at, row, name)
        taken[target] = True
    assert result is not None
    register.values[name] = result
    if positions is not None:
        register.positions[name] = positions


def _point(register: Register, part: Part, at: int, row: int, name: str) -> None:
    """Note the source cell of a value where the plain rule gives another."""
    own = reference(part, row, part.fields[name])
    if register.cells.address(at, name) != own:
        register.cells.exceptions[at, name] = own


def _compare(
    register: Register,
    parts: Sequence[Part],
    name: str,
    rows: np.ndarray[Any, np.dtype[np.intp]],
    index_of: np.ndarray[Any, np.dtype[np.intp]],
    later: int,
) -> None:
    """Report values of a further table that disagree with the ones already taken."""
    if FIELDS[name].kind == "text":
        return
    for at in rows.tolist():
        column, row = parts[later].values[name], int(index_of[later][at])
        for earlier in range(len(parts)):
            before = parts[earlier].values.get(name)
            source = int(index_of[earlier][at])
            if earlier == later or before is None or source < 0:
                continue
            one, other = _single(before, source), _single(column, row)
            if one is None or other is None or _agree(one, other):
                continue
            first, second = parts[earlier], parts[later]
            register.problems.append(
                Problem(
                    first.table.sheet_of(source, first.fields[name]),
                    (
                        first.table.cell(source, first.fields[name]),
                        reference(second, row, second.fields[name]),
                    ),
                    name,
                    f"{plain_text(first.table.columns[first.fields[name]][source])} and "
                    f"{plain_text(second.table.columns[second.fields[name]][row])}",
                    f"two sheets disagree about {FIELDS[name].meaning}; the first was used",
                    "Correct whichever is wrong.",
                    True,
                )
            )
            break


def _single(column: Converted, row: int) -> object:
    if row in column.intervals:
        return column.intervals[row]
    if column.positions is not None and column.positions[row]:
        return str(column.positions[row])
    value = column.values[row]
    if column.values.dtype.kind == "U":
        return str(value) or None
    return None if np.isnan(value) else float(value)


def _agree(one: object, other: object) -> bool:
    """Whether two values are the same, rounding (1 %) aside."""
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= 0.01 * max(abs(one), abs(other))
    return one == other


def _exact_cells(
    register: Register, parts: Sequence[Part], rows: list[list[tuple[int, int]]]
) -> None:
    """Note cells of sideways tables and forms, where column × row is not the address."""
    for at, pairs in enumerate(rows):
        for index, row in reversed(pairs):
            part = parts[index]
            if part.table.kind == "table":
                continue
            for name, column in part.fields.items():
                if (at, name) not in register.cells.exceptions or index == pairs[0][0]:
                    register.cells.exceptions[at, name] = reference(part, row, column)


def _carried(register: Register, parts: Sequence[Part], rows: list[list[tuple[int, int]]]) -> None:
    fields = [{at: name for name, at in part.fields.items()} for part in parts]
    wanted = [part.table.carried for part in parts]
    if not any(wanted):
        return
    for at, pairs in enumerate(rows):
        for index, row in pairs:
            for column, name in fields[index].items():
                if (row, column) in wanted[index] and register.value(at, name) is not None:
                    register.derived.setdefault(
                        (at, name), "carried down from the cell above (merged or ditto)"
                    )


def _areas(register: Register, parts: Sequence[Part], rows: list[list[tuple[int, int]]]) -> None:
    """Take section headings as the area of the rows under them, where no column gives it."""
    texts = [""] * len(rows)
    for at, pairs in enumerate(rows):
        index, row = pairs[0]
        sections = parts[index].table.sections
        if sections and sections[row][0] and register.value(at, "area") is None:
            texts[at] = sections[row][0]
            sheet = parts[index].table.sheet
            register.cells.exceptions[at, "area"] = cell_reference(sheet, sections[row][1])
    if not any(texts):
        return
    own = register.values.get("area")
    merged = [text or ("" if own is None else str(own[at])) for at, text in enumerate(texts)]
    register.values["area"] = np.array(merged, dtype=np.str_)


def _number_load_points(register: Register) -> None:
    """Name unnamed further load points of a conveyor 2, 3 and so on."""
    seen: dict[str, int] = {}
    names: list[str] = []
    given = register.values.get("load_point")
    for at, tag in enumerate(register.values["tag"].tolist()):
        key = same_tag_key(tag)
        seen[key] = seen.get(key, 0) + 1
        own = "" if given is None else str(given[at])
        names.append(own or ("" if seen[key] == 1 else str(seen[key])))
    if given is not None or any(names):
        register.values["load_point"] = np.array(names, dtype=np.str_)
