"""Missing inputs are bounded, never guessed: a check is judged over all they might be.

A missing word is tried in all its values, a missing number over its physical range or the rows of
a table: only where every combination gives one band is that band given. A recorded range is judged
over itself, each value with its guard, and its worst band is given.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import product
from typing import Any, NamedTuple

import numpy as np

from ..checks.declare import Check
from ..register.fields import FIELDS
from .columns import Array, Columns, Tolerances
from .judge import NOT_JUDGED, SEVERITY, Judgement, judge
from .ranges import dependent_range
from .words import plain, say

__all__ = ["MOST_COMBINATIONS", "Bounded", "bound"]

MOST_COMBINATIONS = 200
_GRID = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Points over a range; every check is monotone in what is bounded, so the ends decide."""
_IMPLIED = {"primary_blade": "primary_cleaner", "secondary_blade": "secondary_cleaner"}
_CHUNK = 400_000
_ROUNDING = 1e-12


class _Unknown(NamedTuple):
    """One input that is not a single value: its trial labels and how to fill them in."""

    name: str
    labels: tuple[str, ...]
    kind: str  # "words", "table", "range", "dependent", "recorded"
    values: tuple[Any, ...]


@dataclass(slots=True)
class Bounded:
    """What bounding gave for some register rows; arrays are as long as `rows`.

    ``assumptions`` and ``if_known`` hold by position in `rows`.
    """

    rows: Array
    band: Array
    why: Array
    outside: Array
    ends: dict[str, tuple[Array, Array]]
    numbers: dict[str, tuple[Array, Array]]
    assumptions: dict[int, tuple[str, ...]] = field(default_factory=dict)
    if_known: dict[int, dict[str, dict[str, str]]] = field(default_factory=dict)
    notes: list[tuple[Array, str]] = field(default_factory=list)


def _unknown(check: Check, columns: Columns, name: str) -> _Unknown | None:
    """How a missing input can be tried; None where it cannot."""
    field_ = FIELDS[name]
    if name in check.spread:
        table = check.spread[name]
        return _Unknown(name, tuple(table), "table", tuple(table.values()))
    if field_.kind == "choice":
        words = tuple(word for word in field_.choices if word != "other")
        return _Unknown(name, words, "words", words)
    if field_.kind == "yes/no":
        return _Unknown(name, ("yes", "no"), "words", (1.0, 0.0))
    if name in check.bounded:
        return _Unknown(name, (), "dependent", _GRID)
    if name in columns.ranges:
        return _Unknown(name, (), "range", _GRID)
    return None


def _patterns(
    check: Check, columns: Columns, rows: Array
) -> Iterator[tuple[Array, tuple[str, ...], list[_Unknown]]]:
    """Rows that lack the same inputs: (rows, missing inputs, ranges to try)."""
    flags = []
    for name in check.inputs:
        flags.append(columns.missing(name)[rows])
    ranges = [_Unknown(n, (), kind, _GRID) for kind in ("range", "recorded") for n in check.fields]
    for unknown in ranges:
        ranged = columns.estimated(unknown.name)
        if unknown.kind == "recorded":
            ranged = columns.ranged(unknown.name) & ~ranged
        flags.append(ranged[rows])
    pattern = np.array(flags)
    # A pattern as one whole number, which sorts fast.
    code = np.left_shift(1, np.arange(len(flags))) @ pattern
    _, example, which = np.unique(code, return_index=True, return_inverse=True)
    inputs = len(check.inputs)
    for number, kind in enumerate(pattern[:, example].T):
        lacking = tuple(n for n, flag in zip(check.inputs, kind[:inputs], strict=True) if flag)
        found = [unknown for unknown, flag in zip(ranges, kind[inputs:], strict=True) if flag]
        yield rows[which == number], lacking, found


def _ends(columns: Columns, name: str, rows: Array) -> tuple[Array, Array]:
    interval = columns.interval(name)
    low, high = (np.full(len(rows), np.nan),) * 2
    if interval is not None:
        low, high = interval[0][rows], interval[1][rows]
    bounds = columns.ranges.get(name)
    if bounds is not None:
        low, high = (np.where(np.isnan(e), b, e) for e, b in zip((low, high), bounds, strict=True))
    return low, high


def bound(
    check: Check,
    columns: Columns,
    rows: Array,
    tolerances: Tolerances,
    limits: Mapping[str, float],
) -> Iterator[Bounded]:
    """Judge rows that lack inputs or hold ranges.

    Parameters
    ----------
    check, columns, limits
        As for `judge`.
    rows
        Register rows in question.
    tolerances
        Of the measured inputs, in every register row.
    """
    for group, lacking, ranged in _patterns(check, columns, rows):
        unknowns = [_unknown(check, columns, name) for name in lacking]
        hopeless = [n for n, unknown in zip(lacking, unknowns, strict=True) if unknown is None]
        tried = [unknown for unknown in unknowns if unknown is not None]
        if hopeless:
            # Nothing but a verdict that stands without any missing number can come of it.
            tried = [unknown for unknown in tried if unknown.kind == "words"]
        tried += ranged  # recorded ones last, so that they are trials within a trial
        combinations = _combinations(tried)
        if combinations > MOST_COMBINATIONS:
            # A range counts by its ends; between them is looked only where that is affordable.
            tried = [u._replace(values=u.values[::4]) if u.values is _GRID else u for u in tried]
            combinations = _combinations(tried)
        if combinations > MOST_COMBINATIONS:
            named = ", ".join(say(unknown.name) for unknown in tried)
            yield _not_judged(group, f"too many combinations of what is not recorded: {named}")
            continue
        step = max(1, _CHUNK // (combinations * (1 + 2 * len(tolerances))))
        for start in range(0, len(group), step):
            part = group[start : start + step]
            yield _try_all(check, columns, part, tried, hopeless, tolerances, limits)


def _combinations(tried: list[_Unknown]) -> int:
    return int(np.prod([len(unknown.values) for unknown in tried], initial=1))


def _not_judged(rows: Array, why: str) -> Bounded:
    nothing = np.full(len(rows), np.nan)
    return Bounded(
        rows=rows,
        band=np.full(len(rows), NOT_JUDGED, np.int8),
        why=np.full(len(rows), why, object),
        outside=np.zeros(len(rows), bool),
        ends=dict.fromkeys(("found", "required", "margin"), (nothing, nothing)),
        numbers={},
    )


def _fill(
    check: Check, columns: Columns, rows: Array, tried: list[_Unknown]
) -> tuple[dict[str, Array], list[tuple[Any, ...]]]:
    """Columns of the rows in every combination, combinations × rows where they differ."""
    combinations = list(product(*(range(len(unknown.values)) for unknown in tried)))
    filled = {name: columns.get(name)[rows] for name in check.parameters}
    # A dependent range needs the other inputs, so it is filled in last.
    for place, unknown in sorted(enumerate(tried), key=lambda item: item[1].kind == "dependent"):
        name = unknown.name
        column = filled[name]
        choice = [combination[place] for combination in combinations]
        if unknown.kind == "words" or (
            unknown.kind == "table" and not isinstance(unknown.values[0], str)
        ):
            filled[name] = np.asarray(unknown.values)[choice][:, None]
        elif unknown.kind == "table":
            filled[f"{name}_position"] = np.asarray(unknown.values)[choice][:, None]
        else:
            low, high = (
                dependent_range(name, columns, rows, filled)
                if unknown.kind == "dependent"
                else _ends(columns, name, rows)
            )
            share = np.asarray(unknown.values)[choice][:, None]
            filled[name] = np.where(np.isnan(low), column, low + (high - low) * share)
        if f"{name}_nominal" in filled:
            filled[f"{name}_nominal"] = filled[name]
    if all(column.shape[-1] == 1 for column in filled.values()):
        # Nothing is recorded of what the check takes, and all the rows are alike.
        first = check.parameters[0]
        filled[first] = np.broadcast_to(filled[first], (len(combinations), len(rows)))
    return filled, combinations


def _try_all(
    check: Check,
    columns: Columns,
    rows: Array,
    tried: list[_Unknown],
    hopeless: list[str],
    tolerances: Tolerances,
    limits: Mapping[str, float],
) -> Bounded:
    """Judge rows in every combination; what is `hopeless` stays missing in all of them."""
    filled, combinations = _fill(check, columns, rows, tried)
    count, size = len(combinations), len(rows)
    # What is recorded was measured, be it a range; what is bounded was not.
    bounded = [unknown for unknown in tried if unknown.kind != "recorded"]
    unmeasured = {unknown.name for unknown in bounded}
    moved = {
        name: (absolute[rows], relative[rows])
        for name, (absolute, relative) in tolerances.items()
        if name not in unmeasured
    }
    result = judge(check, filled, moved, limits)
    within = _combinations(tried[len(bounded) :])
    shape = (count // within, within, size)
    # Over a recorded range the worst: outside the method, then by severity.
    severity = SEVERITY[result.band] + 10 * result.outside
    worst = np.argmax(severity.reshape(shape), axis=1)[:, None]

    def at_worst(column: Array) -> Array:
        return np.take_along_axis(column.reshape(shape), worst, axis=1)[:, 0]

    bands, outside = at_worst(result.band), at_worst(result.outside)
    agreed = (bands == bands[0]).all(axis=0)
    if hopeless:
        # Only what stands whatever the missing numbers are.
        agreed &= at_worst(result.final).all(axis=0)
    # Of combinations that give one band the first gives the reason; the rest is said by _explain.
    first = np.array(result.reasons, object)[at_worst(result.why)[0]]
    found = Bounded(
        rows=rows,
        band=np.where(agreed, bands[0], NOT_JUDGED).astype(np.int8),
        why=np.where(agreed, first, "").astype(object),
        outside=agreed & outside.all(axis=0),
        ends=_extremes(result, count, size),
        numbers=_number_extremes(result, count, size),
    )
    for mask, text in result.notes:
        found.notes.append((np.asarray(mask.reshape(count, size).all(axis=0)), text))
    if hopeless:
        open_rows = (found.band == NOT_JUDGED) & ~found.outside
        found.why[open_rows] = f"{' and '.join(map(say, hopeless))} not recorded"
    _explain(found, columns, tried, filled, combinations, bands, bool(hopeless))
    return found


def _extremes(result: Judgement, count: int, size: int) -> dict[str, tuple[Array, Array]]:
    low_found = np.fmin(result.found, result.found_high).reshape(count, size)
    high_found = np.fmax(result.found, result.found_high).reshape(count, size)
    required, margin, margin_high = (
        column.reshape(count, size)
        for column in (result.required, result.margin, result.margin_high)
    )
    return {
        "found": _ends_of(low_found, high_found),
        "required": _ends_of(required, required),
        "margin": _ends_of(margin, margin_high),
    }


def _ends_of(low: Array, high: Array) -> tuple[Array, Array]:
    """Least and most over the combinations; one number where only rounding tells them apart."""
    least, most = low.min(axis=0), high.max(axis=0)
    with np.errstate(invalid="ignore"):
        alike = np.abs(most - least) <= _ROUNDING * np.abs(most)
    return least, np.where(alike, least, most)


def _number_extremes(result: Judgement, count: int, size: int) -> dict[str, tuple[Array, Array]]:
    found = {}
    for name, (low, high) in result.numbers.items():
        low, high = low.reshape(count, size), high.reshape(count, size)
        if low.dtype.kind not in "fib":
            same = (low == low[0]).all(axis=0)
            text = np.where(same, low[0], "")
            found[name] = (text, text)
        elif low.dtype.kind == "b":
            found[name] = (np.asarray(low.all(axis=0)), np.asarray(high.all(axis=0)))
        else:
            found[name] = _ends_of(low, high)
    return found


def _explain(
    found: Bounded,
    columns: Columns,
    tried: list[_Unknown],
    filled: Mapping[str, Array],
    combinations: list[tuple[Any, ...]],
    bands: Array,
    hopeless: bool,
) -> None:
    """Say, row by row, what was assumed, or what each value would give."""
    count, size = len(combinations), bands.shape[1]
    choices = np.asarray(combinations).reshape(count, len(tried))
    labels, ends = [], []
    for place, unknown in enumerate(tried):
        values = np.broadcast_to(filled[unknown.name], (count, size))
        numeric = unknown.kind in ("range", "dependent", "recorded")
        ends.append((values.min(axis=0), values.max(axis=0)) if numeric else None)
        first = [np.argmax(choices[:, place] == number) for number in range(len(unknown.values))]
        labels.append([values[at].tolist() for at in first] if numeric else unknown.labels)
    in_words = [_assumed_words(unknown) if unknown.labels else "" for unknown in tried]
    shared: dict[tuple[str, ...], tuple[str, ...]] = {}
    for row in np.flatnonzero(found.band != NOT_JUDGED).tolist():
        assumed = tuple(
            [
                text if end is None else _assumed(columns, int(found.rows[row]), unknown, end, row)
                for text, unknown, end in zip(in_words, tried, ends, strict=True)
            ]
        )
        found.assumptions[row] = shared.setdefault(assumed, assumed)
    if hopeless:
        return
    undecided = np.flatnonzero((found.band == NOT_JUDGED) & (bands != NOT_JUDGED).any(axis=0))
    tried = [unknown for unknown in tried if unknown.kind != "recorded"]
    choices = choices[:: count // len(bands), : len(tried)]
    labels = labels[: len(tried)]
    # Bands of a row as one string of bytes, which sorts fast; a byte of 0 would be dropped.
    keys = np.ascontiguousarray(bands[:, undecided].T + 1).view(f"S{len(bands)}").ravel()
    _, example, of_row = np.unique(keys, return_index=True, return_inverse=True)
    for number, row in enumerate(undecided[example].tolist()):
        rows = undecided[of_row == number].tolist()
        _say_what_decides(found, tried, labels, choices, bands[:, row], rows)


def _assumed_words(unknown: _Unknown) -> str:
    values = ", ".join(unknown.labels)
    return f"{say(unknown.name)} not recorded: every value ({values}) gives this band"


def _assumed(
    columns: Columns, register_row: int, unknown: _Unknown, ends: tuple[Array, Array], row: int
) -> str:
    recorded = columns.interval(unknown.name)
    missing = recorded is None or np.isnan(recorded[0][register_row])
    words, unit = columns.words, FIELDS[unknown.name].unit
    low, high = (words.quantity(float(end[row]), unit) for end in ends)
    return f"{say(unknown.name)}{' not recorded:' if missing else ''} {low} to {high} taken"


def _say_what_decides(
    found: Bounded,
    tried: list[_Unknown],
    labels: list[Any],
    choices: Array,
    pattern: Array,
    rows: list[int],
) -> None:
    """For rows with one pattern of bands: the band that each value of each input would give."""
    from .results import BANDS

    words: list[list[str]] = []
    names = [unknown.name for unknown in tried]
    for place, unknown in enumerate(tried):
        words.append([])
        for number in range(len(unknown.values)):
            fits = choices[:, place] == number
            if _IMPLIED.get(unknown.name) in names:
                # A named blade means that its cleaner is fitted: "yes", the first of its words.
                fits &= choices[:, names.index(_IMPLIED[unknown.name])] == 0
            part = pattern[fits]
            band = part[0] if (part == part[0]).all() else NOT_JUDGED
            words[-1].append(BANDS[band])
    deciding = [
        say(unknown.name)
        for unknown, given in zip(tried, words, strict=True)
        if len(set(given)) > 1
    ]
    why = f"{' and '.join(deciding or [say(unknown.name) for unknown in tried])} would decide it"
    shared: dict[str, dict[str, str]] = {}
    for unknown, each, given in zip(tried, labels, words, strict=True):
        if unknown.labels:
            shared[unknown.name] = dict(zip(each, given, strict=True))
    for row in rows:
        found.why[row] = found.why[row] or why
        if len(shared) == len(tried):
            # The same for every row with these bands, and held once.
            found.if_known[row] = shared
            continue
        known = {}
        for unknown, each, given in zip(tried, labels, words, strict=True):
            # Not finite where the range depends on another missing input.
            known[unknown.name] = shared.get(unknown.name) or {
                plain(values[row]): band
                for values, band in zip(each, given, strict=True)
                if math.isfinite(values[row])
            }
        found.if_known[row] = {name: values for name, values in known.items() if values}
