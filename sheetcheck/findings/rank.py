"""Which conveyors first: a lexicographic order that shows its components."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .columns import Array
from .judge import SHORT
from .results import Findings

__all__ = ["Ranking", "bears_on_people", "rank_rows", "ranking"]

_FOR_PEOPLE = ("access-", "housekeeping-", "tracking-edge")


@dataclass(frozen=True, slots=True)
class Ranking:
    """The components of the order, one value a row.

    Attributes
    ----------
    people
        Number of *falls short* that bear on people.
    yearly_cost
        Estimated cost a year of clean-up and spilled material, currency; what is recorded of it.
    short
        Number of all *falls short*.
    worst_margin
        Worst relative margin; NaN where no verdict has one.
    """

    people: Array
    yearly_cost: Array
    short: Array
    worst_margin: Array


def bears_on_people(key: str) -> bool:
    """Whether falling short of a check always bears on people, heavy spillage or not."""
    return key.startswith(_FOR_PEOPLE)


def ranking(findings: Findings) -> Ranking:
    """Count what the order goes by."""
    size = len(findings)
    people, short = np.zeros(size, int), np.zeros(size, int)
    worst = np.full(size, np.nan)
    heavy = findings.columns.get("spillage_level") == "heavy"
    for key, result in findings.results.items():
        falls = result.band == SHORT
        short += falls
        if bears_on_people(key):
            people += falls
        elif key == "cleaning-stages":
            people += falls & heavy
        if not result.check.information:
            # A relative margin counts only where a verdict stands behind it.
            judged = result.band <= SHORT
            worst = np.fmin(worst, np.where(judged, result.relative_margin, np.nan))
    cost = np.zeros(size)
    if "housekeeping-cost" in findings.results:
        for low, _ in findings.results["housekeeping-cost"].numbers.values():
            cost += np.nan_to_num(low)
    return Ranking(people, cost, short, worst)


def rank_rows(findings: Findings) -> Array:
    """Rank of each row, 1 the worst.

    By, in order: falls short that bear on people, yearly cost, all falls short, worst relative
    margin, register order.
    """
    parts = ranking(findings)
    margin = np.where(np.isnan(parts.worst_margin), np.inf, parts.worst_margin)
    order = np.lexsort(
        (np.arange(len(findings)), margin, -parts.short, -parts.yearly_cost, -parts.people)
    )
    rank = np.empty(len(findings), int)
    rank[order] = np.arange(1, len(findings) + 1)
    return rank
