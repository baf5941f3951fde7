"""What the cells of a column say about the field and the unit its heading was taken for."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..register.fields import FIELDS
from ..units import factor
from .grid import Shown, Value, is_blank
from .numbers import likely_unit, other_unit
from .quantities import TONS, parse_quantity
from .words import is_placeholder, read_choice, read_yes

__all__ = [
    "Assigned",
    "bare_numbers",
    "cell_unit",
    "fits",
    "is_number",
    "sample",
    "share",
    "typical_share",
    "weigh",
]

ENOUGH = 0.7
"""A column is taken for a field from this confidence on; below, it is a question."""

_SAMPLE = 200
_DESIGNATION = re.compile(
    r"(?:EP|NN|PP|EE|P|N|ST|PVC)\s*[-/]?\s*\d{2,4}|\d\s*[- ]?ply|\d{2,4}\s*/\s*\d|PIW|"
    r"class\s*\d{3,4}|steel|fabric|\d\s*/\s*\d{3,4}",
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
    mapped, yes
        Whether the column map decided it, and what it says that a yes means.
    opposite
        Whether a yes means that the thing is missing.
    """

    field: str | None
    unit: str | None
    confidence: float
    why: list[str]
    candidates: tuple[str, ...] = ()
    question: str = ""
    mapped: bool = False
    yes: str = ""
    opposite: bool = False


def sample(values: list[Value]) -> list[Value]:
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


def share(values: list[Value], test: Callable[[Value], bool]) -> float:
    """Share of cells that pass a test; 0 where there are none."""
    return sum(map(test, values)) / len(values) if values else 0.0


def is_number(value: Value, unit: str | None = None) -> bool:
    """Whether a cell can be read as a number, in a column of `unit`."""
    if isinstance(value, str):
        return not isinstance(parse_quantity(value, unit), str)
    return isinstance(value, float | Shown) and not isinstance(value, bool)


def fits(name: str) -> Callable[[Value], bool]:
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
    return is_number


_WITH_UNIT = 0.6
"""Share of the filled cells that must name a unit of one kind."""


def cell_unit(values: list[Value]) -> str | None:
    """Give the unit that most cells of a column name themselves; None where most name none."""
    some = sample(values)[:40]
    if len(some) < 2:
        return None
    units: Counter[str] = Counter()
    for value in some:
        unit = value.unit if isinstance(value, Shown) else None
        if isinstance(value, str) and re.match(r"\D{0,8}\d", value):
            quantity = parse_quantity(value)
            unit = None if isinstance(quantity, str) else quantity.unit
        if unit is not None:
            units[unit] += 1
    if not units:
        return None
    most = units.most_common(1)[0][0]
    alike = sum(n for unit, n in units.items() if unit == most or factor(unit, most) is not None)
    return most if alike >= _WITH_UNIT * len(some) else None


def bare_numbers(values: list[Value]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Numbers of a column that have no unit of their own, text numbers included."""
    numbers: list[float] = [value for value in values if type(value) is float]
    for text in {value for value in values if type(value) is str and value}:
        if not is_placeholder(text):
            quantity = parse_quantity(text)
            if not isinstance(quantity, str) and quantity.unit is None and not quantity.others:
                numbers += [end for end in (quantity.low, quantity.high) if np.isfinite(end)][:1]
    return np.array(numbers, np.float64)


def typical_share(name: str, values: list[Value], unit: str | None) -> float:
    """Share of a column's plain numbers that have the size usual for a field.

    Returns
    -------
    float
        1 where the field has no usual size, or the unit is not known.
    """
    spec = FIELDS[name]
    low, high = spec.size or (spec.plausible.low, spec.plausible.high)
    numbers = bare_numbers(values)
    ratio = 1.0
    if spec.kind != "count":
        if unit is None or unit == TONS:
            return 1.0
        found = factor(unit, spec.unit)
        if found is None:
            return 0.0
        ratio = found
    if not len(numbers):
        return 1.0
    sizes = numbers * ratio
    return float(((sizes >= low) & (sizes <= high)).mean())


def weigh(values: list[Value], one: Assigned, note_unit: str | None = None) -> None:
    """Settle a column's unit, and bring unit and cells into its confidence.

    The confidence of the heading's wording is multiplied by that of the unit (1 where it is
    given, 0.95 where the numbers alone tell it) and of the cells (from 0.6 where none makes sense
    to 1 where all do). Below `ENOUGH`, or where the numbers only make sense in another unit than
    the heading says, the column becomes a question.

    Parameters
    ----------
    values
        The column's cells.
    one
        What it was taken for; changed in place.
    note_unit
        Unit of length that a line above the table gives for all sizes.
    """
    assert one.field is not None
    spec = FIELDS[one.field]
    if spec.kind in ("number", "lift"):
        _settle_unit(values, one, note_unit)
    elif spec.kind != "count":
        one.unit = None
    # "Designation" may name the conveyor: of all text, a belt's designation shows in its cells.
    if one.field is None or one.mapped or (spec.kind == "text" and spec.key != "belt_designation"):
        return
    some = sample(values)
    ratio = factor(one.unit, spec.unit) if one.unit not in (None, TONS) and spec.unit else None

    def makes_sense(value: Value) -> bool:
        if spec.kind == "yes/no" and type(value) is float:
            return read_yes(spec.key, f"{value:g}") is not None
        if type(value) is float:
            if spec.kind == "choice":
                return read_choice(spec.key, f"{value:g}") is not None
            return ratio is None or spec.possible.holds(value * ratio)
        readable = isinstance(value, bool) or is_number(value, one.unit)
        return readable or fits(spec.key)(value)

    good = sum(map(makes_sense, some))
    if some:
        cells = 0.6 + 0.4 * good / len(some)
        one.why.append(f"cells {cells:.2f}: {good} of {len(some)} looked at make sense")
        if len(some) >= 3:
            one.confidence = round(one.confidence * cells, 2)
    if one.confidence < ENOUGH or (len(some) >= 3 and good < _SENSE * len(some)):
        _ask(one, "although its cells hardly fit")
    elif spec.kind == "choice" and share(some, lambda value: _only_yes(spec.key, value)) >= _YES:
        # Its "no" would pass for "none found".
        _ask(one, "although it is answered with yes and no")
    elif len(some) >= 3 and spec.numeric and typical_share(spec.key, some, one.unit) < _USUAL:
        one.why.append("hardly a number has a size that is usual for it")
        _ask(one, "although hardly a number has a usual size")


_SENSE = 0.3
"""Share of the cells of a column that must be values of its field."""

_USUAL = 0.4
"""Share of the numbers of a column that must have a usual size."""


_YES = 0.2
"""Share of cells that say yes, from which on a column of words is a column of answers."""


_PLAIN_YES = frozenset({"y", "yes", "ja", "j", "si", "sí", "s", "sim", "oui", "o"})


def _only_yes(name: str, value: Value) -> bool:
    """Whether a cell is a plain yes that is no word of the field."""
    plain = isinstance(value, str) and value.strip().casefold() in _PLAIN_YES
    return plain and read_choice(name, str(value)) is None


def _ask(one: Assigned, doubt: str) -> None:
    assert one.field is not None
    one.candidates, one.question = (one.field,), f"is it {one.field}, {doubt}?"
    one.field, one.confidence = None, min(one.confidence, ENOUGH - 0.01)


def _settle_unit(values: list[Value], one: Assigned, note_unit: str | None) -> None:
    """Find the unit of numbers without one, and question one that makes no sense."""
    assert one.field is not None
    spec = FIELDS[one.field]
    numbers = bare_numbers(values)
    if one.unit is None and len(numbers):
        if spec.unit == "t/h":
            one.unit = TONS  # metric or short tons, as the register's other units tell
            how = "no unit given, taken for tons an hour"
        elif note_unit is not None and spec.unit == "m":
            one.unit = note_unit
            how = "all sizes are in it, says a line above the table"
        else:
            one.unit = likely_unit(spec, numbers)
            how = "no unit given; only this one makes sense of all its numbers"
        if one.unit is None:
            one.question = f"in which unit are its numbers ({', '.join(spec.customary)})?"
            one.why.append("no unit given, and its numbers do not tell which")
            return
        one.why.append(f"unit 0.95: {one.unit}; {how}")
        one.confidence = round(one.confidence * 0.95, 2)
    elif one.unit is not None:
        one.why.append(f"unit 1.00: {one.unit} is given")
    if one.unit in (None, TONS) or one.mapped:
        return
    other = other_unit(spec, one.unit, numbers)
    if other is not None:
        one.question = (
            f"the heading says {one.unit}, but its numbers make sense only in {other}: which?"
        )
        one.why.append(f"no number makes sense in {one.unit}; all would in {other}")
        one.candidates, one.field = (one.field,), None
        one.confidence = min(one.confidence, 0.5)
