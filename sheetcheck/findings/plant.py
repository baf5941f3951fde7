"""What a plant decided for itself: limits, ranges, weights, colours and accepted deviations."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from ..checks.declare import AT_THE_LIMIT, Limit
from ..register.fields import Tolerance
from ..register.ranges import Ends

__all__ = [
    "PUBLISHED",
    "Accepted",
    "Notice",
    "Plant",
    "PlantLimit",
    "PlantRange",
    "Ruling",
    "changed",
    "laxer_than_published",
]

PUBLISHED = "SQD"
"""Grades of limits that stand in a published source or follow from mechanics or geometry."""


@dataclass(frozen=True, slots=True)
class PlantLimit:
    """One limit of the plant's own: its value in SI, as written, and who set it, why and when."""

    check: str
    name: str
    value: float
    written: str
    set_by: str
    why: str
    date: date


@dataclass(frozen=True, slots=True)
class PlantRange:
    """One range of missing numbers of the plant's own: its ends, and who set it, why and when."""

    name: str
    ends: Ends
    set_by: str
    why: str
    date: date


@dataclass(frozen=True, slots=True)
class Accepted:
    """One deviation that the plant has accepted, `until` and including a date.

    ``load_point`` narrows it to one load point of the conveyor; empty for all of them.
    """

    tag: str
    check: str
    reason: str
    by: str
    until: date
    load_point: str = ""


@dataclass(frozen=True, slots=True)
class Plant:
    """What one limits file says.

    Attributes
    ----------
    file, text
        Name of the file without its folder, and its whole text.
    jurisdiction, currency
        As written; empty where not given.
    labour_rate, operating_hours
        Currency an hour and hours a year; None where not given.
    limits, ranges, accepted
        In the order written.
    tolerances
        Measuring tolerances in SI, by the keys of `MEASURING`; only those that were set.
    steps
        Trade steps in SI, by the keys of `STEPS`; only those that were set.
    weights
        Check key to how much falling short of it counts in the ranking; only those that were set.
    colours
        Band to fill and text colour; only those that were set.
    """

    file: str = ""
    text: str = ""
    jurisdiction: str = ""
    currency: str = ""
    labour_rate: float | None = None
    operating_hours: float | None = None
    limits: tuple[PlantLimit, ...] = ()
    ranges: tuple[PlantRange, ...] = ()
    tolerances: Mapping[str, Tolerance] = field(default_factory=dict)
    steps: Mapping[str, float] = field(default_factory=dict)
    weights: Mapping[str, float] = field(default_factory=dict)
    colours: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    accepted: tuple[Accepted, ...] = ()

    @property
    def values(self) -> dict[str, dict[str, float]]:
        """Check key to limit name to value in SI, as `evaluate` takes them."""
        found: dict[str, dict[str, float]] = {}
        for limit in self.limits:
            found.setdefault(limit.check, {})[limit.name] = limit.value
        return found

    def limit(self, check: str, name: str) -> PlantLimit | None:
        """Give the plant's own limit; None where the default stands."""
        return next((x for x in self.limits if (x.check, x.name) == (check, name)), None)

    def range(self, name: str) -> PlantRange | None:
        """Give the plant's own range; None where the default stands."""
        return next((x for x in self.ranges if x.name == name), None)


@dataclass(frozen=True, slots=True)
class Notice:
    """Something about the limits file that a reader of the findings must know.

    Attributes
    ----------
    kind
        What it is, in a few words.
    tag, check
        What it is about; empty where it holds for every conveyor, or for more than one check.
    text, what_to_do
        In plain words.
    """

    kind: Literal["laxer limit", "narrower range", "deviation expired", "deviation without effect"]
    tag: str
    check: str
    text: str
    what_to_do: str


@dataclass(frozen=True, slots=True)
class Ruling:
    """What the plant's decisions come to in one run.

    Attributes
    ----------
    plant
        The decisions; None where there was no limits file.
    on
        The date on which accepted deviations were held against their last day.
    accepted
        (check key, register row) to the deviation that covers the verdict, in words.
    states
        For each of the plant's deviations: in force, expired, without effect, or no such tag.
    notices
        What the findings must say.
    """

    plant: Plant | None = None
    on: date | None = None
    accepted: Mapping[tuple[str, int], str] = field(default_factory=dict)
    states: tuple[str, ...] = ()
    notices: tuple[Notice, ...] = ()


def changed(limit: Limit, value: float) -> bool:
    """Whether `value` differs from the default by more than rounding."""
    return abs(value - limit.value) > AT_THE_LIMIT * abs(limit.value)


def laxer_than_published(limit: Limit, value: float) -> bool:
    """Whether `value` asks for less than a default that stands in a published source."""
    if limit.cite.grade not in PUBLISHED or not changed(limit, value):
        return False
    if limit.stricter == "higher":
        return value < limit.value
    return limit.stricter == "lower" and value > limit.value
