"""The checks' arithmetic written a second time, from the sources and not from the package.

Scalars in SI. Expectations in this folder come from here, from published values typed into the
tests, or from the CSV files beside them.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from scipy import integrate

from tests.conftest import Approximate

INCH, FOOT = 0.0254, 0.3048
GRAVITY = 9.80665
DATA = Path(__file__).parent / "data"


def read_data(name: str) -> list[dict[str, str]]:
    """One file of published values."""
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def tolerance(name: str, value: float) -> float:
    """Measuring tolerance by the kind of quantity, [C]: common practice, no published source."""
    if name == "chute_wall_thickness":
        return 0.001
    if name == "seal_footprint":
        return 0.003
    if name in ("belt_wander", "side_clearance"):
        return 0.005
    if name == "dust_layer_depth":
        return 0.0002
    if name == "lump_size":
        return 0.05 * abs(value)
    if name == "trough_angle":
        return 1.0
    if name == "belt_speed":
        return 0.02 * abs(value)
    if name in (
        *("tonnage", "bulk_density", "belt_mass", "belt_modulus", "load_belt_tension"),
        *("tail_tension_ratio", "head_tension_ratio", "belt_tension_ratio", "belt_rated_tension"),
        *("tail_operating_tension", "head_operating_tension", "belt_operating_tension"),
    ):
        return 0.05 * abs(value)
    return max(0.010, 0.01 * abs(value))


def uncertainty(margin: Callable[..., float], measured: Mapping[str, Any], **fixed: Any) -> float:
    """Combined uncertainty of `margin`: one measured input moved at a time, root sum of squares.

    The guard-band idea of ISO 14253-1 and JCGM 106: the larger of the change up and down.
    """
    values = {
        name: item.value if isinstance(item, Approximate) else item
        for name, item in measured.items()
    }
    at = margin(**values, **fixed)
    total = 0.0
    for name, value in values.items():
        step = tolerance(name, value)
        if isinstance(measured[name], Approximate):
            step = 0.10 * abs(value)
        total += (
            max(
                abs(margin(**{**values, name: value + way * step}, **fixed) - at)
                for way in (1, -1)
            )
            ** 2
        )
    return math.sqrt(total)


# Geometry of three rolls -------------------------------------------------------------------


def wing(width: float, centre: float | None = None) -> float:
    """Length of belt on one wing roll; three equal rolls (ISO 5293) where not told."""
    return (width - (width / 3 if centre is None else centre)) / 2


def troughed_width(width: float, angle: float, centre: float | None = None) -> float:
    """Width of the belt seen from above."""
    a = wing(width, centre)
    return width - 2 * a + 2 * a * math.cos(math.radians(angle))


def trough_depth(width: float, angle: float, centre: float | None = None) -> float:
    """Height of the belt's edge above the centre roll."""
    return wing(width, centre) * math.sin(math.radians(angle))


def edge_distance(width: float) -> float:
    """Standard edge distance, CEMA eq. 4.12 as quoted: 0.055 B + 0.9 in."""
    return 0.055 * width + 0.9 * INCH


def cema_area(width: float, angle: float, surcharge: float) -> float:
    """Load area by integrating the height of material across the belt, CEMA eq. 4.11 to 4.13.

    Centre 0.371 B + 0.25 in; wings loaded up to the standard edge distance; the top a circular
    arc that leaves the belt at the surcharge angle.
    """
    centre = 0.371 * width + 0.25 * INCH
    loaded = (width - centre) / 2 - edge_distance(width)
    tilt, rest = math.radians(angle), math.radians(surcharge)
    half = centre / 2 + loaded * math.cos(tilt)
    radius = half / math.sin(rest) if surcharge else math.inf

    def height(x: float) -> float:
        top = loaded * math.sin(tilt)
        if surcharge:
            top += math.sqrt(radius**2 - x**2) - radius * math.cos(rest)
        return top - max(0.0, x - centre / 2) * math.tan(tilt)

    parts = [(0, centre / 2), (centre / 2, half)]
    return 2 * sum(integrate.quad(height, low, high, epsabs=1e-12)[0] for low, high in parts)


# Transition --------------------------------------------------------------------------------


@cache
def _factors() -> dict[tuple[str, str, int, str], tuple[float, float | None]]:
    return {
        (
            row["pulley_position"].replace("third trough", "third").replace("half trough", "half"),
            row["carcass"],
            int(row["trough_deg"]),
            row["tension_band"],
        ): (
            float(row["factor_of_belt_width"]),
            float(row["disputed_low"]) if row["disputed_low"] else None,
        )
        for row in read_data("transition_factors.csv")
    }


def transition_factor(
    position: str, carcass: str, angle: float, ratio: float
) -> tuple[float, float | None]:
    """Factor of belt width, and the lower figure of sources that disagree, if any."""
    row = 20 if angle <= 20 else 35 if angle <= 35 else 45
    column = "over 90 %" if ratio > 0.9 else "under 60 %" if ratio < 0.6 else "60 to 90 %"
    return _factors()[position, carcass, row, column]


def strain(s: Any, length: float, angle: float, lift: float) -> Any:
    """Strain of the fibre (or array of fibres) that leaves the pulley `s` up the wing."""
    tilt = math.radians(angle)
    aside = (s * math.sin(tilt) - lift) ** 2 + (s * (1 - math.cos(tilt))) ** 2
    # (√(L² + aside) − L)/L, without losing the small difference
    return aside / ((length**2 + aside) ** 0.5 + length) / length


def tension_profile(
    width: float,
    angle: float,
    length: float,
    ratio: float,
    modulus_ratio: float,
    lift: float = 0.0,
    centre: float | None = None,
) -> tuple[float, float]:
    """Peak and least tension across the belt as shares of rated tension, by quadrature.

    `modulus_ratio` is modulus ÷ rated tension. The extremes are sought on a fine grid.
    """
    a = wing(width, centre)
    on_wings, _ = integrate.quad(strain, 0, a, args=(length, angle, lift), epsabs=1e-14)
    mean = (2 * on_wings + (width - 2 * a) * strain(0, length, angle, lift)) / width
    every = strain(np.linspace(0, a, 4001), length, angle, lift)
    return (
        ratio + modulus_ratio * float(every.max() - mean),
        ratio + modulus_ratio * float(every.min() - mean),
    )
