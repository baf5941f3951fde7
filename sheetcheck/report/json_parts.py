"""Parts of the JSON output that the record of a checked workbook holds too."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import orjson

from ..findings import Findings
from ..findings.columns import ABSENT, Array
from ..findings.plant import PlantLimit, PlantRange, laxer_than_published
from ..findings.ranges import narrower
from ..findings.verdict_columns import dicts, significant
from ..register.fields import FIELDS
from ..register.ranges import RANGES
from ..register.register import Register

__all__ = [
    "DIGITS",
    "columns_of",
    "decided",
    "dump",
    "marks_of",
    "picked",
    "pieces",
    "place_of",
    "plant_of",
    "run_of",
    "values_of",
]

_FORMAT = 1
DIGITS = 12
"""Significant digits of every number."""
_PIECE = 500


def _tidy(item: Any) -> Any:
    if isinstance(item, float):
        return float(f"{item:.{DIGITS}g}") if math.isfinite(item) else None
    if isinstance(item, dict):
        return {key: _tidy(value) for key, value in item.items()}
    if isinstance(item, (list, tuple)):
        return [_tidy(value) for value in item]
    return item


def dump(item: Any) -> str:
    """JSON on one line, numbers to 12 significant digits, unknown ones as null."""
    return orjson.dumps(_tidy(item)).decode()


def picked(item: Any, names: str) -> dict[str, Any]:
    """Attributes of an object by their names."""
    return {name: getattr(item, name) for name in names.split()}


def pieces(start: int, stop: int) -> Iterator[Array]:
    """Register rows from `start` to `stop` in runs that are held in memory together."""
    for first in range(start, stop, _PIECE):
        yield np.arange(first, min(first + _PIECE, stop))


def values_of(register: Register, rows: Array) -> list[dict[str, Any]]:
    """Every field that was read or derived, row by row, in SI; the tag left out."""
    columns: list[tuple[str, list[Any]]] = []
    for name in FIELDS:
        if name != "tag" and register.has(name):
            columns.append((name, _values(register, name, rows)))
    return dicts(columns, len(rows))


def place_of(register: Register, row: int) -> dict[str, Any]:
    """Tag, load point (None where it has none), sheet and sheet row of a register row."""
    sheet, number = register.cells.main(row)
    tag, load_point = str(register.values["tag"][row]), register.value(row, "load_point")
    return {"tag": tag, "load_point": load_point, "sheet": sheet, "row": number}


def _values(register: Register, name: str, rows: Array) -> list[Any]:
    kind, column = FIELDS[name].kind, register.values[name][rows]
    if kind in ("text", "choice"):
        return [item or ABSENT for item in column.tolist()]
    shown = significant(column, DIGITS).astype(object)
    if kind == "yes/no":
        shown = (column != 0).astype(object)
    elif kind == "count":
        whole = column == np.rint(column)
        shown[whole] = column[whole].astype(int)
    shown[~np.isfinite(column)] = ABSENT
    if name in register.positions:
        words = register.positions[name][rows]
        shown = np.where(words != "", words, shown)
    if name in register.ranged_fields:
        for at, row in enumerate(rows.tolist()):
            if (row, name) in register.intervals:
                shown[at] = _tidy(register.intervals[row, name])
    return list(shown)


def run_of(findings: Findings, version: str) -> dict[str, Any]:
    """What was checked, and with what."""
    source = findings.register.source
    return {
        "format": _FORMAT,
        "tool": {"name": "sheetcheck", "version": version},
        "source": {
            # A name that is no text on this system has signs that no encoding holds.
            "file": source.file.encode(errors="replace").decode(),
            "sha256": source.sha256,
            "sheets_read": list(source.sheets_read),
        },
    }


def columns_of(findings: Findings, *, unmapped: bool = False) -> list[dict[str, Any]]:
    """How each column was read; those that were left unmapped only where asked for."""
    return [
        picked(column, "field sheet header column unit confidence why")
        for column in findings.register.columns
        if column.field or unmapped
    ]


def marks_of(findings: Findings) -> Mapping[int, dict[str, list[str]]]:
    """Register row to its ``derived`` fields and, where it has any, its ``approximate`` ones."""
    found: dict[int, dict[str, list[str]]] = defaultdict(lambda: {"derived": []})
    for row, name in sorted(findings.register.derived):
        found[row]["derived"].append(name)
    for row, name in sorted(findings.register.approximate):
        found[row].setdefault("approximate", []).append(name)
    return found


def decided(own: PlantLimit | PlantRange | None) -> dict[str, str | None]:
    """Who set a figure, why and when; nothing where it is the default."""
    if own is None:
        return dict.fromkeys(("set_by", "why", "date"))
    return {"set_by": own.set_by, "why": own.why, "date": own.date.isoformat()}


def plant_of(findings: Findings) -> dict[str, Any]:
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
                    **decided(own),
                }
            )
    found: dict[str, Any] = {"limits": limits} if limits else {}
    if plant is not None:
        found = {
            **picked(plant, "file jurisdiction currency labour_rate operating_hours"),
            "limits": limits,
            "ranges": [
                {
                    "name": item.name,
                    "low": item.ends[0],
                    "high": item.ends[1],
                    "default": list(RANGES[item.name].ends),
                    "unit": RANGES[item.name].unit,
                    "narrower": narrower(item.name, item.ends),
                    **decided(item),
                }
                for item in plant.ranges
            ],
            "tolerances": {
                name: picked(item, "absolute relative") for name, item in plant.tolerances.items()
            },
            "steps": dict(plant.steps),
            "weights": dict(plant.weights),
            "accepted": [
                {
                    "tag": entry.tag,
                    "load_point": entry.load_point or None,
                    **picked(entry, "check reason by"),
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
                "check": notice.check or None,
                **picked(notice, "text what_to_do"),
            }
            for notice in ruling.notices
        ]
    return found
