"""The neutral schema: every field a register may record, one line each in ``fields.csv``.

Each field has its SI unit or its words, its meaning, the values that are impossible (a problem,
never used) or doubtful (a problem, used and flagged), the units a bare number may be in, the
measuring tolerance, and what people call it and how they find it out. Ranges over which missing
numbers are bounded stand in `ranges`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal, cast

from ..data import rows

__all__ = [
    "FIELDS",
    "MEASURING",
    "POSITIONS",
    "TOLERANCE_UNITS",
    "Ends",
    "Field",
    "Kind",
    "Span",
    "Tolerance",
    "span",
    "tolerance_of",
]

Ends = tuple[float, float]
"""Low and high end of a range."""
Kind = Literal["text", "number", "count", "yes/no", "choice", "lift"]


@dataclass(frozen=True, slots=True)
class Span:
    """A range of values; ``low_open`` excludes the low end itself."""

    low: float = float("-inf")
    high: float = float("inf")
    low_open: bool = False

    def holds(self, value: Any) -> Any:
        """Whether a number, or each of an array of them (SI), lies in the range."""
        return (value > self.low if self.low_open else value >= self.low) & (value <= self.high)


@dataclass(frozen=True, slots=True)
class Tolerance:
    """Measuring tolerance: the larger of an absolute part (SI) and a share of the value."""

    absolute: float = 0.0
    relative: float = 0.0


# Catalogue section 1, plant-changeable defaults. [C] common practice, no published source.
_MEASURING = {line["kind"]: line for line in rows(__package__, "measuring.csv")}
MEASURING: Mapping[str, Tolerance] = MappingProxyType(
    {
        kind: Tolerance(float(line["absolute"]), float(line["relative"]))
        for kind, line in _MEASURING.items()
    }
)
TOLERANCE_UNITS = {kind: line["unit"] for kind, line in _MEASURING.items()}
"""Kind of measured input to the SI unit of its absolute tolerance; "" where a share alone fits."""


@dataclass(frozen=True, slots=True)
class Field:
    """One field of the neutral schema.

    Attributes
    ----------
    key, group, kind
        Public name; heading it stands under; what its cells hold. ``lift`` is a pulley lift:
        a number in metres or one of `POSITIONS`.
    unit
        SI unit of the stored number ("1" for a ratio, "" for words and counts).
    meaning
        Plain words, shown in help texts.
    choices
        The words of a ``choice`` field.
    possible, plausible
        A number outside `possible` is a problem and not used; one outside `plausible` is a
        problem and used.
    usual
        Numbers that are sound though they lie outside `plausible`.
    size
        Least and largest size that a plant's conveyors mostly have. Wide enough that a plant's own
        values pass, and narrow enough that a slipped unit or a shifted decimal point mostly does
        not: what lies outside is doubted, and so is a heading whose cells lie outside. Common
        practice, no published source [C]; no verdict is by it.
    customary
        Units in which a number without any unit may have been written.
    measuring
        Key into `MEASURING`; empty for numbers that are not measured.
    stand_in
        Field whose (general) figure serves where this one is missing, recorded as an assumption.
    name, us_name
        What people call it, and in the United States where that is something else.
    place
        Place on the conveyor at which a person on foot finds it out, or the office.
    belt
        ``locked``: only with the belt isolated, locked and tried; ``moving``: only from outside
        the guards of the running belt; ``either``: from outside the guards; empty in the office.
    people
        Filled where people may be hurt if it is wrongly taken for good, so that only positive
        evidence is taken; a belt that runs dirty brings people to its pulleys too.
    how
        Instrument or record, and how it is used.
    example
        Invented, in SI, for the row that shows how a register is filled in.
    small
        Where a number far below its size may still be right: ``may be nothing``; ``worse``, as
        without it a check could pass.
    beside
        What the columns beside it tell: ``sibling`` stands beside other sizes of the same thing;
        ``only one`` is the only such size of what they are about.
    """

    key: str
    group: str
    kind: Kind
    unit: str
    meaning: str
    choices: tuple[str, ...] = ()
    possible: Span = Span()
    plausible: Span = Span()
    usual: tuple[float, ...] = ()
    size: Ends | None = None
    customary: tuple[str, ...] = ()
    measuring: str = ""
    stand_in: str = ""
    name: str = ""
    us_name: str = ""
    place: str = ""
    belt: str = ""
    people: str = ""
    how: str = ""
    example: str = ""
    small: str = ""
    beside: tuple[str, ...] = ()

    @property
    def per_belt(self) -> bool:
        """Belt, Layout and Transition fields belong to the conveyor, not to a load point."""
        return self.group in ("Belt", "Layout", "Transition")

    @property
    def numeric(self) -> bool:
        """Whether values are stored as floats in `unit`."""
        return self.kind in ("number", "count", "lift")


# Where the pulley stands relative to the trough: share of the trough depth it is raised by.
POSITIONS: Mapping[str, float] = MappingProxyType(
    {"full trough": 0.0, "one-third": 1 / 3, "half": 1 / 2}
)


def span(text: str) -> Span:
    """Read a span: ``>0..4``, either end may be absent, ``>`` excludes the low one."""
    low, _, high = text.partition("..")
    return Span(
        float(low.lstrip(">") or "-inf"), float(high or "inf"), low_open=low.startswith(">")
    )


def _field(line: dict[str, str]) -> Field:
    def several(name: str) -> tuple[str, ...]:
        return tuple(filter(None, line.pop(name).split("; ")))

    size = span(line.pop("size") or "..")
    return Field(
        key=line.pop("field"),
        kind=cast("Kind", line.pop("kind")),
        choices=several("choices"),
        customary=several("customary"),
        beside=several("beside"),
        usual=tuple(map(float, several("usual"))),
        possible=span(line.pop("possible")),
        plausible=span(line.pop("plausible")),
        size=(size.low, size.high) if size != Span() else None,
        **line,
    )


FIELDS: Mapping[str, Field] = MappingProxyType(
    {line["field"]: _field(dict(line)) for line in rows(__package__, "fields.csv")}
)


def tolerance_of(field: str, measuring: Mapping[str, Tolerance] = MEASURING) -> Tolerance:
    """Measuring tolerance of `field`; zero where the field is not a measured number."""
    key = FIELDS[field].measuring
    return measuring[key] if key else Tolerance()
