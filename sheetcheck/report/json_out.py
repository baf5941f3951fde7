"""Findings as JSON and CSV: the forms that outside scripts rely on."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable, Iterable, Iterator
from io import TextIOWrapper
from pathlib import Path
from typing import Any, TextIO

from ..findings import Findings, Verdict
from ..findings.plant import laxer_than_published
from ..findings.summary import accepted_counts, band_counts
from ..register.fields import FIELDS
from .write import replacing

__all__ = ["json_lines", "save", "write_csv", "write_json"]

_FORMAT = 1
_DIGITS = 12


def _tidy(item: Any) -> Any:
    """Numbers to 12 significant digits, tuples as lists, whole numbers of a count as they are."""
    if isinstance(item, float):
        return float(f"{item:.{_DIGITS}g}") if math.isfinite(item) else None
    if isinstance(item, dict):
        return {key: _tidy(value) for key, value in item.items()}
    if isinstance(item, (list, tuple)):
        return [_tidy(value) for value in item]
    return item


def _dump(item: Any) -> str:
    return json.dumps(_tidy(item), ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _verdict(verdict: Verdict) -> dict[str, Any]:
    found: dict[str, Any] = {
        "band": verdict.band,
        "why": verdict.why,
        "found": verdict.found,
        "required": verdict.required,
        "unit": verdict.unit,
        "margin": verdict.margin,
        "relative_margin": verdict.relative_margin,
        "cells": dict(verdict.cells),
        "assumptions": list(verdict.assumptions),
        "if_known": {name: dict(known) for name, known in verdict.if_known.items()},
        "flips_at": dict(verdict.flips_at),
        "numbers": dict(verdict.numbers),
        "source": verdict.source,
        "grade": verdict.grade,
        "remedy": verdict.remedy,
    }
    if verdict.accepted:
        found["accepted"] = verdict.accepted
    return found


def _values(findings: Findings, row: int) -> dict[str, Any]:
    register = findings.register
    found = {}
    for name in FIELDS:
        if name == "tag" or not register.has(name):
            continue
        value = register.value(row, name)
        if value is None:
            continue
        whole = FIELDS[name].kind == "count" and isinstance(value, float) and value.is_integer()
        found[name] = int(value) if whole and isinstance(value, float) else value
    return found


def _row(findings: Findings, row: int, derived: list[str]) -> dict[str, Any]:
    register = findings.register
    sheet, number = register.cells.main(row)
    return {
        "tag": str(register.values["tag"][row]),
        "load_point": register.value(row, "load_point"),
        "sheet": sheet,
        "row": number,
        "rank": int(findings.rank[row]),
        "values": _values(findings, row),
        "derived": derived,
        "checks": {verdict.key: _verdict(verdict) for verdict in findings.verdicts(row)},
    }


def _plant(findings: Findings) -> dict[str, Any]:
    """The plant's own decisions; empty where there are none, so that no key is written."""
    plant, ruling = findings.ruling.plant, findings.ruling
    limits = []
    for key, names in findings.limits.items():
        for name, value in names.items():
            limit = findings.results[key].check.limits[name]
            own = plant.limit(key, name) if plant else None
            limits.append(
                {
                    "check": key,
                    "name": name,
                    "value": value,
                    "default": limit.value,
                    "unit": limit.unit,
                    "laxer_than_published": laxer_than_published(limit, value),
                    "set_by": own.set_by if own else None,
                    "why": own.why if own else None,
                    "date": own.date.isoformat() if own else None,
                }
            )
    found: dict[str, Any] = {"limits": limits} if limits else {}
    if plant is not None:
        found = {
            "file": plant.file,
            "jurisdiction": plant.jurisdiction,
            "currency": plant.currency,
            "labour_rate": plant.labour_rate,
            "operating_hours": plant.operating_hours,
            "limits": limits,
            "tolerances": {
                name: {"absolute": item.absolute, "relative": item.relative}
                for name, item in plant.tolerances.items()
            },
            "accepted": [
                {
                    "tag": entry.tag,
                    "load_point": entry.load_point or None,
                    "check": entry.check,
                    "reason": entry.reason,
                    "by": entry.by,
                    "until": entry.until.isoformat(),
                    "state": state,
                }
                for entry, state in zip(plant.accepted, ruling.states, strict=True)
            ],
        }
    if ruling.notices:
        found["notices"] = [
            {
                "kind": notice.kind,
                "tag": notice.tag or None,
                "check": notice.check,
                "text": notice.text,
                "what_to_do": notice.what_to_do,
            }
            for notice in ruling.notices
        ]
    return found


def json_lines(findings: Findings, version: str) -> Iterator[str]:
    """One workbook's JSON object in pieces, a register row each.

    Parameters
    ----------
    findings
        What to write.
    version
        Version of this package, for ``tool``.
    """
    register = findings.register
    head = {
        "format": _FORMAT,
        "tool": {"name": "sheetcheck", "version": version},
        "source": {
            "file": register.source.file,
            "sha256": register.source.sha256,
            "sheets_read": list(register.source.sheets_read),
        },
        "columns": [
            {
                "field": column.field,
                "sheet": column.sheet,
                "header": column.header,
                "column": column.column,
                "unit": column.unit,
                "confidence": column.confidence,
                "why": column.why,
            }
            for column in register.columns
            if column.field
        ],
        "problems": [
            {
                "sheet": problem.sheet,
                "cells": list(problem.cells),
                "field": problem.field,
                "text": problem.text,
                "problem": problem.problem,
                "what_to_do": problem.what_to_do,
                "used": problem.used,
            }
            for problem in register.problems
        ],
    }
    plant = _plant(findings)
    if plant:
        head["plant"] = plant
    yield _dump(head)[:-1] + ',"rows":['
    derived: dict[int, list[str]] = {}
    for row, name in register.derived:
        derived.setdefault(row, []).append(name)
    for row in range(len(findings)):
        comma = ",\n" if row else "\n"
        yield comma + _dump(_row(findings, row, sorted(derived.get(row, ()))))
    summary: dict[str, Any] = {"rows": len(findings), "bands": band_counts(findings)}
    if findings.ruling.plant is not None:
        summary["accepted"] = accepted_counts(findings)
    yield "\n]," + _dump({"summary": summary})[1:]


def save(path: Path, write: Callable[[TextIO], None], *, overwrite: bool) -> None:
    """Write a text file that appears only once it is whole.

    Raises
    ------
    OutputExists
        Where `path` is there and may not be replaced.
    UnusableCall
        Where it cannot be written.
    """
    with replacing(path, overwrite=overwrite) as file:
        handle = TextIOWrapper(file, encoding="utf-8", newline="")
        write(handle)
        handle.flush()
        handle.detach()


def write_json(every: Iterable[Findings], handle: TextIO, version: str, *, several: bool) -> None:
    """Write one object, or ``{"workbooks": [...]}`` where `several` workbooks were given."""
    if several:
        handle.write('{"workbooks":[\n')
    for number, findings in enumerate(every):
        if number:
            handle.write(",\n")
        handle.writelines(json_lines(findings, version))
    handle.write("\n]}\n" if several else "\n")


_CSV_COLUMNS = (
    "workbook", "tag", "load_point", "sheet", "row", "rank", "check", "band", "why", "found",
    "found_high", "required", "required_high", "unit", "margin", "margin_high", "relative_margin",
    "assumptions", "cells", "source", "grade", "remedy", "accepted",
)  # fmt: skip
_DANGEROUS = ("=", "+", "-", "@", "\t", "\r")


def _safe(text: str) -> str:
    """Text that a spreadsheet will not take for a formula."""
    return f"'{text}" if text.startswith(_DANGEROUS) else text


def _two(number: Any) -> tuple[Any, Any]:
    if isinstance(number, tuple):
        return _tidy(number[0]), _tidy(number[1])
    return _tidy(number), _tidy(number)


def write_csv(every: Iterable[Findings], handle: TextIO) -> None:
    """One line per workbook, register row and check; ranges as two columns, equal where exact."""
    writer = csv.writer(handle, lineterminator="\n")
    writer.writerow(_CSV_COLUMNS)
    for findings in every:
        register = findings.register
        for row in range(len(findings)):
            sheet, number = register.cells.main(row)
            for verdict in findings.verdicts(row):
                relative = verdict.relative_margin
                worst = relative[0] if isinstance(relative, tuple) else relative
                line = [
                    register.source.file,
                    str(register.values["tag"][row]),
                    register.value(row, "load_point") or "",
                    sheet,
                    number,
                    int(findings.rank[row]),
                    verdict.key,
                    verdict.band,
                    verdict.why,
                    *_two(verdict.found),
                    *_two(verdict.required),
                    verdict.unit,
                    *_two(verdict.margin),
                    _tidy(worst),
                    "; ".join(verdict.assumptions),
                    "; ".join(verdict.cells.values()),
                    verdict.source,
                    verdict.grade,
                    verdict.remedy,
                    verdict.accepted,
                ]
                writer.writerow([_safe(x) if isinstance(x, str) else x for x in line])
