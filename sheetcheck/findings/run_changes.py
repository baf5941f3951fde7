"""What differs between two runs themselves: version, limits, deviations, how columns were read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

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


def _limit_changes(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[RunChange]:
    sides = [
        {(item["check"], item["name"]): item for item in side.get("limits", ())}
        for side in (old, new)
    ]
    for key in dict.fromkeys((*sides[0], *sides[1])):
        items = [side.get(key) for side in sides]
        known = items[0] or items[1]
        if known is None:
            continue
        values = [item["value"] if item else known["default"] for item in items]
        if same(*values):
            continue
        unit = "" if known["unit"] == "1" else f" {known['unit']}"
        words = [
            f"{value:.6g}{unit}" + ("" if item else " (default)")
            for value, item in zip(values, items, strict=True)
        ]
        text = f"limit {key[1]} of {key[0]} {words[0]} → {words[1]}"
        if items[1] and items[1]["laxer_than_published"]:
            text += ", laxer than published"
        yield RunChange("limits file", text, (key[0],))
    yield from _range_changes(old, new)
    guarded = tuple(key for key, check in CHECKS.items() if check.guarded)
    for name, usual in MEASURING.items():
        default = {"absolute": usual.absolute, "relative": usual.relative}
        pair = [side.get("tolerances", {}).get(name, default) for side in (old, new)]
        for part in ("absolute", "relative"):
            if not same(pair[0][part], pair[1][part]):
                numbers = [item[part] for item in pair]
                text = f"measuring tolerance of {name}, {part}: {_arrow(numbers)}"
                yield RunChange("limits file", text, guarded)
    steps = [side.get("steps", {}) for side in (old, new)]
    for name in dict.fromkeys((*steps[0], *steps[1])):
        words = [_said(side.get(name)) for side in steps]
        if words[0] != words[1]:
            yield RunChange("limits file", f"trade step of {name} {words[0]} → {words[1]}")
    weights = [side.get("weights", {}) for side in (old, new)]
    for key in dict.fromkeys((*weights[0], *weights[1])):
        pair = [side.get(key, 1.0) for side in weights]
        if not same(*pair):
            yield RunChange("limits file", f"weight of {key} in the ranking {_arrow(pair)}")
    for name in ("jurisdiction", "currency", *FROM_PLANT):
        words = [_said(side.get(name)) for side in (old, new)]
        if words[0] != words[1]:
            yield RunChange("limits file", f"{say(name)} {words[0]} → {words[1]}")
    yield from _deviations(old, new)


def _arrow(numbers: Sequence[float]) -> str:
    return " → ".join(f"{number:.6g}" for number in numbers)


def _range_changes(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[RunChange]:
    sides = [{item["name"]: item for item in side.get("ranges", ())} for side in (old, new)]
    for name in dict.fromkeys((*sides[0], *sides[1])):
        items = [side.get(name) for side in sides]
        known = items[0] or items[1]
        if known is None:
            continue
        ends = [[item["low"], item["high"]] if item else known["default"] for item in items]
        if same(*ends):
            continue
        unit = "" if known["unit"] == "1" else f" {known['unit']}"
        words = [
            f"{low:.6g} to {high:.6g}{unit}" + ("" if item else " (default)")
            for (low, high), item in zip(ends, items, strict=True)
        ]
        text = f"range {name} {words[0]} → {words[1]}"
        if name in RANGES:
            yield RunChange("limits file", text, checks_of(name), RANGES[name].fields)


def _said(item: Any) -> str:
    return (
        "not stated"
        if item in (None, "")
        else f"{item:.6g}"
        if isinstance(item, float)
        else str(item)
    )


def _deviations(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[RunChange]:
    """Accepted deviations that came, went or changed their state; they change no band."""
    sides = [
        {
            (same_tag_key(item["tag"]), item["load_point"], item["check"], item["until"]): item
            for item in side.get("accepted", ())
        }
        for side in (old, new)
    ]
    for key in dict.fromkeys((*sides[0], *sides[1])):
        before, after = (side.get(key) for side in sides)
        item = after or before
        if item is None or (before and after and before["state"] == after["state"]):
            continue
        states = [side["state"] if side else "not there" for side in (before, after)]
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
