"""Units at the edges: spelling to SI on the way in, SI to a display unit on the way out.

The only module that imports pint, and only when a factor is asked for that is not kept. Spellings
come from a white list; a bare word is never taken for a unit.
"""

from __future__ import annotations

import csv
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pint

__all__ = ["SPELLINGS", "UNITS", "by_pint", "canonical", "factor"]

# canonical unit -> (SI unit of the schema, pint expression of the canonical unit, spellings)
_UNITS: dict[str, tuple[str, str, str]] = {
    "m": ("m", "metre", "m|mtr|mtrs|metre|metres|meter|meters|mts|metros|metro|mètre|mètres"),
    "mm": ("m", "millimetre", "mm|millimetre|millimetres|millimeter|millimeters"),
    "cm": ("m", "centimetre", "cm|centimetre|centimetres|centimeter|centimeters"),
    "km": ("m", "kilometre", "km"),
    "in": ("m", "inch", "in|in.|inch|inches|\"|″|”|''|ins|zoll|pulg|pulgadas|pouces|pol"),
    "ft": ("m", "foot", "ft|ft.|foot|feet|'|′|’|pies"),
    "m/s": (
        "m/s",
        "metre/second",
        "m/s|mps|mtr/sec|mtrs/sec|mtr/s|metres a second|metres per second|meters per second|"
        "metres/second|m/sec|m/sec.|m.s-1|m s-1|ms-1|m/seg|m / s|m/sek",
    ),
    "m/min": ("m/s", "metre/minute", "m/min|mpm|m/min."),
    "ft/min": (
        "m/s",
        "foot/minute",
        "fpm|feet per minute|feet a minute|ft/min|ft/min.|feet/min|ft per min|f.p.m.|ft / min",
    ),
    "ft/s": ("m/s", "foot/second", "ft/s|fps|ft/sec"),
    "km/h": ("m/s", "kilometre/hour", "km/h|kph"),
    "kN/m": ("kN/m", "kilonewton/metre", "kn/m|kn/m width|kn / m"),
    "N/mm": ("kN/m", "newton/millimetre", "n/mm|n / mm|n/mm width"),
    "kN/mm": ("kN/m", "kilonewton/millimetre", "kn/mm"),
    "lbf/in": ("kN/m", "pound_force/inch", "piw|lb/in|lbs/in|lbf/in|pli|lb/in width|lb per in"),
    "kN": ("kN", "kilonewton", "kn"),
    "N": ("kN", "newton", "n"),
    "lbf": ("kN", "pound_force", "lbf|lb|lbs|lb."),
    "kg/m": ("kg/m", "kilogram/metre", "kg/m"),
    "lb/ft": ("kg/m", "pound/foot", "lb/ft|lbs/ft|plf"),
    "°": ("°", "degree", "°|deg|deg.|degs|degree|degrees|grad|grados|graus|degrés|º"),
    "1": ("1", "1", "-|ratio|fraction"),
    "%": ("1", "percent", "%|pct|percent|per cent|prozent"),
    "t/m³": ("t/m³", "tonne/metre**3", "t/m³|t/m3|t/cum|g/cm³|g/cm3|g/cc|tm/m3"),
    "kg/m³": ("t/m³", "kilogram/metre**3", "kg/m³|kg/m3"),
    "kg/hL": ("t/m³", "kilogram/hectolitre", "kg/hl"),
    "lb/bu": ("t/m³", "pound/bushel", "lb/bu|lbs/bu|lb/bushel|lbs/bushel"),
    "lb/ft³": ("t/m³", "pound/foot**3", "lb/ft³|lb/ft3|lbs/ft3|pcf|lb/cuft|lb/cu ft|lb/cu.ft."),
    "t/h": (
        "t/h",
        "tonne/hour",
        "t/h|t/hr|mtph|mt/h|mt/hr|te/h|te/hr|tonne/h|tonne/hr|tonnes/h|tonnes/hr|tm/h|"
        "tm/hora|t / h|tonnes per hour|tonnes/hour|tonnen/h|t/std|t/std.",
    ),
    "short ton/h": (
        "t/h",
        "short_ton/hour",
        "stph|short ton/h|short tons/h|short tons/hr|short tons per hour|st/h|ston/h",
    ),
    "long ton/h": ("t/h", "long_ton/hour", "ltph|long ton/h|long tons/h|long tons/hr|lt/h"),
    "kg/s": ("t/h", "kilogram/second", "kg/s"),
    "kg/h": ("t/h", "kilogram/hour", "kg/h|kg/hr"),
    "m³/s": ("m³/s", "metre**3/second", "m³/s|m3/s|m3/sec"),
    "m³/h": ("m³/s", "metre**3/hour", "m³/h|m3/h|m3/hr|m³/hr|cum/hr|cmh"),
    "m³/min": ("m³/s", "metre**3/minute", "m³/min|m3/min"),
    "ft³/min": ("m³/s", "foot**3/minute", "cfm|ft³/min|ft3/min|scfm|acfm"),
    "m²": ("m²", "metre**2", "m²|m2|sqm|sq m"),
    "ft²": ("m²", "foot**2", "ft²|ft2|sqft|sq ft"),
    "in²": ("m²", "inch**2", "in²|in2|sq in"),
    "kg/m²": ("kg/m²", "kilogram/metre**2", "kg/m²|kg/m2"),
    "g/m²": ("kg/m²", "gram/metre**2", "g/m²|g/m2"),
    "lb/ft²": ("kg/m²", "pound/foot**2", "lb/ft²|lb/ft2|lbs/ft2|lb/sqft|lb/sq ft"),
    "h/week": (
        "h/week",
        "hour/week",
        "h/week|hr/week|hrs/week|hours/week|h/wk|hrs/wk|h/w|std/woche|std./woche|std/wo|"
        "h/woche|h/wo|h/semana|h/sem|hs/semana|heures/semaine|h/semaine|horas/semana|"
        "man-hours/week|manhours/week|man hours/week|manhrs/week|manhrs/wk|man-hrs/week|"
        "man-hrs/wk|man hrs/week|man hrs/wk|mhrs/week|mh/week|mh/wk|hours/wk|hrs./week|"
        "hh/semana|hh/sem|hrs per week|hours per week|hours a week",
    ),
    "h/year": (
        "h/year",
        "hour/year",
        "h/year|h/a|hrs/yr|hours/year|h/yr|hr/yr|hrs/year|std/jahr|std./jahr|h/jahr|h/año|"
        "horas/año|h/ano|heures/an|h/an|hours per year|hours a year|hrs/annum|hrs pa",
    ),
    "t/week": (
        "t/week",
        "tonne/week",
        "t/week|t/wk|tonnes/week|tonnes/wk|t/woche|t/semana|t/sem|t/semaine|tonnes per week|"
        "te/week|te/wk",
    ),
    "kg/week": ("t/week", "kilogram/week", "kg/week|kg/wk|kg per week|kg/woche|kg/sem|kg/semana"),
    "lb/week": ("t/week", "pound/week", "lb/week|lb/wk|lbs/week|lbs/wk"),
    "short ton/week": (
        "t/week",
        "short_ton/week",
        "short ton/week|short tons/week|short tons/wk|short tons per week|st/week",
    ),
    "currency/h": ("currency/h", "1", "per hour|/h|/hr|currency/h"),
    "currency/t": ("currency/t", "1", "per tonne|per t|/t|currency/t"),
    "currency/short ton": (
        "currency/t",
        "tonne/short_ton",
        "per short ton|/short ton|$/short ton|currency/short ton",
    ),
}

SPELLINGS: dict[str, str] = {
    spelling: unit
    for unit, (_, _, spellings) in _UNITS.items()
    for spelling in spellings.split("|")
}
"""Spelling in lower case to canonical unit."""


def canonical(text: str) -> str | None:
    """Give the canonical unit for a spelling, or None where it is not on the white list."""
    return SPELLINGS.get(text.strip().casefold())


UNITS: tuple[str, ...] = tuple(_UNITS)
"""Every canonical unit."""

# Exact definitions (international yard and pound agreement 1959; standard gravity, ISO 80000).
# A registry of these few loads ten times faster than pint's full one, which the tests hold it to.
_DEFINITIONS = """
kilo- = 1e3
centi- = 1e-2
milli- = 1e-3
percent = 0.01
metre = [length]
second = [time]
gram = [mass]
degree = [angle]
minute = 60 * second
hour = 3600 * second
week = 168 * hour
year = 365.25 * 24 * hour
tonne = 1000 * kilogram
newton = kilogram * metre / second ** 2
inch = 0.0254 * metre
foot = 0.3048 * metre
pound = 0.45359237 * kilogram
short_ton = 2000 * pound
long_ton = 2240 * pound
hectolitre = 0.1 * metre ** 3
bushel = 2150.42 * inch ** 3
pound_force = 4.4482216152605 * newton
"""


@cache
def _registry() -> pint.UnitRegistry[Any]:
    import pint

    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None)
    for line in _DEFINITIONS.strip().splitlines():
        registry.define(line)
    return registry


def by_pint(unit: str, si_unit: str) -> float:
    """Factor from `unit` to `si_unit`, worked out by pint; both measure the same."""
    registry = _registry()
    ratio = registry.Quantity(1, _UNITS[unit][1]) / registry.Quantity(1, _UNITS[si_unit][1])
    return float(ratio.to_base_units().magnitude)


@cache
def _worked_out() -> dict[tuple[str, str], float]:
    """Factors that pint gave, kept in a file: loading pint takes longer than reading a register.

    `tests/test_units.py` works each of them out anew, and rewrites the file when asked to.
    """
    text = resources.files(__package__).joinpath("unit_factors.csv").read_text(encoding="utf-8")
    lines = csv.DictReader(text.splitlines())
    return {(line["unit"], line["si_unit"]): float(line["factor"]) for line in lines}


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
    if unit not in _UNITS or si_unit not in _UNITS or _UNITS[unit][0] != _UNITS[si_unit][0]:
        return None
    kept = _worked_out().get((unit, si_unit))
    return by_pint(unit, si_unit) if kept is None else kept
