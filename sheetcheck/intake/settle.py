"""Open questions settled by what the cells hold, what stands beside, and what is still free.

A heading may leave several fields open, or may hold a word that nobody knows. Then the cells are
asked: their words, whether they are yes and no, the size of their numbers in the column's unit. A
field that another column gives is out; so is one whose cells would make no sense. Where two
fields are left, the columns on either side may tell; else it stays a question.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np

from ..register.fields import FIELDS
from ..units import factor
from .evidence import Assigned, bare_numbers, fits, is_number, sample, share
from .grid import Value
from .headers import WORDING_ALONE, Match
from .numbers import likely_unit
from .quantities import TONS
from .table import Table
from .words import read_choice, read_yes

__all__ = ["exchange", "settle", "typical_share"]

# Sizes that a column of a field has in nearly all plants, in the field's unit (counts as they
# are). Only to choose between fields or to doubt a heading, never to reject a value. Common
# practice, no published source.
_TYPICAL: dict[str, tuple[float, float]] = {
    "belt_width": (0.3, 2.6),
    "belt_speed": (0.1, 8),
    "belt_thickness": (0.004, 0.045),
    "belt_mass": (2, 150),
    "belt_rated_tension": (5, 2000),
    "belt_nominal_strength": (50, 10_000),
    "belt_tension_ratio": (0.03, 1.2),
    "tail_tension_ratio": (0.01, 1.2),
    "head_tension_ratio": (0.03, 1.2),
    "conveyor_length": (2, 30_000),
    "lift": (-600, 1000),
    "incline": (-30, 35),
    "trough_angle": (0, 60),
    "idler_rolls": (1, 5),
    "centre_roll_length": (0.1, 1.2),
    "carry_idler_spacing": (0.4, 3.5),
    "return_idler_spacing": (1, 8),
    "load_idler_spacing": (0.1, 1.5),
    "pulley_face_tail": (0.3, 3),
    "pulley_face_head": (0.3, 3),
    "tail_transition_length": (0.2, 15),
    "head_transition_length": (0.2, 15),
    "tail_pulley_lift": (-0.3, 0.8),
    "head_pulley_lift": (-0.3, 0.8),
    "tail_transition_idlers": (0, 8),
    "load_start": (0.2, 30),
    "chute_back": (0, 30),
    "chute_width_inside": (0.15, 2.6),
    "chute_wall_thickness": (0.002, 0.05),
    "drop_height": (0, 30),
    "lump_size": (0.0005, 1.5),
    "material_size_mean": (0.00001, 0.6),
    "bulk_density": (0.1, 5),
    "moisture": (0, 80),
    "surcharge_angle": (0, 45),
    "tonnage": (1, 20_000),
    "skirt_length": (0.4, 60),
    "skirt_height": (0.05, 1.5),
    "seal_footprint": (0.005, 0.2),
    "belt_wander": (0, 0.35),
    "exhaust_airflow": (0, 50),
    "chute_open_area": (0, 6),
    "carryback_initial": (0, 5),
    "carryback_measured": (0, 5),
    "carryback_target": (0, 5),
    "cleaned_width": (0.25, 2.6),
    "tracker_spacing_max": (3, 3000),
    "tracker_count": (0, 400),
    "side_clearance": (0, 0.6),
    "door_count": (0, 20),
    "door_width": (0.08, 1.5),
    "door_height": (0.08, 2),
    "service_clear_width": (0.1, 3),
    "walkway_width": (0.3, 3),
    "dust_layer_depth": (0, 0.3),
    "cleanup_hours": (0, 500),
}

_MOST = 0.8
"""Share of the cells that must speak for a field."""


def typical_share(name: str, values: list[Value], unit: str | None) -> float:
    """Share of a column's plain numbers that have the size usual for a field.

    Returns
    -------
    float
        1 where the field has no usual size, or the unit is not known.
    """
    low, high = _TYPICAL.get(name, (-np.inf, np.inf))
    numbers = bare_numbers(values)
    ratio = 1.0
    if FIELDS[name].kind != "count":
        if unit is None or unit == TONS:
            return 1.0
        found = factor(unit, FIELDS[name].unit)
        if found is None:
            return 0.0
        ratio = found
    if not len(numbers):
        return 1.0
    sizes = numbers * ratio
    return float(((sizes >= low) & (sizes <= high)).mean())


def _yes(name: str) -> Callable[[Value], bool]:
    def test(value: Value) -> bool:
        if isinstance(value, bool):
            return True
        word = read_yes(name, value) if isinstance(value, str) else None
        return word is not None and word.value in ("yes", "no")

    return test


def _words_of(name: str) -> Callable[[Value], bool]:
    def test(value: Value) -> bool:
        word = read_choice(name, value) if isinstance(value, str) else None
        return word is not None and bool(word.value)

    return test


_DESIGNATION = re.compile(
    r"(?:EP|NN|PN|PP|EE|ST)\s*[-/]?\s*\d{3,4}|\d\s*[- ]?ply\b|\d\s*/\s*\d{3,4}\b|"
    r"\d{3,4}\s*/\s*\d\b",
    re.IGNORECASE,
)


def _is_designation(value: Value) -> bool:
    """Whether a cell is made as only belts are designated: EP 500/3, ST 1600, 3 ply 330."""
    return isinstance(value, str) and bool(_DESIGNATION.match(value.strip()))


# Words of choices that stand in the cells of many fields, so they tell none.
_SAID_OF_ANY = re.compile(
    r"(?:none|no?|nil|ok|good|yes|y|0|-|other|bad|poor|light|std)\.?\Z", re.I
)


def _speaks_for(name: str, some: list[Value], unit: str | None) -> float:
    """How well cells fit a field: 0 not, 1 as numbers or text might, 2 as only its words do."""
    kind = FIELDS[name].kind
    if kind == "choice" or (kind == "lift" and not any(map(is_number, some))):
        part = share(some, _words_of(name))
        telling = [value for value in some if not _SAID_OF_ANY.match(str(value).strip())]
        if part >= 0.6 and share(telling, _words_of(name)) >= 0.6:
            return 2.0 * part
        return 0.0
    if kind == "yes/no":
        return 1.5 if share(some, _yes(name)) >= _MOST else 0.0
    if name in ("tag", "notes"):
        return 0.0
    if kind == "text":
        words = share(some, fits(name)) >= _MOST
        marks = share(some, _yes("nip_guards")) >= 0.5
        measured = share(some, lambda value: len(re.findall(r"\d", str(value))) > 3) >= 0.5
        if name == "belt_designation":
            return 2.0 if share(some, _is_designation) >= _MOST else 0.0
        return 0.0 if not words or marks or measured else 1.0
    if share(some, lambda value: is_number(value, unit)) < _MOST:
        return 0.0
    if kind == "count":
        whole = bare_numbers(some)
        if unit not in (None, "1") or not bool((whole == np.floor(whole)).all()):
            return 0.0
    elif unit is None:
        unit = likely_unit(FIELDS[name], bare_numbers(some))
        if unit is None and FIELDS[name].unit != "t/h":
            return 0.0
    return 1.0 if typical_share(name, some, unit) >= 0.9 else 0.0


def settle(table: Table, found: list[Assigned], matches: list[Match]) -> None:
    """Give open columns a field where cells, neighbours and the fields still free leave one.

    Parameters
    ----------
    table, found
        The table, and what its columns were taken for; changed in place.
    matches
        What each heading alone may mean.
    """
    for _ in range(2):  # what the first round settles may tell in the second
        for index, one in enumerate(found):
            if one.field is None and one.candidates and not one.mapped:
                _settle_one(table, index, found, matches[index])


def _settle_one(table: Table, index: int, found: list[Assigned], match: Match) -> None:
    one = found[index]
    some = sample(table.columns[index])
    if not some or match.confidence < 0.28:
        return
    taken = {other.field for other in found if other.field is not None}
    free = [name for name in one.candidates if name not in taken]
    speaks = {name: _speaks_for(name, some, one.unit) for name in free}
    viable = [name for name, degree in speaks.items() if degree > 0]
    best = max(speaks.values(), default=0.0)
    sure = [name for name in viable if speaks[name] == best]
    # Words that only one field has go before yes and no, and those before plain numbers.
    chosen = sure if best > 1 else viable
    beside = [name for name in chosen if name in _related(table, index, found)]
    if len(chosen) == 1:
        name = chosen[0]
        # A heading may name the field whole but for a word that nobody knows.
        text = FIELDS[name].kind == "text"
        asked = match.why == WORDING_ALONE and len(some) >= 3
        sure_but = asked if text else match.confidence > 0.5 or asked
        whole = match.candidates == (name,) and sure_but
        if FIELDS[name].numeric:
            told = whole or (name in _SIBLINGS and (name in beside or len(viable) < len(free)))
        else:
            told = whole or speaks[name] > 1 or bool(beside)
        if told and not _shy(name, match, whole, one):
            _take(one, name, some, "its cells fit no other of those open")
    elif len(beside) == 1:
        name = beside[0]
        close = not FIELDS[name].numeric or name in _SIBLINGS
        if close and not _shy(name, match, False, one):
            _take(one, name, some, "so do the columns beside it")


# Sizes that stand beside others of the same thing: "Belt | Thick" after the belt's type. A bare
# clearance or distance is of anything.
_SIBLINGS = frozenset(
    {"belt_width", "belt_speed", "belt_thickness", "belt_mass", "moisture", "bulk_density"}
    | {"lump_size", "skirt_length", "skirt_height", "door_width", "door_height", "door_count"}
)


def _shy(name: str, match: Match, whole: bool, one: Assigned) -> bool:
    """Whether a field is not to be taken on the cells' word alone."""
    kind = FIELDS[name].kind
    # A rating and a working tension are of one size, and a wrong one of them endangers.
    if name in ("tag", "belt_rated_tension", "belt_operating_tension"):
        return True
    if kind == "yes/no" and not whole:
        # Any yes fits any question: one word of the heading must be the field's own.
        return match.confidence < 0.5
    return kind == "number" and one.unit is None and not whole


def _take(one: Assigned, name: str, some: list[Value], why: str) -> None:
    one.field, one.candidates, one.confidence = name, (), 0.8
    one.why.append(f"{len(some)} cells looked at fit {name}, and {why}")


def _related(table: Table, index: int, found: list[Assigned]) -> set[str]:
    """Fields of the schema's group that the columns beside this one belong to."""
    groups = []
    for near in (index - 1, index + 1, index - 2):
        if 0 <= near < len(found) and (name := found[near].field) is not None:
            heads = {table.headings[near].group, table.headings[index].group}
            if len(heads) == 1:
                groups.append(FIELDS[name].group)
    if not groups or groups[0] in ("Identity",):
        return set()
    return {name for name, spec in FIELDS.items() if spec.group == groups[0]}


# A text heading whose cells are the words of a choice heads that choice: "Load zone: impact bed".
_CHOICE_BEHIND = {"load_point": "load_support", "material": "dust_kind"}


def exchange(table: Table, found: list[Assigned]) -> None:
    """Put right, or ask about, columns of text whose cells are the words of something else."""
    taken = {one.field for one in found}
    for values, one in zip(table.columns, found, strict=True):
        if one.field is None or one.mapped or one.field in ("tag", "notes"):
            continue
        if FIELDS[one.field].kind != "text":
            continue
        some = sample(values)
        other = _CHOICE_BEHIND.get(one.field)
        if other and some and share(some, _words_of(other)) >= 0.7:
            one.why.append(f"its cells are words of {other}")
            if other in taken:
                one.candidates, one.field = (one.field, other), None
            else:
                one.field, one.confidence = other, 0.75
        elif len(some) >= 3 and share(some, _yes("nip_guards")) >= _MOST:
            one.why.append("its cells are yes and no")
            one.candidates, one.field = (one.field,), None
            one.confidence = 0.5
