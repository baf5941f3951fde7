"""Tension across a belt that goes from a pulley into the trough: the fibre model.

Forces are per unit width (kN/m), lengths in metres, angles in degrees. Every argument is a float
or an array; arrays broadcast.
"""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = [
    "FIBRES",
    "edge_strain",
    "lift_that_would_do",
    "mean_strain",
    "peak_and_least",
    "profile",
    "shortest_length",
]

Array = np.ndarray[Any, Any]

FIBRES = 41
"""Points across the belt in a profile, edge to edge."""


def _powers(length: Any, trough_angle: Any, pulley_lift: Any) -> tuple[Array, Array, Array]:
    r"""α, β and γ of the squared fibre length :math:`\alpha s^2+\beta s+\gamma`."""
    lam = np.radians(trough_angle)
    # 2(1 − cos λ) as 4 sin²(λ/2), which keeps its digits at small angles.
    alpha = 4.0 * np.sin(lam / 2.0) ** 2
    beta = -2.0 * np.multiply(pulley_lift, np.sin(lam))
    return alpha, beta, np.square(length) + np.square(pulley_lift)


def _fibre(distance: Any, alpha: Any, beta: Any, gamma: Any) -> Array:
    return np.asarray(np.sqrt(gamma + distance * (alpha * distance + beta)))


def edge_strain(wing: Any, length: Any, trough_angle: Any, pulley_lift: Any = 0.0) -> Array:
    r"""Strain of the belt edge against the plan length of the transition.

    Parameters
    ----------
    wing
        Belt on one side roll a, m.
    length
        Transition length L, m.
    trough_angle
        λ, degrees.
    pulley_lift
        Height h of the pulley's belt line above the centre-roll line, m.

    Notes
    -----
    A fibre at distance s up the wing runs straight from the pulley line to the trough:
    :math:`\ell(s)=\sqrt{L^2+(s\sin\lambda-h)^2+(s(1-\cos\lambda))^2}`,
    :math:`e(s)=(\ell(s)-L)/L` [D]. Gathered in powers of s,
    :math:`\ell^2=\alpha s^2+\beta s+\gamma` with :math:`\alpha=2(1-\cos\lambda)`,
    :math:`\beta=-2h\sin\lambda`, :math:`\gamma=L^2+h^2`.
    """
    edge = _fibre(np.asarray(wing, float), *_powers(length, trough_angle, pulley_lift))
    return np.asarray(edge / length - 1.0)


def mean_strain(
    belt_width: Any, wing: Any, length: Any, trough_angle: Any, pulley_lift: Any = 0.0
) -> Array:
    r"""Exact mean over the belt width of the fibre strain.

    Notes
    -----
    The root of :math:`\ell^2=\alpha s^2+\beta s+\gamma` (see `edge_strain`) integrates to

    .. math:: \frac{2\alpha s+\beta}{4\alpha}\ell
        + \frac{4\alpha\gamma-\beta^2}{8\alpha^{3/2}}\,
        \operatorname{asinh}\frac{2\alpha s+\beta}{\sqrt{4\alpha\gamma-\beta^2}}

    [D; checked against numerical quadrature]. The trough angle must not be 0.
    """
    powers = _powers(length, trough_angle, pulley_lift)
    ends = np.sqrt(powers[2]), _fibre(np.asarray(wing, float), *powers)
    return _mean(belt_width, wing, length, powers, ends)


def _mean(
    belt_width: Any,
    wing: Any,
    length: Any,
    powers: tuple[Array, Array, Array],
    ends: tuple[Array, Array],
) -> Array:
    """Mean strain from the fibre lengths at the centre and at the edge."""
    alpha, beta, gamma = powers
    at_centre, at_edge = ends
    discriminant = 4.0 * alpha * gamma - beta**2
    root = np.sqrt(discriminant)
    slope = 2.0 * alpha * wing + beta
    along_wing = (slope * at_edge - beta * at_centre) / (4.0 * alpha)
    along_wing += (
        discriminant
        / (8.0 * alpha * np.sqrt(alpha))
        * (np.arcsinh(slope / root) - np.arcsinh(beta / root))
    )
    centre = belt_width - 2.0 * np.asarray(wing)
    return np.asarray((centre * at_centre + 2.0 * along_wing) / belt_width / length - 1.0)


def peak_and_least(
    mean_tension: Any,
    modulus: Any,
    belt_width: Any,
    wing: Any,
    length: Any,
    trough_angle: Any,
    pulley_lift: Any = 0.0,
) -> tuple[Array, Array]:
    r"""Highest and lowest tension anywhere across the belt at the end of the transition, kN/m.

    Parameters
    ----------
    mean_tension, modulus
        Mean tension and elastic modulus of the belt per unit width, kN/m.
    belt_width, wing, length, trough_angle, pulley_lift
        As in `mean_strain`.

    Notes
    -----
    :math:`T(s)=\bar T+M(e(s)-\bar e)` [D]; that the mean is kept while the high and low zones are
    limited is Beckley, Bulk Solids Handling 2(4), 1982 [S]. Strain is convex in s, so the peak is
    at the centre or the edge and the least at
    :math:`s=h\sin\lambda/(2(1-\cos\lambda))=-\beta/(2\alpha)`, held to the wing.
    """
    powers = _powers(length, trough_angle, pulley_lift)
    alpha, beta, gamma = powers
    at_centre, at_edge = np.sqrt(gamma), _fibre(np.asarray(wing, float), *powers)
    at_lowest = _fibre(np.clip(-beta / (2.0 * alpha), 0.0, wing), *powers)
    mean = _mean(belt_width, wing, length, powers, (at_centre, at_edge)) + 1.0
    peak = mean_tension + modulus * (np.maximum(at_centre, at_edge) / length - mean)
    return np.asarray(peak), np.asarray(mean_tension + modulus * (at_lowest / length - mean))


def profile(
    mean_tension: Any,
    modulus: Any,
    belt_width: Any,
    wing: Any,
    length: Any,
    trough_angle: Any,
    pulley_lift: Any = 0.0,
) -> tuple[Array, Array]:
    """Tension at `FIBRES` points across the belt, edge to edge; arguments as `peak_and_least`.

    Returns
    -------
    position, tension
        Distance from the belt's centreline along the belt, m; tension, kN/m; both of the
        arguments' shape with `FIBRES` added at the end.
    """
    mean = mean_strain(belt_width, wing, length, trough_angle, pulley_lift)
    half, wing, length, angle, lift, mean, modulus, mean_tension = (
        np.asarray(item, float)[..., np.newaxis]
        for item in (
            np.divide(belt_width, 2.0),
            wing,
            length,
            trough_angle,
            pulley_lift,
            mean,
            modulus,
            mean_tension,
        )
    )
    position = half * np.linspace(-1.0, 1.0, FIBRES)
    up_wing = np.clip(np.abs(position) - (half - wing), 0.0, None)
    strain = _fibre(up_wing, *_powers(length, angle, lift)) / length - 1.0
    return position, mean_tension + modulus * (strain - mean)


_SLACK = 1e-9


def _holds(allowed_peak: Any, *fibres: Any) -> Array:
    highest, least = peak_and_least(*fibres)
    return np.asarray((highest <= allowed_peak * (1.0 + _SLACK)) & (least >= -_SLACK))


def shortest_length(
    allowed_peak: Any,
    mean_tension: Any,
    modulus: Any,
    belt_width: Any,
    wing: Any,
    trough_angle: Any,
    pulley_lift: Any = 0.0,
) -> Array:
    """Shortest transition, m, whose peak is at most `allowed_peak` (kN/m) and that stays taut.

    NaN where 30 m are not enough. Other arguments as `peak_and_least`.

    Notes
    -----
    Peak and least tension both ease as the length grows, so the logarithm of the length is halved
    until it is exact to 1e-12.
    """
    shape = np.broadcast(allowed_peak, mean_tension, modulus, belt_width, trough_angle).shape
    low, high = np.full(shape, np.log(0.01)), np.full(shape, np.log(30.0))

    def holds(logarithm: Array) -> Array:
        length = np.exp(logarithm)
        return _holds(
            allowed_peak,
            mean_tension,
            modulus,
            belt_width,
            wing,
            length,
            trough_angle,
            pulley_lift,
        )

    possible = holds(high)
    for _ in range(45):
        middle = (low + high) / 2.0
        good = holds(middle)
        low, high = np.where(good, low, middle), np.where(good, middle, high)
    return np.where(possible, np.exp(high), np.nan)


def lift_that_would_do(
    allowed_peak: Any,
    mean_tension: Any,
    modulus: Any,
    belt_width: Any,
    wing: Any,
    length: Any,
    trough_angle: Any,
    pulley_lift: Any = 0.0,
) -> Array:
    """Smallest pulley lift above the present one, m, with which the length that exists does.

    Tried in fiftieths of the trough depth up to half of it; NaN where none does. Arguments as
    `shortest_length`.
    """
    depth = wing * np.sin(np.radians(trough_angle))
    found = np.full(np.broadcast(allowed_peak, length, trough_angle).shape, np.nan)
    for share in np.linspace(0.5, 0.02, 25):
        lifted = share * depth
        good = _holds(
            allowed_peak, mean_tension, modulus, belt_width, wing, length, trough_angle, lifted
        )
        found = np.where(good & (lifted > pulley_lift), lifted, found)
    return found
