"""What to measure next: which single input would let most conveyors be judged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..register.fields import FIELDS
from .columns import Array
from .judge import NOT_JUDGED
from .results import CheckResult, Findings

__all__ = ["Gap", "Lack", "gaps", "lacks"]


# Of a cleaner that is not fitted nobody needs the blade.
_OF_CLEANER = {"primary_blade": "primary_cleaner", "secondary_blade": "secondary_cleaner"}


@dataclass(frozen=True, slots=True)
class Gap:
    """One input that is missing somewhere.

    Attributes
    ----------
    field
        The input.
    recorded
        Whether the register has a column for it at all.
    rows
        Rows in which it alone stands between a check and its verdict.
    verdicts
        Verdicts that wait for it alone.
    waiting
        Verdicts that wait for it, alone or with other inputs.
    """

    field: str
    recorded: bool
    rows: int
    verdicts: int
    waiting: int


@dataclass(frozen=True, slots=True)
class Lack:
    """How many verdicts of each row one input keeps from being given.

    Attributes
    ----------
    alone
        Counts, by row, of verdicts that wait for it alone.
    waiting
        Counts of those that wait for it, alone or with other inputs.
    lacking
        Counts of those not judged that lack it at all, though what else they lack may come first.
    """

    alone: Array
    waiting: Array
    lacking: Array


def _lacking(findings: Findings, result: CheckResult, rows: Array) -> dict[str, Array]:
    """Input to which of `rows` lack it; of a set of which any one will do, the first."""
    columns = findings.columns
    lacking = {name: columns.missing(name)[rows] for name in result.check.inputs}
    for name in _OF_CLEANER.keys() & lacking.keys():
        lacking[name] &= columns.get(_OF_CLEANER[name])[rows] != 0
    for mask, names in result.none_of:
        lacking[names[0]] = lacking.get(names[0], np.zeros(len(rows), bool)) | mask[rows]
    return lacking


def _waits(findings: Findings, result: CheckResult, lacking: Mapping[str, Array]) -> list[Array]:
    """Narrow what rows lack to what they wait for.

    A row that lacks an input which cannot be bounded waits for those; else for what was bounded.
    """
    check, ranges = result.check, findings.columns.ranges

    def hard(name: str) -> bool:
        soft = FIELDS[name].kind in ("choice", "yes/no") or name in ranges
        return not (soft or name in check.spread or name in check.bounded)

    firm = [name not in check.inputs or hard(name) for name in lacking]
    any_hard = np.any([there for there, own in zip(lacking.values(), firm, strict=True) if own], 0)
    return [
        there & (any_hard if own else ~any_hard)
        for there, own in zip(lacking.values(), firm, strict=True)
    ]


def lacks(findings: Findings) -> dict[str, Lack]:
    """Give each missing input that keeps any verdict from being given, in the schema's order."""
    size = len(findings)
    found: dict[str, Lack] = {}
    for result in findings.results.values():
        rows = np.flatnonzero((result.band == NOT_JUDGED) & ~result.outside)
        lacking = _lacking(findings, result, rows)
        if not any(there.any() for there in lacking.values()):
            continue
        waits = _waits(findings, result, lacking)
        number = np.sum(waits, axis=0)
        for (name, there), awaited in zip(lacking.items(), waits, strict=True):
            if there.any():
                lack = found.setdefault(name, Lack(*np.zeros((3, size), int)))
                lack.alone[rows] += awaited & (number == 1)
                lack.waiting[rows] += awaited
                lack.lacking[rows] += there
    return {name: found[name] for name in FIELDS if name in found}


def gaps(findings: Findings) -> list[Gap]:
    """Missing inputs, the one that would decide most rows first."""
    found = [
        Gap(
            field=name,
            recorded=findings.register.has(name),
            rows=int(np.count_nonzero(lack.alone)),
            verdicts=int(lack.alone.sum()),
            waiting=int(lack.waiting.sum()),
        )
        for name, lack in lacks(findings).items()
        if lack.waiting.any()
    ]
    # Sorting is stable: what is equal stays in the schema's order.
    return sorted(found, key=lambda gap: (-gap.rows, -gap.verdicts, -gap.waiting))
