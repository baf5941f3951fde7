"""Remedies that change an input, run through all checks to see what they would make worse."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from ..checks.declare import Remedy
from ..register.fields import FIELDS, POSITIONS
from ..register.register import Cells, Register
from .columns import Array, Columns
from .judge import MARGINAL, NOT_APPLICABLE, NOT_JUDGED, SEVERITY, SHORT

if TYPE_CHECKING:
    from .results import CheckResult, Findings

__all__ = ["side_effects"]


def side_effects(findings: Findings) -> dict[tuple[str, int], dict[int, str]]:
    """What each remedy would make worse, and what it would not be enough for.

    Returns
    -------
    dict
        (check key, place of the remedy) to register row to a sentence, such as ``It would worsen:
        belt fill (meets to falls short).``; rows with neither are left out.
    """
    found: dict[tuple[str, int], dict[int, str]] = {}
    for key, result in findings.results.items():
        for place, remedy in enumerate(result.check.remedies):
            if remedy.sets:
                worse = _worsened(findings, result, remedy)
                if worse:
                    found[key, place] = worse
    return found


def _values(result: CheckResult, name: str | float, size: int) -> Array:
    """New value of an input in every row; NaN where the remedy has no single number."""
    if not isinstance(name, str):
        return np.full(size, name)
    if name in result.ends:
        low, high = result.ends[name]
    elif name in result.numbers:
        low, high = result.numbers[name]
    elif name in result.more:
        low = high = result.more[name]
    else:
        return np.full(size, np.nan)
    return np.where(low == high, low, np.nan)


def _worsened(findings: Findings, result: CheckResult, remedy: Remedy) -> dict[int, str]:
    size = len(findings)
    rows = np.isin(result.band, (MARGINAL, SHORT))
    if remedy.when:
        flag = result.numbers[remedy.when][0] if remedy.when in result.numbers else None
        rows &= np.zeros(size, bool) if flag is None else flag.astype(bool)
    changes: dict[str, Any] = {}
    for name, value in remedy.sets.items():
        word = value if isinstance(value, str) and _is_word(name, value) else None
        if word is None:
            changes[name] = _values(result, value, size)
            rows &= ~np.isnan(changes[name])
        else:
            changes[name] = word
            # Said only where its number is known: the remedy of a word carries one in its hole.
            rows &= _said(result, remedy, size)
    at = np.flatnonzero(rows)
    if not len(at):
        return {}
    # Rows of the same belt come along, so that each is judged on its first row as before.
    along = rows.copy()
    along[findings.register.first_row[at]] = True
    kept = np.flatnonzero(along)
    changed = _changed(findings.register, kept, np.isin(kept, at), changes)
    return _compare(findings, kept, rows, changed, set(changes), result.check.key)


def _is_word(name: str, value: str) -> bool:
    words = POSITIONS if FIELDS[name].kind == "lift" else FIELDS[name].choices
    return value in words


def _said(result: CheckResult, remedy: Remedy, size: int) -> Array:
    holes = [hole.split(":")[0] for hole in remedy.text.split("{")[1:]]
    known = np.ones(size, bool)
    for hole in holes:
        if hole not in ("required", "short_by", "found"):
            known &= ~np.isnan(_values(result, hole, size))
    return known


def _changed(
    register: Register, rows: Array, which: Array, changes: Mapping[str, Any]
) -> Register:
    """Some rows of a register, with inputs replaced in those of them that `which` marks."""
    place = {int(row): number for number, row in enumerate(rows)}
    values = {name: column[rows] for name, column in register.values.items()}
    positions = {name: column[rows] for name, column in register.positions.items()}
    for name, new in changes.items():
        kind = FIELDS[name].kind
        if kind == "lift":
            word = new if isinstance(new, str) else ""
            number = np.nan if isinstance(new, str) else new[rows]
            old = positions.get(name, np.full(len(rows), "")).astype(object)
            positions[name] = np.where(which, word, old)
            values[name] = np.where(which, number, values.get(name, np.full(len(rows), np.nan)))
        elif isinstance(new, str):
            old = values.get(name, np.full(len(rows), "")).astype(object)
            values[name] = np.where(which, new, old)
        else:
            old = values.get(name, np.full(len(rows), np.nan))
            values[name] = np.where(which, new[rows], old)
    marked = {int(row) for row in rows[which]}
    return Register(
        values=values,
        cells=Cells(register.cells.tables, [register.cells.parts[int(row)] for row in rows]),
        columns=register.columns,
        problems=[],
        skipped=[],
        source=register.source,
        positions=positions,
        intervals={
            (place[row], name): ends
            for (row, name), ends in register.intervals.items()
            if row in place and not (row in marked and name in changes)
        },
        approximate={
            (place[row], name)
            for row, name in register.approximate
            if row in place and not (row in marked and name in changes)
        },
    )


def _compare(
    findings: Findings,
    kept: Array,
    rows: Array,
    changed: Register,
    names: set[str],
    own: str,
) -> dict[int, str]:
    from .evaluate import evaluate_check
    from .results import BANDS

    columns = Columns(changed, findings.columns.ranges)
    worsened: dict[int, list[str]] = {}
    wanting: dict[int, list[str]] = {}
    for key, result in findings.results.items():
        if key == own or not names & set(result.check.fields) or result.check.information:
            continue
        changed_result = evaluate_check(
            result.check, columns, findings.limits.get(key, {}), findings.measuring, False
        )
        after, before = changed_result.band, result.band[kept]
        worse = rows[kept] & (SEVERITY[after] > SEVERITY[before])
        # A check that begins to apply, or to lack an input, has not become worse.
        worse &= np.isin(after, (MARGINAL, SHORT))
        worse &= ~np.isin(before, (NOT_JUDGED, NOT_APPLICABLE))
        still_short = rows[kept] & (after == SHORT) & (before == SHORT)
        with np.errstate(invalid="ignore"):
            moved = changed_result.relative_margin - result.relative_margin[kept]
            shorter, better = still_short & (moved < -1e-6), still_short & (moved > 1e-6)
        title = result.check.title.lower()
        for number in np.flatnonzero(worse):
            change = f"{BANDS[before[number]]} to {BANDS[after[number]]}"
            worsened.setdefault(int(kept[number]), []).append(f"{title} ({change})")
        for number in np.flatnonzero(shorter):
            worsened.setdefault(int(kept[number]), []).append(f"{title} (falls short by more)")
        for number in np.flatnonzero(better):
            wanting.setdefault(int(kept[number]), []).append(title)
    return {
        row: " ".join(
            f"{lead}: {', '.join(titles)}."
            for lead, titles in (
                ("It would worsen", worsened.get(row)),
                ("It would not be enough for", wanting.get(row)),
            )
            if titles
        )
        for row in {**worsened, **wanting}
    }
