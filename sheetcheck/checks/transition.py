"""Transition: is the belt fully troughed before it is loaded, and over a long enough run."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from ..formulas import tension as fibre
from ..tables import factors
from ._transition import (
    authority_of,
    fibres,
    flat,
    length_inverse,
    length_remedies,
    schedule,
    section,
    share_of_rated,
    tension_inverse,
    tension_profile,
    tension_remedies,
)
from .declare import (
    Check,
    Cite,
    Limit,
    Outcome,
    Remedy,
    Worked,
    at_least,
    at_most,
    check,
    exceeds,
    graded,
)

__all__ = [
    "transition_idlers",
    "transition_length_head",
    "transition_length_tail",
    "transition_loading",
    "transition_tension_head",
    "transition_tension_tail",
]

NAN = np.nan
_AMPLY = 3.0
"""Times the length of the transition, beyond which no measuring uncertainty matters."""
_TABLE = Cite("CEMA7", "Table 7.29", "S")
_ROLLS = "number of rolls not recorded: three-roll idlers taken"
_THIRD = "centre roll taken as a third of the belt width (three equal rolls)"
_POSITIONS = {name: name for name in factors.POSITIONS}
_RATIOS = {"under 60 %": 0.5, "60 to 90 %": 0.75, "over 90 %": 0.95}


def _length_check(end: str, nearest: str, worked: tuple[Worked, ...] = ()) -> Check:
    @check(
        f"transition-length-{end}",
        title=f"{end.capitalize()} transition length",
        question=f"Is the {end} transition long enough for the belt?",
        basis="mechanics",
        unit="m",
        cite=_TABLE,
        guarded=True,
        per_belt=True,
        end=end,
        steps={
            "trough_angle": factors.ANGLES,
            f"{end}_tension_ratio": factors.RATIO_STEPS,
            f"{end}_operating_tension": (),
            "belt_rated_tension": (),
            f"{end}_pulley_lift": (),
            "centre_roll_length": (),
        },
        spread={f"{end}_tension_ratio": _RATIOS, f"{end}_pulley_lift": _POSITIONS},
        assumes={
            "centre_roll_length": "",
            "idler_rolls": _ROLLS,
            f"{end}_operating_tension": "",
            "belt_rated_tension": "",
        },
        solve=length_inverse,
        worked=worked,
        remedies=length_remedies(end, nearest),
    )
    def transition_length(
        end_transition_length: Any,
        belt_width: Any,
        trough_angle: Any,
        belt_carcass: Any,
        end_tension_ratio: Any,
        end_pulley_lift: Any,
        end_pulley_lift_position: Any,
        belt_width_nominal: Any,
        centre_roll_length: Any = NAN,
        idler_rolls: Any = NAN,
        end_operating_tension: Any = NAN,
        belt_rated_tension: Any = NAN,
    ) -> Outcome:
        """Length between pulley and nearest full idler against a multiple of belt width.

        The factor is read by trough angle (between rows the next higher row), carcass, tension
        band (over 90 %, 60 to 90 % with both ends, under 60 % of rated) and pulley position (a
        lift in metres takes the next lower position). Low-angle transition idlers do not shorten
        it. Where sources disagree on a factor, the larger governs and the length between is
        marginal. A lower tension is never advised: it invites drive slip and sag.
        """
        ratio = share_of_rated(end_tension_ratio, end_operating_tension, belt_rated_tension)
        _, depth = section(belt_width_nominal, trough_angle, centre_roll_length, idler_rolls)
        position = factors.position_row(end_pulley_lift, end_pulley_lift_position, depth)
        factor, disputed = factors.transition_factor(
            position, factors.carcass_row(belt_carcass), trough_angle, ratio
        )
        beyond = (position < 0) & np.isfinite(end_pulley_lift) & np.isfinite(depth)
        return Outcome(
            parts=(
                at_least(
                    end_transition_length,
                    factor * belt_width,
                    grey=disputed * belt_width,
                    greyed="sources disagree on the factor for this case and the length lies "
                    "between",
                ),
            ),
            settled=(flat(trough_angle),),
            outside=(
                (exceeds(trough_angle, 45.0), "the factor table ends at a 45° trough"),
                (
                    np.isfinite(idler_rolls) & ~np.equal(idler_rolls, 3),
                    "the factor table is for three-roll idlers",
                ),
                (beyond, "pulley below the centre-roll line or above half the trough depth"),
            ),
            notes=(
                (
                    np.isfinite(disputed),
                    "sources disagree on this factor: the larger governs, between them is "
                    "marginal",
                ),
            ),
            numbers={"factor": factor, "shortest_length": factor * belt_width},
            cites=authority_of(position),
        )

    return transition_length


transition_length_tail = _length_check(
    "tail",
    "first",
    (
        Worked(
            "36 in belt, 35° trough, 80 % of rated tension, fabric: 2.4 × 36 in = 86.4 in",
            {
                "belt_width": 0.9144,
                "trough_angle": 35,
                "belt_carcass": "fabric",
                "tail_tension_ratio": 0.8,
                "tail_pulley_lift": "full trough",
                "tail_transition_length": 2.2,
            },
            Cite("CEMA7", "Table 7.29; the worked figure is common practice", "S"),
            required=86.4 * 0.0254,
            numbers={"factor": 2.4},
        ),
    ),
)
transition_length_head = _length_check("head", "last")


_PEAK = {
    "peak": Limit(
        1.15,
        "1",
        "peak tension across the belt as a share of rated",
        Cite("GY", "p. 23", "S"),
        "lower",
    ),
    "peak_grey": Limit(
        1.30,
        "1",
        "peak tension above which it falls short in any case",
        Cite("ISO5293-1981", "summary", "S"),
        "lower",
        not_below="peak",
    ),
}
_FIBRE = Cite("DERIVED", "fibre model with the mean tension kept (Beckley, BSH 2(4), 1982)", "D")


def _tension_check(end: str) -> Check:
    @check(
        f"transition-tension-{end}",
        title=f"{end.capitalize()} transition tension",
        question=f"Does the {end} transition keep the belt edges from overstress and the centre "
        "taut?",
        basis="mechanics",
        unit="1",
        cite=_FIBRE,
        limits=_PEAK,
        guarded=True,
        per_belt=True,
        end=end,
        spread={f"{end}_pulley_lift": _POSITIONS},
        bounded=("belt_modulus",),
        assumes={
            "centre_roll_length": _THIRD,
            "idler_rolls": _ROLLS,
            f"{end}_operating_tension": "",
        },
        detail=tension_profile,
        solve=tension_inverse,
        remedies=tension_remedies(end),
    )
    def transition_tension(
        end_transition_length: Any,
        belt_width: Any,
        trough_angle: Any,
        end_tension_ratio: Any,
        belt_rated_tension: Any,
        belt_modulus: Any,
        end_pulley_lift: Any,
        end_pulley_lift_position: Any,
        end_tension_ratio_stood_in: Any,
        centre_roll_length: Any = NAN,
        idler_rolls: Any = NAN,
        end_operating_tension: Any = NAN,
        *,
        peak: float,
        peak_grey: float,
    ) -> Outcome:
        """Peak tension across the belt where trough and transition meet, as a share of rated.

        A fibre at distance s up the wing is stretched to
        ℓ(s) = √(L² + (s·sin λ − h)² + (s·(1 − cos λ))²), and its strain is e(s) = (ℓ(s) − L)/L.
        With the mean tension kept, T(s) = T̄ + M·(e(s) − ē). Up to 1.15 of rated meets, to 1.30 is
        marginal. A least tension below zero falls short wherever across the belt it lies. The
        register's general tension ratio is the belt's highest, which is expected at the head: with
        it alone, slackness at the tail cannot be shown, so the verdict there is marginal at best.
        """
        highest, least = fibre.peak_and_least(
            *fibres(
                end_transition_length,
                belt_width,
                trough_angle,
                end_tension_ratio,
                belt_rated_tension,
                belt_modulus,
                end_pulley_lift,
                end_pulley_lift_position,
                end_tension_ratio_stood_in,
                centre_roll_length,
                idler_rolls,
                end_operating_tension,
            )
        )
        general_only = np.asarray(end_tension_ratio_stood_in, bool) & (end == "tail")
        return Outcome(
            parts=(
                at_most(
                    highest / belt_rated_tension,
                    peak,
                    grey=peak_grey,
                    short="edge tension above both limits",
                    greyed="peak tension between the two limits",
                ),
                at_least(
                    least / belt_rated_tension,
                    0.0,
                    short="part of the belt goes slack and may buckle: least tension below zero",
                    uncertain="part of the belt is taut by less than the measuring uncertainty: "
                    "least tension near zero",
                ),
            ),
            settled=(flat(trough_angle),),
            outside=(
                (
                    np.equal(idler_rolls, 5),
                    "the fibre model here is for two- and three-roll idlers",
                ),
            ),
            ceiling=((general_only, "tail tension not recorded: buckling there not shown"),),
            numbers={
                "peak_tension": highest,
                "least_tension": least,
                "least_ratio": least / belt_rated_tension,
            },
        )

    return transition_tension


transition_tension_tail, transition_tension_head = map(_tension_check, ("tail", "head"))


def _further(tail_transition_length: Any, *given: Any) -> Mapping[str, Any]:
    """Where chute back and load must stand, each where it is too near; or the idler."""
    back, load = (np.asarray(column) for column in given[-3:-1])
    needed = np.asarray(tail_transition_length)
    return {
        "back_needed": np.where(back < needed * _AMPLY, needed, NAN),
        "load_needed": np.where(load < needed * _AMPLY, needed, NAN),
        "length_allowed": np.fmin(back, load),
    }


@check(
    "transition-loading",
    title="Load beyond transition",
    found_in=("chute_back", "load_start"),
    question="Is the belt fully troughed before material lands on it?",
    basis="mechanics",
    unit="m",
    cite=Cite("CEMA7", "note with Table 7.27", "S"),
    guarded=True,
    one_of=(("chute_back", "load_start"),),
    assumes={
        "chute_back": "chute back, which lies nearer the tail, not recorded: not compared",
        "load_start": "",
        "trough_angle": "trough angle not recorded: a troughed belt taken",
    },
    solve=_further,
    remedies=(
        Remedy(
            "Move the chute's back plate and the load {change:m^} further from the tail pulley, "
            "to at least {new:m^}.",
            sets={"chute_back": "back_needed", "load_start": "load_needed"},
        ),
        Remedy(
            "Or move the first fully troughed idler to at most {length_allowed:m_} from the tail "
            "pulley.",
            sets={"tail_transition_length": "length_allowed"},
        ),
    ),
)
def transition_loading(
    tail_transition_length: Any,
    chute_back: Any = NAN,
    load_start: Any = NAN,
    trough_angle: Any = NAN,
) -> Outcome:
    """Distance from the tail pulley to the load, against the length of the transition.

    The nearer of chute back and load point counts. The transition ends at the first fully troughed
    idler, so that a load beyond it lands on a troughed belt.
    """
    found = np.fmin(chute_back, load_start)
    return Outcome(
        parts=(
            at_least(
                found, tail_transition_length, short="loaded before the belt is fully troughed"
            ),
        ),
        settled=(flat(trough_angle),),
    )


@check(
    "transition-idlers",
    title="Transition idlers",
    found_in=("tail_transition_idlers",),
    question="Do transition idlers support the belt between the tail pulley and the trough?",
    basis="mechanics",
    cite=Cite("CEMA7", "transition idlers", "S"),
    limits={
        "needed_above": Limit(
            20.0,
            "°",
            "trough angle above which transition idlers are needed",
            Cite("CEMA7", "transition idlers", "S"),
            "lower",
        )
    },
    per_belt=True,
    detail=schedule,
    assumes={"tail_transition_length": ""},
    remedies=(
        "Fit transition idlers: one at {one_at:m} from the tail pulley, set at {one_angle:°}.",
        "Where that leaves a gap wider than the idler pitch, two at {two_at_first:m} and "
        "{two_at_second:m}, set at {two_angle_first:°} and {two_angle_second:°}, or more.",
        "Fit a transition idler, set at {one_angle_at_third:°}, a third of the way from "
        "the pulley.",
        Remedy("Fit at least one transition idler.", otherwise=True),
    ),
)
def transition_idlers(
    trough_angle: Any,
    tail_transition_idlers: Any,
    tail_transition_length: Any = NAN,
    *,
    needed_above: float,
) -> Outcome:
    """Whether any transition idler stands between the tail pulley and the first full idler.

    The numbers give a schedule for one to four idlers: positions k(k+1)/((n+1)(n+2)) of the length
    from the pulley (published values; the form is derived, the end assumed) and the angle of each
    on a straight line from pulley to trough.
    """
    steep = exceeds(trough_angle, needed_above)
    return Outcome(
        parts=(
            graded(
                (
                    steep & np.equal(tail_transition_idlers, 0),
                    "falls short",
                    "no transition idler",
                ),
                (steep & exceeds(tail_transition_idlers, 0), "meets", "transition idlers fitted"),
            ),
        ),
        settled=(
            flat(trough_angle),
            (~steep & np.isfinite(trough_angle), "not applicable", "none needed at this angle"),
        ),
    )
