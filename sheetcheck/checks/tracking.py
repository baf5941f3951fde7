"""Tracking: will the belt be kept central, and is there room if it is not."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from ..formulas import tracking
from .declare import Cite, Limit, Outcome, Remedy, at_least, at_most, check, exceeds, graded

__all__ = [
    "tracking_clearance",
    "tracking_crown",
    "tracking_edge",
    "tracking_face",
    "tracking_places",
    "tracking_reach",
    "tracking_switches",
]

NAN = np.nan
_PRACTICE = Cite("PRACTICE", "", "C")
_FACE = Cite("UFGS-15555A", "pulley face widths", "S")
_PLACES = ("on the return run before the tail", "just after the load", "before the discharge")
_WHERE = np.array(
    [
        ", ".join(place for bit, place in enumerate(_PLACES) if number & 1 << bit)
        for number in range(8)
    ]
)


@check(
    "tracking-places",
    title="Tracking devices",
    question="Is the belt steered where it matters?",
    basis="practice",
    cite=_PRACTICE,
    per_belt=True,
    assumes={"pulley_crowned_tail": "", "pulley_crowned_head": ""},
    remedies=(
        Remedy(
            "Fit dynamic tracking devices {places_to_fit:words}.",
            sets=dict.fromkeys(
                ("tracker_before_tail", "tracker_after_load", "tracker_before_head"), "dynamic"
            ),
        ),
        Remedy("Fit dynamic tracking devices at all three places.", otherwise=True),
    ),
)
def tracking_places(
    tracker_before_tail: Any,
    tracker_after_load: Any,
    tracker_before_head: Any,
    feeds_belt: Any,
    pulley_crowned_tail: Any = NAN,
    pulley_crowned_head: Any = NAN,
) -> Outcome:
    """Tracking devices on the return before the tail, just after the load, before the discharge.

    All dynamic meets. Any passive one (a crowned pulley counts as passive at its end) and none
    missing is marginal. Tail or after-load missing falls short; the head missing falls short if
    the conveyor feeds another belt, else it is marginal.
    """

    def passive_at(device: Any, crowned: Any) -> Any:
        return np.where(np.equal(device, "none") & np.equal(crowned, 1), "passive", device)

    tail = passive_at(tracker_before_tail, pulley_crowned_tail)
    load = np.asarray(tracker_after_load)
    head = passive_at(tracker_before_head, pulley_crowned_head)
    known = ~np.equal(tail, "") & ~np.equal(load, "") & ~np.equal(head, "")
    no_head = np.equal(head, "none")
    wanting = sum(
        weight * (~np.equal(device, "dynamic") & ~np.equal(device, "")).astype(int)
        for weight, device in zip((1, 2, 4), (tail, load, head), strict=True)
    )
    return Outcome(
        parts=(
            graded(
                (np.equal(tail, "none"), "falls short", "no device before the tail"),
                (np.equal(load, "none"), "falls short", "no device just after the load"),
                (
                    no_head & np.equal(feeds_belt, 1),
                    "falls short",
                    "no device before the discharge onto the next belt",
                ),
                (
                    known & no_head & np.equal(feeds_belt, 0),
                    "marginal",
                    "no device before the discharge",
                ),
                (
                    known
                    & ~no_head
                    & (
                        np.equal(tail, "passive")
                        | np.equal(load, "passive")
                        | np.equal(head, "passive")
                    ),
                    "marginal",
                    "a passive device where a dynamic one belongs",
                ),
                (known & ~no_head, "meets", "dynamic devices at all three places"),
            ),
        ),
        numbers={"places_to_fit": _WHERE[wanting]},
    )


def _places(
    _spacing: Any,
    conveyor_length: Any,
    *_more: Any,
    short_reach: float,
    long_reach: float,
    **_: float,
) -> Mapping[str, Any]:
    """Where the least and the most devices would stand, m from the tail, as lists."""
    length = np.asarray(conveyor_length, float)
    found: dict[str, Any] = {}
    for name, reach in (("least", long_reach), ("most", short_reach)):
        carry, back = np.full(len(length), None), np.full(len(length), None)
        counts = tracking.device_count(length, reach)
        for count in sorted(set(counts[np.isfinite(counts)].astype(int).tolist())):
            rows = np.flatnonzero(counts == count)
            for column, places in zip(
                (carry, back), tracking.device_places(length[rows], count), strict=True
            ):
                for row, where in zip(rows.tolist(), places.tolist(), strict=True):
                    column[row] = where
        found[f"{name}_places_carry"], found[f"{name}_places_return"] = carry, back
    return found


@check(
    "tracking-reach",
    title="Tracking reach",
    question="Is any run of belt too long without a dynamic tracking device?",
    basis="practice",
    unit="m",
    cite=_PRACTICE,
    per_belt=True,
    limits={
        "short_reach": Limit(
            21.336, "m", "run that a dynamic device surely serves (70 ft)", _PRACTICE, "lower"
        ),
        "long_reach": Limit(
            45.72,
            "m",
            "run that a dynamic device may serve, by speed (150 ft)",
            _PRACTICE,
            "lower",
            not_below="short_reach",
        ),
        "specified_reach": Limit(
            15.24,
            "m",
            "spacing in a US specification (50 ft), shown beside",
            Cite("UFGS-15501N", "spacing of tracking devices", "S"),
            "lower",
        ),
    },
    one_of=(("tracker_spacing_max",),),
    assumes=dict.fromkeys(
        (
            "tracker_spacing_max",
            "conveyor_length",
            "tracker_before_tail",
            "tracker_after_load",
            "tracker_before_head",
            "tracker_count",
        ),
        "",
    ),
    remedies=(
        "Square the idlers, centre the load and clean the rolls; then fit dynamic tracking "
        "devices at the three places.",
        Remedy(
            "Where the belt still wanders: further devices, no run of belt above {required:m_} "
            "without one ({least_devices:count} to {most_devices:count} for the loop).",
            sets={"tracker_spacing_max": "required"},
        ),
        Remedy(
            "Where the belt still wanders: further devices, no run of belt above {required:m_} "
            "without one.",
            when="loop_unknown",
            sets={"tracker_spacing_max": "required"},
        ),
    ),
    solve=_places,
)
def tracking_reach(
    tracker_spacing_max: Any = NAN,
    conveyor_length: Any = NAN,
    tracker_before_tail: Any = "",
    tracker_after_load: Any = "",
    tracker_before_head: Any = "",
    tracker_count: Any = NAN,
    *,
    short_reach: float,
    long_reach: float,
    specified_reach: float,
) -> Outcome:
    """Longest run of belt with no dynamic tracking device.

    Up to 70 ft meets, to 150 ft is marginal (it depends on speed). With no dynamic device at any
    of the three places and none counted, the run is the whole loop, 2 × conveyor length. Shown
    beside: 50 ft in a US specification; an idler maker speaks of about 30 m.
    """
    devices = (tracker_before_tail, tracker_after_load, tracker_before_head)
    none_at_all = ~exceeds(tracker_count, 0)
    for device in devices:
        none_at_all = none_at_all & np.isin(device, ("none", "passive"))
    whole = np.isnan(tracker_spacing_max) & none_at_all
    found = np.where(whole, 2.0 * np.asarray(conveyor_length), tracker_spacing_max)
    return Outcome(
        parts=(
            at_most(
                found,
                short_reach,
                grey=long_reach,
                short="too long a run with no dynamic device",
                greyed="within reach of a dynamic device only at low speed",
            ),
        ),
        notes=(
            (
                whole & np.isfinite(found),
                "no dynamic device recorded: the whole loop (2 × conveyor length) runs without",
            ),
        ),
        numbers={
            "least_devices": tracking.device_count(conveyor_length, long_reach),
            "most_devices": tracking.device_count(conveyor_length, short_reach),
            "loop_unknown": np.isnan(conveyor_length),
            "specified_spacing": np.asarray(specified_reach),
        },
    )


@check(
    "tracking-face",
    title="Pulley faces",
    found_in=("pulley_face_tail", "pulley_face_head"),
    question="Are the end pulleys wide enough for a belt that wanders?",
    basis="guidance",
    unit="m",
    cite=_FACE,
    per_belt=True,
    limits={
        "narrow_short": Limit(
            0.075, "m", "face over belt, to 42 in and under 500 ft", _FACE, "higher"
        ),
        "narrow_long": Limit(0.100, "m", "face over belt, to 42 in and longer", _FACE, "higher"),
        "wide": Limit(0.150, "m", "face over belt, wider than 42 in", _FACE, "higher"),
        "narrow": Limit(1.0668, "m", "belt width up to which the narrow allowances hold", _FACE),
        "long": Limit(152.4, "m", "conveyor length from which the longer allowance holds", _FACE),
    },
    # As short and as long as can be, so that a plant's own limit lies between.
    spread={"conveyor_length": {"a short conveyor": 0.001, "a long conveyor": 30_000.0}},
    steps={"conveyor_length": (152.4,)},
    remedies=(
        Remedy(
            "Fit {end_at_fault:words} with a face of at least {new:m^}.",
            sets={"pulley_face_tail": "tail_face", "pulley_face_head": "head_face"},
        ),
        Remedy(
            "Fit {end_at_fault:words} with a wider face.",
            otherwise=True,
        ),
    ),
)
def tracking_face(
    belt_width: Any,
    conveyor_length: Any,
    pulley_face_tail: Any,
    pulley_face_head: Any,
    *,
    narrow_short: float,
    narrow_long: float,
    wide: float,
    narrow: float,
    long: float,
) -> Outcome:
    """Pulley face over belt width at the worse end, against the allowance for the belt's size.

    75 mm up to a 42 in belt on a conveyor under 500 ft, 100 mm on a longer one, 150 mm on a wider
    belt (3, 4 and 6 in, rounded down).
    """
    is_long = ~exceeds(long, conveyor_length)
    by_length = np.where(is_long, narrow_long, narrow_short)
    by_length = np.where(np.isnan(conveyor_length), NAN, by_length)
    needed = np.where(exceeds(belt_width, narrow), wide, by_length)
    # Asked of any end, however long the conveyor.
    at_least_needed = np.where(np.isnan(needed), min(narrow_short, narrow_long), needed)
    at_least_needed = np.where(np.isnan(belt_width), NAN, at_least_needed)
    tail, head = (np.subtract(face, belt_width) for face in (pulley_face_tail, pulley_face_head))
    short_tail, short_head = exceeds(needed, tail), exceeds(needed, head)
    at_fault = np.select(
        [short_tail & short_head, short_tail, short_head],
        ["both end pulleys", "the tail pulley", "the head pulley"],
        "",
    )
    least = np.asarray(belt_width) + needed
    return Outcome(
        parts=(
            at_least(np.minimum(tail, head), needed),
            at_least(np.fmin(tail, head), at_least_needed, optional=True),
        ),
        numbers={
            "tail_allowance": tail,
            "head_allowance": head,
            "end_at_fault": at_fault,
            "tail_face": np.where(short_tail, least, NAN),
            "head_face": np.where(short_head, least, NAN),
        },
    )


@check(
    "tracking-clearance",
    title="Side clearance",
    question="Is there room between the belt edge and the structure?",
    basis="guidance",
    unit="m",
    cite=Cite("UFGS-15555A", "clearance on the return run", "S"),
    per_belt=True,
    limits={
        "least": Limit(
            0.075,
            "m",
            "belt edge to structure",
            Cite("UFGS-15555A", "clearance on the return run", "S"),
            "higher",
        )
    },
    assumes={"belt_wander": "belt wander not recorded: not compared with the clearance"},
    remedies=(
        Remedy(
            "Clear {clearance_needed:m^} beside the belt edge.",
            sets={"side_clearance": "clearance_needed"},
        ),
    ),
)
def tracking_clearance(side_clearance: Any, belt_wander: Any = NAN, *, least: float) -> Outcome:
    """Clearance beside the belt: at least 75 mm, and more than the belt is seen to wander."""
    wanders = ~exceeds(least, belt_wander) & np.isfinite(belt_wander)
    needed = np.where(wanders, belt_wander, least)
    return Outcome(
        parts=(
            at_least(
                side_clearance,
                needed,
                strict=wanders,
                short="the belt can reach the structure",
            ),
        ),
        # More than the wander: by a millimetre.
        numbers={"clearance_needed": np.where(wanders, needed + 0.001, needed)},
    )


@check(
    "tracking-crown",
    title="Crowned pulleys",
    found_in=("pulley_crowned_tail", "pulley_crowned_head", "pulley_crowned"),
    question="Are crowned pulleys used only where the belt allows them?",
    basis="guidance",
    cite=Cite("GY", "p. 10", "S"),
    per_belt=True,
    remedies=("Replace crowned pulleys by flat-faced ones: steel cord belts run on flat faces.",),
)
def tracking_crown(
    belt_carcass: Any, pulley_crowned_tail: Any, pulley_crowned_head: Any
) -> Outcome:
    """Crowned pulleys under a steel cord belt fall short; under a fabric belt they meet."""
    crowned = np.equal(pulley_crowned_tail, 1) | np.equal(pulley_crowned_head, 1)
    none = np.equal(pulley_crowned_tail, 0) & np.equal(pulley_crowned_head, 0)
    return Outcome(
        parts=(
            graded(
                (
                    crowned & np.equal(belt_carcass, "steel cord"),
                    "falls short",
                    "crowned pulley under a steel cord belt",
                ),
                (
                    crowned & np.equal(belt_carcass, "fabric"),
                    "meets",
                    "crowned pulley under a fabric belt",
                ),
            ),
        ),
        settled=((none, "not applicable", "no crowned pulley"),),
    )


@check(
    "tracking-edge",
    title="Belt edge damage",
    question="Does the belt edge show that the belt wanders?",
    basis="law",
    cite=Cite("CFR30-75", "75.1731 (underground coal)", "S"),
    per_belt=True,
    remedies=("Find where the belt runs off and align it; repair or trim the damaged edge.",),
)
def tracking_edge(edge_damage: Any) -> Outcome:
    """Damage to the belt edge: none meets, slight is marginal, severe falls short."""
    return Outcome(
        parts=(
            graded(
                (np.equal(edge_damage, "severe"), "falls short", "severe edge damage"),
                (np.equal(edge_damage, "slight"), "marginal", "slight edge damage"),
                (np.equal(edge_damage, "none"), "meets", "no edge damage"),
            ),
        )
    )


@check(
    "tracking-switches",
    title="Misalignment switches",
    question="Does the conveyor stop when the belt runs off?",
    basis="guidance",
    cite=Cite("UFGS-15501N", "belt misalignment switches", "S"),
    per_belt=True,
    remedies=("Fit belt misalignment switches, with the drive interlocked.",),
)
def tracking_switches(alignment_switches: Any) -> Outcome:
    """Whether belt misalignment switches are fitted."""
    return Outcome(
        parts=(
            graded(
                (np.equal(alignment_switches, 0), "falls short", "no misalignment switches"),
                (np.equal(alignment_switches, 1), "meets", "misalignment switches fitted"),
            ),
        )
    )
