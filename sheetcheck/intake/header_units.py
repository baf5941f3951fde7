"""The unit that a heading names, told from its wording, and whether a field can be in it."""

from __future__ import annotations

import re
from functools import lru_cache

from ..register.fields import FIELDS
from ..units import factor
from .header_meaning import BRACKETS
from .quantities import TONS, parse_unit

__all__ = ["fits_unit", "money_unit", "split_unit"]

# Feet and inches: no unit of a bare number, whose 7.5 may be 7 ft 5 in.
_FEET_INCHES = re.compile(
    r"[(\[,]?\s*\b(?:ft|feet)\.?\s*[-/&]?\s*(?:in|inch|inches)\b\.?[)\]]?", re.I
)
_CURRENCY = re.compile(
    r"(?:(?:US|AU|A|NZ|C|CA|R|N)?[$€£¥]|R|Rs\.?|[A-Z]{3})\s*(?:/|per)\s*"
    r"(?:(?P<hour>h|hr|hour|std|H|HR|Hr)|(?P<tonne>t|te|tonne|T))\Z"
)
_LEADING = re.compile(r"m|mm|ft|piw|fpm|tph|\S+\s?/\s?\S+|m/s|kN/m", re.IGNORECASE)
_BETWEEN = frozenset(
    {"mm", "MM", "m/s", "t/h", "kN/m", "fpm", "FPM", "tph", "TPH", "PIW", "ft", "FT"}
)
"""Units that are no other word, wherever they stand in a heading."""


def money_unit(header: str) -> str | None:
    """Unit of a heading that is a price and nothing else: ``$/HR``; None where it is not."""
    return None if parse_unit(header) or not _CURRENCY.match(header.strip()) else _one_unit(header)


def _one_unit(text: str) -> str | None:
    text = text.strip(" ,;:-")
    if not text:
        return None
    if unit := parse_unit(text):
        return unit
    money = _CURRENCY.match(text)
    return None if money is None else "currency/h" if money["hour"] else "currency/t"


@lru_cache(maxsize=1 << 12)
def split_unit(header: str) -> tuple[str, str | None]:
    """Split a header into its wording and the unit it names, if any.

    Units stand in brackets, after a comma or dash, or as the last words.
    """
    header = re.sub(r"±|\+/-", " ", header.replace("_", " "))
    header = " ".join(_FEET_INCHES.sub(" ", header).split())
    for bracket in BRACKETS.finditer(header):
        inside = bracket[1].strip()
        unit, rest = _one_unit(inside), ""
        if unit is None:
            parts = re.split(r"\s*[,;]\s*|\s+", inside, maxsplit=1)
            if len(parts) == 2 and parts[0] not in ("-", "'") and (unit := _one_unit(parts[0])):
                rest = parts[1]
        if unit is not None:
            before, after = header[: bracket.start()], header[bracket.end() :]
            return " ".join(f"{before} {rest} {after}".split()), unit
    words = header.split(" ")
    for count in (3, 2, 1):
        if len(words) > count:
            tail = " ".join(words[-count:])
            unit = _one_unit(tail) if not tail.startswith(("-", "–")) or len(tail) > 2 else None
            if unit is not None and tail.casefold() not in ("ratio", "fraction", "-", "n", "t"):
                rest = re.sub(r"[\s,;:–-]+\Z|\s+in\Z", "", " ".join(words[:-count]), flags=re.I)
                return rest, unit
    for cut in (header.rfind(","), header.rfind(" - "), header.rfind("–")):
        after = header[cut + 1 :].strip(" -")
        if cut > 0 and (unit := _one_unit(after)):
            return header[:cut].strip(" ,"), unit
        first, _, rest = after.partition(" ")
        # "Crew, $/h all up": only a unit with a stroke is safe from being a word.
        if cut > 0 and "/" in first and (unit := _one_unit(first)):
            return f"{header[:cut].strip(' ,')} {rest}", unit
    # "t/week swept", "m apart": the unit first, where it can be no other word.
    for count in (2, 1):
        lead = " ".join(words[:count]).strip(",;")
        if len(words) > count and _LEADING.fullmatch(lead) and (unit := _one_unit(lead)):
            return " ".join(words[count:]), unit
    for at in range(1, len(words) - 1):
        if words[at].strip(",;") in _BETWEEN:  # "Wander mm either side", "ROLLS FT APART"
            return " ".join(words[:at] + words[at + 1 :]), _one_unit(words[at])
    if "%" in words and len(words) > 1:
        return " ".join(word for word in words if word != "%"), "%"
    return header, "%" if header.startswith("%") else None


def fits_unit(field: str, unit: str | None) -> bool:
    """Whether numbers of `field` can be in `unit`; no unit fits every field."""
    if unit is None:
        return True
    kind, own = FIELDS[field].kind, FIELDS[field].unit
    if kind in ("number", "lift"):
        return (own == "t/h") if unit == TONS else factor(unit, own) is not None
    return kind == "count" and unit == "1"
