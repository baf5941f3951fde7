"""Which rules of the table hold in the jurisdiction that a limits file names in its own words."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import cache

from ..tables import JURISDICTIONS, REGULATIONS

__all__ = ["INTERNATIONAL", "holds_in", "places_of", "rules_of"]

INTERNATIONAL = "international"
"""Place of standards that can be used anywhere; they bind where law or contract says so."""

_CODES = {name: place for name, place in JURISDICTIONS.items() if name.isupper()}
_NAMES = {n.casefold(): place for n, place in JURISDICTIONS.items() if n not in _CODES}
_STATES = [n for n, place in _NAMES.items() if place == "US" and not n.startswith("united")]


def _any_of(names: Iterable[str]) -> str:
    longest_first = sorted(names, key=len, reverse=True)
    return rf"\b(?:{'|'.join(map(re.escape, longest_first))})\b"


# A town of a state of the US may bear the name of another country or state.
_NAME = re.compile(rf"{_any_of(_NAMES)}(?!\s*,\s*{_any_of(_STATES)})")
# Codes within other words count in capitals only, and only those that are no words in capitals.
_CODE = re.compile(r"\b(?:USA?|EU|UK|NZ)\b")
_DOT_BETWEEN_CAPITALS = re.compile(r"(?<=\b[A-Z])\.(?=[A-Z]\b)")


def places_of(jurisdiction: str) -> tuple[str, ...]:
    """Give the places that a text names, such as ``("AU",)`` for "Queensland, Australia".

    Parameters
    ----------
    jurisdiction
        A country, state or province by name, or a code such as ``us`` standing alone.

    Returns
    -------
    tuple of str
        Codes as in ``jurisdictions.csv``, the narrower in place of the wider; empty where the
        table knows none of it.
    """
    text = _DOT_BETWEEN_CAPITALS.sub("", jurisdiction)
    alone = text.strip(" .\t\n").upper()
    if alone in _CODES:
        return (_CODES[alone],)
    found = [_NAMES[name] for name in _NAME.findall(text.casefold())]
    found += [_CODES[code] for code in _CODE.findall(text)]
    return tuple(
        place
        for place in dict.fromkeys(found)
        if place and not any(other.startswith(f"{place}-") for other in found)
    )


def holds_in(rule: str, places: Sequence[str]) -> bool:
    """Whether a rule is one of any of `places`, of a part of it, or of what it is a part of."""
    own = REGULATIONS[rule]["places"].split()
    return any(
        one == place or one.startswith(f"{place}-") or place.startswith(f"{one}-")
        for one in own
        for place in places
    )


@cache
def rules_of(check: str, jurisdiction: str) -> tuple[str, ...]:
    """Rules behind a check that hold where a text names; none where its own authority does."""
    places = places_of(jurisdiction)
    own = [cite for cite, line in REGULATIONS.items() if check in line["checks"].split()]
    return () if "US" in places else tuple(rule for rule in own if holds_in(rule, places))
