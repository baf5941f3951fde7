"""A column in the form the register holds it, and what is said of its cells."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ..register.fields import Field
from .grid import Fault

__all__ = ["Column", "Noted", "brief", "fault"]


@dataclass(frozen=True, slots=True)
class Noted:
    """A problem with one cell of a column; ``row`` counts within the column."""

    row: int
    text: str
    problem: str
    what_to_do: str
    used: bool = False
    whole: bool = False
    """Whether it is about the column, so that its cells are best listed together."""


@dataclass
class Column:
    """A column in the form the register holds it."""

    values: np.ndarray[Any, Any]
    positions: np.ndarray[Any, Any] | None = None
    intervals: dict[int, tuple[float, float]] = field(default_factory=dict)
    approximate: set[int] = field(default_factory=set)
    notes: dict[int, str] = field(default_factory=dict)
    problems: list[Noted] = field(default_factory=list)
    placeholders: int = 0

    def take_out(self, row: int) -> bool:
        """Make the value of a row missing; whether there was one."""
        words = self.values.dtype.kind == "U"
        there = bool(self.values[row] != "") if words else not np.isnan(self.values[row])
        self.values[row] = "" if words else np.nan
        if self.positions is not None:
            there |= bool(self.positions[row])
            self.positions[row] = ""
        there |= self.intervals.pop(row, None) is not None
        self.approximate.discard(row)
        return there


def fault(row: int, value: Fault) -> Noted:
    """Problem of a cell without a usable value."""
    return Noted(row, value.text, value.problem, value.what_to_do)


def brief(spec: Field) -> str:
    """Meaning of a field without what is added after a comma."""
    return re.split("[,;]", spec.meaning)[0]
