"""Every check over every row of a register."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from ..checks import CHECKS
from ..checks.declare import Check
from ..register.fields import FIELDS, MEASURING, Tolerance
from ..register.ranges import Ends
from ..register.register import Register
from .bounding import bound
from .columns import Array, Columns
from .flips import flip_points
from .judge import MARGINAL, MEETS, NOT_APPLICABLE, NOT_JUDGED, SHORT, judge
from .results import CheckResult, Findings
from .words import say

__all__ = ["evaluate", "evaluate_check"]


def evaluate(
    register: Register,
    limits: Mapping[str, Mapping[str, float]] | None = None,
    *,
    measuring: Mapping[str, Tolerance] | None = None,
    ranges: Mapping[str, Ends] | None = None,
    checks: Iterable[str] | None = None,
    flips: bool = True,
) -> Findings:
    """Judge every row of a register by every check.

    Parameters
    ----------
    register
        The register; not changed.
    limits
        Check key to limit name to value, in place of the declared defaults.
    measuring
        Measuring tolerances in place of the defaults, by the keys of `MEASURING`.
    ranges
        Ranges of missing numbers in place of the defaults, by the keys of `RANGES`.
    checks
        Keys of the checks to run; all of them where not given.
    flips
        Whether to look for flip points, the dearest part.

    Raises
    ------
    KeyError
        Where `limits` or `checks` name a check that does not exist.
    """
    tolerances = {**MEASURING, **(measuring or {})}
    columns = Columns(register, ranges)
    given = {key: dict(values) for key, values in (limits or {}).items()}
    wanted = [CHECKS[key] for key in (CHECKS if checks is None else checks)]
    for key in given:
        CHECKS[key]
    results = {
        check.key: evaluate_check(check, columns, given.get(check.key, {}), tolerances, flips)
        for check in wanted
    }
    return Findings(register, columns, results, given, tolerances)


def evaluate_check(
    check: Check,
    columns: Columns,
    changed: Mapping[str, float],
    measuring: Mapping[str, Tolerance],
    flips: bool,
    bare: bool = False,
) -> CheckResult:
    """Judge every row by one check; `changed` limits stand in place of the declared ones.

    A `bare` result has bands, figures and reasons, and nothing that only words need.
    """
    columns = columns.seen_by(check)
    limits = {name: changed.get(name, limit.value) for name, limit in check.limits.items()}
    size = columns.size
    tolerances = {
        name: columns.tolerance(name, measuring)
        for name in check.fields
        if check.guarded and FIELDS[name].measuring and name not in check.steps
        if columns.has(name) or columns.has(FIELDS[name].stand_in)
    }
    given = {name: columns.get(name) for name in check.parameters}
    base = judge(check, given, tolerances, limits)
    result = CheckResult(
        check=check,
        limits=limits,
        band=base.band.copy(),
        why=base.texts(),
        ends={
            "found": (np.fmin(base.found, base.found_high), np.fmax(base.found, base.found_high)),
            "required": (base.required.copy(), base.required.copy()),
            "margin": (base.margin.copy(), base.margin_high.copy()),
        },
        uncertainty=base.uncertainty,
        numbers={name: (low.copy(), high.copy()) for name, (low, high) in base.numbers.items()},
        notes=list(base.notes),
        cites=list(base.cites),
        outside=base.outside.copy(),
    )
    lacking = np.zeros(size, bool)
    for name in check.inputs:
        lacking |= columns.missing(name)
    ranged = np.zeros(size, bool)
    for name in check.fields:
        ranged |= columns.ranged(name)
    further = columns.further if check.per_belt else np.zeros(size, bool)
    single = ~(lacking | ranged)
    # A range is NaN to the base judgement, which must not take it for missing.
    open_rows = ~single & ~further & (ranged | ~base.final)
    _bound_rows(result, check, columns, np.flatnonzero(open_rows), tolerances, limits)
    if bare:
        result.band[further] = NOT_APPLICABLE
        return result
    _name_what_is_missing(result, check, columns, base.needs)
    if further.any():
        _point_to_first_row(result, columns, further)
    result.assumed = _assumptions(check, columns)
    alone = np.flatnonzero(~open_rows & ~further)
    if flips and not check.information and check.unit:
        result.flips = flip_points(check, columns, alone, base, tolerances, limits)
    judged = np.isin(result.band, (MEETS, MARGINAL, SHORT))
    exact = np.flatnonzero(single & ~further & judged)
    need = np.flatnonzero(single & ~further & np.isin(result.band, (MARGINAL, SHORT)))
    for function, rows in ((check.detail, exact), (check.solve, need)):
        if function is not None and len(rows):
            _add_numbers(result, function, check, given, rows, limits, size)
    _hold_sparingly(result, columns)
    return result


def _hold_sparingly(result: CheckResult, columns: Columns) -> None:
    """Hold once what is many times the same: a long register has thousands of such columns."""
    nothing: Array = columns.once("nothing", lambda: np.full(columns.size, np.nan))
    nothing.setflags(write=False)  # many results share it

    def held(column: Array) -> Array:
        if column.dtype.kind == "U":
            known: dict[str, str] = {}
            return np.array([known.setdefault(text, text) for text in column.tolist()], object)
        return nothing if column.dtype.kind == "f" and np.isnan(column).all() else column

    for both in (result.ends, result.numbers):
        for name, (low, high) in both.items():
            # Most are no ranges.
            same = np.array_equal(low, high, equal_nan=low.dtype.kind == "f")
            both[name] = (low := held(low), low if same else held(high))
    result.uncertainty = held(result.uncertainty)


def _bound_rows(
    result: CheckResult,
    check: Check,
    columns: Columns,
    rows: Array,
    tolerances: Any,
    limits: Mapping[str, float],
) -> None:
    if not len(rows):
        return
    for _, (low, high) in result.numbers.items():
        if low.dtype.kind == "f":
            low[rows] = high[rows] = np.nan
    bounded = np.zeros(columns.size, bool)
    bounded[rows] = True
    result.notes = [(mask & ~bounded, text) for mask, text in result.notes]
    for part in bound(check, columns, rows, tolerances, limits):
        result.band[part.rows], result.why[part.rows] = part.band, part.why
        result.outside[part.rows] = part.outside
        for name, ends in part.ends.items():
            for column, values in zip(result.ends[name], ends, strict=True):
                column[part.rows] = values
        for name, ends in part.numbers.items():
            for column, values in zip(result.numbers[name], ends, strict=True):
                column[part.rows] = values
        for position, said in part.assumptions.items():
            result.assumptions[int(part.rows[position])] = said
        for position, known in part.if_known.items():
            result.if_known[int(part.rows[position])] = known
        for mask, text in part.notes:
            rows_noted = np.zeros(columns.size, bool)
            rows_noted[part.rows] = mask
            result.notes.append((rows_noted, text))
        result.uncertainty[part.rows] = np.nan


def _name_what_is_missing(
    result: CheckResult, check: Check, columns: Columns, needs: Iterable[tuple[Array, str]]
) -> None:
    """Give "not judged" its reason where none of a set of inputs is recorded."""
    for names in check.one_of:
        none = np.ones(columns.size, bool)
        for name in names:
            none &= columns.missing(name)
        rows = none & (result.band == NOT_JUDGED) & ~result.outside
        said = " nor ".join(say(name) for name in names)
        result.why[rows] = f"neither {said} recorded" if names[1:] else f"{said} not recorded"
        result.none_of.append((rows, names))
    for mask, name in needs:
        rows = mask & columns.missing(name) & (result.band == NOT_JUDGED) & ~result.outside
        result.none_of.append((rows, (name,)))


def _point_to_first_row(result: CheckResult, columns: Columns, further: Array) -> None:
    first = columns.register.first_row
    for row in np.flatnonzero(further):
        sheet, number = columns.register.cells.main(int(first[row]))
        result.why[row] = f"judged once for the conveyor, on {sheet} row {number}"
    result.band[further], result.outside[further] = NOT_APPLICABLE, False
    for ends in (*result.ends.values(), *result.numbers.values()):
        for column in ends:
            if column.dtype.kind == "f":
                column[further] = np.nan
    result.notes = [(mask & ~further, text) for mask, text in result.notes]
    result.uncertainty[further] = np.nan


def _assumptions(check: Check, columns: Columns) -> list[tuple[Array, str]]:
    """What holds for the inputs of many rows: stand-ins, inputs not compared, rough values."""
    said = []
    for name in check.fields:
        stood = columns.stood_in(name)
        if stood.any() and not name.endswith("_operating_tension"):
            other = FIELDS[name].stand_in
            said.append((stood, f"{say(other)} taken for the {say(name)}"))
        rough = columns.approximate(name)
        if rough is not None and FIELDS[name].measuring:
            rough = rough & ~columns.missing(name)
            said.append((rough, f"{say(name)} is marked approximate"))
    for name in check.optional:
        text = check.assumes.get(name, f"{say(name)} not recorded: not compared")
        if text:
            said.append((columns.missing(name), text))
    return said


def _add_numbers(
    result: CheckResult,
    function: Any,
    check: Check,
    given: Mapping[str, Array],
    rows: Array,
    limits: Mapping[str, float],
    size: int,
) -> None:
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        found = function(*(given[name][rows] for name in check.parameters), **limits)
    for name, values in found.items():
        values = np.asarray(values)
        if values.dtype.kind == "O":
            column = np.empty(size, object)
        else:
            column = np.full((size, *values.shape[1:]), np.nan)
        column[rows] = values
        result.more[name] = column
