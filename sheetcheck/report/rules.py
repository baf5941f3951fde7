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
from ..checks.declare import Check, Limit
from ..errors import UnusableCall
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


def _limit(name: str, limit: Limit) -> dict[str, Any]:
    return {
        "name": name,
        "value": limit.value,
        "unit": limit.unit,
        "meaning": limit.meaning,
        "source": source_line(limit.cite.key, limit.cite.locator),
        "grade": limit.cite.grade,
    }


def _limit_words(check: Check) -> str:
    return "; ".join(f"{n} {x.value:.6g} {x.unit}".strip() for n, x in check.limits.items())


def records() -> list[dict[str, Any]]:
    """Every check as plain data, in report order."""
    return [
        {
            "key": check.key,
            "subject": check.subject,
            "question": check.question,
            "inputs": list(check.inputs),
            "optional": list(check.optional),
            "limits": [_limit(name, limit) for name, limit in check.limits.items()],
            "source": source_line(check.cite.key, check.cite.locator),
            "grade": check.cite.grade,
            "guarded": check.guarded,
        }
        for check in CHECKS.values()
    ]


def _as_json() -> str:
    return json.dumps(records(), ensure_ascii=False, indent=1)


def _as_csv() -> str:
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
            "limits": _limit_words(check),
            "guarded": "yes" if check.guarded else "no",
        }
        writer.writerow([(record | words)[head] for head in heads])
    return out.getvalue().rstrip("\n")


def _as_markdown() -> str:
    lines = ["| check | question | source | grade |", "| --- | --- | --- | --- |"]
    for check in CHECKS.values():
        guarded = " ◆" if check.guarded else ""
        source = source_line(check.cite.key, check.cite.locator)
        lines.append(
            f"| `{check.key}`{guarded} | {check.question} | {source} | {check.cite.grade} |"
        )
    return "\n".join(lines)


def _as_table() -> str:
    width = max(map(len, CHECKS))
    lines = []
    subject = ""
    for check in CHECKS.values():
        if check.subject != subject:
            subject = check.subject
            lines += ["", subject.capitalize()]
        source = source_line(check.cite.key, check.cite.locator)
        lines.append(f"  {check.key:<{width}}  {check.question}")
        limits = _limit_words(check)
        if limits:
            lines += textwrap.wrap(
                limits, 100, initial_indent=" " * (width + 4), subsequent_indent=" " * (width + 4)
            )
        lines.append(f"{'':<{width + 4}}[{check.cite.grade}] {source}")
    lines += ["", *(f"[{grade}] {meaning}" for grade, meaning in GRADES.items())]
    return "\n".join(lines).lstrip("\n")


_FORMS: Mapping[str, Callable[[], str]] = {
    "table": _as_table,
    "md": _as_markdown,
    "csv": _as_csv,
    "json": _as_json,
}


def listing(form: str) -> str:
    """Every check, as ``table``, ``md``, ``csv`` or ``json``."""
    return _FORMS[form]()


def _input_lines(check: Check) -> list[str]:
    lines = []
    for name in check.fields:
        field = FIELDS[name]
        unit = f" [{field.unit}]" if field.unit else ""
        words = f" ({', '.join(field.choices)})" if field.choices else ""
        use = "optional: " if name in check.optional else ""
        lines.append(f"  {name}{unit}: {use}{field.meaning}{words}")
    return lines


def explain(key: str) -> str:
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
            lines.append(f"  {name} = {limit.value:.6g} {limit.unit}: {limit.meaning}")
            lines.append(f"      [{limit.cite.grade}] {source}")
    if check.worked:
        lines += ["", "Check values:"]
        lines += [
            f"  {item.name} [{item.cite.grade}] {source_line(item.cite.key, item.cite.locator)}"
            for item in check.worked
        ]
    if check.remedies:
        lines += ["", "Remedies:"]
        lines += [f"  {remedy.text}" for remedy in check.remedies]
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
