"""Flip points the plain way: every input moved through many values, and the band looked at."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import pandas as pd

from tests.independent import catalogue
from tests.independent.catalogue import MARGINAL, MEETS, SHORT, About, Range, Values
from tests.independent.comparison import Difference

JUDGED = (MEETS, MARGINAL, SHORT)
AT_A_STEP = "at a table step"
_BESIDE = 2e-6
"""Share of a flip within which the band changes; reported values have nine digits."""
_NOT_MEASURED = ("tracker_count", "tail_transition_idlers", "door_count", "carryback_target")


class _Scan:
    """One check's band on one row, as a function of one input."""

    def __init__(self, key: str, row: Values, name: str) -> None:
        self.key, self.row, self.name = key, row, name
        self.values = {field: catalogue.plain(value) for field, value in row.items()}
        self.present = self.values[name]
        self.band = self.at(self.present)

    def at(self, value: float) -> str:
        return catalogue.band_at(self.key, self.values | {self.name: value}, self.row)

    def differs(self, value: float) -> bool:
        band = self.at(value)
        return band != self.band and band in JUDGED

    def fault(self, reported: Any, points: int) -> str:
        """What is wrong with a reported flip point, or "" where nothing is."""
        size = abs(self.present) or 1.0
        if reported == AT_A_STEP:
            near = [self.present + sign * size * _BESIDE for sign in (-1, 1)]
            return "" if any(map(self.differs, near)) else "no change beside the present value"
        reach = size
        if reported is not None:
            reach = abs(reported - self.present)
            outward = math.copysign(1, reported - self.present)
            aside = _BESIDE * max(abs(reported), 1e-6) * outward
            before, after = self.at(reported - aside), self.at(reported + aside)
            if reach > abs(aside) and before != self.band:
                return f"{before} already before it"
            if after == self.band:
                return f"{after} after it too"
            reach -= 2 * abs(aside)
            if reach <= 0:
                return ""
        low = self.present - reach
        if not catalogue.may_be_negative(self.name):
            low = max(low, 1e-6 * size)
        high = min(self.present + reach, catalogue.most_possible(self.name))
        for number in range(points + 1):
            value = low + (high - low) * number / points
            if self.differs(value):
                return f"{self.at(value)} at {value:.9g} already"
        return ""


def faults(rows: list[Values], frame: pd.DataFrame, points: int) -> Iterator[Difference | None]:
    """For every input that was looked at: what is wrong with its flip, None where nothing is."""
    made = catalogue.prepare(rows)
    columns = ("row", "check", "band", "found", "flips_at")
    for number, key, band, found, flips in zip(*(frame[name] for name in columns), strict=True):
        row, first = made[number]
        check = catalogue.CHECKS.get(key)
        if check is None or band not in JUDGED or (check.per_belt and not first):
            continue
        if math.isnan(found):
            continue  # no numeric verdict
        bounded = catalogue.unknowns(key, row) or any(
            row.get(word) is None for word in check.words
        )
        if bounded or any(isinstance(row.get(name), Range) for name in check.numbers):
            continue
        if band != catalogue.judge(key, row).band:
            continue  # a difference of bands is another test's
        for name in check.numbers:
            if name in _NOT_MEASURED or not isinstance(row.get(name), float | About):
                continue
            reported = flips.get(name)
            fault = _Scan(key, row, name).fault(reported, points)
            what = f"flip of {name}"
            yield Difference(key, number, what, reported, fault, "") if fault else None
