"""What to measure next: which single input would let most conveyors be judged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..register.fields import FIELDS
from .columns import Array
from .judge import NOT_JUDGED
from .results import CheckResult, Findings

__all__ = ["Gap", "gaps"]


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


def _waits_for(findings: Findings, result: CheckResult, rows: Array) -> dict[str, Array]:
    """Input to the rows (of `rows`) that wait for it.

    A row that lacks an input which cannot be bounded waits for those; else for what was bounded.
    """
    check, columns = result.check, findings.columns
    lacking = {name: columns.missing(name)[rows] for name in check.inputs}

    def hard(name: str) -> bool:
        field = FIELDS[name]
        soft = field.kind in ("choice", "yes/no") or name in columns.ranges
        return not (soft or name in check.spread or name in check.bounded)

    any_hard = np.zeros(len(rows), bool)
    for name, there in lacking.items():
        if hard(name):
            any_hard |= there
    waits = {
        name: there & (any_hard if hard(name) else ~any_hard) for name, there in lacking.items()
    }
    for mask, names in result.none_of:
        # Any one of the set will do: the first stands for it.
        waits[names[0]] = waits.get(names[0], np.zeros(len(rows), bool)) | mask[rows]
    return waits


def gaps(findings: Findings) -> list[Gap]:
    """Missing inputs, the one that would decide most rows first."""
    size = len(findings)
    alone: dict[str, Array] = {}
    verdicts: dict[str, int] = {}
    waiting: dict[str, int] = {}
    for result in findings.results.values():
        rows = np.flatnonzero(result.band == NOT_JUDGED)
        if not len(rows):
            continue
        waits = _waits_for(findings, result, rows)
        number = np.sum(list(waits.values()), axis=0)
        for name, there in waits.items():
            sole = there & (number == 1)
            if there.any():
                waiting[name] = waiting.get(name, 0) + int(there.sum())
                verdicts[name] = verdicts.get(name, 0) + int(sole.sum())
                alone.setdefault(name, np.zeros(size, bool))[rows[sole]] = True
    found = [
        Gap(
            field=name,
            recorded=findings.register.has(name),
            rows=int(alone[name].sum()),
            verdicts=verdicts[name],
            waiting=count,
        )
        for name, count in waiting.items()
    ]
    order = list(FIELDS)
    return sorted(
        found, key=lambda gap: (-gap.rows, -gap.verdicts, -gap.waiting, order.index(gap.field))
    )
