"""Cleaning: is the belt cleaned well enough, and by cleaners chosen for the duty."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..formulas import carryback
from .declare import Cite, Limit, Outcome, Remedy, at_most, check, exceeds, graded

__all__ = [
    "cleaning_blade",
    "cleaning_carryback",
    "cleaning_duty",
    "cleaning_plough",
    "cleaning_stages",
]

NAN = np.nan
_PRACTICE = Cite("PRACTICE", "", "C")
_COUNTERWEIGHT = Cite("TM5", "counterweighted belt cleaners", "S")
_METAL = ("tungsten carbide", "stainless steel")


@check(
    "cleaning-stages",
    title="Cleaner stages",
    question="Is the belt cleaned in two stages?",
    basis="practice",
    cite=_PRACTICE,
    per_belt=True,
    remedies=(
        Remedy(
            "Fit {stages_to_fit:words}.", sets={"primary_cleaner": 1.0, "secondary_cleaner": 1.0}
        ),
    ),
)
def cleaning_stages(primary_cleaner: Any, secondary_cleaner: Any) -> Outcome:
    """Primary and secondary cleaner: anything less falls short.

    A primary cleaner alone removes about 40 to 50 % of the residue.
    """
    primary, secondary = np.equal(primary_cleaner, 1), np.equal(secondary_cleaner, 1)
    no_primary, no_secondary = np.equal(primary_cleaner, 0), np.equal(secondary_cleaner, 0)
    to_fit = np.select(
        [no_primary & no_secondary, no_primary, no_secondary],
        ["a primary and a secondary cleaner", "a primary cleaner", "a secondary cleaner"],
        "",
    )
    return Outcome(
        parts=(
            graded(
                (no_primary & no_secondary, "falls short", "no belt cleaner"),
                (no_primary, "falls short", "no primary cleaner"),
                (no_secondary, "falls short", "no secondary cleaner"),
                (primary & secondary, "meets", "primary and secondary cleaner fitted"),
            ),
        ),
        numbers={"stages_to_fit": to_fit},
    )


@check(
    "cleaning-blade",
    title="Cleaner blade",
    found_in=("secondary_blade", "secondary_cleaner"),
    question="Is the secondary cleaner's blade right for its job?",
    basis="practice",
    cite=_PRACTICE,
    per_belt=True,
    assumes={
        "splice_kind": "kind of splice not recorded: not compared with the blade",
    },
    remedies=(
        Remedy(
            "Fit metal blades to the secondary cleaner, with the belt and cleaner makers' "
            "agreement.",
            when="not_metal",
            sets={"secondary_blade": "tungsten carbide"},
        ),
        Remedy(
            "Vulcanise the splice and fit metal blades: on fasteners only recessed or skived, by "
            "the makers' agreement.",
            when="mechanical_splice",
            sets={"secondary_blade": "tungsten carbide", "splice_kind": "vulcanised"},
        ),
    ),
)
def cleaning_blade(secondary_cleaner: Any, secondary_blade: Any, splice_kind: Any = "") -> Outcome:
    """Blade of the secondary cleaner: tungsten carbide or stainless steel meets.

    Urethane or rubber falls short; ceramic, brush and others are marginal. A metal blade on a
    mechanical splice is marginal: only with recessed or skived fasteners and the makers'
    agreement.
    """
    metal = np.isin(secondary_blade, _METAL)
    mechanical = np.equal(splice_kind, "mechanical")
    soft = np.isin(secondary_blade, ("urethane", "rubber"))
    fitted = np.equal(secondary_cleaner, 1)
    return Outcome(
        parts=(
            graded(
                (fitted & soft, "falls short", "urethane or rubber where metal is needed"),
                (
                    fitted & metal & mechanical,
                    "marginal",
                    "metal blade on a mechanical splice: only with recessed or skived fasteners "
                    "and the makers' agreement",
                ),
                (fitted & metal, "meets", "metal blade"),
                (
                    fitted & ~np.equal(secondary_blade, ""),
                    "marginal",
                    "neither a metal nor a soft blade: no settled practice",
                ),
            ),
        ),
        settled=((np.equal(secondary_cleaner, 0), "not applicable", "no secondary cleaner"),),
        numbers={
            "not_metal": fitted & ~metal & ~np.equal(secondary_blade, ""),
            "mechanical_splice": fitted & mechanical,
        },
    )


@check(
    "cleaning-duty",
    title="Cleaners for the duty",
    question="Were the cleaners chosen for this duty?",
    basis="practice",
    cite=_PRACTICE,
    per_belt=True,
    limits={
        "counterweight_speed": Limit(
            1.778,
            "m/s",
            "belt speed up to which counterweighted cleaners serve (350 ft/min)",
            _COUNTERWEIGHT,
            "lower",
        ),
        "counterweight_width": Limit(
            0.9144,
            "m",
            "belt width up to which counterweighted cleaners serve (36 in)",
            _COUNTERWEIGHT,
            "lower",
        ),
    },
    assumes={
        "cleaner_tensioner": "cleaner tensioner not recorded: its speed and width not compared",
        "belt_speed": "",
        "belt_width": "",
        "reversing": "",
        "cleaner_reversible": "",
    },
    remedies=(
        Remedy(
            "Have a competent person choose the cleaners for this duty and keep the record.",
            when="not_chosen",
        ),
        Remedy(
            "Replace the counterweighted cleaner with one for this speed and width.",
            when="counterweight_fails",
        ),
        Remedy("Fit cleaners made for a reversing belt.", when="reversing_fails"),
    ),
)
def cleaning_duty(
    cleaner_duty_selected: Any,
    cleaner_tensioner: Any = "",
    belt_speed: Any = NAN,
    belt_width: Any = NAN,
    reversing: Any = NAN,
    cleaner_reversible: Any = NAN,
    *,
    counterweight_speed: float,
    counterweight_width: float,
) -> Outcome:
    """Whether a competent person chose the cleaners for the duty, and no known rule is broken.

    Counterweighted cleaners are not for belts above 350 ft/min or 36 in (US Army TM 5-810-15); a
    reversing belt needs cleaners that can be reversed (common practice), and is not judged without
    word of that.
    """
    weighted = np.equal(cleaner_tensioner, "counterweight")
    too_much = exceeds(belt_speed, counterweight_speed) | exceeds(belt_width, counterweight_width)
    fails = weighted & too_much
    reverses = np.equal(reversing, 1)
    wrong_way = reverses & np.equal(cleaner_reversible, 0)
    return Outcome(
        parts=(
            graded(
                (
                    np.equal(cleaner_duty_selected, 0),
                    "falls short",
                    "not chosen for this duty by a competent person",
                ),
                (np.equal(cleaner_duty_selected, 1), "meets", "chosen for this duty, on record"),
            ),
            graded(
                (fails, "falls short", "counterweighted cleaner on too fast or too wide a belt"),
                (wrong_way, "falls short", "cleaner not made for a reversing belt"),
                (True, "meets", ""),
            ),
        ),
        notes=(
            (
                weighted & (np.isnan(belt_speed) | np.isnan(belt_width)) & ~fails,
                "belt speed or width not recorded: counterweighted cleaner not fully compared",
            ),
            (
                np.isnan(reversing),
                "whether the belt reverses is not recorded: not compared",
            ),
        ),
        needs=((reverses & np.isnan(cleaner_reversible), "cleaner_reversible"),),
        cites=((fails, _COUNTERWEIGHT),),
        numbers={
            "not_chosen": np.equal(cleaner_duty_selected, 0),
            "counterweight_fails": fails,
            "reversing_fails": wrong_way,
        },
    )


def _removed(share: float, meaning: str, not_below: str = "") -> Limit:
    return Limit(share, "1", meaning, _PRACTICE, most=1.0, not_below=not_below)


@check(
    "cleaning-carryback",
    title="Carryback",
    found_in=("carryback_measured", "carryback_initial"),
    question="Is the residue after cleaning within what the plant accepts?",
    basis="practice",
    unit="kg/m²",
    cite=_PRACTICE,
    per_belt=True,
    limits={
        "one_stage_least": _removed(0.40, "least that one stage alone removes"),
        "one_stage_most": _removed(0.50, "most that one stage alone removes", "one_stage_least"),
        "two_stages_least": _removed(0.40, "least that two stages remove"),
        "two_stages_most": _removed(
            0.90,
            "most that two stages remove, and what they do with a metal secondary",
            "two_stages_least",
        ),
    },
    one_of=(("carryback_measured", "carryback_initial"),),
    assumes=dict.fromkeys(
        (
            "carryback_measured",
            "carryback_initial",
            "carryback_target",
            "belt_speed",
            "belt_width",
            "cleaned_width",
            "operating_hours",
        ),
        "",
    ),
    remedies=(
        "Clean to {required:kg/m²_}: fit {stages_that_meet:words}.",
        Remedy(
            "Clean to {required:kg/m²_}: more stages or better ones; have the duty assessed.",
            when="no_stage_meets",
        ),
    ),
)
def cleaning_carryback(
    primary_cleaner: Any,
    secondary_cleaner: Any,
    secondary_blade: Any,
    carryback_measured: Any = NAN,
    carryback_initial: Any = NAN,
    carryback_target: Any = NAN,
    belt_speed: Any = NAN,
    belt_width: Any = NAN,
    cleaned_width: Any = NAN,
    operating_hours: Any = NAN,
    *,
    one_stage_least: float,
    one_stage_most: float,
    two_stages_least: float,
    two_stages_most: float,
) -> Outcome:
    """Residue on the belt after the cleaners against the plant's target.

    Measured residue where recorded, else the initial one less what the fitted stages remove: none
    0; one stage 40 to 50 %; two 40 to 90 %; two with a metal secondary 90 % (common practice). A
    range astride the target is marginal. Carryback a year = residue × cleaned width × speed over
    the operating hours.
    """
    primary, secondary = np.equal(primary_cleaner, 1), np.equal(secondary_cleaner, 1)
    least, most = carryback.cleaner_effect(
        primary,
        secondary,
        np.isin(secondary_blade, _METAL),
        (one_stage_least, one_stage_most),
        (two_stages_least, two_stages_most),
    )
    # Without a secondary cleaner its blade does not matter; without any word on one it does.
    known = ~(np.isnan(primary_cleaner) | np.isnan(secondary_cleaner)) & (
        ~(primary & secondary) | ~np.equal(secondary_blade, "")
    )
    initial = np.where(known, carryback_initial, NAN)
    measured = np.isfinite(carryback_measured)
    low = np.where(measured, carryback_measured, initial * (1.0 - most))
    high = np.where(measured, carryback_measured, initial * (1.0 - least))
    width = np.where(np.isnan(cleaned_width), belt_width, cleaned_width)
    flows = tuple(carryback.mass_flow(residue, width, belt_speed) for residue in (low, high))
    target = np.asarray(carryback_target)
    short = exceeds(high, target) & ~measured
    one, two = (
        exceeds(np.multiply(initial, 1.0 - effect), target)
        for effect in (one_stage_least, two_stages_most)
    )
    return Outcome(
        parts=(
            at_most(
                low,
                target,
                found_high=high,
                short="more residue than the target",
                greyed="the range of what these cleaners remove lies astride the target",
            ),
        ),
        settled=((np.isnan(target), "information", "no residue target recorded"),),
        notes=(
            (
                np.isnan(cleaned_width) & np.isfinite(belt_width),
                "cleaned width not recorded: the whole belt width taken",
            ),
            (~measured & np.isfinite(high), "residue by the fitted stages, not measured"),
        ),
        numbers={
            "residue": (low, high),
            "carryback_per_hour": flows,
            "carryback_per_year": tuple(flow * operating_hours / 1000.0 for flow in flows),
            "stages_that_meet": np.select(
                [short & ~one, short & ~two],
                ["one well chosen stage at least", "a primary and a metal-bladed secondary"],
                "",
            ),
            "no_stage_meets": (short & two) | (measured & exceeds(carryback_measured, target)),
        },
    )


@check(
    "cleaning-plough",
    title="Tail plough",
    question="Is the tail pulley protected by a plough?",
    basis="guidance",
    cite=Cite("TM5", "belt plough ahead of the tail pulley", "S"),
    per_belt=True,
    remedies=("Fit a plough on the return run ahead of the tail pulley.",),
)
def cleaning_plough(tail_plough: Any) -> Outcome:
    """Whether a plough keeps carryback and spillage off the tail pulley."""
    return Outcome(
        parts=(
            graded(
                (np.equal(tail_plough, 0), "falls short", "no plough ahead of the tail pulley"),
                (np.equal(tail_plough, 1), "meets", "plough fitted"),
            ),
        )
    )
