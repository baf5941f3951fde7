"""Cautions that go with every result, and the rows whose findings call for each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..tables import REGULATIONS
from .columns import Array
from .judge import MARGINAL, SHORT
from .jurisdiction import INTERNATIONAL, holds_in, places_of
from .results import Findings

__all__ = ["GOVERNING", "NOT_EXAMINED", "SCREENING", "Caution", "cautions", "jurisdiction_line"]

GOVERNING = (
    "Local law and codes, the belt and equipment makers' instructions, and licensed engineering "
    "practice govern over anything in this workbook."
)
SCREENING = (
    "These results are a desk screening of the data given. They are not a survey, an inspection "
    "or a design, and they say nothing of what the register does not record."
)
NOT_EXAMINED = (
    "start-up warning",
    "fire and gas detection",
    "belt and drive strength",
    "structure",
    "electrical safety",
    "whatever the register does not record",
)


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution.

    Attributes
    ----------
    title, text
        What it is about, and what to heed.
    rules
        Citations that stand in ``regulations.csv``: of the plant's jurisdiction, and of
        international use.
    elsewhere
        Citations of other places, as examples; none where the plant's jurisdiction has its own.
    rows
        Register rows whose findings or data call for it; empty for a general one.
    """

    title: str
    text: str
    rules: tuple[str, ...]
    elsewhere: tuple[str, ...]
    rows: tuple[int, ...]


def _worse(findings: Findings, *prefixes: str) -> Array:
    rows = np.zeros(len(findings), bool)
    for key, result in findings.results.items():
        if key.startswith(prefixes):
            rows |= np.isin(result.band, (MARGINAL, SHORT))
    return rows


def _is(findings: Findings, name: str, *words: str) -> Array:
    return np.isin(findings.columns.get(name), words)


def _inclined(findings: Findings) -> Array:
    lift, incline = findings.columns.get("lift"), findings.columns.get("incline")
    return np.asarray((np.abs(np.nan_to_num(lift)) > 0) | (np.abs(np.nan_to_num(incline)) > 0))


_Called = Callable[[Findings], Array]
_DECLARED: tuple[tuple[str, str, _Called | None], ...] = (
    (
        "Stored energy",
        "Belt tension, counterweights, springs, compressed air and hung-up material stay loaded "
        "after the power is off. Release or block them before work.",
        lambda f: _worse(f, "transition-", "cleaning-", "access-isolation"),
    ),
    (
        "Start-up warning",
        "A conveyor may start without notice. Whether a warning sounds or shows along its whole "
        "length is not examined here.",
        None,
    ),
    (
        "Isolate, lock and try",
        "Isolate, lock and try to start before any opening, guard or belt line is crossed.",
        lambda f: _worse(f, "access-", "load-", "seal-", "cleaning-"),
    ),
    (
        "Nip points",
        "Belt and pulley, belt and roll, and cleaner and belt draw in hands and clothing. No hand "
        "cleaning or guiding of moving parts.",
        lambda f: _worse(f, "access-guard", "access-barrier", "tracking-"),
    ),
    (
        "No clean-up beside a running belt",
        "Clean up only with the conveyor isolated, or from behind guards that keep out of reach.",
        lambda f: _worse(f, "housekeeping-spillage", "cleaning-plough"),
    ),
    (
        "Confined space",
        "Chutes and hoppers may be confined spaces: enter under a permit, with hung-up material "
        "and feeders secured.",
        lambda f: _worse(f, "load-", "seal-", "access-opening"),
    ),
    (
        "Silica in dust",
        "Stone, sand and many ores hold crystalline silica. No dry sweeping or compressed air; "
        "measure exposure.",
        lambda f: _is(f, "dust_kind", "dry dusty"),
    ),
    (
        "Combustible dust",
        "Settled combustible dust can feed a flash fire or explosion. A dust hazard analysis by a "
        "competent person comes before changes to seals, doors or air flow.",
        lambda f: _is(f, "dust_kind", "combustible"),
    ),
    (
        "Hot work",
        "Cutting, welding and vulcanising near belts, linings and dust need a permit, and a watch "
        "afterwards.",
        lambda f: _worse(f, "transition-", "load-", "seal-", "access-opening", "access-closure"),
    ),
    (
        "Working at height",
        "Head ends, walkways and chutes stand high: safe access and fall protection before work.",
        lambda f: _worse(f, "access-service", "cleaning-", "tracking-places"),
    ),
    (
        "Manual handling",
        "Rolls, blades, doors and skirt plates are heavy and awkward: plan lifting before they "
        "are made reachable.",
        lambda f: _worse(f, "cleaning-blade", "access-service", "transition-idlers"),
    ),
    (
        "Splices and metal blades",
        "Metal blades can catch a mechanical splice and a raised splice can break a blade: only "
        "with the belt and cleaner makers' agreement.",
        lambda f: _worse(f, "cleaning-blade") | _is(f, "splice_kind", "mechanical"),
    ),
    (
        "Run-back on inclines",
        "An inclined belt can run back or run away when its drive, brake or splice is released: "
        "hold it before work.",
        _inclined,
    ),
)


# Rules by the caution under which they stand in the table.
_RULES: dict[str, list[str]] = {
    title: [cite for cite, line in REGULATIONS.items() if title in line["cautions"].split("; ")]
    for title, _, _ in _DECLARED
}


def jurisdiction_line(findings: Findings) -> str:
    """Say whose rules are given, and how far that goes."""
    plant = findings.ruling.plant
    named = plant.jurisdiction if plant else ""
    if not named:
        return (
            "No jurisdiction is stated (jurisdiction, under [plant] in a limits file). Rules of "
            "international use come first; those of other places are examples of what some ask."
        )
    said = f"Jurisdiction named in the limits file: {named}."
    if not places_of(named):
        return (
            f"{said} No rule of it stands in this program's table: find out what holds there. "
            "Rules of international use come first; those of other places are examples."
        )
    return (
        f"{said} Its rules come first, then those of international use; where it has none in this "
        "program's table, those of other places are examples. The table is not complete."
    )


def cautions(findings: Findings) -> list[Caution]:
    """All cautions of the catalogue, each with its rules and the rows that call for it.

    Rules of the jurisdiction named in the limits file come first, then those of international
    use. Where the jurisdiction has none, or none is named that the table knows, those of other
    places are given as examples.
    """
    plant = findings.ruling.plant
    places = places_of(plant.jurisdiction) if plant else ()
    found = []
    for title, text, called in _DECLARED:
        rules = _RULES[title]
        own = [rule for rule in rules if holds_in(rule, places)]
        anywhere = [rule for rule in rules if holds_in(rule, (INTERNATIONAL,))]
        elsewhere = [] if own else [rule for rule in rules if rule not in anywhere]
        rows = () if called is None else tuple(np.flatnonzero(called(findings)).tolist())
        found.append(Caution(title, text, (*own, *anywhere), tuple(elsewhere), rows))
    return found
