"""Numbers and fields in plain words, lengths in the units the plant itself uses."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from functools import cache

from ..register.fields import FIELDS
from ..register.register import Register
from ..units import factor

__all__ = ["Filling", "Words", "holes", "named_holes", "plain", "say"]

Filling = float | tuple[float, float] | str | None
"""What may fill a hole: a number or a range in SI, words, or nothing."""

_US_UNITS = frozenset(
    (
        "in",
        "ft",
        "ft/min",
        "ft/s",
        "lbf/in",
        "lbf",
        "lb/ft",
        "lb/ft³",
        "short ton/h",
        "ft³/min",
        "ft²",
        "in²",
    )
)
_US_FOR = {
    "m/s": "ft/min",
    "kN/m": "lbf/in",
    "kN": "lbf",
    "kg/m": "lb/ft",
    "t/m³": "lb/ft³",
    "m³/s": "ft³/min",
    "m²": "ft²",
}
_AS_RECORDED = ("t/h", "kg/m²")
_HOLE = re.compile(r"\{(\w+):([^}^_]+)([\^_]?)\}")
_TOWARD = {"": 0, "^": 1, "_": -1}


@cache
def say(name: str) -> str:
    """A field or number name as words."""
    return name.replace("_", " ")


def _trim(value: float, digits: int, toward: int = 0) -> str:
    """A number without trailing zeros, rounded to nearest, up (+1) or down (−1)."""
    if toward:
        scaled = value * 10**digits
        # What is whole but for rounding in the last place stays as it is.
        slack = 1e-9 * abs(scaled)
        value = (math.ceil(scaled - slack) if toward > 0 else math.floor(scaled + slack)) / (
            10**digits
        )
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _digits(size: float) -> int:
    return 0 if size >= 100 else 1 if size >= 10 else 2 if size >= 0.1 else 4


def plain(value: float) -> str:
    """A number to six significant digits, never with an exponent."""
    if not math.isfinite(value):
        return "unknown"
    digits = 0 if value == 0 else max(0, 5 - math.floor(math.log10(abs(value))))
    return _trim(value, min(digits, 12))


def named_holes(template: str) -> str:
    """A remedy's template with the name of each number in brackets where it will stand."""
    return _HOLE.sub(lambda hole: f"[{say(hole.group(1))}]", template)


@cache
def holes(template: str) -> tuple[tuple[int, str, str, int], ...]:
    """Holes of a template: where each ends, its name, its unit, and how it rounds."""
    return tuple(
        (hole.end(), hole[1], hole[2], _TOWARD[hole[3]]) for hole in _HOLE.finditer(template)
    )


class Words:
    """Formats SI numbers for one register, in its own system of units.

    Parameters
    ----------
    register
        Its columns' units settle whether lengths read in metres or in feet and inches.
    """

    def __init__(self, register: Register) -> None:
        units = [column.unit for column in register.columns if column.field and column.unit]
        us = sum(unit in _US_UNITS for unit in units)
        metric = sum(unit in ("m", "mm", "cm", "m/s", "m/min", "kN/m", "N/mm") for unit in units)
        self.us = us > metric
        # Metric tons in a register of short ones, or kilograms among grams, would be misread.
        self._recorded = {
            FIELDS[column.field].unit: column.unit
            for column in register.columns
            if column.field and column.unit and FIELDS[column.field].unit in _AS_RECORDED
        }

    def shown(self, unit: str) -> tuple[float, str]:
        """Unit in which quantities other than lengths are shown, after its size in `unit`."""
        other = self._recorded.get(unit) or (_US_FOR.get(unit) if self.us else None)
        by = factor(other, unit) if other else None
        return (by, other) if other and by else (1.0, unit)

    def last_digit(self, value: float, unit: str) -> float:
        """Size in `unit` of the last digit with which a quantity that is no length is shown."""
        by, _ = self.shown(unit)
        return by * 10.0 ** -_digits(abs(value) / by)

    def quantity(self, value: float, unit: str, toward: int = 0, *, exact: bool = False) -> str:
        """A number with its unit, such as ``2.19 m``, ``610 mm``, ``7 ft 2.4 in``, ``35°``.

        Parameters
        ----------
        value
            In `unit`.
        unit
            SI unit of the schema, ``count``, or ``1`` for a pure number.
        toward
            +1 to round up, −1 to round down: a number to go by must do once it is rounded.
        exact
            Whether it stands on a step of the trade, and is shown as it is.
        """
        if not math.isfinite(value):
            return "unknown"
        if unit == "m":
            return self._length(value, toward, exact)
        if unit == "count":
            return f"{value:.0f}"
        if unit == "1":
            return _trim(value, 3, toward)
        if unit == "°":
            return f"{_trim(value, 1, toward)}°"
        by, unit = self.shown(unit)
        value = value / by
        return f"{_trim(value, 4 if exact else _digits(abs(value)), toward)} {unit}"

    def _number(self, value: float | tuple[float, float], unit: str, toward: int) -> str | None:
        if isinstance(value, tuple) and toward:
            # Of a range the end that surely does.
            value = max(value) if toward > 0 else min(value)
        if isinstance(value, tuple):
            ends = [self._number(end, unit, toward) for end in value]
            return None if None in ends else " to ".join(dict.fromkeys(filter(None, ends)))
        return self.quantity(value, unit, toward) if math.isfinite(value) else None

    def _length(self, value: float, toward: int, exact: bool) -> str:
        if self.us:
            inches = value / 0.0254
            if abs(inches) < 36:
                return f"{_trim(inches, 3 if exact else 2, toward)} in"
            sign = "-" if inches < 0 else ""
            feet, rest = divmod(float(_trim(abs(inches), 1, toward * (-1 if sign else 1))), 12)
            return f"{sign}{feet:.0f} ft" + (f" {_trim(rest, 1)} in" if rest >= 0.05 else "")
        # Half a millimetre below the metre would read 1000 mm.
        if abs(value) < 0.9995:
            return f"{_trim(value * 1000, 1 if abs(value) < 0.1 or exact else 0, toward)} mm"
        return f"{_trim(value, 3 if exact else 2, toward)} m"

    def filled(self, template: str, given: Callable[[str], Filling]) -> str | None:
        """Fill the holes of a remedy; None where a number it needs is not known.

        Parameters
        ----------
        template
            Text with ``{name:unit}`` holes; ``{name:unit^}`` rounds up, ``{name:unit_}`` down.
        given
            Name to number, range or words; None or "" where unknown.
        """
        said, rest = "", 0
        for end, name, unit, toward in holes(template):
            value = given(name)
            if value is not None and not isinstance(value, str):
                value = self._number(value, unit, toward)
            if not value:
                return None
            said += template[rest : template.index("{", rest)] + value
            rest = end
        return said + template[rest:]
