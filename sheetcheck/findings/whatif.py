"""Checks judged again with inputs changed: the one way to ask what other values would give."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from ..checks.declare import Check
from ..register.fields import FIELDS
from .columns import Array, Columns
from .judge import MARGINAL, NOT_JUDGED, SEVERITY, SHORT

if TYPE_CHECKING:
    from .results import CheckResult, Findings

__all__ = ["Change", "Changes", "Worse", "judge_again", "worsened"]

Change = Array | str | float | tuple[float, float]
"""New numbers or words row by row (NaN and "" leave a row as it is), or one number, word or range
(low, high) for all the rows."""
Changes = Mapping[str, Change]


class _Changed(Columns):
    """Some rows of a register's columns, with some of their fields changed."""

    def __init__(self, columns: Columns, rows: Array, changes: Changes) -> None:
        self._columns, self._rows = columns, rows
        self.register, self.ranges, self.words = columns.register, columns.ranges, columns.words
        self.size = len(rows)
        self._once = {}
        self._ranges_set = {n: c for n, c in changes.items() if isinstance(c, tuple)}
        self._set = {
            name: np.broadcast_to(np.asarray(change), self.size)
            for name, change in changes.items()
            if not isinstance(change, tuple)
        }

    def _touched(self, name: str) -> Array | None:
        """Rows in which a field is changed; None where it is in none."""
        if name in self._ranges_set:
            return np.ones(self.size, bool)
        new = self._set.get(name)
        return None if new is None else new == new if new.dtype.kind == "f" else new != ""

    @property
    def further(self) -> Array:
        return self._columns.further[self._rows]

    def has(self, name: str) -> bool:
        return self._columns.has(name) or name in self._set or name in self._ranges_set

    def get(self, parameter: str) -> Array:
        old = self._columns.get(parameter)[self._rows]
        name = parameter.removesuffix("_position").removesuffix("_nominal")
        touched = self._touched(parameter.removesuffix("_stood_in"))
        if parameter.endswith("_stood_in"):
            return old if touched is None else old & ~touched
        touched = self._touched(name)
        if touched is None:
            return old
        wanted, new = old.dtype.kind == "f", self._set.get(name)
        if new is None or (new.dtype.kind == "f") != wanted:
            # A range is no single number; a pulley lift is a number or a word, never both.
            new = np.array(np.nan if wanted else "")
        return np.where(touched, new, old if wanted else old.astype(object))

    def stood_in(self, name: str) -> Array:
        return self.get(f"{name}_stood_in") if FIELDS[name].stand_in else np.zeros(self.size, bool)

    def interval(self, name: str) -> tuple[Array, Array] | None:
        old, touched = self._columns.interval(name), self._touched(name)
        if touched is None:
            return None if old is None else (old[0][self._rows], old[1][self._rows])
        ends = self._ranges_set.get(name, (np.nan, np.nan))
        before: tuple[Any, Any] = (
            (np.nan, np.nan) if old is None else (old[0][self._rows], old[1][self._rows])
        )
        low, high = (np.where(touched, a, b) for a, b in zip(ends, before, strict=True))
        return low, high

    def missing(self, name: str) -> Array:
        old, touched = self._columns.missing(name)[self._rows], self._touched(name)
        return old if touched is None else old & ~touched

    def by_tension(self, name: str) -> Array:
        return self._columns.by_tension(name)[self._rows]

    def estimated(self, name: str) -> Array:
        old, touched = self._columns.estimated(name)[self._rows], self._touched(name)
        return old if touched is None else old & ~touched

    def seen_by(self, check: Check) -> Columns:
        return self

    def approximate(self, name: str) -> Array | None:
        old, touched = self._columns.approximate(name), self._touched(name)
        if old is None or touched is None:
            return None if old is None else old[self._rows]
        return old[self._rows] & ~touched


def judge_again(findings: Findings, key: str, rows: Array, changes: Changes) -> CheckResult:
    """Judge some rows by one check as if inputs had other values than the recorded ones.

    What is missing is bounded, what is measured is guarded, and limits, tolerances and ranges are
    those of the run; a conveyor's further load points stay *not applicable* to checks of the belt.

    Parameters
    ----------
    findings
        The run.
    key
        The check.
    rows
        Register rows, shape (n,), any of them any number of times.
    changes
        Field to what it would be in those rows.

    Returns
    -------
    CheckResult
        Over the n rows, without flip points, assumptions and what only words need.
    """
    from .evaluate import evaluate_check

    check, limits = findings.results[key].check, findings.results[key].limits
    columns = _Changed(findings.columns.seen_by(check), rows, changes)
    return evaluate_check(check, columns, limits, findings.measuring, flips=False, bare=True)


class Worse(NamedTuple):
    """A check that a change makes worse, and its bands: alike where it falls short by more."""

    key: str
    before: str
    after: str

    @property
    def fails(self) -> bool:
        """Whether it falls short and did not before."""
        return self.after == "falls short" != self.before

    @property
    def then(self) -> str:
        """What becomes of it, in a few words."""
        return "by more" if self.before == self.after else f"then {self.after}"

    @property
    def change(self) -> str:
        """From which band to which."""
        return f"{self.before} to {self.after}"


def worsened(findings: Findings, rows: Array, changes: Changes, own: str) -> list[list[Worse]]:
    """Checks other than `own` that changed inputs make worse, for each of `rows`.

    A check that did not apply and then falls short has become worse.
    """
    from .results import BANDS

    found: list[list[Worse]] = [[] for _ in rows]
    for key, result in findings.results.items():
        check = result.check
        if key == own or check.information or not set(changes) & set(check.fields):
            continue
        again = judge_again(findings, key, rows, changes)
        before, after = result.band[rows], again.band
        worse = SEVERITY[after] > SEVERITY[before]
        worse &= np.isin(after, (MARGINAL, SHORT, NOT_JUDGED))
        with np.errstate(invalid="ignore"):
            more = again.relative_margin < result.relative_margin[rows] - 1e-6
        worse |= (before == SHORT) & (after == SHORT) & more
        for at in np.flatnonzero(worse).tolist():
            found[at].append(Worse(key, BANDS[before[at]], BANDS[after[at]]))
    return found
