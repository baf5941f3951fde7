"""Cautions that go with every result, and the rows whose findings call for each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..tables import REGULATIONS
from .columns import Array
from .judge import MARGINAL, SHORT
from .results import Findings

__all__ = ["GOVERNING", "NOT_EXAMINED", "SCREENING", "Caution", "cautions"]

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
        Citations that stand in ``regulations.csv``.
    rows
        Register rows whose findings or data call for it; empty for a general one.
    """

    title: str
    text: str
    rules: tuple[str, ...]
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
_DECLARED: tuple[tuple[str, str, tuple[str, ...], _Called | None], ...] = (
    (
        "Stored energy",
        "Belt tension, counterweights, springs, compressed air and hung-up material stay loaded "
        "after the power is off. Release or block them before work.",
        ("30 CFR 56.14105", "29 CFR 1910.147"),
        lambda f: _worse(f, "transition-", "cleaning-", "access-isolation"),
    ),
    (
        "Start-up warning",
        "A conveyor may start without notice. Whether a warning sounds or shows along its whole "
        "length is not examined here.",
        ("30 CFR 56.14201", "30 CFR 57.14201", "29 CFR 1926.555"),
        None,
    ),
    (
        "Isolate, lock and try",
        "Isolate, lock and try to start before any opening, guard or belt line is crossed.",
        ("29 CFR 1910.147", "30 CFR 56.14105"),
        lambda f: _worse(f, "access-", "load-", "seal-", "cleaning-"),
    ),
    (
        "Nip points",
        "Belt and pulley, belt and roll, and cleaner and belt draw in hands and clothing. No hand "
        "cleaning or guiding of moving parts.",
        ("30 CFR 56.14107", "30 CFR 77.407", "EN 620:2021"),
        lambda f: _worse(f, "access-guard", "access-barrier", "tracking-"),
    ),
    (
        "No clean-up beside a running belt",
        "Clean up only with the conveyor isolated, or from behind guards that keep out of reach.",
        ("30 CFR 56.20003", "29 CFR 1910.22"),
        lambda f: _worse(f, "housekeeping-spillage", "cleaning-plough"),
    ),
    (
        "Confined space",
        "Chutes and hoppers may be confined spaces: enter under a permit, with hung-up material "
        "and feeders secured.",
        ("29 CFR 1910.146",),
        lambda f: _worse(f, "load-", "seal-", "access-opening"),
    ),
    (
        "Silica in dust",
        "Stone, sand and many ores hold crystalline silica. No dry sweeping or compressed air; "
        "measure exposure.",
        ("29 CFR 1910.1053",),
        lambda f: _is(f, "dust_kind", "dry dusty"),
    ),
    (
        "Combustible dust",
        "Settled combustible dust can feed a flash fire or explosion. A dust hazard analysis by a "
        "competent person comes before changes to seals, doors or air flow.",
        (
            "NFPA 660 (2025)",
            "OSHA memorandum of 21 April 2015",
            "Directive 2014/34/EU and 1999/92/EC",
        ),
        lambda f: _is(f, "dust_kind", "combustible"),
    ),
    (
        "Hot work",
        "Cutting, welding and vulcanising near belts, linings and dust need a permit, and a watch "
        "afterwards.",
        ("29 CFR 1910.252",),
        lambda f: _worse(f, "transition-", "load-", "seal-", "access-opening", "access-closure"),
    ),
    (
        "Working at height",
        "Head ends, walkways and chutes stand high: safe access and fall protection before work.",
        ("30 CFR 56.11001", "ISO 14122-2"),
        lambda f: _worse(f, "access-service", "cleaning-", "tracking-places"),
    ),
    (
        "Manual handling",
        "Rolls, blades, doors and skirt plates are heavy and awkward: plan lifting before they "
        "are made reachable.",
        ("Directive 90/269/EEC",),
        lambda f: _worse(f, "cleaning-blade", "access-service", "transition-idlers"),
    ),
    (
        "Splices and metal blades",
        "Metal blades can catch a mechanical splice and a raised splice can break a blade: only "
        "with the belt and cleaner makers' agreement.",
        ("EN 620:2021",),
        lambda f: _worse(f, "cleaning-blade") | _is(f, "splice_kind", "mechanical"),
    ),
    (
        "Run-back on inclines",
        "An inclined belt can run back or run away when its drive, brake or splice is released: "
        "hold it before work.",
        ("30 CFR 56.14105",),
        _inclined,
    ),
)


def cautions(findings: Findings) -> list[Caution]:
    """All cautions of the catalogue, each with the rows that call for it."""
    found = []
    for title, text, rules, called in _DECLARED:
        rows = () if called is None else tuple(np.flatnonzero(called(findings)).tolist())
        for rule in rules:
            REGULATIONS[rule]
        found.append(Caution(title, text, rules, rows))
    return found
