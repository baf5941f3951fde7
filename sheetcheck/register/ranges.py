"""Ranges over which a number that is not recorded is bounded; a plant may change each of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from .fields import FIELDS, Ends, Span

__all__ = ["DEFAULTS", "LEAST_STRENGTH_TO_RATING", "RANGES", "Ends", "Range"]

LEAST_STRENGTH_TO_RATING = 4.0
"""Breaking strength ÷ rated tension, below which a recorded rating is taken for a slip: no belt is
rated so. Common practice, no published source."""

_PRACTICE = "common practice, no published source"


@dataclass(frozen=True, slots=True)
class Range:
    """One range, with its authority.

    Attributes
    ----------
    low, high
        Its ends, in `unit`.
    unit
        SI unit; ``"1"`` where the ends are multiples of another number.
    meaning
        Plain words.
    fields
        The field that it bounds, and those that are derived from that.
    possible
        Where a plant's own ends may lie.
    authority, grade
        Where the ends are from, and how that was read (S, Q, D, C, M).
    """

    low: float
    high: float
    unit: str
    meaning: str
    fields: tuple[str, ...]
    possible: Span
    authority: str = _PRACTICE
    grade: str = "C"

    @property
    def ends(self) -> Ends:
        """Both ends."""
        return self.low, self.high


def _modulus(low: float, high: float, kind: str, authority: str = "") -> Range:
    return Range(
        low,
        high,
        "1",
        f"modulus of {kind}, as a multiple of its rated tension",
        ("belt_modulus",),
        Span(0, low_open=True),
        "; ".join(filter(None, ("from memory, not confirmed", authority))),
        "M",
    )


def _rating(low: float, high: float, kind: str) -> Range:
    ratios = ("tail_tension_ratio", "head_tension_ratio", "belt_tension_ratio")
    return Range(
        low,
        high,
        "1",
        f"nominal strength of {kind} ÷ its rated tension",
        ("belt_rated_tension", *ratios),
        Span(LEAST_STRENGTH_TO_RATING),
    )


def _footprint(low: float, high: float, kind: str) -> Range:
    possible = FIELDS["seal_footprint"].possible
    meaning = f"width of belt that {kind} rests on"
    return Range(low, high, "m", meaning, ("seal_footprint",), possible)


def _own(name: str, low: float, high: float) -> Range:
    field = FIELDS[name]
    return Range(low, high, field.unit, field.meaning, (name,), field.possible)


# Catalogue sections 1 and 2. One that bounds a field by itself has the field's name.
RANGES: Mapping[str, Range] = MappingProxyType(
    {
        "chute_wall_thickness": _own("chute_wall_thickness", 0.0, 0.012),
        "carry_idler_spacing": _own("carry_idler_spacing", 0.3, 1.5),
        "load_idler_spacing": _own("load_idler_spacing", 0.3, 1.5),
        "seal_footprint_single_strip": _footprint(0.025, 0.050, "a single-strip seal"),
        "seal_footprint_dual_lip": _footprint(0.075, 0.100, "a dual-lip seal"),
        # Elongation of the whole belt at a tenth of its strength, about its rated tension [S].
        "belt_modulus_ep": _modulus(
            50.0, 100.0, "an EP belt", "low end by 2.0 % elongation at a tenth of the strength"
        ),
        "belt_modulus_nn": _modulus(
            40.0, 65.0, "an NN belt", "low end by 2.5 % elongation at a tenth of the strength"
        ),
        "belt_modulus_fabric": _modulus(40.0, 100.0, "a fabric belt of unknown kind"),
        "belt_modulus_steel_cord": _modulus(450.0, 500.0, "a steel cord belt"),
        "strength_to_rating_fabric": _rating(8.0, 12.0, "a fabric belt"),
        "strength_to_rating_steel_cord": _rating(6.5, 10.0, "a steel cord belt"),
    }
)
"""Every range by its public name."""

DEFAULTS: Mapping[str, Ends] = MappingProxyType({n: item.ends for n, item in RANGES.items()})
"""Name to ends where no plant says otherwise."""
