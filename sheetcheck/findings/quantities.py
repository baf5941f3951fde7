"""Corrective work over the whole site, in numbers a budget can start from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .columns import Array
from .judge import SHORT
from .results import Findings

__all__ = ["Quantity", "quantities"]


@dataclass(frozen=True, slots=True)
class Quantity:
    """One kind of work: how much, on how many conveyors; `low` and `high` differ for a range."""

    what: str
    unit: str
    low: float
    high: float
    conveyors: int


def _conveyors(findings: Findings, rows: Array) -> int:
    """Conveyors of which any of `rows` (a mask) is a load point."""
    return len(set(findings.register.first_row[rows].tolist()))


def _sure(findings: Findings, key: str) -> Array:
    """Rows that fall short, and not only by a value that is doubtful."""
    return np.asarray((findings.results[key].band == SHORT) & ~findings.resting[key])


def _counted(findings: Findings, key: str, what: str, *, each: bool) -> Quantity | None:
    """Load points, or conveyors, that fall short."""
    result = findings.results.get(key)
    if result is None:
        return None
    rows = _sure(findings, key)
    conveyors = _conveyors(findings, rows)
    count = int(rows.sum()) if each else conveyors
    return Quantity(what, "count", count, count, conveyors)


def _summed(findings: Findings, key: str, what: str, unit: str) -> Quantity | None:
    """Sum of what verdicts fall short by."""
    result = findings.results.get(key)
    if result is None:
        return None
    rows = _sure(findings, key)
    low, high = (np.nansum(np.maximum(-end[rows], 0.0)) for end in result.ends["margin"][::-1])
    return Quantity(what, unit, float(low), float(high), _conveyors(findings, rows))


def _carryback(findings: Findings) -> Quantity | None:
    """Carryback of every conveyor whose residue, speed, width and hours are recorded."""
    result = findings.results.get("cleaning-carryback")
    if result is None:
        return None
    low, high = result.numbers["carryback_per_year"]
    known = np.isfinite(low) & np.isfinite(high)
    return Quantity(
        "carryback, where it can be reckoned",
        "t/year",
        float(low[known].sum()),
        float(high[known].sum()),
        _conveyors(findings, known),
    )


def quantities(findings: Findings) -> list[Quantity]:
    """Work that the *falls short* verdicts call for, and carryback; kinds with none left out."""
    found: list[Quantity | None] = [
        _summed(findings, "transition-length-tail", "tail transition to lengthen", "m"),
        _summed(findings, "transition-length-head", "head transition to lengthen", "m"),
        _summed(findings, "seal-length", "skirtboard to add", "m"),
    ]
    fitted = findings.columns
    short = findings.results.get("cleaning-stages")
    if short is not None:
        rows = _sure(findings, "cleaning-stages")
        for stage in ("primary", "secondary"):
            count = int((rows & (fitted.get(f"{stage}_cleaner") == 0)).sum())
            found.append(Quantity(f"{stage} cleaners to fit", "count", count, count, count))
    reach = findings.results.get("tracking-reach")
    if reach is not None:
        rows = _sure(findings, "tracking-reach")
        low, high = (
            float(np.nansum(reach.numbers[name][0][rows]))
            for name in ("least_devices", "most_devices")
        )
        conveyors = _conveyors(findings, rows)
        what = "belts to align: idlers, load, rolls"
        found.append(Quantity(what, "count", conveyors, conveyors, conveyors))
        what = "tracking devices, where those still wander"
        found.append(Quantity(what, "count", low, high, conveyors))
    found.append(_carryback(findings))
    # Chutes, doors and barriers are counted at each load point, the rest once a conveyor.
    for key, what, each in (
        ("load-width", "chutes to narrow", True),
        ("transition-idlers", "tails without transition idlers", False),
        ("cleaning-blade", "secondary cleaners to re-blade", False),
        ("cleaning-plough", "tail ploughs to fit", False),
        ("access-opening", "inspection doors to fit", True),
        ("access-barrier", "barriers behind openings to fit", True),
        ("access-guard", "conveyors to guard", False),
        ("access-isolation", "isolation procedures to write", False),
        ("access-stop", "conveyors without emergency stops in reach", False),
    ):
        found.append(_counted(findings, key, what, each=each))
    return [item for item in found if item is not None and item.conveyors]
