"""Which recorded words a verdict turns on: its check is asked again with each put right.

A number that decides needs no such search: it stands against what is required. Of what is recorded
in words, no declaration says which word went against a conveyor, nor beside which others.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np

from ..register.fields import FIELDS
from .judge import MARGINAL, SEVERITY, SHORT
from .results import CheckResult, Findings, Verdict
from .whatif import judge_again

__all__ = ["Deciders"]

Array = np.ndarray[Any, Any]
_NONE = "none"


class Deciders:
    """What in words decides each verdict that falls short or is marginal.

    Parameters
    ----------
    findings
        What was judged.
    """

    def __init__(self, findings: Findings) -> None:
        self._findings = findings
        self._of: dict[str, dict[int, tuple[str, ...]]] = {}

    def of(self, verdict: Verdict) -> tuple[str, ...]:
        """Fields whose recorded word decides a verdict; empty where a number does."""
        if verdict.band not in ("falls short", "marginal"):
            return ()
        if verdict.key not in self._of:
            self._of[verdict.key] = _deciders(self._findings, verdict.key)
        return self._of[verdict.key].get(verdict.row, ())


class _Other(NamedTuple):
    """Another value of an input, and the rows that could have it instead of theirs."""

    rows: Array
    value: float | str


def _nays(name: str, column: Array) -> Iterator[_Other]:
    """In place of a "no", a "none" or a nought."""
    field = FIELDS[name]
    if field.kind in ("yes/no", "count"):
        yield _Other(column == 0, 1.0)
    elif _NONE in field.choices:
        yield from (_Other(column == _NONE, word) for word in field.choices if word != _NONE)


_Search = Callable[["_Asked"], Iterator[tuple[str, Array]]]


def _deciders(findings: Findings, key: str) -> dict[int, tuple[str, ...]]:
    """Row to the inputs that decide it, those first in which what was found mostly stands."""
    result = findings.results[key]
    left = np.flatnonzero(np.isin(result.band, (MARGINAL, SHORT)))
    decided: dict[int, list[str]] = {}
    searches: tuple[_Search, ...] = (_wanting, _unwanted, _of_another_word)
    for search in searches:
        if not len(left):
            break
        for name, helped in search(_Asked(findings, result, left)):
            for row in left[helped].tolist():
                decided.setdefault(row, []).append(findings.columns.source_name(row, name))
        left = np.array([row for row in left.tolist() if row not in decided], np.intp)
    return {row: tuple(dict.fromkeys(names)) for row, names in decided.items()}


def _wanting(asked: _Asked) -> Iterator[tuple[str, Array]]:
    """Each "no", "none" or nought that decides, found with those before it put right.

    Of two that are both wanting the reason names one; only once that is put right the other shows.
    """
    for name in asked.names:
        best, helped = asked.better(name, _nays(name, asked.given[name]), another_reason=True)
        if helped.any():
            asked.put({name: best})
            yield name, helped


def _unwanted(asked: _Asked) -> Iterator[tuple[str, Array]]:
    """Each "yes" of inputs that all ask for what may be out of place, as a crowned pulley."""
    names = [name for name in asked.check.found_in if name in asked.names]
    if all(FIELDS[name].kind == "yes/no" for name in names):
        there = {name: asked.given[name] == 1 for name in names}
        none = {name: np.where(there[name], 0.0, asked.given[name]) for name in names}
        helped = asked.helps(none)
        yield from ((name, helped & there[name]) for name in names)


def _of_another_word(asked: _Asked) -> Iterator[tuple[str, Array]]:
    """Each word in place of which another one would be better, of a check that has no numbers."""
    if not asked.check.unit:
        for name in asked.names:
            words = FIELDS[name].choices
            column = asked.given[name]
            others = [_Other((column != word) & (column != ""), word) for word in words]
            yield name, asked.better(name, others)[1]


class _Asked:
    """A check asked about some rows, as they are and with inputs put right."""

    def __init__(self, findings: Findings, result: CheckResult, rows: Array) -> None:
        self.check = result.check
        self._findings, self._rows = findings, rows
        self.given = {n: findings.columns.get(n)[rows] for n in result.check.fields}
        self._put: dict[str, Array] = {}
        self._now = self._judged({})

    @property
    def names(self) -> list[str]:
        """Inputs, those first in which what was found mostly stands."""
        ordered = dict.fromkeys((*self.check.found_in, *self.check.fields))
        return [name for name in ordered if name in self.check.fields]

    def _judged(self, changed: Mapping[str, Array]) -> CheckResult:
        return judge_again(self._findings, self.check.key, self._rows, {**self._put, **changed})

    def better(
        self, name: str, others: Iterable[_Other], *, another_reason: bool = False
    ) -> tuple[Array, Array]:
        """An input with the first of its other values that helps, and the rows that have it."""
        column = self.given[name]
        best, helped = column, np.zeros(len(column), bool)
        for other in others:
            may = other.rows & ~helped
            if may.any():
                changed = {name: np.where(may, other.value, column)}
                helps = may & self.helps(changed, another_reason=another_reason)
                best, helped = np.where(helps, other.value, best), helped | helps
        return best, helped

    def helps(self, changed: Mapping[str, Array], *, another_reason: bool = False) -> Array:
        """Rows that other columns make better, and not by their numbers.

        Another reason for the same band is better only where that is asked for.
        """
        before, after = self._now, self._judged(changed)
        helps = SEVERITY[after.band] < SEVERITY[before.band]
        if another_reason:
            alike = SEVERITY[after.band] == SEVERITY[before.band]
            helps |= alike & (before.why != after.why)
        for name in ("found", "required"):
            for old, new in zip(before.ends[name], after.ends[name], strict=True):
                helps &= np.isnan(old) | (old == new)
        return np.asarray(helps)

    def put(self, changed: Mapping[str, Array]) -> None:
        """Go on from other columns."""
        self.given |= changed
        self._put |= changed
        self._now = self._judged({})
