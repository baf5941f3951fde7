"""Verdicts of many rows at once, attribute by attribute; a single verdict is a run of one row."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import chain, islice
from typing import TYPE_CHECKING, Any

import numpy as np

from ..register.fields import FIELDS
from ..tables import REGULATIONS, source_line
from .columns import ABSENT, Array
from .flips import AT_A_STEP
from .judge import MARGINAL, MEETS, NOT_JUDGED, SHORT, relative
from .jurisdiction import rules_of
from .remedies import MOST_CHARACTERS, remedies
from .words import say

if TYPE_CHECKING:
    from ..checks.declare import Check
    from .results import CheckResult, Findings, Verdict

__all__ = ["VerdictColumns", "dicts", "numbers_of", "significant"]

_TENS = np.array([10.0**power for power in range(309)])


def significant(values: Array, digits: int | None) -> Array:
    """Numbers to so many significant digits; as they are where `digits` is None.

    A power of ten up to 22 and a whole number below 2⁵³ are exact, so their quotient or product
    is the number nearest to the decimal one.
    """
    if digits is None:
        return values
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        places = digits - 1 - np.floor(np.log10(np.abs(values)))
        whole = np.where(np.isfinite(places), places, 0.0).astype(int)
        up, down = _TENS.take(whole, mode="clip"), _TENS.take(-whole, mode="clip")
        tidy = np.rint(values * up / down) / up * down
    return np.where(np.isfinite(tidy), tidy, values)


def numbers_of(
    low: Array,
    high: Array | None = None,
    digits: int | None = None,
    pair: Callable[[Iterable[float]], Any] = tuple,
) -> list[Any]:
    """Numbers as Python has them: None where not finite, a `pair` (low, high) where they differ.

    Without `high` they are no ranges.
    """
    known = np.isfinite(low) if high is None else np.isfinite(low) & np.isfinite(high)
    if not known.any():
        return [None] * len(low)
    tidy = significant(low, digits)
    found = tidy.astype(object)
    found[~known] = None
    if high is not None and (ranged := np.flatnonzero(known & (low != high))).size:
        ends = tidy[ranged].tolist(), significant(high[ranged], digits).tolist()
        for at, least, most in zip(ranged.tolist(), *ends, strict=True):
            if least != most:
                found[at] = pair((least, most))
    items: list[Any] = found.tolist()
    return items


def dicts(columns: Sequence[tuple[str, Sequence[Any]]], size: int) -> list[dict[str, Any]]:
    """Make a mapping of each row, without what is `ABSENT`."""
    if not columns:
        return [{} for _ in range(size)]
    names = [name for name, _ in columns]
    rows = zip(*(column for _, column in columns), strict=True)
    if not any(ABSENT in column for _, column in columns):
        return [dict(zip(names, row, strict=True)) for row in rows]
    return [
        {name: item for name, item in zip(names, row, strict=True) if item is not ABSENT}
        for row in rows
    ]


def _once(columns: Iterable[tuple[str, list[Any]]]) -> list[tuple[str, list[Any]]]:
    """Columns with each name once: a general figure may serve for several fields."""
    found: dict[str, list[Any]] = {}
    for name, column in columns:
        if name in found:
            pairs = zip(column, found[name], strict=True)
            column = [before if item is ABSENT else item for item, before in pairs]
        found[name] = column
    return list(found.items())


def _authorities(
    result: CheckResult, rows: Array, jurisdiction: str
) -> tuple[list[str], list[str]]:
    """Source and grade of what governs each row."""
    cites = [result.check.cite, *(cite for _, cite in result.cites)]
    which = np.zeros(len(rows), np.intp)
    # Of those that hold for a row the first one governs.
    for place in range(len(result.cites), 0, -1):
        which[result.cites[place - 1][0][rows]] = place
    lines = [source_line(cite.key, cite.locator) for cite in cites]
    grades = [cite.grade for cite in cites]
    if result.check.basis == "law" and (own := rules_of(result.check.key, jurisdiction)):
        # What is in force there comes first; the others are comparable.
        lines = [f"{', '.join(own)}; comparable: {line}" for line in lines]
        grades = [REGULATIONS[own[0]]["grade"]] * len(lines)
    chosen = which.tolist()
    return [lines[place] for place in chosen], [grades[place] for place in chosen]


class VerdictColumns:
    """Verdicts on some rows of a register.

    Parameters
    ----------
    findings
        What was judged.
    rows
        Register rows, any number in any order.
    digits
        Significant digits that numbers carry; as computed where not given.
    """

    def __init__(self, findings: Findings, rows: Array, digits: int | None = None) -> None:
        self._findings = findings
        self._every = np.asarray(rows, np.intp)
        self._digits = digits
        self._addresses: dict[str, Array] = {}
        self._reads: dict[tuple[str, bool], list[tuple[str, Array, Array]]] = {}
        self._in_doubt: dict[tuple[str, bool], Array] = {}

    def verdicts(self, key: str, at: Array | None = None) -> list[Verdict]:
        """Verdicts of one check, on all rows or on those at the positions `at`."""
        from .results import Verdict

        return [Verdict(*items) for items in zip(*self.of(key, at).values(), strict=True)]

    def of(self, key: str, at: Array | None = None) -> dict[str, list[Any]]:
        """Attributes of `Verdict`, in its order, each as one list over the rows."""
        from .results import BANDS

        findings, result = self._findings, self._findings.results[key]
        at = np.arange(len(self._every)) if at is None else at
        rows = self._every[at]
        size = len(rows)
        band = result.band[rows]
        ends = {
            name: numbers_of(low[rows], None if high is low else high[rows], self._digits)
            for name, (low, high) in result.ends.items()
        }
        numbers = _once(self._numbers(result, rows))
        judged = (band == MEETS) | (band == MARGINAL) | (band == SHORT)
        plant = findings.ruling.plant
        sources, grades = _authorities(result, rows, plant.jurisdiction if plant else "")
        resting = self._resting(result, at)
        nothing: dict[str, dict[str, str]] = {}  # one for all rows: making each takes its time
        accepted = findings.ruling.accepted
        said = remedies(findings, result, rows, ends | dict(numbers))
        for position, cells in resting.items():
            # Before anything is built.
            first, others, effects = said[position]
            after = (first, *others) if first else ()
            said[position] = self._confirm(int(rows[position]), cells), after, ("", *effects)
        return {
            "key": [key] * size,
            "row": rows.tolist(),
            "band": [BANDS[code] for code in band.tolist()],
            "why": self._why(result, at, resting),
            "found": ends["found"],
            "required": ends["required"],
            "unit": [result.check.unit] * size,
            "margin": ends["margin"],
            "relative_margin": self._relative(result, rows),
            "cells": dicts(_once(self._cells(result, at)), size),
            "assumptions": self._assumptions(result, at, judged),
            "if_known": [result.if_known.get(row, nothing) for row in rows.tolist()],
            "flips_at": dicts(_once(self._flips(result, at)), size),
            "numbers": dicts(numbers, size),
            "source": sources,
            "grade": grades,
            "basis": [result.check.basis] * size,
            "rests_on_doubtful": [tuple(resting.get(at, ())) for at in range(size)],
            "remedy": [first for first, _, _ in said],
            "alternatives": [others for _, others, _ in said],
            "side_effects": [effects for _, _, effects in said],
            "accepted": [accepted.get((key, row), "") for row in rows.tolist()]
            if accepted
            else [""] * size,
        }

    def _doubted(
        self, result: CheckResult, at: Array, used: bool
    ) -> Iterator[tuple[str, int, str, str]]:
        """Inputs with a problem: field, position among the rows, cell, and what is the matter."""
        for name in result.check.fields:
            for source in dict.fromkeys((name, FIELDS[name].stand_in or name)):
                said = self._findings.doubts.get((source, used))
                if said:
                    cells = self._address(source)[at]
                    for position in np.flatnonzero(self._doubtful(source, used)[at]).tolist():
                        yield source, position, cells[position], said[cells[position]]

    def _doubtful(self, source: str, used: bool) -> Array:
        """Rows whose cell of a field has a problem."""
        if (source, used) not in self._in_doubt:
            said = self._findings.doubts[source, used]
            doubtful = [cell in said for cell in self._address(source).tolist()]
            self._in_doubt[source, used] = np.array(doubtful, bool)
        return self._in_doubt[source, used]

    def _resting(self, result: CheckResult, at: Array) -> dict[int, dict[str, str]]:
        """Positions among the rows whose verdict rests on doubtful inputs: field to cell."""
        found: dict[int, dict[str, str]] = {}
        if (rests := self._findings.resting[result.check.key][self._every[at]]).any():
            for source, position, cell, text in self._doubted(result, at, True):
                if rests[position] and "doubtful" in text:
                    found.setdefault(position, {})[source] = cell
        return found

    def _confirm(self, row: int, resting: Mapping[str, str]) -> str:
        """What comes before any remedy of a verdict that rests on doubtful inputs."""
        register, words, said = self._findings.register, self._findings.words, []
        for name, cell in resting.items():
            value, unit = register.value(row, name), FIELDS[name].unit
            ends = value if isinstance(value, tuple) else (value,)
            shown = [words.quantity(x, unit) if isinstance(x, float) else str(x) for x in ends]
            said.append(f"{' to '.join(shown)} in {cell}")
        text = f"Confirm {' and '.join(said)} first."
        return text if len(text) <= MOST_CHARACTERS else "Confirm the doubtful inputs first."

    def _why(
        self, result: CheckResult, at: Array, resting: Mapping[int, Mapping[str, str]]
    ) -> list[str]:
        """Reasons; of what could not be used because of its cell, that cell too."""
        why: list[str] = result.why[self._every[at]].tolist()
        open_rows = result.band[self._every[at]] == NOT_JUDGED
        for source, position, cell, text in self._doubted(result, at, False):
            if open_rows[position]:
                why[position] += f"; {say(source)} in {cell}: {text}"
        for position, cells in resting.items():
            said = ", ".join(dict.fromkeys(cells.values()))
            why[position] += f"; rests on what is doubtful in {said}"
        return why

    def numbers(self, key: str, at: Array | None = None) -> list[dict[str, Any]]:
        """Named extra results: a number, a (low, high) pair, words, or a list."""
        rows = self._every if at is None else self._every[at]
        return dicts(self._numbers(self._findings.results[key], rows), len(rows))

    def _numbers(self, result: CheckResult, rows: Array) -> list[tuple[str, list[Any]]]:
        columns: list[tuple[str, list[Any]]] = []
        for name, (low, high) in result.numbers.items():
            columns.append((name, self._pairs(low[rows], None if high is low else high[rows])))
        for name, column in result.more.items():
            columns.append((name, self._known(column[rows])))
        uncertain = ~np.isnan(result.uncertainty[rows])
        if uncertain.any():
            column = significant(result.uncertainty[rows], self._digits).astype(object)
            column[~uncertain] = ABSENT
            columns.append(("measuring_uncertainty", column.tolist()))
        return columns

    def _pairs(self, low: Array, high: Array | None) -> list[Any]:
        if low.dtype.kind in "fiu":
            ends = low.astype(float), None if high is None else high.astype(float)
            return numbers_of(*ends, self._digits, pair=list)
        if high is None:
            items: list[Any] = low.tolist()
            return items
        return [a if a == b else None for a, b in zip(low.tolist(), high.tolist(), strict=True)]

    def _known(self, column: Array) -> list[Any]:
        """Items that are known, single or a list each."""
        if column.dtype.kind != "f":
            return self._lists(column.tolist())
        known = np.isfinite(column).reshape(len(column), -1).min(axis=1)
        items = significant(column, self._digits).tolist()
        return [item if good else ABSENT for item, good in zip(items, known.tolist(), strict=True)]

    def _lists(self, items: Sequence[list[float] | None]) -> list[Any]:
        """Lists that are known, the numbers of all of them made tidy at once."""
        every = np.array(list(chain.from_iterable(item or () for item in items)), float)
        tidy = iter(significant(every, self._digits).tolist())
        lists = [None if item is None else list(islice(tidy, len(item))) for item in items]
        return [ABSENT if x is None or not all(map(math.isfinite, x)) else x for x in lists]

    def _relative(self, result: CheckResult, rows: Array) -> list[Any]:
        """Margin ÷ required; the least and the greatest where either is a range."""
        (low, high), (least, most) = (
            (ends[0][rows], ends[1][rows])
            for ends in (result.ends["margin"], result.ends["required"])
        )
        found = numbers_of(relative(low, least), digits=self._digits)
        ranged = np.flatnonzero((low < high) | (least < most))
        if len(ranged):
            low, high, least, most = low[ranged], high[ranged], least[ranged], most[ranged]
            with np.errstate(divide="ignore", invalid="ignore"):
                shares = np.array([low / least, low / most, high / least, high / most])
            shares[:, ~(least > 0)] = np.nan  # a share of nothing, or of a range about it
            pairs = np.array([shares.min(axis=0), shares.max(axis=0)]).T
            known = np.isfinite(pairs).all(axis=1).tolist()
            for at, good, pair in zip(
                ranged.tolist(), known, significant(pairs, self._digits).tolist(), strict=True
            ):
                found[at] = tuple(pair) if good else None
        return found

    def _read(self, check: Check, name: str) -> list[tuple[str, Array, Array]]:
        """Give the fields that an input is read from, each with its rows and their cells."""
        columns, rows = self._findings.columns.seen_by(check), self._every
        key = name, columns is self._findings.columns
        if key not in self._reads:
            there, stood = ~columns.missing(name)[rows], columns.stood_in(name)[rows]
            self._reads[key] = [
                (source, served, np.where(served, self._address(source), ABSENT))
                for source, served in (
                    (name, there & ~stood),
                    (FIELDS[name].stand_in, there & stood),
                )
                if served.any()
            ]
        return self._reads[key]

    def _measured(self, check: Check) -> Iterator[tuple[str, Array, Array]]:
        """As `_read`, of every input: without ratios that two others give."""
        for name in check.fields:
            for source, there, cells in self._read(check, name):
                there = there & ~self._findings.columns.by_tension(name)[self._every]
                yield source, there, np.where(there, cells, ABSENT)

    def _cells(self, result: CheckResult, at: Array) -> Iterator[tuple[str, list[Any]]]:
        for source, there, cells in self._measured(result.check):
            if there[at].any():
                yield source, cells[at].tolist()

    def _address(self, name: str) -> Array:
        if name not in self._addresses:
            cells = self._findings.register.cells.addresses(self._every.tolist(), name)
            column = np.array([ABSENT if cell is None else cell for cell in cells], object)
            self._addresses[name] = column
        return self._addresses[name]

    def _assumptions(self, result: CheckResult, at: Array, judged: Array) -> list[tuple[str, ...]]:
        """Everything that was assumed, bounded, doubted or not compared."""
        rows = self._every[at]
        said: list[tuple[str, ...]] = [()] * len(rows)
        for source, position, cell, text in self._doubted(result, at, True):
            if judged[position]:
                said[position] += (f"{say(source)} in {cell}: {text}",)
        for source, position, cell, text in self._doubted(result, at, False):
            # Not compared, and not for want of a value: its cell could not be used.
            if judged[position]:
                said[position] += (f"{say(source)} in {cell}: {text}",)
        for mask, text in (*result.assumed, *result.notes):
            for position in np.flatnonzero(mask[rows] & judged).tolist():
                said[position] += (text,)
        if result.assumptions:
            for position in np.flatnonzero(judged).tolist():
                said[position] += tuple(result.assumptions.get(int(rows[position]), ()))
        register = self._findings.register
        for name in result.check.fields:
            for source, there, _ in self._read(result.check, name):
                if source in register.derived_fields:
                    for position in np.flatnonzero(there[at] & judged).tolist():
                        how = register.derived.get((int(rows[position]), source))
                        said[position] += (how,) if how else ()
        return [tuple(dict.fromkeys(texts)) if len(texts) > 1 else texts for texts in said]

    def _flips(self, result: CheckResult, at: Array) -> Iterator[tuple[str, list[Any]]]:
        for name, column in result.flips.items():
            values = column[self._every[at]]
            none = np.isnan(values)
            shown = np.full(len(at), None)
            if not none.all():
                shown = significant(values, self._digits).astype(object)
                shown[none] = None
                shown[values == AT_A_STEP] = "at a table step"
            for source, there, _ in self._read(result.check, name):
                there = there & ~self._findings.columns.by_tension(name)[self._every]
                if there[at].any():
                    yield source, np.where(there[at], shown, ABSENT).tolist()
