"""Ranges over which a number that is not recorded is bounded; a plant may change each of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from ..data import rows
from .fields import FIELDS, Ends, Span, span

__all__ = ["DEFAULTS", "LEAST_STRENGTH_TO_RATING", "RANGES", "Ends", "Range"]


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
    authority: str
    grade: str

    @property
    def ends(self) -> Ends:
        """Both ends."""
        return self.low, self.high


def _range(line: dict[str, str]) -> Range:
    fields = tuple(line["fields"].split("; "))
    own = FIELDS[fields[0]]
    return Range(
        low=float(line["low"]),
        high=float(line["high"]),
        unit=line["unit"],
        meaning=line["meaning"] or own.meaning,
        fields=fields,
        possible=span(line["possible"]) if line["possible"] else own.possible,
        authority=line["authority"],
        grade=line["grade"],
    )


# Catalogue sections 1 and 2. One that bounds a field by itself has the field's name. The low ends
# of moduli are by the elongation of the whole belt at a tenth of its strength, about its rated
# tension [S].
RANGES: Mapping[str, Range] = MappingProxyType(
    {line["range"]: _range(line) for line in rows(__package__, "ranges.csv")}
)
"""Every range by its public name."""

DEFAULTS: Mapping[str, Ends] = MappingProxyType({n: item.ends for n, item in RANGES.items()})
"""Name to ends where no plant says otherwise."""

LEAST_STRENGTH_TO_RATING = RANGES["strength_to_rating_fabric"].possible.low
"""Breaking strength ÷ rated tension, below which a recorded rating is taken for a slip: no belt is
rated so. Common practice, no published source."""
