"""Header text to the field that it means, with how sure that is and why.

Three steps, all over data files beside this one: a wording known as a whole
(``header_words.csv``); else its words, each standing for a concept of the trade
(``header_concepts.csv``), against the concepts a field needs (``header_patterns.csv``); else
words one slip of the pen away from known ones. A header that lacks one concept of a field is a
question, and so is one that fits two fields; a word for something else (a motor, a diameter)
rules a field out.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from itertools import product

from ..data import rows
from ..register.fields import FIELDS
from .header_context import (
    BELT_GROUP,
    MEASURES,
    NAMES,
    NEUTRAL,
    PARTS,
    foreign,
    is_general,
    made_of,
    of_another,
    of_the_belt,
    of_who_knows,
    plain_context,
)
from .header_meaning import BRACKETS, Meaning, concepts, meaning, word_list
from .header_units import fits_unit, money_unit, split_unit
from .quantities import parse_unit
from .words import is_cell_word, read_choice

__all__ = [
    "WORDING_ALONE",
    "Match",
    "fits_unit",
    "is_known_wording",
    "match_header",
    "narrower",
    "split_unit",
    "word_list",
]

MAPPED = 0.7
"""A header is taken for a field from this confidence on; below, it is a question."""

WORDING_ALONE = "the wording alone does not tell"
"""Why a wording that is known to be used for several things is a question."""


@dataclass(frozen=True, slots=True)
class Match:
    """What a header may mean.

    Attributes
    ----------
    field
        The field, or None.
    confidence
        0 to 1; of `field`, or of the best candidate.
    candidates
        Fields it could be where it is a question.
    unit, unit_source
        Unit the header names (canonical, or `quantities.TONS`), None where it names none.
    why
        Reasons in words.
    known
        Whether the wording means something in the vocabulary, if only "none of the fields".
    """

    field: str | None
    confidence: float
    candidates: tuple[str, ...]
    unit: str | None
    why: str
    known: bool


# --- vocabulary -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Pattern:
    """Concepts a field needs and allows; whether a unit is needed, and no other group above."""

    field: str
    needs: frozenset[str]
    allows: frozenset[str]
    unit_needed: bool
    alone: bool


# What a unit tells beside the words: "Belt (m/s)" can only be its speed.
_IMPLIED = {
    row["unit"]: frozenset(row["concepts"].split())
    for row in rows(__package__, "unit_concepts.csv")
}

# Said of any yes, choice, size or count without turning its meaning.
_BY_KIND = {
    "yes/no": frozenset({"device", "full", "side", "kind"}),
    "choice": frozenset({"device", "kind", "level"}),
    "number": frozenset({"max"}),
    "count": frozenset({"device", "number", "total"}),
}


@dataclass(frozen=True, slots=True)
class _Wording:
    """Rule (map, with unit, alone, ask, not), fields, and the unit that the wording implies."""

    rule: str
    fields: tuple[str, ...]
    unit: str | None


@cache
def _wordings() -> dict[tuple[str, ...], _Wording]:
    """Wording to its rule and fields, once with its unit and once without."""
    found: dict[tuple[str, ...], _Wording] = {}
    for row in rows(__package__, "header_words.csv"):
        entry = _Wording(row["rule"], tuple(row["fields"].split()), row["unit"] or None)
        found.setdefault(word_list(row["wording"]), entry)
    for row in rows(__package__, "header_words.csv"):
        bare, unit = split_unit(row["wording"])
        if unit is not None and bare and not row["unit"]:
            entry = _Wording(row["rule"], tuple(row["fields"].split()), None)
            found.setdefault(word_list(bare), entry)
    for field in FIELDS.values():
        for text in (field.key, field.meaning):
            found.setdefault(word_list(text), _Wording("map", (field.key,), None))
    return found


@cache
def _patterns() -> tuple[_Pattern, ...]:
    return tuple(
        _Pattern(
            row["field"],
            frozenset(row["needs"].split()),
            frozenset(f"{row['needs']} {row['may']}".split())
            | NEUTRAL
            | _BY_KIND.get(FIELDS[row["field"]].kind, frozenset()),
            row["unit"] in ("required", "alone"),
            row["unit"] == "alone",
        )
        for row in rows(__package__, "header_patterns.csv")
    )


@cache
def _allowed(field: str) -> frozenset[str]:
    """All concepts that a heading of a field may hold."""
    return frozenset().union(*(p.allows for p in _patterns() if p.field == field))


def is_known_wording(text: str) -> bool:
    """Whether a text as a whole is in the vocabulary of headings."""
    return word_list(text) in _wordings()


_NUMBER_OF = re.compile(
    r"(?:nos?\.?|number|qty\.?|quantity|count|anzahl|zahl|n[°ºo]\.?|nb\.?|nombre|cantidad|"
    r"qtd\.?|quantidade)\s+(?:of|der|de|des)\b|(?:how many|qty|anzahl|nb|cantidad|qtd)\b",
    re.IGNORECASE,
)
_UNNAMED_SHEET = re.compile(
    r"(?:sheet|tabelle|hoja|planilha|plan|feuil|feuille|blatt|folha)\s*\d*", re.IGNORECASE
)
"""What programs call a sheet that nobody named."""
_WORKING = re.compile(r"\b(?:working|trabajo|trabalho|travail)\b", re.IGNORECASE)


# --- matching --------------------------------------------------------------------------------


@cache
def match_header(header: str, group: str = "", sheet: str = "", unit: str | None = None) -> Match:
    """Tell what one header means.

    Parameters
    ----------
    header
        Its text.
    group
        Text of the group headings above it, if any.
    sheet
        Name of the sheet: weaker evidence of the same kind as `group`.
    unit
        Canonical unit known from elsewhere (a units row), overriding none in the header.
    """
    bare, own_unit = split_unit(header)
    if own_unit == "in" and unit not in (None, "in") and header.casefold().endswith(" in"):
        bare, own_unit = header, None  # "Thickness all in", and millimetres in the row of units
    unit = own_unit if own_unit is not None else unit
    sheet = "" if _UNNAMED_SHEET.fullmatch(sheet) else sheet
    if price := money_unit(header):
        priced = tuple(name for name, field in FIELDS.items() if field.unit == price)
        return Match(None, 0.5, priced, price, "a price, but not of what", True)
    listed = _listed_choices(bare)
    if listed and not is_known_wording(bare):
        if plain_context(group) or (listed.field and _of_its_group(listed.field, group)):
            return listed
        could = listed.candidates or (listed.field or "",)
        return Match(None, 0.5, could, None, f"{listed.why}, under {group!r}", True)
    if group:
        group, above = split_unit(group)
        if unit is None and not any("number" in choice for choice in meaning(bare).choices):
            unit = above  # "Tail end (m) | Transition idlers no.": a count is in no unit
        said = meaning(_without_choices(bare))
        idle = not any(said.choices) and all(map(is_cell_word, said.unknown))
        parts = _CHOICES.split(bare)
        idle |= len(parts) > 1 and all(map(is_cell_word, parts))
        idle |= not said.unknown and all(c <= {"max", "design"} for c in said.choices)
        if idle and not is_known_wording(bare):
            # "Scraper | Y/N", "Belt | NN / EP": the heading proper is the one above.
            tail = f" ({bare})" if len(parts) > 1 else f" {bare}"
            bare, header, group = _without(_OF_LISTS, group) + tail, f"{group} {header}", ""
    if known := _known_wording(header, bare, group, sheet, unit):
        return known
    told = _by_concepts(bare or header, group, sheet, unit)
    if told.field is None and group and parse_unit(header) is not None:
        # "Spillage | t/week": the heading proper is the one above, in that unit.
        above_it = match_header(group, "", sheet, parse_unit(header))
        told = above_it if above_it.field is not None else told
    if told.field == "load_point" and _NUMBER_OF.match(bare):
        return Match(None, 0.0, (), told.unit, "counts load points", True)
    itself = parse_unit(header) if "/" in header else None
    if told.field is not None and not fits_unit(told.field, itself):
        return Match(None, 0.5, (), itself, f"it is the unit {itself}", True)
    return told


# Choices whose words no other question has: "none", "light" and "bad" are said of anything.
_OWN_WORDS = ("belt_carcass", "splice_kind", "lump_mix", "load_support", "cleaner_tensioner")


def _of_its_group(field: str, group: str) -> bool:
    """Whether a group names something that a field needs: scrapers, for what presses them."""
    named = frozenset().union(*meaning(group).choices)
    return any(pattern.needs & named for pattern in _patterns() if pattern.field == field)


def _listed_choices(text: str) -> Match | None:
    """Take a heading that only lists the words of one field: ``Fabric / steel``."""
    parts = [part.strip() for part in _CHOICES.split(text) if part.strip()]
    if not 2 <= len(parts) <= 5:
        return None
    fitting = []
    for name in _OWN_WORDS:
        values = set()
        for part in parts:
            word = read_choice(name, part)
            if word is None or not word.value or word.value in values:
                break
            values.add(word.value)
        else:
            fitting.append(name)
    if not fitting:
        return None
    why = "lists the words of " + " and ".join(fitting)
    if len(fitting) == 1:
        return Match(fitting[0], 0.85, (), None, why, True)
    return Match(None, 0.5, tuple(sorted(fitting)), None, why, True)


def _known_wording(
    header: str, bare: str, group: str, sheet: str, unit: str | None
) -> Match | None:
    wordings = _wordings()
    # "Tonnes/h" and nothing else: a unit that only one field is in names that field.
    in_unit = f"{bare} {unit}" if unit else ""  # "Rating" in PIW is what a belt may carry
    for text in (in_unit, header, bare, _without(_WHEN, bare), parse_unit(header) or ""):
        known = wordings.get(word_list(text))
        if known is None or (known.rule in ("not", "ask") and text not in (header, bare)):
            continue
        rule, fields, unit = known.rule, known.fields, known.unit or unit
        if rule == "not":
            told = _by_concepts(bare, group, "", unit) if group else None
            if told is not None and (told.field is not None or told.candidates):
                return None
            return Match(None, 0.0, (), unit, "known wording for something else", True)
        fitting = tuple(field for field in fields if fits_unit(field, unit))
        if rule == "ask":
            plain = plain_context(group) and plain_context(sheet)
            if group or not plain:
                told = _by_concepts(bare, group, sheet, unit)
                counts = told.field is not None and FIELDS[told.field].kind == "count"
                if (told.field in fitting or counts) and "above" in told.why and not plain:
                    return told  # "Head chute doors | No."
                named = any(said <= NAMES | {"number"} for said in meaning(bare).choices)
                if told.field and named and "above" in told.why:
                    return told
            if fields and not fitting:
                continue
            return Match(None, 0.5, fitting, unit, WORDING_ALONE, True)
        if not fitting:
            if (told := _by_concepts(bare, group, sheet, unit)).field is not None:
                return told  # "Spillage" in t/week is no level
            return Match(None, 0.0, (), unit, f"its unit {unit} does not fit", True)
        if "conveyor_length" in fields and of_the_belt(group):
            why = "of the belt all round, or between the pulleys?"
            return Match(None, 0.25, fitting, unit, why, True)
        if rule in ("alone", "with unit") or (rule == "map" and is_general(bare)):
            # A mass rate is the tonnage whatever the sheet is about.
            rate = fields == ("tonnage",) and parse_unit(header) is not None
            if not all(plain_context(part) for part in (group, "" if rate else sheet)):
                return None
            if of_who_knows(group):
                return Match(None, 0.5, fitting, unit, f"stands under {group!r}", True)
            if rule == "with unit" and unit is None:
                told = _by_concepts(bare, group, "", unit) if group else None
                if told is not None and told.field in fields:
                    return told  # "Belt | Width"
                return Match(None, 0.5, fields, unit, "a width or length of what?", True)
            return Match(fitting[0], 0.9, (), unit, "known wording", True)
        if group and (foreign(group) or ("material" in fields and made_of(group))):
            return Match(None, 0.5, fitting, unit, f"stands under {group!r}", True)
        return Match(fitting[0], 1.0, (), unit, "known wording", True)
    return None


_WHEN = frozenset({"design", "operating"})
_OF_LISTS = frozenset({"register"})


def _without(idle: frozenset[str], text: str) -> str:
    """Wording without words that stand for no more than some concepts."""
    known = concepts()
    return " ".join(
        word
        for word in word_list(text)
        if not (said := known.get((word,))) or not all(names <= idle for names in said)
    )


_LETTERS = re.compile(r"[A-Z](?:\s*[/|,]\s*[A-Z])+(?:\s*[/|,]\s*[-–0])?|y\s*/\s*n")
"""A list of letters that stand in cells: (Y/N), (N/L/H)."""


_DATED = re.compile(
    r"\b(?:jan|feb|mar|apr|may|june?|july?|aug|sept?|oct|nov|dec)[a-z]*\.?\W+\d|\b(?:19|20)\d\d\b",
    re.IGNORECASE,
)
"""When a column was measured: (Nov 22 test), (survey 2023)."""
_LEGEND = re.compile(r"\w\s*=\s*\w.*\w\s*=\s*\w")
"""What letters in the cells stand for: (H=hot, C=clips)."""
_POSITIONS = re.compile(r"full\W.*(?:1/[23]|third|half)|1/3.*1/2|third.*half", re.IGNORECASE)
_CHOICES = re.compile(r"[/,;|]| or ")
_AFTER_COLON = re.compile(r":\s*(.+)\Z")


def _without_choices(text: str) -> str:
    """Heading without a list of what may stand in its cells: ``Splice (hot / clips)``."""
    for pattern in (BRACKETS, _AFTER_COLON):
        for found in pattern.finditer(text):
            inside = word_list(found[1])
            if _LETTERS.fullmatch(found[1].strip()) or _DATED.search(found[1]):
                text = text.replace(found[0], " ")
            if _POSITIONS.search(found[1]) or _LEGEND.search(found[1]):
                text = text.replace(found[0], " ")
            if _CHOICES.search(found[1]) and all(
                is_cell_word(part) for part in _CHOICES.split(found[1])
            ):
                text = text.replace(found[0], " ")  # "(OK / Not OK)"
            if _CHOICES.search(found[1]) and not any(
                (word,) in concepts() and (word,) != ("no",) for word in inside
            ):
                text = text.replace(found[0], " ")
    return text


@cache
def narrower(header: str, group: str, about: str, unit: str | None, field: str) -> str | None:
    """Field that a heading taken for `field` names under `about`, for want of a part of its own.

    Parameters
    ----------
    header, group, unit
        As for `match_header`.
    about
        What the sheet may be about, in words of headings.
    field
        What the heading alone was taken for.

    Returns
    -------
    str or None
        A field that needs all concepts that `field` needs, and one that only `about` names.
    """
    bare, _ = split_unit(header)
    implied = _IMPLIED.get(unit or "", frozenset())
    for leaf, around, subject in product(
        meaning(_without_choices(bare or header)).choices,
        meaning(group).choices if group else (frozenset[str](),),
        meaning(about).choices,
    ):
        have = leaf | around | implied
        if not leaf or not leaf <= _allowed(field):
            continue
        own = [p.needs for p in _patterns() if p.field == field and p.needs <= have]
        most, reach = max(own, key=len, default=frozenset[str]()), have | subject
        for pattern in _patterns() if own else ():
            more = most < pattern.needs <= reach and not pattern.needs <= have
            if more and leaf <= pattern.allows and fits_unit(pattern.field, unit):
                return pattern.field if pattern.field != field else None
    return None


_SHEET_COST = 0.1
"""What a field costs in confidence that the sheet's name had to tell."""


_OF_TENSION = frozenset({"kN/m", "kN", "lbf/in"})
_LETTER_T = re.compile(r"\bT\b")
_PER_WIDTH = frozenset({"tail", "head", "operating"})


def _by_concepts(text: str, group: str, sheet: str, unit: str | None) -> Match:
    if unit in _OF_TENSION:
        text = _LETTER_T.sub("tension", text)  # "T head kN/m"
    said = meaning(_without_choices(text))
    contexts = [(group, 0.01 if group else 0.0)]
    if sheet:
        contexts.append((f"{sheet} {group}", _SHEET_COST))
    if not any(said.choices) and not group:
        return Match(None, 0.0, (), unit, "no known word", False)
    if group and foreign(group):
        own = _by_concepts(text, "", "", unit)
        few = len(meaning(text).choices[0] - NEUTRAL) < 3
        if own.field is None or few or of_another(group):
            return Match(None, 0.0, (), unit, f"stands under {group!r}", True)
        return own
    full: dict[str, tuple[int, float, str]] = {}
    nearly: dict[str, int] = {}
    for context, cost in contexts:
        if full:
            break  # the sheet's name is asked only where heading and group do not tell
        choices = meaning(context).choices if context else (frozenset(),)
        above = frozenset().union(*meaning(group).choices) if group else frozenset[str]()
        for around, leaf in product(choices, said.choices):
            # "REV 7", "GENERAL DATA" are said of the list, not of what stands below.
            _try_patterns(leaf, around - {"register"}, above, context, cost, unit, full, nearly)
    if of_who_knows(group) and (is_general(text) or "area" in full):
        # "FAN | Capacity", "DSEAR | Zone out": a measure or zone of what nobody knows.
        nearly |= dict.fromkeys(full, 0)
        full.clear()
    penalty = 0.08 * len(said.slips) + 0.2 * len(said.unknown)
    if full:
        best = _best(full, said, penalty, unit)
        if best.field == "belt_operating_tension" and _WORKING.search(text):
            # What a belt may work at, and what it works at, are headed alike.
            both = ("belt_operating_tension", "belt_rated_tension")
            return Match(None, 0.5, both, unit, WORDING_ALONE, True)
        return best
    # Those that the headings above speak for go before the others.
    most = max(nearly.values(), default=0) if group else 0
    candidates = tuple(sorted(field for field, told in nearly.items() if told >= most))
    if candidates and len(candidates) <= 6:
        doubt = round(max(0.5 - penalty, 0.0), 2)
        return Match(None, doubt, candidates, unit, "a word is missing to tell", True)
    return Match(None, 0.0, (), unit, "fits no field", bool(said.choices[0]))


def _try_patterns(
    leaf: frozenset[str],
    around: frozenset[str],
    above: frozenset[str],
    context: str,
    cost: float,
    unit: str | None,
    full: dict[str, tuple[int, float, str]],
    nearly: dict[str, int],
) -> None:
    if not leaf:
        return
    implied = _IMPLIED.get(unit or "", frozenset())
    if unit == "lbf/in" and leaf & _PER_WIDTH:
        implied |= {"tension"}  # "Running PIW max"
    for pattern in _patterns():
        if not leaf <= pattern.allows or not fits_unit(pattern.field, unit):
            continue
        have = leaf | around | implied
        missing = pattern.needs - have
        # "BELT WIDTH | Design", "TAIL TRANSITION | Length": the group alone may name the field.
        text = FIELDS[pattern.field].kind == "text"
        general = (
            leaf <= (NAMES if text else (NEUTRAL | MEASURES | {"device"}) - {"conveyor"})
            and cost < _SHEET_COST
        )
        by_unit = bool(pattern.needs & implied) and pattern.needs <= implied | leaf
        about = bool(leaf & pattern.needs) or general or by_unit
        if not missing and about:
            crowded = pattern.alone and not around <= BELT_GROUP
            crowded |= cost >= _SHEET_COST and leaf <= NEUTRAL | MEASURES | _LOOSE
            by_sheet = pattern.needs - leaf - above - implied
            crowded |= bool(by_sheet) and _tells_another(pattern, leaf, above)
            if crowded or (pattern.unit_needed and unit is None):
                nearly.setdefault(pattern.field, 0)
                continue
            used = bool(pattern.needs - leaf - implied)
            apart = bool(around - pattern.allows) and not used
            of_it = FIELDS[pattern.field].kind == "yes/no" or pattern.field == "area"
            if apart and (leaf - NEUTRAL <= MEASURES or (of_it and around & PARTS)):
                # "TAIL END | Lift", "Skirt | Clamp": of what the heading above names, not this.
                nearly.setdefault(pattern.field, 0)
                continue
            why = f"words for {' + '.join(sorted(pattern.needs))}"
            if used:
                why += f", with {context.strip()!r} above"
            entry = (len(pattern.needs), 0.95 - cost * used - 0.02 * apart, why)
            if pattern.field not in full or entry > full[pattern.field]:
                full[pattern.field] = entry
        elif len(missing) == 1 and leaf & pattern.needs:
            spoken_for = len(pattern.needs & around - leaf)
            nearly[pattern.field] = max(nearly.get(pattern.field, 0), spoken_for)


# General enough that the name of a sheet makes no field of them.
_LOOSE = frozenset({"spacing", "clear", "open", "total", "elsewhere"})
_NAMED_BY = frozenset({"name", "id", "number", "tag", "point", "description"})


def _tells_another(pattern: _Pattern, leaf: frozenset[str], above: frozenset[str]) -> bool:
    """Whether a heading speaks of another thing than the one that its sheet's name would add.

    "Chute height" is no door's on a sheet of doors, nor "Belt | Hours" those of cleaning.
    """
    own = (leaf | above) & PARTS
    if FIELDS[pattern.field].group == "Identity":
        return not leaf & _NAMED_BY
    if pattern.field.startswith("tracker_") and "tracker" in leaf:
        return True  # where on the belt it stands, the heading must say
    return bool(own - pattern.needs) or bool(above - pattern.allows)


def _best(
    full: dict[str, tuple[int, float, str]],
    said: Meaning,
    penalty: float,
    unit: str | None,
) -> Match:
    most = max(full.values())[:2]
    best = {field: entry for field, entry in full.items() if entry[:2] == most}
    field, (size, confidence, why) = max(best.items(), key=lambda item: item[1])
    if said.slips:
        why += "; " + ", ".join(said.slips)
    if said.unknown:
        why += "; not known: " + ", ".join(map(repr, said.unknown))
    if len(best) > 1:
        return Match(None, 0.5, tuple(sorted(best)), unit, "fits more than one field", True)
    # A word nobody knows may turn the meaning; a unit that fits or many known words outweigh it.
    numeric = FIELDS[field].numeric
    told = size >= 3 and (unit is not None if numeric else FIELDS[field].kind != "yes/no")
    if said.unknown and not told:
        penalty += 0.1
    # A remark in brackets may say of which end a size is, and less of a word or a yes.
    penalty += (0.3 if numeric else 0.05) * bool(said.asides)
    confidence = round(max(confidence - penalty, 0.0), 2)
    if confidence < MAPPED:
        return Match(None, confidence, (field,), unit, why, True)
    return Match(field, confidence, (), unit, why, True)
