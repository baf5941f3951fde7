"""How a check is declared: its authority, its limits, and the outcome that it returns.

A check is a pure function from columns to what was *found* and what is *required*. It holds no
code for missing values, tolerance, bands, text layout or cells: the evaluator in `findings`
supplies those by calling the function again with inputs changed.
"""

from __future__ import annotations

import inspect
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Literal

import numpy as np

__all__ = [
    "AT_THE_LIMIT",
    "BASES",
    "Array",
    "Check",
    "Cite",
    "Criterion",
    "Limit",
    "Outcome",
    "Remedy",
    "Words",
    "Worked",
    "at_least",
    "at_most",
    "check",
    "exceeds",
    "graded",
]

Basis = Literal["law", "mechanics", "guidance", "practice"]
BASES: Mapping[Basis, str] = MappingProxyType(
    {
        "law": "a regulation, where it is in force",
        "mechanics": "derived, or a design standard",
        "guidance": "a published guide, or a specification for new plant",
        "practice": "common practice",
    }
)
"""What a check can stand on, the firmest first."""

Array = np.ndarray[Any, Any]
Said = tuple[Any, str]
"""Rows (a boolean mask) and what is said of them."""
Settled = tuple[Any, str, str]
"""Rows (a boolean mask), the band they get, and why."""


@dataclass(frozen=True, slots=True)
class Cite:
    """Key into ``tables/sources.csv``, the place in that source, and the grade of the reading."""

    key: str
    locator: str
    grade: str


@dataclass(frozen=True, slots=True)
class Limit:
    """A number a plant may change, with its authority.

    ``stricter`` tells which direction is stricter: ``"higher"``, ``"lower"`` or ``""`` (neither);
    ``most`` what it cannot be above, such as 1 for a share of a whole; ``not_below`` the limit of
    the same check that it must not be below, such as the near edge of a grey range for the far
    one.
    """

    value: float
    unit: str
    meaning: str
    cite: Cite
    stricter: Literal["higher", "lower", ""] = ""
    most: float = math.inf
    not_below: str = ""


@dataclass(frozen=True, slots=True)
class Worked:
    """A published or trade check value: shown in the documentation and run as a test."""

    name: str
    given: Mapping[str, float | str]
    cite: Cite
    required: float | None = None
    found: float | None = None
    band: str | None = None
    numbers: Mapping[str, float] = field(default_factory=dict)
    relative_tolerance: float = 1e-6


@dataclass(frozen=True, slots=True)
class Criterion:
    """One number against another, row by row.

    Attributes
    ----------
    found, required
        Arrays or scalars in the check's unit; NaN where they cannot be computed.
    good
        +1 where more is better (at least), −1 where less is better (at most).
    grey
        Far edge of a grey range, NaN where there is none: between it and `required` the band is
        marginal. It may lie on either side of `required`.
    found_high
        Upper end where `found` is itself a range.
    strict
        Rows in which being at the limit is not enough.
    optional
        Whether NaN means "nothing to compare" instead of "not judged".
    short, greyed, uncertain
        Words for "falls short", for the grey range and for a margin within the measuring
        uncertainty, where the usual ones would not say it.
    """

    found: Array
    required: Array
    good: int
    grey: Array
    found_high: Array | None = None
    strict: Array | bool = False
    optional: bool = False
    short: str = ""
    greyed: str = ""
    uncertain: str = ""


@dataclass(frozen=True, slots=True)
class Words:
    """Verdicts in words: the first (rows, band, reason) that holds for a row decides it."""

    rules: tuple[Settled, ...]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a check found; masks and numbers are arrays or scalars, broadcast by the evaluator.

    Attributes
    ----------
    parts
        The worst one decides; the first numeric one that is known gives found and required.
    settled
        (rows, band, reason) decided before any missing input counts, such as a feature that the
        conveyor does not have.
    outside
        Rows outside the method, and why: not judged, whatever the numbers are.
    needs
        Rows in which an input that is optional elsewhere is needed, and which one: where it is
        missing, not judged unless a part falls short.
    ceiling
        Rows that can be marginal at best, and why.
    notes
        Rows and what was assumed for them.
    numbers
        Named extra results, an array or a (low, high) pair of arrays.
    cites
        Rows for which another authority than the check's own governs.
    """

    parts: tuple[Criterion | Words, ...]
    settled: tuple[Settled, ...] = ()
    outside: tuple[Said, ...] = ()
    needs: tuple[Said, ...] = ()
    ceiling: tuple[Said, ...] = ()
    notes: tuple[Said, ...] = ()
    numbers: Mapping[str, Any] = field(default_factory=dict)
    cites: tuple[tuple[Array, Cite], ...] = ()


@dataclass(frozen=True, slots=True)
class Remedy:
    """One thing to do, in words with numbers.

    Attributes
    ----------
    text
        Template. A hole is ``{name:unit}``: the name a number of the outcome, of `Check.detail` or
        `Check.solve`, or found, required, missing (the optional inputs that are not recorded), or
        a range of missing numbers; the unit SI or ``words``; ``^`` after it rounds up, ``_`` down.
        A number that is set is shown as it was tried, from its own value outward in the steps of
        the trade; ``new`` is the first that is set, ``change`` how far that is from what is there.
    when
        Number that must not be zero for it to be said.
    otherwise
        Said only where nothing before it could be.
    sets
        Inputs that it changes: field to the name of a number or a range, or to the value or word
        itself; a number that is not known leaves its field alone. It is said only where its check
        then meets, with what it would worsen of the conveyor's other checks.
    caution
        Number that what is set must be above, and what is then said with it.
    """

    text: str
    when: str = ""
    otherwise: bool = False
    sets: Mapping[str, str | float] = field(default_factory=dict)
    caution: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Check:
    """A declared check; ``judge`` is the function itself.

    Attributes
    ----------
    key, title, subject, question
        Public key, heading in the trade's words, subject heading, and the question it answers in
        plain words.
    basis
        What it stands on, of `BASES`: it groups and orders, and never bands.
    judge
        Columns and limits to `Outcome`.
    parameters
        Names of the columns that `judge` takes, in its order: inputs, optional and helpers.
    inputs, optional
        Fields it needs, and fields that it uses where recorded.
    helpers
        Parameters that are no fields: see `HELPER_ENDINGS`.
    unit
        Unit of found and required; ``"1"`` for a pure ratio, ``""`` where it has no numbers.
    cite, limits, worked
        Authority; plant-changeable numbers; check values.
    remedies
        What to do; those whose numbers are all known make up the remedy. A plain text stands for
        a `Remedy` of that text alone.
    detail, solve
        Same arguments as `judge`, to further numbers. They are asked for once: `detail` for every
        row whose inputs are single values, `solve`, which is dearer, for rows in need of a remedy.
    guarded
        Whether a margin inside the measuring uncertainty is marginal.
    steps
        Inputs that only choose a table row: field to the values at which the row changes (empty
        where they depend on other inputs); tolerance never moves them.
    spread
        Missing numbers that are bounded over a table's rows: field to label and value.
    bounded
        Missing numbers that are bounded over a range which depends on other inputs.
    assumes
        Optional field to what is said where it is not recorded; empty for nothing.
    one_of
        Sets of optional fields of which one must be recorded.
    found_in
        Inputs in which what was found mostly stands, the likeliest first; the first of all inputs
        where not given.
    per_belt
        Judged once per conveyor, on its first row.
    information
        Gives numbers, never a verdict.
    """

    key: str
    title: str
    subject: str
    question: str
    basis: Basis
    judge: Callable[..., Outcome]
    parameters: tuple[str, ...]
    inputs: tuple[str, ...]
    optional: tuple[str, ...]
    helpers: tuple[str, ...]
    unit: str
    cite: Cite
    limits: Mapping[str, Limit]
    worked: tuple[Worked, ...]
    remedies: tuple[Remedy, ...]
    detail: Callable[..., Mapping[str, Any]] | None
    solve: Callable[..., Mapping[str, Any]] | None
    guarded: bool
    steps: Mapping[str, tuple[float, ...]]
    spread: Mapping[str, Mapping[str, float | str]]
    bounded: tuple[str, ...]
    assumes: Mapping[str, str]
    one_of: tuple[tuple[str, ...], ...]
    found_in: tuple[str, ...]
    per_belt: bool
    information: bool

    @property
    def fields(self) -> tuple[str, ...]:
        """Every field it reads, the needed ones first."""
        return self.inputs + self.optional


HELPER_ENDINGS = ("_position", "_stood_in", "_nominal")
"""Parameters that end so are no fields; the evaluator supplies them: the position word of a pulley
lift; whether a field was filled by its general figure; a field as recorded, which measuring
tolerance does not move."""


def check(
    key: str,
    *,
    title: str,
    question: str,
    basis: Basis,
    cite: Cite,
    unit: str = "",
    limits: Mapping[str, Limit] | None = None,
    worked: tuple[Worked, ...] = (),
    remedies: tuple[str | Remedy, ...] = (),
    detail: Callable[..., Mapping[str, Any]] | None = None,
    solve: Callable[..., Mapping[str, Any]] | None = None,
    guarded: bool = False,
    steps: Mapping[str, tuple[float, ...]] | None = None,
    spread: Mapping[str, Mapping[str, float | str]] | None = None,
    bounded: tuple[str, ...] = (),
    assumes: Mapping[str, str] | None = None,
    one_of: tuple[tuple[str, ...], ...] = (),
    found_in: tuple[str, ...] = (),
    per_belt: bool = False,
    information: bool = False,
    end: str = "",
) -> Callable[[Callable[..., Outcome]], Check]:
    """Declare the decorated function a check.

    The signature is the declaration: positional parameters are fields, with a NaN (or ``""``)
    default where optional; keyword-only parameters are limits. A function that serves both ends of
    a conveyor is declared once for each `end`: its names that begin with ``end_`` are then the
    fields of that end.

    Raises
    ------
    TypeError
        Where limits and keyword-only parameters differ.
    """

    def declare(judge: Callable[..., Outcome]) -> Check:
        positional = [
            p.replace(name=re.sub("^end_", f"{end}_", p.name) if end else p.name)
            for p in inspect.signature(judge).parameters.values()
            if p.kind is inspect.Parameter.POSITIONAL_OR_KEYWORD
        ]
        keyword = {
            p.name
            for p in inspect.signature(judge).parameters.values()
            if p.kind is inspect.Parameter.KEYWORD_ONLY
        }
        if keyword != set(limits or {}):
            raise TypeError(f"{key}: limits {sorted(limits or {})}, parameters {sorted(keyword)}")
        helpers = tuple(p.name for p in positional if p.name.endswith(HELPER_ENDINGS))
        fields = [p for p in positional if p.name not in helpers]
        return Check(
            key=key,
            title=title,
            subject=judge.__module__.rpartition(".")[2],
            question=question,
            basis=basis,
            judge=judge,
            parameters=tuple(p.name for p in positional),
            inputs=tuple(p.name for p in fields if p.default is inspect.Parameter.empty),
            optional=tuple(p.name for p in fields if p.default is not inspect.Parameter.empty),
            helpers=helpers,
            unit=unit,
            cite=cite,
            limits=MappingProxyType(dict(limits or {})),
            worked=worked,
            remedies=tuple(
                item if isinstance(item, Remedy) else Remedy(item) for item in remedies
            ),
            detail=detail,
            solve=solve,
            guarded=guarded,
            steps=MappingProxyType(dict(steps or {})),
            spread=MappingProxyType(dict(spread or {})),
            bounded=bounded,
            assumes=MappingProxyType(dict(assumes or {})),
            one_of=one_of,
            found_in=found_in or tuple(p.name for p in fields[:1]),
            per_belt=per_belt,
            information=information,
        )

    return declare


def at_least(found: Any, required: Any, *, grey: Any = np.nan, **more: Any) -> Criterion:
    """More is better: `found` at least `required`; `grey` is the far edge of a grey range."""
    return Criterion(np.asarray(found), np.asarray(required), 1, np.asarray(grey), **more)


def at_most(found: Any, required: Any, *, grey: Any = np.nan, **more: Any) -> Criterion:
    """Less is better: `found` at most `required`; `grey` is the far edge of a grey range."""
    return Criterion(np.asarray(found), np.asarray(required), -1, np.asarray(grey), **more)


def graded(*rules: Settled) -> Words:
    """Verdict in words: the first (rows, band, reason) whose rows hold decides."""
    return Words(rules)


AT_THE_LIMIT = 1e-9
"""A number within this share of a limit is at the limit: rounding never decides a verdict."""


def exceeds(value: Any, limit: Any) -> Array:
    """Whether `value` is above `limit` by more than rounding; NaN never is."""
    return np.asarray(np.greater(value, limit + AT_THE_LIMIT * np.abs(limit)))
