"""Housekeeping: what lies about, how deep the dust is, and what it costs."""

from __future__ import annotations

from typing import Any

import numpy as np

from .declare import Cite, Limit, Outcome, Remedy, at_most, check, exceeds, graded

__all__ = ["housekeeping_cost", "housekeeping_dust", "housekeeping_spillage"]

NAN = np.nan
_PRACTICE = Cite("PRACTICE", "", "C")
_DUST = Cite("OSHA-DUST-2015", "1/32 in at 75 lb/ft³; the adjustment by density from memory", "M")


@check(
    "housekeeping-spillage",
    title="Spillage",
    question="Is the conveyor clean underneath?",
    basis="law",
    cite=Cite("CFR30-56", "56.20003; 29 CFR 1910.22", "S"),
    remedies=("Clean up with the conveyor isolated, and cure the cause found above.",),
)
def housekeeping_spillage(spillage_level: Any) -> Outcome:
    """Spillage found: none meets, light is marginal, heavy falls short."""
    return Outcome(
        parts=(
            graded(
                (np.equal(spillage_level, "heavy"), "falls short", "heavy spillage"),
                (np.equal(spillage_level, "light"), "marginal", "light spillage"),
                (np.equal(spillage_level, "none"), "meets", "no spillage"),
            ),
        )
    )


@check(
    "housekeeping-dust",
    title="Dust depth",
    found_in=("dust_layer_depth",),
    question="Is settled combustible dust thin enough?",
    basis="law",
    unit="m",
    cite=_DUST,
    guarded=True,
    limits={
        "base_depth": Limit(
            0.00079375,
            "m",
            "depth at the base density (1/32 in)",
            Cite("OSHA-DUST-2015", "base depth", "S"),
            "lower",
        ),
        "base_density": Limit(
            75 * 0.016018463373960137,
            "t/m³",
            "base bulk density (75 lb/ft³)",
            Cite("OSHA-DUST-2015", "base density", "S"),
            "lower",
        ),
    },
    remedies=(
        Remedy(
            "Remove the dust without raising a cloud (no compressed air), keep it to "
            "{required:m_} at most, and stop it at the source.",
            sets={"dust_layer_depth": "required"},
        ),
        Remedy(
            "Remove the dust without raising a cloud (no compressed air), and stop it at the "
            "source.",
            otherwise=True,
        ),
    ),
)
def housekeeping_dust(
    dust_kind: Any,
    dust_layer_depth: Any,
    bulk_density: Any,
    *,
    base_depth: float,
    base_density: float,
) -> Outcome:
    """Depth of settled combustible dust: 1/32 in × 75 ÷ bulk density in lb/ft³, 1/32 in above."""
    density = np.asarray(bulk_density, float)
    with np.errstate(divide="ignore"):
        allowed = np.where(
            exceeds(base_density, density), base_depth * base_density / density, base_depth
        )
    allowed = np.where(np.isnan(density) | np.equal(dust_kind, ""), NAN, allowed)
    lighter = exceeds(base_density, density)
    return Outcome(
        parts=(at_most(dust_layer_depth, allowed),),
        settled=(
            (
                ~np.isin(dust_kind, ("", "combustible")),
                "not applicable",
                "dust recorded as not combustible",
            ),
        ),
        notes=(
            (
                lighter,
                "deeper allowed for the low density of the material carried, taken for that of "
                "the settled dust; the rule for density is from memory",
            ),
        ),
    )


@check(
    "housekeeping-cost",
    title="Clean-up cost",
    question="What do spillage and clean-up cost a year?",
    basis="practice",
    unit="currency/year",
    cite=_PRACTICE,
    information=True,
    limits={"weeks": Limit(52.0, "1", "weeks in a year", _PRACTICE)},
    assumes={"labour_rate": "", "material_value": "", "spilled_mass": "", "cleanup_hours": ""},
)
def housekeeping_cost(
    cleanup_hours: Any = NAN,
    labour_rate: Any = NAN,
    spilled_mass: Any = NAN,
    material_value: Any = NAN,
    *,
    weeks: float,
) -> Outcome:
    """Clean-up hours × loaded labour rate + spilled mass × its value, per year.

    The total stands only where all four are recorded; its two parts are given for themselves. In
    the ranking, a part that every load point of a conveyor records alike counts once.
    """
    labour = np.multiply(cleanup_hours, labour_rate) * weeks
    material = np.multiply(spilled_mass, material_value) * weeks
    return Outcome(
        parts=(at_most(labour + material, NAN),),
        numbers={"labour_cost": labour, "material_cost": material},
    )
