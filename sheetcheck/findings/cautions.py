"""Cautions that go with every result, and the rows whose findings call for each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..tables import CAUTIONS, REGULATIONS
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


def _called_for(findings: Findings, line: dict[str, str]) -> tuple[int, ...]:
    """Rows of which a check that calls for a caution is not met, or whose record does."""
    checks = tuple(filter(None, line["checks_that_call_for_it"].split("; ")))
    called = _worse(findings, *checks) if checks else np.zeros(len(findings), bool)
    for asked in filter(None, line["fields_that_call_for_it"].split("; ")):
        name, _, word = asked.partition(" = ")
        column = findings.columns.get(name)
        called = called | (column == word if word else np.abs(np.nan_to_num(column)) > 0)
    return tuple(np.flatnonzero(called).tolist())


# Rules by the caution under which they stand in the table.
_RULES: dict[str, list[str]] = {
    title: [cite for cite, line in REGULATIONS.items() if title in line["cautions"].split("; ")]
    for title in CAUTIONS
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
    for title, line in CAUTIONS.items():
        rules = _RULES[title]
        own = [rule for rule in rules if holds_in(rule, places)]
        anywhere = [rule for rule in rules if holds_in(rule, (INTERNATIONAL,))]
        elsewhere = [] if own else [rule for rule in rules if rule not in anywhere]
        rows = _called_for(findings, line)
        found.append(Caution(title, line["text"], (*own, *anywhere), tuple(elsewhere), rows))
    return found
