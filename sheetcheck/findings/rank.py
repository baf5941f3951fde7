"""Which conveyors first: a lexicographic order that shows its components.

The order is of conveyors. What falls short at any load point of a conveyor counts once for it, and
so does a cost that all its load points record alike.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ..checks import CHECKS
from ..checks.declare import BASES
from .columns import Array
from .judge import SHORT
from .results import CheckResult, Findings

__all__ = [
    "NO_WORK_BEFORE",
    "Ranking",
    "bears_on_people",
    "by_urgency",
    "load_points",
    "rank_rows",
    "ranking",
    "worst_first",
]

_FOR_PEOPLE = ("access-", "housekeeping-", "tracking-edge")
NO_WORK_BEFORE = ("access-isolation", "access-guard", "access-stop")
"""Checks without which nobody should work on or beside a conveyor, the most urgent first."""
_NEXT = ("access-barrier", "housekeeping-dust", "housekeeping-spillage")


@dataclass(frozen=True, slots=True)
class Ranking:
    """The components of the order: of each register row's conveyor, one value a row.

    Attributes
    ----------
    people, short
        Number of checks that fall short and bear on people, and of all that fall short.
    people_weight, short_weight
        The same by the plant's weights, by which the order goes; one each where it has none.
    yearly_cost
        Estimated cost a year of clean-up and spilled material, currency; what is recorded of it.
    worst_margin
        Worst relative margin; NaN where no verdict has one.
    """

    people: Array
    short: Array
    people_weight: Array
    short_weight: Array
    yearly_cost: Array
    worst_margin: Array


def bears_on_people(key: str) -> bool:
    """Whether falling short of a check always bears on people, heavy spillage or not."""
    return key.startswith(_FOR_PEOPLE)


def by_urgency(keys: Iterable[str]) -> list[str]:
    """Checks in the order in which to put right what falls short of them.

    What people need before any work comes first, then fire and falls, then what else bears on
    people, then the rest, each by what it stands on. Common practice, no published source.
    """
    first = (*NO_WORK_BEFORE, *_NEXT)
    return sorted(
        keys,
        key=lambda key: (
            first.index(key) if key in first else len(first),
            not bears_on_people(key),
            list(BASES).index(CHECKS[key].basis),
        ),
    )


def ranking(findings: Findings) -> Ranking:
    """Count what the order goes by."""
    first, of_row = np.unique(findings.register.first_row, return_inverse=True)
    size = len(first)
    people, short = np.zeros(size, int), np.zeros(size, int)
    people_weight, short_weight = np.zeros(size), np.zeros(size)
    worst = np.full(size, np.inf)
    plant = findings.ruling.plant
    weights = plant.weights if plant else {}
    heavy = _any(of_row, findings.columns.get("spillage_level") == "heavy", size)
    for key, result in findings.results.items():
        # What rests on a doubtful value is to be confirmed before it counts.
        counts = ~findings.resting[key]
        falls = _any(of_row, (result.band == SHORT) & counts, size)
        short += falls
        short_weight += weights.get(key, 1.0) * falls
        if bears_on_people(key) or key == "cleaning-stages":
            falls = falls if bears_on_people(key) else falls & heavy
            people += falls
            people_weight += weights.get(key, 1.0) * falls
        if not result.check.information:
            # A relative margin counts only where a verdict stands behind it.
            judged = (result.band <= SHORT) & counts & ~np.isnan(result.relative_margin)
            np.minimum.at(worst, of_row[judged], result.relative_margin[judged])
    cost = np.zeros(size)
    if "housekeeping-cost" in findings.results:
        cost = _yearly_cost(findings.results["housekeeping-cost"], of_row, size)
    worst = np.where(np.isinf(worst), np.nan, worst)
    return Ranking(
        *(part[of_row] for part in (people, short, people_weight, short_weight, cost, worst))
    )


def _any(of_row: Array, rows: Array, size: int) -> Array:
    """Conveyors of which any row is marked."""
    found = np.zeros(size, bool)
    found[of_row[rows]] = True
    return found


def _yearly_cost(result: CheckResult, of_row: Array, size: int) -> Array:
    """Cost of each conveyor: parts that its rows record alike count once, others add up.

    A register that repeats a conveyor's clean-up hours beside each of its load points means them
    once; hours that differ are each load point's own. Common practice, no published source.
    """
    cost = np.zeros(size)
    for low, _ in result.numbers.values():
        known = np.isfinite(low)
        where, amount = of_row[known], low[known]
        least, most = np.full(size, np.inf), np.full(size, -np.inf)
        np.minimum.at(least, where, amount)
        np.maximum.at(most, where, amount)
        total = np.bincount(where, amount, minlength=size)
        cost += np.where(least == most, most, total)
    return cost


def rank_rows(findings: Findings) -> Array:
    """Rank of each row's conveyor, 1 the worst; the load points of a conveyor share it.

    By, in order: falls short that bear on people, yearly cost, all falls short, worst relative
    margin, register order.
    """
    parts = ranking(findings)
    first, of_row = np.unique(findings.register.first_row, return_inverse=True)
    margin = np.where(np.isnan(parts.worst_margin), np.inf, parts.worst_margin)
    more_is_worse = (parts.short_weight, parts.yearly_cost, parts.people_weight)
    order = np.lexsort((first, margin[first], *(-part[first] for part in more_is_worse)))
    rank = np.empty(len(first), int)
    rank[order] = np.arange(1, len(first) + 1)
    return np.asarray(rank[of_row])


def worst_first(findings: Findings) -> list[int]:
    """First register row of each conveyor, the worst conveyor first."""
    firsts = findings.register.first_row
    first = np.flatnonzero(firsts == np.arange(len(firsts)))
    order: list[int] = first[np.argsort(findings.rank[first])].tolist()
    return order


def load_points(findings: Findings, first: int) -> tuple[str, ...]:
    """Names of a conveyor's load points in register order; none where it has only one.

    Parameters
    ----------
    findings
        What was judged.
    first
        The conveyor's first register row.
    """
    rows = np.flatnonzero(findings.register.first_row == first).tolist()
    names = [findings.register.value(row, "load_point") for row in rows]
    if len(rows) == 1:
        return ()
    return tuple(str(name or number) for number, name in enumerate(names, start=1))
