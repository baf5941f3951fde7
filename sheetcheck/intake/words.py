"""Words in cells: placeholders, yes and no in their spellings, and the words of each choice."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import cache

from rapidfuzz.distance import OSA

from ..data import rows
from ..register.fields import FIELDS, POSITIONS
from .header_meaning import meaning
from .polarity import bad_news, names_document
from .quantities import clean

__all__ = ["Word", "is_cell_word", "is_placeholder", "read_choice", "read_yes"]

_SPREAD = re.compile(r"[\s_]+")


@dataclass(frozen=True, slots=True)
class Word:
    """A word understood.

    Attributes
    ----------
    value
        The field's word, or ``"yes"``/``"no"``; "" where the text is a placeholder.
    note
        How it was read, where that is worth saying.
    """

    value: str
    note: str = ""


def _plain(text: str) -> str:
    return _SPREAD.sub(" ", clean(text).casefold()).strip(" .,;:()[]") or clean(text).casefold()


@cache
def _cell_words() -> dict[str, str]:
    return {
        _plain(word): row["kind"]
        for row in rows(__package__, "cell_words.csv")
        for word in row["word"].split("|")
    }


@cache
def _choices(field: str) -> dict[str, str]:
    """Words of a choice (or pulley lift) field to its choices."""
    spec = FIELDS[field]
    allowed = spec.choices or (("yes", "no") if spec.kind == "yes/no" else tuple(POSITIONS))
    words = {word: word for word in allowed}
    for row in rows(__package__, "choice_words.csv"):
        if fnmatchcase(field, row["field"]) and row["choice"] in allowed:
            words |= {_plain(word): row["choice"] for word in row["words"].split("|")}
    return words


@cache
def is_cell_word(text: str) -> bool:
    """Whether a text is a word that stands in cells: yes, no, a placeholder, a choice."""
    word = _plain(text)
    return word in _cell_words() or any(
        word in _choices(name) for name, field in FIELDS.items() if field.choices
    )


@cache
def is_placeholder(text: str) -> bool:
    """Whether a text only says that there is no value: ``n/a``, ``TBC``, ``-`` and the like."""
    return not text.strip() or _cell_words().get(_plain(text)) == "blank"


_COUNT = re.compile(r"(\d{1,3})\s*(?:x|off|no\.?|nos\.?|pcs?\.?|stk\.?|stück|ea\.?|uds?\.?)?\Z")

# So many switches or guards do not tell that all of the way, or every nip, has one.
_NO_COUNT = frozenset(
    {"emergency_stop", "nip_guards", "isolation_procedure", "component_reach", "feeds_belt"}
    | {"travelway_railing"}
    | {"cleaner_duty_selected", "cleaner_reversible", "reversing"}
)


@cache
def read_yes(field: str, text: str) -> Word | None:
    """Read a yes/no cell; for cleaners and ploughs a count or a kind means yes.

    Returns
    -------
    Word or None
        None where the text says neither.
    """
    word = _plain(text)
    kind = _cell_words().get(word)
    if kind in ("yes", "no"):
        return Word(kind)
    if kind == "blank":
        return Word("")
    if kind == "held" or any(
        word.startswith(held) for held, what in _cell_words().items() if what == "held"
    ):
        return Word("no", "not fitted yet, taken as no")
    count = _COUNT.match(word)
    if count and (int(count[1]) < 2 or field not in _NO_COUNT):
        return Word("yes" if int(count[1]) else "no", "a count")
    if field == "isolation_procedure" and names_document(text):
        return Word("yes", "a document is named")
    if bad_news(text, field):
        absent = re.match(r"(?:not|nicht|no|nao|non) ", bad_news(text, field, ("absent",)))
        return Word("no") if absent and word.startswith(absent[0]) else None
    if word in _choices(field):  # the shape of a pulley's face instead of a yes
        return Word(_choices(field)[word])
    if field.endswith("_cleaner") or field == "tail_plough":
        blades = _choices("primary_blade")
        told = meaning(word)
        named = any({"cleaner", "blade", "plough"} & choice for choice in told.choices)
        if word in blades or (named and set(told.unknown) <= _known_tokens("primary_blade")):
            return Word("yes", "a kind is named")
    return None


_PLAIN_IDLERS = re.compile(
    r"(?:(?:\d+|standard|normal|plain|std\.?|carry(?:ing)?|trough(?:ing)?|rolls?|rollers?|idlers?|"
    r"roll|steel|only|on|at|pitch|centres|mm|deg|°|x|[\d.,/ -]+)\W*)+"
)


@cache
def _known_tokens(field: str) -> frozenset[str]:
    return frozenset(token for known in _choices(field) for token in re.findall(r"\w+", known))


@cache
def _written_out(field: str, word: str) -> str:
    """Text with its shortened words written out: imp bars, hvy, ureth.

    A shortened word begins a word of the field's own (three letters or more) or is one without
    its vowels; only where all such words belong to one choice.
    """
    known = _known_tokens(field)

    def whole(found: re.Match[str]) -> str:
        token = found[0]
        if token in known or len(token) < 3 or not token.isalpha():
            return token
        longer = [one for one in known if len(one) > len(token) + 1 and one.startswith(token)]
        fitting = longer or [one for one in known if len(one) > 3 and _bones(one) == token]
        meant = {frozenset(_choices_with(field, one)) for one in fitting}
        return min(fitting, key=len) if len(meant) == 1 else token

    return re.sub(r"\w+", whole, word)


@cache
def _choices_with(field: str, token: str) -> frozenset[str]:
    return frozenset(
        choice
        for known, choice in _choices(field).items()
        if token in known and re.search(rf"(?<!\w){re.escape(token)}(?!\w)", known)
    )


_NO_VOWELS = str.maketrans(dict.fromkeys("aeiou"))


@cache
def _bones(word: str) -> str:
    return word[0] + word[1:].translate(_NO_VOWELS)


@cache
def read_choice(field: str, text: str) -> Word | None:
    """Read a cell of a choice field, or the position word of a pulley lift.

    Returns
    -------
    Word or None
        None where the text is none of the field's words, or could be two of them.
    """
    word = _plain(text)
    words = _choices(field)
    if word in words:
        return Word(words[word])
    if is_placeholder(text):
        return Word("")
    initials = re.sub(r"(?<=\b\w)\.", "", word)
    if initials in words:
        return Word(words[initials])
    whole = _written_out(field, word)
    if whole != word:
        read = read_choice(field, whole)
        return None if read is None else Word(read.value, f"read as {whole!r}")
    if len(word) >= 5:
        near = {words[known] for known in words if OSA.distance(word, known) <= 1}
        if len(near) == 1:
            return Word(near.pop(), "a slip of the pen was forgiven")
    if bad_news(word, field):
        return None
    held = [
        known
        for known in words
        if len(known) > 1
        and known in word
        and re.search(rf"(?<!\w){re.escape(known)}(?!\w)", word)
    ]
    inside = {words[known] for known in held}
    inside -= {"other"} if len(inside) > 1 else set()
    longest = max(held, key=len, default="")
    if len(inside) > 1 and all(known in longest for known in held):
        inside = {words[longest]}  # "impact idlers" holds "idlers"
    if inside == {"idlers"} and not _PLAIN_IDLERS.fullmatch(word):
        return None  # "rubber-lagged idlers" are no plain ones
    return Word(inside.pop(), "the word was found in a longer text") if len(inside) == 1 else None
