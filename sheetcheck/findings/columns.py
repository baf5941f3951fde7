"""The register's columns as the checks take them: stand-ins filled, ranges and doubts at hand."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from copy import copy
from typing import Any

import numpy as np

from ..checks.declare import Check
from ..register.fields import FIELDS, Tolerance, tolerance_of
from ..register.ranges import DEFAULTS, Ends
from ..register.register import Register
from .words import Words

__all__ = ["ABSENT", "Array", "Columns", "Tolerances", "missing"]

ABSENT: Any = object()
"""Stands in a column where a row's mapping has no such entry."""

_RATED = "belt_rated_tension"

Array = np.ndarray[Any, Any]
Tolerances = Mapping[str, tuple[Array, Array]]
"""Measured input to the absolute part (SI) and the share of the value of its tolerance, by row."""


def missing(column: Array) -> Array:
    """Rows of a column that hold nothing: NaN in numbers, "" in words."""
    return np.asarray(np.isnan(column) if column.dtype.kind == "f" else np.equal(column, ""))


def _ratio_of(name: str) -> str:
    """The tension ratio that an operating tension gives; any other field itself."""
    return name.replace("_operating_tension", "_tension_ratio")


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
        self._by_tension: dict[str, Array] = {}
        for row, name in register.by_tension:
            self._by_tension.setdefault(name, np.zeros(self.size, bool))[row] = True
        for (row, name), (low, high) in register.intervals.items():
            used = (row, _ratio_of(name)) in register.by_tension
            if (row, name) in register.by_tension or (name != _ratio_of(name) and not used):
                continue  # a ratio moves with the two that it is from
            for ends, value in ((self._low, low), (self._high, high)):
                ends.setdefault(name, np.full(self.size, np.nan))[row] = value
        self._approximate: dict[str, Array] = {}
        self._once: dict[str, Any] = {}
        self._only: dict[str, Array] = {}
        for row, name in register.approximate:
            self._approximate.setdefault(name, np.zeros(self.size, bool))[row] = True

    def by_tension(self, name: str) -> Array:
        """Rows in which a tension ratio is an operating tension over the rated one."""
        other = FIELDS[name].stand_in
        own, general = (self._by_tension.get(n, np.zeros(self.size, bool)) for n in (name, other))
        return np.where(self.stood_in(name), general, own) if other else own

    def _own(self, name: str) -> Array:
        if name.endswith("_operating_tension") and name in self.register.values:
            # A tension counts only where a ratio is from it: a recorded ratio goes before it.
            used = self._by_tension.get(_ratio_of(name), np.zeros(self.size, bool))
            return np.where(used, self.register.values[name], np.nan)
        if name in self.register.values:
            column = self.register.values[name]
            return np.where(self._only[name], column, np.nan) if name in self._only else column
        if FIELDS[name].kind in ("text", "choice"):
            return np.full(self.size, "")
        return np.full(self.size, np.nan)

    def _recorded(self, name: str) -> Array:
        there = ~missing(self._own(name))
        if name in self.register.positions:
            there = there | np.not_equal(self.register.positions[name], "")
        if name in self._low:
            there = there | ~np.isnan(self._low[name])
        return there | self._by_tension[name] if name in self._by_tension else there

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
                ~self._recorded(name)
                & self._recorded(other)
                & (_ratio_of(name) == name or self.stood_in(_ratio_of(name)))
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

    def ranged(self, name: str) -> Array:
        """Rows in which the field is a range."""
        ends = self.interval(name)
        return np.zeros(self.size, bool) if ends is None else ~np.isnan(ends[0])

    def estimated(self, name: str) -> Array:
        """Rows in which the field is a range that was not recorded, but derived over another."""
        rows = np.zeros(self.size, bool)
        rows[[row for row, field in self.register.estimated if field == name]] = True
        return rows & self.ranged(name)

    def seen_by(self, check: Check) -> Columns:
        """As one check reads them: a rating that only gives a ratio counts where it does."""
        ratio = next((name for name in check.fields if name.endswith("_tension_ratio")), "")
        if not ratio or _RATED not in check.optional:
            return self

        def masked() -> Columns:
            view, used = copy(self), self.by_tension(ratio)
            view._once, view._only = {}, {_RATED: used}
            view._low, view._high = (
                {n: np.where(used, c, np.nan) if n == _RATED else c for n, c in ends.items()}
                for ends in (self._low, self._high)
            )
            return view

        found: Columns = self.once(f"seen with {ratio}", masked)
        return found

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

    def read_from(self, name: str, source: str) -> Array:
        """Rows in which an input is measured in the cells of a field: its own, or its stand-in."""
        stood = self.stood_in(name)
        rows = ~self.missing(name) & (~stood if source == name else stood)
        return np.asarray(rows & ~self.by_tension(name))

    def source_name(self, row: int, name: str) -> str:
        """The field whose cell gave this row's value: the field itself or its stand-in."""
        return FIELDS[name].stand_in if self.stood_in(name)[row] else name
