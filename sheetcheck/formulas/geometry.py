"""Cross-section of a troughed belt: wing, width, depth, edge distance, load areas.

Angles are in degrees, lengths in metres, areas in square metres. Every argument is a float or an
array; arrays broadcast.
"""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = [
    "cema_area",
    "centre_contact",
    "din22101_area",
    "edge_distance",
    "iso5048_area",
    "trough_depth",
    "troughed_width",
    "usable_width",
    "wing_length",
]

Array = np.ndarray[Any, Any]
_INCH = 0.0254


def centre_contact(belt_width: Any, centre_roll_length: Any, idler_rolls: Any) -> Array:
    r"""Width of belt that lies flat on the centre roll, m.

    Parameters
    ----------
    belt_width
        Belt width B, m.
    centre_roll_length
        Length of the centre roll, m; NaN where unknown, then B/3.
    idler_rolls
        Rolls in the set; a two-roll set has no centre roll. NaN is taken as three.

    Notes
    -----
    :math:`c = B/3` for three equal rolls is the assumption of ISO 5293.
    """
    third = np.where(np.isnan(centre_roll_length), np.divide(belt_width, 3.0), centre_roll_length)
    return np.where(np.equal(idler_rolls, 2), 0.0, np.minimum(third, belt_width))


def wing_length(belt_width: Any, centre: Any) -> Array:
    r"""Width of belt on one side roll, :math:`a = (B - c)/2`, m."""
    return np.asarray(np.subtract(belt_width, centre) / 2.0)


def troughed_width(centre: Any, wing: Any, trough_angle: Any) -> Array:
    r"""Distance between the belt edges in the trough, :math:`W = c + 2a\cos\lambda`, m.

    B = 36 in, λ = 35°, c = B/3 gives 31.66 in [D]; the trade speaks of 31.7 in [C].
    """
    return np.asarray(centre + 2.0 * wing * np.cos(np.radians(trough_angle)))


def trough_depth(wing: Any, trough_angle: Any) -> Array:
    r"""Height of the belt edge above the centre roll's belt line, :math:`H = a\sin\lambda`, m."""
    return np.asarray(wing * np.sin(np.radians(trough_angle)))


def edge_distance(belt_width: Any) -> Array:
    r"""Give the CEMA standard edge distance, m.

    Notes
    -----
    :math:`e = 0.055\,B + 0.9` in, B in inches (CEMA, Belt Conveyors for Bulk Materials, eq. 4.12
    [Q]). 36 in gives 2.88 in.
    """
    return np.asarray(0.055 * np.asarray(belt_width) + 0.9 * _INCH)


def _segment(half_width: Any, surcharge_angle: Any) -> Array:
    """Area under a circular arc that meets its chord's ends at the surcharge angle, m²."""
    theta = np.radians(np.asarray(surcharge_angle, float))
    flat = theta < 1e-6
    safe = np.where(flat, 1.0, theta)
    shape = safe / np.sin(safe) ** 2 - 1.0 / np.tan(safe)
    return np.asarray(np.square(half_width) * np.where(flat, 2.0 / 3.0 * theta, shape))


def cema_area(belt_width: Any, trough_angle: Any, surcharge_angle: Any) -> Array:
    r"""Load area of a three-equal-roll trough filled to the CEMA edge distance, m².

    Parameters
    ----------
    belt_width, trough_angle, surcharge_angle
        B in m; angles in degrees.

    Notes
    -----
    Centre :math:`c = 0.371 B + 0.25` in, wing loaded to :math:`m = (B-c)/2 - e`, circular top at
    the surcharge angle (CEMA, eq. 4.11–4.13 [Q]). This centre is CEMA's own and is used for the
    load area only.
    """
    width = np.asarray(belt_width, float)
    lam = np.radians(trough_angle)
    centre = 0.371 * width + 0.25 * _INCH
    loaded = (width - centre) / 2.0 - edge_distance(width)
    trapezium = loaded * np.sin(lam) * (centre + loaded * np.cos(lam))
    return np.asarray(trapezium + _segment(centre / 2.0 + loaded * np.cos(lam), surcharge_angle))


def usable_width(belt_width: Any) -> Array:
    r"""Belt width that may carry material, m.

    Notes
    -----
    :math:`b = 0.9B - 0.05` m up to B = 2 m, :math:`b = B - 0.25` m above (ISO 5048 [S]).
    """
    width = np.asarray(belt_width, float)
    return np.where(width <= 2.0, 0.9 * width - 0.05, width - 0.25)


def _metric_area(
    belt_width: Any, centre: Any, trough_angle: Any, surcharge_angle: Any, cap: float
) -> Array:
    lam, theta = np.radians(trough_angle), np.radians(surcharge_angle)
    side = np.maximum(usable_width(belt_width) - centre, 0.0)
    top = (centre + side * np.cos(lam)) ** 2 * np.tan(theta) / cap
    trapezium = (centre + side / 2.0 * np.cos(lam)) * side / 2.0 * np.sin(lam)
    return np.asarray(top + trapezium)


def iso5048_area(belt_width: Any, centre: Any, trough_angle: Any, surcharge_angle: Any) -> Array:
    r"""Load area of a three-roll trough by ISO 5048, m²; `centre` is the centre roll's length.

    Notes
    -----
    :math:`S = [l_3+(b-l_3)\cos\lambda]^2\tan\theta/6
    + [l_3+\tfrac{b-l_3}{2}\cos\lambda]\tfrac{b-l_3}{2}\sin\lambda` (ISO 5048 [S]). The cap term is
    two thirds of `din22101_area`'s: the two are never mixed.
    """
    return _metric_area(belt_width, centre, trough_angle, surcharge_angle, 6.0)


def din22101_area(belt_width: Any, centre: Any, trough_angle: Any, surcharge_angle: Any) -> Array:
    r"""Load area of a three-roll trough by DIN 22101, m²: as ISO 5048, cap term :math:`/4` [S]."""
    return _metric_area(belt_width, centre, trough_angle, surcharge_angle, 4.0)
