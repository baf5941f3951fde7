"""Which column tells one conveyor from another: its tag, and no account's or asset's number."""

from __future__ import annotations

import re

from .evidence import Assigned, fits, sample, share
from .grid import Value
from .header_meaning import meaning
from .table import Table

__all__ = ["OF_CONVEYORS", "is_account", "names_conveyor", "tag_of_conveyor", "take_tag"]

OF_CONVEYORS = re.compile(
    r"conv|belt|band|gurt|förder|transport|correa|cinta|faja|correia|bande", re.IGNORECASE
)
"""A word for a conveyor."""
_NUMBER_OF_CONVEYOR = re.compile(
    r"(?:conveyor|conv|belt|cv)\.?\s*(?:#|no\.?|nos\.?|number|id)\Z", re.IGNORECASE
)
_ACCOUNT = re.compile(
    r"\bg\s*/\s*l\b|\b(?:ledger|accounts?|acct|cost|financ\w*|book-?keeping|buchhaltung|"
    r"contab\w*|compta\w*)\b",
    re.IGNORECASE,
)
_NUMBERS_ONLY = re.compile(r"#|n[or°º]?\.?|num(?:ber)?\.?", re.IGNORECASE)
"""A heading that says no more than that its cells are numbers."""
_TAG_WORD = re.compile(r"\btags?\b", re.IGNORECASE)
_NAMES_CONVEYOR = frozenset({"belt", "conveyor", "number", "id", "name", "tag"})
_PLACE_IN_PLANT = re.compile(r"\bfloc\b|\bfunct(?:ional)?\.?\s*loc", re.IGNORECASE)


def tag_of_conveyor(table: Table, found: list[Assigned]) -> None:
    """Put the number of the conveyor before a code of the plant; no account is ever a tag.

    Parameters
    ----------
    table, found
        The table, and what its columns were taken for; changed in place.
    """
    for heading, one in zip(table.headings, found, strict=True):
        if not one.mapped and is_account(heading.text):
            one.candidates = tuple(name for name in one.candidates if name != "tag")
            one.field = None if one.field == "tag" else one.field
    for index, heading in enumerate(table.headings):
        one = found[index]
        numbered = _NUMBER_OF_CONVEYOR.fullmatch(heading.text.strip())
        if one.mapped or one.field not in (None, "tag"):
            continue
        open_to_it = one.field == "tag" or "tag" in one.candidates
        if not numbered and not (open_to_it and names_conveyor(heading.text)):
            continue
        some = sample(table.columns[index])
        if 2 * len(set(some)) < len(some) or share(some, fits("tag")) < 0.8:
            continue
        rivals = [
            (other, code)
            for other, code in zip(table.headings, found, strict=True)
            if code is not one and code.field == "tag"
        ]
        if not numbered and (len(some) < 2 or not rivals):
            return
        plain = [_rules_over(other.text) for other, _ in rivals]
        if any(code.mapped for _, code in rivals) or not (numbered or all(plain)):
            return
        _be_tag(one, max(one.confidence, 0.75), "headed by the number of the conveyor")
        for (other, code), beaten in zip(rivals, plain, strict=True):
            if beaten or _PLACE_IN_PLANT.search(other.text):
                code.field, code.candidates = None, ()
                code.why.append("another column gives the number of the conveyor")
        return


def names_conveyor(text: str) -> bool:
    """Whether a heading names the conveyor and nothing else: "Belt", "Conv. no."."""
    return any(
        {"belt", "conveyor"} & choice and choice <= _NAMES_CONVEYOR
        for choice in meaning(text).choices
    )


def is_account(text: str) -> bool:
    """Whether a heading says that its numbers are those of an account."""
    return bool(_ACCOUNT.search(text))


def _rules_over(text: str) -> bool:
    """Whether a code is beaten by the conveyor's own: an asset's number, a code of the plant."""
    return not _TAG_WORD.search(text) and not OF_CONVEYORS.search(text)


def take_tag(table: Table, found: list[Assigned]) -> None:
    """Where no heading says tag, take the first column that could be one and whose cells are.

    Parameters
    ----------
    table, found
        The table, and what its columns were taken for; changed in place.
    """
    if any(one.field == "tag" for one in found):
        for values, one in zip(table.columns, found, strict=True):
            if one.field is None and "tag" in one.candidates:
                one.candidates = tuple(name for name in one.candidates if name != "tag")
                _only_words_left(values, one)
        return
    for index, one in enumerate(found):
        if one.field is None and "tag" in one.candidates:
            some = sample(table.columns[index])
            if 2 * len(set(some)) < len(some):
                continue  # what many rows share tells no conveyor from another
            part = share(some, fits("tag"))
            if OF_CONVEYORS.search(table.headings[index].text):
                part += share(some, lambda value: isinstance(value, float))
            if part >= 0.8:
                _be_tag(one, 0.75, f"{part:.0%} of its cells look like tags")
                return
    for values, one in zip(table.columns[:1], found[:1], strict=True):
        some = sample(values)
        ids = len(some) >= 3 and len(set(some)) == len(some) and share(some, fits("tag")) == 1
        if ids and one.field is None and not one.mapped:
            _be_tag(one, 0.7, "its cells alone are made like tags, no two alike")
            take_tag(table, found)
            return
    for index, one in enumerate(found):
        if one.field is None and "tag" in one.candidates:
            some = sample(table.columns[index])
            named = OF_CONVEYORS.search(table.headings[index].text)
            if named and len(some) >= 2 and len(set(some)) == len(some):
                _be_tag(one, 0.7, "no two of its cells are alike, and no other column holds tags")
                return
    for values, one in zip(table.columns[:3], found[:3], strict=True):
        some = sample(values)
        tags = share(some, fits("tag"))
        if one.field is None and len(some) >= 2 and tags == 1 and len(set(some)) > len(some) / 2:
            _be_tag(one, 0.7, "all its cells are made like tags, and no heading says tag")
            return
    if found and _NUMBERS_ONLY.fullmatch(table.headings[0].text.strip()):
        one, some = found[0], sample(table.columns[0])
        alone = len(some) >= 3 and len(set(some)) == len(some)
        numbers = share(some, fits("tag"))
        numbers += share(some, lambda value: isinstance(value, float) and value.is_integer())
        # What only counts the rows tells nothing: on another sheet 3 is another conveyor.
        counts = some == [float(number) for number in range(1, len(some) + 1)]
        if one.field is None and not one.mapped and alone and numbers == 1 and not counts:
            _be_tag(one, 0.7, "numbers, no two alike, and nothing else tells the conveyors apart")


def _be_tag(one: Assigned, confidence: float, why: str) -> None:
    one.field, one.candidates, one.question = "tag", (), ""
    one.confidence = confidence
    one.why.append(why)


def _only_words_left(values: list[Value], one: Assigned) -> None:
    """Take a column headed "Conveyor" for what it does, where another gives the tag."""
    if one.candidates == ("service",):
        part = share(sample(values), fits("service"))
        if part >= 0.8:
            one.field, one.candidates, one.confidence = "service", (), 0.7
            one.why.append("another column gives the tag, and its cells are words")
