"""Every page about the checks, made from their declarations: table, Markdown, CSV, JSON, full."""

from __future__ import annotations

import csv
import difflib
import inspect
import io
import json
import textwrap
from collections.abc import Callable, Mapping
from typing import Any

from ..checks import CHECKS
from ..checks.declare import BASES, Check
from ..errors import UnusableCall
from ..findings.plant import Plant, PlantLimit, PlantRange, laxer_than_published
from ..findings.ranges import narrower, ranges_of
from ..findings.words import named_holes
from ..register.fields import FIELDS
from ..register.ranges import RANGES, Ends
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


def _limit(check: Check, name: str, plant: Plant | None) -> dict[str, Any]:
    limit = check.limits[name]
    found = {
        "name": name,
        **picked(limit, "value unit meaning"),
        "source": source_line(limit.cite.key, limit.cite.locator),
        "grade": limit.cite.grade,
    }
    if plant is not None:
        own = plant.limit(check.key, name)
        laxer = own and laxer_than_published(limit, own.value)
        found["plant"] = own and {
            "value": own.value,
            "laxer_than_published": laxer,
            **decided(own),
        }
    return found


def _range(name: str, plant: Plant | None) -> dict[str, Any]:
    usual = RANGES[name]
    found = {
        "name": name,
        **picked(usual, "low high unit meaning"),
        "source": usual.authority,
        "grade": usual.grade,
    }
    if plant is not None:
        own = plant.range(name)
        found["plant"] = own and {
            **dict(zip(("low", "high"), own.ends, strict=True)),
            "narrower": narrower(name, own.ends),
            **decided(own),
        }
    return found


def _beside(check: Check, name: str, plant: Plant | None) -> str:
    """The plant's own value of a limit, to stand beside the default; empty where it has none."""
    own = plant.limit(check.key, name) if plant else None
    if own is None:
        return ""
    limit = check.limits[name]
    laxer = ", LAXER than published" if laxer_than_published(limit, own.value) else ""
    return f"plant: {_number(own.value, limit.unit)}{laxer}"


def _beside_range(name: str, plant: Plant | None) -> str:
    """The plant's own range, to stand beside the default; empty where it has none."""
    own = plant.range(name) if plant else None
    if own is None:
        return ""
    text = f"plant: {_span(own.ends, RANGES[name].unit)}"
    return f"{text}, NARROWER" if narrower(name, own.ends) else text


def _span(ends: Ends, unit: str) -> str:
    return f"{ends[0]:.6g} to {_number(ends[1], unit)}"


def _number(value: float, unit: str) -> str:
    return f"{value:.6g}" if unit == "1" else f"{value:.6g} {unit}"


def _with(text: str, beside: str) -> str:
    return f"{text} ({beside})" if beside else text


def _limit_words(check: Check, plant: Plant | None) -> str:
    return "; ".join(
        _with(f"{name} {_number(limit.value, limit.unit)}", _beside(check, name, plant))
        for name, limit in check.limits.items()
    )


def _range_words(check: Check, plant: Plant | None) -> str:
    return "; ".join(
        _with(f"{name} {_span(RANGES[name].ends, RANGES[name].unit)}", _beside_range(name, plant))
        for name in ranges_of(check)
    )


def records(plant: Plant | None = None) -> list[dict[str, Any]]:
    """Every check as plain data, in report order; a plant's limits stand beside the defaults."""
    return [
        {
            **picked(check, "key subject question"),
            "inputs": list(check.inputs),
            "optional": list(check.optional),
            "limits": [_limit(check, name, plant) for name in check.limits],
            "source": source_line(check.cite.key, check.cite.locator),
            "grade": check.cite.grade,
            "basis": check.basis,
            "guarded": check.guarded,
            "ranges": [_range(name, plant) for name in ranges_of(check)],
        }
        for check in CHECKS.values()
    ]


def _as_json(plant: Plant | None) -> str:
    return json.dumps(records(plant), ensure_ascii=False, indent=1)


def _as_csv(plant: Plant | None) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    heads = (
        "key", "subject", "question", "inputs", "optional", "limits", "source", "grade", "basis",
        "guarded", "ranges",
    )  # fmt: skip
    writer.writerow(heads)
    for record, check in zip(records(), CHECKS.values(), strict=True):
        words = {
            "inputs": " ".join(check.inputs),
            "optional": " ".join(check.optional),
            "limits": _limit_words(check, plant),
            "ranges": _range_words(check, plant),
            "guarded": "yes" if check.guarded else "no",
        }
        writer.writerow([(record | words)[head] for head in heads])
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
            line += f" {_limit_words(check, plant)} | {_range_words(check, plant)} |"
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
        limits, ranges = _limit_words(check, plant), _range_words(check, plant)
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


def _set_by(own: PlantLimit | PlantRange) -> str:
    return f"      set by {own.set_by} on {own.date.isoformat()}: {own.why}"


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
    if check.limits:
        lines += ["", "Limits (plant-changeable):"]
        for name, limit in check.limits.items():
            source = source_line(limit.cite.key, limit.cite.locator)
            lines.append(f"  {name} = {_number(limit.value, limit.unit)}: {limit.meaning}")
            lines.append(f"      [{limit.cite.grade}] {source}")
            own = plant.limit(key, name) if plant else None
            if own is not None:
                lines += [f"      {_beside(check, name, plant)}", _set_by(own)]
    if ranges_of(check):
        lines += ["", "Ranges of what is not recorded (plant-changeable):"]
        for name in ranges_of(check):
            usual = RANGES[name]
            lines.append(f"  {name} = {_span(usual.ends, usual.unit)}: {usual.meaning}")
            lines.append(f"      [{usual.grade}] {usual.authority}")
            set_range = plant.range(name) if plant else None
            if set_range is not None:
                lines += [f"      {_beside_range(name, plant)}", _set_by(set_range)]
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
