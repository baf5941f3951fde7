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
from .evidence import (
    ENOUGH,
    Assigned,
    bare_numbers,
    cell_unit,
    fits,
    is_number,
    sample,
    share,
    typical_share,
)
from .grid import Value
from .header_context import names_another
from .header_meaning import meaning
from .headers import WORDING_ALONE, Match, fits_unit
from .numbers import likely_unit
from .table import Table
from .words import read_choice, read_yes

__all__ = ["by_words", "exchange", "settle"]

_MOST = 0.8
"""Share of the cells that must speak for a field."""


def _yes(name: str) -> Callable[[Value], bool]:
    def test(value: Value) -> bool:
        if isinstance(value, bool):
            return True
        word = read_yes(name, value) if isinstance(value, str) else None
        ranked = isinstance(value, str) and value.strip().isdigit() and value.strip() > "1"
        return word is not None and word.value in ("yes", "no") and not ranked

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


def _only_describes(text: str) -> bool:
    """Whether a heading asks what the conveyor is or does, and names no part of it."""
    return {"description"} in meaning(text).choices


def _has_letter(value: Value) -> bool:
    return isinstance(value, str) and bool(re.search(r"[^\W\d_]", value))


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
        if name in ("load_point", "source_tag"):  # "J1", "HP-2"
            words = share(some, _has_letter) >= _MOST
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
    elif unit is None and (own := cell_unit(some)) is not None:
        return 1.0 if fits_unit(name, own) else 0.0
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


# Words that no other question of a register has, with the groups of the schema that a column of
# them stands among ("steel", "spring" and "bed" are said of other things elsewhere).
_UNMISTAKABLE = {
    "splice_kind": (),
    "load_support": ("Loading", "Sealing"),
    "cleaner_tensioner": ("Cleaning",),
    "belt_carcass": ("Belt",),
}


def by_words(table: Table, found: list[Assigned], matches: list[Match]) -> None:
    """Take a column whose heading says nothing that is known for what its cells can only be.

    Parameters
    ----------
    table, found, matches
        As for `settle`.
    """
    taken = {one.field for one in found}
    for index, (one, match) in enumerate(zip(found, matches, strict=True)):
        silent = match.why in ("no known word", "fits no field", "a word is missing to tell")
        if one.field is not None or one.mapped or not silent:
            continue
        if names_another(table.headings[index].text):
            continue
        some = sample(table.columns[index])
        if len(some) < 3 or len(set(map(str, some))) < 2:
            continue
        near = {FIELDS[name].group for name in _beside(found, index)}
        could = [
            name
            for name, groups in _UNMISTAKABLE.items()
            if name not in taken and (not groups or near & set(groups)) and _all_say(name, some)
        ]
        if len(could) == 1:
            taken.add(could[0])
            _take(one, could[0], some, "its heading says nothing that is known")
            one.confidence = 0.75


def _beside(found: list[Assigned], index: int) -> set[str]:
    near = (found[at].field for at in (index - 1, index + 1) if 0 <= at < len(found))
    return {name for name in near if name is not None}


def _all_say(name: str, some: list[Value]) -> bool:
    """Whether every cell is a word of a field, at least two of them different ones."""
    words = [read_choice(name, value) if isinstance(value, str) else None for value in some]
    values = {word.value for word in words if word is not None and word.value}
    told = sum(word is not None and bool(word.value) and not word.note for word in words)
    return len(values - {"other"}) >= 2 and told >= 0.9 * len(some)


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
        sure_but = match.confidence > 0.5 or asked
        described = name == "service" and _only_describes(table.headings[index].text)
        asked |= described and len(some) >= 3
        whole = set(match.candidates) - {"tag"} == {name} and (asked if text else sure_but)
        if FIELDS[name].numeric:
            told = whole or (
                "sibling" in FIELDS[name].beside and (name in beside or len(viable) < len(free))
            )
            in_unit = one.unit is not None or cell_unit(some) is not None
            told |= in_unit and _lacks_its_part(name, match, beside)
        else:
            told = whole or speaks[name] > 1 or bool(beside)
        if told and not _shy(name, match, whole, one):
            _take(one, name, some, "its cells fit no other of those open")
    elif len(beside) == 1:
        name = beside[0]
        close = not FIELDS[name].numeric or "sibling" in FIELDS[name].beside
        if close and not _shy(name, match, False, one):
            _take(one, name, some, "so do the columns beside it")


def _lacks_its_part(name: str, match: Match, beside: list[str]) -> bool:
    """Whether a heading with its unit names all of a size but what the columns beside name."""
    alone = match.candidates == (name,) and match.confidence >= 0.5
    return alone and "only one" in FIELDS[name].beside and name in beside


def _shy(name: str, match: Match, whole: bool, one: Assigned) -> bool:
    """Whether a field is not to be taken on the cells' word alone."""
    kind = FIELDS[name].kind
    # A rating and a working tension are of one size, and a wrong one of them endangers.
    if name in ("tag", "belt_rated_tension", "belt_operating_tension"):
        return True
    if kind == "yes/no" and not whole:
        # Any yes fits any question: one word of the heading must be the field's own.
        return match.confidence < 0.5
    if kind == "yes/no" and match.confidence < ENOUGH and match.why != WORDING_ALONE:
        # "Guards missing" and "Pull cord tested": a word that nobody knows may turn the answer.
        return True
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


def _no_text_of(name: str, some: list[Value]) -> str:
    """Why cells cannot be of a text field, in words; empty where they can."""
    if len(some) < 3:
        return ""
    numbers = share(some, lambda value: isinstance(value, float))
    if name in ("service", "material") and numbers >= _MOST:
        return "its cells are numbers"
    if name == "area" and {str(value) for value in some} <= _EX_ZONES:
        return "its cells are zones of explosive dust or gas"
    if name == "load_point" and numbers >= _MOST and not _are_numbered(some):
        return "its cells count or measure something"
    if name == "source_tag" and len(set(map(str, some))) == 1:
        return "all its cells are the same, and no conveyors have one source"
    codes = share(some, lambda value: isinstance(value, str) and bool(_CODE.match(value.strip())))
    if name in ("service", "material") and codes >= _MOST and len(set(some)) == len(some):
        return "its cells are codes, no two alike"
    if name == "material" and len(set(some)) > 1:
        parts = (part for part in _OF_PARTS if share(some, _words_of(part)) >= _MOST)
        other = next(parts, None)
        return "" if other is None else f"its cells are words of {other}"
    return ""


_EX_ZONES = frozenset({"0.0", "1.0", "2.0", "20.0", "21.0", "22.0", "20", "21", "22"})
_CODE = re.compile(r"[A-Z]{0,4}[-./ ]?\d{2,}[A-Z]?\Z")
_OF_PARTS = ("primary_blade", "load_support", "cleaner_tensioner")


def _are_numbered(some: list[Value]) -> bool:
    """Whether cells number something from one on: 1, 1, 2, 1, 2, 3."""
    numbers = {value for value in some if isinstance(value, float)}
    running = len(numbers) == len(some)  # 1, 2, 3 down the list numbers its lines
    few = all(1 <= value <= 12 for value in numbers) and len(numbers) > 1
    return 1.0 in numbers and few and not running


def exchange(table: Table, found: list[Assigned]) -> None:
    """Put right, or ask about, columns of text whose cells are the words of something else."""
    taken = {one.field for one in found}
    for values, one in zip(table.columns, found, strict=True):
        if one.field is None or one.mapped or one.field in ("tag", "notes"):
            continue
        if one.field == "belt_carcass" and "belt_designation" not in taken:
            some = sample(values)
            if some and share(some, _is_designation) >= _MOST:
                one.field = "belt_designation"
                one.why.append("its cells are made like designations of belts")
        if FIELDS[one.field].kind != "text":
            continue
        some = sample(values)
        doubt = _no_text_of(one.field, some)
        if one.field == "material" and one.confidence < 1 and share(some, fits("material")) < 0.5:
            doubt = doubt or "its cells hold no words"
        if doubt:
            one.why.append(doubt)
            one.candidates, one.field, one.confidence = (one.field,), None, 0.5
            continue
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
