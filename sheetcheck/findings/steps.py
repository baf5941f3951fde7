"""The steps in which the trade sets out work, and what cannot be set out at all."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from ..checks.declare import AT_THE_LIMIT, exceeds
from ..register.fields import FIELDS
from ..register.ranges import Ends
from .columns import Array, Columns
from .words import Words

__all__ = ["STEPS", "STEP_UNITS", "Steps"]

_INCH = 0.0254
STEPS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "length": (0.010, _INCH / 2),
        "opening": (0.025, _INCH),
        "angle": (0.5, 0.5),
        "tonnage": (5.0, 5.0 * 0.90718474),
        "speed": (0.05, 5 * 0.00508),
        "air": (0.05, 100 * 0.3048**3 / 60),
        "run of belt": (1.0, 0.3048),
        "dust layer": (0.0001, 0.005 * _INCH),
    }
)
"""Kind of work to its step in SI, in a metric and in a US register. Lengths are those of chutes,
skirts, transitions and positions, openings those of doors, walkways and pulley faces; a length of
100 in or more is set out in whole inches. Common practice, no published source."""

STEP_UNITS: Mapping[str, str] = MappingProxyType(
    dict.fromkeys(STEPS, "m") | {"angle": "°", "tonnage": "t/h", "speed": "m/s", "air": "m³/s"}
)
"""SI unit of each step."""

_OPENINGS = ("door_width", "door_height", "pulley_face_tail", "pulley_face_head")
_KIND = {
    **{unit: kind for kind, unit in STEP_UNITS.items() if unit != "m"},
    "m": "length",
    **dict.fromkeys((*_OPENINGS, "service_clear_width", "walkway_width"), "opening"),
    "tracker_spacing_max": "run of belt",
    "dust_layer_depth": "dust layer",
}
# Belts come in standard widths: ISO 251, and inches in the US; both from memory, not confirmed.
_WIDTHS = (0.3, 0.4, 0.5, 0.65, 0.8, *(0.2 * n for n in range(5, 17)))
_US_WIDTHS = tuple(
    _INCH * n for n in (14, 16, 18, 20, 24, 30, 36, 42, 48, 54, 60, 72, 84, 96, 108, 120)
)

# What cannot be built, besides what the register takes for impossible or doubtful: a wider belt,
# idlers closer than rolls of usual diameters allow. Common practice, no published source.
_MOST = {"belt_width": 3.2}
_LEAST = {"load_idler_spacing": 0.2, "carry_idler_spacing": 0.2}
_WITHIN = {
    "door_width": "chute_width_inside",
    "chute_width_inside": "belt_width",
    **dict.fromkeys(
        ("chute_back", "load_start", "tail_transition_length", "head_transition_length"),
        "conveyor_length",
    ),
}
_NARROWEST_CHUTE = 0.2


class Steps:
    """Trade steps of one register.

    Parameters
    ----------
    words
        Tells the register's system of units, and the unit of its tonnages.
    own
        Steps of the plant's own, SI, by the keys of `STEPS`.
    """

    def __init__(self, words: Words, own: Mapping[str, float] | None = None) -> None:
        self._words, self._own = words, own or {}

    def of(self, name: str, values: Array) -> Array:
        """Step of a field at some values, in SI; of what has none, the last digit printed."""
        field = FIELDS[name]
        kind = _KIND.get(name) or _KIND.get(field.unit, "")
        if not kind:
            return np.array([self._words.last_digit(v, field.unit) for v in values.tolist()])
        if kind in self._own:
            return np.full(len(values), self._own[kind])
        us = self._words.us
        if kind == "tonnage":
            us = self._words.shown(field.unit)[1] != field.unit
        step = np.full(len(values), STEPS[kind][us])
        return np.where(values >= 100 * _INCH, _INCH, step) if us and kind == "length" else step

    def outward(self, name: str, values: Array, toward: int, more: Array | int = 0) -> Array:
        """Values moved outward to a step, up (+1) or down (−1), and so many steps further."""
        if name == "belt_width":
            widths = np.array(_US_WIDTHS if self._words.us else _WIDTHS)
            at = np.searchsorted(widths * (1 + AT_THE_LIMIT), values) + more
            # A belt wider than any is none.
            return np.where(
                np.isnan(values), np.nan, np.append(widths, math.inf)[np.minimum(at, len(widths))]
            )
        for count in (0, more):
            values = values + toward * count * self.of(name, values)
            step = self.of(name, values)
            values = toward * np.ceil(toward * values / step - 1e-8) * step
        return values

    def usual(self, ends: Ends) -> Ends:
        """Ends of a range of lengths as its trade says them: 75 mm is 3 in in a US register."""
        half = _INCH / 2
        low, high = (round(end / half) * half if self._words.us else end for end in ends)
        return low, high

    def possible(self, name: str, columns: Columns, rows: Array, values: Array) -> Array:
        """Whether a field can be set to values in some rows of a register."""
        field = FIELDS[name]
        least = max(field.possible.low, field.plausible.low, _LEAST.get(name, -math.inf))
        most = _MOST.get(name, min(field.possible.high, field.plausible.high))
        good = (values >= least) & (values <= most)
        if field.possible.low_open or name.endswith("_wander"):
            good &= values > 0
        if name in _WITHIN:
            good &= ~exceeds(values, columns.get(_WITHIN[name])[rows])
        if name == "chute_width_inside":
            good &= ~exceeds(_NARROWEST_CHUTE * columns.get("belt_width")[rows], values)
        return np.asarray(good)
