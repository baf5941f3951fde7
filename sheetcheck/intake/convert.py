"""A column of cells to a column of the register: values in SI, and what could not be read."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..register.fields import FIELDS, Field
from .converted import Column, Noted, brief, fault
from .grid import Fault, Moment, Value, is_blank, plain_text
from .numbers import Marks, convert_numbers
from .words import Word, is_placeholder, read_choice, read_yes

__all__ = ["convert"]


def convert(
    name: str,
    values: Sequence[Value],
    unit: str | None,
    marks: Marks,
    *,
    tons: str | None = None,
    opposite: bool = False,
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
    opposite
        Whether a yes means that the thing is missing.
    """
    spec = FIELDS[name]
    if spec.kind == "text":
        words, column = _by_value(values, lambda value: _text(spec, value))
        column.values = np.array(words, dtype=np.str_)
    elif spec.kind == "choice":
        words, column = _by_value(values, lambda value: _choice(spec, value))
        column.values = np.array(words, dtype=np.str_)
    elif spec.kind == "yes/no":
        ticks = any(_is_tick(spec, value) for value in set(values))

        def read(value: Value) -> _Answer:
            answer = _yes_no(spec, value, ticks)
            return _turn(spec, answer) if opposite and answer.word else answer

        words, column = _by_value(values, read)
        column.values = np.array([_TRUTH[word] for word in words], np.float64)
    else:
        column = convert_numbers(spec, values, unit, marks, tons)
    return column


_TRUTH = {"yes": 1.0, "no": 0.0, "": np.nan}


@dataclass(frozen=True, slots=True)
class _Answer:
    """What one cell says: a word of the register, and what there is to report of it."""

    word: str
    problem: str = ""
    what_to_do: str = ""
    used: bool = False
    placeholder: bool = False


def _by_value(
    values: Sequence[Value], read: Callable[[Value], _Answer]
) -> tuple[list[str], Column]:
    """Read each different cell once; give the words of all rows, and what to report."""
    column = Column(np.empty(0))
    answers = {
        value: _Answer("") if is_blank(value) or isinstance(value, Fault) else read(value)
        for value in set(values)
    }
    telling = {
        value
        for value, answer in answers.items()
        if answer.problem or answer.placeholder or isinstance(value, Fault)
    }
    for row, value in enumerate(values) if telling else ():
        if value not in telling:
            continue
        answer = answers[value]
        if isinstance(value, Fault):
            column.problems.append(fault(row, value))
        elif answer.placeholder:
            column.placeholders += 1
        else:
            text, used = plain_text(value), answer.used
            column.problems.append(Noted(row, text, answer.problem, answer.what_to_do, used))
    return [answers[value].word for value in values], column


_AS_TEXT = "Format the cell as text and write the tag again."


def _text(spec: Field, value: Value) -> _Answer:
    text = plain_text(value)
    if spec.key == "tag" and isinstance(value, Moment):
        return _Answer("", "is a date, perhaps made of a tag such as 1-2", _AS_TEXT)
    if spec.key != "notes" and is_placeholder(text):
        return _Answer("", placeholder=True)
    return _Answer(text)


_CONFIRM = "Confirm it, or write the plain word."


def _choice(spec: Field, value: Value) -> _Answer:
    word = read_choice(spec.key, plain_text(value))
    if word is None:
        words = ", ".join(spec.choices)
        return _Answer("", f"is none of the words for {brief(spec)}", f"Use one of: {words}.")
    if not word.value:
        return _Answer("", placeholder=True)
    if word.note:
        return _Answer(word.value, f"was read as {word.value!r}: {word.note}", _CONFIRM, used=True)
    return _Answer(word.value)


_CROSS = frozenset({"x", "X"})


def _is_tick(spec: Field, value: Value) -> bool:
    """Whether a cell is a plain yes that is no cross."""
    word = read_yes(spec.key, value) if isinstance(value, str) and value not in _CROSS else None
    return word == Word("yes")


def _yes_no(spec: Field, value: Value, ticks: bool) -> _Answer:
    if isinstance(value, bool):
        return _Answer("yes" if value else "no")
    text = plain_text(value)
    if text in _CROSS and ticks:
        return _Answer("", "may mean yes or no: the column has ticks too", "Write yes or no.")
    word = read_yes(spec.key, text)
    if word is None:
        return _Answer("", f"says neither yes nor no ({brief(spec)})", "Write yes or no.")
    if not word.value:
        return _Answer("", placeholder=True)
    if word.note and word.note != "a count":
        return _Answer(word.value, f"was read as {word.value!r}: {word.note}", _CONFIRM, used=True)
    return _Answer(word.value)


def _turn(spec: Field, answer: _Answer) -> _Answer:
    """Answer of a column whose yes says that the thing is missing."""
    if answer.word == "no" and spec.people:
        problem = f"is not missing, it says; whether all is well it does not ({brief(spec)})"
        return _Answer("", problem, "Write yes under a heading of what is there.")
    return replace(answer, word="no" if answer.word == "yes" else "yes")
