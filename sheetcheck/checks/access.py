"""Access and isolation: can people reach what they must service, safely isolated."""

from __future__ import annotations

from typing import Any

import numpy as np

from .declare import Cite, Limit, Outcome, Remedy, Words, at_least, check, exceeds, graded

__all__ = [
    "access_barrier",
    "access_closure",
    "access_guard",
    "access_isolation",
    "access_opening",
    "access_service",
    "access_stop",
]

NAN = np.nan
_PRACTICE = Cite("PRACTICE", "", "C")
_REACH = Cite("ISO14122-2", "clear width of walkways", "Q")
_NO_DOOR = "no inspection door"
_DOORS = {"door_count": "number of doors not recorded: at least one taken"}


def _yes_or_no(column: Any, no: str, yes: str) -> Words:
    return graded((np.equal(column, 0), "falls short", no), (np.equal(column, 1), "meets", yes))


@check(
    "access-opening",
    title="Inspection door",
    found_in=("door_width", "door_height", "door_count"),
    question="Can people see and reach inside through a door large enough?",
    basis="practice",
    unit="m",
    cite=_PRACTICE,
    limits={"least_side": Limit(0.300, "m", "clear side of an opening", _PRACTICE, "higher")},
    remedies=(
        Remedy(
            "Fit an inspection door of at least {required:m^} by {required:m^}.",
            when="no_door",
            sets={"door_count": 1.0, "door_width": "required", "door_height": "required"},
        ),
        Remedy(
            "Enlarge the opening to at least {new:m^} on both sides.",
            when="small_door",
            sets={"door_width": "width_needed", "door_height": "height_needed"},
        ),
    ),
)
def access_opening(
    door_count: Any, door_width: Any, door_height: Any, *, least_side: float
) -> Outcome:
    """Inspection door: none falls short, a side under 300 mm allows a view only (marginal)."""
    none = np.equal(door_count, 0)
    fitted = exceeds(door_count, 0)
    least = np.fmin(door_width, door_height)
    small = fitted & exceeds(least_side, least)
    side = np.where(small, least, np.minimum(door_width, door_height))
    return Outcome(
        parts=(
            at_least(np.where(fitted, side, NAN), least_side),
            graded((none, "falls short", _NO_DOOR), (fitted, "meets", "")),
        ),
        settled=(
            (none, "falls short", _NO_DOOR),
            (small, "marginal", "an opening to look through, too small to work through"),
        ),
        numbers={
            "no_door": none,
            "small_door": small,
            "width_needed": np.where(np.asarray(door_width) >= least_side, NAN, least_side),
            "height_needed": np.where(np.asarray(door_height) >= least_side, NAN, least_side),
        },
    )


@check(
    "access-closure",
    title="Door closure",
    question="Does the inspection door seal when shut?",
    basis="practice",
    cite=_PRACTICE,
    assumes=_DOORS,
    remedies=("Fit {to_fit:words} to the inspection door.",),
)
def access_closure(door_gasket: Any, door_latch: Any, door_count: Any = NAN) -> Outcome:
    """Gasket and latch on the door: both meets, one is marginal, none falls short."""
    gasket, latch = np.equal(door_gasket, 1), np.equal(door_latch, 1)
    no_gasket, no_latch = np.equal(door_gasket, 0), np.equal(door_latch, 0)
    return Outcome(
        parts=(
            graded(
                (gasket & latch, "meets", "gasket and latch"),
                (gasket & no_latch, "marginal", "a gasket and no latch"),
                (no_gasket & latch, "marginal", "a latch and no gasket"),
                (no_gasket & no_latch, "falls short", "neither gasket nor latch"),
            ),
        ),
        settled=((np.equal(door_count, 0), "not applicable", _NO_DOOR),),
        numbers={
            "to_fit": np.select(
                [no_gasket & no_latch, no_gasket, no_latch],
                ["a gasket and a latch", "a gasket", "a latch"],
                "",
            )
        },
    )


@check(
    "access-barrier",
    title="Door barrier",
    question="Is there a fixed barrier behind the opening?",
    basis="law",
    cite=Cite("CFR30-56", "56.14107; EN 620:2021 cl. 4.2.4 (by title)", "S"),
    assumes=_DOORS,
    remedies=("Fit a fixed mesh or guard behind the opening that needs a tool to remove.",),
)
def access_barrier(door_barrier: Any, door_count: Any = NAN) -> Outcome:
    """Whether a fixed, tool-removed mesh or guard stands behind each opening."""
    return Outcome(
        parts=(
            _yes_or_no(
                door_barrier,
                "no fixed barrier behind the opening",
                "fixed barrier behind the opening",
            ),
        ),
        settled=((np.equal(door_count, 0), "not applicable", _NO_DOOR),),
    )


@check(
    "access-isolation",
    title="Isolation procedure",
    question="Is there a written isolation procedure?",
    basis="law",
    cite=Cite("CFR29-1910", "1910.147; 30 CFR 56.14105", "S"),
    remedies=("Write, train and enforce an isolation procedure for this conveyor.",),
)
def access_isolation(isolation_procedure: Any) -> Outcome:
    """Whether an isolation (lock and try) procedure exists."""
    return Outcome(
        parts=(
            _yes_or_no(
                isolation_procedure, "no isolation procedure", "isolation procedure in place"
            ),
        )
    )


@check(
    "access-guard",
    title="Nip guards",
    question="Are the nip points guarded?",
    basis="law",
    cite=Cite("CFR30-56", "56.14107", "S"),
    remedies=("Guard the head, tail, drive, take-up and reachable return nips.",),
)
def access_guard(nip_guards: Any) -> Outcome:
    """Whether head, tail, drive, take-up and reachable return nips are guarded."""
    return Outcome(parts=(_yes_or_no(nip_guards, "nip points not guarded", "nip points guarded"),))


@check(
    "access-stop",
    title="Emergency stop",
    question="Can the conveyor be stopped from anywhere along the travelway?",
    basis="law",
    cite=Cite("CFR30-56", "56.14109 (emergency stops or railings)", "S"),
    remedies=("Fit emergency stops reachable along the whole travelway.",),
    assumes={"travelway_railing": ""},
)
def access_stop(emergency_stop: Any, travelway_railing: Any = NAN) -> Outcome:
    """Whether an emergency stop is reachable along the whole travelway.

    Railings in place of stops are marginal: 30 CFR 56.14109 takes them, others do not.
    """
    none = np.equal(emergency_stop, 0)
    return Outcome(
        parts=(
            graded(
                (
                    none & np.equal(travelway_railing, 1),
                    "marginal",
                    "railings and no emergency stop: 30 CFR 56.14109 takes them instead, other "
                    "jurisdictions do not",
                ),
                (none, "falls short", "no emergency stop reachable along the whole travelway"),
                (
                    np.equal(emergency_stop, 1),
                    "meets",
                    "emergency stop reachable along the whole travelway",
                ),
            ),
        ),
        notes=(
            (
                none & np.isnan(travelway_railing),
                "travelway railing not recorded: none taken",
            ),
        ),
    )


@check(
    "access-service",
    title="Service access",
    found_in=("service_clear_width", "component_reach"),
    question="Can people reach what they must service, with room to work?",
    basis="guidance",
    unit="m",
    cite=_REACH,
    limits={
        "least_width": Limit(0.600, "m", "clear width beside what is serviced", _REACH, "higher")
    },
    remedies=(
        Remedy(
            "Make cleaners, seals and rolls reachable without dismantling chutework.",
            when="only_no_reach",
        ),
        Remedy(
            "Clear {required:m^} beside cleaners and rollers.",
            when="only_narrow",
            sets={"service_clear_width": "required"},
        ),
        Remedy(
            "Make cleaners, seals and rolls reachable without dismantling chutework, and clear "
            "{required:m^} beside them.",
            when="both",
            sets={"component_reach": 1.0, "service_clear_width": "required"},
        ),
    ),
)
def access_service(
    component_reach: Any, service_clear_width: Any, *, least_width: float
) -> Outcome:
    """Reach without dismantling chutework, and at least 600 mm of clear width to work in.

    A US specification asks for 914 mm (36 in), which a plant may set.
    """
    no_reach, narrow = np.equal(component_reach, 0), exceeds(least_width, service_clear_width)
    return Outcome(
        parts=(
            at_least(service_clear_width, least_width, short="too little room to work"),
            _yes_or_no(
                component_reach,
                "chutework must be dismantled to reach cleaners, seals or rolls",
                "reachable without dismantling chutework",
            ),
        ),
        numbers={
            "only_no_reach": no_reach & ~narrow,
            "only_narrow": narrow & ~no_reach,
            "both": narrow & no_reach,
        },
    )
