"""Rows of several tables to the rows of one register: one per load point, joined by tag."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from ..register.fields import FIELDS
from ..register.register import Problem, cell_reference, same_tag_key
from .converted import Column
from .evidence import Assigned
from .grid import plain_text
from .table import Table

__all__ = ["Joined", "Part", "join_rows"]


def _of_load(name: str) -> bool:
    """Whether a field tells of one load point, and not of the whole conveyor."""
    return FIELDS[name].group in ("Loading", "Sealing")


@dataclass
class Part:
    """A table understood: its columns assigned and converted.

    Attributes
    ----------
    table, assigned
        The table, and what each of its columns was taken for.
    fields
        Field to source column index.
    values
        Field to converted column.
    problems
        Problems of its cells, once they are told from its columns.
    """

    table: Table
    assigned: list[Assigned]
    fields: dict[str, int]
    values: dict[str, Column] = field(default_factory=dict)
    problems: list[Problem] | None = None

    @property
    def tags(self) -> list[str]:
        """Tag of each row."""
        return [str(tag) for tag in self.values["tag"].values.tolist()]

    @property
    def load_points(self) -> list[str]:
        """Load point of each row, "" where it names none."""
        if "load_point" not in self.values:
            return [""] * len(self.table)
        return [str(name) for name in self.values["load_point"].values.tolist()]

    @property
    def about_loads(self) -> bool:
        """Whether it records anything of single load points."""
        return any(map(_of_load, self.fields))


@dataclass
class Joined:
    """Register rows, each the (part, row) pairs it is made of, its main table's first."""

    rows: list[list[tuple[int, int]]]
    problems: list[Problem] = field(default_factory=list)


_BETWEEN_TAGS = re.compile(r"[()\[\]/]|\bor\b|\baka\b")


def _aliases(tag: str) -> list[str]:
    """Keys of the tags in one cell: ``38-F (XX-CV-01)`` names one conveyor twice."""
    pieces = _BETWEEN_TAGS.split(tag)
    if len(pieces) == 1:
        return []
    keys = [same_tag_key(piece) for piece in pieces if re.search(r"\d", piece)]
    return keys if len(keys) > 1 else []


def join_rows(parts: Sequence[Part], main: Sequence[int]) -> Joined:
    """Join tables by tag.

    Parameters
    ----------
    parts
        All tables, in the order of the workbook.
    main
        Indices of those whose rows are the register's rows; the others add to them.
    """
    joined = Joined([])
    by_tag: dict[str, list[int]] = {}
    aliases: dict[str, str] = {}
    spelling: dict[str, str] = {}
    for index in main:
        for row, tag in enumerate(parts[index].tags):
            key = same_tag_key(tag)
            by_tag.setdefault(key, []).append(len(joined.rows))
            spelling.setdefault(key, tag)
            for alias in _aliases(tag):
                aliases.setdefault(alias, key)
            joined.rows.append([(index, row)])
    for index, part in enumerate(parts):
        if index not in main:
            _join_one(parts, index, part, joined, by_tag, aliases, spelling)
    joined.rows.sort()  # in the order of the workbook, whatever was added last
    return joined


def _join_one(
    parts: Sequence[Part],
    index: int,
    part: Part,
    joined: Joined,
    by_tag: dict[str, list[int]],
    aliases: dict[str, str],
    spelling: dict[str, str],
) -> None:
    rows_of: dict[str, list[int]] = {}
    respelt: list[tuple[str, str, str]] = []
    for row, tag in enumerate(part.tags):
        key = same_tag_key(tag)
        if key not in by_tag:
            key = aliases.get(key) or next(
                (alias for alias in _aliases(tag) if alias in by_tag), key
            )
        rows_of.setdefault(key, []).append(row)
        if key in spelling and spelling[key] != tag:
            respelt.append((part.table.cell(row, part.fields["tag"]), tag, spelling[key]))
    if respelt:
        examples = ", ".join(f"{own!r} for {other!r}" for _, own, other in respelt[:3])
        joined.problems.append(
            Problem(
                part.table.sheet,
                tuple(cell for cell, _, _ in respelt),
                "tag",
                examples,
                "tags are spelt differently than in the main table; the rows were joined",
                "Confirm that they are the same conveyors.",
                True,
            )
        )
    for key, rows in rows_of.items():
        if key not in by_tag:
            for row in rows:
                by_tag.setdefault(key, []).append(len(joined.rows))
                joined.rows.append([(index, row)])
                joined.problems.append(
                    Problem(
                        part.table.sheet_of(row, part.fields["tag"]),
                        (part.table.cell(row, part.fields["tag"]),),
                        "tag",
                        part.tags[row],
                        "the tag stands on this sheet only; it was given a row of its own",
                        "Add the conveyor to the main table, or correct the tag.",
                        True,
                    )
                )
            spelling.setdefault(key, part.tags[rows[0]])
        else:
            _attach(parts, index, part, rows, by_tag[key], joined)


def _attach(
    parts: Sequence[Part], index: int, part: Part, rows: list[int], own: list[int], joined: Joined
) -> None:
    """Add rows of a further table to the rows that one conveyor has."""
    names = [_name(parts, joined.rows[at]) for at in own]
    new = part.load_points
    if len(rows) == 1 and (len(own) == 1 or not part.about_loads):
        for at in own:
            joined.rows[at].append((index, rows[0]))
        return
    if len(rows) == 1 and not new[rows[0]]:
        # What it says of the conveyor holds for each of its load points; of which of them the
        # rest is true, nothing tells.
        joined.problems += _leave_out_loads(part, rows[0])
        for at in own:
            joined.rows[at].append((index, rows[0]))
        return
    if len(own) == 1 and part.about_loads and not names[0]:
        # The main table has the conveyor once, this one has its load points.
        base = list(joined.rows[own[0]])
        joined.rows[own[0]].append((index, rows[0]))
        for row in rows[1:]:
            own.append(len(joined.rows))
            joined.rows.append([*base, (index, row)])
        return
    left = []
    for row in rows:
        same = [
            at
            for at, name in zip(own, names, strict=True)
            if name and same_tag_key(name) == same_tag_key(new[row])
        ]
        if len(same) == 1:
            joined.rows[same[0]].append((index, row))
        else:
            left.append(row)
    if left and not part.about_loads and not any(new[row] for row in left):
        joined.problems.append(_not_joined(part, left, "stands several times on this sheet"))
    elif left:
        joined.problems.append(_not_joined(part, left, "has several load points"))


def _leave_out_loads(part: Part, row: int) -> list[Problem]:
    """Take out of a row what it says of a load point; a problem for each value there was."""
    problems = []
    for name, column in part.fields.items():
        told = _of_load(name) or name == "source_tag"
        if not told or not part.values[name].take_out(row):
            continue
        problems.append(
            Problem(
                part.table.sheet_of(row, column),
                (part.table.cell(row, column),),
                name,
                plain_text(part.table.columns[column][row]),
                f"is not used: {part.tags[row]} has several load points, and nothing tells of "
                "which it is true",
                "Give each load point a row of its own here, with the name it has on both sheets.",
            )
        )
    return problems


def _not_joined(part: Part, rows: list[int], why: str) -> Problem:
    tag = part.fields["tag"]
    return Problem(
        part.table.sheet_of(rows[0], tag),
        tuple(part.table.cell(row, tag) for row in rows),
        "tag",
        part.tags[rows[0]],
        f"the conveyor {why}, and nothing tells which row belongs to which; not used",
        "Name the load point on both sheets.",
    )


def _name(parts: Sequence[Part], row: list[tuple[int, int]]) -> str:
    return next(
        (name for index, at in row if (name := parts[index].load_points[at])),
        "",
    )


def reference(part: Part, row: int, column: int) -> str:
    """Full reference of a value's cell."""
    return cell_reference(part.table.sheet_of(row, column), part.table.cell(row, column))
