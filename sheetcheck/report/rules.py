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
from ..checks.declare import Check
from ..errors import UnusableCall
from ..findings.plant import Plant, laxer_than_published
from ..findings.words import named_holes
from ..register.fields import FIELDS
from ..tables import source_line

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
        "value": limit.value,
        "unit": limit.unit,
        "meaning": limit.meaning,
        "source": source_line(limit.cite.key, limit.cite.locator),
        "grade": limit.cite.grade,
    }
    if plant is None:
        return found
    own = plant.limit(check.key, name)
    found["plant"] = own and {
        "value": own.value,
        "laxer_than_published": laxer_than_published(limit, own.value),
        "set_by": own.set_by,
        "why": own.why,
        "date": own.date.isoformat(),
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


def _number(value: float, unit: str) -> str:
    return f"{value:.6g}" if unit == "1" else f"{value:.6g} {unit}"


def _limit_words(check: Check, plant: Plant | None) -> str:
    said = []
    for name, limit in check.limits.items():
        beside = _beside(check, name, plant)
        text = f"{name} {_number(limit.value, limit.unit)}"
        said.append(f"{text} ({beside})" if beside else text)
    return "; ".join(said)


def records(plant: Plant | None = None) -> list[dict[str, Any]]:
    """Every check as plain data, in report order; a plant's limits stand beside the defaults."""
    return [
        {
            "key": check.key,
            "subject": check.subject,
            "question": check.question,
            "inputs": list(check.inputs),
            "optional": list(check.optional),
            "limits": [_limit(check, name, plant) for name in check.limits],
            "source": source_line(check.cite.key, check.cite.locator),
            "grade": check.cite.grade,
            "guarded": check.guarded,
        }
        for check in CHECKS.values()
    ]


def _as_json(plant: Plant | None) -> str:
    return json.dumps(records(plant), ensure_ascii=False, indent=1)


def _as_csv(plant: Plant | None) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    heads = (
        "key", "subject", "question", "inputs", "optional", "limits", "source", "grade", "guarded",
    )  # fmt: skip
    writer.writerow(heads)
    for record, check in zip(records(), CHECKS.values(), strict=True):
        words = {
            "inputs": " ".join(check.inputs),
            "optional": " ".join(check.optional),
            "limits": _limit_words(check, plant),
            "guarded": "yes" if check.guarded else "no",
        }
        writer.writerow([(record | words)[head] for head in heads])
    return out.getvalue().rstrip("\n")


def _as_markdown(plant: Plant | None) -> str:
    lines = ["| check | question | source | grade |", "| --- | --- | --- | --- |"]
    if plant is not None:
        lines = [lines[0] + " limits |", lines[1] + " --- |"]
    for check in CHECKS.values():
        guarded = " ◆" if check.guarded else ""
        source = source_line(check.cite.key, check.cite.locator)
        line = f"| `{check.key}`{guarded} | {check.question} | {source} | {check.cite.grade} |"
        lines.append(line if plant is None else f"{line} {_limit_words(check, plant)} |")
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
        limits = _limit_words(check, plant)
        if limits:
            lines += textwrap.wrap(
                limits, 100, initial_indent=" " * (width + 4), subsequent_indent=" " * (width + 4)
            )
        lines.append(f"{'':<{width + 4}}[{check.cite.grade}] {source}")
    lines += ["", *(f"[{grade}] {meaning}" for grade, meaning in GRADES.items())]
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
                lines.append(f"      {_beside(check, name, plant)}")
                lines.append(f"      set by {own.set_by} on {own.date.isoformat()}: {own.why}")
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
    grade = GRADES[check.cite.grade]
    lines += ["", *notes, f"Source: {source_line(check.cite.key, check.cite.locator)} ({grade})"]
    return "\n".join(lines)
