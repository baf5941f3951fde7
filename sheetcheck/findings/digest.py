"""What a site summary needs of one workbook's findings; small, where findings are not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from .judge import SHORT
from .plant import Ruling
from .rank import load_points, ranking, worst_first
from .results import BANDS, Findings
from .summary import band_counts, one_line

__all__ = ["MOST_WORST", "Digest", "Worst", "digest"]

MOST_WORST = 50
"""Conveyors of one workbook that a site summary can show."""


@dataclass(frozen=True, slots=True)
class Worst:
    """One of the worst conveyors: where it stands, and what the order goes by.

    Attributes
    ----------
    tag, sheet, row
        Its tag, and where its first register row stands.
    load_points
        Their names; none where it has only one.
    people, short, people_weight, short_weight, yearly_cost, worst_margin
        As of `rank.Ranking`; `worst_margin` is None where no verdict has one.
    checks
        Keys of the checks that fall short at any load point, in report order.
    """

    tag: str
    sheet: str
    row: int
    load_points: tuple[str, ...]
    people: int
    short: int
    people_weight: float
    short_weight: float
    yearly_cost: float
    worst_margin: float | None
    checks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Digest:
    """One workbook in counts.

    Attributes
    ----------
    line
        All of it in one line, for the terminal.
    rows, problems
        Register rows, and problems in the source.
    bands
        Check key to band to number of rows.
    totals
        Band to number of verdicts.
    worst
        The worst conveyors, at most `MOST_WORST`, the worst first.
    unknown_tags
        Tags for which a deviation is accepted and which this workbook does not have.
    """

    line: str
    rows: int
    problems: int
    bands: Mapping[str, Mapping[str, int]]
    totals: Mapping[str, int]
    worst: tuple[Worst, ...]
    unknown_tags: tuple[str, ...] = ()


def digest(findings: Findings) -> Digest:
    """Count what a site summary shows of one workbook."""
    bands = {
        key: dict(zip(BANDS, np.bincount(result.band, minlength=len(BANDS)).tolist(), strict=True))
        for key, result in findings.results.items()
    }
    return Digest(
        line=one_line(findings),
        rows=len(findings),
        problems=len(findings.register.problems),
        bands=bands,
        totals=band_counts(findings),
        worst=tuple(_worst(findings)),
        unknown_tags=_unknown_tags(findings.ruling),
    )


def _unknown_tags(ruling: Ruling) -> tuple[str, ...]:
    entries = ruling.plant.accepted if ruling.plant else ()
    return tuple(
        entry.tag
        for entry, state in zip(entries, ruling.states, strict=True)
        if state == "no such tag"
    )


def _worst(findings: Findings) -> list[Worst]:
    register, parts = findings.register, ranking(findings)
    found = []
    for first in worst_first(findings)[:MOST_WORST]:
        if not parts.short[first]:
            continue
        rows = np.flatnonzero(register.first_row == first)
        sheet, number = register.cells.main(first)
        margin = float(parts.worst_margin[first])
        found.append(
            Worst(
                tag=str(register.values["tag"][first]),
                sheet=sheet,
                row=number,
                load_points=load_points(findings, first),
                people=int(parts.people[first]),
                short=int(parts.short[first]),
                people_weight=float(parts.people_weight[first]),
                short_weight=float(parts.short_weight[first]),
                yearly_cost=float(parts.yearly_cost[first]),
                worst_margin=margin if np.isfinite(margin) else None,
                checks=tuple(
                    key
                    for key, result in findings.results.items()
                    if (result.band[rows] == SHORT)[~findings.resting[key][rows]].any()
                ),
            )
        )
    return found
