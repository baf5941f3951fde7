"""Transition idlers between a pulley and the trough: where they stand and how far they bend."""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = ["idler_angles", "idler_positions"]

Array = np.ndarray[Any, Any]


def idler_positions(count: int) -> Array:
    r"""Positions of `count` transition idlers, as shares of the transition length from the pulley.

    Notes
    -----
    :math:`k(k+1)/((n+1)(n+2))` for k = 1 … n: published values 0.33; 0.17, 0.50; 0.10, 0.30,
    0.60; 0.07, 0.20, 0.40, 0.67 [S]; the form is derived and the end from which they count is
    assumed to be the pulley [D].
    """
    k = np.arange(1, count + 1)
    return np.asarray(k * (k + 1) / ((count + 1) * (count + 2)))


def idler_angles(share: Any, trough_angle: Any) -> Array:
    r"""Troughing angle of an idler at `share` of a straight-line transition, degrees.

    Notes
    -----
    :math:`\arctan\frac{x\sin\lambda}{1-x(1-\cos\lambda)}` [D]: the belt edge runs straight from
    the pulley to the trough.
    """
    lam = np.radians(trough_angle)
    x = np.asarray(share)
    return np.asarray(np.degrees(np.arctan2(x * np.sin(lam), 1.0 - x * (1.0 - np.cos(lam)))))
