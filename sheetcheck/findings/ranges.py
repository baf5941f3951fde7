"""Ranges of missing numbers at work: which rows and checks each serves, and those that depend."""

from __future__ import annotations

import re
from collections.abc import Mapping

import numpy as np

from ..checks import CHECKS
from ..checks.declare import AT_THE_LIMIT, Check
from ..register.ranges import RANGES, Ends
from .columns import Array, Columns
from .words import Words

__all__ = ["dependent_range", "narrower", "range_changed", "range_words", "ranges_of", "served"]

_PLY = re.compile(r"\s*(EP|NN)(?![A-Za-z])", re.IGNORECASE)
_MODULUS, _FOOTPRINT = "belt_modulus_", "seal_footprint_"


# --- what depends on other inputs ------------------------------------------------------------


def _belts(columns: Columns) -> Array:
    """Name of the modulus range of each register row; empty where the carcass is not known."""
    names = []
    for kind, text in zip(
        columns.get("belt_carcass").tolist(), columns.get("belt_designation").tolist(), strict=True
    ):
        ply = _PLY.match(str(text)) if kind == "fabric" else None
        kind = ply.group(1).casefold() if ply else kind.replace(" ", "_")
        names.append(_MODULUS + kind if kind else "")
    return np.array(names)


def _modulus_shares(columns: Columns) -> tuple[Array, Array]:
    """Ends of the modulus as multiples of rated tension, by register row."""
    every = {name: ends for name, ends in columns.ranges.items() if name.startswith(_MODULUS)}
    lows, highs = zip(*every.values(), strict=True)
    every[""] = (min(lows), max(highs))
    low, high = np.array([every[name] for name in _belts(columns)]).reshape(-1, 2).T
    return low, high


def _modulus(columns: Columns, rows: Array, given: Mapping[str, Array]) -> tuple[Array, Array]:
    low, high = columns.once("modulus shares", lambda: _modulus_shares(columns))
    rated = given["belt_rated_tension"]
    return low[rows] * rated, high[rows] * rated


def _seal(name: str) -> str:
    """Kind of seal, in the register's words, that a footprint range is for."""
    return name.removeprefix(_FOOTPRINT).replace("_", " ")


def _footprint(columns: Columns, rows: Array, given: Mapping[str, Array]) -> tuple[Array, Array]:
    # Compared word by word, whatever the shape: a missing kind comes as one trial after another.
    names = [name for name in columns.ranges if name.startswith(_FOOTPRINT)]
    kinds = [np.equal(given["seal_kind"], _seal(name)) for name in names]
    low, high = (
        np.select(kinds, [columns.ranges[name][end] for name in names], np.nan) for end in (0, 1)
    )
    return low, high


def dependent_range(
    name: str, columns: Columns, rows: Array, given: Mapping[str, Array]
) -> tuple[Array, Array]:
    """Ends of the range of a missing number, in SI, for some register rows.

    Parameters
    ----------
    name
        ``belt_modulus`` or ``seal_footprint``.
    columns, rows
        The register's columns and the rows asked for.
    given
        The check's other inputs in those rows, missing words and numbers filled in.

    Raises
    ------
    KeyError
        For any other field.
    """
    return {"belt_modulus": _modulus, "seal_footprint": _footprint}[name](columns, rows, given)


# --- what a plant changed --------------------------------------------------------------------


def ranges_of(check: Check) -> tuple[str, ...]:
    """Names of the ranges that may stand in for a check's inputs."""
    return tuple(name for name, item in RANGES.items() if set(item.fields) & set(check.inputs))


def checks_of(name: str) -> tuple[str, ...]:
    """Keys of the checks for which a range may stand in."""
    return tuple(key for key, check in CHECKS.items() if name in ranges_of(check))


def served(name: str, columns: Columns) -> Array:
    """Rows in which a range may stand in for what is not recorded.

    What was derived over a range says so itself: those rows are left out.
    """
    field = RANGES[name].fields[0]
    rows = columns.missing(field)
    if field == "belt_modulus":
        rows = rows & np.isin(_belts(columns), (name, ""))
    elif field == "seal_footprint":
        rows = rows & np.isin(columns.get("seal_kind"), (_seal(name), ""))
    return np.zeros(columns.size, bool) if field == "belt_rated_tension" else rows


def range_changed(name: str, ends: Ends) -> bool:
    """Whether either end differs from the default by more than rounding."""
    return any(
        abs(new - old) > AT_THE_LIMIT * abs(old)
        for new, old in zip(ends, RANGES[name].ends, strict=True)
    )


def narrower(name: str, ends: Ends) -> bool:
    """Whether a range leaves out some of the default: then more is judged though it is missing."""
    usual = RANGES[name]
    inside = (ends[0] - usual.low, usual.high - ends[1])
    return any(by > AT_THE_LIMIT * abs(old) for by, old in zip(inside, usual.ends, strict=True))


def range_words(words: Words, name: str, ends: Ends) -> str:
    """Say how a range that was changed stands to the default; empty where it was not changed."""
    if not range_changed(name, ends):
        return ""
    usual = RANGES[name]
    now, before = (
        f"{words.quantity(low, usual.unit)} to {words.quantity(high, usual.unit)}"
        for low, high in (ends, usual.ends)
    )
    text = f"plant range {now} for {usual.meaning} where not recorded, in place of {before}"
    return f"{text}: narrower" if narrower(name, ends) else text
