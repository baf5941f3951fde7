"""Words of headings to concepts of the trade: known, joined, shortened, or misspelt by a slip.

A word unknown as it stands is tried without its ending, as two known words joined, as a known
word cut short ("moist.") or written without vowels ("clnr"), and last as a slip of the pen. Where
what is found could mean different things, the word stays unknown.
"""

from __future__ import annotations

import re
import unicodedata
from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from itertools import islice, pairwise, product

from rapidfuzz.distance import OSA

from ..data import rows

__all__ = ["BRACKETS", "Meaning", "concepts", "meaning", "word_list"]

BRACKETS = re.compile(r"[(\[{]([^()\[\]{}]*)[)\]}]")
"""A remark in brackets of any kind."""

Concepts = tuple[frozenset[str], ...]

_CAMEL = re.compile(r"(?<=[a-zäöü])(?=[A-ZÄÖÜ][a-zäöü])")
_WORD = re.compile(r"[a-z]+|\d+[a-z]*|%|#|@")
_NUMBER = re.compile(r"\bno\.|[(\[]\s*no\b", re.IGNORECASE)
"""A "no" that can only mean number."""
_NO_VOWELS = str.maketrans(dict.fromkeys("aeiou"))
_UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss", "œ": "oe", "æ": "ae"})


def word_list(text: str) -> tuple[str, ...]:
    """Words of a text in lower case without accents: ``"Belt Width_(mm)"`` gives three."""
    if text.isascii():  # nearly all of the vocabulary
        if text.islower() and text.isalpha():
            return (text,)
        plain = text if text.islower() else _CAMEL.sub(" ", text).lower()
        return tuple(_WORD.findall(plain))
    text = _CAMEL.sub(" ", text)
    # "1° raspador", "N° puertas": the degree sign where an ordinal sign is meant.
    text = re.sub(r"\b([123nN])°", r"\1o", text)
    text = re.sub("[Øø⌀]", " diameter ", text)
    text = unicodedata.normalize("NFC", text).casefold().translate(_UMLAUTS)
    text = "".join(
        sign for sign in unicodedata.normalize("NFKD", text) if not unicodedata.combining(sign)
    )
    return tuple(_WORD.findall(text))


@cache
def concepts() -> dict[tuple[str, ...], Concepts]:
    """Word or phrase to the sets of concepts it may stand for."""
    found: dict[tuple[str, ...], Concepts] = {}
    for row in rows(__package__, "header_concepts.csv"):
        if not row["concept"]:
            continue
        names = frozenset(row["concept"].split())
        for word in row["words"].split("|"):
            key = word_list(word)
            known = found.get(key, ())
            if names not in known:
                found[key] = (*known, names)
    return found


@cache
def _empty_words() -> frozenset[str]:
    """Words that say nothing about the field: articles, prepositions, "value"."""
    return frozenset(
        word
        for row in rows(__package__, "header_concepts.csv")
        if not row["concept"]
        for word in row["words"].split("|")
    )


@cache
def _long_words() -> tuple[str, ...]:
    """Single known words of five letters or more, sorted."""
    return tuple(sorted(key[0] for key in concepts() if len(key) == 1 and len(key[0]) >= 5))


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a text may stand for.

    Attributes
    ----------
    choices
        Sets of concepts, one for each way to read it; one empty set where no word is known.
    unknown
        Words that nothing is known of.
    asides
        The same of words in brackets, after a heading that is known without them.
    slips
        Readings that were guessed, in words.
    """

    choices: Concepts
    unknown: tuple[str, ...]
    asides: tuple[str, ...]
    slips: tuple[str, ...]


@cache
def meaning(text: str) -> Meaning:
    """Read a text as concepts."""
    words = word_list(text)
    known_words = concepts()
    alternatives: list[Concepts] = []
    unknown: list[str] = []
    slips: list[str] = []
    at = 0
    while at < len(words):
        for size in range(min(5, len(words) - at), 0, -1):
            key = words[at : at + size]
            found = known_words.get(key) or (size > 1 and known_words.get(("".join(key),))) or None
            if not found and size > 1 and " ".join(key) in _empty_words():
                at += size
                break
            if found:
                idle = size == 1 and key[0] in _empty_words()
                idle = idle and not (key == ("no",) and _NUMBER.search(text))
                alternatives.append((*found, frozenset()) if idle else found)
                at += size
                break
        else:
            word = words[at]
            at += 1
            if word in _empty_words():
                continue
            if parts := _stem(word) or _compound(word):
                alternatives.append(parts)
            elif near := _shortened(word) or _near(word):
                slips.append(f"{word!r} read as {near!r}")
                alternatives.append(known_words[near,])
            else:
                unknown.append(word)
    choices = {frozenset().union(*choice) for choice in islice(product(*alternatives), 64)}
    # A figure or a single letter beside known words is a symbol: "Width of belt B".
    symbols = {word for word in unknown if len(word) == 1 or word.isdigit()}
    if any(choices):
        unknown = [word for word in unknown if word not in symbols]
    plain = set(word_list(BRACKETS.sub(" ", text)))
    asides = tuple(word for word in unknown if word not in plain) if plain else ()
    unknown = [word for word in unknown if word not in asides]
    return Meaning(tuple(sorted(choices, key=sorted)), tuple(unknown), asides, tuple(slips))


def _stem(word: str) -> Concepts | None:
    """Concepts of a word without its plural or other ending."""
    for ending in ("s", "es", "n", "en", "ing", "ed"):
        stem = word.removesuffix(ending)
        if stem != word and len(stem) >= (2 if ending == "s" else 4) and (stem,) in concepts():
            return concepts()[stem,]
    return None


def _compound(word: str) -> Concepts | None:
    """Concepts of a word joined from two known ones, as German does."""
    known = concepts()
    for cut in range(3, len(word) - 2):
        first, second = word[:cut], word[cut:]
        for head in (first, first.removesuffix("s"), first.removesuffix("en")):
            one = known.get((head,))
            if one and len(head) >= 3:
                two = known.get((second,)) or known.get((_shortened(second) or "",))
                if two:
                    return tuple(a | b for a in one for b in two)
    return None


def _agreed(words: Iterable[str]) -> str | None:
    """The shortest of some known words, where all mean the same."""
    found = sorted(words, key=lambda word: (len(word), word))
    return found[0] if found and len({concepts()[word,] for word in found}) == 1 else None


def _shortened(word: str) -> str | None:
    """Known word that this one is cut from, or is without its vowels."""
    if len(word) >= 4:
        known = _long_words()
        start = bisect_left(known, word)
        longer = list(islice((w for w in known[start : start + 40] if w.startswith(word)), 40))
        if cut := _agreed(w for w in longer if len(w) >= len(word) + 2):
            return cut
    if len(word) >= 3 and not re.search(r"[aeiou]", word):
        return _agreed(_skeletons().get(word, ()))
    return None


@cache
def _skeletons() -> dict[str, tuple[str, ...]]:
    """Known words by their consonants, with doubled ones once and as they are: clnr, plly."""
    found: dict[str, tuple[str, ...]] = {}
    for word in _long_words():
        bones = word[0] + word[1:].translate(_NO_VOWELS)
        doubled = any(one == other for one, other in pairwise(bones))
        for form in (bones, re.sub(r"(.)\1", r"\1", bones)) if doubled else (bones,):
            if len(form) >= 3:
                found[form] = (*found.get(form, ()), word)
    return found


def _near(word: str) -> str | None:
    """Known word that differs by one slip (two in a long word), if it is the only one."""
    if len(word) < 5:
        return None
    allowed = 1 if len(word) < 11 else 2
    found: dict[int, set[str]] = {}
    for known in _long_words():
        # Of five letters, only two may have changed places: "plano" is no slip for "plant".
        if known[0] == word[0] and (len(word) > 5 or sorted(known) == sorted(word)):
            distance = OSA.distance(word, known, score_cutoff=allowed)
            if distance <= allowed:
                found.setdefault(distance, set()).add(known)
    return _agreed(found[min(found)]) if found else None
