"""Flip points: the value of one measured input at which the band changes, the others held.

Found by evaluating the check itself: a scan outward from the present value brackets the nearest
change of band, and the distance to the edge of the band is then driven to zero inside the bracket.
Every input of every row is one problem; the problems of a check go through it together.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np

from ..checks.declare import Check
from ..register.fields import FIELDS
from .columns import Array, Columns, Tolerances
from .judge import (
    MARGINAL,
    MEETS,
    SEVERITY,
    SHORT,
    Edges,
    Judgement,
    edges,
    severities,
)

__all__ = ["AT_A_STEP", "flip_points"]

AT_A_STEP = np.inf
"""Stands in a flip column for "at a table step": the present value lies on one."""

# How far the scan looks, as shares of the present value: near it first, and further out where the
# band holds that far. Downward it ends at zero, but for what may lie below zero.
_NEAR = np.array([0.03, 0.1, 0.2, 0.25, 0.33, 0.5])
_FAR = np.array([1.0, 2.0, 5.0, 20.0, 200.0])
_TO_ZERO = np.array([0.667, 0.833, 0.952, 0.995, 1.0])
# Of a table row that is chosen by several inputs the window may be narrow, and lie anywhere.
_DENSE = np.concatenate([np.arange(0.02, 1.0, 0.02), np.arange(1.0, 3.0, 0.05), _FAR[2:]])
_SECANTS = 3
_ROUNDS = 60
_ASIDE = 4e-9
"""A guess is tried this share to either side, wide enough to step over the at-the-limit slack."""
_CLOSE = 1e-8
_NEAR_STEP = 1e-7
_CHUNK = 400_000

_JUDGED = tuple(SEVERITY[band] for band in (MEETS, MARGINAL, SHORT))

Edge = Callable[[Array, Array], tuple[Array, Array]]
"""Values and problems to distance from the edge of the band, and whether the band is still it."""


class _Changes(NamedTuple):
    """Changes of band, one column entry each: register row, and input by number.

    The band changes between `inner`, where it is still the present one, and `outer`, where its
    severity is `after`. On that side the scan looks no further than `last`.
    """

    rows: Array
    which: Array
    present: Array
    inner: Array
    outer: Array
    after: Array
    last: Array

    def at(self, some: Any) -> _Changes:
        return _Changes(*(column[some] for column in self))


class _Probe:
    """A check at other values of one of its inputs than the recorded one."""

    def __init__(
        self,
        check: Check,
        columns: Mapping[str, Array],
        tolerances: Tolerances,
        limits: Mapping[str, float],
        base: Judgement,
        names: list[str],
    ) -> None:
        self.check, self.columns, self.limits, self.base = check, columns, limits, base
        self.tolerances, self.names = tolerances, names
        self.severity = SEVERITY[base.band]

    def _rows(self, rows: Array) -> tuple[dict[str, Array], tuple[Any, ...]]:
        """Columns, and measuring uncertainty as it is at the recorded values."""
        given = {parameter: column[rows] for parameter, column in self.columns.items()}
        guards = tuple(guard[rows] if np.ndim(guard) else guard for guard in self.base.guards)
        return given, guards

    def severities(self, name: str, rows: Array, values: Array) -> Array:
        """Severity of the bands at `values` (trials × rows) of one input."""
        given, guards = self._rows(rows)
        for parameter in {name, f"{name}_nominal"} & given.keys():
            given[parameter] = values
        # The uncertainty changes little on the way: here the one at the recorded values will do.
        return severities(self.check, given, self.limits, guards)

    def edges(self, rows: Array, which: Array, values: Array, fresh: bool) -> Edges:
        """Edges at one value of one input a row; `fresh`: with the uncertainty as it is there."""
        given, guards = self._rows(rows)
        for number, name in enumerate(self.names):
            here = which == number
            for parameter in {name, f"{name}_nominal"} & given.keys():
                given[parameter] = np.where(here, values, given[parameter])
        if not fresh:
            return edges(self.check, given, {}, self.limits, guards)
        moved = {name: (a[rows], b[rows]) for name, (a, b) in self.tolerances.items()}
        return edges(self.check, given, moved, self.limits)


def flip_points(
    check: Check,
    columns: Columns,
    rows: Array,
    base: Judgement,
    tolerances: Tolerances,
    limits: Mapping[str, float],
) -> dict[str, Array]:
    """Nearest value of each measured input at which the band changes.

    Parameters
    ----------
    check, columns, limits
        As for `judge`.
    rows
        Register rows to look at, those whose inputs are single values.
    base
        Judgement of all register rows as recorded.
    tolerances
        Of the measured inputs, in every register row.

    Returns
    -------
    dict
        Field to a column as long as the register: NaN where nothing flips, `AT_A_STEP` at a table
        step.
    """
    names = [name for name in check.fields if FIELDS[name].measuring]
    flips = {name: np.full(columns.size, np.nan) for name in names}
    given = {name: columns.get(name) for name in check.parameters}
    probe = _Probe(check, given, tolerances, limits, base, names)
    judged = rows[np.isin(probe.severity[rows], _JUDGED)]
    found = [changes for changes in _scan(probe, judged) if len(changes.rows)]
    if not found:
        return flips
    every = _Changes(*map(np.concatenate, zip(*found, strict=True)))
    step = _CHUNK // (3 + 2 * len(tolerances))
    roots = np.concatenate(
        [
            _solve(probe, every.at(slice(start, start + step)))
            for start in range(0, len(every.rows), step)
        ]
    )
    # Where the band changes on both sides, the nearer one is written last and stays.
    away = np.where(roots == AT_A_STEP, 0.0, np.abs(roots - every.present))
    order = np.argsort(-np.where(np.isnan(away), np.inf, away), kind="stable")
    for number, name in enumerate(names):
        here = order[every.which[order] == number]
        flips[name][every.rows[here]] = _rounded(roots[here])
    return flips


def _rounded(values: Array) -> Array:
    """To 9 significant digits, so that a row's company cannot show in its last ones."""
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = 10.0 ** (8 - np.floor(np.log10(np.abs(values))))
        rounded = np.round(values * scale) / scale
    # What is nothing but for the last digits of a search is no size at which a band changes.
    rounded = np.where((values != 0) & (np.abs(values) < 1e-12), np.nan, rounded)
    return np.where(np.isfinite(rounded) | (np.abs(values) < 1e-12), rounded, values)


def _scan(probe: _Probe, rows: Array) -> Iterator[_Changes]:
    """Look outward from the present value of every input, near it first."""
    for which, name in enumerate(probe.names):
        recorded = rows[~np.isnan(probe.columns[name][rows])]
        down = _FAR if FIELDS[name].possible.low < 0 else _TO_ZERO
        shares = [(_NEAR, _NEAR), (_FAR, down)]
        if name in probe.check.steps:
            # A step of a table may lie anywhere, so all is looked at in one go.
            near, far = (_NEAR, _FAR) if probe.check.steps[name] else (_DENSE[:-3], _DENSE[-3:])
            shares = [(np.concatenate([near, far]), np.unique(np.concatenate([near, down])))]
        size = _CHUNK // (4 * len(_NEAR))
        for start in range(0, len(recorded), size):
            left = recorded[start : start + size]
            inside = 0.0
            for up, down in shares:
                if len(left):
                    left = yield from _look(probe, which, left, (up, down), inside)
                inside = up[-1]


def _look(
    probe: _Probe, which: int, rows: Array, shares: tuple[Array, Array], inside: float
) -> Generator[_Changes, None, Array]:
    """Yield the nearest changes of band at some shares of the present values.

    At the share `inside` of the present value, on either side, the band is known to hold. Returns
    the rows in which it holds at all the others too.
    """
    name = probe.names[which]
    span, steps = FIELDS[name].possible, probe.check.steps.get(name, ())
    least = span.low + 1e-9 if span.low_open else span.low
    present = probe.columns[name][rows]
    scale = np.where(present == 0, 1.0, np.abs(present))
    beside = np.array([[step * (1 + s * _NEAR_STEP)] for step in steps for s in (-1, 1)])

    def outward(share: Any, sign: int) -> Array:
        away = present + sign * scale * np.reshape(share, (-1, 1))
        return np.asarray(np.clip(away, least, span.high))

    above, below = outward(shares[0], 1), outward(shares[1], -1)
    if steps:
        above = np.sort(np.concatenate([above, np.maximum(beside, present)]), axis=0)
        below = np.sort(np.concatenate([below, np.minimum(beside, present)]), axis=0)[::-1]
    after = probe.severities(name, rows, np.concatenate([above, below]))
    changed = (after != probe.severity[rows]) & np.isin(after, _JUDGED)
    column = np.arange(len(rows))
    sides = []
    for sign, values, turned, has in (
        (1, above, after[: len(above)], changed[: len(above)]),
        (-1, below, after[len(above) :], changed[len(above) :]),
    ):
        first = np.argmax(has, axis=0)
        inner = np.concatenate([outward(inside, sign), values])[first, column]
        outer = values[first, column]
        last = outward(_FAR[-1], sign)[0]
        found = _Changes(
            rows, np.full(len(rows), which), present, inner, outer, turned[first, column], last
        )
        far = np.where(has[first, column], np.abs(outer - present), np.inf)
        sides.append((found, np.abs(inner - present), far))
    (up, up_near, up_far), (down, down_near, down_far) = sides
    # Both sides where it cannot be told yet which change is the nearer one.
    yield up.at(np.isfinite(up_far) & (up_near < down_far))
    yield down.at(np.isfinite(down_far) & (down_near < up_far))
    return rows[np.isinf(up_far) & np.isinf(down_far)]


def _solve(probe: _Probe, changes: _Changes) -> Array:
    """Value at which each of the changes happens."""
    band = probe.severity[changes.rows]
    meets, short = SEVERITY[MEETS], SEVERITY[SHORT]
    by_meets = (band == meets) | ((changes.after == meets) & (band != short))

    def edge(fresh: bool) -> Edge:
        def at(guess: Array, problems: Array) -> tuple[Array, Array]:
            result = probe.edges(changes.rows[problems], changes.which[problems], guess, fresh)
            away = np.where(by_meets[problems], result.to_meets, result.to_pass)
            return away, (result.severity == band[problems]) | ~np.isin(result.severity, _JUDGED)

        return at

    every = np.arange(len(band))
    bracket = changes.inner, changes.outer
    ends, _ = edge(False)(np.concatenate(bracket), np.tile(every, 2))
    flips = _close_in(edge(False), every, bracket, (ends[: len(band)], ends[len(band) :]))
    if probe.tolerances:
        again = every[by_meets]
        flips[again] = _with_guard(edge(True), again, changes.at(again), flips[again])
    present = changes.present
    on_step = np.abs(flips - present) <= 3.0 * _NEAR_STEP * np.abs(present)
    for number, name in enumerate(probe.names):
        for step in probe.check.steps.get(name, ()):
            near = (changes.which == number) & (np.abs(flips - step) <= 3.0 * _NEAR_STEP * step)
            flips = np.where(near, step, flips)
    return np.where(on_step, AT_A_STEP, flips)


def _with_guard(edge: Edge, problems: Array, changes: _Changes, root: Array) -> Array:
    """Solve again with the uncertainty as it is at each guess.

    It moves the root by little: a few secant steps find it, and what lies at either side of it
    proves it. What they do not find is bracketed anew, for with the uncertainty as it is there the
    edge may lie outside the bracket of the scan.
    """
    outward = np.sign(changes.outer - changes.present)
    guess = _secants(edge, problems, root)
    with np.errstate(invalid="ignore"):
        ahead, past = (guess - changes.present) * outward > 0, (guess - changes.last) * outward > 0
        aside = _ASIDE * np.where(np.isfinite(guess), np.abs(guess), 0.0) * outward
        at = np.flatnonzero(np.isfinite(guess) & ahead & ~past)
    for beside, want in ((-aside, True), (aside, False)):
        at = at[edge((guess + beside)[at], problems[at])[1] == want]
    found = np.full(len(problems), np.nan)
    found[at] = guess[at]
    left = np.flatnonzero(np.isnan(found))
    found[left] = _bracketed(
        edge, problems[left], root[left], (changes.present[left], changes.last[left])
    )
    return found


def _secants(edge: Edge, problems: Array, root: Array) -> Array:
    last, guess = root, root * (1.0 + 1e-3)
    last_away, _ = edge(last, problems)
    for _ in range(_SECANTS):
        away, _ = edge(guess, problems)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = away * (guess - last) / (away - last_away)
            last, last_away, guess = guess, away, guess - np.where(away == 0, 0.0, step)
    return guess


def _bracketed(edge: Edge, problems: Array, root: Array, bracket: tuple[Array, Array]) -> Array:
    """Solve from a bracket about the root, or from `bracket` where that one holds no change."""
    if not len(problems):
        return root
    inner, outer = bracket
    reach = 0.05 * np.abs(root) * np.sign(outer - inner)
    ends = []
    for near, far, want in ((root - reach, inner, True), (root + reach, outer, False)):
        away, same = edge(near, problems)
        good = same == want
        value = np.where(good, near, far)
        bad = np.flatnonzero(~good)
        if len(bad):
            away[bad], same[bad] = edge(far[bad], problems[bad])
        ends.append((value, away, same == want))
    bracketed = ends[0][2] & ends[1][2]
    found = np.full(len(problems), np.nan)
    at = np.flatnonzero(bracketed)
    (near, near_away, _), (far, far_away, _) = ends
    found[at] = _close_in(edge, problems[at], (near[at], far[at]), (near_away[at], far_away[at]))
    return found


def _close_in(
    edge: Edge,
    problems: Array,
    bracket: tuple[Array, Array],
    distances: tuple[Array, Array],
) -> Array:
    """Narrow brackets in which the band changes.

    Each round looks just beside the false-position guess and at the middle: a straight margin is
    solved in one round, a jump in some. How many other problems there are has no part in it.
    """
    inner, outer = bracket
    inner_away, outer_away = distances
    root = np.full(len(problems), np.nan)
    open_ = np.arange(len(problems))
    for _ in range(_ROUNDS):
        if not len(open_):
            break
        low, high = inner[open_], outer[open_]
        low_away, high_away = inner_away[open_], outer_away[open_]
        with np.errstate(invalid="ignore", divide="ignore"):
            share = -low_away / (high_away - low_away)
            guess = low + share * (high - low)
        root[open_] = np.where(np.isfinite(guess), guess, root[open_])
        share = np.where((share > 0) & (share < 1), share, 0.5)[:, None]
        aside = _ASIDE * np.abs(low + share[:, 0] * (high - low)) / np.abs(high - low)
        beside = np.clip(share + aside[:, None] * np.array([-1.0, 1.0]), 0.0, 1.0)
        shares = np.concatenate([beside, np.full((len(open_), 1), 0.5)], axis=1)
        points = low[:, None] + np.sort(shares, axis=1) * (high - low)[:, None]
        count = points.shape[1]
        away, same = (
            item.reshape(points.shape)
            for item in edge(points.ravel(), np.repeat(problems[open_], count))
        )
        # Ends of the bracket stand at either side of the points.
        points = np.concatenate([low[:, None], points, high[:, None]], axis=1)
        away = np.concatenate([low_away[:, None], away, high_away[:, None]], axis=1)
        first = np.where(same.all(axis=1), count, np.argmin(same, axis=1)) + 1
        line = np.arange(len(open_))
        inner[open_], outer[open_] = points[line, first - 1], points[line, first]
        inner_away[open_], outer_away[open_] = away[line, first - 1], away[line, first]
        width = np.abs(outer - inner)[open_]
        open_ = open_[width > _CLOSE * np.maximum(np.abs(inner), np.abs(outer))[open_]]
    middle = (inner + outer) / 2.0
    # The root of the distance is the nicer number where it agrees with the change of band.
    return np.where(np.abs(root - middle) <= _CLOSE * np.abs(middle), root, middle)
