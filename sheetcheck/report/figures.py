"""What a verdict found, required and lacks, as cells: numbers, or the words that decided it."""

from __future__ import annotations

from functools import cache, lru_cache
from typing import NamedTuple

from ..findings.deciding import Deciders
from ..findings.results import Findings, Verdict
from ..findings.words import say
from ..register.fields import FIELDS
from .display import Display, capital, listed
from .model import Cell, Value

__all__ = ["Figures", "Shown"]

_MOST_RECORDED = 4


class Shown(NamedTuple):
    """Cells of a verdict's figures; margin is positive on the good side, short on the bad."""

    found: Cell
    required: Cell | None
    margin: Cell | None
    short: Cell | None
    unit: str
    source_cell: str


class Figures:
    """Gives the figures of verdicts of one run.

    Parameters
    ----------
    findings, display
        What was judged, and the units it is shown in.
    """

    def __init__(self, findings: Findings, display: Display) -> None:
        self._findings, self._display = findings, display
        self._deciders = Deciders(findings)
        self._units = {
            key: display.unit_of(result.check) if result.check.unit else ""
            for key, result in findings.results.items()
        }

    def of(self, verdict: Verdict) -> Shown:
        """Figures of one verdict.

        Where words decide, its numbers, if any, say nothing of it and are left out.
        """
        margin = verdict.margin
        low, high = margin if isinstance(margin, tuple) else (0.0, margin or 0.0)
        fails = high < 0  # a number that fails needs no words beside it
        deciding = () if fails and verdict.unit else self._deciders.of(verdict)
        source = self._source_cell(verdict, deciding)
        if deciding or not verdict.unit:
            return Shown(self._words(verdict, deciding), None, None, None, "", source)
        unit = self._units[verdict.key]
        short = (-high, -low) if isinstance(margin, tuple) else -high if fails else None
        return Shown(
            self._number(verdict, verdict.found),
            self._number(verdict, verdict.required),
            self._number(verdict, margin),
            None if verdict.band == "not judged" else self._number(verdict, short),
            "" if unit == "1" else unit,
            source,
        )

    def _words(self, verdict: Verdict, deciding: tuple[str, ...]) -> Cell:
        """Cell with what is recorded in words: what decides, else all of it."""
        names = deciding or self._recorded_words(verdict)
        value = self._findings.register.value
        recorded = tuple(
            [self._display.recorded(name, value(verdict.row, name)).value for name in names]
        )
        check = self._findings.results[verdict.key].check
        if not names or (not check.unit and len(_words(check.found_in, check.fields)) < 2):
            return Cell(recorded[0] if recorded else None, "text")
        return Cell(_in_words(names, recorded), "text")

    def _source_cell(self, verdict: Verdict, deciding: tuple[str, ...]) -> str:
        """Cell of what decides it, else the likeliest; empty where nothing is recorded."""
        found_in = self._findings.results[verdict.key].check.found_in
        for name in (*deciding, *found_in, *verdict.cells):
            if name in verdict.cells:
                return verdict.cells[name]
        return ""

    def _number(self, verdict: Verdict, number: float | tuple[float, float] | None) -> Cell:
        return self._display.number(number, verdict.unit, self._units[verdict.key])

    def _recorded_words(self, verdict: Verdict) -> tuple[str, ...]:
        """Recorded inputs in words, those first in which what was found mostly stands."""
        check = self._findings.results[verdict.key].check
        names = [name for name in _words(check.found_in, check.fields) if name in verdict.cells]
        return tuple(names or verdict.cells)


@cache
def _words(found_in: tuple[str, ...], fields: tuple[str, ...]) -> tuple[str, ...]:
    words = [name for name in fields if not FIELDS[name].numeric or FIELDS[name].kind == "count"]
    return tuple(dict.fromkeys((*found_in, *words)))


@lru_cache(maxsize=10_000)
def _in_words(names: tuple[str, ...], recorded: tuple[Value, ...]) -> str:
    """Recorded values, each after all the names that have it."""
    alike: dict[str, list[str]] = {}
    for name, item in list(zip(names, recorded, strict=True))[:_MOST_RECORDED]:
        value = f"{item:g}" if isinstance(item, float) else str(item)
        alike.setdefault(value, []).append(say(name))
    more = len(names) - _MOST_RECORDED
    said = [f"{listed(those)}: {value}" for value, those in alike.items()]
    return capital("; ".join(said)) + (f" and {more} more" if more > 0 else "")
