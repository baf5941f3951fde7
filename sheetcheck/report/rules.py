"""Every page about the checks, made from their declarations: table, Markdown, CSV, JSON, full."""

from __future__ import annotations

import csv
import difflib
import inspect
import io
import json
import textwrap
from collections.abc import Callable, Iterator, Mapping
from typing import Any, NamedTuple

from ..checks import CHECKS
from ..checks.declare import BASES, Check, Limit
from ..errors import UnusableCall
from ..findings.plant import Plant, PlantLimit, PlantRange, laxer_than_published
from ..findings.ranges import narrower, ranges_of
from ..findings.words import named_holes
from ..register.fields import FIELDS
from ..register.ranges import RANGES, Range
from ..tables import source_line
from .json_parts import decided, picked

__all__ = ["explain", "listing", "records"]

GRADES: Mapping[str, str] = {
    "S": "read in the source's text",
    "Q": "read in somebody's quotation of it",
    "D": "derived here from mechanics or geometry",
    "C": "common practice, no published source",
    "M": "from memory, not confirmed",
}


class _Figure(NamedTuple):
    """A limit, or a range of what is not recorded: as declared, and as the plant has it.

    ``numbers`` is a limit's value or a range's ends; ``own`` the same of the plant's, and whether
    it is laxer or narrower, which ``remark`` says.
    """

    name: str
    numbers: dict[str, float]
    declared: Limit | Range
    source: str
    grade: str
    by: PlantLimit | PlantRange | None
    own: dict[str, float | bool]
    remark: str

    def words(self, numbers: Mapping[str, float] | None = None) -> str:
        """Its numbers with their unit."""
        unit = "" if self.declared.unit == "1" else f" {self.declared.unit}"
        return " to ".join(f"{x:.6g}" for x in (numbers or self.numbers).values()) + unit

    @property
    def beside(self) -> str:
        """The plant's own, to stand beside the default; empty where it has none."""
        own = {key: self.own[key] for key in self.numbers if key in self.own}
        return f"plant: {self.words(own)}{self.remark}" if own else ""

    def record(self, plant: Plant | None) -> dict[str, Any]:
        """As plain data; the plant's own stands in it where there is a plant."""
        declared = {"name": self.name, **self.numbers, **picked(self.declared, "unit meaning")}
        found = {**declared, "source": self.source, "grade": self.grade}
        if plant is not None:
            found["plant"] = self.by and {**self.own, **decided(self.by)}
        return found


def _limits(check: Check, plant: Plant | None) -> list[_Figure]:
    found = []
    for name, limit in check.limits.items():
        own = plant.limit(check.key, name) if plant else None
        laxer = own is not None and laxer_than_published(limit, own.value)
        figures = {"value": own.value, "laxer_than_published": laxer} if own else {}
        remark = ", LAXER than published" if laxer else ""
        source = source_line(limit.cite.key, limit.cite.locator)
        numbers = {"value": limit.value}
        found.append(_Figure(name, numbers, limit, source, limit.cite.grade, own, figures, remark))
    return found


def _ranges(check: Check, plant: Plant | None) -> list[_Figure]:
    found = []
    for name in ranges_of(check):
        usual, own = RANGES[name], plant.range(name) if plant else None
        less = own is not None and narrower(name, own.ends)
        figures = {"low": own.ends[0], "high": own.ends[1], "narrower": less} if own else {}
        remark = ", NARROWER" if less else ""
        numbers = {"low": usual.low, "high": usual.high}
        found.append(
            _Figure(name, numbers, usual, usual.authority, usual.grade, own, figures, remark)
        )
    return found


def _in_words(figures: list[_Figure]) -> str:
    return "; ".join(
        f"{figure.name} {figure.words()}" + (f" ({figure.beside})" if figure.by else "")
        for figure in figures
    )


def records(plant: Plant | None = None) -> list[dict[str, Any]]:
    """Every check as plain data, in report order; a plant's limits stand beside the defaults."""
    return [
        {
            **picked(check, "key subject question"),
            "inputs": list(check.inputs),
            "optional": list(check.optional),
            "limits": [figure.record(plant) for figure in _limits(check, plant)],
            "source": source_line(check.cite.key, check.cite.locator),
            "grade": check.cite.grade,
            "basis": check.basis,
            "guarded": check.guarded,
            "ranges": [figure.record(plant) for figure in _ranges(check, plant)],
        }
        for check in CHECKS.values()
    ]


def _as_json(plant: Plant | None) -> str:
    return json.dumps(records(plant), ensure_ascii=False, indent=1)


def _as_csv(plant: Plant | None) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    plain = records()
    writer.writerow(plain[0])
    for record, check in zip(plain, CHECKS.values(), strict=True):
        words = {
            "inputs": " ".join(check.inputs),
            "optional": " ".join(check.optional),
            "limits": _in_words(_limits(check, plant)),
            "ranges": _in_words(_ranges(check, plant)),
            "guarded": "yes" if check.guarded else "no",
        }
        writer.writerow((record | words).values())
    return out.getvalue().rstrip("\n")


def _as_markdown(plant: Plant | None) -> str:
    lines = ["| check | question | source | grade | basis |", "| --- | --- | --- | --- | --- |"]
    if plant is not None:
        lines = [lines[0] + " limits | ranges |", lines[1] + " --- | --- |"]
    for check in CHECKS.values():
        guarded = " ◆" if check.guarded else ""
        source = source_line(check.cite.key, check.cite.locator)
        line = f"| `{check.key}`{guarded} | {check.question} | {source} | {check.cite.grade} |"
        line += f" {check.basis} |"
        if plant is not None:
            line += f" {_in_words(_limits(check, plant))} | {_in_words(_ranges(check, plant))} |"
        lines.append(line)
    return "\n".join(lines)


def _as_table(plant: Plant | None) -> str:
    width = max(map(len, CHECKS))
    lines = []
    subject = ""
    for check in CHECKS.values():
        if check.subject != subject:
            subject = check.subject
            lines += ["", subject.capitalize()]
        source = source_line(check.cite.key, check.cite.locator)
        lines.append(f"  {check.key:<{width}}  {check.question}")
        limits, ranges = _in_words(_limits(check, plant)), _in_words(_ranges(check, plant))
        for words in filter(None, (limits, ranges and f"not recorded: {ranges}")):
            lines += textwrap.wrap(
                words, 100, initial_indent=" " * (width + 4), subsequent_indent=" " * (width + 4)
            )
        lines.append(f"{'':<{width + 4}}[{check.cite.grade}, {check.basis}] {source}")
    lines += ["", *(f"[{name}] {meaning}" for name, meaning in (*GRADES.items(), *BASES.items()))]
    return "\n".join(lines).lstrip("\n")


_FORMS: Mapping[str, Callable[[Plant | None], str]] = {
    "table": _as_table,
    "md": _as_markdown,
    "csv": _as_csv,
    "json": _as_json,
}


def listing(form: str, plant: Plant | None = None) -> str:
    """Every check, as ``table``, ``md``, ``csv`` or ``json``; a plant's limits stand beside."""
    return _FORMS[form](plant)


def _input_lines(check: Check) -> list[str]:
    lines = []
    for name in check.fields:
        field = FIELDS[name]
        unit = f" [{field.unit}]" if field.unit else ""
        words = f" ({', '.join(field.choices)})" if field.choices else ""
        use = "optional: " if name in check.optional else ""
        lines.append(f"  {name}{unit}: {use}{field.meaning}{words}")
    return lines


def _figure_lines(title: str, figures: list[_Figure]) -> Iterator[str]:
    if figures:
        yield from ("", f"{title} (plant-changeable):")
    for figure in figures:
        yield f"  {figure.name} = {figure.words()}: {figure.declared.meaning}"
        yield f"      [{figure.grade}] {figure.source}"
        if (own := figure.by) is not None:
            yield f"      {figure.beside}"
            yield f"      set by {own.set_by} on {own.date.isoformat()}: {own.why}"


def explain(key: str, plant: Plant | None = None) -> str:
    """One check in full: question, method, inputs, limits, check values, remedies, authority.

    Raises
    ------
    UnusableCall
        Where there is no such check.
    """
    if key not in CHECKS:
        near = difflib.get_close_matches(key, CHECKS, 3)
        hint = f"Did you mean {', '.join(near)}?" if near else "See sheetcheck rules."
        raise UnusableCall(key, "is not a check", hint)
    check = CHECKS[key]
    lines = [check.key, "=" * len(check.key), check.question, ""]
    lines += [inspect.getdoc(check.judge) or "", "", "Inputs:", *_input_lines(check)]
    lines += _figure_lines("Limits", _limits(check, plant))
    lines += _figure_lines("Ranges of what is not recorded", _ranges(check, plant))
    if check.worked:
        lines += ["", "Check values:"]
        lines += [
            f"  {item.name} [{item.cite.grade}] {source_line(item.cite.key, item.cite.locator)}"
            for item in check.worked
        ]
    if check.remedies:
        lines += ["", "Remedies:"]
        lines += [f"  {named_holes(remedy.text)}" for remedy in check.remedies]
    notes = []
    if check.guarded:
        notes.append("A margin inside the measuring uncertainty is marginal (guarded, ◆).")
    if check.per_belt:
        notes.append("Judged once per conveyor, on its first row.")
    if check.information:
        notes.append("Information only: never counted as a verdict.")
    if plant is not None and key in plant.weights:
        notes.append(f"Falling short of it counts {plant.weights[key]:g} times in the ranking.")
    grade = f"{GRADES[check.cite.grade]}; {check.basis}: {BASES[check.basis]}"
    lines += ["", *notes, f"Source: {source_line(check.cite.key, check.cite.locator)} ({grade})"]
    return "\n".join(lines)
