"""What a site summary needs of one workbook's findings; small, where findings are not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from .judge import SHORT
from .plant import Ruling
from .rank import ranking
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
    tag, load_point, sheet, row
        The register row; `load_point` is empty where it has none.
    people, yearly_cost, short, worst_margin
        As of `rank.Ranking`; `worst_margin` is None where no verdict has one.
    checks
        Keys of the checks that fall short, in report order.
    """

    tag: str
    load_point: str
    sheet: str
    row: int
    people: int
    yearly_cost: float
    short: int
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
    for row in np.argsort(findings.rank)[:MOST_WORST].tolist():
        if not parts.short[row]:
            break
        sheet, number = register.cells.main(row)
        load_point = register.value(row, "load_point")
        margin = float(parts.worst_margin[row])
        found.append(
            Worst(
                tag=str(register.values["tag"][row]),
                load_point=load_point if isinstance(load_point, str) else "",
                sheet=sheet,
                row=number,
                people=int(parts.people[row]),
                yearly_cost=float(parts.yearly_cost[row]),
                short=int(parts.short[row]),
                worst_margin=margin if np.isfinite(margin) else None,
                checks=tuple(k for k, r in findings.results.items() if r.band[row] == SHORT),
            )
        )
    return found
