"""Columns of numbers: their marks, their units, and whether values can be."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..register.fields import Field, Span
from ..units import factor
from .converted import Column, Noted, brief, fault
from .grid import Fault, Shown, Value, is_blank, plain_text
from .quantities import TONS, Quantity, parse_number, parse_quantity
from .words import is_placeholder, read_choice

__all__ = ["Marks", "convert_numbers", "likely_unit", "other_unit"]

Numbers = np.ndarray[Any, np.dtype[np.float64]]

METRIC_TONS = (0.90718474, 1.0)
"""Tonnes in a "ton" that may be short or metric (a short ton is 2000 lb of 0.45359237 kg)."""


@dataclass(frozen=True, slots=True)
class Marks:
    """How a register writes numbers in text: which marks were seen where they are plain.

    ``comma`` tells that the comma is its decimal mark, ``point`` that the full stop is (or the
    comma a thousands mark).
    """

    comma: bool = False
    point: bool = False

    @classmethod
    def of(cls, texts: Iterable[str]) -> Marks:
        """Gather the evidence of texts from number columns."""
        comma = point = False
        for text in texts:
            for digits in re.findall(r"(?<![\d.,])\d[\d.,]*\d", text):
                if re.fullmatch(r"\d+,(?:\d{1,2}|\d{4,})|0+,\d+|\d{1,3}(?:\.\d{3})+,\d+", digits):
                    comma = True
                elif re.fullmatch(
                    r"\d+\.(?:\d{1,2}|\d{4,})|0+\.\d+|\d{1,3}(?:,\d{3})+\.\d+|"
                    r"\d{1,3}(?:,\d{3}){2,}",
                    digits,
                ):
                    point = True
        return cls(comma, point)


# --- ranges ----------------------------------------------------------------------------------


_READ_AGAIN = "Correct the cell, or its unit."


def _inside(span: Span, values: Numbers) -> np.ndarray[Any, np.dtype[np.bool_]]:
    above = values > span.low if span.low_open else values >= span.low
    return above & (values <= span.high)


def _sound(spec: Field, values: Numbers) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Which values are neither impossible nor doubtful."""
    usual = np.isin(values, spec.usual) if spec.usual else np.zeros(len(values), bool)
    return _inside(spec.possible, values) & (_inside(spec.plausible, values) | usual)


def likely_unit(spec: Field, numbers: Numbers) -> str | None:
    """Unit in which numbers written without any unit make sense, if it is the only one.

    Parameters
    ----------
    spec
        The field.
    numbers
        Numbers as written.
    """
    customary = spec.customary
    if len(customary) <= 1 or not len(numbers):
        return customary[0] if customary else None
    if set(customary) == {"1", "%"}:
        # A share below 5 % or above 120 % is no belt tension anybody records.
        share, percent = bool((numbers <= 1.2).all()), bool((numbers >= 5).all())
        return "1" if share else "%" if percent else None
    fitting = {
        ratio: unit
        for unit in reversed(customary)  # N/mm is kN/m: the first name stands for both
        if (ratio := factor(unit, spec.unit)) is not None and _sound(spec, numbers * ratio).all()
    }
    if len(fitting) != 1:
        return None
    ratio, unit = fitting.popitem()
    low, high = spec.size or (-math.inf, math.inf)
    # One number that fits no better than the others in another unit must not settle it for all.
    expected = (numbers == 0) | ((numbers * ratio >= low) & (numbers * ratio <= high))
    return unit if expected.all() else None


def other_unit(spec: Field, unit: str, numbers: Numbers) -> str | None:
    """Unit that a whole column makes sense in where it makes none in the unit its heading says.

    Returns
    -------
    str or None
        None where the heading's unit makes sense of any value.
    """
    if not len(numbers) or spec.unit not in ("m", "m/s", "kN/m", "t/m³", "1", "m²"):
        return None
    low, high = spec.size or (-math.inf, math.inf)

    def makes_sense(name: str) -> np.ndarray[Any, np.dtype[np.bool_]]:
        ratio = factor(name, spec.unit)
        if ratio is None:
            return np.zeros(len(numbers), bool)
        values = numbers * ratio
        share = (values >= 0.05) | (spec.unit != "1")
        return _sound(spec, values) & share & (values >= low) & (values <= high)

    filled = numbers[numbers != 0]
    if not len(filled):
        return None
    numbers = filled
    if makes_sense(unit).any():
        return None
    units = dict.fromkeys(
        (*spec.customary, *(("m", "mm", "in", "ft") if spec.unit == "m" else ()))
    )
    return next((name for name in units if name != unit and makes_sense(name).all()), None)


# --- numbers ---------------------------------------------------------------------------------


def convert_numbers(
    spec: Field, values: Sequence[Value], unit: str | None, marks: Marks, tons: str | None
) -> Column:
    """Convert a column of numbers, counts or pulley lifts.

    Parameters
    ----------
    spec
        The field.
    values, unit, marks, tons
        As of `convert.convert`.
    """
    if spec.unit == "t/h":
        tons = _own_tons(values) or tons
    whole = set(map(type, values)) == {float}
    raw = (
        np.array(values, np.float64)
        if whole
        else np.fromiter((v if type(v) is float else np.nan for v in values), float, len(values))
    )
    column = Column(np.full(len(values), np.nan))
    if spec.kind == "lift":
        column.positions = np.full(len(values), "", dtype="<U11")
    bare = np.flatnonzero(~np.isnan(raw))
    if len(bare):
        _store_plain(spec, column, raw, bare, unit, tons)
    others = [] if whole else [
        (row, value)
        for row, value in enumerate(values)
        if type(value) is not float and value != "" and not is_blank(value)
    ]  # fmt: skip
    if spec.kind != "lift" and unit != "%":
        others = _store_figures(spec, column, raw, others, unit, tons)
    if others:
        settled = _settled(raw[~np.isnan(raw)], others)
        for row, value in others:
            _store_other(spec, column, row, value, unit, marks, tons, settled)
        column.problems.sort(key=lambda noted: noted.row)
    return column


_FIGURES = re.compile(r"(?:0|[1-9][0-9]{0,8})(?:\.(?:[0-9]{1,2}|[0-9]{4,9}))?")
"""A number that can be read in one way only."""


def _store_figures(
    spec: Field,
    column: Column,
    raw: Numbers,
    others: list[tuple[int, Value]],
    unit: str | None,
    tons: str | None,
) -> list[tuple[int, Value]]:
    """Store texts that are plain numbers, all at once; give those of which more is to be said."""
    scale = _scale(spec, unit, tons)
    plain = [one for one in others if type(one[1]) is str and _FIGURES.fullmatch(one[1])]
    if not plain or scale is None or scale[0] != scale[1]:
        return others
    rows = np.fromiter((row for row, _ in plain), np.intp, len(plain))
    raw[rows] = [float(str(text)) for _, text in plain]
    values = _times(raw[rows], scale[0])
    good = _sound(spec, values)
    if spec.kind == "count":
        good &= values == np.floor(values)
    column.values[rows[good]] = values[good]
    stored = set(rows[good].tolist())
    return [one for one in others if one[0] not in stored]


def _settled(plain: Numbers, others: Sequence[tuple[int, Value]]) -> tuple[float, float] | None:
    """Least and largest of the column's numbers that can be read in one way only."""
    texts = {value.strip() for _, value in others if isinstance(value, str)}
    read = [number for text in texts if len(number := parse_number(text)) == 1]
    numbers = np.concatenate([np.abs(plain), np.array(read, np.float64).ravel()])
    numbers = numbers[numbers > 0]
    return (float(numbers.min()), float(numbers.max())) if len(numbers) >= 2 else None


def _own_tons(values: Sequence[Value]) -> str | None:
    """Tell what a ton is in a column some of whose cells say so plainly, all in one way."""
    read = (parse_quantity(text) for text in {v for v in values if type(v) is str})
    units = {found.unit for found in read if not isinstance(found, str)}
    plain = units & {"t/h", "short ton/h"}
    return plain.pop() if len(plain) == 1 else None


def _times(values: Any, ratio: float) -> Any:
    """Scale by a unit's factor; 1150 mm is 1.15 m to the last digit, so thousandths divide."""
    inverse = round(1 / ratio) if ratio < 1 else 0
    if inverse >= 2 and abs(inverse * ratio - 1) < 1e-12:
        return values / inverse
    return values * ratio


def _scale(spec: Field, unit: str | None, tons: str | None) -> tuple[float, float] | None:
    """Factors to SI, low and high; they differ only for tons that may be short or metric."""
    if spec.kind == "count":
        return (1.0, 1.0) if unit in (None, "1") else None
    if unit == TONS:
        if spec.unit != "t/h":
            return None
        if tons is None:
            return METRIC_TONS
        unit = tons
    ratio = factor(unit, spec.unit) if unit is not None else None
    return None if ratio is None else (ratio, ratio)


def _store_plain(
    spec: Field,
    column: Column,
    raw: Numbers,
    rows: np.ndarray[Any, np.dtype[np.intp]],
    unit: str | None,
    tons: str | None,
) -> None:
    """Store numbers that carry no unit of their own, all at once."""
    scale = _scale(spec, unit, tons)
    if scale is None:
        units = ", ".join(spec.customary)
        column.problems += [
            Noted(
                int(row),
                f"{raw[row]:.12g}",
                "has no unit, and its size does not tell which",
                f"Put the unit into the heading ({units}) or into the column map.",
                whole=True,
            )
            for row in rows
        ]
        return
    values = _times(raw[rows], scale[1])
    good = _inside(spec.possible, values) & np.isfinite(values)
    if spec.kind == "count":
        good &= values == np.floor(values)
    odd = np.zeros(len(values), bool)
    if spec.unit == "1" and unit == "%":
        odd = good & (raw[rows] <= 1.2) & (raw[rows] > 0)
        if (raw[rows] >= 5).any() or len(rows) == 1:
            good &= ~odd
    sound = good & _sound(spec, values)
    # Where a ton may be short or metric, all but nothing is a range.
    either = (values != 0) & (scale[0] != scale[1])
    exact = good & ~either
    column.values[rows[exact]] = values[exact]
    for row in rows[good & either]:
        column.intervals[int(row)] = (float(raw[row]) * scale[0], float(raw[row]) * scale[1])
    for at in np.flatnonzero(~sound | either):
        _note_size(
            spec, column, int(rows[at]), f"{raw[rows[at]]:.12g}", unit, values[at], good[at]
        )
        if odd[at] and not good[at]:
            column.problems[-1] = replace(
                column.problems[-1],
                problem="may be a share or a percentage: the column is in per cent",
                what_to_do="Write it in per cent.",
            )


def _note_size(
    spec: Field, column: Column, row: int, text: str, unit: str | None, value: float, good: bool
) -> None:
    if unit == TONS and good:
        column.problems.append(
            Noted(
                row,
                text,
                "is in tons that may be short or metric; both were carried",
                "Say t/h or short tons per hour in the heading.",
                used=True,
                whole=True,
            )
        )
        return
    shown = f"{value:.4g} {spec.unit}" if spec.unit not in ("", "1") else f"{value:.4g}"
    if not good:
        whole = spec.kind == "count" and value != math.floor(value)
        problem = "is not a whole number" if whole else f"is impossible as {brief(spec)} ({shown})"
        column.problems.append(Noted(row, text, problem, _READ_AGAIN))
    else:
        problem = f"is doubtful as {brief(spec)} ({shown}); it was used"
        column.problems.append(Noted(row, text, problem, "Confirm or correct it.", used=True))


def _store_other(
    spec: Field,
    column: Column,
    row: int,
    value: Value,
    unit: str | None,
    marks: Marks,
    tons: str | None,
    settled: tuple[float, float] | None,
) -> None:
    """Store one cell that is not a plain number."""
    if isinstance(value, Fault):
        column.problems.append(fault(row, value))
        return
    if isinstance(value, Shown):
        quantity: Quantity | str = Quantity(value.value, value.value, value.unit)
        text = plain_text(value)
    elif isinstance(value, bool) or not isinstance(value, str):
        kind = "yes or no" if isinstance(value, bool) else "a date or time"
        column.problems.append(
            Noted(
                row,
                plain_text(value),
                f"is {kind} where a number belongs",
                "Type the number; format the cell as text where the program makes a date of it.",
            )
        )
        return
    else:
        text = " ".join(value.split())
        if is_placeholder(text):
            column.placeholders += 1
            return
        word = read_choice(spec.key, text) if spec.kind == "lift" else None
        if word is not None and not word.note and column.positions is not None:
            column.positions[row] = word.value
            return
        quantity = parse_quantity(text, unit)
    if isinstance(quantity, str):
        column.problems.append(
            Noted(row, text, f"{quantity} ({brief(spec)})", "Type one number with its unit.")
        )
        return
    alike = quantity.unit is None or quantity.unit == unit
    chosen = _settle(quantity, text, marks, settled if alike else None)
    if chosen is None:
        column.problems.append(
            Noted(
                row,
                text,
                "may have a thousands mark or a decimal mark, and nothing else settles it",
                "Type it as a number.",
            )
        )
        return
    _store_quantity(spec, column, row, text, chosen, unit, tons)


def _settle(
    quantity: Quantity, text: str, marks: Marks, settled: tuple[float, float] | None
) -> Quantity | None:
    """Choose between two readings of the same digits by the register's other numbers."""
    if not quantity.others:
        return quantity
    readings = (quantity.low, *quantity.others)
    grouped, decimal = max(readings, key=abs), min(readings, key=abs)
    by_size: float | None = None
    if settled is not None:
        near = [value for value in readings if settled[0] / 3 <= abs(value) <= settled[1] * 3]
        by_size = near[0] if len(near) == 1 else None
    by_mark: float | None = None
    if marks.comma != marks.point:
        comma_written = bool(re.search(r"\d,\d{3}(?!\d)", text))
        by_mark = decimal if marks.comma == comma_written else grouped
    elif not marks.comma and not marks.point and not re.search(r"\d,\d{3}(?!\d)", text):
        by_mark = decimal  # a full stop, and no sign of the comma as decimal mark anywhere
    found = {value for value in (by_size, by_mark) if value is not None}
    if len(found) != 1:
        return None
    value = found.pop()
    note = quantity.note or f"read as {value:.12g} by the register's other numbers"
    return replace(quantity, low=value, high=value, others=(), note=note)


def _store_quantity(
    spec: Field,
    column: Column,
    row: int,
    text: str,
    quantity: Quantity,
    unit: str | None,
    tons: str | None,
) -> None:
    own = quantity.unit if quantity.unit is not None else unit
    scale = _scale(spec, own, tons)
    if scale is None:
        if own is None:
            problem, todo = "has no unit, and its size does not tell which", "Add the unit."
        else:
            problem, todo = (
                f"is in {own}, which does not measure {brief(spec)}",
                _READ_AGAIN,
            )
        column.problems.append(Noted(row, text, problem, todo))
        return
    low, high = sorted((_times(quantity.low, scale[0]), _times(quantity.high, scale[1])))
    if math.isinf(low):
        low = spec.possible.low
    if math.isinf(high):
        high = min(spec.possible.high, spec.plausible.high)
    if not (math.isfinite(low) and math.isfinite(high)):
        column.problems.append(
            Noted(row, text, "gives a limit, not a value", "Type the value or a range.")
        )
        return
    ends = np.array([low, high])
    # An open end may stand on an excluded limit: "below 900 mm" reaches down to nothing.
    allowed = replace(spec.possible, low_open=spec.possible.low_open and low == high)
    good = bool(_inside(allowed, ends).all())
    if spec.kind == "count" and (low != high or low != math.floor(low)):
        column.problems.append(Noted(row, text, "is not a whole number", _READ_AGAIN))
        return
    share = spec.unit == "1" and own == "%" and quantity.unit is None and 0 < quantity.high <= 1.2
    if share:
        column.problems.append(
            Noted(row, text, "may be a share or a percentage", "Write it in per cent.")
        )
        return
    if not good or not bool(_sound(spec, ends).all()) or own == TONS:
        _note_size(spec, column, row, text, own, high, good)
    if not good:
        return
    if low == high:
        column.values[row] = low
    else:
        column.intervals[row] = (low, high)
    if quantity.approximate:
        column.approximate.add(row)
        column.problems.append(
            Noted(
                row, text, "is marked approximate; it was used", "Measure it if it decides.", True
            )
        )
    both_us = {own, unit} <= {"ft", "in"}
    if quantity.unit is not None and unit is not None and quantity.unit != unit and not both_us:
        if not (spec.unit == "1" and own == "1"):
            column.problems.append(
                Noted(
                    row,
                    text,
                    f"has its own unit ({own}) under a heading in {unit}; the cell's was taken",
                    "Confirm it.",
                    used=True,
                )
            )
    elif quantity.note:
        column.problems.append(Noted(row, text, quantity.note, "Confirm it.", used=True))
