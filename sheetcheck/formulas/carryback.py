"""Material that stays on the belt after the cleaners."""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = ["cleaner_effect", "mass_flow"]

Array = np.ndarray[Any, Any]


def cleaner_effect(
    primary: Any,
    secondary: Any,
    metal_secondary: Any,
    one_stage: tuple[float, float],
    two_stages: tuple[float, float],
) -> tuple[Array, Array]:
    """Least and most of the residue that a set of cleaners removes, as shares.

    Parameters
    ----------
    primary, secondary, metal_secondary
        Boolean arrays: fitted or not.
    one_stage, two_stages
        Least and most that one stage alone, and both, remove. None removes nothing; both with a
        metal secondary remove the most that both do.
    """
    primary, secondary = np.asarray(primary, bool), np.asarray(secondary, bool)
    both, any_ = primary & secondary, primary | secondary
    metal = both & np.asarray(metal_secondary, bool)
    least = np.select([metal, both, any_], [two_stages[1], two_stages[0], one_stage[0]], 0.0)
    most = np.select([both, any_], [two_stages[1], one_stage[1]], 0.0)
    return least, most


def mass_flow(residue: Any, width: Any, belt_speed: Any) -> Array:
    r"""Carryback on the move, kg/h: :math:`3600\,c\,w\,v` of kg/m², m and m/s [D]."""
    return np.asarray(3600.0 * np.asarray(residue) * width * belt_speed)
