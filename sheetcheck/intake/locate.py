"""Finding tables on a sheet: which rows are headings, where the body begins and ends.

A heading row is one of words that the vocabulary knows. Group headings stand above it, perhaps a
units row below. The body runs to the next heading row or the end of the sheet; section headings,
totals, repeated headings and footnotes in it are left out and listed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cache

from ..register.register import Skipped
from .evidence import fits, sample, share
from .grid import Area, Fault, Grid, Value, column_letter, is_blank, plain_text
from .headers import is_known_wording, match_header, word_list
from .heading_rows import (
    NUMBER,
    PER,
    heading_score,
    is_group_row,
    is_second_line,
    is_tag_like,
    is_units_row,
    unit_of,
)
from .quantities import parse_unit
from .table import Heading, Table
from .words import is_cell_word

__all__ = ["find_tables"]

_TOTAL = re.compile(
    r"(?:sub|grand)?[\s-]*(?:totals?|gesamt|summe|zwischensumme|total general|"
    r"(?:sum|average|mean|minimum|maximum|mittelwert|suma|promedio|soma|media|moyenne|somme)"
    r"(?![\s_-]*\d))\b",
    re.IGNORECASE,
)
_REMARK = re.compile(
    r"[*(†‡¹²³]|\d+\)|(?:notes?|nb|page|pages|sheet|seite|blatt|página|pagina|hinweis|nota|remarque|"
    r"continued|cont\.?|cont'd|rev\.?|revision|legend|key)\b",
    re.IGNORECASE,
)
_ALL_SIZES = re.compile(
    r"\b(?:all\s+)?(?:dimensions|sizes|lengths|maße|masse|medidas|dimensiones|medidas|cotes)\b"
    r"[^.;]*?\b(?:in|are|en|em|:)\s+(mm|cm|m|in|inches|ft|feet|millimetres|metres|meters)\b",
    re.IGNORECASE,
)
_DEPTH = 4
"""Most rows that the headings of one table take, a units row included."""


@dataclass
class _Block:
    """Zero-based heading rows (group rows, leaf, units row) and columns of one table."""

    top: int
    leaf: int
    units: int | None
    last: int
    columns: list[int]


def find_tables(grid: Grid, known: frozenset[str] = frozenset()) -> list[Table]:
    """Find every table of the sheet that has known headings, in the order of rows.

    Parameters
    ----------
    grid
        The sheet.
    known
        Further texts, in lower case, that are headings here.

    Returns
    -------
    list of Table
        Without a judgement on whether they are about conveyors.
    """
    blocks = _blocks(grid, known)
    tables: list[Table] = []
    for index, block in enumerate(blocks):
        end = blocks[index + 1].top if index + 1 < len(blocks) else len(grid.rows)
        for columns in _beside(grid, block):
            table = _read_body(grid, replace(block, columns=columns), end)
            previous = tables[-1] if tables else None
            if previous and _repeats(previous, table):
                _append(previous, table, block)
            else:
                tables.append(table)
    return [table for table in tables if len(table)]


# --- headings --------------------------------------------------------------------------------


def _row_score(row: list[Value], known: frozenset[str]) -> float:
    """Sum of heading scores, 0 where the row holds numbers or too few words are known."""
    texts: list[str] = []
    for value in row:
        if value is None or value == "":
            continue
        if not isinstance(value, str):
            return 0.0
        if text := value.strip():
            texts.append(text)
    if len(texts) < 2:
        return 0.0
    figures = sum(text.replace(".", "", 1).isdecimal() for text in texts)
    if figures > 0.2 * len(texts) and not known:  # at once: delimited text has no other rows
        return 0.0
    body = sum(_in_body(text) for text in texts if text.casefold() not in known)
    if body > 0.2 * len(texts):
        return 0.0
    plain = dict.fromkeys(" ".join(text.split()) for text in texts)
    score = sum(1.0 if text.casefold() in known else heading_score(text) for text in plain)
    return score if score >= 1.6 and score >= 0.3 * len(texts) else 0.0


@cache
def _in_body(text: str) -> bool:
    """Whether a text is one of the body of a table: a tag, a number, a word of cells."""
    if is_known_wording(text):
        return False
    return bool(NUMBER.match(text)) or is_tag_like(text) or is_cell_word(text)


def _blocks(grid: Grid, known: frozenset[str]) -> list[_Block]:
    scores = {at: score for at, row in enumerate(grid.rows) if (score := _row_score(row, known))}
    blocks: list[_Block] = []
    taken = -1
    for at in scores:
        if at <= taken:
            continue
        leaf = at
        for following in range(at + 1, min(at + 3, len(grid.rows))):
            if scores.get(following, 0) > scores[leaf] or (
                following in scores and _under_groups(grid, leaf, following)
            ):
                leaf = following
        if not _worth(grid, leaf, scores[leaf]):
            continue
        leaf = _lowest(grid, leaf)
        if is_second_line(grid, leaf):
            leaf += 1
        units = leaf + 1 if is_units_row(grid, leaf + 1) else None
        last = units if units is not None else leaf
        top = leaf
        while top - 1 > taken and leaf - top < _DEPTH - 2 and is_group_row(grid, top - 1, leaf):
            top -= 1
        columns = [
            column
            for column in range(grid.width)
            if any(not is_blank(grid.rows[row][column]) for row in range(top, leaf + 1))
        ]
        blocks.append(_Block(top, leaf, units, last, columns))
        taken = last
    return blocks


def _worth(grid: Grid, leaf: int, score: float) -> bool:
    filled = sum(not is_blank(value) for value in grid.rows[leaf])
    return score >= 2.2 or filled <= 4


def _under_groups(grid: Grid, upper: int, lower: int) -> bool:
    """Whether headings stand in both rows because the upper one holds groups."""
    return any(
        area.top == upper and area.right > area.left and area.bottom < lower
        for area in grid.merged
        if area.top <= upper <= area.bottom
    )


def _lowest(grid: Grid, leaf: int) -> int:
    """Row in which the headings end, where the row found holds groups or tall headings."""
    below = leaf + 1
    if below >= len(grid.rows) or any(
        not is_blank(value) and not isinstance(value, str) for value in grid.rows[below]
    ):
        return leaf
    areas = [
        area
        for area in grid.merged
        if area.top <= leaf <= area.bottom and not is_blank(grid.rows[area.top][area.left])
    ]
    if any(area.bottom == below for area in areas):
        return below
    under = [
        sum(not is_blank(grid.rows[below][column]) for column in range(area.left, area.right + 1))
        for area in areas
        if area.right > area.left and area.right < grid.width
    ]
    known = any(heading_score(plain_text(value)) for value in grid.rows[below])
    return below if known and any(count >= 2 for count in under) else leaf


def _headings(grid: Grid, block: _Block) -> list[Heading]:
    """Headings of a block's columns, group texts spread over the columns they span."""
    rows: list[list[str]] = []
    for at in range(block.top, block.leaf + 1):
        texts = [plain_text(value) for value in grid.rows[at]]
        spread = list(texts)
        areas = [area for area in grid.merged if area.top <= at <= area.bottom]
        for area in areas:
            text = plain_text(grid.rows[area.top][area.left])
            for column in range(area.left, min(area.right + 1, grid.width)):
                if at > area.top and area.left == area.right:
                    spread[column] = ""  # a tall heading is told once
                else:
                    spread[column] = text
        wide = any(area.right > area.left for area in areas)
        if at < block.leaf and not wide:
            _fill_right(spread, _below(grid, at, areas))
        rows.append(spread)
    headings = []
    for column in block.columns:
        parts = [row[column] for row in rows if row[column]]
        parts = list(dict.fromkeys(parts))
        unit = "" if block.units is None else plain_text(grid.rows[block.units][column])
        if not unit and len(parts) > 1 and (unit_of(parts[-1]) or PER.fullmatch(parts[-1])):
            unit = parts.pop()
        text = parts[-1] if parts else ""
        shown = " | ".join([*parts, unit] if unit else parts)
        headings.append(
            Heading(
                text,
                " ".join(parts[:-1]),
                unit,
                column_letter(column),
                shown,
                column in grid.hidden_columns,
            )
        )
    return headings


def _below(grid: Grid, at: int, areas: list[Area]) -> list[str]:
    """Texts under a row of headings; none where a tall heading stands, which has no group."""
    below = [plain_text(value) for value in grid.rows[at + 1]]
    for area in areas:
        below[area.left] = ""
    return below


def _fill_right(texts: list[str], below: list[str]) -> None:
    """Spread group headings that were not merged to the right, over columns with a heading."""
    current = ""
    for column, text in enumerate(texts):
        if text:
            current = text if below[column] else ""
        elif below[column]:
            texts[column] = current
        else:
            current = ""


def _beside(grid: Grid, block: _Block) -> list[list[int]]:
    """Split a block into tables that stand side by side, each with a tag column of its own."""
    runs: list[list[int]] = []
    for column in block.columns:
        if runs and column == runs[-1][-1] + 1:
            runs[-1].append(column)
        else:
            runs.append([column])
    if len(runs) == 1:
        return runs
    tagged = [any(_holds_tags(grid, block, column) for column in run) for run in runs]
    if sum(tagged) < 2:
        return [block.columns]
    joined: list[list[int]] = []
    for run, own in zip(runs, tagged, strict=True):
        if own or not joined:
            joined.append(list(run))
        else:
            joined[-1] += run
    return joined


def _holds_tags(grid: Grid, block: _Block, column: int) -> bool:
    """Whether a column is headed as one of tags: "Belt" may also head what belts are made of."""
    match = match_header(plain_text(grid.rows[block.leaf][column]))
    if match.field == "tag" or "tag" not in match.candidates:
        return match.field == "tag"
    cells = sample([row[column] for row in grid.rows[block.last + 1 :]])
    return share(cells, fits("tag")) >= 0.5


# --- the body --------------------------------------------------------------------------------


def _repeats(previous: Table, table: Table) -> bool:
    return [word_list(h.shown) for h in previous.headings] == [
        word_list(h.shown) for h in table.headings
    ] and [h.place for h in previous.headings] == [h.place for h in table.headings]


def _append(previous: Table, table: Table, block: _Block) -> None:
    """Add a part that stands under a repeated heading."""
    previous.skipped.append(
        Skipped(table.sheet, block.leaf + 1, table.headings[0].shown, "repeated heading")
    )
    offset = len(previous)
    for column, more in zip(previous.columns, table.columns, strict=True):
        column.extend(more)
    last = previous.sections[-1] if previous.sections else ("", "")
    previous.sections += [own if own[0] else last for own in table.sections]
    previous.carried |= {(row + offset, column) for row, column in table.carried}
    previous.hidden_rows |= table.hidden_rows
    previous.at += table.at
    previous.skipped += table.skipped


def _tag_column(headings: list[Heading]) -> int:
    """Column that rows are told by: the tag's if one is known, else the first."""
    ranked = sorted(
        (0 if match.field == "tag" else 1, index)
        for index, heading in enumerate(headings)
        for match in [match_header(heading.text, heading.group)]
        if match.field == "tag" or "tag" in match.candidates
    )
    return ranked[0][1] if ranked else 0


def _read_body(grid: Grid, block: _Block, end: int) -> Table:
    headings = _headings(grid, block)
    table = Table(grid.sheet, headings, [], [])
    table.header_rows = (block.top + 1, block.last + 1)
    table.heading_line = block.leaf + 1
    table.hidden = grid.hidden
    table.note_unit = _note_unit(grid, block.top)
    tag = _tag_column(headings)
    lone: list[int] = []
    kept: list[int] = []
    left, right = block.columns[0], block.columns[-1] + 1
    first = headings[0].text.casefold()
    for at in range(block.last + 1, end):
        row = grid.rows[at]
        blank = row[left:right].count("")
        if right - left - blank < 4:
            filled = [column for column in block.columns if not is_blank(row[column])]
            if not filled:
                continue
            if len(filled) == 1 and isinstance(row[filled[0]], str) and not _tall(grid, at, block):
                lone.append(at)
                continue
        reason = _no_conveyor(grid, block, at, tag, headings, first, not kept)
        if reason:
            text = plain_text(row[_first(row)])
            table.skipped.append(Skipped(grid.sheet, at + 1, text, reason))
        else:
            kept.append(at)
    kept = _sort_lone(grid, block, table, lone, kept, block.columns[tag])
    rows = [grid.rows[at] for at in kept]
    table.columns = [[row[column] for row in rows] for column in block.columns]
    table.at = [(grid.sheet, at + 1) for at in kept]
    table.hidden_rows = {at + 1 for at in kept if at in grid.hidden_rows}
    _carry(grid, block, kept, table)
    table.skipped.sort(key=lambda skipped: skipped.row)
    return table


def _no_conveyor(
    grid: Grid,
    block: _Block,
    at: int,
    tag: int,
    headings: list[Heading],
    first: str,
    at_start: bool,
) -> str:
    """Why a row of several cells is no conveyor; empty where it is one."""
    row = grid.rows[at]
    leading = next((row[column] for column in block.columns if not is_blank(row[column])), None)
    for value in (leading, row[block.columns[tag]]):
        if isinstance(value, str) and _TOTAL.match(value.strip()):
            return "total"
    start = row[block.columns[0]]
    if isinstance(start, str) and start.strip().casefold() == first:
        texts = [row[column] for column in block.columns]
        if _is_repeated(texts, headings):
            return "repeated heading"
    if at_start and block.units is None and is_units_row(grid, at):
        return "units"
    return ""


def _sort_lone(
    grid: Grid, block: _Block, table: Table, lone: list[int], kept: list[int], tag: int
) -> list[int]:
    """Tell rows of a single cell: a section heading, a note, or a conveyor with only a tag."""
    if not lone:
        table.sections = [("", "")] * len(kept)
        return kept
    kinds = {_kind_of_tag(grid.rows[at][tag]) for at in kept}
    kinds.discard(None)
    rows = set(kept)
    section = ("", "")
    sections: dict[int, tuple[str, str]] = {}
    last = max(kept, default=-1)
    for at in sorted({*lone, *kept}):
        if at in rows:
            sections[at] = section
            continue
        row = grid.rows[at]
        column = _first(row)
        text = plain_text(row[column])
        wide = (at, column) in grid.area_at
        if column == tag and not wide and _kind_of_tag(row[tag]) in kinds:
            rows.add(at)
            sections[at] = section
        elif at < last and _is_section(text) and (wide or column in (tag, block.columns[0])):
            section = (text, f"{column_letter(column)}{at + 1}")
            table.skipped.append(Skipped(grid.sheet, at + 1, text, "section heading"))
        else:
            table.skipped.append(Skipped(grid.sheet, at + 1, text, "note"))
    order = sorted(rows)
    table.sections = [sections[at] for at in order]
    return order


def _is_section(text: str) -> bool:
    """Whether a line between conveyors heads those below it: no page number, no remark."""
    return len(text) <= 60 and not _REMARK.match(text)


def _kind_of_tag(value: Value) -> tuple[str, str] | None:
    """Leading letters of a tag and its pattern of letters and digits."""
    if not isinstance(value, str) or not re.search(r"\d", value):
        return None
    bare = re.sub(r"[\s\-_./–]+", "", value).casefold()
    prefix = re.match(r"[^\d]*", bare)
    return (prefix[0] if prefix else ""), re.sub(r"\d+", "9", re.sub(r"[^\W\d]+", "a", bare))


def _first(row: list[Value]) -> int:
    return next(column for column, value in enumerate(row) if not is_blank(value))


def _tall(grid: Grid, at: int, block: _Block) -> bool:
    """Whether a row of one value continues cells merged from the row above."""
    return bool(grid.merged) and any(
        area.top < at <= area.bottom
        for column in block.columns
        if (area := grid.area_at.get((at, column))) is not None
    )


_DITTO = frozenset(
    {'"', "''", "”", "〃", "do", "do.", "Do", "Do.", "ditto", "Ditto", "DITTO", "dito", "Dito"}
    | {"idem", "Idem", "id.", '-"-', '–"–'}
)


def _carry(grid: Grid, block: _Block, kept: list[int], table: Table) -> None:
    """Fill cells from tall merged cells and ditto marks."""
    dittos = not all(_DITTO.isdisjoint(grid.rows[at]) for at in kept)
    if not grid.merged and not dittos:
        return
    for index, (column, values) in enumerate(zip(block.columns, table.columns, strict=True)):
        tall = {
            row: area.top
            for area in grid.merged
            if area.left == column and area.bottom > area.top
            for row in range(area.top + 1, area.bottom + 1)
        }
        if not tall and not dittos:
            continue
        for row, (at, value) in enumerate(zip(kept, values, strict=True)):
            if is_blank(value) and at in tall:
                values[row] = grid.rows[tall[at]][column]
                table.carried.add((row, index))
            elif isinstance(value, str) and value.strip() in _DITTO:
                if row and not is_blank(values[row - 1]):
                    values[row] = values[row - 1]
                    table.carried.add((row, index))
                else:
                    values[row] = Fault(
                        value, "is a ditto mark with nothing above it", "Type the value."
                    )


def _is_repeated(values: list[Value], headings: list[Heading]) -> bool:
    pairs = [
        (word_list(value), word_list(heading.text))
        for value, heading in zip(values, headings, strict=True)
        if isinstance(value, str) and value.strip()
    ]
    same = sum(one == other for one, other in pairs)
    return same >= 2 and same >= 0.6 * len(pairs)


def _note_unit(grid: Grid, top: int) -> str | None:
    """Unit of length that a line above the table gives for all its sizes."""
    for row in grid.rows[max(0, top - 12) : top]:
        for value in row:
            if isinstance(value, str) and (found := _ALL_SIZES.search(value)):
                return parse_unit(found[1])
    return None
