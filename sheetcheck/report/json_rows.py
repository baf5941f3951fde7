"""Register rows and their verdicts as JSON text, made a column at a time.

A register of 100,000 rows has millions of verdicts, most of whose words repeat: each text is put
into JSON once, numbers a whole column at a time, and all of it is joined once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import chain, repeat
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
_NUMBERS = {float, int, bool, type(None), type(ABSENT)}
_LINE_END = orjson.Fragment(b"\n")


class _Texts(dict[Any, bytes]):
    """JSON of words, which repeat from row to row, made when first asked for."""

    def __init__(self) -> None:
        super().__init__()
        self._cells: dict[tuple[str, tuple[str, ...]], list[bytes]] = {}

    def __missing__(self, item: Any) -> bytes:
        # What the encoder returns keeps its buffer of some thousand bytes; a part of it does not.
        self[item] = text = orjson.dumps([item])[1:-1]
        return text

    def column(self, items: Sequence[Any]) -> list[bytes]:
        """JSON of each item; null for what is `ABSENT`."""
        kinds = set(map(type, items))
        if kinds == {str}:
            return list(map(self.__getitem__, items))
        if kinds <= _NUMBERS:
            return orjson.dumps(items, default=_null)[1:-1].split(b",")
        # No JSON text has a line end in it, so one tells an item from the next.
        apart = [_LINE_END] * (2 * len(items) - 1)
        apart[::2] = items
        return orjson.dumps(apart, default=_null)[1:-1].split(b",\n,")

    def members(self, name: str, items: Sequence[Any]) -> list[bytes]:
        """Each item as a member of its row's mapping, after a comma; empty for `ABSENT`."""
        head = f',"{name}":'.encode()
        return [
            b"" if item is ABSENT else head + text
            for item, text in zip(items, self.column(items), strict=True)
        ]

    def cells(self, name: str, cells: Sequence[str]) -> list[bytes]:
        """As `members`, made once for all checks that read the same cells."""
        key = name, tuple(cells)
        if key not in self._cells:
            self._cells[key] = self.members(name, cells)
        return self._cells[key]


class _Lines:
    """Texts of the same make: fixed parts and, between them, a part of each one's own."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._parts: list[Iterable[bytes]] = []
        self._fixed = b""

    def same(self, text: bytes) -> None:
        """Add what is the same in each."""
        self._fixed += text

    def own(self, column: list[bytes]) -> None:
        """Add what each has of its own."""
        self._parts += [repeat(self._fixed, self._size), column]
        self._fixed = b""

    def joined(self) -> list[bytes]:
        """Each one whole."""
        every = [*self._parts, repeat(self._fixed, self._size)]
        return list(map(b"".join, zip(*every, strict=True)))


def json_rows(findings: Findings, rows: Array, marks: Mapping[int, dict[str, list[str]]]) -> bytes:
    """One JSON object a register row, each after a comma and a line end.

    Parameters
    ----------
    findings
        What to write.
    rows
        Register rows, to be held in memory together.
    marks
        What `marks_of` gave.
    """
    verdicts, texts = VerdictColumns(findings, rows, DIGITS), _Texts()
    columns: list[Iterable[bytes]] = [_heads(findings, rows, marks)]
    comma = ""
    for key in findings.results:
        columns.append(_verdicts(f'{comma}"{key}":', verdicts.apart(key), texts))
        comma = ","
    columns.append(repeat(b"}}", len(rows)))
    return b"".join(chain.from_iterable(zip(*columns, strict=True)))


def _heads(
    findings: Findings, rows: Array, marks: Mapping[int, dict[str, list[str]]]
) -> list[bytes]:
    """Each row's object without its ``checks`` and its end."""
    register, heads = findings.register, []
    for row, values in zip(rows.tolist(), values_of(register, rows), strict=True):
        sheet, number = register.cells.main(row)
        head = {
            "tag": str(register.values["tag"][row]),
            "load_point": register.value(row, "load_point"),
            "sheet": sheet,
            "row": number,
            "rank": int(findings.rank[row]),
            "values": values,
            **marks[row],
        }
        heads.append(b',\n%b,"checks":{' % orjson.dumps(head)[:-1])
    return heads


def _verdicts(name: str, columns: Mapping[str, list[Any]], texts: _Texts) -> list[bytes]:
    """Each row's verdict as a member of its row's ``checks``, after its name."""
    lines = _Lines(len(columns["row"]))
    before = f"{name}{{"
    for attribute in _ATTRIBUTES:
        lines.same(f'{before}"{attribute}":'.encode())
        before = ","
        items = columns[attribute]
        if attribute in MAPPINGS:
            _add_mapping(lines, attribute, items, texts)
        elif items.count(items[0]) == len(items):
            # Most often no number, nothing assumed, the same unit and source.
            lines.same(orjson.dumps(items[0]))
        else:
            lines.own(texts.column(items))
    if any(columns["accepted"]):
        lines.own([b',"accepted":' + texts[x] if x else b"" for x in columns["accepted"]])
    lines.same(b"}")
    return lines.joined()


def _add_mapping(
    lines: _Lines, attribute: str, columns: Sequence[tuple[str, list[Any]]], texts: _Texts
) -> None:
    """Add what maps names to items; what is `ABSENT` is left out of it."""
    members = texts.cells if attribute == "cells" else texts.members
    lines.same(b"{")
    if columns and ABSENT in columns[0][1]:
        made = [members(name, items) for name, items in columns]
        # Each has a comma before it; the first one's is cut off.
        lines.own([text[1:] for text in map(b"".join, zip(*made, strict=True))])
    else:
        before = ""
        for name, items in columns:
            if ABSENT in items:
                lines.own(members(name, items))
            else:
                lines.same(f'{before}"{name}":'.encode())
                lines.own(texts.column(items))
            before = ","
    lines.same(b"}")


def _null(_: Any) -> None:
    return None
