"""Values that hardly can be right, alone or together, in SI; knows no workbook.

They settle no unit that was not written: the spans that the fields declare do, so that no bound
here makes a unit look certain.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ..data import rows
from ..units import factor
from .fields import FIELDS, span
from .ranges import LEAST_STRENGTH_TO_RATING
from .register import Problem, Register, split_reference

__all__ = ["doubt_pairs", "doubt_values", "drop_absurd", "drop_strength_as_rating"]

Numbers = np.ndarray[Any, Any]


def _bound(text: str, other: Numbers) -> Numbers:
    """Bound on one field by another: ``1.6 + 0.2`` is 1.6 times it and 0.2 more."""
    times, _, more = text.partition(" + ")
    return float(times or "nan") * other + float(more or 0)


def _shown(register: Register, row: int, name: str) -> str:
    """Give a value in the unit of its own column, as it stands in the source."""
    value = register.value(row, name)
    if not isinstance(value, float):
        return str(value)
    sheet, _ = split_reference(register.cells.address(row, name) or "")
    si = FIELDS[name].unit
    unit = register.unit_of.get((sheet, name), si)
    return f"{value / (factor(unit, si) or 1.0):.6g} {unit if unit != '1' else ''}".strip()


def _problem(
    register: Register, row: int, names: tuple[str, str], text: str, todo: str, used: bool
) -> Problem:
    references = [register.cells.address(row, name) for name in names]
    sheet = register.cells.main(row)[0]
    cells = []
    for reference in filter(None, references):
        own, cell = split_reference(reference)
        cells.append(cell if own == sheet else reference)
    shown = " and ".join(_shown(register, row, name) for name in names)
    return Problem(sheet, tuple(cells), names[0], shown, text, todo, used)


_SIZES = {field.key: field.size for field in FIELDS.values() if field.size}
# Doubted as they are read, by the spans that their fields declare; absurd by the same.
_STATED = {
    name: (FIELDS[name].plausible.low, FIELDS[name].plausible.high)
    for name in ("belt_width", "belt_speed")
}
_ABSURD = 10.0


def drop_absurd(register: Register) -> None:
    """Take out values ten times beyond what a plant would hardly have: a slipped unit, surely.

    Nothing is kept where it may be so: a belt may be clean, and plate be thin. Where less is
    worse, however little is kept and doubted: without it a check could pass.
    """
    for name, (low, high) in {**_SIZES, **_STATED}.items():
        column = register.values.get(name)
        if column is None or low < 0:
            continue
        with np.errstate(invalid="ignore"):
            beyond = (column < low / _ABSURD) & (FIELDS[name].small != "worse")
            beyond |= column > high * _ABSURD
            if FIELDS[name].small == "may be nothing":
                beyond &= column != 0
        for row in np.flatnonzero(beyond).tolist():
            text = (
                f"is no {name.replace('_', ' ')} (mostly {low:g} to {high:g} {FIELDS[name].unit})"
            )
            new = _single(register, row, name, f"{text}; it was not used", False)
            # In place of a problem that says of the same cell that it was used.
            register.problems[:] = [
                old
                for old in register.problems
                if (old.sheet, old.cells, old.field, old.used)
                != (new.sheet, new.cells, name, True)
            ]
            register.problems.append(new)
            column[row] = np.nan
            register.approximate.discard((row, name))


def _single(register: Register, row: int, name: str, text: str, used: bool) -> Problem:
    reference = register.cells.address(row, name)
    sheet, cell = register.cells.main(row)[0], ""
    if reference:
        sheet, cell = split_reference(reference)
    cells = (cell,) if cell else ()
    todo = "Confirm or correct it, or its unit." if used else "Correct the cell, or its unit."
    return Problem(sheet, cells, name, _shown(register, row, name), text, todo, used)


def doubt_values(register: Register) -> None:
    """Add a problem for each value that a plant would hardly have; it is used."""
    for name, (low, high) in _SIZES.items():
        column = register.values.get(name)
        # A chute is doubted against its belt, which tells more.
        if column is None or name == "chute_width_inside":
            continue
        with np.errstate(invalid="ignore"):
            # Material may land without a drop.
            least = (column < low) & ((name != "drop_height") | (column != 0))
            rows = np.flatnonzero(least | (column > high))
        unit = FIELDS[name].unit
        for row in rows.tolist():
            words = name.replace("_", " ")
            text = f"is doubtful as {words} (mostly {low:g} to {high:g} {unit}); it was used"
            register.problems.append(_single(register, row, name, text, True))


def doubt_pairs(register: Register) -> None:
    """Add a problem for each pair of values that hardly go together; both are used."""
    # Common practice, no published source [C]: wide enough that a plant's own values pass.
    for pair in rows(__package__, "doubtful_pairs.csv"):
        names = pair["field"], pair["other"]
        one, other = (register.values.get(name) for name in names)
        if one is None or other is None:
            continue
        with np.errstate(invalid="ignore"):
            doubtful = (one < _bound(pair["least"], other)) | (one > _bound(pair["most"], other))
            doubtful &= span(pair["where"] or "..").holds(other)
            found = np.flatnonzero(doubtful & ~np.isnan(one) & ~np.isnan(other))
        for row in found.tolist():
            register.problems.append(
                _problem(
                    register,
                    row,
                    names,
                    f"are doubtful together: {pair['problem']}; both were used",
                    "Confirm or correct them and their units.",
                    True,
                )
            )


def drop_strength_as_rating(register: Register) -> None:
    """Take out a rated tension above a quarter of the belt's breaking strength.

    No belt is rated so: the breaking strength was most likely written as the rating, and a tension
    check against it would pass almost anything. Common practice, no published source.
    """
    rated = register.values.get("belt_rated_tension")
    nominal = register.values.get("belt_nominal_strength")
    if rated is None or nominal is None:
        return
    with np.errstate(invalid="ignore"):
        rows = np.flatnonzero(rated > nominal / LEAST_STRENGTH_TO_RATING)
    names = ("belt_rated_tension", "belt_nominal_strength")
    for row in rows.tolist():
        register.problems.append(
            _problem(
                register,
                row,
                names,
                "the rated tension is above a quarter of the breaking strength; the rating was "
                "not used",
                "Correct whichever is wrong: a breaking strength is no rating.",
                False,
            )
        )
        rated[row] = np.nan
        register.approximate.discard((row, "belt_rated_tension"))
        register.derived.pop((row, "belt_rated_tension"), None)
