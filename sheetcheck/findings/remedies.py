"""What to do about each verdict: in words with numbers, each proved by judging again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from ..checks.declare import Remedy
from ..register.fields import FIELDS, POSITIONS, tolerance_of
from .columns import ABSENT, Array
from .judge import MARGINAL, MEETS, NOT_JUDGED, SHORT
from .whatif import Change, Worse, judge_again, worsened
from .words import Filling, holes, say

if TYPE_CHECKING:
    from .results import CheckResult, Findings, Number

__all__ = ["MOST_CHARACTERS", "Offer", "Offers", "remedies"]

MOST_CHARACTERS = 160
"""Length that no remedy exceeds."""
_FURTHER = (1, 3, 9, 27, 81)
"""Steps that are tried outward of where the margin should do, one after the other."""
_MOST_STEPS = 1000
_NEAR_ENOUGH = 3.5
"""Steps within which no smaller change is sought."""
_HALVINGS = 6


class Offer(NamedTuple):
    """A remedy that sets inputs, tried on one row: its numbers as printed, and what it worsens."""

    said: Mapping[str, str]
    worse: Sequence[Worse] = ()
    caution: str = ""


class Offers(dict[tuple[str, int], Mapping[int, Offer]]):
    """Remedies that set inputs, each tried when first asked for.

    (Check key, place of the remedy) to the register rows where its check then meets.
    """

    def __init__(self, findings: Findings) -> None:
        super().__init__()
        self._findings = findings

    def __missing__(self, which: tuple[str, int]) -> Mapping[int, Offer]:
        result = self._findings.results[which[0]]
        self[which] = _Trial(self._findings, result, result.check.remedies[which[1]]).offers()
        return self[which]


class _Trial:
    """One remedy, tried on the rows that may want it."""

    def __init__(self, findings: Findings, result: CheckResult, remedy: Remedy) -> None:
        self.findings, self.result, self.remedy = findings, result, remedy
        self.toward = {name: toward for _, name, _, toward in holes(remedy.text)}
        self.usual = next(filter(None, self.toward.values()), 0)
        self.fixed: dict[str, Change] = {}
        self.numbers: dict[str, str] = {}
        ranges = findings.columns.ranges
        for field, value in remedy.sets.items():
            if isinstance(value, str) and value in ranges:
                self.fixed[field] = findings.steps.usual(ranges[value])
            elif isinstance(value, str) and value not in (*POSITIONS, *FIELDS[field].choices):
                self.numbers[field] = value
            else:
                self.fixed[field] = value
        rows = np.isin(result.band, (MARGINAL, SHORT))
        if remedy.when:
            rows &= np.nan_to_num(result.number(remedy.when)[0].astype(float)) != 0
        for name in self.toward.keys() - {*self.numbers.values(), *ranges, "new", "change"}:
            column = result.number(name)[0]
            rows &= ~np.isnan(column) if column.dtype.kind == "f" else np.not_equal(column, "")
        self.rows = np.flatnonzero(rows)

    def offers(self) -> Mapping[int, Offer]:
        """Try it, step by step outward, and ask the other checks."""
        values = self._starts() if self.numbers else {}
        if len(self.rows):
            values = self._met(values)
        if not len(self.rows):
            return {}
        worse = worsened(self.findings, self.rows, {**self.fixed, **values}, self.result.check.key)
        cautions = np.full(len(self.rows), "", object)
        if self.remedy.caution:
            above, text = self.remedy.caution
            higher = next(iter(values.values())) > self.result.number(above)[0][self.rows]
            cautions[higher] = text
        said: list[dict[str, str]] = [{} for _ in self.rows]
        words = self.findings.words
        for field, column in values.items():
            unit, present = FIELDS[field].unit, self._present(field)
            for at in np.flatnonzero(~np.isnan(column)).tolist():
                text = words.quantity(column[at], unit, exact=True)
                said[at].setdefault(self.numbers[field], text)
                if said[at].setdefault("new", text) is text and "{change:" in self.remedy.text:
                    said[at]["change"] = words.quantity(abs(column[at] - present[at]), unit, 1)
        every = map(Offer, said, worse, cautions.tolist())
        return dict(zip(self.rows.tolist(), every, strict=True))

    def _keep(self, some: Array, values: Mapping[str, Array]) -> dict[str, Array]:
        self.rows = self.rows[some]
        return {field: column[some] for field, column in values.items()}

    def _sign(self, field: str) -> int:
        return self.toward.get(self.numbers[field], self.usual)

    def _present(self, field: str) -> Array:
        return self.findings.columns.get(field)[self.rows]

    def _outward(self, values: Mapping[str, Array], more: Any = 0) -> dict[str, Array]:
        steps = self.findings.steps
        return {
            field: steps.outward(field, column, sign, more)
            if (sign := self._sign(field))
            else column
            for field, column in values.items()
        }

    def _again(self, at: Array, values: Mapping[str, Array]) -> CheckResult:
        key = self.result.check.key
        return judge_again(self.findings, key, self.rows[at], {**self.fixed, **values})

    def _starts(self) -> dict[str, Array]:
        """Where each number starts from: what the check says would do, outward of what is there.

        A number that is not known where another is leaves its field alone.
        """
        values: dict[str, Array] = {}
        uncertain = _uncertain(self.result, self.rows) & (len(self.numbers) == 1)
        for field, name in self.numbers.items():
            low, high = (end[self.rows] for end in self.result.number(name))
            sign, present = self._sign(field), self._present(field)
            start = np.where(sign < 0, low, high)
            if sign:
                further = np.fmax if sign > 0 else np.fmin
                start = np.where(np.isnan(start) & uncertain, present, start)
                start = np.where(np.isnan(start), start, further(start, present))
            values[field] = start
        known = np.any([~np.isnan(column) for column in values.values()], axis=0)
        return self._outward(self._keep(known, values))

    def _met(self, values: dict[str, Array]) -> dict[str, Array]:
        """Values at which the check meets; rows where none is found are let go."""
        steps, columns = self.findings.steps, self.findings.columns
        met, left = np.zeros(len(self.rows), bool), np.arange(len(self.rows))
        inner = {field: column.copy() for field, column in values.items()}
        for trial in range(len(_FURTHER) + 2):
            for field, column in values.items():
                can = steps.possible(field, columns, self.rows[left], column[left])
                left = left[can | np.isnan(column[left])]
            if not len(left):
                break
            tried = {field: column[left] for field, column in values.items()}
            again = self._again(left, tried)
            bad = again.band != MEETS
            met[left[~bad]] = True
            if not any(map(self._sign, values)) or trial > len(_FURTHER):
                break
            more = _FURTHER[trial - 1] if trial else self._estimate(again, tried, left)[bad]
            left = left[bad]
            further = self._outward({field: column[bad] for field, column in tried.items()}, more)
            for field, column in values.items():
                inner[field][left], column[left] = column[left], further[field]
        self._draw_in(values, inner, met)
        return self._keep(met, values)

    def _draw_in(self, values: dict[str, Array], inner: dict[str, Array], met: Array) -> None:
        """Halve what a long last move went too far; at `inner` the check does not meet."""
        for _ in range(_HALVINGS):
            wide = np.zeros(len(met), bool)
            for field, column in values.items():
                step = self.findings.steps.of(field, column)
                with np.errstate(invalid="ignore"):  # no belt is wide enough
                    wide |= np.abs(column - inner[field]) > _NEAR_ENOUGH * step
            at = np.flatnonzero(met & wide)
            if not len(at):
                return
            middle = self._outward({f: (values[f][at] + inner[f][at]) / 2.0 for f in values})
            good = self._again(at, middle).band == MEETS
            for field, column in middle.items():
                values[field][at[good]] = column[good]
                inner[field][at[~good]] = column[~good]

    def _estimate(self, again: CheckResult, tried: Mapping[str, Array], left: Array) -> Array:
        """Steps after which the margin should exceed the measuring uncertainty."""
        most = np.ones(len(left))
        margin, before = again.ends["margin"][0], self.result.ends["margin"][0][self.rows[left]]
        for field, value in tried.items() if self.result.check.guarded else ():
            usual = tolerance_of(field, self.findings.measuring)
            reach = 1.5 * np.maximum(usual.absolute, usual.relative * np.abs(value))
            with np.errstate(divide="ignore", invalid="ignore"):
                slope = np.abs((margin - before) / (value - self._present(field)[left]))
                away = (again.uncertainty - margin) / slope
                away = np.where(np.isfinite(away), away, reach)
                most = np.fmax(most, np.ceil(away / self.findings.steps.of(field, value)))
        return np.minimum(most, _MOST_STEPS).astype(int)


def _uncertain(result: CheckResult, rows: Array) -> Array:
    """Rows met, or missed, by less than the measuring uncertainty."""
    within = np.abs(result.ends["margin"][0][rows]) < result.uncertainty[rows]
    said = ["measuring uncertainty" in text for text in result.why[rows].tolist()]
    return np.asarray(within | np.array(said, bool))


Said = tuple[str, tuple[str, ...], tuple[str, ...]]
"""First remedy, the others, and what each of them makes worse."""


def remedies(
    findings: Findings, result: CheckResult, rows: Array, numbers: Mapping[str, Sequence[Any]]
) -> list[Said]:
    """What to do on each of some rows; empty where nothing is called for.

    Parameters
    ----------
    findings, result
        The run, and the check in it.
    rows
        Register rows, shape (n,).
    numbers
        What may fill the holes of a remedy, each over the n rows: found, required and margin, and
        the named extra results.
    """
    said: list[Said] = [("", (), ())] * len(rows)
    band = result.band[rows]
    wanting = np.flatnonzero((band == MARGINAL) | (band == SHORT))
    uncertain = _uncertain(result, rows[wanting]).tolist()
    for position, closer in zip(wanting.tolist(), uncertain, strict=True):
        row = int(rows[position])
        given = {name: column[position] for name, column in numbers.items()}
        said[position] = _Saying(findings, result, row, given).said(closer)
    unknown = np.flatnonzero((band == NOT_JUDGED) & ~result.outside[rows])
    if len(unknown):
        # Found for the whole register at once: it depends on no other row, and on few things.
        to_record = findings.columns.once(
            f"{result.check.key} to record", lambda: _what_to_record(findings, result)
        )
        for position in unknown.tolist():
            said[position] = (to_record[rows[position]], (), ())
    return said


class _Saying:
    """What is said of one row in want of a remedy."""

    def __init__(
        self, findings: Findings, result: CheckResult, row: int, numbers: Mapping[str, Any]
    ) -> None:
        self.findings, self.result, self.row, self.numbers = findings, result, row, numbers

    def said(self, uncertain: bool) -> Said:
        first = [
            self._record_first(self.numbers["required"]),
            self._measure_again() if uncertain else "",
        ]
        first = [text for text in first if text]
        lines: list[tuple[str, Sequence[Worse]]] = []
        for place, remedy in enumerate(self.result.check.remedies):
            if (remedy.otherwise and lines) or not self._called_for(remedy):
                continue
            offer = Offer({})
            if remedy.sets:
                tried = self.findings.offers[self.result.check.key, place].get(self.row)
                if tried is None:
                    continue
                offer = tried
            text = self.findings.words.filled(remedy.text, lambda name: self._filling(name, offer))  # noqa: B023
            if text:
                lines.append((f"{text} {offer.caution}".rstrip(), offer.worse))
        # What fails another check is no remedy while there is one that does not.
        lines = [one for one in lines if not any(w.fails for w in one[1])] or lines
        told = [self._with_worse(*line) for line in lines] or [self._none()]
        if told[0].startswith("Or "):
            told[0] = told[0][3].upper() + told[0][4:]
        worse = [*[""] * len(first), *(_in_full(worse) for _, worse in lines)]
        every = [*first, *told]
        return every[0], tuple(every[1:]), tuple(worse) if any(worse) else ()

    def _called_for(self, remedy: Remedy) -> bool:
        when = self.numbers.get(remedy.when)
        return remedy.otherwise or not remedy.when or (when is not ABSENT and bool(when))

    def _filling(self, name: str, offer: Offer) -> Filling:
        if name in offer.said:
            return offer.said[name]
        if name in self.findings.columns.ranges:
            return self.findings.steps.usual(self.findings.columns.ranges[name])
        if name == "missing":
            columns, optional = self.findings.columns, self.result.check.optional
            return ", ".join(say(n) for n in optional if columns.missing(n)[self.row])
        item = self.numbers.get(name)
        if item is None or item is ABSENT:
            return None
        if isinstance(item, list):
            return (float(item[0]), float(item[1])) if len(item) == 2 else None
        return item if isinstance(item, str | tuple) else float(item)

    def _missing(self, words: str) -> str:
        return words.join(map(say, self.findings.missing_inputs(self.result.check.key, self.row)))

    def _none(self) -> str:
        """What is said where no remedy can be proved."""
        if missing := self._missing(", "):
            return f"Record the {missing}: what would do hangs on it."
        return "No single change that can be built does: have the place designed as a whole."

    def _record_first(self, required: Number) -> str:
        """What to record before anything is built, where what is required hangs on it."""
        if not isinstance(required, tuple) or not (missing := self._missing(" and ")):
            return ""
        low, high = (self.findings.words.quantity(x, self.result.check.unit) for x in required)
        return f"First record the {missing}, by which {low} to {high} is required."

    def _measure_again(self) -> str:
        margin = float(self.result.ends["margin"][0][self.row])
        uncertainty = float(self.result.uncertainty[self.row])
        if not abs(margin) < uncertainty:
            return "Measure again first: it is met by less than the measuring uncertainty."
        words, unit = self.findings.words, self.result.check.unit
        by, of = (words.quantity(size, unit) for size in (abs(margin), uncertainty))
        met = "missed" if margin < 0 else "met"
        return f"Measure again first: {met} by {by}, with a measuring uncertainty of {of}."

    def _with_worse(self, text: str, worse: Sequence[Worse]) -> str:
        """A remedy and what it worsens, as much of that as there is room for."""
        if not worse:
            return text
        titles = [self.findings.results[one.key].check.title.lower() for one in worse]
        each = [f"{title} ({one.then})" for title, one in zip(titles, worse, strict=True)]
        tries = (", ".join(each), ", ".join(titles), f"{len(titles)} checks")
        said = [f"{text} Worsens: {words}." for words in tries]
        return next((one for one in said if len(one) <= MOST_CHARACTERS), said[-1])


def _in_full(worse: Sequence[Worse]) -> str:
    return "; ".join(f"{one.key}: {one.change}" for one in worse)


def _what_to_record(findings: Findings, result: CheckResult) -> Array:
    """Which inputs to record, by register row: it depends on nothing but which are missing."""
    lacking = [findings.columns.missing(name) for name in result.check.inputs]
    lacking += [mask for mask, _ in result.none_of]
    # What is missing as one whole number, which sorts fast.
    table = np.array(lacking, bool).reshape(len(lacking), len(findings))
    code = np.left_shift(1, np.arange(len(lacking))) @ table
    _, first, which = np.unique(code, return_index=True, return_inverse=True)
    texts = np.full(len(first), "", object)
    for place, row in enumerate(first.tolist()):
        names = findings.missing_inputs(result.check.key, row)
        if names:
            texts[place] = f"Record the {', '.join(map(say, names))}."
    return texts[which]
