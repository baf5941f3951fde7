"""Register rows and their verdicts as JSON text, made a column at a time.

A register of 100,000 rows has millions of verdicts, most of whose words repeat: each text is put
into JSON once, numbers a whole column at a time.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any

import orjson

from ..findings import Findings
from ..findings.columns import ABSENT, Array
from ..findings.verdict_columns import MAPPINGS, VerdictColumns
from .json_parts import DIGITS, values_of

__all__ = ["json_rows"]

_ATTRIBUTES = (
    "band", "why", "found", "required", "unit", "margin", "relative_margin", "cells",
    "assumptions", "if_known", "flips_at", "numbers", "source", "grade", "remedy",
)  # fmt: skip
_NUMBERS_OF = ("found", "required", "margin", "relative_margin")
_NUMBERS = {float, int, bool, type(None), type(ABSENT)}

_Slot = tuple[str, str, list[bytes]]
"""Attribute of a verdict, name in it where it maps names to items, and its JSON row by row."""


class _Texts(dict[Any, bytes]):
    """JSON of what repeats from row to row, made when first asked for; empty for `ABSENT`."""

    def __init__(self) -> None:
        super().__init__({ABSENT: b""})

    def __missing__(self, item: Any) -> bytes:
        # What the encoder returns keeps its buffer of some thousand bytes; a part of it does not.
        self[item] = text = orjson.dumps([item])[1:-1]
        return text


def json_rows(
    findings: Findings, rows: Array, marks: Mapping[int, dict[str, list[str]]]
) -> Iterator[bytes]:
    """One JSON object a register row.

    Parameters
    ----------
    findings
        What to write.
    rows
        Register rows, to be held in memory together.
    marks
        What `marks_of` gave.
    """
    register, texts = findings.register, _Texts()
    verdicts = VerdictColumns(findings, rows, DIGITS)
    checks = [_verdicts(key, verdicts.apart(key), texts) for key in findings.results]
    values = values_of(register, rows)
    for row, recorded, *each in zip(rows.tolist(), values, *checks, strict=True):
        sheet, number = register.cells.main(row)
        head = {
            "tag": str(register.values["tag"][row]),
            "load_point": register.value(row, "load_point"),
            "sheet": sheet,
            "row": number,
            "rank": int(findings.rank[row]),
            "values": recorded,
            **marks[row],
        }
        yield b'%b,"checks":{%b}}' % (orjson.dumps(head)[:-1], b",".join(each))


def _verdicts(key: str, columns: Mapping[str, list[Any]], texts: _Texts) -> list[bytes]:
    """Each row's verdict as a member of its row's ``checks``."""
    size = len(columns["row"])
    slots: list[_Slot] = []
    same: dict[str, bytes] = {}
    for attribute in _ATTRIBUTES:
        items = columns[attribute]
        if attribute in MAPPINGS:
            slots += [(attribute, name, _items(column, texts)) for name, column in items]
        elif items.count(items[0]) == size:
            # Most often no number, nothing assumed, the same unit and source.
            same[attribute] = orjson.dumps(items[0])
        elif attribute in _NUMBERS_OF:
            slots.append((attribute, "", _items(items, texts)))
        elif attribute == "if_known":
            made = [orjson.dumps(item) if item else b"{}" for item in items]
            slots.append((attribute, "", made))
        else:
            slots.append((attribute, "", list(map(texts.__getitem__, items))))
    if any(columns["accepted"]):
        made = [texts[item] if item else b"" for item in columns["accepted"]]
        slots.append(("accepted", "", made))
    if not slots:
        return [_form(key, (), same) % ()] * size
    columns_made = [made for _, _, made in slots]
    partial = [made for made in columns_made if b"" in made]
    names = tuple([(attribute, name) for attribute, name, _ in slots])
    if not partial:
        form = _form(key, names, same)
        return [form % row for row in zip(*columns_made, strict=True)]
    # Rows in which the same things are there have one form, filled in for each of them.
    forms: dict[tuple[bool, ...], bytes] = {}
    found = []
    theres = zip(*(map(bool, made) for made in partial), strict=True)
    for row, there in zip(zip(*columns_made, strict=True), theres, strict=True):
        if there not in forms:
            here = tuple([name for name, item in zip(names, row, strict=True) if item])
            forms[there] = _form(key, here, same)
        found.append(forms[there] % tuple(filter(None, row)))
    return found


def _form(key: str, slots: tuple[tuple[str, str], ...], same: Mapping[str, bytes]) -> bytes:
    """JSON of a verdict, with a hole for each of its slots: attribute, and name in it."""
    fixed = tuple([text.replace(b"%", b"%%") for text in same.values()])
    return _outline(key, slots, tuple(same)) % fixed


@lru_cache(maxsize=4_096)
def _outline(key: str, slots: tuple[tuple[str, str], ...], same: tuple[str, ...]) -> bytes:
    """Form of a verdict that has holes for what is the same in all rows too."""
    members = []
    for attribute in (*_ATTRIBUTES, "accepted"):
        names = [name for other, name in slots if other == attribute]
        if attribute in MAPPINGS:
            inner = ",".join(f'"{name}":%%b' for name in names)
            members.append(f'"{attribute}":{{{inner}}}')
        elif attribute in same:
            members.append(f'"{attribute}":%b')
        elif names:
            members.append(f'"{attribute}":%%b')
    return f'"{key}":{{{",".join(members)}}}'.encode()


def _items(items: Sequence[Any], texts: _Texts) -> list[bytes]:
    """JSON of each item, of numbers all at once; empty for what is `ABSENT`."""
    kinds = set(map(type, items))
    if kinds <= {str, object}:
        return list(map(texts.__getitem__, items))
    words = {item for item in items if type(item) is str} if str in kinds else set()
    if kinds - {str} <= _NUMBERS and not any("," in word for word in words):
        return orjson.dumps(items, default=_nothing)[1:-1].split(b",")
    return [texts[item] if type(item) in (str, object) else orjson.dumps(item) for item in items]


def _nothing(_: Any) -> orjson.Fragment:
    return orjson.Fragment(b"")
