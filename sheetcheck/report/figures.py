"""What a verdict found, required and lacks, as cells: numbers, or the words that decided it."""

from __future__ import annotations

from functools import cache, lru_cache

from ..findings.deciding import Deciders
from ..findings.results import Findings, Verdict
from ..findings.words import say
from ..register.fields import FIELDS
from .display import Display, capital, listed
from .model import Cell, Value

__all__ = ["Figures"]

_MOST_RECORDED = 4


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

    def in_words(self, verdict: Verdict) -> bool:
        """Whether words decide a verdict, so that its numbers, if any, say nothing of it."""
        if not verdict.unit:
            return True
        margin = verdict.margin
        best = max(margin) if isinstance(margin, tuple) else margin
        return (best is None or best >= 0) and bool(self._deciders.of(verdict))

    def unit(self, verdict: Verdict) -> str:
        """Unit of its numbers; empty where it has none."""
        unit = "" if self.in_words(verdict) else self._units[verdict.key]
        return "" if unit == "1" else unit

    def found(self, verdict: Verdict) -> Cell:
        """Cell with the number found; where words decide, with what is recorded."""
        if not self.in_words(verdict):
            return self._number(verdict, verdict.found)
        names = self._deciders.of(verdict) or self._recorded_words(verdict)
        value = self._findings.register.value
        recorded = tuple(
            [self._display.recorded(name, value(verdict.row, name)).value for name in names]
        )
        check = self._findings.results[verdict.key].check
        if not names or (not check.unit and len(_words(check.found_in, check.fields)) < 2):
            return Cell(recorded[0] if recorded else None, "text")
        return Cell(_in_words(names, recorded), "text")

    def required(self, verdict: Verdict) -> Cell | None:
        """Cell with the number required; None where words decide."""
        return None if self.in_words(verdict) else self._number(verdict, verdict.required)

    def margin(self, verdict: Verdict) -> Cell | None:
        """Cell with the margin, positive on the good side; None where words decide."""
        return None if self.in_words(verdict) else self._number(verdict, verdict.margin)

    def short(self, verdict: Verdict) -> Cell | None:
        """Cell with what it falls short by; empty where it does not, None where words decide."""
        if self.in_words(verdict) or verdict.band == "not judged":
            return None
        short = verdict.margin
        if isinstance(short, tuple):
            short = (-short[1], -short[0])
        elif short is not None:
            short = -short if short < 0 else None
        return self._number(verdict, short)

    def source_cell(self, verdict: Verdict) -> str:
        """Cell of what decides it, else the likeliest; empty where nothing is recorded."""
        found_in = self._findings.results[verdict.key].check.found_in
        deciding = self._deciders.of(verdict)
        likely = [verdict.cells[n] for n in (*deciding, *found_in) if n in verdict.cells]
        return next(iter([*likely, *verdict.cells.values()]), "")

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
