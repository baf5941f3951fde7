"""What differs between two runs themselves: version, limits, deviations, how columns were read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..checks import CHECKS
from ..register.fields import MEASURING
from ..register.ranges import RANGES
from ..register.register import same_tag_key
from .ranges import checks_of
from .words import say

__all__ = ["FROM_PLANT", "RunChange", "run_changes", "same"]

FROM_PLANT = ("labour_rate", "operating_hours")
"""Fields for which a limits file's figure may stand."""

_SAME = 1e-9  # relative: both results carry 12 digits
_LONGEST_TEXT = 1_000  # characters of a text that a record keeps


@dataclass(frozen=True, slots=True)
class RunChange:
    """Something that differs between the runs themselves.

    ``kind`` is ``version``, ``limits file``, ``deviation`` or ``reading``; ``checks`` and
    ``fields`` are those that it bears on.
    """

    kind: str
    text: str
    checks: tuple[str, ...] = ()
    fields: tuple[str, ...] = ()


def same(one: Any, other: Any) -> bool:
    """Whether two values of two results are the same, as far as both hold them."""
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, str) and isinstance(other, str):
        return one[:_LONGEST_TEXT] == other[:_LONGEST_TEXT]
    numbers = (int, float)
    if (
        isinstance(one, numbers)
        and isinstance(other, numbers)
        and not isinstance(one, bool)
        and not isinstance(other, bool)
    ):
        return abs(one - other) <= _SAME * max(abs(one), abs(other))
    return type(one) is type(other) and one == other


def run_changes(
    old: Sequence[Mapping[str, Any]], new: Sequence[Mapping[str, Any]]
) -> Iterator[RunChange]:
    """What differs between two runs beside the register, in the order to tell it.

    Parameters
    ----------
    old, new
        As `compare.compare` takes them.
    """
    versions = [
        " and ".join(dict.fromkeys(result["tool"]["version"] for result in results))
        for results in (old, new)
    ]
    if versions[0] != versions[1]:
        yield RunChange("version", f"sheetcheck {versions[0]} → {versions[1]}")
    checks = [
        dict.fromkeys(key for result in results for row in result["rows"] for key in row["checks"])
        for results in (old, new)
    ]
    for word, (some, others) in (("added", checks[::-1]), ("removed", checks)):
        if some and others:
            for key in some:
                if key not in others:
                    yield RunChange("version", f"check {key} {word}", (key,))
    yield from _limit_changes(_plant(old), _plant(new))
    yield from _readings(old, new)


def _plant(results: Sequence[Mapping[str, Any]]) -> Mapping[str, Any]:
    # One run over several workbooks has one limits file.
    return next((result["plant"] for result in results if result.get("plant")), {})


_Sides = list[dict[Any, Any]]


def _pairs(sides: _Sides) -> Iterator[tuple[Any, list[Any]]]:
    """Each key of either side, and what it has on both; None where it has nothing."""
    for key in dict.fromkeys((*sides[0], *sides[1])):
        yield key, [side.get(key) for side in sides]


def _figure_changes(sides: _Sides) -> Iterator[tuple[Any, str, Any]]:
    """Limits or ranges that differ: which, from what to what, and the item as it is now."""
    for key, items in _pairs(sides):
        known = items[0] or items[1]
        default = np.atleast_1d(known["default"]).tolist()
        numbers = [
            [item[name] for name in ("value", "low", "high") if name in item] if item else default
            for item in items
        ]
        if not same(*numbers):
            unit = "" if known["unit"] == "1" else f" {known['unit']}"
            words = [
                " to ".join(f"{number:.6g}" for number in some)
                + unit
                + ("" if item else " (default)")
                for some, item in zip(numbers, items, strict=True)
            ]
            yield key, f"{words[0]} → {words[1]}", items[1]


def _limit_changes(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[RunChange]:
    def sides(part: str) -> _Sides:
        return [side.get(part, {}) for side in (old, new)]

    limits = [{(item["check"], item["name"]): item for item in some} for some in sides("limits")]
    for (check, name), text, now in _figure_changes(limits):
        laxer = ", laxer than published" if now and now["laxer_than_published"] else ""
        yield RunChange("limits file", f"limit {name} of {check} {text}{laxer}", (check,))
    ranges = [{item["name"]: item for item in some} for some in sides("ranges")]
    for name, text, _ in _figure_changes(ranges):
        if name in RANGES:
            fields = RANGES[name].fields
            yield RunChange("limits file", f"range {name} {text}", checks_of(name), fields)
    guarded = tuple(key for key, check in CHECKS.items() if check.guarded)
    for name, usual in MEASURING.items():
        default = {"absolute": usual.absolute, "relative": usual.relative}
        pair = [side.get(name, default) for side in sides("tolerances")]
        for part in default:
            numbers = [item[part] for item in pair]
            if not same(*numbers):
                text = f"measuring tolerance of {name}, {part}: {_arrow(numbers)}"
                yield RunChange("limits file", text, guarded)
    for name, steps in _pairs(sides("steps")):
        words = [_said(step) for step in steps]
        if words[0] != words[1]:
            yield RunChange("limits file", f"trade step of {name} {words[0]} → {words[1]}")
    for key, weights in _pairs(sides("weights")):
        numbers = [1.0 if weight is None else weight for weight in weights]
        if not same(*numbers):
            yield RunChange("limits file", f"weight of {key} in the ranking {_arrow(numbers)}")
    for name in ("jurisdiction", "currency", *FROM_PLANT):
        words = [_said(side.get(name)) for side in (old, new)]
        if words[0] != words[1]:
            yield RunChange("limits file", f"{say(name)} {words[0]} → {words[1]}")
    yield from _deviations(sides("accepted"))


def _arrow(numbers: Sequence[float]) -> str:
    return " → ".join(f"{number:.6g}" for number in numbers)


def _said(item: Any) -> str:
    if item in (None, ""):
        return "not stated"
    return f"{item:.6g}" if isinstance(item, float) else str(item)


def _deviations(accepted: Sequence[Any]) -> Iterator[RunChange]:
    """Accepted deviations that came, went or changed their state; they change no band."""
    sides: _Sides = [
        {
            (same_tag_key(item["tag"]), item["load_point"], item["check"], item["until"]): item
            for item in some
        }
        for some in accepted
    ]
    for _, (before, after) in _pairs(sides):
        item = after or before
        states = [side["state"] if side else "not there" for side in (before, after)]
        if states[0] != states[1]:
            text = f"accepted deviation of {item['tag']}, {item['check']}, until {item['until']}"
            yield RunChange("deviation", f"{text}: {states[0]} → {states[1]}")


def _readings(
    old: Sequence[Mapping[str, Any]], new: Sequence[Mapping[str, Any]]
) -> Iterator[RunChange]:
    """Columns of the same heading that are understood otherwise than before."""
    sides = []
    for results in (old, new):
        side: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
        for column in (column for result in results for column in result["columns"]):
            heading = " ".join(column["header"].split()).casefold()
            if column["field"]:
                side.setdefault((column["sheet"].casefold(), heading), []).append(column)
        sides.append(side)
    for key, befores in sides[0].items():
        afters = sides[1].get(key, [])
        if len(befores) != 1 or len(afters) != 1:
            continue
        (before,), (after,) = befores, afters
        pair = [(side["field"], side["unit"]) for side in (before, after)]
        if pair[0] != pair[1]:
            words = [f"{say(name)}{f', {unit}' if unit else ''}" for name, unit in pair]
            text = f"column {after['header']!r} read as {words[0]} → {words[1]}"
            fields = tuple(dict.fromkeys(name for name, _ in pair))
            yield RunChange("reading", text, fields=fields)
