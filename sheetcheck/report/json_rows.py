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
from ..findings.columns import Array
from ..findings.verdict_columns import ABSENT, MAPPINGS, VerdictColumns
from .json_parts import DIGITS, values_of

__all__ = ["json_rows"]

_ATTRIBUTES = (
    "band", "why", "found", "required", "unit", "margin", "relative_margin", "cells",
    "assumptions", "if_known", "flips_at", "numbers", "source", "grade", "remedy",
)  # fmt: skip
_NUMBERS = {float, int, bool, type(None)}

_Slot = tuple[str, str, list[bytes]]
"""Attribute of a verdict, name in it where it maps names to items, and its JSON row by row."""


class _Texts(dict[Any, bytes]):
    """JSON of what repeats from row to row: made when first asked for, and kept."""

    def __missing__(self, item: Any) -> bytes:
        self[item] = text = orjson.dumps(item)
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
    slots: list[_Slot] = []
    for attribute in _ATTRIBUTES:
        items = columns[attribute]
        if attribute in MAPPINGS:
            slots += [(attribute, name, _items(column, texts)) for name, column in items]
        elif attribute == "if_known":
            slots.append(
                (attribute, "", [orjson.dumps(item) if item else b"{}" for item in items])
            )
        elif attribute == "assumptions":
            slots.append((attribute, "", [texts[item] for item in items]))
        else:
            slots.append((attribute, "", _items(items, texts)))
    slots.append(("accepted", "", [texts[item] if item else b"" for item in columns["accepted"]]))
    made = [items for _, _, items in slots]
    partial = [items for items in made if b"" in items]
    names = tuple([(attribute, name) for attribute, name, _ in slots])
    if not partial:
        form = _form(key, names)
        return [form % row for row in zip(*made, strict=True)]
    # Rows in which the same things are there have one form, filled in for each of them.
    forms: dict[tuple[bool, ...], bytes] = {}
    found = []
    theres = zip(*(map(bool, items) for items in partial), strict=True)
    for row, there in zip(zip(*made, strict=True), theres, strict=True):
        if there not in forms:
            here = tuple([name for name, item in zip(names, row, strict=True) if item])
            forms[there] = _form(key, here)
        found.append(forms[there] % tuple(filter(None, row)))
    return found


@lru_cache(maxsize=100_000)
def _form(key: str, slots: tuple[tuple[str, str], ...]) -> bytes:
    """JSON of a verdict, with a hole for each of its slots: attribute, and name in it."""
    members = []
    for attribute in (*_ATTRIBUTES, "accepted"):
        names = [name for other, name in slots if other == attribute]
        if attribute in MAPPINGS:
            inner = ",".join(f'"{name}":%b' for name in names)
            members.append(f'"{attribute}":{{{inner}}}')
        elif names:
            members.append(f'"{attribute}":%b')
    return f'"{key}":{{{",".join(members)}}}'.encode()


def _items(items: Sequence[Any], texts: _Texts) -> list[bytes]:
    """JSON of each item, of numbers all at once; empty for what is `ABSENT`."""
    kinds = set(map(type, items))
    if kinds <= _NUMBERS:
        return orjson.dumps(items)[1:-1].split(b",")
    if kinds == {str}:
        return [texts[item] for item in items]
    if kinds <= _NUMBERS | {object}:
        numbers = _items([None if item is ABSENT else item for item in items], texts)
        return [b"" if i is ABSENT else text for i, text in zip(items, numbers, strict=True)]
    return [
        b"" if item is ABSENT else texts[item] if type(item) is str else orjson.dumps(item)
        for item in items
    ]
