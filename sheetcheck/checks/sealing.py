"""Sealing: does the chute leave belt enough to seal on, and is it sealed and drawn off."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..formulas import geometry, loading
from .declare import Cite, Limit, Outcome, Remedy, Worked, at_least, check, exceeds, graded

__all__ = [
    "seal_air",
    "seal_chute_max",
    "seal_edge",
    "seal_kind",
    "seal_length",
    "seal_wander",
]

NAN = np.nan
_EDGE = Cite("CEMA7", "eq. 4.12", "Q")
_PRACTICE = Cite("PRACTICE", "", "C")
_ACGIH = Cite("ACGIH-VS-50-20", "as reprinted by OSHA", "S")
_ASSUMES = {
    "centre_roll_length": "centre roll taken as a third of the belt width (three equal rolls)",
    "idler_rolls": "number of rolls not recorded: three-roll idlers taken",
    "seal_footprint": "",
}
_DUAL_LIP = Limit(
    0.075,
    "m",
    "belt edge a dual-lip seal takes where its footprint is not recorded",
    _PRACTICE,
    "higher",
)
_DUAL_LIP_HIGH = Limit(
    0.100, "m", "upper figure for a dual-lip seal, shown beside", _PRACTICE, "higher"
)


def _free_edge(
    belt_width: Any, trough_angle: Any, inside: Any, wall: Any, centre_roll: Any, rolls: Any
) -> Any:
    centre = geometry.centre_contact(belt_width, centre_roll, rolls)
    wing = geometry.wing_length(belt_width, centre)
    width = geometry.troughed_width(centre, wing, trough_angle)
    return (width - np.asarray(inside) - 2.0 * np.asarray(wall)) / 2.0


def _edge_needed(belt_width: Any, seal_kind: Any, footprint: Any, dual_lip: float) -> Any:
    """Belt edge the seal needs: the footprint or the CEMA edge distance, whichever is more."""
    edge = geometry.edge_distance(belt_width)
    without = np.select(
        [np.equal(seal_kind, "dual lip"), np.isin(seal_kind, ("single strip", "none"))],
        [np.maximum(edge, dual_lip), edge],
        NAN,
    )
    return np.where(np.isfinite(footprint), np.maximum(edge, footprint), without)


def _five_rolls(rolls: Any) -> tuple[Any, str]:
    return np.equal(rolls, 5), "five-roll idlers: the section here has three rolls"


@check(
    "seal-edge",
    title="Free belt edge",
    question="Is there enough free belt beside the chute to seal on?",
    basis="mechanics",
    unit="m",
    cite=_EDGE,
    guarded=True,
    limits={"dual_lip": _DUAL_LIP, "dual_lip_high": _DUAL_LIP_HIGH},
    assumes=_ASSUMES,
    worked=(
        Worked(
            "36 in belt, 35° trough, 24 in chute of thin plate: 3.83 in free, 2.88 in needed",
            {
                "belt_width": 0.9144,
                "trough_angle": 35,
                "chute_width_inside": 0.6096,
                "chute_wall_thickness": 0.0,
                "seal_kind": "single strip",
            },
            Cite("CEMA7", "eq. 4.12; the section is derived geometry", "Q"),
            found=3.8298245 * 0.0254,
            required=2.88 * 0.0254,
            band="meets",
        ),
    ),
    remedies=(
        Remedy(
            "Narrow the chute to {widest_chute:m_} inside, for {required:m^} of free belt on "
            "either side.",
            sets={"chute_width_inside": "widest_chute"},
        ),
        Remedy(
            "No chute leaves belt enough free here: fit a seal that needs less of it, or a wider "
            "belt.",
            otherwise=True,
        ),
    ),
)
def seal_edge(
    chute_width_inside: Any,
    chute_wall_thickness: Any,
    belt_width: Any,
    trough_angle: Any,
    seal_kind: Any,
    seal_footprint: Any = NAN,
    centre_roll_length: Any = NAN,
    idler_rolls: Any = NAN,
    *,
    dual_lip: float,
    dual_lip_high: float,
) -> Outcome:
    """Free belt beside the chute, in horizontal projection, against what the seal needs.

    Free edge = (W − outside chute width) ÷ 2, W = c + 2a·cos λ the width between the belt edges in
    the trough. Needed: the CEMA edge distance 0.055·B + 0.9 in, or the seal's footprint where that
    is more; a dual lip without a recorded footprint takes 75 to 100 mm (common practice).
    """
    found = _free_edge(
        belt_width,
        trough_angle,
        chute_width_inside,
        chute_wall_thickness,
        centre_roll_length,
        idler_rolls,
    )
    needed = _edge_needed(belt_width, seal_kind, seal_footprint, dual_lip)
    unknown = np.isnan(seal_footprint) & np.equal(seal_kind, "dual lip")
    widest = np.asarray(chute_width_inside) + 2.0 * (found - needed)
    return Outcome(
        parts=(at_least(found, needed),),
        outside=(_five_rolls(idler_rolls),),
        needs=((np.equal(seal_kind, "other") & np.isnan(seal_footprint), "seal_footprint"),),
        notes=(
            (np.isfinite(found), "horizontal projection of the troughed belt"),
            (
                unknown,
                "seal footprint not recorded: a dual-lip seal takes "
                f"{1000 * dual_lip:.4g} to {1000 * dual_lip_high:.4g} mm",
            ),
        ),
        numbers={
            "free_edge": found,
            "edge_distance": geometry.edge_distance(belt_width),
            "required_at_dual_lip_high": np.where(
                unknown, np.maximum(geometry.edge_distance(belt_width), dual_lip_high), NAN
            ),
            "widest_chute": np.where(widest > 0, widest, NAN),
        },
    )


@check(
    "seal-wander",
    title="Seal against wander",
    question="Does the seal stay on the belt when the belt wanders?",
    basis="mechanics",
    unit="m",
    cite=Cite("DERIVED", "free edge less the wander, against the seal's footprint", "D"),
    guarded=True,
    bounded=("seal_footprint",),
    assumes={key: text for key, text in _ASSUMES.items() if key != "seal_footprint"},
    remedies=(
        Remedy(
            "Hold the belt within {wander_it_could_take:m_} to either side.",
            sets={"belt_wander": "wander_it_could_take"},
        ),
        Remedy(
            "Or narrow the chute to {widest_chute:m_} inside.",
            sets={"chute_width_inside": "widest_chute"},
        ),
    ),
)
def seal_wander(
    chute_width_inside: Any,
    chute_wall_thickness: Any,
    belt_width: Any,
    trough_angle: Any,
    seal_kind: Any,
    seal_footprint: Any,
    belt_wander: Any,
    centre_roll_length: Any = NAN,
    idler_rolls: Any = NAN,
) -> Outcome:
    """Free belt beside the chute less the observed wander, against the seal's footprint.

    Where the wander is not recorded, the wander that the seal could take is given.
    """
    free = _free_edge(
        belt_width,
        trough_angle,
        chute_width_inside,
        chute_wall_thickness,
        centre_roll_length,
        idler_rolls,
    )
    found = free - np.asarray(belt_wander)
    footprint = np.where(np.equal(seal_kind, ""), NAN, seal_footprint)
    return Outcome(
        parts=(at_least(found, footprint, short="the belt can wander off the seal"),),
        settled=((np.equal(seal_kind, "none"), "not applicable", "no seal fitted"),),
        outside=(_five_rolls(idler_rolls),),
        numbers={
            "free_edge": free,
            "wander_it_could_take": np.where(free - footprint > 0, free - footprint, NAN),
            "widest_chute": np.asarray(chute_width_inside) - 2.0 * (footprint - found),
        },
    )


@check(
    "seal-chute-max",
    title="Widest chute",
    question="How wide may the chute be?",
    basis="guidance",
    unit="m",
    cite=Cite("GY", "p. 19, and the belt edge the seal needs", "S"),
    information=True,
    limits={
        "share": Limit(
            2 / 3,
            "1",
            "widest chute as a share of belt width",
            Cite("GY", "p. 19", "S"),
            "lower",
            most=1.0,
        ),
        "dual_lip": _DUAL_LIP,
        "wall": Limit(0.012, "m", "chute wall where its thickness is not recorded", _PRACTICE),
    },
    assumes=_ASSUMES | {"chute_wall_thickness": ""},
)
def seal_chute_max(
    belt_width: Any,
    trough_angle: Any,
    seal_kind: Any,
    seal_footprint: Any = NAN,
    chute_wall_thickness: Any = NAN,
    centre_roll_length: Any = NAN,
    idler_rolls: Any = NAN,
    *,
    share: float,
    dual_lip: float,
    wall: float,
) -> Outcome:
    """Widest chute inside: the smaller of 2/3 of belt width and W − 2·edge − 2·wall."""
    thickness = np.where(np.isnan(chute_wall_thickness), wall, chute_wall_thickness)
    free = _free_edge(belt_width, trough_angle, 0.0, thickness, centre_roll_length, idler_rolls)
    needed = _edge_needed(belt_width, seal_kind, seal_footprint, dual_lip)
    widest = np.minimum(share * np.asarray(belt_width), 2.0 * (free - needed))
    widest = np.where(np.equal(idler_rolls, 5), NAN, widest)
    return Outcome(
        parts=(at_least(NAN, widest),),
        notes=(
            (
                np.isnan(chute_wall_thickness),
                f"chute wall not recorded: {1000 * wall:.4g} mm taken",
            ),
        ),
        numbers={"edge_needed": needed},
    )


@check(
    "seal-length",
    title="Skirt length",
    question="Are the skirtboards long enough for the material to settle?",
    basis="guidance",
    unit="m",
    cite=Cite("NIOSH", "Table 5.2", "Q"),
    limits={
        "cema_seconds": Limit(
            1.2,
            "s",
            "length per belt speed (2 ft per 100 ft/min)",
            Cite("NIOSH", "Table 5.2, CEMA", "Q"),
            "higher",
        ),
        "army_base": Limit(
            1.524,
            "m",
            "length at standstill (5 ft)",
            Cite("NIOSH", "Table 5.2, US Army", "Q"),
            "higher",
        ),
        "army_seconds": Limit(
            0.6,
            "s",
            "length per belt speed (1 ft per 100 ft/min)",
            Cite("NIOSH", "Table 5.2, US Army", "Q"),
            "higher",
        ),
        "maker_widths": Limit(
            4.0, "1", "length in belt widths", Cite("GY", "p. 20", "S"), "higher"
        ),
        "maker_widths_high": Limit(
            5.0,
            "1",
            "upper figure in belt widths, shown beside",
            Cite("GY", "p. 20", "S"),
            "higher",
        ),
    },
    worked=(
        Worked(
            "600 ft/min: 12 ft (CEMA) and 11 ft (US Army)",
            {"skirt_length": 3.0, "belt_speed": 3.048, "belt_width": 0.6},
            Cite("NIOSH", "Table 5.2", "Q"),
            required=12 * 0.3048,
            numbers={"cema_length": 12 * 0.3048, "army_length": 11 * 0.3048},
        ),
    ),
    remedies=(
        Remedy(
            "Extend the skirtboards to {required:m^}.",
            sets={"skirt_length": "required"},
        ),
    ),
)
def seal_length(
    skirt_length: Any,
    belt_speed: Any,
    belt_width: Any,
    *,
    cema_seconds: float,
    army_base: float,
    army_seconds: float,
    maker_widths: float,
    maker_widths_high: float,
) -> Outcome:
    """Length of the skirtboards past the load point against three published rules.

    CEMA 2 ft per 100 ft/min; US Army 5 ft + 1 ft per 100 ft/min; a belt maker 4 to 5 belt widths.
    All of them: meets; none: falls short; between: marginal.
    """
    speed, width = np.asarray(belt_speed), np.asarray(belt_width)
    cema, army = cema_seconds * speed, army_base + army_seconds * speed
    maker = maker_widths * width
    largest = np.maximum(np.maximum(cema, army), maker)
    smallest = np.minimum(np.minimum(cema, army), maker)
    return Outcome(
        parts=(
            at_least(
                skirt_length,
                largest,
                grey=smallest,
                short="shorter than every rule asks",
                greyed="long enough by some rules and not by others",
            ),
        ),
        numbers={
            "cema_length": cema,
            "army_length": army,
            "maker_length": maker,
            "maker_length_high": maker_widths_high * width,
        },
        # The rule that asks for most.
        cites=(
            (maker >= largest, Cite("GY", "p. 20", "S")),
            (army >= largest, Cite("NIOSH", "Table 5.2, US Army", "Q")),
        ),
    )


@check(
    "seal-kind",
    title="Kind of seal",
    found_in=("seal_kind",),
    question="Does the kind of seal suit the dust?",
    basis="practice",
    cite=_PRACTICE,
    remedies=(
        Remedy(
            "Fit a dual-lip seal; it rests on {seal_footprint_dual_lip:m} of belt.",
            when="dusty",
            sets={"seal_kind": "dual lip", "seal_footprint": "seal_footprint_dual_lip"},
        ),
        Remedy(
            "Fit a skirt seal; a single strip rests on {seal_footprint_single_strip:m} of belt.",
            when="any_seal_does",
            sets={"seal_kind": "single strip", "seal_footprint": "seal_footprint_single_strip"},
        ),
    ),
)
def seal_kind(dust_kind: Any, seal_kind: Any) -> Outcome:
    """Kind of skirt seal against the kind of dust.

    Dry dusty or combustible: none falls short, a single strip is marginal, a dual lip meets.
    Otherwise none is marginal and any seal meets.
    """
    known = ~np.equal(dust_kind, "")
    dusty = np.isin(dust_kind, ("dry dusty", "combustible"))
    none, single = np.equal(seal_kind, "none"), np.equal(seal_kind, "single strip")
    dual = np.equal(seal_kind, "dual lip")
    return Outcome(
        parts=(
            graded(
                (dusty & none, "falls short", "no seal on a dusty material"),
                (dusty & single, "marginal", "a single strip on a dusty material"),
                (known & none, "marginal", "no seal"),
                (known & (single | dual), "meets", "the seal suits the dust"),
            ),
        ),
        outside=((np.equal(seal_kind, "other"), "no rule for a seal of another kind"),),
        numbers={"dusty": dusty, "any_seal_does": known & ~dusty},
    )


@check(
    "seal-air",
    title="Exhaust air",
    found_in=("exhaust_airflow",),
    question="Is enough air drawn off at the load point?",
    basis="guidance",
    unit="m³/s",
    cite=Cite("NIOSH", "eq. 5.2–5.3; ACGIH VS-50-20", "S"),
    limits={
        "least_size": Limit(
            0.003,
            "m",
            "mean size above which the induced air equation holds",
            Cite("NIOSH", "eq. 5.3", "S"),
        ),
        "dusty_drop": Limit(
            0.9144,
            "m",
            "fall above which dusty material asks for more air (3 ft)",
            _ACGIH,
            "lower",
        ),
        "indraft": Limit(
            0.762, "m/s", "air speed into all openings (150 ft/min)", _ACGIH, "higher"
        ),
        "indraft_high": Limit(
            1.016, "m/s", "upper figure (200 ft/min), shown beside", _ACGIH, "higher"
        ),
        "dry_least": Limit(
            1.5, "1", "times the guide, for very dry dust, shown beside", _ACGIH, "higher"
        ),
        "dry_most": Limit(
            2.0, "1", "times the guide that surely serves very dry dust", _ACGIH, "higher"
        ),
    },
    assumes={
        **dict.fromkeys(("exhaust_airflow", "tonnage", "bulk_density", "material_size_mean"), ""),
        "drop_height": "drop height not recorded: what a long drop of dusty material asks for not "
        "compared",
        "chute_open_area": "chute open area not recorded: air into the openings not compared",
    },
    remedies=(
        Remedy(
            "Draw off at least {required:m³/s^}, or close open area.",
            sets={"exhaust_airflow": "required"},
        ),
        Remedy(
            "Record what is missing ({missing:words}), so that displaced and induced air can be "
            "compared.",
            otherwise=True,
        ),
        Remedy(
            "Measure the air drawn in: the equation does not hold for so fine a material.",
            otherwise=True,
        ),
    ),
)
def seal_air(
    belt_width: Any,
    belt_speed: Any,
    dust_kind: Any,
    exhaust_airflow: Any = NAN,
    tonnage: Any = NAN,
    bulk_density: Any = NAN,
    drop_height: Any = NAN,
    material_size_mean: Any = NAN,
    chute_open_area: Any = NAN,
    *,
    least_size: float,
    dusty_drop: float,
    indraft: float,
    indraft_high: float,
    dry_least: float,
    dry_most: float,
) -> Outcome:
    """Exhaust air against the guide, the indraft, and the air displaced plus induced.

    Displaced: tonnage ÷ bulk density. Induced: 10·A_u·(R·S²/D)^⅓ cfm, R in short tons an hour, S
    the fall and D the mean size in feet, A_u in ft², for D above 3 mm. Guide: 350 cfm per foot of
    belt width below 200 ft/min, 500 from there up; 700 cfm more for dusty material that falls more
    than 3 ft onto a belt up to 36 in wide, 1,000 above; very dry dust 1.5 to 2 times as much, a
    grey range here. Indraft: 150 ft/min through all openings.
    """
    dusty = np.isin(dust_kind, ("dry dusty", "combustible"))
    guide = loading.exhaust_guide(belt_width, belt_speed) + np.where(
        dusty & exceeds(drop_height, dusty_drop), loading.exhaust_for_drop(belt_width), 0.0
    )
    dry = np.equal(dust_kind, "dry dusty")
    into = np.multiply(chute_open_area, indraft)
    displaced = loading.displaced_air(tonnage, bulk_density)
    coarse = exceeds(material_size_mean, least_size)
    induced = np.where(
        coarse,
        loading.induced_air(tonnage, drop_height, material_size_mean, chute_open_area),
        NAN,
    )
    drawn = displaced + induced
    fine = np.isfinite(material_size_mean) & ~coarse
    needed = np.where(np.isnan(guide), NAN, np.fmax(np.fmax(guide, drawn), into))
    return Outcome(
        parts=(
            at_least(
                exhaust_airflow,
                needed,
                grey=np.where(dry, np.fmax(needed, dry_most * guide), NAN),
                greyed="enough, unless the dust is very dry: the guide then asks for up to "
                f"{dry_most:g} times as much",
            ),
        ),
        settled=((np.isnan(exhaust_airflow), "information", "no exhaust air flow recorded"),),
        ceiling=(
            (
                np.isnan(drawn),
                "only the guide could be computed: displaced and induced air not compared",
            ),
        ),
        notes=(
            (
                fine,
                f"mean size not above {1000 * least_size:.4g} mm: the induced air equation does "
                "not hold",
            ),
        ),
        numbers={
            "exhaust_guide": guide,
            "very_dry_guide": (
                np.where(dry, dry_least * guide, NAN),
                np.where(dry, dry_most * guide, NAN),
            ),
            "displaced_air": displaced,
            "induced_air": induced,
            "indraft_air": (into, np.multiply(chute_open_area, indraft_high)),
        },
    )
