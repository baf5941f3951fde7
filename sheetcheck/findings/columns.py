"""The register's columns as the checks take them: stand-ins filled, ranges and doubts at hand."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from ..register.fields import FIELDS, Tolerance, tolerance_of
from ..register.ranges import DEFAULTS, Ends
from ..register.register import Register
from .words import Words

__all__ = ["ABSENT", "Array", "Columns", "Tolerances", "missing"]

ABSENT: Any = object()
"""Stands in a column where a row's mapping has no such entry."""

Array = np.ndarray[Any, Any]
Tolerances = Mapping[str, tuple[Array, Array]]
"""Measured input to the absolute part (SI) and the share of the value of its tolerance, by row."""


def missing(column: Array) -> Array:
    """Rows of a column that hold nothing: NaN in numbers, "" in words."""
    return np.asarray(np.isnan(column) if column.dtype.kind == "f" else np.equal(column, ""))


class Columns:
    """Columns of one register, by the names of a check's parameters.

    Parameters
    ----------
    register
        The register; not changed.
    ranges
        Ends of ranges over which missing numbers are bounded, in place of the defaults.
    """

    def __init__(self, register: Register, ranges: Mapping[str, Ends] | None = None) -> None:
        self.register = register
        self.ranges: Mapping[str, Ends] = {**DEFAULTS, **(ranges or {})}
        self.size = len(register)
        self.words = Words(register)
        self._low: dict[str, Array] = {}
        self._high: dict[str, Array] = {}
        for (row, name), (low, high) in register.intervals.items():
            for ends, value in ((self._low, low), (self._high, high)):
                ends.setdefault(name, np.full(self.size, np.nan))[row] = value
        self._approximate: dict[str, Array] = {}
        self._once: dict[str, Any] = {}
        for row, name in register.approximate:
            self._approximate.setdefault(name, np.zeros(self.size, bool))[row] = True

    def _own(self, name: str) -> Array:
        if name in self.register.values:
            return self.register.values[name]
        if FIELDS[name].kind in ("text", "choice"):
            return np.full(self.size, "")
        return np.full(self.size, np.nan)

    def _recorded(self, name: str) -> Array:
        there = ~missing(self._own(name))
        if name in self.register.positions:
            there = there | np.not_equal(self.register.positions[name], "")
        if name in self._low:
            there = there | ~np.isnan(self._low[name])
        return there

    @property
    def further(self) -> Array:
        """Rows that are a further load point of a conveyor."""
        return np.asarray(self.register.first_row != np.arange(self.size))

    def has(self, name: str) -> bool:
        """Whether any row may hold the field."""
        return self.register.has(name)

    def once(self, key: str, make: Callable[[], Any]) -> Any:
        """What `make` gives, made once for this register and kept; not to be changed."""
        if key not in self._once:
            self._once[key] = make()
        return self._once[key]

    def stood_in(self, name: str) -> Array:
        """Rows in which the field's general figure serves for it."""
        other = FIELDS[name].stand_in
        found: Array = self.once(
            f"{name} stood in",
            lambda: (
                ~self._recorded(name) & self._recorded(other)
                if other
                else np.zeros(self.size, bool)
            ),
        )
        return found

    def get(self, parameter: str) -> Array:
        """Column for a check's parameter, one value a row; NaN or "" where missing or a range."""
        if parameter.endswith("_position"):
            name = parameter.removesuffix("_position")
            return self.register.positions.get(name, np.full(self.size, ""))
        if parameter.endswith("_stood_in"):
            return self.stood_in(parameter.removesuffix("_stood_in"))
        name = parameter.removesuffix("_nominal")
        other = FIELDS[name].stand_in
        if not other:
            return self._own(name)
        found: Array = self.once(
            name, lambda: np.where(self.stood_in(name), self._own(other), self._own(name))
        )
        return found

    def interval(self, name: str) -> tuple[Array, Array] | None:
        """Ends of the ranges recorded for a field, NaN where it is none; None if it has none."""
        other = FIELDS[name].stand_in
        if other not in self._low:
            return None if name not in self._low else (self._low[name], self._high[name])
        use = self.stood_in(name)
        low, high = (
            np.where(use, column[other], column.get(name, np.nan))
            for column in (self._low, self._high)
        )
        return low, high

    def missing(self, name: str) -> Array:
        """Rows with no value, no word and no range for the field, stand-in included."""
        found: Array = self.once(
            f"{name} missing", lambda: ~(self._recorded(name) | self.stood_in(name))
        )
        return found

    def tolerance(self, name: str, measuring: Mapping[str, Tolerance]) -> tuple[Array, Array]:
        """Measuring tolerance of each row: its absolute part (SI) and its share of the value."""
        usual = tolerance_of(name, measuring)
        relative = np.full(self.size, usual.relative)
        marked = self.approximate(name)
        if marked is not None and FIELDS[name].measuring:
            rough = measuring["approximate"].relative
            relative = np.where(marked, np.maximum(relative, rough), relative)
        return np.full(self.size, usual.absolute), relative

    def approximate(self, name: str) -> Array | None:
        """Rows whose value is marked approximate; None if there are none."""
        own, other = self._approximate.get(name), self._approximate.get(FIELDS[name].stand_in)
        if other is None:
            return own
        return np.where(self.stood_in(name), other, False if own is None else own)

    def source_name(self, row: int, name: str) -> str:
        """The field whose cell gave this row's value: the field itself or its stand-in."""
        return FIELDS[name].stand_in if self.stood_in(name)[row] else name
