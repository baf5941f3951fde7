"""The transition factor table as arrays, and its rows by conveyor."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from . import rows

__all__ = [
    "ANGLES",
    "CARCASSES",
    "POSITIONS",
    "RATIO_STEPS",
    "TENSION_BANDS",
    "authority",
    "carcass_row",
    "position_row",
    "transition_factor",
]

Array = np.ndarray[Any, Any]

POSITIONS = ("full trough", "one-third", "half")
CARCASSES = ("fabric", "steel cord")
ANGLES = (20.0, 35.0, 45.0)
TENSION_BANDS = ("under 60 %", "60 to 90 %", "over 90 %")
RATIO_STEPS = (0.6, 0.9)
"""The middle band holds both of its ends."""

_SHARES = (0.0, 1 / 3, 1 / 2)
_SLACK = 1e-9


@cache
def _arrays() -> tuple[Array, Array]:
    shape = (len(POSITIONS), len(CARCASSES), len(ANGLES), len(TENSION_BANDS))
    factor, disputed = np.full(shape, np.nan), np.full(shape, np.nan)
    for row in rows("transition_factors"):
        at = (
            POSITIONS.index(row["pulley_position"]),
            CARCASSES.index(row["carcass"]),
            ANGLES.index(float(row["trough_angle_deg"])),
            TENSION_BANDS.index(row["tension_band"]),
        )
        factor[at] = float(row["factor_of_belt_width"])
        disputed[at] = float(row["disputed_low"] or "nan")
    factor.setflags(write=False)
    disputed.setflags(write=False)
    return factor, disputed


def position_row(pulley_lift: Any, position_word: Any, trough_depth: Any) -> Array:
    """Row of `POSITIONS` that a pulley lift stands in; −1 where unknown or beyond the table.

    Parameters
    ----------
    pulley_lift, trough_depth
        m; the lift NaN where `position_word` has a word.
    position_word
        A word of `POSITIONS`, or "".

    Notes
    -----
    A number takes the next lower position; below 0 or above half the trough depth the table does
    not judge.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.divide(pulley_lift, trough_depth)
    share = np.asarray(share, float)
    row = np.full(share.shape, -1)
    for number, low in enumerate(_SHARES):
        row = np.where(share >= low - _SLACK, number, row)
    row = np.where(share > _SHARES[-1] + _SLACK, -1, row)
    for number, word in enumerate(POSITIONS):
        row = np.where(np.equal(position_word, word), number, row)
    return row


def carcass_row(belt_carcass: Any) -> Array:
    """Row of `CARCASSES`; −1 where the carcass is not recorded."""
    return np.select([np.equal(belt_carcass, word) for word in CARCASSES], [0, 1], -1)


def transition_factor(
    position: Any, carcass: Any, trough_angle: Any, tension_ratio: Any
) -> tuple[Array, Array]:
    """Transition length as a multiple of belt width, and the lower factor where disputed.

    Parameters
    ----------
    position, carcass
        Rows from `position_row` and `carcass_row`.
    trough_angle
        Degrees; between rows the next higher row.
    tension_ratio
        Share of rated tension.

    Returns
    -------
    factor, disputed_low
        NaN where an input is unknown or outside the table; `disputed_low` also where sources
        agree.
    """
    factor, disputed = _arrays()
    angle = np.searchsorted(np.asarray(ANGLES) * (1.0 + _SLACK), trough_angle)
    ratio = np.asarray(tension_ratio, float)
    low, high = RATIO_STEPS
    band = np.where(
        ratio > high * (1.0 + _SLACK), 2, np.where(ratio >= low * (1.0 - _SLACK), 1, 0)
    )
    position, carcass, angle, band, known = np.broadcast_arrays(
        position, carcass, angle, band, ~(np.isnan(ratio) | np.isnan(trough_angle))
    )
    known = known & (position >= 0) & (carcass >= 0) & (angle < len(ANGLES))
    at = tuple(np.where(known, axis, 0) for axis in (position, carcass, angle, band))
    return np.where(known, factor[at], np.nan), np.where(known, disputed[at], np.nan)


def authority(position: str) -> tuple[str, str, str]:
    """Source key, locator and grade that the table's rows of one pulley position carry."""
    row = next(row for row in rows("transition_factors") if row["pulley_position"] == position)
    return row["source"], row["locator"], row["grade"]
