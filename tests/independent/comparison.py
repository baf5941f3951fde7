"""What the program says of rows, beside what the catalogue read anew says."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

import pandas as pd

import sheetcheck
from sheetcheck.register.derive import complete
from sheetcheck.register.fields import FIELDS
from tests.conftest import Approximate, make_register
from tests.independent import catalogue
from tests.independent.catalogue import About, Range, Values


class Difference(NamedTuple):
    check: str
    row: int
    what: str
    got: Any
    want: Any
    why: str


def _recorded(value: Any) -> Any:
    if isinstance(value, About):
        return Approximate(value.value)
    return tuple(value) if isinstance(value, Range) else value


def judged(rows: list[Values]) -> pd.DataFrame:
    register = make_register(
        [{name: _recorded(v) for name, v in row.items() if name in FIELDS} for row in rows]
    )
    complete(register)
    return sheetcheck.run_checks(register)


def _ends(value: Any) -> Range | None:
    if value is None:
        return None
    ends = Range(*value) if isinstance(value, tuple | list) else Range(value, value)
    return None if math.isnan(ends.low) else ends


def _same(got: Any, want: Range | None) -> bool:
    ends = _ends(got)
    if ends is None or want is None:
        return ends is None and want is None
    return all(
        math.isclose(g, w, rel_tol=1e-7, abs_tol=1e-9) for g, w in zip(ends, want, strict=True)
    )


def _holds(got: Any, want: Range | None) -> bool:
    """Whether a range holds the other, which was looked at in fewer places."""
    ends = _ends(got)
    if ends is None or want is None or want.low == want.high:
        return False
    return ends.low <= want.low * (1 + 1e-7) and math.isclose(ends.high, want.high, rel_tol=1e-7)


# Between the ends of a range of pulley lift or trough angle the peak tension has its least.
_CURVED = ("transition-tension-tail", "transition-tension-head")
_OPEN_FOUND = {
    ("access-opening", catalogue.MARGINAL),
    ("load-support", catalogue.MARGINAL),
    ("cleaning-carryback", catalogue.INFORMATION),
}


def differences(rows: list[Values], frame: pd.DataFrame) -> Iterator[Difference]:
    made = catalogue.prepare(rows)
    columns = [frame[name] for name in ("row", "check", "band", "numbers", "why")]
    columns += [
        zip(frame[name], frame[f"{name}_high"], strict=True) for name in ("found", "required")
    ]
    for number, check, band, numbers, why, found, required in zip(*columns, strict=True):
        if check not in catalogue.CHECKS:
            continue
        row, first = made[number]
        want = catalogue.judge(check, row, first)
        if band != want.band:
            yield Difference(check, number, "band", band, want.band, why)
            continue
        if band == catalogue.NOT_APPLICABLE:
            continue
        soft = band == catalogue.OPEN
        for what, value, wanted in (
            ("found", found, want.found),
            ("required", required, want.required),
            ("uncertainty", numbers.get("measuring_uncertainty"), want.uncertainty),
        ):
            # A side that is not recorded, or a bed that decides: which number is found is open.
            given = _ends(value) is not None and wanted is not None
            if not given and (soft or (check, band) in _OPEN_FOUND):
                continue
            if what == "uncertainty" and (value is None or wanted is None):
                continue
            if what == "found" and check in _CURVED and _holds(value, wanted):
                continue
            if not _same(value, wanted):
                yield Difference(check, number, what, value, wanted, why)
