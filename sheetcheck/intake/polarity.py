"""Polarity: whether a yes says that a thing is there, that it is not, or bad news of it.

What bears on people is taken for good only where every word over it is understood. In
``polarity.csv`` a star ends a stem, # begins a number, ~ is up to two words; ``harmless`` wordings
are no news, ``own`` ones a field's meaning holds, ``not`` and ``absent`` turn a heading, ``bad``
is bad news anywhere, ``local`` in headings and cells, ``cell`` in cells; ``known`` words say
nothing, ``mark`` words ask for a mark, ``other`` ones begin numbers of what is no procedure.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import cache

from ..data import rows
from ..register.fields import FIELDS
from .grid import Grid
from .header_meaning import meaning, word_list
from .table import Table

__all__ = [
    "OPPOSITE",
    "bad_news",
    "bad_title",
    "doubt",
    "names_document",
    "said_around",
    "turned",
    "without_news",
]

OPPOSITE = "yes means missing here"
"""What is said of a column that answers whether something is missing."""

_CELL = ("not", "absent", "bad", "local", "cell")
_HEADING = ("not", "absent", "bad", "local")


@cache
def _words(kind: str) -> re.Pattern[str]:
    found = [word for row in rows(__package__, "polarity.csv") if row["kind"] == kind
             for word in row["words"].split("|")]  # fmt: skip
    stems = "|".join(map(re.escape, sorted(found, key=len, reverse=True)))
    for sign, pattern in ((r"\ \~", r"(?: \S+){0,2}"), (r"\*", r"\w*"), (r"\#", r"\d\w*")):
        stems = stems.replace(sign, pattern)
    return re.compile(rf"(?<!\S)(?:{stems})(?!\S)" if stems else r"(?!)")


@cache
def _plain(text: str, field: str = "") -> str:
    """Text as the words stand in the list, without what is no news."""
    text = re.sub("[º°№]", " ", text)  # "nº doc." numbers documents
    plain = _words("harmless").sub("/", " ".join(word_list(text)))
    return _words(f"own {field}").sub("/", plain)


@cache
def bad_news(text: str, field: str = "", kinds: Sequence[str] = _CELL) -> str:
    """First word of a text that takes a yes back, or turns it; "" where there is none."""
    found = (_words(kind).search(_plain(text, field)) for kind in kinds)
    return next((word[0] for word in found if word), "")


@cache
def turned(heading: str) -> str:
    """Heading without its one wording of absence; "" where it has none, or says more."""
    plain = _plain(heading)
    plain, absent = _words("absent").subn(" ", plain)
    plain, particles = _words("not").subn(" ", plain)
    number = re.search(r"\bno\.|\d", heading, re.IGNORECASE)
    one = absent + particles == 1 and not number
    return plain.strip() if one and not bad_news(heading, "", ("bad", "local")) else ""


@cache
def without_news(heading: str) -> str:
    """Heading without what makes it bad news, so that the thing itself is left; "" without any."""
    words = " ".join(word_list(heading))
    harmless = _words("harmless").findall(words)  # "not halt" is a thing, and "not" no news of it
    plain = left = _words("harmless").sub("/", words)
    for kind in _HEADING:
        left = _words(kind).sub(" ", left)
    if left == plain:
        return ""
    for thing in harmless:
        left = left.replace("/", thing, 1)
    return left.strip()


def said_around(grid: Grid, table: Table) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Titles (the sheet's name the first) and remarks above and below a table."""
    own = {part for one in table.headings for part in (one.text, one.group, one.unit_text)}
    top, last = table.header_rows[0] - 1, max((row for _, row in table.at), default=0)
    if table.kind != "table":
        own |= {cell for values in table.columns for cell in values if isinstance(cell, str)}
        top, last = min(9, len(grid.rows)), len(grid.rows) - 6
    above, below = (
        [
            text
            for row in some
            if len(texts := {cell for cell in row if isinstance(cell, str) and cell.strip()}) <= 6
            for text in sorted(texts - own)
        ]
        for some in (grid.rows[: min(top, 9)] + grid.rows[max(9, top - 9) : top], grid.rows[last:])
    )
    titles = [text for text in above if len(text.split()) <= _TITLE and "=" not in text]
    return (table.sheet, *titles), (*above, *below)


_TITLE = 12
"""Words of the longest title; what is longer is a remark."""
_DEVICES = {"guard", "nip", "stop", "emergency", "isolation", "reach", "plough", "cleaner", "door"}


@cache
def bad_title(text: str) -> str:
    """First word of a title that makes bad news of what stands below; "" where none does."""
    # "No" stands in titles for many things: only what it is said of devices is bad news.
    of_devices = any(_DEVICES & choice for choice in meaning(text).choices)
    return bad_news(text, "", ("absent", "bad", "not") if of_devices else ("absent", "bad"))


_CLAUSES = re.compile(r"[,;/|()]|\s[-–]\s|\s{3,}|\s(?=\w{1,4}\s*=)")
_YES = re.compile(r"(?:y|yes|x|ja?|s[ií]?|sim|o|oui|true|1|tick(?:s|ed)?)\b|[✓✔☑√●]", re.I)


@cache
def _bad_mark(text: str) -> str:
    """Clause that makes a mark or a yes bad news, as ``Y = missing`` does; "" where none does."""
    for clause in map(str.strip, _CLAUSES.split(text)):
        asked = _YES.match(clause) or _words("mark").search(_plain(clause))
        if asked and bad_news(clause, "", _HEADING):
            return clause
    return ""


# --- columns -----------------------------------------------------------------------------------


def doubt(
    field: str,
    heading: str,
    group: str,
    around: tuple[Sequence[str], Sequence[str]],
    answers: Iterable[tuple[str, str]],
    strict: Sequence[str],
) -> str:
    """Why a yes in a column may be bad news; `OPPOSITE` where it surely is, "" where it is not.

    Parameters
    ----------
    field, heading, group, around
        What the column was taken for, what stands over it, and titles and remarks of its table.
    answers
        Its different cells, each with the plain "yes" or "no" that it is, how else it was read, or
        "" where it was not.
    strict
        What must be understood word by word.
    """
    answered, people = FIELDS[field].kind == "yes/no", FIELDS[field].people
    kinds = _HEADING if answered else ("absent", "bad")
    if word := bad_news(group, field, kinds):
        return f"it stands under {group!r}, and {word!r} may turn its answers"
    said = bad_news(heading, field, kinds)
    if not answered:
        return said and f"{said!r} may turn its numbers"
    titles, remarks = around if people else ((), ())
    for title in filter(bad_title, titles):
        return f"{title!r} says {bad_title(title)!r}, which may turn its answers"
    for mark in filter(None, map(_bad_mark, remarks)):
        return f"a remark says {mark!r}"
    cells = list(answers)
    if said:
        present = turned(heading)
        plain = all(word in ("yes", "no") and not text.isdigit() for text, word in cells)
        certain = present and plain and not meaning(present).unknown
        return OPPOSITE if certain else f"{said!r} may turn its answers"
    for text in strict if people else ():
        told = meaning(_plain(text, field))
        for word in (*told.unknown, *told.asides):
            if not _words("known").fullmatch(word):
                return f"{word!r} is not understood, and may turn its answers"
    for text, word in cells if people else ():
        if text.isdigit() and not word:
            return f"its cell {text!r} may count or rate"
        if _YES.match(text) and bad_news(text, "", ("absent",)):
            return f"its cell {text!r} says yes to what is missing"
    return ""


# --- documents -------------------------------------------------------------------------------

_NUMBER = r"(?:[A-Z]{2,5}(?:[ ./-]?[A-Z]{1,4})?[ ./-]{0,3}\d|[A-Z]-\d\d)\d{0,4}(?:[./-]\d{1,4})?"
_DATE = r"(?:\d{1,2}[./-]){0,2}(?:19|20)\d\d|\d{4}-\d\d(?:-\d\d)?|\d{1,2}[./-]\d{1,2}[./-]\d\d"
_DOCUMENT = re.compile(
    rf"(?P<number>{_NUMBER})?[ ,;(]*(?P<issue>(?i:ISSUE)[. ]*(?:no\.? ?)?(?:[1-9]\d?|[B-Z]))?\)?"
    rf"[ ,;(]*(?P<date>(?i:DATED)[ :]*(?:{_DATE}))?\)?".replace(
        "ISSUE", r"rev(?:ision)?|iss(?:ue)?|ed(?:ition)?|version|v|ausgabe|révision|rév|indice|"
        r"revisión|revisão|edición"
    ).replace("DATED", "issued|dated|signed|vom|vigente desde|emitid[oa]|émise?(?: le)?|datée?")
)  # fmt: skip
_YEAR = re.compile(r"(?:19|20)\d\d\Z")


@cache
def names_document(text: str) -> bool:
    """Whether a text names a document that exists: its number, issue, or date of issue."""
    found = _DOCUMENT.fullmatch(text.strip())
    if found is None or not any(found.groups()) or bad_news(text):
        return False
    number = found["number"] or ""
    other = _words("other").match(" ".join(word_list(re.sub(r"[^A-Z]", " ", number))))
    return not other and not _YEAR.search(number)
