"""Text of a cell to a quantity: a number or a range, its unit, and what is doubtful about it."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from ..units import SPELLINGS, factor

__all__ = [
    "TONS",
    "Quantity",
    "clean",
    "parse_number",
    "parse_quantity",
    "parse_unit",
]

TONS = "TPH"
"""Unit of a rate in "TPH" or "tons": short or metric, as the register's other units tell."""

_TONS = frozenset(
    {"tph", "t.p.h", "ton/h", "ton/hr", "ton/hour", "ton per hour"}
    | {"tons/h", "tons/hr", "tons/hour", "tons per hour"}
)


@dataclass(frozen=True, slots=True)
class Quantity:
    """What a cell's text says.

    Attributes
    ----------
    low, high
        Equal for a plain number. ``±inf`` for an end that the text leaves open.
    unit
        Canonical unit, or None where the text names none.
    approximate
        Whether it is marked approximate.
    others
        Further readings of the same digits ("1,200" is 1200 or 1.2); the register must settle it.
    note
        What else the cell says, or how it was read; empty where there is nothing to say.
    """

    low: float
    high: float
    unit: str | None = None
    approximate: bool = False
    others: tuple[float, ...] = ()
    note: str = ""


# No quantity needs so many characters; patterns could look at a longer text for minutes, and so
# many digits are no number that a computer holds.
_LONGEST = 300

_DASHES = str.maketrans(dict.fromkeys("‐‑‒–—−", "-"))
_SIGNS = str.maketrans({"’": "'", "‘": "'", "´": "'", "′": "'", "″": '"', "“": '"', "”": '"'})
_GLYPHS = {
    glyph: " " + unicodedata.normalize("NFKC", glyph).replace("\N{FRACTION SLASH}", "/")
    for glyph in "¼½¾⅛⅜⅝⅞⅓⅔"
}


def clean(text: str) -> str:
    """Put text into one spelling: single plain blanks, plain dashes and quotation marks."""
    if text.isascii() and text.isprintable():  # nearly all
        return " ".join(text.replace("''", '"').split())
    for glyph, fraction in _GLYPHS.items():
        text = text.replace(glyph, fraction)
    text = text.replace("''", '"').replace("‚", ",")
    text = "".join(
        " " if unicodedata.category(sign) in ("Zs", "Cc", "Cf") else sign for sign in text
    )
    return " ".join(text.translate(_DASHES).translate(_SIGNS).split())


_HOURS_A_WEEK = re.compile(
    r"(?:(?:man|person|people|crew|labou?r|mann|p|m|h)[ -]?)?"
    r"(?:h|hrs?|hours?|std|stunden|horas?|heures?)\.?\s*(?:/|per\b|a\b|pro\b|por\b|par\b)"
    r"\s*(?:w|wk|week|woche|wo|wch|sem|semana|semaine)\.?"
)


@lru_cache(maxsize=1 << 12)
def parse_unit(text: str) -> str | None:
    """Give the canonical unit a text spells (or `TONS`), None where it is none.

    Blanks, brackets, a trailing full stop and the signs of multiplication do not matter.
    """
    text = clean(text).casefold().strip(" []()")
    if text in _TONS:
        return TONS
    for spelling in (text, text.rstrip("."), text.replace(" ", ""), text.replace(".", "")):
        if spelling in SPELLINGS:
            return SPELLINGS[spelling]
    return "h/week" if _HOURS_A_WEEK.fullmatch(text) else None


# --- numbers ---------------------------------------------------------------------------------

_DIGITS = r"\d+(?:[ ,.']\d{3})+(?:[.,]\d+)?|\d+(?:[.,]\d+)?|[.,]\d+"
_GROUPED = re.compile(r"\d{1,3}(?:([ '])\d{3})(?:\1\d{3})*(?:[.,]\d+)?\Z")
_GROUPED_DEEP = re.compile(r"\d{1,3}([.,])\d{3}(?:\1\d{3})+(?:(?!\1)[.,]\d+)?\Z")
_BOTH = re.compile(r"\d{1,3}([.,])\d{3}(?:\1\d{3})*(?!\1)[.,]\d+\Z")
_ONE_GROUP = re.compile(r"[1-9]\d{0,2}[.,]\d{3}\Z")


def parse_number(digits: str) -> tuple[float, ...]:
    """Readings of a written number without sign: none, one, or two where the mark is unclear.

    ``"1,200"`` is 1200 or 1.2 and ``"1.500"`` 1.5 or 1500, the likelier reading first.
    """
    if re.fullmatch(r"\d+", digits):
        return (float(digits),)
    if _GROUPED.match(digits):
        digits = re.sub(r"[ ']", "", digits)
        return parse_number(digits) if re.fullmatch(r"\d+", digits) else (_decimal(digits),)
    if deep := _GROUPED_DEEP.match(digits):
        whole = digits.replace(deep[1], "")
        return (_decimal(whole),)
    if both := _BOTH.match(digits):
        return (_decimal(digits.replace(both[1], "")),)
    if _ONE_GROUP.match(digits):
        grouped, decimal = float(re.sub("[.,]", "", digits)), _decimal(digits)
        return (grouped, decimal) if "," in digits else (decimal, grouped)
    if re.fullmatch(r"\d*[.,]\d+", digits):
        return (_decimal(digits),)
    return ()


def _decimal(digits: str) -> float:
    return float(digits.replace(",", "."))


def _fraction(text: str) -> Fraction | None:
    """Value of ``3/8``; None where it is no fraction that a rule is divided into."""
    above, below = (int(part) for part in text.split("/"))
    if above < below and below in (2, 3, 4, 5, 8, 10, 16, 32, 64):
        return Fraction(above, below)
    return None


# --- one figure ------------------------------------------------------------------------------

_SIGN = r"(?P<sign>[-+])?\s*"
_FEET_INCHES = re.compile(
    _SIGN
    + r"(?P<feet>\d+(?:\.\d+)?)\s*"
    + r"(?:'\s*-?\s*|(?:ft\.?|feet|foot)(?:\s*-\s*|\s+|(?=[\d /]+(?:\"|in))))"
    + r"(?:(?P<inches>\d+(?:\.\d+)?)(?:\s*[- ]\s*(?P<part>\d+/\d+))?|(?P<only>\d+/\d+))\s*"
    + r"(?:\"|ins?\b\.?|inch(?:es)?\b)?",
    re.IGNORECASE,
)
_INCHES_FRACTION = re.compile(
    _SIGN + r"(?:(?P<whole>\d+)\s*[- ]\s*)?(?P<part>\d+\s*/\s*\d+)(?!\s*/|\d)"
)
_PLAIN = re.compile(_SIGN + rf"(?P<digits>{_DIGITS})(?![\d])")
_UNIT_WORD = re.compile(r"\s*(?P<unit>%|°|º|\"|'|[A-Za-zµ][A-Za-zµ./²³^0-9 -]*)", re.UNICODE)
_APPROXIMATE = re.compile(
    r"(?:~|≈|approx(?:imately)?\.?|aprox\.?|appr\.?|about|ca\.|ca\b|circa|c\.|est\.?|"
    r"say\b|env\.?|etwa|cerca de)\s*",
    re.IGNORECASE,
)
_TRAILING_DOUBT = re.compile(
    r"\s*(?:\?+|\(\?\)|\(?\s*(?:approx\.?|aprox\.?|ca\.?|est\.?|estimated|approximately)\s*\)?)\Z",
    re.IGNORECASE,
)
_FOOTNOTE = re.compile(r"\s*(?:\(\*+\)|\*+|\[\d{1,2}\]|[¹†‡]|(?<=\d)[²³])\Z")
_BELOW = re.compile(r"(?:<=?|≤|under|less than|below|up to|max\.?|unter|bis)\s*(?=[\d.,])", re.I)
_ABOVE = re.compile(r"(?:>=?|≥|over|more than|above|at least|min\.?|über)\s*(?=[\d.,])", re.I)
_OFF = re.compile(r"\s*(?:off|nos?\.?|pcs?\.?|x|ea\.?|each|stk\.?|stück|pz|uds?\.?|pçs?)\Z", re.I)

_HOURS = re.compile(r"(?:man[ -]?)?(?:h|hrs?|hours?|hs|std|stunden?|horas?|heures?)\.?", re.I)
"""Hours in a column of hours a week or a year: its heading says of which."""


@dataclass(frozen=True, slots=True)
class _Figure:
    values: tuple[float, ...]
    unit: str | None
    rest: str


def _unit_after(text: str) -> tuple[str | None, str]:
    """Longest unit at the start of `text`, and what follows it."""
    match = _UNIT_WORD.match(text)
    if not match:
        return None, text
    words = match["unit"]
    for end in range(len(words), 0, -1):
        following = text[match.start("unit") + end :]
        whole = not (words[end - 1].isalnum() and following[:1].isalnum())
        if whole and (unit := parse_unit(words[:end])) and words[end - 1] not in " -":
            return unit, following
    return None, text


def _figure(text: str, inches: bool) -> _Figure | None:
    """Read the figure that starts `text`; `inches` tells that a bare fraction is of an inch."""
    if match := _FEET_INCHES.match(text):
        part = match["part"] or match["only"]
        fraction = _fraction(part) if part else Fraction(0)
        whole = float(match["inches"] or 0)
        if fraction is None or whole >= 12:
            return None
        value = float(match["feet"]) * 12 + whole + float(fraction)
        return _Figure((_signed(match, value),), "in", text[match.end() :])
    if match := _INCHES_FRACTION.match(text):
        fraction = _fraction(match["part"])
        unit, rest = _unit_after(text[match.end() :])
        if fraction is not None and (unit in ("in", "ft") or (unit is None and inches)):
            value = float(match["whole"] or 0) + float(fraction)
            return _Figure((_signed(match, value),), unit or "in", rest)
        return None
    if match := _PLAIN.match(text):
        unit, rest = _unit_after(text[match.end() :])
        values = tuple(_signed(match, value) for value in parse_number(match["digits"]))
        return _Figure(values, unit, rest) if values else None
    return None


def _signed(match: re.Match[str], value: float) -> float:
    return -value if match["sign"] == "-" else value


@lru_cache(maxsize=1 << 16)
def parse_quantity(text: str, column_unit: str | None = None) -> Quantity | str:
    """Read a cell's text as one quantity.

    Parameters
    ----------
    text
        As it stands in the cell.
    column_unit
        Canonical unit of the column, if known; it tells whether a bare ``7/8`` is of an inch and
        whether ``7-9`` may be feet and inches.

    Returns
    -------
    Quantity or str
        The quantity, or in words why the text is none.
    """
    if len(text) > _LONGEST:
        return "is too long for one number"
    body = clean(text)
    bare = _FOOTNOTE.sub("", body)
    note = "a footnote mark was left out" if bare != body else ""
    body, approximate = bare, False
    if (doubt := _TRAILING_DOUBT.sub("", body)) != body:
        body, approximate = doubt, True
    if lead := _APPROXIMATE.match(body):
        body, approximate = body[lead.end() :], True
    found = _read(body, column_unit)
    if isinstance(found, str):
        return found
    return replace(
        found,
        approximate=approximate or found.approximate,
        note="; ".join(part for part in (found.note, note) if part),
    )


def _read(body: str, column_unit: str | None) -> Quantity | str:
    inches = column_unit in ("in", "ft")
    if lead := _BELOW.match(body):
        return _open_end(body[lead.end() :], inches, below=True)
    if lead := _ABOVE.match(body):
        return _open_end(body[lead.end() :], inches, below=False)
    body = re.sub(r"\A(?:\+/-|\+-|±)\s*(?=\d)", "", body)
    figure = _figure(body, inches)
    if figure is None:
        return "is not a number" if not re.search(r"\d", body) else "cannot be read as one number"
    rest = figure.rest.strip()
    if not rest or _OFF.fullmatch(rest):
        return _quantity(figure)
    if column_unit in ("h/week", "h/year") and figure.unit is None and _HOURS.fullmatch(rest):
        return _quantity(figure)
    if spread := re.match(r"(?:\+/-|\+-|±)\s*", rest):
        return _spread(figure, _figure(rest[spread.end() :], inches))
    if dash := re.match(r"(?:-|to\b|bis\b|a\b|à\b|\.\.\.?|…|and\b)\s*(?=[\d.,])", rest, re.I):
        return _range(figure, _figure(rest[dash.end() :], inches), rest, column_unit)
    if twin := re.match(r"[(\[=/]\s*", rest):
        return _twin(figure, rest[twin.end() :], inches, column_unit)
    if figure.unit is not None and rest[0] in ",;(":
        return replace(_quantity(figure), note=f"the rest was left out: {rest[1:80].strip()}")
    if re.match(r"[x×*/:]\s*\d", rest, re.I) or re.match(r"\(\w", rest):
        return "holds two values"
    if figure.unit is None and re.fullmatch(r"[A-Za-z./²³0-9 -]{1,14}", rest):
        return f"has a unit that is not known: {rest!r}"
    return "cannot be read as one number"


def _quantity(figure: _Figure) -> Quantity:
    first, *others = figure.values
    return Quantity(first, first, figure.unit, others=tuple(others))


def _open_end(text: str, inches: bool, *, below: bool) -> Quantity | str:
    figure = _figure(text, inches)
    if figure is None or figure.rest.strip() or len(figure.values) > 1:
        return "cannot be read as one number"
    value = figure.values[0]
    low, high = (float("-inf"), value) if below else (value, float("inf"))
    return Quantity(low, high, figure.unit)


def _same_unit(one: _Figure, other: _Figure) -> str | None:
    return other.unit if one.unit is None else one.unit


def _spread(middle: _Figure, around: _Figure | None) -> Quantity | str:
    if around is None or around.rest.strip() or len(middle.values + around.values) > 2:
        return "cannot be read as one number"
    value, width = middle.values[0], around.values[0]
    if around.unit == "%" and middle.unit != "%":
        width = abs(value) * width / 100
    elif around.unit is not None and middle.unit is not None and around.unit != middle.unit:
        return "cannot be read as one number"
    unit = middle.unit if around.unit == "%" else _same_unit(middle, around)
    return Quantity(value - width, value + width, unit)


def _range(
    low: _Figure, high: _Figure | None, rest: str, column_unit: str | None
) -> Quantity | str:
    if high is None or high.rest.strip() or len(low.values + high.values) > 2:
        return "cannot be read as a range"
    if low.unit is not None and high.unit is not None and low.unit != high.unit:
        return "is a range in two units"
    from_, to = low.values[0], high.values[0]
    if to <= from_:
        return "is not a range from a lower to a higher value"
    feet = low.unit is None and high.unit in (None, "in", "ft") and column_unit in ("ft", "in")
    if feet and rest.startswith("-") and to < 12:
        return "may be a range or feet and inches"
    return Quantity(from_, to, _same_unit(low, high))


def _twin(first: _Figure, rest: str, inches: bool, column_unit: str | None) -> Quantity | str:
    """Read ``0.9 m (36 in)``: two figures that must agree within 2 %."""
    unit = first.unit if first.unit is not None else column_unit
    second = _figure(rest, inches)
    if second is None:
        if first.unit is not None and not re.search(r"\d", rest):
            return replace(_quantity(first), note=f"the rest was left out: {rest[:80]}")
        return "cannot be read as one number"
    closed = second.rest.strip(" )]")
    if closed or unit is None or second.unit is None or unit == second.unit:
        return "holds two values"
    ratio = _ratio(second.unit, unit)
    if ratio is None or len(first.values + second.values) > 2:
        return "holds two values"
    one, other = first.values[0], second.values[0] * ratio
    if abs(one - other) > 0.02 * abs(one):
        return "holds two figures that do not agree"
    return replace(_quantity(first), note="two agreeing figures, the first was taken")


def _ratio(unit: str, other: str) -> float | None:
    """Factor between two units of the same kind, through any unit both convert to."""
    if TONS in (unit, other):
        return None
    for common in ("m", "m/s", "kN/m", "t/m³", "t/h", "m³/s", "m²", "kN", "kg/m", "kg/m²"):
        up, down = factor(unit, common), factor(other, common)
        if up is not None and down is not None:
            return up / down
    return None
