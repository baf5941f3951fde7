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
    "relative",
    "severities",
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
    severity
        Of the bands, as in `SEVERITY`.
    to_meets, to_pass
        Distance from the edge of *meets*, and from that of *falls short*: positive on the better
        side, in the unit of the part that decides; infinite where no number does.
    """

    severity: Array
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
        Rows that stand whatever is missing: settled, outside the method, or a part falls short.
    outside
        Rows outside the method.
    needs
        Rows, and an optional input that is missing and needed there.
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
    outside: Array
    needs: tuple[tuple[Array, str], ...]
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


# Ranks in which bands are combined: of several parts the highest decides.
_RANKS = {
    "not applicable": 0,
    "meets": 1,
    "marginal": 2,
    "not judged": 3,
    "falls short": 4,
    "information": 5,
}
_BAND_OF_RANK = np.array([_CODES[band] for band in _RANKS], np.int8)
_R_MEETS, _R_MARGINAL, _R_NOT_JUDGED, _R_SHORT = (np.int8(rank) for rank in range(1, 5))


def _margin(criterion: Criterion, found: Any) -> Array:
    margin = criterion.good * (found - criterion.required)
    at_limit = np.abs(margin) <= AT_THE_LIMIT * np.abs(criterion.required)
    return np.where(at_limit, 0.0, margin)


def relative(margin: Array, required: Array) -> Array:
    """Margin ÷ required; NaN where either is unknown or required is 0."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(required == 0, np.nan, margin / np.abs(required))


def _has_grey(criterion: Criterion) -> bool:
    return np.ndim(criterion.grey) > 0 or not np.isnan(criterion.grey)


def _rank_of(criterion: Criterion, found: Any, guard: Any) -> tuple[Array, Array]:
    """Rank of a criterion for one value of found, and whether the guard made it marginal."""
    good, required, grey = criterion.good, criterion.required, criterion.grey
    margin = good * (found - required)
    slack = AT_THE_LIMIT * np.abs(required)
    met = margin >= -slack
    if criterion.strict is not False:
        met = np.where(criterion.strict, margin > slack, met)
    rank = np.where(met, _R_MEETS, _R_SHORT)
    surely = met
    if _has_grey(criterion):
        to_edge = good * (found - grey)
        lax = good * (grey - required) < 0
        in_grey = np.where(lax, ~met & (to_edge >= -slack), met & (to_edge < -slack))
        rank = np.where(in_grey, _R_MARGINAL, rank)
        surely = met & ~in_grey
    guarded = surely & (guard > 0) & (margin < guard * (1.0 - AT_THE_LIMIT))
    rank = np.where(guarded, _R_MARGINAL, rank)
    return np.where(np.isnan(margin), _R_NOT_JUDGED, rank), guarded


class _Reasons:
    """Reasons numbered as they come up, so that rows carry small numbers instead of texts."""

    def __init__(self) -> None:
        self.texts: dict[str, int] = {"": 0}

    def code(self, text: str) -> int:
        return self.texts.setdefault(text, len(self.texts))


def _criterion(
    criterion: Criterion, guard: Any, reasons: _Reasons | None
) -> tuple[Array, Array | None]:
    """Rank and, where `reasons` are kept, reason of one numeric part."""
    rank, guarded = _rank_of(criterion, criterion.found, guard)
    if criterion.found_high is not None:
        other, guarded_too = _rank_of(criterion, criterion.found_high, guard)
        unknown = (rank == _R_NOT_JUDGED) | (other == _R_NOT_JUDGED)
        rank = np.where(rank == other, rank, _R_MARGINAL)
        rank = np.where(unknown, _R_NOT_JUDGED, rank)
        guarded = guarded | guarded_too
    if reasons is None:
        return rank, None
    by_rank = np.array(
        [
            0,
            reasons.code(_IN_WORDS[criterion.good, MEETS]),
            reasons.code(criterion.greyed or _GREY),
            reasons.code(_UNKNOWN),
            reasons.code(criterion.short or _IN_WORDS[criterion.good, SHORT]),
        ],
        np.int16,
    )
    uncertain = reasons.code(criterion.uncertain or UNCERTAIN)
    return rank, np.where(guarded & (rank == _R_MARGINAL), uncertain, by_rank[rank])


def _words(part: Words, reasons: _Reasons | None) -> tuple[Array, Array | None]:
    rank, why = np.asarray(_R_NOT_JUDGED), None
    # The first rule that holds decides, so it is the last to be written.
    for rows, word, _ in reversed(part.rules):
        rank = np.where(rows, np.int8(_RANKS[word]), rank)
    if reasons is not None:
        why = np.asarray(reasons.code(_UNKNOWN))
        for rows, _, reason in reversed(part.rules):
            why = np.where(rows, reasons.code(reason), why)
    return rank, why


def _uncertainties(
    check: Check,
    columns: Mapping[str, Array],
    tolerances: Tolerances,
    limits: Mapping[str, float],
    parts: tuple[Criterion | Words, ...],
    dimensions: int,
) -> tuple[Any, ...]:
    """Combined measuring uncertainty of each part's margin, 0 where there is none.

    U = √Σ(change of the margin when one measured input moves by its tolerance, the larger of up
    and down)²: the guard-band idea of ISO 14253-1 and JCGM 106. All moved copies of the rows go
    through the check in one call, along a new first axis; what does not move is not copied.
    """
    if not check.guarded or not tolerances:
        return (0.0,) * len(parts)
    moved = dict(columns)
    for number, (name, (absolute, relative)) in enumerate(tolerances.items()):
        column = columns[name]
        move = np.maximum(absolute, relative * np.abs(column))
        inner = np.broadcast_shapes(column.shape, move.shape)
        inner = (1,) * (dimensions - len(inner)) + inner
        copies = np.empty((2 * len(tolerances), *inner))
        copies[:] = column
        copies[2 * number] += move
        copies[2 * number + 1] -= move
        moved[name] = copies
    other = check.judge(*(moved[name] for name in check.parameters), **limits)
    return tuple(
        0.0
        if isinstance(base, Words) or isinstance(part, Words)
        else _combined(base, part, dimensions)
        for base, part in zip(parts, other.parts, strict=True)
    )


def _combined(base: Criterion, moved: Criterion, dimensions: int) -> Any:
    margin = moved.good * (moved.found - moved.required)
    if np.ndim(margin) <= dimensions:
        return 0.0  # none of what moved comes into it
    change = np.abs(margin - base.good * (base.found - base.required))
    worst = np.fmax(change[0::2], change[1::2])
    return np.sqrt(np.nansum(worst**2, axis=0))


def _shape(check: Check, columns: Mapping[str, Array]) -> tuple[int, ...]:
    return np.broadcast_shapes(*(columns[name].shape for name in check.parameters))


def judge(
    check: Check,
    columns: Mapping[str, Array],
    tolerances: Tolerances,
    limits: Mapping[str, float],
) -> Judgement:
    """Judge rows whose inputs are single values or missing.

    Parameters
    ----------
    check
        The check.
    columns
        Parameter of the check to a column. Columns broadcast: what is the same in several
        trials of n rows is given once.
    tolerances
        Of the measured inputs, in these rows; inputs left out are not moved.
    limits
        The check's limits.
    """
    shape = _shape(check, columns)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        outcome = check.judge(*(columns[name] for name in check.parameters), **limits)
        guards = _uncertainties(check, columns, tolerances, limits, outcome.parts, len(shape))
        return _in_full(check, outcome, guards, shape)


def severities(
    check: Check,
    columns: Mapping[str, Array],
    limits: Mapping[str, float],
    guards: tuple[Any, ...],
) -> Array:
    """Bands alone, by their `SEVERITY`, in the shape to which the columns broadcast.

    Parameters
    ----------
    check, columns, limits
        As for `judge`.
    guards
        Measuring uncertainty of each part's margin.
    """
    shape = _shape(check, columns)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        outcome = check.judge(*(columns[name] for name in check.parameters), **limits)
        rank = _ranked(outcome, guards, None)[0]
    return np.broadcast_to(rank, shape)


def edges(
    check: Check,
    columns: Mapping[str, Array],
    tolerances: Tolerances,
    limits: Mapping[str, float],
    guards: tuple[Any, ...] | None = None,
) -> Edges:
    """Bands alone, and the distance to the next: what a search for a change of band needs.

    Parameters
    ----------
    check, columns, tolerances, limits
        As for `judge`.
    guards
        Measuring uncertainty of each part's margin, where it is known already.
    """
    shape = _shape(check, columns)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        outcome = check.judge(*(columns[name] for name in check.parameters), **limits)
        if guards is None:
            guards = _uncertainties(check, columns, tolerances, limits, outcome.parts, len(shape))
        rank = _ranked(outcome, guards, None)[0]
        to_meets, to_pass = _distances(outcome, guards)
    return Edges(*(np.broadcast_to(item, shape) for item in (rank, to_meets, to_pass)))


def _distances(outcome: Outcome, guards: tuple[Any, ...]) -> tuple[Any, Any]:
    """Least distance over the parts to the edge of *meets* and to the edge of *falls short*."""
    to_meets: Any = np.inf
    to_pass: Any = np.inf
    for part, guard in zip(outcome.parts, guards, strict=True):
        meets: Any = np.inf
        passes: Any = -np.inf
        if isinstance(part, Words):
            rank, _ = _words(part, None)
            meets = np.where(rank == _R_MEETS, np.inf, -np.inf)
            passes = np.where(rank == _R_SHORT, -np.inf, np.inf)
        else:
            ends = [part.found] if part.found_high is None else [part.found, part.found_high]
            lax = part.good * (part.grey - part.required) < 0
            tight = ~lax & ~np.isnan(part.grey)
            # Of a range the worse end decides about meets, the better one about falling short.
            for end in ends:
                near = far = part.good * (end - part.required)
                near = near - guard
                if _has_grey(part):
                    edge = part.good * (end - part.grey)
                    near, far = np.where(tight, edge, near), np.where(lax, edge, far)
                meets, passes = np.minimum(meets, near), np.maximum(passes, far)
            if part.optional:
                meets, passes = (np.where(np.isnan(x), np.inf, x) for x in (meets, passes))
        to_meets, to_pass = np.minimum(to_meets, meets), np.minimum(to_pass, passes)
    for mask, _ in outcome.ceiling:
        to_meets = np.where(mask, -np.inf, to_meets)
    return to_meets, to_pass


def _ranked(
    outcome: Outcome, guards: tuple[Any, ...], reasons: _Reasons | None
) -> tuple[Array, Any, Array, Array]:
    """Rank and, where `reasons` are kept, reason; what stands whatever is missing; outside."""
    rank: Any = np.int8(0)
    why: Any = 0
    for part, guard in zip(outcome.parts, guards, strict=True):
        if isinstance(part, Words):
            part_rank, part_why = _words(part, reasons)
        else:
            part_rank, part_why = _criterion(part, guard, reasons)
            if part.optional:
                part_rank = np.where(part_rank == _R_NOT_JUDGED, np.int8(0), part_rank)
        if part_why is not None:
            first = np.equal(why, 0) & (part_why != 0) & (part_rank >= rank)
            why = np.where((part_rank > rank) | first, part_why, why)
        rank = np.maximum(rank, part_rank)
    final = rank == _R_SHORT

    def put(rows: Any, word: str, reason: str) -> None:
        nonlocal rank, why
        rank = np.where(rows, np.int8(_RANKS[word]), rank)
        if reasons is not None:
            why = np.where(rows, reasons.code(reason), why)

    for mask, reason in outcome.ceiling:
        put(mask & (rank == _R_MEETS), "marginal", reason)
    for mask, name in outcome.needs:
        put(mask & (rank < _R_SHORT), "not judged", f"{name.replace('_', ' ')} not recorded")
    outside: Any = np.zeros((), bool)
    # Outside the method no number counts, not even one that falls short.
    for mask, reason in outcome.outside:
        put(mask, "not judged", reason)
        outside = outside | mask
    # Of what settles a row the first decides, so it is the last to be written.
    for mask, word, reason in reversed(outcome.settled):
        put(mask, word, reason)
        final, outside = final | mask, outside & ~np.asarray(mask)
    return np.asarray(rank), why, np.asarray(final | outside), outside


def _in_full(
    check: Check, outcome: Outcome, guards: tuple[Any, ...], shape: tuple[int, ...]
) -> Judgement:
    def whole(item: Any) -> Array:
        item = np.asarray(item)
        return item if item.shape == shape else np.broadcast_to(item, shape)

    reasons = _Reasons()
    rank, why, final, outside = _ranked(outcome, guards, reasons)
    if check.information:
        settled = [mask for mask, _, _ in outcome.settled]
        open_ = ~np.any(np.broadcast_arrays(False, *settled), axis=0)
        rank = np.where(open_, np.int8(_RANKS["information"]), rank)
        why = np.where(open_, reasons.code("numbers only, no verdict"), why)
        final = np.ones((), bool)
    found, found_high, required, uncertainty = (np.full(shape, np.nan) for _ in range(4))
    margin, margin_high = np.full(shape, np.nan), np.full(shape, np.nan)
    for part, guard in zip(outcome.parts, guards, strict=True):
        if isinstance(part, Words):
            continue
        # The leading criterion is the first whose margin is known, or any that is known at all.
        high = part.found if part.found_high is None else part.found_high
        here = np.isnan(margin) & ~np.isnan(part.found + part.required)
        if not part.optional:
            here |= np.isnan(found) & np.isnan(required)
        ends = _margin(part, part.found), _margin(part, high)
        for column, values in (
            (found, part.found),
            (found_high, high),
            (required, part.required),
            (margin, np.minimum(*ends)),
            (margin_high, np.maximum(*ends)),
            (uncertainty, guard),
        ):
            np.copyto(column, values, where=here)
    if check.guarded:
        uncertainty[np.isnan(margin)] = np.nan
    else:
        uncertainty[:] = np.nan

    def both_ends(item: Any) -> tuple[Array, Array]:
        low, high = item if isinstance(item, tuple) else (item, item)
        return whole(low), whole(high)

    return Judgement(
        band=whole(_BAND_OF_RANK[rank]),
        why=whole(why),
        reasons=tuple(reasons.texts),
        final=whole(final),
        outside=whole(outside),
        needs=tuple((whole(mask), name) for mask, name in outcome.needs),
        found=found,
        found_high=found_high,
        required=required,
        margin=margin,
        margin_high=margin_high,
        uncertainty=uncertainty,
        numbers={name: both_ends(item) for name, item in outcome.numbers.items()},
        notes=tuple((whole(mask), text) for mask, text in outcome.notes),
        cites=tuple((whole(mask), cite) for mask, cite in outcome.cites),
        guards=guards,
    )
