"""Material that stays on the belt after the cleaners."""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = ["cleaner_effect", "mass_flow"]

Array = np.ndarray[Any, Any]


def cleaner_effect(primary: Any, secondary: Any, metal_secondary: Any) -> tuple[Array, Array]:
    """Least and most of the residue that a set of cleaners removes, as shares.

    Parameters
    ----------
    primary, secondary, metal_secondary
        Boolean arrays: fitted or not.

    Notes
    -----
    Common practice, no published source [C]: none 0; one stage alone 0.40–0.50; both with a
    secondary that is not metal 0.40–0.90; both with a metal secondary 0.90.
    """
    primary, secondary = np.asarray(primary, bool), np.asarray(secondary, bool)
    both, any_ = primary & secondary, primary | secondary
    metal = both & np.asarray(metal_secondary, bool)
    least = np.select([metal, any_], [0.90, 0.40], 0.0)
    most = np.select([both, any_], [0.90, 0.50], 0.0)
    return least, most


def mass_flow(residue: Any, width: Any, belt_speed: Any) -> Array:
    r"""Carryback on the move, kg/h: :math:`3600\,c\,w\,v` of kg/m², m and m/s [D]."""
    return np.asarray(3600.0 * np.asarray(residue) * width * belt_speed)
