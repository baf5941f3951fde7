"""Which field each column of a table holds: the heading, the map, the values as evidence."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..register.derive import parse_designation
from ..register.fields import FIELDS
from ..units import factor
from .columns import ColumnMap
from .grid import Shown, Value, is_blank
from .headers import Match, match_header, word_list
from .locate import unit_text
from .numbers import likely_unit, other_unit
from .quantities import TONS, parse_quantity, parse_unit
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
_OF_CONVEYORS = re.compile(
    r"conv|belt|band|gurt|förder|transport|correa|cinta|faja|correia|bande", re.IGNORECASE
)
_UNIT_HEADING = re.compile(
    r"(?:\b|_)(?:units?|uom|einheit(?:en)?|unidad(?:es)?|unidade|unité)\.?\Z", re.IGNORECASE
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
    beside = _join_units(table)
    repeated = _repeated(table)
    found = [
        _assign_one(table, index, column_map, index in repeated)
        for index in range(len(table.headings))
    ]
    for index in beside:
        if not found[index].mapped:
            found[index] = Assigned(None, None, 0.0, ["units of the column before it"])
    _take_tag(table, found)
    for index, one in enumerate(found):
        if one.mapped:
            continue
        if one.field is None and one.candidates:
            _by_values(table.columns[index], one)
        elif one.field is not None:
            _doubt_words(table.columns[index], one)
    _rating_or_operating(table, found)
    for one in found:
        if one.field is None and one.candidates and not one.question:
            one.question = _question(one.candidates)
    _settle_doubles(table, found)
    for index, one in enumerate(found):
        if one.field is not None:
            _weigh_numbers(table, index, one)
    return found


def _join_units(table: Table) -> set[int]:
    """Put units that stand in a column of their own to the numbers on its left."""
    found = set()
    for index, heading in enumerate(table.headings[1:], 1):
        if not _UNIT_HEADING.search(heading.text):
            continue
        left, units = table.columns[index - 1], table.columns[index]
        known = [None if is_blank(text) else parse_unit(str(text)) for text in units]
        if not any(known):
            continue
        found.add(index)
        table.columns[index - 1] = [
            Shown(value, unit) if type(value) is float and unit is not None else value
            for value, unit in zip(left, known, strict=True)
        ]
    return found


def _repeated(table: Table) -> set[int]:
    """Columns whose heading stands more than once under the same group."""
    seen: dict[tuple[object, ...], list[int]] = {}
    for index, heading in enumerate(table.headings):
        seen.setdefault((word_list(heading.text), heading.group), []).append(index)
    return {index for several in seen.values() if len(several) > 1 for index in several}


def _assign_one(
    table: Table, index: int, column_map: ColumnMap | None, repeated: bool
) -> Assigned:
    heading = table.headings[index]
    unit = unit_text(heading)
    if column_map is not None:
        entry = column_map.find(table.sheet, heading.place, heading.shown)
        if entry is not None:
            chosen = entry.unit if entry.unit is not None else unit
            why = [f"column map, line {entry.line}" if entry.line else "as read before"]
            return Assigned(entry.field, chosen, 1.0, why, mapped=True)
    match = match_header(heading.text, heading.group, table.sheet, unit)
    if match.field is None and repeated and index:
        match = _by_neighbour(table, index, match, unit)
    one = Assigned(match.field, match.unit, match.confidence, [match.why], match.candidates)
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
    """Take up to `_SAMPLE` filled cells from all over a column."""

    def filled(some: list[Value]) -> list[Value]:
        return [
            value
            for value in some
            if not is_blank(value) and not (isinstance(value, str) and is_placeholder(value))
        ]

    spread = filled(values[:: max(1, len(values) // (4 * _SAMPLE))])
    if len(spread) < 20:
        spread = filled(values)
    return spread[:: max(1, len(spread) // _SAMPLE)][:_SAMPLE]


def _share(values: list[Value], fits: Callable[[Value], bool]) -> float:
    return sum(map(fits, values)) / len(values) if values else 0.0


def _is_number(value: Value, unit: str | None = None) -> bool:
    if isinstance(value, str):
        return not isinstance(parse_quantity(value, unit), str)
    return isinstance(value, float | Shown) and not isinstance(value, bool)


def _fits(name: str) -> Callable[[Value], bool]:
    """Test whether one cell looks like a value of a field."""
    spec = FIELDS[name]
    if name == "tag":
        return lambda value: (
            isinstance(value, str)
            and bool(_TAG.match(value.strip()))
            and not _DESIGNATION.match(value.strip())
        )
    if name == "belt_designation":
        return lambda value: isinstance(value, str) and bool(_DESIGNATION.search(value))
    if spec.kind == "text":
        return lambda value: isinstance(value, str) and bool(re.search(r"[^\W\d_]{3}", value))
    if name == "belt_carcass":
        return lambda value: (
            isinstance(value, str)
            and not re.search(r"\d", value)
            and read_choice(name, value) is not None
        )
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
    best = max(shares, key=lambda name: (shares[name], name == "belt_designation"))
    rest = max((share for name, share in shares.items() if name != best), default=0.0)
    # Any words fit a text field: that tells only against fields of numbers.
    words = FIELDS[best].kind == "text" and len(one.candidates) > 1
    telling = (words or FIELDS[best].kind in ("choice", "lift")) and best != "tag"
    if telling and shares[best] >= 0.8 and rest <= 0.3:
        one.field, one.candidates = best, ()
        one.confidence = round(max(one.confidence, 0.5) + 0.25 * shares[best], 2)
        one.why.append(f"{shares[best]:.0%} of its cells hold words of {best}")


def _doubt_words(values: list[Value], one: Assigned) -> None:
    """Question a column whose heading fits a field and whose cells do not."""
    assert one.field is not None
    spec = FIELDS[one.field]
    if spec.kind == "text":
        return
    sample = _sample(values)
    fits = _fits(one.field)
    share = _share(
        sample,
        lambda value: isinstance(value, bool) or _is_number(value, one.unit) or fits(value),
    )
    if len(sample) >= 3 and share < 0.3:
        one.why.append(f"only {share:.0%} of its cells can be read as {spec.meaning}")
        one.candidates, one.field = (one.field,), None
        one.confidence = min(one.confidence, 0.5)


def _rating_or_operating(table: Table, found: list[Assigned]) -> None:
    """Tell a rating from an operating tension: a rating belongs to the belt's designation."""
    asked = [
        index
        for index, one in enumerate(found)
        if set(one.candidates) == {"belt_rated_tension", "belt_operating_tension"}
    ]
    designations = [index for index, one in enumerate(found) if one.field == "belt_designation"]
    if len(asked) != 1 or len(designations) != 1:
        return
    one = found[asked[0]]
    ratio = factor(one.unit, "kN/m") if one.unit else None
    if ratio is None:
        return
    tensions: dict[str, set[float]] = {}
    for text, value in zip(table.columns[designations[0]], table.columns[asked[0]], strict=True):
        if isinstance(text, str) and type(value) is float:
            nominal = parse_designation(text).nominal_strength
            if not 6.5 <= nominal / (value * ratio) <= 12:
                return
            tensions.setdefault(text, set()).add(value)
    if len(tensions) >= 3 and all(len(values) == 1 for values in tensions.values()):
        one.field, one.candidates, one.confidence = "belt_rated_tension", (), 0.75
        one.why.append("one figure for each belt designation, a share of its nominal strength")


def _take_tag(table: Table, found: list[Assigned]) -> None:
    """Where no heading says tag, take the first column that could be one and whose cells are."""
    if any(one.field == "tag" for one in found):
        for one in found:
            if one.field is None and "tag" in one.candidates:
                one.candidates = tuple(name for name in one.candidates if name != "tag")
                _only_words_left(table.columns[found.index(one)], one)
        return
    fits = _fits("tag")
    for index, one in enumerate(found):
        if one.field is None and "tag" in one.candidates:
            sample = _sample(table.columns[index])
            share = _share(sample, fits)
            if _OF_CONVEYORS.search(table.headings[index].text):
                share += _share(sample, lambda value: isinstance(value, float))
            if share >= 0.8:
                one.field, one.candidates, one.question = "tag", (), ""
                one.confidence = 0.75
                one.why.append(
                    f"{share:.0%} of its cells look like tags, and no other column does"
                )
                return


def _only_words_left(values: list[Value], one: Assigned) -> None:
    """Take a column headed "Conveyor" for what it does, where another gives the tag."""
    if one.candidates == ("service",):
        share = _share(_sample(values), _fits("service"))
        if share >= 0.8:
            one.field, one.candidates, one.confidence = "service", (), 0.7
            one.why.append("another column gives the tag, and its cells are words")


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
    for text in {value for value in values if type(value) is str and value}:
        if not is_placeholder(text):
            quantity = parse_quantity(text)
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
        if spec.unit == "t/h":
            one.unit = TONS  # metric or short tons, as the register's other units tell
            one.why.append("no unit given, taken for tons an hour")
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
        one.question = (
            f"the heading says {one.unit}, but its numbers make sense only in {other}: which?"
        )
        one.candidates, one.field = (one.field,), None
        one.confidence = min(one.confidence, 0.5)
        one.why.append(f"no number makes sense in {one.unit}; all would in {other}")
    elif len(numbers):
        one.why.append(f"unit {one.unit}, its numbers make sense in it")
