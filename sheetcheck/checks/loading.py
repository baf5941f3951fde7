"""Loading: does the belt carry what lands on it, and can it take the fall."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..formulas import geometry, loading
from .declare import Cite, Limit, Outcome, Remedy, Worked, at_most, check, exceeds

__all__ = ["load_fill", "load_impact", "load_lump", "load_support", "load_width"]

NAN = np.nan
_GUIDE = Cite("GY", "p. 19", "S")
_LUMPS = Cite("CRUSHER-HANDBOOK", "lump size by surcharge angle", "S")
_LUMP_CHUTE = Cite("GY", "chute width for lumps", "S")
_AREA = Cite("CEMA7", "eq. 4.11–4.13", "Q")
_CLASSES = Cite("CEMA575", "duty classes of 200, 1000 and 2000 lb·ft", "M")


def _share(
    value: float, meaning: str, cite: Cite, most: float = 1.0, not_below: str = ""
) -> Limit:
    return Limit(value, "1", meaning, cite, "lower", most, not_below)


@check(
    "load-width",
    title="Chute width",
    question="Is the chute narrow enough to leave belt on either side?",
    basis="guidance",
    unit="m",
    cite=_GUIDE,
    limits={"share": _share(2 / 3, "widest chute as a share of belt width", _GUIDE)},
    worked=(
        Worked(
            "36 in belt takes a 24 in chute",
            {"belt_width": 0.9144, "chute_width_inside": 0.6096},
            _GUIDE,
            required=0.6096,
            band="meets",
        ),
    ),
    remedies=(
        Remedy(
            "Narrow the chute to {required:m_} inside.",
            sets={"chute_width_inside": "required"},
        ),
    ),
)
def load_width(chute_width_inside: Any, belt_width: Any, *, share: float) -> Outcome:
    """Inside width of the chute at the belt against a share of belt width: B × 2/3."""
    return Outcome(parts=(at_most(chute_width_inside, share * np.asarray(belt_width)),))


@check(
    "load-lump",
    title="Lump size",
    question="Is the largest lump small enough for the belt and the chute?",
    basis="guidance",
    unit="m",
    cite=_LUMPS,
    limits={
        "fines_low": _share(1 / 3, "lump with fines, surcharge to 20°, of belt width", _LUMPS),
        "uniform_low": _share(1 / 5, "uniform lump, surcharge to 20°, of belt width", _LUMPS),
        "fines_high": _share(1 / 6, "lump with fines, surcharge to 30°, of belt width", _LUMPS),
        "uniform_high": _share(1 / 10, "uniform lump, surcharge to 30°, of belt width", _LUMPS),
        "chute_fines": _share(1 / 2, "lump with fines, of chute width", _LUMP_CHUTE),
        "chute_uniform": _share(1 / 3.5, "uniform lump, of chute width", _LUMP_CHUTE),
    },
    steps={"surcharge_angle": (20.0, 30.0)},
    assumes={"chute_width_inside": "chute width not recorded: lump not compared with the chute"},
    worked=(
        Worked(
            "1000 mm belt, lumps with fines, 20° surcharge: a third of the belt",
            {
                "belt_width": 1.0,
                "lump_size": 0.3,
                "surcharge_angle": 20,
                "lump_mix": "with fines",
            },
            _LUMPS,
            required=1 / 3,
            band="meets",
        ),
    ),
    remedies=(
        Remedy(
            "Screen or crush to lumps of at most {required:m_}.", sets={"lump_size": "required"}
        ),
        Remedy(
            "Or widen the belt to at least {belt_needed:m^}.",
            when="belt_too_narrow",
            sets={"belt_width": "belt_needed"},
        ),
        Remedy(
            "Or widen the chute to at least {chute_needed:m^} inside.",
            when="chute_too_narrow",
            sets={"chute_width_inside": "chute_needed"},
        ),
        Remedy(
            "Or widen both the belt to at least {belt_needed:m^} and the chute to at least "
            "{chute_needed:m^} inside.",
            when="both_too_narrow",
            sets={"belt_width": "belt_needed", "chute_width_inside": "chute_needed"},
        ),
    ),
)
def load_lump(
    lump_size: Any,
    belt_width: Any,
    surcharge_angle: Any,
    lump_mix: Any,
    chute_width_inside: Any = NAN,
    *,
    fines_low: float,
    uniform_low: float,
    fines_high: float,
    uniform_high: float,
    chute_fines: float,
    chute_uniform: float,
) -> Outcome:
    """Largest lump against the smaller of the belt rule and, where known, the chute rule.

    Belt rule: with fines B/3, uniform B/5 for a surcharge angle up to 20°; B/6 and B/10 up to 30°;
    not judged above. Chute rule: half the chute width with fines, width ÷ 3.5 uniform.
    """
    fines, uniform = np.equal(lump_mix, "with fines"), np.equal(lump_mix, "uniform")

    def by_mix(with_fines: Any, alone: Any) -> Any:
        return np.select([fines, uniform], [with_fines, alone], NAN)

    steep = exceeds(surcharge_angle, 20.0)
    share = np.where(steep, by_mix(fines_high, uniform_high), by_mix(fines_low, uniform_low))
    share = np.where(exceeds(surcharge_angle, 30.0) | np.isnan(surcharge_angle), NAN, share)
    of_chute = by_mix(chute_fines, chute_uniform)
    belt, chute = share * belt_width, of_chute * chute_width_inside
    belt_short, chute_short = exceeds(lump_size, belt), exceeds(lump_size, chute)
    return Outcome(
        parts=(
            at_most(lump_size, np.where(np.isnan(share), NAN, np.fmin(belt, chute))),
            at_most(lump_size, chute, optional=True, short="lump too large for the chute"),
        ),
        outside=((exceeds(surcharge_angle, 30.0), "no belt rule for a surcharge above 30°"),),
        numbers={
            "belt_needed": np.where(belt_short, lump_size / share, NAN),
            "chute_needed": np.where(chute_short, lump_size / of_chute, NAN),
            "belt_too_narrow": belt_short & ~chute_short,
            "chute_too_narrow": chute_short & ~belt_short,
            "both_too_narrow": belt_short & chute_short,
        },
        cites=((exceeds(belt, chute), _LUMP_CHUTE),),
    )


@check(
    "load-fill",
    title="Belt fill",
    found_in=("tonnage",),
    question="Does the belt have room for the tonnage?",
    basis="mechanics",
    unit="1",
    cite=_AREA,
    limits={
        "full": _share(1.0, "load as a share of the CEMA area", _AREA, np.inf, "comfortable"),
        "comfortable": _share(
            0.8, "load as a share of the CEMA area with room for surges", _AREA, np.inf
        ),
    },
    assumes={
        "centre_roll_length": "",
        "idler_rolls": "number of rolls not recorded: three-roll idlers taken",
    },
    worked=(
        Worked(
            "1000 short tons an hour at 60 lb/ft³ and 600 ft/min fill 74 % of a 42 in, 35° belt",
            {
                "tonnage": 907.18474,
                "bulk_density": 60 * 0.016018463373960137,
                "belt_speed": 600 * 0.00508,
                "belt_width": 42 * 0.0254,
                "trough_angle": 35,
                "surcharge_angle": 15,
            },
            Cite("CEMA7", "selection example E3 of the worked examples", "S"),
            found=5555.556 / 7525,
            relative_tolerance=2e-4,
            band="meets",
        ),
    ),
    remedies=(
        Remedy("Carry at most {tonnage_allowed:t/h_}.", sets={"tonnage": "tonnage_allowed"}),
        Remedy(
            "Or run at {speed_needed:m/s^} or more, once drive, belt, chutes, dust and stopping "
            "are checked for it.",
            sets={"belt_speed": "speed_needed"},
        ),
    ),
)
def load_fill(
    tonnage: Any,
    bulk_density: Any,
    belt_speed: Any,
    belt_width: Any,
    trough_angle: Any,
    surcharge_angle: Any,
    centre_roll_length: Any = NAN,
    idler_rolls: Any = NAN,
    *,
    full: float,
    comfortable: float,
) -> Outcome:
    """Area the load takes at the tonnage, as a share of the CEMA load area.

    Area = tonnage ÷ (bulk density × belt speed). Between 0.8 and 1.0 there is no room for surges.
    The ISO 5048 and DIN 22101 areas stand beside: their caps differ by half, so they are never
    mixed.
    """
    taken = np.divide(tonnage, np.asarray(bulk_density) * belt_speed * 3600.0)
    area = geometry.cema_area(belt_width, trough_angle, surcharge_angle)
    centre = geometry.centre_contact(belt_width, centre_roll_length, idler_rolls)
    share = taken / area
    # Room for surges ends where the belt is full: a tighter limit leaves no grey above itself.
    aim = min(comfortable, full)
    return Outcome(
        parts=(
            at_most(
                share,
                full,
                grey=aim,
                greyed="fits, with little room for surges",
                short="more than the belt can carry",
            ),
        ),
        settled=((np.equal(trough_angle, 0), "not applicable", "flat belt: no trough to fill"),),
        outside=(
            (
                np.isfinite(idler_rolls) & ~np.equal(idler_rolls, 3),
                "the CEMA area is for three equal rolls",
            ),
        ),
        numbers={
            "load_area": taken,
            "cema_area": area,
            "iso5048_area": geometry.iso5048_area(
                belt_width, centre, trough_angle, surcharge_angle
            ),
            "din22101_area": geometry.din22101_area(
                belt_width, centre, trough_angle, surcharge_angle
            ),
            "speed_needed": share / aim * belt_speed,
            "tonnage_allowed": np.divide(tonnage, share) * aim,
        },
    )


@check(
    "load-support",
    title="Belt sag at the load",
    found_in=("load_idler_spacing", "load_support"),
    question="Is the belt held flat enough under the load to keep the seal on it?",
    basis="guidance",
    unit="1",
    cite=Cite("TM5", "belt sag at the load", "S"),
    limits={
        "sag": Limit(
            0.01,
            "1",
            "sag between idlers as a share of their pitch",
            Cite("TM5", "belt sag at the load", "S"),
            "lower",
        ),
    },
    guarded=True,
    remedies=(
        Remedy(
            "Set the idlers under the load no more than {spacing_needed:m_} apart.",
            sets={"load_idler_spacing": "spacing_needed"},
        ),
        Remedy("Or fit an impact or slider bed under the load.", when="sags"),
        Remedy(
            "Compare the bed's length with the impact zone and the skirted length.",
            when="bed_fitted",
        ),
    ),
)
def load_support(
    load_support: Any,
    belt_mass: Any,
    tonnage: Any,
    belt_speed: Any,
    load_idler_spacing: Any,
    load_belt_tension: Any,
    *,
    sag: float,
) -> Outcome:
    """Sag between the idlers under the load: (belt + material) · g · a ÷ 8T.

    An impact or slider bed is marginal: fitted, but its length against the impact zone is not
    compared.
    """
    bed = np.isin(load_support, ("impact bed", "slider bed"))
    material = loading.material_mass(tonnage, belt_speed)
    ratio = loading.sag_ratio(belt_mass, material, load_idler_spacing, load_belt_tension)
    return Outcome(
        parts=(
            at_most(np.where(np.equal(load_support, ""), NAN, ratio), sag, short="sags too much"),
        ),
        settled=(
            (bed, "marginal", "bed fitted; its length against the impact zone is not compared"),
        ),
        numbers={
            "spacing_needed": np.where(bed, NAN, load_idler_spacing * sag / ratio),
            "bed_fitted": bed,
            "sags": ~bed,
        },
    )


@check(
    "load-impact",
    title="Impact",
    question="How hard does the material hit the belt?",
    basis="mechanics",
    unit="J",
    cite=_CLASSES,
    information=True,
    limits={
        "mass_factor": Limit(
            0.6, "1", "lump mass as a share of its enclosing cube", Cite("PRACTICE", "", "C")
        ),
        "solid_factor": Limit(
            1.6, "1", "density of the solid over bulk density", Cite("PRACTICE", "", "C")
        ),
        "light": Limit(271.0, "J", "light duty up to", _CLASSES),
        "medium": Limit(1356.0, "J", "medium duty up to", _CLASSES, not_below="light"),
        "heavy": Limit(2712.0, "J", "heavy duty up to", _CLASSES, not_below="medium"),
    },
    assumes={"tonnage": ""},
)
def load_impact(
    lump_size: Any,
    bulk_density: Any,
    drop_height: Any,
    tonnage: Any = NAN,
    *,
    mass_factor: float,
    solid_factor: float,
    light: float,
    medium: float,
    heavy: float,
) -> Outcome:
    """Energy of the largest lump at the belt, m·g·H, and the steady force of the stream.

    m = 0.6 · ρ_s · d³ with ρ_s = 1.6 × bulk density; stream force 1.2302 · Q · √H newtons, Q in
    t/h. The duty class (1 light, 2 medium, 3 heavy, 4 beyond the classes) is by CEMA 575.
    """
    energy = loading.lump_energy(lump_size, bulk_density, drop_height, mass_factor, solid_factor)
    duty = 1.0 + sum(exceeds(energy, limit).astype(float) for limit in (light, medium, heavy))
    return Outcome(
        parts=(at_most(energy, NAN),),
        numbers={
            "lump_energy": energy,
            "stream_force": loading.stream_force(tonnage, drop_height),
            "duty_class": np.where(np.isnan(energy), NAN, duty),
        },
    )
