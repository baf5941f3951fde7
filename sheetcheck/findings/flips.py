"""Flip points: the value of one measured input at which the band changes, the others held.

Found by evaluating the check itself: a scan outward from the present value brackets the nearest
change of band, and the distance to the edge of the band is then driven to zero inside the bracket.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..checks.declare import Check
from ..register.fields import FIELDS
from .columns import Array, Columns, Tolerances
from .judge import INFORMATION, MEETS, NOT_APPLICABLE, NOT_JUDGED, SHORT, Judgement, judge

__all__ = ["AT_A_STEP", "flip_points"]

AT_A_STEP = np.inf
"""Stands in a flip column for "at a table step": the present value lies on one."""

# Shares of the present value at which the scan looks, outward.
_SHARES = (0.02, 0.06, 0.15, 0.35, 0.7, 1.0, 2.0, 5.0, 20.0, 200.0)
_ROUNDS = 60
_ASIDE = 4e-9
"""A guess is tried this share to either side, wide enough to step over the at-the-limit slack."""
_CLOSE = 1e-8
_NEAR_STEP = 1e-7
_CHUNK = 300_000


def _trial_values(name: str, present: Array, check: Check) -> Array:
    """Values to look at, one column a trial, ascending, held to what is possible."""
    span = FIELDS[name].possible
    scale = np.where(present == 0, 1.0, np.abs(present))[:, None]
    out, now = np.asarray(_SHARES), present[:, None]
    trials = [now, now + scale * out, now - scale * out[:6]]
    # Towards zero by a factor too, so that small values are looked at as closely as large ones.
    trials.append(now / (1.0 + out))
    for step in check.steps.get(name, ()):
        beside = np.array([step * (1 - _NEAR_STEP), step * (1 + _NEAR_STEP)])
        trials.append(np.broadcast_to(beside, (len(present), 2)))
    low = span.low + 1e-9 if span.low_open else span.low
    return np.sort(np.clip(np.concatenate(trials, axis=1), low, span.high), axis=1)


class _Probe:
    """The check with one input replaced, everything else as recorded."""

    def __init__(
        self,
        check: Check,
        columns: Columns,
        rows: Array,
        name: str,
        tolerances: Tolerances,
        limits: Mapping[str, float],
    ) -> None:
        self.check, self.name, self.limits = check, name, limits
        self.columns = {item: columns.get(item)[rows] for item in check.parameters}
        self.tolerances = {
            item: (absolute[rows], relative[rows])
            for item, (absolute, relative) in tolerances.items()
        }

    def at(self, values: Array, which: Array) -> Judgement:
        """Judge the rows `which`, one value each."""
        given = {item: column[which] for item, column in self.columns.items()}
        given[self.name] = values
        if f"{self.name}_nominal" in given:
            given[f"{self.name}_nominal"] = values
        moved = {
            item: (absolute[which], relative[which])
            for item, (absolute, relative) in self.tolerances.items()
        }
        return judge(self.check, given, moved, self.limits)


def flip_points(
    check: Check,
    columns: Columns,
    rows: Array,
    bands: Array,
    tolerances: Tolerances,
    limits: Mapping[str, float],
) -> dict[str, Array]:
    """Nearest value of each measured input at which the band changes.

    Parameters
    ----------
    check, columns, limits
        As for `judge`.
    rows
        Register rows whose inputs are single values.
    bands
        Band code of each of these rows.
    tolerances
        Of the measured inputs, in every register row.

    Returns
    -------
    dict
        Field to a column as long as `rows`: NaN where nothing flips, `AT_A_STEP` at a table step.
    """
    flips = {}
    judged = ~np.isin(bands, (NOT_JUDGED, NOT_APPLICABLE, INFORMATION))
    for name in check.fields:
        if not FIELDS[name].measuring:
            continue
        flips[name] = np.full(len(rows), np.nan)
        there = np.flatnonzero(judged & ~np.isnan(columns.get(name)[rows]))
        trials = 2 * len(_SHARES) + 7 + 2 * len(check.steps.get(name, ()))
        chunk = max(1, _CHUNK // (trials * (1 + 2 * len(tolerances))))
        for start in range(0, len(there), chunk):
            part = there[start : start + chunk]
            probe = _Probe(check, columns, rows[part], name, tolerances, limits)
            flips[name][part] = _nearest_change(probe, bands[part])
    return flips


def _nearest_change(probe: _Probe, bands: Array) -> Array:
    present = probe.columns[probe.name]
    values = _trial_values(probe.name, present, probe.check)
    size, trials = values.shape
    which = np.repeat(np.arange(size), trials)
    scan = probe.at(values.ravel(), which)
    found = scan.band.reshape(size, trials)
    distance = np.abs(values - present[:, None])
    changed = (found != bands[:, None]) & (found != NOT_JUDGED) & (found != NOT_APPLICABLE)
    nearest = np.argmin(np.where(changed, distance, np.inf), axis=1)
    some = np.flatnonzero(changed[np.arange(size), nearest])
    flips = np.full(size, np.nan)
    if not len(some):
        return flips
    # The change lies between the nearest changed trial and its neighbour towards the present.
    here = np.argmin(distance, axis=1)[some]
    outer_at = nearest[some]
    inner_at = outer_at + np.sign(here - outer_at)
    # A move up leaves *meets* or *marginal* by one edge, a move down by the other.
    band, changed_to = bands[some], found[some, outer_at]
    by_meets = (band == MEETS) | (changed_to == MEETS) & (band != SHORT)
    edges = np.where(
        by_meets[:, None],
        scan.to_meets.reshape(size, trials)[some],
        scan.to_pass.reshape(size, trials)[some],
    )
    line = np.arange(len(some))
    flips[some] = _close_in(
        probe,
        some,
        (values[some, inner_at], values[some, outer_at]),
        (edges[line, inner_at], edges[line, outer_at]),
        by_meets,
        band,
    )
    on_step = np.abs(flips - present) <= 3.0 * _NEAR_STEP * np.abs(present)
    for step in probe.check.steps.get(probe.name, ()):
        flips = np.where(np.abs(flips - step) <= 3.0 * _NEAR_STEP * step, step, flips)
    return np.where(on_step, AT_A_STEP, flips)


def _close_in(
    probe: _Probe,
    which: Array,
    bracket: tuple[Array, Array],
    edges: tuple[Array, Array],
    by_meets: Array,
    band: Array,
) -> Array:
    """Narrow brackets in which the band changes: false position, halving when that is slow."""
    inner, outer = bracket
    inner_edge, outer_edge = edges
    root = np.full(len(which), np.nan)
    open_rows = np.arange(len(which))
    for turn in range(_ROUNDS):
        low, high = inner[open_rows], outer[open_rows]
        low_edge, high_edge = inner_edge[open_rows], outer_edge[open_rows]
        with np.errstate(invalid="ignore", divide="ignore"):
            guess = low - low_edge * (high - low) / (high_edge - low_edge)
        root[open_rows] = np.where(np.isfinite(guess), guess, root[open_rows])
        guess += np.sign(high - low) * np.abs(guess) * (_ASIDE, -_ASIDE)[turn % 2]
        inside = np.isfinite(guess) & (np.minimum(low, high) < guess)
        inside &= guess < np.maximum(low, high)
        guess = np.where(inside & (turn % 3 < 2), guess, (low + high) / 2.0)
        result = probe.at(guess, which[open_rows])
        distance = np.where(by_meets[open_rows], result.to_meets, result.to_pass)
        same = (result.band == band[open_rows]) | (result.band == NOT_JUDGED)
        inner[open_rows] = np.where(same, guess, low)
        outer[open_rows] = np.where(same, high, guess)
        inner_edge[open_rows] = np.where(same, distance, low_edge)
        outer_edge[open_rows] = np.where(same, high_edge, distance)
        width = np.abs(outer - inner)
        size = np.maximum(np.abs(inner), np.abs(outer))
        open_rows = np.flatnonzero(width > _CLOSE * size)
        if not len(open_rows):
            break
    middle = (inner + outer) / 2.0
    # The root of the distance is the nicer number where it agrees with the change of band.
    near = np.abs(root - middle) <= _CLOSE * np.abs(middle)
    return np.where(near, root, middle)
