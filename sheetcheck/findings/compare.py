"""Two results of one site held against each other: what changed, and which input changed it.

Both are plain objects, as ``--json`` writes them or a checked workbook's record gives them back,
so that a result of last year needs neither its register nor the version that made it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ..checks import CHECKS
from ..register.fields import FIELDS
from ..register.register import same_tag_key
from ..units import factor
from .run_changes import FROM_PLANT, RunChange, run_changes, same
from .words import say

__all__ = [
    "BECAUSE",
    "KINDS",
    "Comparison",
    "InputChange",
    "Place",
    "VerdictChange",
    "compare",
]

KINDS = (
    "worse",
    "no longer judged",
    "newly judged",
    "now applies",
    "better",
    "no longer applies",
    "same band, other numbers",
)
"""What can become of a verdict, in the order listed."""

BECAUSE = ("register", "reading", "limits file", "version", "several", "not explained")
"""What a change of a verdict can be put down to: the register as the plant is now; a column that
is read otherwise; a limit or a figure of the plant's; another version; several of these."""

_SEVERITY = {"meets": 0, "marginal": 1, "falls short": 2}
# What a derived field may be derived from (catalogue section 2).
_ROOTS: Mapping[str, tuple[str, ...]] = {
    "belt_carcass": ("belt_designation",),
    "belt_nominal_strength": ("belt_designation",),
    "belt_rated_tension": ("belt_designation", "belt_nominal_strength", "belt_carcass"),
    "belt_tension_ratio": ("belt_operating_tension", "belt_rated_tension"),
    "tail_tension_ratio": ("tail_operating_tension", "belt_rated_tension"),
    "head_tension_ratio": ("head_operating_tension", "belt_rated_tension"),
    "primary_cleaner": ("primary_blade",),
    "secondary_cleaner": ("secondary_blade",),
}


@dataclass(frozen=True, slots=True)
class Place:
    """A register row: its tag and load point as now written, and where it stands."""

    workbook: str
    tag: str
    load_point: str
    sheet: str
    row: int


@dataclass(slots=True)
class InputChange:
    """One value of one register row that differs.

    Attributes
    ----------
    old, new
        In SI, as the JSON output carries them; None where not recorded.
    text
        The change in words and in the source's units: ``chute width inside 700 → 610 mm``.
    origin
        ``register``; ``reading`` where the column is understood otherwise than before; ``limits
        file`` where the plant's own figure stands in, or it is derived over a range of the
        plant's; ``derived`` where it follows from others.
    verdicts
        How many verdicts changed their band with it.
    """

    place: Place
    field: str
    old: Any
    new: Any
    text: str
    origin: str
    verdicts: int = 0


@dataclass(frozen=True, slots=True)
class VerdictChange:
    """One verdict that differs: its kind (of `KINDS`), both bands, both numbers, and why.

    ``origins`` are those of the inputs that changed, and ``limits file`` or ``version``; empty
    where neither result says what changed it.
    """

    place: Place
    check: str
    kind: str
    old_band: str
    new_band: str
    found: tuple[Any, Any]
    required: tuple[Any, Any]
    causes: tuple[str, ...]
    origins: tuple[str, ...]

    @property
    def because(self) -> str:
        """One of `BECAUSE`."""
        if not self.origins:
            return "not explained"
        return self.origins[0] if len(self.origins) == 1 else "several"


@dataclass(slots=True)
class Comparison:
    """What `compare` found.

    Attributes
    ----------
    old, new
        The two results.
    inputs, verdicts, run
        Changes; verdicts in the order of `KINDS`, then of the new register.
    appeared, gone
        Rows of one result only.
    matched
        Rows in both.
    """

    old: Sequence[Mapping[str, Any]]
    new: Sequence[Mapping[str, Any]]
    inputs: list[InputChange] = field(default_factory=list)
    verdicts: list[VerdictChange] = field(default_factory=list)
    run: list[RunChange] = field(default_factory=list)
    appeared: list[tuple[Place, Mapping[str, Any]]] = field(default_factory=list)
    gone: list[tuple[Place, Mapping[str, Any]]] = field(default_factory=list)
    matched: int = 0

    @property
    def register_changes(self) -> list[InputChange]:
        """Changes that somebody made in the register itself."""
        return [change for change in self.inputs if change.origin == "register"]

    def counts(self) -> dict[str, int]:
        """How many verdicts became what, by the words of `KINDS`."""
        found = dict.fromkeys(KINDS, 0)
        for change in self.verdicts:
            found[change.kind] += 1
        return found

    def one_line(self) -> str:
        """Rows, changes of the register and what became of verdicts, for the terminal."""
        kinds = ", ".join(f"{count} {kind}" for kind, count in self.counts().items() if count)
        return (
            f"{self.matched} rows in both, {len(self.appeared)} appeared, {len(self.gone)} gone; "
            f"{len(self.register_changes)} changes in the register; "
            f"verdicts: {kinds or 'none changed'}"
        )


def compare(old: Sequence[Mapping[str, Any]], new: Sequence[Mapping[str, Any]]) -> Comparison:
    """Hold two results against each other.

    Parameters
    ----------
    old, new
        One object for each workbook of the site, in the form of ``--json``. Only ``tool``,
        ``source``, ``columns``, ``plant`` and of each row the tag, place, values and bands with
        found and required are looked at.
    """
    found = Comparison(old, new)
    found.run = list(run_changes(old, new))
    before, after = _rows(old), _rows(new)
    pairs, gone, appeared = _match(before, after)
    found.matched = len(pairs)
    found.gone = [(_place(row), row) for row in gone]
    found.appeared = [(_place(row), row) for row in appeared]
    bearing = {
        kind: {name for change in found.run if change.kind == kind for name in change.fields}
        for kind in ("reading", "limits file")
    }
    by_row = []
    for was, now in pairs:
        changes = list(_input_changes(was, now, bearing["reading"], bearing["limits file"]))
        by_row.append((was, now, changes))
        found.inputs += changes
    shared: dict[tuple[str, str], list[InputChange]] = {}
    for change in found.inputs:
        shared.setdefault((same_tag_key(change.place.tag), change.field), []).append(change)
    for was, now, changes in by_row:
        found.verdicts += _verdict_changes(was, now, changes, found.run, shared)
    found.verdicts.sort(key=lambda change: KINDS.index(change.kind))
    return found


# --- rows ------------------------------------------------------------------------------------


def _rows(results: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Rows of all workbooks, each with its workbook and the units that this one uses."""
    found: list[Mapping[str, Any]] = []
    for result in results:
        units = {column["field"]: column["unit"] for column in result["columns"] if column["unit"]}
        more = {"workbook": result["source"]["file"], "units": units}
        found += [{**row, **more} for row in result["rows"]]
    return found


def _place(row: Mapping[str, Any]) -> Place:
    return Place(row["workbook"], row["tag"], row["load_point"] or "", row["sheet"], row["row"])


_Rows = list[Mapping[str, Any]]
_Pairs = list[tuple[Mapping[str, Any], Mapping[str, Any]]]


def _match(before: _Rows, after: _Rows) -> tuple[_Pairs, _Rows, _Rows]:
    """Pair rows by tag and load point, spelling aside; then lone rows of a tag by tag alone."""

    def exact(row: Mapping[str, Any]) -> tuple[str, str]:
        return same_tag_key(row["tag"]), " ".join((row["load_point"] or "").split()).casefold()

    def tag_only(row: Mapping[str, Any]) -> str:
        return same_tag_key(row["tag"])

    partner: dict[int, Mapping[str, Any]] = {}
    rest = before
    for key in (exact, tag_only):
        waiting: dict[Any, _Rows] = {}
        for row in rest:
            waiting.setdefault(key(row), []).append(row)
        lone: dict[Any, int] = {}
        for at, row in enumerate(after):
            if at not in partner:
                lone[key(row)] = lone.get(key(row), 0) + 1
        for at, row in enumerate(after):
            same = waiting.get(key(row), [])
            if at in partner or not same:
                continue
            if key is exact or (len(same) == 1 and lone[key(row)] == 1):
                partner[at] = same.pop(0)
        rest = [row for rows in waiting.values() for row in rows]
    pairs = [(partner[at], row) for at, row in enumerate(after) if at in partner]
    return pairs, rest, [row for at, row in enumerate(after) if at not in partner]


# --- inputs ----------------------------------------------------------------------------------


def _input_changes(
    was: Mapping[str, Any],
    now: Mapping[str, Any],
    read_otherwise: set[str],
    ranged: set[str],
) -> Iterator[InputChange]:
    place = _place(now)
    if was["tag"] != now["tag"]:
        text = f"tag {was['tag']} → {now['tag']}"
        yield InputChange(place, "tag", was["tag"], now["tag"], text, "register")
    for name in FIELDS:
        one, other = was["values"].get(name), now["values"].get(name)
        rough = [name in row.get("approximate", ()) for row in (was, now)]
        if same(one, other) and rough[0] == rough[1]:
            continue
        follows = {
            name in row["derived"]
            for row, value in ((was, one), (now, other))
            if value is not None
        }
        if follows == {True}:
            ruled = name in FROM_PLANT or (name in ranged and _by_range(was, now, name, ranged))
            origin = "limits file" if ruled else "derived"
        else:
            origin = "reading" if name in read_otherwise else "register"
        text = _in_words(name, (one, other), (was["units"], now["units"]), rough)
        if origin == "derived":
            text += " (derived)"
        yield InputChange(place, name, one, other, text, origin)


def _by_range(was: Mapping[str, Any], now: Mapping[str, Any], name: str, ranged: set[str]) -> bool:
    """Whether a derived value differs though nothing does that the register gives it from."""
    values = was["values"], now["values"]
    return all(side.get(name) is None or isinstance(side[name], list) for side in values) and all(
        same(*(side.get(root) for side in values)) for root in _roots(name) - ranged
    )


def _roots(name: str) -> set[str]:
    """All that a derived field may follow from, near and far."""
    roots: set[str] = set()
    waiting = [name]
    while waiting:
        new = set(_ROOTS.get(waiting.pop(), ())) - roots
        roots |= new
        waiting += new
    return roots


def _in_words(
    name: str,
    values: tuple[Any, Any],
    recorded: tuple[Mapping[str, str], Mapping[str, str]],
    rough: Sequence[bool],
) -> str:
    before, after = (units.get(name) for units in recorded)
    units = [before or after or FIELDS[name].unit, after or before or FIELDS[name].unit]
    parts = []
    for value, unit in zip(values, units, strict=True):
        named = _numeric(name, value) and unit not in ("", "1", "count")
        parts.append(_shown(name, value, unit) + (f" {unit}" if named else ""))
    if rough[0] != rough[1]:
        parts = [f"{p}, approximate" if r else p for p, r in zip(parts, rough, strict=True)]
    elif units[0] == units[1] and all(_numeric(name, value) for value in values):
        parts[0] = _shown(name, values[0], units[0])
    return f"{say(name)} {parts[0]} → {parts[1]}"


def _numeric(name: str, value: Any) -> bool:
    return FIELDS[name].numeric and value is not None and not isinstance(value, str)


def _shown(name: str, value: Any, unit: str) -> str:
    if value is None:
        return "not recorded"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value if len(value) <= 60 else f"{value[:60]}…"
    if isinstance(value, list):
        return " to ".join(_shown(name, end, unit) for end in value)
    by = factor(unit, FIELDS[name].unit) if FIELDS[name].unit else None
    return f"{value / (by or 1.0):.6g}"


# --- verdicts --------------------------------------------------------------------------------


def _kind(old: Mapping[str, Any], new: Mapping[str, Any]) -> str | None:
    """What became of a verdict; None where nothing did."""
    before, after = old["band"], new["band"]
    if before == after:
        if before in ("not judged", "not applicable"):
            return None
        moved = not all(same(old[name], new[name]) for name in ("found", "required"))
        return "same band, other numbers" if moved else None
    if before == "not applicable":
        return "now applies"
    if after == "not applicable":
        return "no longer applies"
    if before in _SEVERITY and after in _SEVERITY:
        return "worse" if _SEVERITY[after] > _SEVERITY[before] else "better"
    if after in _SEVERITY:
        return "newly judged"
    return "no longer judged" if before in _SEVERITY else "same band, other numbers"


def _verdict_changes(
    was: Mapping[str, Any],
    now: Mapping[str, Any],
    changes: Sequence[InputChange],
    run: Sequence[RunChange],
    shared: Mapping[tuple[str, str], list[InputChange]],
) -> Iterator[VerdictChange]:
    for key, new in now["checks"].items():
        old = was["checks"].get(key)
        kind = None if old is None else _kind(old, new)
        if old is None or kind is None:
            continue
        read = set(CHECKS[key].fields) if key in CHECKS else set(FIELDS)
        read |= {FIELDS[name].stand_in for name in read}
        causes = [change for change in changes if change.field in read]
        if kind != "same band, other numbers":
            for cause in _credited(causes, changes, shared):
                cause.verdicts += 1
        own = [change for change in run if key in change.checks]
        texts = [cause.text for cause in causes] + [change.text for change in own]
        origins = [_credit(cause.origin) for cause in causes] + [change.kind for change in own]
        if not texts:
            other = [change for change in run if change.kind == "version"]
            texts, origins = [change.text for change in other], [change.kind for change in other]
        yield VerdictChange(
            place=_place(now),
            check=key,
            kind=kind,
            old_band=old["band"],
            new_band=new["band"],
            found=(old["found"], new["found"]),
            required=(old["required"], new["required"]),
            causes=tuple(dict.fromkeys(texts)),
            origins=tuple(dict.fromkeys(origins)),
        )


def _credit(origin: str) -> str:
    return "register" if origin == "derived" else origin


def _credited(
    causes: Sequence[InputChange],
    changes: Sequence[InputChange],
    shared: Mapping[tuple[str, str], list[InputChange]],
) -> list[InputChange]:
    """The changes behind some causes: a derived one stands for those it follows from.

    That is another field of the row, or the same field on the conveyor's first row.
    """
    found: list[InputChange] = []
    for cause in causes:
        if cause.origin != "derived":
            found.append(cause)
            continue
        roots = _roots(cause.field)
        tag = same_tag_key(cause.place.tag)
        found += [change for change in changes if change.field in roots]
        found += [
            change
            for name in (cause.field, *sorted(roots))
            for change in shared.get((tag, name), [])
            if change.place != cause.place
        ]
    unique = {id(change): change for change in found if change.origin != "derived"}
    return list(unique.values())
