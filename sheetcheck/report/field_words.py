"""What people call each field, in the spelling and the units of their country."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from ..register.fields import FIELDS, Field
from ..units import unit_column

__all__ = [
    "OFFICE",
    "PLACES",
    "heading",
    "label",
    "offered",
    "spelt",
    "written_unit",
]

OFFICE = "office"
"""Place of what stands in drawings, data sheets and records and cannot be found at the belt."""

PLACES: tuple[str, ...] = (
    "tail",
    "load zone",
    "carry run",
    "head",
    "cleaners",
    "return",
    "access",
)
"""Places in the order in which one walks along a conveyor."""

_US_SPELLING: Mapping[str, str] = MappingProxyType(
    {
        "centre": "center",
        "labour": "labor",
        "metre": "meter",
        "plough": "plow",
        "vulcanised": "vulcanized",
    }
)
# Units as people there write them; the reader knows them.
_US_UNITS = unit_column("us_written")
_SPELT_OTHERWISE = re.compile("|".join(_US_SPELLING), re.IGNORECASE)


def label(name: str, *, us: bool) -> str:
    """What a field is called."""
    field = FIELDS[name]
    return spelt((us and field.us_name) or field.name, us=us)


def heading(field: Field, unit: str, *, us: bool) -> str:
    """Heading of a field's column, with the unit of its numbers in brackets."""
    name, shown = label(field.key, us=us), written_unit(field, unit, us=us)
    return f"{name} ({shown})" if shown else name


def written_unit(field: Field, unit: str, *, us: bool) -> str:
    """Unit beside a field's numbers as it is usually written; empty for words and counts."""
    if field.kind not in ("number", "lift"):
        return ""
    if us and unit == "lbf/in" and field.key.endswith("_tension"):
        return "PIW"  # of tensions only: a belt's PIW is its rating, never its strength
    return _US_UNITS.get(unit, unit) if us else unit


def offered(field: Field, *, us: bool) -> tuple[str, ...]:
    """Words that a field's cells may hold; none for numbers and free text."""
    words = ("yes", "no") if field.kind == "yes/no" else field.choices
    return tuple(spelt(word, us=us) for word in words)


def spelt(text: str, *, us: bool) -> str:
    """Text as it stands, or in US spelling."""

    def other(found: re.Match[str]) -> str:
        word = _US_SPELLING[found[0].lower()]
        return word.capitalize() if found[0][0].isupper() else word

    return _SPELT_OTHERWISE.sub(other, text) if us else text
