"""A column of cells to a column of the register: values in SI, and what could not be read."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..register.fields import FIELDS, Field
from .converted import Column, Noted, brief, fault
from .grid import Fault, Value, is_blank, plain_text
from .numbers import Marks, convert_numbers
from .words import is_placeholder, read_choice, read_yes

__all__ = ["convert"]


def convert(
    name: str,
    values: Sequence[Value],
    unit: str | None,
    marks: Marks,
    *,
    tons: str | None = None,
) -> Column:
    """Convert a column of cells.

    Parameters
    ----------
    name
        Field it holds.
    values
        Cells.
    unit
        Canonical unit of numbers without one of their own, or None where it is not known.
    marks
        How the register writes numbers.
    tons
        What a "ton" is here: ``"t/h"``, ``"short ton/h"``, or None where that is open.
    """
    spec = FIELDS[name]
    if spec.kind == "text":
        return _texts(spec, values)
    if spec.kind == "choice":
        return _choices(spec, values)
    if spec.kind == "yes/no":
        return _yes_no(spec, values)
    return convert_numbers(spec, values, unit, marks, tons)


def _texts(spec: Field, values: Sequence[Value]) -> Column:
    column = Column(np.empty(0))
    read: dict[Value, str] = {}
    texts: list[str] = []
    for row, value in enumerate(values):
        if isinstance(value, Fault):
            column.problems.append(fault(row, value))
            texts.append("")
            continue
        if value not in read:
            text = plain_text(value)
            read[value] = "" if spec.key != "notes" and is_placeholder(text) else text
        column.placeholders += not read[value] and not is_blank(value)
        texts.append(read[value])
    column.values = np.array(texts, dtype=np.str_)
    return column


def _choices(spec: Field, values: Sequence[Value]) -> Column:
    texts: list[str] = []
    column = Column(np.empty(0))
    for row, value in enumerate(values):
        if is_blank(value):
            texts.append("")
            continue
        if isinstance(value, Fault):
            column.problems.append(fault(row, value))
            texts.append("")
            continue
        text = plain_text(value)
        word = read_choice(spec.key, text)
        if word is None:
            words = ", ".join(spec.choices)
            column.problems.append(
                Noted(
                    row,
                    text,
                    f"is none of the words for {brief(spec)}",
                    f"Use one of: {words}.",
                )
            )
            texts.append("")
            continue
        if not word.value:
            column.placeholders += 1
        elif word.note:
            column.problems.append(
                Noted(row, text, f"was read as {word.value!r}: {word.note}", _CONFIRM, used=True)
            )
        texts.append(word.value)
    column.values = np.array(texts, dtype=np.str_)
    return column


_CONFIRM = "Confirm it, or write the plain word."
_CROSS = frozenset({"x", "X"})
_TICKS = frozenset("✓✔☑√") | {
    "Y",
    "y",
    "yes",
    "Yes",
    "YES",
    "ja",
    "Ja",
    "si",
    "sí",
    "Sí",
    "sim",
    "oui",
}


def _yes_no(spec: Field, values: Sequence[Value]) -> Column:
    column = Column(np.full(len(values), np.nan))
    ticks = any(isinstance(value, str) and value.strip() in _TICKS for value in values)
    for row, value in enumerate(values):
        if isinstance(value, bool):
            column.values[row] = float(value)
            continue
        if is_blank(value):
            continue
        if isinstance(value, Fault):
            column.problems.append(fault(row, value))
            continue
        text = plain_text(value)
        if text in _CROSS and ticks:
            column.problems.append(
                Noted(
                    row,
                    text,
                    "may mean yes or no: the column has ticks too",
                    "Write yes or no.",
                )
            )
            continue
        word = read_yes(spec.key, text)
        if word is None:
            column.problems.append(
                Noted(
                    row,
                    text,
                    f"says neither yes nor no ({brief(spec)})",
                    "Write yes or no.",
                )
            )
        elif not word.value:
            column.placeholders += 1
        else:
            column.values[row] = float(word.value == "yes")
            if word.note and word.note != "a count":
                column.problems.append(
                    Noted(
                        row, text, f"was read as {word.value!r}: {word.note}", _CONFIRM, used=True
                    )
                )
    return column
