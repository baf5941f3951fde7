"""Sheets that are not upright tables: registers on their side, and one form per conveyor.

A sideways register has its headings down the left and one conveyor per column. A form has pairs
of label and value, perhaps several pairs across, with the unit in a cell beside the value; forms
of the same kind, one per sheet or one below the other, become one table.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from ..register.register import Skipped
from .grid import Grid, Shown, Value, column_letter, is_blank, plain_text
from .headers import match_header, word_list
from .heading_rows import heading_score
from .locate import find_tables
from .quantities import parse_unit
from .table import Heading, Table
from .tags import is_account, names_conveyor

__all__ = ["find_forms", "looks_like_tag"]

_TAG = re.compile(r"(?=.*\d)\w[\w .\-/–()]{0,23}\Z")
_NUMBERED = re.compile(r"(?:\d{1,2}|[A-Z])[.)]\s+(?=\S)")
_LONGEST_GROUP = 40
"""Characters beyond which a line is a title or a remark, and no group of what follows."""
_TITLE = re.compile(r"(?:belt\s+)?conveyor|gurtförderer|transportador|correia|convoyeur", re.I)


def looks_like_tag(value: Value) -> bool:
    """Whether a cell could be a conveyor's tag: short, with a digit, not a heading."""
    if isinstance(value, float):
        return value.is_integer()
    return isinstance(value, str) and bool(_TAG.match(value.strip())) and not _label(value)


def find_forms(grids: Sequence[Grid]) -> list[Table]:
    """Find sideways registers and forms.

    Parameters
    ----------
    grids
        Sheets that hold no upright table of conveyors.

    Returns
    -------
    list of Table
        One per sideways register, and one for all forms together.
    """
    tables: list[Table] = []
    forms: list[_Form] = []
    of_forms: list[tuple[Grid, list[int]]] = []
    for grid in grids:
        labels = _label_columns(grid)
        # Words in the cells of a sideways register may look like labels of further columns.
        if (table := _sideways(grid, 2 if len(labels) <= 1 else 3)) is not None:
            tables.append(table)
        elif labels:
            of_forms.append((grid, labels))
    answered = frozenset[tuple[str, ...]]().union(*(_answered(*one) for one in of_forms))
    for grid, labels in of_forms:
        forms += _forms(grid, labels, answered)
    # Beside forms that name their conveyor, one that does not is about something else.
    if forms := [form for form in forms if _tag_rows(form)] or forms:
        tables.append(_one_table(forms))
    return tables


def _label(value: Value) -> bool:
    """Whether a cell is a label of the kind that stands beside a value."""
    if not isinstance(value, str) or not value.strip():
        return False
    text = " ".join(value.split())
    return heading_score(text.rstrip(" :=")) > 0 or (text.endswith(":") and len(text) <= 60)


# --- sideways --------------------------------------------------------------------------------


def _sideways(grid: Grid, least: int) -> Table | None:
    """Read a register on its side that has so many tags or more; None where there is none."""
    turned = grid.turned()
    for table in find_tables(turned):
        tag = next(
            (
                index
                for index, heading in enumerate(table.headings)
                if match_header(heading.text, heading.group).field == "tag"
                or "tag" in match_header(heading.text, heading.group).candidates
            ),
            None,
        )
        if tag is None:
            continue
        tags = [value for value in table.columns[tag] if not is_blank(value)]
        if sum(map(looks_like_tag, tags)) >= least and (least < 3 or not any(map(_label, tags))):
            return _upright(grid, table, tag)
    return None


def _index(letters: str) -> int:
    index = 0
    for letter in letters:
        index = index * 26 + ord(letter) - 64
    return index - 1


def _upright(grid: Grid, table: Table, tag: int) -> Table:
    """Give a table found on the turned sheet the addresses of the real one."""
    kept = [row for row, value in enumerate(table.columns[tag]) if not _label(value)]
    rows = [_index(heading.place) + 1 for heading in table.headings]
    columns = [table.at[row][1] - 1 for row in kept]
    result = Table(grid.sheet, [], [], [(grid.sheet, rows[tag]) for _ in kept], kind="sideways")
    group = ""
    for index, heading in enumerate(table.headings):
        values = [table.columns[index][row] for row in kept]
        blank = all(map(is_blank, values))
        titled = heading.text.isupper() or match_header(heading.text).field is None
        if blank and not heading.unit_text and titled:
            apart = index + 1 < len(rows) and rows[index + 1] > rows[index] + 1
            remark = apart or "=" in heading.text or len(heading.text) > _LONGEST_GROUP
            # Above the tags stands what is said of the whole register: its title, its date.
            group = "" if remark or index < tag else heading.text
            continue
        whole = " ".join(dict.fromkeys(part for part in (group, heading.group) if part))
        shown = heading.shown if not group else f"{group} | {heading.shown}"
        place = len(result.headings)
        result.headings.append(replace(heading, group=whole, place=str(rows[index]), shown=shown))
        result.columns.append(values)
        for at, column in enumerate(columns):
            result.cells[at, place] = (grid.sheet, f"{column_letter(column)}{rows[index]}")
        result.carried |= {
            (at, place) for at, row in enumerate(kept) if (row, index) in table.carried
        }
    result.header_rows = (min(rows), max(rows))
    result.heading_line = table.heading_line
    result.hidden = grid.hidden
    result.sections = [(text, _turn(cell)) for text, cell in (table.sections[row] for row in kept)]
    result.skipped = [
        Skipped(grid.sheet, rows[tag], skipped.text, f"column {column_letter(skipped.row - 1)}: "
                + skipped.reason)
        for skipped in table.skipped
    ] + [
        Skipped(grid.sheet, rows[tag], plain_text(value), "a label, no tag")
        for value in table.columns[tag]
        if _label(value)
    ]  # fmt: skip
    result.note_unit = table.note_unit
    return result


def _turn(cell: str) -> str:
    match = re.fullmatch(r"([A-Z]+)(\d+)", cell)
    return "" if match is None else f"{column_letter(int(match[2]) - 1)}{_index(match[1]) + 1}"


# --- forms -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Pair:
    group: str
    label: str
    value: Value
    unit: str
    sheet: str
    cell: str
    row: int


_Form = list[_Pair]


def _label_columns(grid: Grid) -> list[int]:
    """Columns that hold at least three labels, and more labels than other texts."""
    columns = []
    for column in range(grid.width):
        texts = [row[column] for row in grid.rows if isinstance(row[column], str)]
        texts = [text for text in texts if not is_blank(text)]
        labels = sum(map(_label, texts))
        if labels >= 3 and 2 * labels >= len(texts):
            columns.append(column)
    return columns


def _answered(grid: Grid, labels: list[int]) -> set[tuple[str, ...]]:
    """Labels of a sheet that have a value beside them."""
    return {
        word_list(str(row[column]))
        for row in grid.rows
        for column, right in pairwise([*labels, grid.width])
        if isinstance(row[column], str) and not all(map(is_blank, row[column + 1 : right]))
    }


def _forms(grid: Grid, labels: list[int], answered: frozenset[tuple[str, ...]]) -> list[_Form]:
    """Read the pairs of a sheet, and part them where a further tag begins a further form.

    What is blank here and `answered` on another form is a label, and no group of what follows.
    """
    pairs: list[_Pair] = []
    bounds = [*labels, grid.width]
    groups = dict.fromkeys(labels, "")
    for at, row in enumerate(grid.rows):
        alone = sum(not is_blank(value) for value in row) == 1
        for column, right in pairwise(bounds):
            text = row[column]
            if not isinstance(text, str) or is_blank(text):
                continue
            label = " ".join(text.split()).rstrip(" :=")
            cells = [(p, row[p]) for p in range(column + 1, right) if not is_blank(row[p])]
            titled = alone and (_NUMBERED.match(label) or label.isupper())
            heads = titled or not (_holds_field(label) or word_list(text) in answered)
            if not cells and heads:
                label = _NUMBERED.sub("", label)
                group = "" if _TITLE.match(label) else label
                groups |= dict.fromkeys(labels, group) if alone else {column: group}
                continue
            pairs.append(_pair(grid.sheet, at, column, groups[column], label, cells))
    starts = _tag_rows(pairs)
    if len(starts) <= 1:
        return [pairs] if len(pairs) >= 3 else []
    ends = [0, *starts[1:], len(grid.rows) + 1]
    parted = [[pair for pair in pairs if low <= pair.row < high] for low, high in pairwise(ends)]
    # Beside other forms, a tag with a single value under it is one too.
    return [form for form in parted if len(form) >= 2]


def _tag_rows(pairs: _Form) -> list[int]:
    """Rows with the label of a tag: of several such labels the first, where it comes again."""
    tags = [pair for pair in pairs if match_header(pair.label, pair.group).field == "tag"]
    return sorted({pair.row for pair in tags if word_list(pair.label) == word_list(tags[0].label)})


def _pair(
    sheet: str, at: int, column: int, group: str, label: str, cells: list[tuple[int, Value]]
) -> _Pair:
    """Tell the value from the unit among the cells beside a label."""
    units = [
        place for place, value in cells if isinstance(value, str) and parse_unit(value) is not None
    ]
    values = [(place, value) for place, value in cells if place not in units[:1]]
    place, value = values[0] if values else (column + 1, None)
    unit = plain_text(dict(cells)[units[0]]) if units else ""
    return _Pair(group, label, value, unit, sheet, f"{column_letter(place)}{at + 1}", at + 1)


def _holds_field(label: str) -> bool:
    return match_header(label).field is not None


_Key = tuple[tuple[str, ...], tuple[str, ...], int]


def _one_table(forms: list[_Form]) -> Table:
    """Put forms together: one row each, one column for each label under the same group."""
    keyed: list[dict[_Key, _Pair]] = []
    for form in forms:
        seen: dict[_Key, _Pair] = {}
        for pair in form:
            count = 0
            while (key := (word_list(pair.group), word_list(pair.label), count)) in seen:
                count += 1
            seen[key] = pair
        keyed.append(seen)
    table = Table(forms[0][0].sheet, [], [], [], kind="form")
    for key in dict.fromkeys(key for form in keyed for key in form):
        pairs = [form.get(key) for form in keyed]
        given = [pair for pair in pairs if pair is not None]
        units = {pair.unit for pair in given if not is_blank(pair.value)}
        same = units.pop() if len(units) == 1 else ""
        first = given[0]
        parts = [part for part in (first.group, first.label, same) if part]
        index = len(table.headings)
        table.headings.append(
            Heading(first.label, first.group, same, first.cell, " | ".join(parts))
        )
        table.columns.append([None if pair is None else _with_unit(pair, same) for pair in pairs])
        for row, own in enumerate(pairs):
            where = own if own is not None else forms[row][0]
            table.cells[row, index] = (where.sheet, where.cell)
    _add_tags(table, forms)
    tag = _tag_at(table)
    for row, form in enumerate(forms):
        cell = table.cells[row, tag][1]
        number = re.sub(r"\D", "", cell)
        table.at.append((form[0].sheet, int(number or 1)))
    rows = [pair.row for pair in forms[0]]
    table.header_rows = (min(rows), max(rows))
    return table


def _tag_at(table: Table) -> int:
    """Index of the label that tells the forms apart; the first where none does."""
    matches = [match_header(heading.text, heading.group) for heading in table.headings]
    could = [
        at
        for at, match in enumerate(matches)
        if (match.field == "tag" or "tag" in match.candidates)
        and not is_account(table.headings[at].text)
    ]
    named = [
        at
        for at in could
        if names_conveyor(table.headings[at].text) and all(map(looks_like_tag, table.columns[at]))
    ]
    sure = [at for at in could if matches[at].field == "tag"]
    return (named or sure or could or [0])[0]


def _with_unit(pair: _Pair, same: str) -> Value:
    """Value with the unit beside it, where that is not the unit of the whole column."""
    unit = parse_unit(pair.unit) if pair.unit else None
    if unit is None or same:
        return pair.value
    if isinstance(pair.value, float):
        return Shown(pair.value, unit)
    if isinstance(pair.value, str) and re.fullmatch(r"[-+~ ]*[\d.,' ]+", pair.value.strip()):
        return f"{pair.value} {pair.unit}"
    return pair.value


def _add_tags(table: Table, forms: list[_Form]) -> None:
    """Take the sheets' names for tags where the forms have none."""
    for heading in table.headings:
        match = match_header(heading.text, heading.group)
        if match.field == "tag" or "tag" in match.candidates:
            return
    names = [form[0].sheet for form in forms]
    if len(set(names)) != len(names) or not all(map(looks_like_tag, names)):
        return
    index = len(table.headings)
    table.headings.append(Heading("Tag", "", "", "A1", "Tag (the sheet's name)"))
    table.columns.append(list(names))
    for row, name in enumerate(names):
        table.cells[row, index] = (name, "A1")
