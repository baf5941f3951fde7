"""Flip points: the value of one measured input at which the band changes, the others held.

Found by evaluating the check itself: a scan outward from the present value brackets the nearest
change of band, and the distance to the edge of the band is then driven to zero inside the bracket.
Every input of every row is one problem; the problems of a check go through it together.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from ..checks.declare import Check
from ..register.fields import FIELDS
from .columns import Array, Columns, Tolerances
from .judge import (
    INFORMATION,
    MEETS,
    NOT_APPLICABLE,
    NOT_JUDGED,
    SHORT,
    Edges,
    Judgement,
    edges,
)

__all__ = ["AT_A_STEP", "flip_points"]

AT_A_STEP = np.inf
"""Stands in a flip column for "at a table step": the present value lies on one."""

# Shares of the present value at which the scan looks, outward.
_OUT = np.array([0.03, 0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 20.0, 200.0])
_ROUNDS = 60
_ASIDE = 4e-9
"""A guess is tried this share to either side, wide enough to step over the at-the-limit slack."""
_CLOSE = 1e-8
_NEAR_STEP = 1e-7
_FEW = 4_000
"""Evaluations a round that cost little beside the call itself."""
_CHUNK = 400_000

Edge = Callable[[Array, Array], tuple[Array, Array]]
"""Values and problems to distance from the edge of the band, and whether the band is still it."""


class _Probe:
    """A check with one input replaced: problem p is row ``rows[p]``, input ``names[which[p]]``."""

    def __init__(
        self,
        check: Check,
        columns: Mapping[str, Array],
        tolerances: Tolerances,
        limits: Mapping[str, float],
        names: list[str],
        rows: Array,
        which: Array,
    ) -> None:
        self.check, self.columns, self.limits = check, columns, limits
        self.tolerances, self.names, self.rows, self.which = tolerances, names, rows, which

    def at(self, values: Array, problems: Array, guards: tuple[Array, ...] | None = None) -> Edges:
        """Judge `problems`, one value each; known `guards` are by register row."""
        rows = self.rows[problems]
        given = {name: column[rows] for name, column in self.columns.items()}
        for number, name in enumerate(self.names):
            here = self.which[problems] == number
            for parameter in (name, f"{name}_nominal"):
                if parameter in given:
                    given[parameter] = np.where(here, values, given[parameter])
        moved = {}
        if guards is None:
            moved = {name: (a[rows], b[rows]) for name, (a, b) in self.tolerances.items()}
        known = None if guards is None else tuple(guard[rows] for guard in guards)
        return edges(self.check, given, moved, self.limits, known)


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
    judged = ~np.isin(base.band[rows], (NOT_JUDGED, NOT_APPLICABLE, INFORMATION))
    given = {name: columns.get(name) for name in check.parameters}
    every_row, every_which = [], []
    for number, name in enumerate(names):
        there = rows[judged & ~np.isnan(given[name][rows])]
        every_row.append(there)
        every_which.append(np.full(len(there), number))
    if not names:
        return flips
    row, which = np.concatenate(every_row), np.concatenate(every_which)
    chunk = max(1, _CHUNK // (3 * len(_OUT) + 2 * len(tolerances)))
    for start in range(0, len(row), chunk):
        part = slice(start, start + chunk)
        probe = _Probe(check, given, tolerances, limits, names, row[part], which[part])
        found = _solve(probe, base)
        for number, name in enumerate(names):
            here = which[part] == number
            flips[name][row[part][here]] = _rounded(found[here])
    return flips


def _rounded(values: Array) -> Array:
    """To 9 significant digits, so that a row's company cannot show in its last ones."""
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = 10.0 ** (8 - np.floor(np.log10(np.abs(values))))
        rounded = np.round(values * scale) / scale
    return np.where(np.isfinite(rounded), rounded, values)


def _trial_values(probe: _Probe, present: Array) -> Array:
    """Values to look at, one column a trial, ascending, held to what is possible."""
    scale = np.where(present == 0, 1.0, np.abs(present))[:, None]
    now = present[:, None]
    # Towards zero by a factor too, so that small values are looked at as closely as large ones.
    trials = np.concatenate(
        [now, now + scale * _OUT, now - scale * _OUT[:5], now / (1.0 + _OUT)], axis=1
    )
    steps = [probe.check.steps.get(name, ()) for name in probe.names]
    beside = np.broadcast_to(now, (len(present), 2 * max(map(len, steps)))).copy()
    low, high = np.empty(len(present)), np.empty(len(present))
    for number, name in enumerate(probe.names):
        here = probe.which == number
        span = FIELDS[name].possible
        low[here] = span.low + 1e-9 if span.low_open else span.low
        high[here] = span.high
        for place, step in enumerate(steps[number]):
            beside[here, 2 * place : 2 * place + 2] = (
                step * (1 - _NEAR_STEP),
                step * (1 + _NEAR_STEP),
            )
    return np.sort(
        np.clip(np.concatenate([trials, beside], axis=1), low[:, None], high[:, None]), axis=1
    )


def _solve(probe: _Probe, base: Judgement) -> Array:
    size = len(probe.rows)
    every = np.arange(size)
    present = np.empty(size)
    for number, name in enumerate(probe.names):
        here = probe.which == number
        present[here] = probe.columns[name][probe.rows[here]]
    band = base.band[probe.rows]
    values = _trial_values(probe, present)
    trials = values.shape[1]
    # The uncertainty changes little on the way, so the scan takes the one at the present value.
    scan = probe.at(values.ravel(), np.repeat(every, trials), base.guards)
    found = scan.band.reshape(size, trials)
    distance = np.abs(values - present[:, None])
    changed = (found != band[:, None]) & (found != NOT_JUDGED) & (found != NOT_APPLICABLE)
    outer_at = np.argmin(np.where(changed, distance, np.inf), axis=1)
    some = np.flatnonzero(changed[every, outer_at])
    flips = np.full(size, np.nan)
    if not len(some):
        return flips
    # The change lies between the nearest changed trial and the last unchanged one before it.
    index, above = np.arange(trials), (outer_at > np.argmin(distance, axis=1))[:, None]
    before = ~changed & np.where(above, index < outer_at[:, None], index > outer_at[:, None])
    last = trials - 1 - np.argmax(before[:, ::-1], axis=1)
    inner_at = np.where(above[:, 0], last, np.argmax(before, axis=1))
    changed_to = found[every, outer_at]
    by_meets = (band == MEETS) | ((changed_to == MEETS) & (band != SHORT))

    def edge(guards: tuple[Array, ...] | None) -> Edge:
        def at(guess: Array, problems: Array) -> tuple[Array, Array]:
            result = probe.at(guess, problems, guards)
            away = np.where(by_meets[problems], result.to_meets, result.to_pass)
            return away, (result.band == band[problems]) | (result.band == NOT_JUDGED)

        return at

    inner, outer = values[every, inner_at], values[every, outer_at]
    away = np.where(
        by_meets[:, None],
        scan.to_meets.reshape(size, trials),
        scan.to_pass.reshape(size, trials),
    )
    ends = away[every, inner_at][some], away[every, outer_at][some]
    flips[some] = _close_in(edge(base.guards), some, (inner[some], outer[some]), ends)
    if probe.tolerances:
        again = some[by_meets[some]]
        copies = 1 + 2 * len(probe.tolerances)
        # With the uncertainty as it is there, the edge may lie outside the scan's bracket.
        last = np.where(outer > present, values[:, -1], values[:, 0])
        wide = (present[again], last[again])
        flips[again] = _with_guard(edge(None), again, flips[again], wide, _FEW // copies)
    on_step = np.abs(flips - present) <= 3.0 * _NEAR_STEP * np.abs(present)
    for number, name in enumerate(probe.names):
        for step in probe.check.steps.get(name, ()):
            near = (probe.which == number) & (np.abs(flips - step) <= 3.0 * _NEAR_STEP * step)
            flips = np.where(near, step, flips)
    return np.where(on_step, AT_A_STEP, flips)


def _with_guard(
    edge: Edge, problems: Array, root: Array, bracket: tuple[Array, Array], few: int
) -> Array:
    """Solve again with the uncertainty as it is at each guess, from a bracket about the root."""
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
    found[at] = _close_in(
        edge, problems[at], (near[at], far[at]), (near_away[at], far_away[at]), few
    )
    return found


def _close_in(
    edge: Edge,
    problems: Array,
    bracket: tuple[Array, Array],
    distances: tuple[Array, Array],
    few: int = _FEW,
) -> Array:
    """Narrow brackets in which the band changes.

    Each round looks just beside the false-position guess, at the middle, and, while there are few
    problems, at further sections: a straight margin is solved in one round, a jump in a few.
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
        sections = 2 + min(few // len(open_), 48)
        shares = np.concatenate(
            [
                np.clip(share + aside[:, None] * np.array([-1.0, 1.0]), 0.0, 1.0),
                np.broadcast_to(np.linspace(0, 1, sections + 1)[1:-1], (len(open_), sections - 1)),
            ],
            axis=1,
        )
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
