"""Which field each column of a table holds: the heading, the map, the values as evidence."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..register.fields import FIELDS
from .columns import ColumnMap
from .convert import likely_unit, other_unit
from .grid import Shown, Value, is_blank
from .headers import Match, match_header
from .locate import unit_text
from .quantities import TONS, parse_quantity
from .table import Table
from .words import is_placeholder, read_choice, read_yes

__all__ = ["Assigned", "assign"]

_ENOUGH = 0.7
_SAMPLE = 200
_DESIGNATION = re.compile(
    r"(?:EP|NN|PP|EE|P|N|ST|PVC)\s*[-/]?\s*\d{2,4}|\d\s*[- ]?ply|\d{2,4}\s*/\s*\d|PIW|"
    r"steel|fabric",
    re.IGNORECASE,
)
_TAG = re.compile(r"(?=.*\d)[\w][\w .\-/–()]{0,23}\Z")


@dataclass
class Assigned:
    """What a column was taken for.

    Attributes
    ----------
    field
        The field, or None.
    unit
        Unit of its numbers; None where it has none or it is not known.
    confidence
        0 to 1.
    why
        The reasons, joined by "; ".
    candidates
        What it could be, where that is a question.
    question
        The question to the user; empty where there is none.
    mapped
        Whether the column map decided it.
    """

    field: str | None
    unit: str | None
    confidence: float
    why: list[str]
    candidates: tuple[str, ...] = ()
    question: str = ""
    mapped: bool = False


def assign(table: Table, column_map: ColumnMap | None = None) -> list[Assigned]:
    """Decide for every column of a table which field it holds.

    Parameters
    ----------
    table
        The table.
    column_map
        Decisions of the user, which go before anything else.

    Returns
    -------
    list of Assigned
        One per column; no field is given twice.
    """
    found = [_assign_one(table, index, column_map) for index in range(len(table.headings))]
    _take_tag(table, found)
    _settle_doubles(table, found)
    for index, one in enumerate(found):
        if one.field is not None:
            _weigh_numbers(table, index, one)
    return found


def _assign_one(table: Table, index: int, column_map: ColumnMap | None) -> Assigned:
    heading = table.headings[index]
    unit = unit_text(heading)
    if column_map is not None:
        entry = column_map.find(table.sheet, heading.place, heading.shown)
        if entry is not None:
            chosen = entry.unit if entry.unit is not None else unit
            why = [f"column map, line {entry.line}"]
            return Assigned(entry.field, chosen, 1.0, why, mapped=True)
    match = match_header(heading.text, heading.group, table.sheet, unit)
    if match.field is None and len(match.candidates) != 1 and index:
        match = _by_neighbour(table, index, match, unit)
    one = Assigned(match.field, match.unit, match.confidence, [match.why], match.candidates)
    if one.field is None and one.candidates:
        _by_values(table.columns[index], one)
    if one.field is None and one.candidates:
        one.question = _question(one.candidates)
    if heading.hidden:
        one.why.append("hidden column")
    return one


def _question(candidates: tuple[str, ...]) -> str:
    if len(candidates) == 1:
        return f"is it {candidates[0]}?"
    return f"is it {', '.join(candidates[:-1])} or {candidates[-1]}?"


def _by_neighbour(table: Table, index: int, match: Match, unit: str | None) -> Match:
    """Try the heading on the left as a group: ``Secondary`` before ``Blade``."""
    heading, left = table.headings[index], table.headings[index - 1]
    again = match_header(heading.text, f"{heading.group} {left.text}".strip(), table.sheet, unit)
    if again.field is not None and (not match.candidates or again.field in match.candidates):
        if "above" not in again.why:
            return match
        return Match(
            again.field,
            0.8,
            (),
            again.unit,
            f"{again.why.partition(', with')[0]}, follows {left.text!r}",
            True,
        )
    return match


# --- values as evidence ----------------------------------------------------------------------


def _sample(values: list[Value]) -> list[Value]:
    filled = [
        value
        for value in values
        if not is_blank(value) and not (isinstance(value, str) and is_placeholder(value))
    ]
    step = max(1, len(filled) // _SAMPLE)
    return filled[::step][:_SAMPLE]


def _share(values: list[Value], fits: Callable[[Value], bool]) -> float:
    return sum(map(fits, values)) / len(values) if values else 0.0


def _is_number(value: Value) -> bool:
    if isinstance(value, str):
        return not isinstance(parse_quantity(value), str)
    return isinstance(value, float | Shown) and not isinstance(value, bool)


def _fits(name: str) -> Callable[[Value], bool]:
    """Test whether one cell looks like a value of a field."""
    spec = FIELDS[name]
    if name == "tag":
        return lambda value: isinstance(value, str) and bool(_TAG.match(value.strip()))
    if name == "belt_designation":
        return lambda value: isinstance(value, str) and bool(_DESIGNATION.search(value))
    if spec.kind == "text":
        return lambda value: isinstance(value, str) and bool(re.search(r"[^\W\d_]{3}", value))
    if spec.kind == "choice":
        return lambda value: isinstance(value, str) and read_choice(name, value) is not None
    if spec.kind == "yes/no":
        return lambda value: (
            isinstance(value, bool)
            or (isinstance(value, str) and read_yes(name, value) is not None)
        )
    if spec.kind == "lift":
        return lambda value: isinstance(value, str) and read_choice(name, value) is not None
    return _is_number


def _by_values(values: list[Value], one: Assigned) -> None:
    """Settle a question by the cells, where they fit one candidate and no other."""
    sample = _sample(values)
    if not sample:
        return
    shares = {name: _share(sample, _fits(name)) for name in one.candidates}
    best = max(shares, key=lambda name: shares[name])
    kinds = {FIELDS[name].kind for name in one.candidates}
    rest = max((share for name, share in shares.items() if name != best), default=0.0)
    telling = FIELDS[best].kind in ("choice", "lift") or best in ("belt_designation", "tag")
    if "number" in kinds and len(one.candidates) > 1:
        telling = telling and rest <= 0.2
    if telling and shares[best] >= 0.8 and rest <= 0.3:
        if best == "tag":
            return  # decided over the whole table
        one.field, one.candidates = best, ()
        one.confidence = round(max(one.confidence, 0.5) + 0.25 * shares[best], 2)
        one.why.append(f"{shares[best]:.0%} of its cells hold words of {best}")


def _take_tag(table: Table, found: list[Assigned]) -> None:
    """Where no heading says tag, take the first column that could be one and whose cells are."""
    if any(one.field == "tag" for one in found):
        for one in found:
            if one.field is None and "tag" in one.candidates:
                one.candidates = tuple(name for name in one.candidates if name != "tag")
                one.question = _question(one.candidates) if one.candidates else ""
        return
    fits = _fits("tag")
    for index, one in enumerate(found):
        if one.field is None and "tag" in one.candidates:
            sample = _sample(table.columns[index])
            share = _share(sample, lambda value: fits(value) or isinstance(value, float))
            if share >= 0.8:
                one.field, one.candidates, one.question = "tag", (), ""
                one.confidence = 0.75
                one.why.append(
                    f"{share:.0%} of its cells look like tags, and no other column does"
                )
                return


def _settle_doubles(table: Table, found: list[Assigned]) -> None:
    """Leave a field to one column: the user's, or the one that is clearly surer; else to none."""
    by_field: dict[str, list[int]] = {}
    for index, one in enumerate(found):
        if one.field is not None:
            by_field.setdefault(one.field, []).append(index)
    for name, columns in by_field.items():
        if len(columns) == 1:
            continue
        ranked = sorted(columns, key=lambda at: (not found[at].mapped, -found[at].confidence))
        first, second = found[ranked[0]], found[ranked[1]]
        clear = (first.mapped and not second.mapped) or (
            first.confidence - second.confidence >= 0.2
        )
        same = all(_same_cells(table, ranked[0], other) for other in ranked[1:])
        places = [f"{table.headings[at].shown!r} ({table.headings[at].place})" for at in columns]
        losers = ranked[1:] if clear or same or name in ("tag", "notes") else ranked
        for at in losers:
            one = found[at]
            one.field = None
            one.confidence = min(one.confidence, 0.5)
            if clear or same:
                one.why.append(f"the field is given by column {table.headings[ranked[0]].place}")
            if not (clear or same) or clear:
                one.candidates = (name,)
                one.question = f"{' and '.join(places)} could both be {name}: which is it?"


def _same_cells(table: Table, one: int, other: int) -> bool:
    return table.columns[one] == table.columns[other]


# --- numbers against their unit --------------------------------------------------------------


def _bare_numbers(values: list[Value]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Numbers of a column that have no unit of their own, text numbers included."""
    numbers: list[float] = [value for value in values if type(value) is float]
    for value in values:
        if isinstance(value, str) and not is_placeholder(value):
            quantity = parse_quantity(value)
            if not isinstance(quantity, str) and quantity.unit is None and not quantity.others:
                numbers += [end for end in (quantity.low, quantity.high) if np.isfinite(end)][:1]
    return np.array(numbers, np.float64)


def _weigh_numbers(table: Table, index: int, one: Assigned) -> None:
    """Find the unit of a column without one, and question one that makes no sense."""
    assert one.field is not None
    spec = FIELDS[one.field]
    if spec.kind not in ("number", "lift"):
        if spec.kind != "count":
            one.unit = None
        return
    numbers = _bare_numbers(table.columns[index])
    if one.unit is None:
        if not len(numbers):
            return
        if table.note_unit is not None and spec.unit == "m":
            one.unit = table.note_unit
            one.why.append(f"all sizes are in {one.unit}, says a line above the table")
        else:
            one.unit = likely_unit(spec, numbers)
            if one.unit is not None:
                one.why.append(f"no unit given; only {one.unit} makes sense of all its numbers")
                return
            one.question = f"in which unit are its numbers ({', '.join(spec.customary)})?"
            one.why.append("no unit given, and its numbers do not tell which")
            return
    if one.unit == TONS or one.mapped:
        return
    other = other_unit(spec, one.unit, numbers)
    if other is not None:
        one.question = f"the heading says {one.unit}, but its numbers only make sense in {other}: which is it?"
        one.candidates, one.field = (one.field,), None
        one.confidence = min(one.confidence, 0.5)
        one.why.append(f"no number makes sense in {one.unit}; all would in {other}")
    elif len(numbers):
        one.why.append(f"unit {one.unit}, its numbers make sense in it")
