"""Which field each column of a table holds: the heading, the map, the values as evidence."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from ..register.derive import parse_designation
from ..register.fields import FIELDS
from ..units import factor
from .columns import ColumnMap
from .evidence import Assigned, cell_unit, fits, sample, share, weigh
from .grid import Fault, Shown, Value, is_blank, plain_text
from .header_meaning import meaning
from .headers import Match, fits_unit, match_header, word_list
from .heading_rows import unit_text
from .polarity import OPPOSITE, bad_news, bad_title, doubt, turned, without_news
from .quantities import parse_unit
from .settle import by_words, exchange, settle
from .subject import by_subject
from .table import Table
from .tags import OF_CONVEYORS, tag_of_conveyor, take_tag
from .words import read_yes

__all__ = ["assign"]

_UNIT_HEADING = re.compile(
    r"(?:\b|_)(?:units?|uom|einheit(?:en)?|unidad(?:es)?|unidade|unité)\.?\Z", re.IGNORECASE
)


def assign(table: Table, column_map: ColumnMap | None = None) -> list[Assigned]:
    """Decide for every column of a table which field it holds.

    Parameters
    ----------
    table
        The table.
    column_map
        Decisions of the user, which go before anything else.

    Returns
    -------
    list of Assigned
        One per column; no field is given twice.
    """
    beside = _join_units(table)
    repeated = _repeated(table)
    judged = [
        _assign_one(table, index, column_map, index in repeated)
        for index in range(len(table.headings))
    ]
    found = [one for one, _ in judged]
    for index in beside:
        if not found[index].mapped:
            found[index] = Assigned(None, None, 0.0, ["units of the column before it"])
    tag_of_conveyor(table, found)
    take_tag(table, found)
    for index, one in enumerate(found):
        if one.field is None and one.candidates:
            _by_values(table.columns[index], one)
    by_subject(table, found)
    _blade_of_cleaner_before(table, found)
    _rating_or_operating(table, found)
    _rating_or_strength(table, found)
    _carcass_alone(table, found)
    settle(table, found, [match for _, match in judged])
    by_words(table, found, [match for _, match in judged])
    exchange(table, found)
    _blade_under_cleaner(table, found)
    _by_polarity(table, found)
    _against_bad_news_beside(table, found)
    for one in found:
        if one.field is None and one.candidates and not one.question:
            one.question = _question(one.candidates)
    _settle_doubles(table, found)
    for index, one in enumerate(found):
        if one.field is not None:
            weigh(table.columns[index], one, table.note_unit)
    return found


def _join_units(table: Table) -> set[int]:
    """Put units that stand in a column of their own to the numbers on its left."""
    found = set()
    for index, heading in enumerate(table.headings[1:], 1):
        if not _UNIT_HEADING.search(heading.text):
            continue
        left, units = table.columns[index - 1], table.columns[index]
        known = [None if is_blank(text) else parse_unit(str(text)) for text in units]
        if not any(known):
            continue
        found.add(index)
        table.columns[index - 1] = [
            Shown(value, unit) if type(value) is float and unit is not None else value
            for value, unit in zip(left, known, strict=True)
        ]
    return found


def _repeated(table: Table) -> set[int]:
    """Columns whose heading stands more than once under the same group."""
    seen: dict[tuple[object, ...], list[int]] = {}
    for index, heading in enumerate(table.headings):
        seen.setdefault((word_list(heading.text), heading.group), []).append(index)
    return {index for several in seen.values() if len(several) > 1 for index in several}


def _assign_one(
    table: Table, index: int, column_map: ColumnMap | None, repeated: bool
) -> tuple[Assigned, Match]:
    heading = table.headings[index]
    unit = unit_text(heading)
    if column_map is not None:
        entry = column_map.find(table.sheet, heading.place, heading.shown)
        if entry is not None:
            chosen = entry.unit if entry.unit is not None else unit
            why = [f"column map, line {entry.line}" if entry.line else "as read before"]
            mapped = Assigned(entry.field, chosen, 1.0, why, mapped=True, yes=entry.yes)
            return mapped, Match(entry.field, 1.0, (), chosen, why[0], True)
    text = heading.text
    if unit is None and heading.unit_text:
        text = f"{text} ({heading.unit_text})"  # no unit that is known, so one more word
    match = match_header(text, heading.group, table.sheet, unit)
    if present := turned(text):
        told = match_header(present, heading.group, table.sheet, unit)
        if told.field and FIELDS[told.field].kind == "yes/no" and bad_news(text, told.field):
            match = told  # "Guards missing": the gate below turns its answers
    if match.field is None and not match.candidates and unit is not None:
        by_unit = match_header(heading.unit_text, heading.text, table.sheet, unit)
        match = by_unit if by_unit.field is not None else match
    if match.unit is None and unit is None and (shown := cell_unit(table.columns[index])):
        match = _in_unit_of_cells(match, text, heading.group, table.sheet, shown)
    if match.field is None and repeated and index:
        match = _by_neighbour(table, index, match, unit)
    wording = [f"wording {match.confidence:.2f}: {match.why}"]
    if match.field is not None and _in_another_unit(match.field, match.unit, heading.unit_text):
        # Low enough that no cells settle it: what they measure is not what the words say.
        match = replace(match, field=None, candidates=(match.field,), confidence=0.25)
        wording.append(f"its unit {heading.unit_text!r} is not known")
    one = Assigned(match.field, match.unit, match.confidence, wording, match.candidates)
    if heading.hidden:
        one.why.append("hidden column")
    return one, match


def _in_unit_of_cells(match: Match, text: str, group: str, sheet: str, unit: str) -> Match:
    """Judge a heading without a unit by the unit that its cells name.

    "Runs" over ``275 fpm`` is a speed, and "Rolls set at" over ``20 deg`` no count.
    """
    if match.field is not None and fits_unit(match.field, unit):
        return match
    told = match_header(text, group, sheet, unit)
    if told.field is not None:
        # The unit stays with the cells that name it: a bare number beside them may be in another.
        return replace(told, unit=None, why=f"{told.why}, its cells are in {unit}")
    if match.field is None:
        return replace(told, unit=None) if told.candidates else match
    if not FIELDS[match.field].numeric:
        return match
    why = f"{match.why}, but its cells are in {unit}"
    return replace(match, field=None, candidates=(match.field,), confidence=0.25, why=why)


def _in_another_unit(name: str, unit: str | None, text: str) -> bool:
    """Whether the row of units gives a number a unit that nobody knows."""
    if unit is not None or FIELDS[name].kind not in ("number", "lift"):
        return False
    said = meaning(text)
    if text and FIELDS[name].customary == ("h/week",) and not said.unknown:
        # "h-h/sem" is spelled as no unit is, and its words leave no other.
        return not any({"hours", "week"} <= c <= {"hours", "week", "labour"} for c in said.choices)
    return "/" in text or bool(said.unknown)


def _question(candidates: tuple[str, ...]) -> str:
    if len(candidates) == 1:
        return f"is it {candidates[0]}?"
    return f"is it {', '.join(candidates[:-1])} or {candidates[-1]}?"


def _by_neighbour(table: Table, index: int, match: Match, unit: str | None) -> Match:
    """Try the heading on the left as a group: ``Secondary`` before ``Blade``."""
    heading, left = table.headings[index], table.headings[index - 1]
    again = match_header(heading.text, f"{heading.group} {left.text}".strip(), table.sheet, unit)
    if again.field is not None and (not match.candidates or again.field in match.candidates):
        if "above" not in again.why:
            return match
        return Match(
            again.field,
            0.8,
            (),
            again.unit,
            f"{again.why.partition(', with')[0]}, follows {left.text!r}",
            True,
        )
    return match


def _by_polarity(table: Table, found: list[Assigned]) -> None:
    """Turn columns whose yes says that a thing is missing; ask where nobody can tell."""
    for heading, values, one in zip(table.headings, table.columns, found, strict=True):
        name = one.field
        if name is None or not (FIELDS[name].kind == "yes/no" or FIELDS[name].people):
            continue
        text, group = f"{heading.text} {heading.unit_text}".strip(), heading.group
        strict = () if one.mapped else (group,) if "known wording" in one.why[0] else (group, text)
        why = doubt(name, text, group, table.around, _answers(name, values), strict)
        why = {"there": "", "missing": OPPOSITE}.get(one.yes, why)
        one.opposite = why == OPPOSITE
        one.why += [why] * one.opposite
        if why and not one.opposite:
            one.candidates, one.question = (name,), f"does a yes say that all is well? {why}"
            if one.mapped:
                one.question += '; add yes = "there" or yes = "missing" to the column map'
            one.field, one.confidence = None, min(one.confidence, 0.5)
            continue
        for row, (section, _) in enumerate(table.sections):
            if not is_blank(values[row]) and (news := bad_title(section)):
                problem = f"was not used: it stands below {section!r}, and {news!r} may turn it"
                values[row] = Fault(plain_text(values[row]), problem, "Write what is there.")


def _against_bad_news_beside(table: Table, found: list[Assigned]) -> None:
    """Use no yes beside bad news of the same thing: "Guards: Y" and "Guards defective: Y"."""
    plain = {
        one.field: values
        for one, values in zip(found, table.columns, strict=True)
        if one.field and not one.opposite and FIELDS[one.field].people
    }
    for heading, values, one in zip(table.headings, table.columns, found, strict=True):
        thing = without_news(heading.text) if one.field is None and not one.mapped else ""
        name = match_header(thing, heading.group, table.sheet).field if thing else None
        answers = plain.get(name or "", [])
        for row, (answer, news) in enumerate(zip(answers, values, strict=False)):
            if _says_no(answer) or _says_no(news) or isinstance(answer, Fault):
                continue
            said = f"was not used: {heading.text!r} beside it says {plain_text(news)!r}"
            answers[row] = Fault(plain_text(answer), said, "Write what is there today.")


def _says_no(value: Value) -> bool:
    word = read_yes("nip_guards", plain_text(value))
    return is_blank(value) or (word is not None and word.value in ("no", ""))


def _answers(name: str, values: list[Value]) -> Iterator[tuple[str, str]]:
    """Different filled cells, each with its yes or no, or with how it was read if not plainly."""
    for text in {plain_text(value) for value in values if not isinstance(value, Fault)}:
        word = read_yes(name, text)
        if text and (word is None or word.value):
            yield text, "" if word is None else word.note or word.value


# --- over the whole table --------------------------------------------------------------------


def _by_values(values: list[Value], one: Assigned) -> None:
    """Settle a question by the cells, where they fit one candidate and no other."""
    some = sample(values)
    if not some:
        return
    shares = {name: share(some, fits(name)) for name in one.candidates}
    best = max(shares, key=lambda name: (shares[name], name == "belt_designation"))
    rest = max((part for name, part in shares.items() if name != best), default=0.0)
    # Any words fit a text field: that tells only against fields of numbers.
    words = FIELDS[best].kind == "text" and len(one.candidates) > 1
    telling = (words or FIELDS[best].kind in ("choice", "lift")) and best != "tag"
    if telling and shares[best] >= 0.8 and rest <= 0.3:
        one.field, one.candidates = best, ()
        one.confidence = round(max(one.confidence, 0.5) + 0.25 * shares[best], 2)
        one.why.append(f"{shares[best]:.0%} of its cells hold words of {best}")


_BLADES = {"primary_cleaner": "primary_blade", "secondary_cleaner": "secondary_blade"}


def _blade_of_cleaner_before(table: Table, found: list[Assigned]) -> None:
    """Take "Blade" for that of the cleaner in the column before it."""
    for index, (left, one) in enumerate(pairwise(found), 1):
        name = _BLADES.get(left.field or "")
        if one.field is None and name in one.candidates:
            some = sample(table.columns[index])
            if name and some and share(some, fits(name)) >= 0.8:
                one.field, one.candidates, one.confidence = name, (), 0.8
                one.why.append(f"follows {table.headings[index - 1].shown!r}")


def _blade_under_cleaner(table: Table, found: list[Assigned]) -> None:
    """Take a column of a cleaner whose cells name blades for its blade, if no other gives it.

    One where a cell says that there is none answers whether a cleaner is fitted, unless the
    column of another cleaner of the table was taken for a blade: both are kept alike.
    """
    given = [one.field for one in found]
    alike = False
    for values, one in zip(table.columns, found, strict=True):
        blade = _BLADES.get(one.field or "")
        if blade is None or blade in given or given.count(one.field) > 1 or one.mapped:
            continue
        some = sample(values)
        part = share(some, fits(blade))
        answers = [read_yes(str(one.field), cell) for cell in some if isinstance(cell, str)]
        without = any(answer is not None and answer.value == "no" for answer in answers)
        if part > 0.5 and (alike or not without):
            alike = True
            one.field, one.candidates, one.question = blade, (), ""
            one.why.append(f"{part:.0%} of its cells name a blade")


def _rating_or_operating(table: Table, found: list[Assigned]) -> None:
    """Tell a rating from an operating tension: a rating belongs to the belt's designation."""
    asked = [
        index
        for index, one in enumerate(found)
        if set(one.candidates) == {"belt_rated_tension", "belt_operating_tension"}
    ]
    designations = [index for index, one in enumerate(found) if one.field == "belt_designation"]
    if len(asked) != 1 or len(designations) != 1:
        return
    one = found[asked[0]]
    ratio = factor(one.unit, "kN/m") if one.unit else None
    if ratio is None:
        return
    tensions: dict[str, set[float]] = {}
    for text, value in zip(table.columns[designations[0]], table.columns[asked[0]], strict=True):
        if isinstance(text, str) and type(value) is float and value > 0:
            nominal = parse_designation(text).nominal_strength
            if not 6.5 <= nominal / (value * ratio) <= 12:
                return
            tensions.setdefault(text, set()).add(value)
    if len(tensions) >= 3 and all(len(values) == 1 for values in tensions.values()):
        one.field, one.candidates, one.confidence = "belt_rated_tension", (), 0.75
        one.why.append("one figure for each belt designation, a share of its nominal strength")


def _rating_or_strength(table: Table, found: list[Assigned]) -> None:
    """Ask about a rating whose figures are the belts' breaking strengths.

    "Belt rating 800" of an EP 800/4 is what breaks it: taken for what it may carry, the belt
    would seem eight times as strong as it is.
    """
    designations = [index for index, one in enumerate(found) if one.field == "belt_designation"]
    for index, one in enumerate(found):
        if one.field != "belt_rated_tension" or one.mapped or len(designations) != 1:
            continue
        pairs = [
            (parse_designation(text).nominal_strength, value)
            for text, value in zip(
                table.columns[designations[0]], table.columns[index], strict=True
            )
            if isinstance(text, str) and type(value) is float and value > 0
        ]
        ratio = factor(one.unit, "kN/m") if one.unit else 1.0
        known = [value * (ratio or 1.0) / nominal for nominal, value in pairs if nominal > 0]
        if known and min(known) > 0.5:
            one.field, one.confidence = None, 0.25
            one.candidates = ("belt_nominal_strength", "belt_rated_tension")
            one.why.append("its figures are as large as the belts' breaking strength")


def _carcass_alone(table: Table, found: list[Assigned]) -> None:
    """Take a column of belts that says no more than fabric or steel cord for the carcass."""
    if any(one.field == "belt_carcass" for one in found):
        return
    for values, one in zip(table.columns, found, strict=True):
        some = sample(values)
        alone = len(some) >= 3 and share(some, fits("belt_carcass")) == 1
        if one.field == "belt_designation" and not one.mapped and alone:
            one.field = "belt_carcass"
            one.why.append("its cells say no more than the carcass")


def _settle_doubles(table: Table, found: list[Assigned]) -> None:
    """Leave a field to one column: the user's, or the one that is clearly surer; else to none."""
    by_field: dict[str, list[int]] = {}
    for index, one in enumerate(found):
        if one.field is not None:
            by_field.setdefault(one.field, []).append(index)
    for name, columns in by_field.items():
        filled = [at for at in columns if found[at].mapped or sample(table.columns[at])]
        if len(columns) > 1 and filled:
            for at in set(columns) - set(filled):
                found[at].field, found[at].confidence = None, min(found[at].confidence, 0.5)
                found[at].why.append("none of its cells is filled")
            columns = filled
        if len(columns) > 1 and (kept := _by_cells(table, name, columns, found)):
            for at in set(columns) - set(kept):
                found[at].field, found[at].confidence = None, min(found[at].confidence, 0.5)
                found[at].why.append(f"its cells are none of {name}, those of another column are")
            columns = kept
        if len(columns) == 1:
            continue
        if name == "tonnage" and (designed := _designed(table, columns)) is not None:
            for at in set(columns) - {designed}:
                found[at].field, found[at].confidence = None, min(found[at].confidence, 0.5)
                place = table.headings[designed].place
                found[at].why.append(f"the design rate stands in column {place}")
            continue
        own = [at for at in columns if OF_CONVEYORS.search(table.headings[at].text)]
        # "Conveyor ref." goes before "Asset no.", where both are as sure.
        more = dict.fromkeys(own, 0.06) if name == "tag" else {}
        if name == "notes":  # remarks go before a list of actions
            own = [at for at in columns if _REMARKS.search(table.headings[at].text)]
            more = dict.fromkeys(own, 0.2)
        ranked = sorted(
            columns,
            key=lambda at: (not found[at].mapped, -found[at].confidence - more.get(at, 0.0)),
        )
        first, second = found[ranked[0]], found[ranked[1]]
        # "Guards" beside "Guards missing": neither is taken for the other's word.
        turned_one = any(found[at].opposite for at in columns)
        clear = (first.mapped and not second.mapped) or (
            first.confidence - second.confidence >= 0.2 and not turned_one
        )
        same = all(_same_cells(table, ranked[0], other) for other in ranked[1:]) and not turned_one
        places = [f"{table.headings[at].shown!r} ({table.headings[at].place})" for at in columns]
        losers = ranked[1:] if clear or same or name in ("tag", "notes") else ranked
        for at in losers:
            one = found[at]
            one.field = None
            one.confidence = min(one.confidence, 0.5)
            if clear or same:
                one.why.append(f"the field is given by column {table.headings[ranked[0]].place}")
            if not (clear or same) or clear:
                one.candidates = (name,)
                one.question = f"{' and '.join(places)} could both be {name}: which is it?"


_REMARKS = re.compile(
    r"remark|comment|note|observ|bemerk|anmerk|kommentar|coment|notas|remarq", re.IGNORECASE
)
_DESIGN = re.compile(
    r"\b(?:design|designed|rated|nominal\w*|nom|nameplate|diseño|proyecto|projeto|nenn\w*|soll\w*|"
    r"ausleg\w*|dim)\b",
    re.IGNORECASE,
)
_ACTUAL = re.compile(
    r"\b(?:actual|act|real|r[ée]el\w*|ist|current|present|usual|measured|observed|weighed|now|today|"
    r"average|avg|mean|peak|highest|seen|best|ever|record|max\w*|achieved|tats[äa]chlich\w*|gemessen\w*|medid[oa]|constat\w*|"
    r"mesur\w*|atual|actuel\w*)\b",
    re.IGNORECASE,
)


def _designed(table: Table, columns: list[int]) -> int | None:
    """Of columns of the rate, the one that is headed the design rate, beside actual ones."""
    heads = {at: f"{table.headings[at].group} {table.headings[at].text}" for at in columns}
    designed = [at for at, head in heads.items() if _DESIGN.search(head)]
    others = [head for at, head in heads.items() if at not in designed]
    one = len(designed) == 1 and not _ACTUAL.search(heads[designed[0]])
    return designed[0] if one and all(map(_ACTUAL.search, others)) else None


def _by_cells(table: Table, name: str, columns: list[int], found: list[Assigned]) -> list[int]:
    """Of columns headed alike, those whose cells are of the field; none where that is no help."""
    kind = FIELDS[name].kind
    if any(found[at].mapped for at in columns) or name == "tag":
        return []
    if name != "belt_designation" and kind not in ("choice", "yes/no"):
        return []
    shares = {at: share(sample(table.columns[at]), fits(name)) for at in columns}
    if not all(part >= 0.8 or part <= 0.2 for part in shares.values()):
        return []
    return [at for at, part in shares.items() if part >= 0.8]


def _same_cells(table: Table, one: int, other: int) -> bool:
    return table.columns[one] == table.columns[other]
