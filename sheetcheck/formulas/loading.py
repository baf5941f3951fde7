"""Material on the belt and falling onto it: sag, impact, air drawn along."""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = [
    "GRAVITY",
    "displaced_air",
    "exhaust_for_drop",
    "exhaust_guide",
    "induced_air",
    "lump_energy",
    "material_mass",
    "sag_ratio",
    "stream_force",
]

Array = np.ndarray[Any, Any]

GRAVITY = 9.80665
"""Standard gravity, m/s² (ISO 80000-3)."""

_FOOT = 0.3048
_CFM = _FOOT**3 / 60.0


def material_mass(tonnage: Any, belt_speed: Any) -> Array:
    """Mass of material per metre of belt, kg/m, from t/h and m/s."""
    return np.asarray(np.divide(tonnage, 3.6) / belt_speed)


def sag_ratio(belt_mass: Any, material: Any, spacing: Any, tension: Any) -> Array:
    r"""Sag between two idlers as a share of their pitch.

    Parameters
    ----------
    belt_mass, material
        kg/m of belt and of material.
    spacing
        Idler pitch a, m.
    tension
        Belt tension, kN.

    Notes
    -----
    :math:`(W_b+W_m)\,g\,a/(8T)`, the parabola of a uniformly loaded belt (US Army TM 5-810-15 [S]
    limits it to 1 % at the load). 3 % is the sag factor 1/(8·0.03) = 4.17.
    """
    return np.asarray((np.add(belt_mass, material)) * GRAVITY * spacing / (8.0 * tension * 1000.0))


def lump_energy(
    lump_size: Any, bulk_density: Any, drop_height: Any, mass_factor: Any, solid_factor: Any
) -> Array:
    r"""Energy of the largest lump at the belt, J.

    Parameters
    ----------
    lump_size, drop_height
        m.
    bulk_density
        t/m³.
    mass_factor, solid_factor
        Lump mass as a share of the enclosing cube (0.6 [C]); solid over bulk density (1.6 [C]).

    Notes
    -----
    :math:`m\,g\,H` with :math:`m = 0.6\,\rho_s\,d^3`, :math:`\rho_s = 1.6\,\rho`.
    """
    mass = mass_factor * solid_factor * np.multiply(bulk_density, 1000.0) * np.power(lump_size, 3)
    return np.asarray(mass * GRAVITY * drop_height)


def stream_force(tonnage: Any, drop_height: Any) -> Array:
    r"""Steady force of a falling stream brought to rest, N.

    Notes
    -----
    Mass flow times fall speed, :math:`\tfrac{Q}{3.6}\sqrt{2gH} = 1.2302\,Q\sqrt{H}` [D], Q in t/h.
    """
    return np.asarray(np.divide(tonnage, 3.6) * np.sqrt(2.0 * GRAVITY * np.asarray(drop_height)))


def displaced_air(tonnage: Any, bulk_density: Any) -> Array:
    """Air that the material pushes out, m³/s, from t/h and t/m³ (NIOSH RI 9689 [S])."""
    return np.asarray(np.divide(tonnage, bulk_density) / 3600.0)


def induced_air(tonnage: Any, drop_height: Any, mean_size: Any, open_area: Any) -> Array:
    r"""Air that a falling stream draws along, m³/s.

    Parameters
    ----------
    tonnage
        R, t/h.
    drop_height, mean_size
        S and D, m; D above 3 mm.
    open_area
        A_u where air can enter, m².

    Notes
    -----
    NIOSH RI 9689 eq. 5.2–5.3 [S]: :math:`Q = 10 A_u (R S^2/D)^{1/3}` cfm with A_u in ft², R in
    short tons an hour, S and D in feet; in SI 0.07798 stands before the root. The factor is built
    here from the units, so that nobody has to trust the digits.
    """
    short_tons = np.divide(tonnage, 0.90718474)
    root = np.cbrt(short_tons * np.square(drop_height) / mean_size / _FOOT)
    return np.asarray(10.0 * np.divide(open_area, _FOOT**2) * root * _CFM)


def exhaust_guide(belt_width: Any, belt_speed: Any) -> Array:
    """Exhaust air guide for a belt transfer, m³/s.

    Notes
    -----
    350 cfm per foot of belt width below 200 ft/min, 500 from there up (ACGIH VS-50-20 [S]).
    """
    # At 200 ft/min, whatever the rounding of the speed, the upper figure holds.
    slow = np.asarray(belt_speed) < 200.0 * _FOOT / 60.0 * (1.0 - 1e-9)
    per_foot = np.where(slow, 350.0, 500.0)
    guide = per_foot * np.divide(belt_width, _FOOT) * _CFM
    return np.asarray(np.where(np.isnan(belt_speed), np.nan, guide))


def exhaust_for_drop(belt_width: Any) -> Array:
    """Exhaust air for a long drop of dusty material, m³/s, added to the guide.

    Notes
    -----
    700 cfm on a belt up to 36 in wide, 1,000 cfm above (ACGIH VS-50-20 [S]).
    """
    wide = np.asarray(belt_width) > 3.0 * _FOOT * (1.0 + 1e-9)
    return np.asarray(np.where(wide, 1000.0, 700.0) * _CFM)
