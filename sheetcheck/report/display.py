"""Numbers in the units that the source used, and texts of one line."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

from ..checks.declare import Check
from ..findings.results import Number
from ..findings.words import Words, plain, say
from ..register.fields import FIELDS
from ..register.register import Register
from ..units import factor, unit_column
from .model import Cell
from .style import decimals

__all__ = ["Display", "capital", "customary_unit", "listed", "width_of"]

# Enough places that a difference which decides a band can be seen; a millimetre in every unit of
# length.
_PLACES = {unit: int(places) for unit, places in unit_column("places").items()}
_PLACES |= dict.fromkeys(("J", "count", "currency/year"), 0)
# Below so many millimetres, as of settled dust, a whole millimetre would hide the difference.
_FINE = 10.0
_STYLES: Mapping[str, str] = {unit: decimals(places) for unit, places in _PLACES.items()}
_US_UNITS = unit_column("us_unit")
_US_LENGTHS = ("in", "ft")
_NO_UNIT = ("", "1", "count")
_TRIED_DIGITS = 4  # significant; a tried value is one of a range, and known no better


def capital(text: str) -> str:
    """Text with its first letter large."""
    return text[:1].upper() + text[1:]


def customary_unit(field: str, *, us: bool) -> str:
    """Unit in which a register of the metric or the US system usually records a field."""
    si, customary = FIELDS[field].unit, FIELDS[field].customary
    if us:
        units = [unit for unit in customary if unit in _US_LENGTHS]
        unit = units[0] if units else _US_UNITS.get(si, si)
        if unit != si:
            return unit
    if si == "m" and "mm" in customary:
        return "mm"
    return "%" if si == "1" else si


def listed(items: Iterable[str], most: int | None = None) -> str:
    """Items with commas between them; past `most`, how many more there are."""
    items = list(items)
    if most is None or len(items) <= most:
        return ", ".join(items)
    return f"{', '.join(items[:most])} and {len(items) - most} more"


def width_of(texts: Iterable[object], least: float = 6, most: float = 60) -> float:
    """Column width in characters that takes the longest of `texts` on one line."""
    from xlsxwriter.utility import cell_autofit_width

    longest = max((cell_autofit_width(str(text)) for text in texts), default=0)
    # 7 pixels a character in the standard font; bold tags are a little wider than its letters.
    return min(max(least, 1.06 * longest / 7 + 1), most)


def _with_unit(number: str, unit: str) -> str:
    if unit in _NO_UNIT:
        return number
    return f"{number}{unit}" if unit in ("°", "%") else f"{number} {unit}"


class Display:
    """Shows SI numbers of one register in its own units.

    Parameters
    ----------
    register
        Its columns say in which unit each field was recorded; other quantities follow the
        system that most of its units belong to.
    """

    def __init__(self, register: Register) -> None:
        self._units = {c.field: c.unit for c in register.columns if c.field}
        self.us = Words(register).us

    def unit(self, field: str) -> str:
        """Unit in which a field is shown: the source's, else the register's system's."""
        si = FIELDS[field].unit
        source = self._units.get(field)
        if source is not None and factor(source, si):
            return source
        return customary_unit(field, us=self.us)

    def unit_of(self, check: Check) -> str:
        """Unit in which a check's numbers are shown: that of its first input of the kind."""
        alike = [name for name in check.fields if FIELDS[name].unit == check.unit]
        recorded = [name for name in alike if name in self._units]
        if recorded or alike:
            return self.unit((recorded or alike)[0])
        return _US_UNITS.get(check.unit, check.unit) if self.us else check.unit

    def number(self, value: Number, si: str, unit: str) -> Cell:
        """Cell with a number or a range, given in `si`, in `unit`."""
        style = _STYLES.get(unit) or decimals(2)
        if value is None:
            return Cell(None, style)
        by = factor(unit, si) or 1.0
        if unit == "mm" and abs(value[1] if isinstance(value, tuple) else value) / by < _FINE:
            style = decimals(2)
        if isinstance(value, tuple):
            low, high = (self._text(end / by, unit) for end in value)
            return Cell(low if low == high else f"{low} to {high}", style)
        return Cell(value / by if math.isfinite(value) else None, style)

    def recorded(self, field: str, value: Any) -> Cell:
        """Cell with a register value as it was recorded: a number, a range, a word, yes or no."""
        if isinstance(value, bool):
            return Cell("yes" if value else "no")
        if value is None or isinstance(value, str):
            return Cell(value)
        if FIELDS[field].kind == "count":
            return Cell(value, "count")
        return self.number(value, FIELDS[field].unit, self.unit(field))

    def words(self, value: float, si: str, unit: str) -> str:
        """A number, given in `si`, as text with its unit."""
        return _with_unit(self._text(value / (factor(unit, si) or 1.0), unit), unit)

    def tried(self, field: str, value: str) -> str:
        """A value tried for a missing input, a word or a number in SI, as the register has it."""
        try:
            number = float(value)
        except ValueError:
            return value
        if not FIELDS[field].unit:
            return value
        unit = self.unit(field)
        number /= factor(unit, FIELDS[field].unit) or 1.0
        return _with_unit(plain(float(f"{number:.{_TRIED_DIGITS}g}")), unit)

    @staticmethod
    def _text(value: float, unit: str) -> str:
        places = 2 if unit == "mm" and abs(value) < _FINE else _PLACES.get(unit, 2)
        return f"{value:,.{places}f}"

    def flip(self, field: str, value: float | str | None, present: float) -> str:
        """Below or above which value of an input, which is `present` now, the band changes."""
        if isinstance(value, str):
            return f"{say(field)} {value}"
        if value is None:
            return ""
        way = "below " if value < present else "above " if value > present else ""
        return f"{say(field)} {way}{self.words(value, FIELDS[field].unit, self.unit(field))}"
