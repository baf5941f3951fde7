"""What the transition checks share: inverse answers and remedies of either end."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from ..formulas import geometry
from ..formulas import tension as fibre
from ..formulas.transition import idler_angles, idler_positions
from ..tables import factors
from .declare import Cite, Remedy, exceeds

__all__ = [
    "authority_of",
    "fibres",
    "flat",
    "length_inverse",
    "length_remedies",
    "schedule",
    "section",
    "share_of_rated",
    "tension_inverse",
    "tension_profile",
    "tension_remedies",
]

NAN = np.nan


def flat(trough_angle: Any) -> tuple[Any, str, str]:
    return np.equal(trough_angle, 0), "not applicable", "flat belt: nothing to trough"


def section(belt_width: Any, trough_angle: Any, centre_roll: Any, rolls: Any) -> tuple[Any, Any]:
    """Wing length and trough depth, m."""
    wing = geometry.wing_length(
        belt_width, geometry.centre_contact(belt_width, centre_roll, rolls)
    )
    return wing, geometry.trough_depth(wing, trough_angle)


def share_of_rated(ratio: Any, operating: Any, rated: Any) -> Any:
    """Tension as a share of rated: by the operating tension where it is from that."""
    none = np.isnan(operating)
    return ratio if none.all() else np.where(none, ratio, operating / rated)


def authority_of(position: Any) -> tuple[tuple[Any, Cite], ...]:
    return tuple(
        (np.equal(position, row), Cite(*factors.authority(name)))
        for row, name in enumerate(factors.POSITIONS)
    )


def length_inverse(*given: Any) -> Mapping[str, Any]:
    """Lifts, trough angle and carcass that may do with the length that exists."""
    length, width, angle, carcass, ratio, lift, word, _, centre, rolls, operating, rated = given
    ratio = share_of_rated(ratio, operating, rated)
    _, depth = section(width, angle, centre, rolls)
    position = factors.position_row(lift, word, depth)
    steel = factors.carcass_row(carcass) == 1
    fabric, _ = factors.transition_factor(position, np.where(steel, 0, -1), angle, ratio)

    def enough(place: Any, trough: Any) -> Any:
        factor, _ = factors.transition_factor(place, factors.carcass_row(carcass), trough, ratio)
        return np.asarray(length) >= factor * width

    lower: Any = NAN
    for row in factors.ANGLES:
        lower = np.where(exceeds(angle, row) & enough(position, row), row, lower)
    third = (position < 1) & enough(np.where(position < 0, -1, 1), angle)
    return {
        "third_of_depth": depth / 3.0,
        "lift_to_one_third": np.where(position < 1, depth / 3.0, NAN),
        "lift_to_half": np.where((position < 2) & ~third, depth / 2.0, NAN),
        "trough_angle_that_would_do": lower,
        "fabric_factor": fabric,
    }


_ABOVE_A_THIRD = (
    "third_of_depth",
    "Above one third of the trough depth only by the maker's word (GB 50431-2020, cl. 10.4.1).",
)


def length_remedies(end: str, idler: str) -> tuple[Remedy, ...]:
    """Lengthen; or what else would do: lift, trough angle, carcass."""
    lift = f"{end}_pulley_lift"
    return (
        Remedy(
            f"Move the {idler} fully troughed idler to at least {{required:m^}} from the {end} "
            "pulley.",
            sets={f"{end}_transition_length": "required"},
        ),
        Remedy(
            f"Or raise the {end} pulley to {{lift_to_one_third:m^}} above the centre-roll line.",
            sets={lift: "lift_to_one_third"},
            caution=_ABOVE_A_THIRD,
        ),
        Remedy(
            f"Or raise the {end} pulley to half trough ({{lift_to_half:m}}). {_ABOVE_A_THIRD[1]}",
            sets={lift: "half"},
        ),
        Remedy(
            "Or trough the belt at {trough_angle_that_would_do:°}, if the load still fits.",
            sets={"trough_angle": "trough_angle_that_would_do"},
        ),
        Remedy(
            "Or a fabric belt of the same rating (factor {fabric_factor:1}).",
            sets={"belt_carcass": "fabric"},
        ),
    )


def _lift_metres(lift: Any, lift_position: Any, depth: Any) -> Any:
    shares = dict(zip(factors.POSITIONS, (0.0, 1 / 3, 1 / 2), strict=True))
    for word, share in shares.items():
        lift = np.where(np.equal(lift_position, word), share * depth, lift)
    return lift


def fibres(*given: Any) -> tuple[Any, ...]:
    """Arguments of the fibre model, in its order; a flat belt has none."""
    length, belt_width, trough_angle, ratio, rated, modulus, lift, word, *_ = given
    centre, rolls, operating = given[9:]
    angle = np.where(np.equal(trough_angle, 0), NAN, trough_angle)
    wing, depth = section(belt_width, angle, centre, rolls)
    lift = _lift_metres(lift, word, depth)
    none = np.isnan(operating)
    mean = ratio * rated if none.all() else np.where(none, ratio * rated, operating)
    return mean, modulus, belt_width, wing, length, angle, lift


def tension_profile(*given: Any, **_limits: float) -> Mapping[str, Any]:
    _, across = fibre.profile(*fibres(*given))
    return {"profile": across}


def tension_inverse(*given: Any, peak: float, **_limits: float) -> Mapping[str, Any]:
    """Shortest length, and smallest pulley lift, that keep both limits."""
    mean, modulus, belt_width, wing, length, angle, lift = fibres(*given)
    allowed = peak * np.asarray(given[4])
    shortest = fibre.shortest_length(allowed, mean, modulus, belt_width, wing, angle, lift)
    _, across = fibre.profile(mean, modulus, belt_width, wing, shortest, angle, lift)
    longer = exceeds(shortest, np.asarray(length))
    _, depth = section(belt_width, angle, given[9], given[10])
    return {
        "third_of_depth": depth / 3.0,
        "shortest_length": np.where(longer, shortest, NAN),
        "profile_at_shortest_length": across,
        "lift_that_would_do": fibre.lift_that_would_do(
            allowed, mean, modulus, belt_width, wing, length, angle, lift
        ),
    }


def tension_remedies(end: str) -> tuple[Remedy, ...]:
    """Lengthen, or raise the pulley."""
    return (
        Remedy(
            f"Lengthen the {end} transition to at least {{shortest_length:m^}} at this tension.",
            sets={f"{end}_transition_length": "shortest_length"},
        ),
        Remedy(
            f"Or raise the {end} pulley to {{lift_that_would_do:m^}} above the centre-roll line.",
            sets={f"{end}_pulley_lift": "lift_that_would_do"},
            caution=_ABOVE_A_THIRD,
        ),
        Remedy(
            f"Record the tension at the {end}, the rating, modulus and pulley lift more closely; "
            "a longer transition eases both limits.",
            otherwise=True,
        ),
    )


def schedule(
    trough_angle: Any, _idlers: Any, tail_transition_length: Any, **_limits: float
) -> Mapping[str, Any]:
    """Positions from the pulley (shares; metres where the length is known) and angles."""
    angle = np.asarray(trough_angle, float)[..., np.newaxis]
    length = np.asarray(tail_transition_length, float)[..., np.newaxis]
    found: dict[str, Any] = {}
    for count in (1, 2, 3, 4):
        share = idler_positions(count)
        found[f"positions_for_{count}"] = share * length
        found[f"angles_for_{count}"] = idler_angles(share, angle)
    known = np.isfinite(found["positions_for_1"][..., 0])
    found["one_at"] = found["positions_for_1"][..., 0]
    found["two_at_first"], found["two_at_second"] = np.moveaxis(found["positions_for_2"], -1, 0)
    found["two_angle_first"], found["two_angle_second"] = np.moveaxis(
        np.where(np.isfinite(found["positions_for_2"]), found["angles_for_2"], NAN), -1, 0
    )
    found["one_angle"] = np.where(known, found["angles_for_1"][..., 0], NAN)
    found["one_angle_at_third"] = np.where(known, NAN, found["angles_for_1"][..., 0])
    return found
