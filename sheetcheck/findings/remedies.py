"""What to do about each verdict, in words with numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from .columns import ABSENT, Array
from .judge import MARGINAL, NOT_JUDGED, SHORT, UNCERTAIN
from .words import Filling, Words, say

if TYPE_CHECKING:
    from .results import CheckResult, Findings, Number

__all__ = ["remedies"]


def remedies(
    findings: Findings, result: CheckResult, rows: Array, numbers: Mapping[str, Sequence[Any]]
) -> list[str]:
    """What to do on each of some rows; empty where nothing is called for.

    Parameters
    ----------
    findings, result
        The run, and the check in it.
    rows
        Register rows, shape (n,).
    numbers
        What may fill the holes of a remedy, each over the n rows: found, required and margin, and
        the named extra results.
    """
    said = np.full(len(rows), "", object)
    band = result.band[rows]
    wanting = np.flatnonzero((band == MARGINAL) | (band == SHORT))
    if len(wanting):
        said[wanting] = _steps(findings, result, rows, wanting, numbers)
    unknown = np.flatnonzero(band == NOT_JUDGED)
    if len(unknown):
        # Found for the whole register at once: it depends on no other row, and on few things.
        to_record = findings.columns.once(
            f"{result.check.key} to record", lambda: _what_to_record(findings, result)
        )
        said[unknown] = to_record[rows[unknown]]
    texts: list[str] = said.tolist()
    return texts


def _steps(
    findings: Findings,
    result: CheckResult,
    rows: Array,
    wanting: Array,
    numbers: Mapping[str, Sequence[Any]],
) -> list[str]:
    """What to do on the rows at the positions `wanting`."""
    at, places = wanting.tolist(), rows[wanting].tolist()
    why, band = result.why[rows[wanting]].tolist(), result.band[rows[wanting]].tolist()
    uncertain = [w == UNCERTAIN and b == MARGINAL for w, b in zip(why, band, strict=True)]
    said = [
        _measure_closer(findings.words, result, row)
        if closer
        else _record_first(findings, result, row, numbers["required"][position])
        for row, position, closer in zip(places, at, uncertain, strict=True)
    ]
    before = list(said)
    fillings = _Fillings(numbers, at)
    if any("{missing:" in remedy.text for remedy in result.check.remedies):
        fillings["missing"] = [_not_compared(findings, result, row) for row in places]
    for place, remedy in enumerate(result.check.remedies):
        when = numbers.get(remedy.when, ()) if remedy.when else ()
        hit = [
            one
            for one, position in enumerate(at)
            if (remedy.when_uncertain or not uncertain[one])
            and not (remedy.otherwise and said[one] != ("" if uncertain[one] else before[one]))
            and (remedy.otherwise or not remedy.when or (when and _is_there(when[position])))
        ]
        worse = findings.side_effects.get((result.check.key, place), {})
        texts = findings.words.filled(remedy.text, fillings, hit)
        for one, text in zip(hit, texts, strict=True):
            if text:
                side_effect = worse.get(places[one])
                whole = f"{text} {side_effect}" if side_effect else text
                said[one] = f"{said[one]} {whole}" if said[one] else whole
    # Where what comes before it cannot be said, an alternative is none.
    return [text[3].upper() + text[4:] if text.startswith("Or ") else text for text in said]


def _record_first(findings: Findings, result: CheckResult, row: int, required: Number) -> str:
    """What to record before anything is built, where what is required hangs on it."""
    names = findings.missing_inputs(result.check.key, row) if isinstance(required, tuple) else ()
    if not names or not isinstance(required, tuple):
        return ""
    low, high = (findings.words.quantity(end, result.check.unit) for end in required)
    lacking = " and ".join(map(say, names))
    return f"First record the {lacking}, by which {low} to {high} is required."


def _not_compared(findings: Findings, result: CheckResult, row: int) -> str:
    """Inputs that the check would also use, and this row does not record."""
    lacking = [n for n in result.check.optional if findings.columns.missing(n)[row]]
    return ", ".join(map(say, lacking))


def _is_there(number: Any) -> bool:
    return number is not ABSENT and bool(number)


class _Fillings(dict[str, Sequence[Filling]]):
    """What fills the holes named so in some rows, made of the numbers when first asked for."""

    def __init__(self, numbers: Mapping[str, Sequence[Any]], at: Sequence[int]) -> None:
        super().__init__()
        self._numbers, self._at = numbers, at

    def __missing__(self, name: str) -> Sequence[Filling]:
        made, name_of = (_short_by, "margin") if name == "short_by" else (_filling, name)
        column = self._numbers.get(name_of)
        self[name] = [None if column is None else made(column[row]) for row in self._at]
        return self[name]


def _short_by(margin: float | tuple[float, float] | None) -> Filling:
    if isinstance(margin, tuple):
        return (-margin[1], -margin[0]) if margin[1] < 0 else None
    return -margin if margin is not None and margin < 0 else None


def _filling(item: Any) -> Filling:
    if type(item) is float:  # most often
        return item
    if item is None or item is ABSENT:
        return None
    if isinstance(item, list):
        return (float(item[0]), float(item[1])) if len(item) == 2 else None
    return item if isinstance(item, str | tuple) else float(item)


def _measure_closer(words: Words, result: CheckResult, row: int) -> str:
    uncertainty = float(result.uncertainty[row])
    if not math.isfinite(uncertainty):
        return "Measure again more closely: it is met by less than the measuring uncertainty."
    unit = result.check.unit
    margin = words.quantity(float(result.ends["margin"][0][row]), unit)
    return (
        f"Measure again more closely: it is met by {margin}, with a measuring uncertainty of "
        f"{words.quantity(uncertainty, unit)}."
    )


def _what_to_record(findings: Findings, result: CheckResult) -> Array:
    """Which inputs to record, by register row: it depends on nothing but which are missing."""
    lacking = [findings.columns.missing(name) for name in result.check.inputs]
    lacking += [mask for mask, _ in result.none_of]
    # What is missing as one whole number, which sorts fast.
    table = np.array(lacking, bool).reshape(len(lacking), len(findings))
    code = np.left_shift(1, np.arange(len(lacking))) @ table
    _, first, which = np.unique(code, return_index=True, return_inverse=True)
    texts = np.full(len(first), "", object)
    for place, row in enumerate(first.tolist()):
        names = findings.missing_inputs(result.check.key, row)
        if names:
            texts[place] = f"Record the {', '.join(map(say, names))}."
    return texts[which]
