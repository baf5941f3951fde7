"""Units at the edges: spelling to SI on the way in, SI to a display unit on the way out.

The only module that imports pint, and only when a factor is asked for that is not kept. Spellings
come from a white list; a bare word is never taken for a unit.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from .data import rows

if TYPE_CHECKING:
    import pint

__all__ = ["SPELLINGS", "UNITS", "by_pint", "canonical", "factor", "unit_column"]


_UNITS = {line["unit"]: line for line in rows(__package__, "unit_spellings.csv")}
"""Canonical unit to its SI unit in the schema, its definition, how people spell it, the decimal
places it is shown with; for an SI unit the one used in the United States in its place; and how
people there write it."""

SPELLINGS: dict[str, str] = {
    spelling: unit for unit, line in _UNITS.items() for spelling in line["spellings"].split("|")
}
"""Spelling in lower case to canonical unit."""


def canonical(text: str) -> str | None:
    """Give the canonical unit for a spelling, or None where it is not on the white list."""
    return SPELLINGS.get(text.strip().casefold())


UNITS: tuple[str, ...] = tuple(_UNITS)
"""Every canonical unit."""


def unit_column(name: str) -> dict[str, str]:
    """Canonical unit to what one column of the table says of it; without those it leaves empty."""
    return {unit: line[name] for unit, line in _UNITS.items() if line[name]}


@cache
def _registry() -> pint.UnitRegistry[Any]:
    import pint

    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None)
    text = files(__package__).joinpath("unit_definitions.txt").read_text(encoding="utf-8")
    for line in text.splitlines():
        if not line.startswith("#"):
            registry.define(line)
    return registry


def by_pint(unit: str, si_unit: str) -> float:
    """Factor from `unit` to `si_unit`, worked out by pint; both measure the same."""
    registry = _registry()
    ratio = registry.Quantity(1, _UNITS[unit]["definition"]) / registry.Quantity(
        1, _UNITS[si_unit]["definition"]
    )
    return float(ratio.to_base_units().magnitude)


@cache
def _worked_out() -> dict[tuple[str, str], float]:
    """Factors that pint gave, kept in a file: loading pint takes longer than reading a register.

    `tests/test_units.py` works each of them out anew, and rewrites the file when asked to.
    """
    return {
        (line["unit"], line["si_unit"]): float(line["factor"])
        for line in rows(__package__, "unit_factors.csv")
    }


@cache
def factor(unit: str, si_unit: str) -> float | None:
    """Multiply a number in `unit` by this to have it in `si_unit`.

    Parameters
    ----------
    unit, si_unit
        Canonical units, `si_unit` one that the schema stores.

    Returns
    -------
    float or None
        None where `unit` measures something else.
    """
    if unit == si_unit:
        return 1.0
    if unit not in _UNITS or si_unit not in _UNITS:
        return None
    if _UNITS[unit]["si_unit"] != _UNITS[si_unit]["si_unit"]:
        return None
    kept = _worked_out().get((unit, si_unit))
    return by_pint(unit, si_unit) if kept is None else kept
