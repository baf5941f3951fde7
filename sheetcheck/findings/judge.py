"""Bands: a check's outcome, row by row, with the measuring uncertainty where it is guarded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..checks.declare import AT_THE_LIMIT, Check, Cite, Criterion, Outcome, Words
from .columns import Array, Tolerances

__all__ = [
    "INFORMATION",
    "MARGINAL",
    "MEETS",
    "NOT_APPLICABLE",
    "NOT_JUDGED",
    "SEVERITY",
    "SHORT",
    "UNCERTAIN",
    "Edges",
    "Judgement",
    "edges",
    "judge",
]

MEETS, MARGINAL, SHORT, NOT_JUDGED, NOT_APPLICABLE, INFORMATION = range(6)
_CODES = {
    "meets": MEETS,
    "marginal": MARGINAL,
    "falls short": SHORT,
    "not judged": NOT_JUDGED,
    "not applicable": NOT_APPLICABLE,
    "information": INFORMATION,
}
SEVERITY = np.array([1, 2, 4, 3, 0, 0], np.int8)
"""Severity by band code; of several parts the most severe decides."""

UNCERTAIN = "met by less than the measuring uncertainty"
_GREY = "within the range in which authorities differ"
_IN_WORDS = {
    (1, MEETS): "as much as required or more",
    (1, SHORT): "less than required",
    (-1, MEETS): "no more than allowed",
    (-1, SHORT): "more than allowed",
}
_UNKNOWN = "cannot be computed from what is recorded"


@dataclass(frozen=True, slots=True)
class Edges:
    """Bands of n rows, and how far each is from the next.

    Attributes
    ----------
    band
        Band codes (int8).
    to_meets, to_pass
        Distance from the edge of *meets*, and from that of *falls short*: positive on the better
        side, in the unit of the part that decides; infinite where no number does.
    """

    band: Array
    to_meets: Array
    to_pass: Array


@dataclass(frozen=True, slots=True)
class Judgement:
    """What came of one check over n rows.

    Attributes
    ----------
    band, why, reasons
        Band codes (int8), and reasons as places in `reasons`.
    final
        Rows that stand whatever is missing: settled, or a part falls short.
    found, found_high, required, margin, margin_high, uncertainty
        Of the leading criterion; NaN where it has none. The two margins differ where `found` is a
        range.
    numbers
        Name to (low, high) arrays; texts as one array twice.
    notes, cites
        Rows and what holds for them.
    guards
        Measuring uncertainty of each part's margin.
    """

    band: Array
    why: Array
    reasons: tuple[str, ...]
    final: Array
    found: Array
    found_high: Array
    required: Array
    margin: Array
    margin_high: Array
    uncertainty: Array
    numbers: Mapping[str, tuple[Array, Array]]
    notes: tuple[tuple[Array, str], ...]
    cites: tuple[tuple[Array, Cite], ...]
    guards: tuple[Array, ...]

    def texts(self) -> Array:
        """Reasons as an object array of str."""
        return np.array(self.reasons, object)[self.why]


def _margin(criterion: Criterion, found: Array) -> Array:
    margin = criterion.good * (found - criterion.required)
    at_limit = np.abs(margin) <= AT_THE_LIMIT * np.abs(criterion.required)
    return np.where(at_limit, 0.0, margin)


def _band_of(criterion: Criterion, found: Array, uncertainty: Array) -> tuple[Array, Array]:
    """Band of a criterion for one value of found, and whether the guard made it marginal."""
    good, required, grey = criterion.good, criterion.required, criterion.grey
    margin = _margin(criterion, found)
    met = np.where(criterion.strict, margin > 0, margin >= 0)
    slack = AT_THE_LIMIT * np.abs(required)
    to_edge = good * (found - grey)
    lax = good * (grey - required) < 0
    in_grey = np.where(lax, ~met & (to_edge >= -slack), met & (to_edge < -slack))
    guarded = met & ~in_grey & (margin < uncertainty * (1.0 - AT_THE_LIMIT))
    band = np.where(met, MEETS, SHORT)
    band = np.where(in_grey | guarded, MARGINAL, band)
    return np.where(np.isnan(margin), NOT_JUDGED, band).astype(np.int8), guarded


class _Reasons:
    """Reasons numbered as they come up, so that rows carry small numbers instead of texts."""

    def __init__(self) -> None:
        self.texts: dict[str, int] = {"": 0}

    def code(self, text: str) -> int:
        return self.texts.setdefault(text, len(self.texts))


def _criterion(criterion: Criterion, uncertainty: Array, reasons: _Reasons) -> tuple[Array, Array]:
    """Band and reason of one numeric part."""
    band, guarded = _band_of(criterion, criterion.found, uncertainty)
    if criterion.found_high is not None:
        other, guarded_too = _band_of(criterion, criterion.found_high, uncertainty)
        unknown = (band == NOT_JUDGED) | (other == NOT_JUDGED)
        band = np.where(band == other, band, MARGINAL).astype(np.int8)
        band[unknown] = NOT_JUDGED
        guarded = guarded | guarded_too
    by_band = np.array(
        [
            reasons.code(_IN_WORDS[criterion.good, MEETS]),
            reasons.code(criterion.greyed or _GREY),
            reasons.code(criterion.short or _IN_WORDS[criterion.good, SHORT]),
            reasons.code(_UNKNOWN),
        ],
        np.int16,
    )
    why = by_band[band]
    why[guarded & (band == MARGINAL)] = reasons.code(criterion.uncertain or UNCERTAIN)
    return band, why


def _words(part: Words, size: int, reasons: _Reasons) -> tuple[Array, Array]:
    band = np.full(size, NOT_JUDGED, np.int8)
    why = np.full(size, reasons.code(_UNKNOWN), np.int16)
    open_rows = np.ones(size, bool)
    for rows, word, reason in part.rules:
        hit = open_rows & rows
        band[hit], why[hit] = _CODES[word], reasons.code(reason)
        open_rows &= ~hit
    return band, why


def _spread_out(outcome: Outcome, size: int) -> tuple[Criterion | Words, ...]:
    """Criteria with every array at full length."""

    def full(item: Any) -> Array:
        return np.broadcast_to(np.asarray(item, float), size)

    return tuple(
        part
        if isinstance(part, Words)
        else Criterion(
            full(part.found),
            full(part.required),
            part.good,
            full(part.grey),
            None if part.found_high is None else full(part.found_high),
            part.strict,
            part.optional,
            part.short,
            part.greyed,
            part.uncertain,
        )
        for part in outcome.parts
    )


def _uncertainties(
    check: Check,
    columns: Mapping[str, Array],
    tolerances: Tolerances,
    limits: Mapping[str, float],
    parts: tuple[Criterion | Words, ...],
    size: int,
) -> tuple[Array, ...]:
    """Combined measuring uncertainty of each criterion's margin.

    U = √Σ(change of the margin when one measured input moves by its tolerance, the larger of up
    and down)²: the guard-band idea of ISO 14253-1 and JCGM 106. All moved copies of the rows go
    through the check in one call.
    """
    zero = np.zeros(size)
    if not check.guarded or not tolerances:
        return (zero,) * len(parts)
    moves = [(name, sign) for name in tolerances for sign in (1.0, -1.0)]
    stacked = {name: np.tile(column, len(moves)) for name, column in columns.items()}
    for number, (name, sign) in enumerate(moves):
        at = slice(number * size, (number + 1) * size)
        stacked[name] = stacked[name].copy()
        absolute, relative = tolerances[name]
        size_of_move = np.maximum(absolute, relative * np.abs(columns[name]))
        stacked[name][at] = columns[name] + sign * size_of_move
    moved = check.judge(*(stacked[name] for name in check.parameters), **limits)
    found: list[Array] = []
    for base, other in zip(parts, _spread_out(moved, size * len(moves)), strict=True):
        if isinstance(base, Words) or isinstance(other, Words):
            found.append(zero)
            continue
        change = other.good * (other.found - other.required).reshape(len(tolerances), 2, size)
        change = np.abs(change - base.good * (base.found - base.required))
        worst = np.fmax(change[:, 0], change[:, 1])
        found.append(np.sqrt(np.nansum(worst**2, axis=0)))
    return tuple(found)


def judge(
    check: Check,
    columns: Mapping[str, Array],
    tolerances: Tolerances,
    limits: Mapping[str, float],
) -> Judgement:
    """Judge n rows whose inputs are single values or missing.

    Parameters
    ----------
    check
        The check.
    columns
        Parameter of the check to a column of n values.
    tolerances
        Of the measured inputs, in these rows; inputs left out are not moved.
    limits
        The check's limits.
    """
    size = len(columns[check.parameters[0]])
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        outcome = check.judge(*(columns[name] for name in check.parameters), **limits)
        parts = _spread_out(outcome, size)
        guards = _uncertainties(check, columns, tolerances, limits, parts, size)
        return _in_full(check, outcome, parts, guards, size)


def edges(
    check: Check,
    columns: Mapping[str, Array],
    tolerances: Tolerances,
    limits: Mapping[str, float],
    guards: tuple[Array, ...] | None = None,
) -> Edges:
    """Bands alone, and the distance to the next: what a search for a change of band needs.

    Parameters
    ----------
    check, columns, tolerances, limits
        As for `judge`.
    guards
        Measuring uncertainty of each part's margin, where it is known already.
    """
    size = len(columns[check.parameters[0]])
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        outcome = check.judge(*(columns[name] for name in check.parameters), **limits)
        parts = _spread_out(outcome, size)
        if guards is None:
            guards = _uncertainties(check, columns, tolerances, limits, parts, size)
        band, _, _, _ = _banded(check, outcome, parts, guards, size)
        to_meets, to_pass = _distances(parts, guards, size)
        for mask, _ in outcome.ceiling:
            to_meets[np.broadcast_to(mask, size)] = -np.inf
    return Edges(band, to_meets, to_pass)


def _distances(
    parts: tuple[Criterion | Words, ...], uncertainties: tuple[Array, ...], size: int
) -> tuple[Array, Array]:
    """Least distance over the parts to the edge of *meets* and to the edge of *falls short*."""
    to_meets, to_pass = np.full(size, np.inf), np.full(size, np.inf)
    for part, uncertainty in zip(parts, uncertainties, strict=True):
        if isinstance(part, Words):
            band, _ = _words(part, size, _Reasons())
            meets = np.where(band == MEETS, np.inf, -np.inf)
            passes = np.where(band == SHORT, -np.inf, np.inf)
        else:
            ends = [part.found] if part.found_high is None else [part.found, part.found_high]
            meets, passes = np.full(size, np.inf), np.full(size, -np.inf)
            lax = part.good * (part.grey - part.required) < 0
            tight = ~lax & ~np.isnan(part.grey)
            # Of a range the worse end decides about meets, the better one about falling short.
            for end in ends:
                margin, edge = part.good * (end - part.required), part.good * (end - part.grey)
                meets = np.minimum(meets, np.where(tight, edge, margin - uncertainty))
                passes = np.maximum(passes, np.where(lax, edge, margin))
            if part.optional:
                meets, passes = (np.where(np.isnan(x), np.inf, x) for x in (meets, passes))
        to_meets, to_pass = np.minimum(to_meets, meets), np.minimum(to_pass, passes)
    return to_meets, to_pass


def _banded(
    check: Check,
    outcome: Outcome,
    parts: tuple[Criterion | Words, ...],
    uncertainties: tuple[Array, ...],
    size: int,
) -> tuple[Array, Array, _Reasons, Array]:
    """Band and reason of each row, the reasons, and the rows that stand whatever is missing."""

    def rows_of(mask: Any) -> Array:
        return np.broadcast_to(np.asarray(mask, bool), size)

    reasons = _Reasons()
    band = np.full(size, NOT_APPLICABLE, np.int8)
    why = np.zeros(size, np.int16)
    for part, uncertainty in zip(parts, uncertainties, strict=True):
        if isinstance(part, Words):
            part_band, part_why = _words(part, size, reasons)
        else:
            part_band, part_why = _criterion(part, uncertainty, reasons)
            if part.optional:
                part_band = np.where(part_band == NOT_JUDGED, NOT_APPLICABLE, part_band)
        worse = (SEVERITY[part_band] > SEVERITY[band]) | ((why == 0) & (part_why != 0))
        worse &= SEVERITY[part_band] >= SEVERITY[band]
        band, why = np.where(worse, part_band, band), np.where(worse, part_why, why)
    final = band == SHORT
    for mask, reason in outcome.outside:
        rows = rows_of(mask) & ~final
        band[rows], why[rows] = NOT_JUDGED, reasons.code(reason)
    for mask, reason in outcome.ceiling:
        rows = rows_of(mask) & (band == MEETS)
        band[rows], why[rows] = MARGINAL, reasons.code(reason)
    if check.information:
        band[:], why[:] = INFORMATION, reasons.code("numbers only, no verdict")
        final = np.ones(size, bool)
    open_rows = np.ones(size, bool)
    for mask, word, reason in outcome.settled:
        rows = rows_of(mask) & open_rows
        band[rows], why[rows] = _CODES[word], reasons.code(reason)
        open_rows &= ~rows
    return band, why, reasons, final | ~open_rows


def _in_full(
    check: Check,
    outcome: Outcome,
    parts: tuple[Criterion | Words, ...],
    uncertainties: tuple[Array, ...],
    size: int,
) -> Judgement:
    def rows_of(mask: Any) -> Array:
        return np.broadcast_to(np.asarray(mask, bool), size)

    band, why, reasons, final = _banded(check, outcome, parts, uncertainties, size)
    found, found_high, required, uncertainty = (np.full(size, np.nan) for _ in range(4))
    margin, margin_high = np.full(size, np.nan), np.full(size, np.nan)
    for part, part_uncertainty in zip(parts, uncertainties, strict=True):
        if isinstance(part, Words):
            continue
        # The leading criterion is the first whose margin is known, or any that is known at all.
        high = part.found if part.found_high is None else part.found_high
        here = np.isnan(margin) & ~np.isnan(part.found + part.required)
        if not part.optional:
            here |= np.isnan(found) & np.isnan(required)
        ends = _margin(part, part.found)[here], _margin(part, high)[here]
        found[here], found_high[here] = part.found[here], high[here]
        required[here] = part.required[here]
        margin[here], margin_high[here] = np.minimum(*ends), np.maximum(*ends)
        uncertainty[here] = part_uncertainty[here]
    if check.guarded:
        uncertainty[np.isnan(margin)] = np.nan
    else:
        uncertainty[:] = np.nan

    def both_ends(item: Any) -> tuple[Array, Array]:
        low, high = item if isinstance(item, tuple) else (item, item)
        return np.broadcast_to(low, size), np.broadcast_to(high, size)

    return Judgement(
        band=band,
        why=why,
        reasons=tuple(reasons.texts),
        final=final,
        found=found,
        found_high=found_high,
        required=required,
        margin=margin,
        margin_high=margin_high,
        uncertainty=uncertainty,
        numbers={name: both_ends(item) for name, item in outcome.numbers.items()},
        notes=tuple((rows_of(mask), text) for mask, text in outcome.notes),
        cites=tuple((rows_of(mask), cite) for mask, cite in outcome.cites),
        guards=uncertainties,
    )
