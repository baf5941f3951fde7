"""What a run of all checks over a register gives: columns per check, and single verdicts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["BANDS", "WORST_FIRST", "Number", "Verdict"]

BANDS = ("meets", "marginal", "falls short", "not judged", "not applicable", "information")
"""Band words; a band column holds indices into this tuple."""

WORST_FIRST = ("falls short", "not judged", "marginal", "meets", "not applicable")

Number = float | tuple[float, float] | None
"""A number, a range, or nothing."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """One check on one register row, as it is shown and written.

    Attributes
    ----------
    found, required, margin
        In `unit` (SI); margin is positive where the requirement is met.
    cells
        Field to source cell of every input that was recorded.
    assumptions
        What was assumed, bounded or not compared.
    if_known
        For *not judged* by bounding: field to value to the band that value would give.
    flips_at
        Measured input to the value at which the band changes; None where none exists,
        ``"at a table step"`` where it sits on one.
    numbers
        Named extra results.
    source, grade
        The authority as one line, and how it was read (S, Q, D, C, M).
    remedy
        What to do, with numbers; empty where nothing is called for.
    accepted
        The accepted deviation that covers this verdict, in words; empty where none.
    """

    key: str
    row: int
    band: str
    why: str
    found: Number
    required: Number
    unit: str
    margin: Number
    relative_margin: Number
    cells: Mapping[str, str]
    assumptions: tuple[str, ...]
    if_known: Mapping[str, Mapping[str, str]]
    flips_at: Mapping[str, float | str | None]
    numbers: Mapping[str, Any]
    source: str
    grade: str
    remedy: str
    accepted: str = ""
