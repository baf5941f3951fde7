"""What a sheet is about, and what that makes of a heading that names no part.

"Idler spacing" is the carrying idlers' on a list of conveyors and the load zone's on a list of
load points; "reversing" is the belt's, or a cleaner's that suits it. The name of the sheet, the
fields of its other columns and those beside a column tell; where they leave it open, both fields
are named in a question.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..register.fields import FIELDS
from .evidence import ENOUGH, Assigned
from .header_meaning import meaning
from .headers import narrower
from .table import Table

__all__ = ["by_subject"]

_GROUP_SUBJECT = {
    "Loading": "load point",
    "Sealing": "load point",
    "Cleaning": "cleaner",
    "Tracking": "tracker",
}
"""What a column of each group of the schema is about, in words of headings."""

_SUBJECTS = (*dict.fromkeys(_GROUP_SUBJECT.values()), "inspection door")

_NAMED = {
    **dict.fromkeys(("load", "chute", "skirt", "support", "drop", "seal"), "load point"),
    **dict.fromkeys(("cleaner", "blade", "carryback"), "cleaner"),
    **dict.fromkeys(("tracker", "wander"), "tracker"),
    **dict.fromkeys(("door", "inspection"), "inspection door"),
}
"""What a sheet is about whose name holds a concept."""

_MOST, _MANY = 0.6, 0.4
_FEW = 3
"""Columns that are needed for a majority."""


def _about(field: str) -> str:
    if field.startswith("door_"):
        return "inspection door"
    return _GROUP_SUBJECT.get(FIELDS[field].group, "")


def _named_subjects(name: str) -> set[str]:
    """Subjects that a sheet's name speaks of; none where it speaks of conveyors as well."""
    choices = meaning(name).choices
    if any({"belt", "conveyor"} & choice for choice in choices):
        return set()
    return {_NAMED[concept] for choice in choices for concept in choice if concept in _NAMED}


def _beside(found: list[Assigned], index: int) -> Iterator[str]:
    """Subjects of the nearest columns on either side that hold a field."""
    for step in (-1, 1):
        at = index + step
        while 0 <= at < len(found) and found[at].field in (None, "notes"):
            at += step
        name = found[at].field if 0 <= at < len(found) else None
        yield _about(name) if name is not None else ""


def by_subject(table: Table, found: list[Assigned]) -> None:
    """Give a column the field of what its sheet is about, or ask where that is open.

    Parameters
    ----------
    table, found
        The table, and what its columns were taken for; changed in place.
    """
    about = [
        _about(one.field)
        for one in found
        if one.field is not None
        and one.confidence >= ENOUGH
        and FIELDS[one.field].group != "Identity"
    ]
    named = _named_subjects(table.sheet)
    for index, one in enumerate(found):
        if one.field is None or one.mapped or FIELDS[one.field].group == "Identity":
            continue
        heading = table.headings[index]
        beside = set(_beside(found, index))
        for subject in _SUBJECTS:
            others = len(about) - (_about(one.field) != subject)
            part = about.count(subject) / others if others >= _FEW else 0.0
            told = part >= _MOST or (subject in named and (part >= _MANY or others < _FEW))
            if not (told or subject in named or part >= _MANY or beside == {subject}):
                continue
            special = narrower(heading.text, heading.group, subject, one.unit, one.field)
            if special is None:
                continue
            if told:
                one.why.append(f"on a sheet about {subject}s, so not {one.field}")
                one.field, one.confidence = special, 0.85
            else:
                one.why.append(f"stands among columns about {subject}s")
                one.candidates, one.field = (one.field, special), None
                one.confidence = 0.25  # too low for the cells, which would fit both
            break
