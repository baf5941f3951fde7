"""What stands above or around a heading: of the belt, of a part, or of another machine."""

from __future__ import annotations

from .header_meaning import meaning

__all__ = [
    "BELT_GROUP",
    "MEASURES",
    "NAMES",
    "NEUTRAL",
    "PARTS",
    "foreign",
    "is_general",
    "made_of",
    "names_another",
    "of_another",
    "of_the_belt",
    "of_who_knows",
    "plain_context",
]

# Said of almost anything, so they never rule a field out.
NEUTRAL = frozenset({"conveyor", "design", "rated", "operating", "end"})
# Group headings and sheet names under which a bare "Width" still means the belt's.
BELT_GROUP = NEUTRAL | {
    "belt", "area", "name", "description", "id", "tag", "material", "notes", "number", "kind",
    "lift", "capacity", "horizontal", "vertical", "register",
}  # fmt: skip
# What belongs to another machine or record, whatever stands under it.
_FOREIGN = frozenset(
    {"motor", "gearbox", "drive", "takeup", "brake", "hopper", "machine", "maker", "date"}
    | {"otherwise", "person", "frequency", "lagging", "temperature", "volume", "trouble"}
    | {"gallery"}
)
# Of these, what another machine or another time has: no wording below makes it the conveyor's.
_ANOTHER = frozenset({"motor", "gearbox", "brake", "hopper", "machine", "otherwise"})
# Parts that have latches, guards and places of their own.
PARTS = frozenset(
    {"cleaner", "blade", "seal", "skirt", "idler", "door", "pulley", "chute", "tracker"}
    | {"spillage"}
)
# Concepts that by themselves are measures of anything.
MEASURES = frozenset(
    {"width", "length", "height", "speed", "lift", "capacity", "distance", "size", "thickness"}
    | {"mass", "number", "angle", "vertical", "horizontal", "kind"}
)


# What text fields are headed with under the name of the thing: "MATERIAL | Name".
NAMES = frozenset({"name", "kind", "description", "designation"})


def is_general(text: str) -> bool:
    """Whether a wording names a measure and not what is measured."""
    choices = meaning(text).choices
    return all(choice and choice - NEUTRAL <= MEASURES for choice in choices)


def of_the_belt(group: str) -> bool:
    """Whether a group names the belt alone, whose length is that of all its rubber."""
    return bool(group) and {"belt"} in meaning(group).choices


def plain_context(text: str) -> bool:
    """Whether a bare "Width" under or on a text still means the belt's."""
    return all(choice <= BELT_GROUP for choice in meaning(text).choices)


def of_who_knows(text: str) -> bool:
    """Whether a group says nothing that is known, yet says something: ``FAN``."""
    said = meaning(text)
    words = any(not word.isdigit() for word in said.unknown)
    return words and not any(choice - {"register"} for choice in said.choices)


def foreign(text: str) -> bool:
    """Whether a text names another machine or record."""
    return all(choice & _FOREIGN for choice in meaning(text).choices)


def names_another(text: str) -> bool:
    """Whether a text may speak of another machine or record, whatever else it says."""
    return any(choice & _FOREIGN for choice in meaning(text).choices)


def made_of(text: str) -> bool:
    """Whether a text names a part, whose material is not what the belt carries."""
    parts = {"cleaner", "blade", "seal", "skirt", "wall", "liner", "idler", "door", "pulley"}
    parts |= {"chute", "guard", "walkway", "tracker", "plough", "structure"}
    return any(choice & parts for choice in meaning(text).choices)


def of_another(text: str) -> bool:
    """Whether what stands under a text is never the conveyor's, whatever its wording."""
    return all(choice & _ANOTHER for choice in meaning(text).choices)
