"""Delimited text (csv): encoding and delimiter are detected."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from typing import Any

from ..errors import UnusableInput
from .grid import Value
from .limits import Allowance
from .parts import TooMuch

__all__ = ["read_delimited"]

_DELIMITERS = ";\t,|"


def _decode(content: bytes) -> str | None:
    for mark, encoding in (
        (b"\xef\xbb\xbf", "utf-8-sig"),
        (b"\xff\xfe\0\0", "utf-32"),
        (b"\0\0\xfe\xff", "utf-32"),
        (b"\xff\xfe", "utf-16"),
        (b"\xfe\xff", "utf-16"),
    ):
        if content.startswith(mark):
            return content.decode(encoding, errors="replace")
    if b"\0" in content:
        return _decode_unmarked(content)
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def _decode_unmarked(content: bytes) -> str | None:
    """Text of 16-bit characters without the mark that should stand before it."""
    for blank, other, encoding in ((1, 0, "utf-16-le"), (0, 1, "utf-16-be")):
        high = content[blank::2]
        if 2 * high.count(0) > len(high) and 0 not in content[other::2]:
            return content.decode(encoding, errors="replace")
    return None


def _delimiter(text: str) -> str:
    """Give the delimiter that splits most lines alike; a blank-only choice is a comma."""
    lines = text.splitlines()[:200]

    def score(mark: str) -> tuple[int, int]:
        widths = [len(row) for row in csv.reader(lines, delimiter=mark)]
        many = [width for width in widths if width > 1]
        usual = max(set(many), key=many.count) if many else 0
        return many.count(usual), usual

    return max(_DELIMITERS, key=score)


def read_delimited(
    content: bytes, file: str, allowance: Allowance
) -> tuple[list[list[Value]], list[int]]:
    """Read delimited text into rows of equal length.

    Parameters
    ----------
    content
        The file's bytes.
    file
        Its name, for messages.
    allowance
        Limits in force.

    Returns
    -------
    rows, lengths
        The cells, and how many of them each row had before blank ones were added.

    Raises
    ------
    UnusableInput
        Where the bytes are no text, or too many cells.
    """
    text = _decode(content)
    if text is None:
        raise UnusableInput(
            file, "is not a workbook and not text", "Save it as xlsx or csv and try again."
        )
    try:
        offset, rows = _split(text, allowance.cells)
    except csv.Error as error:
        raise UnusableInput(
            file, f"cannot be split into cells ({error})", "Save it as xlsx and try again."
        ) from None
    except TooMuch as error:
        raise UnusableInput(
            file, str(error), "Give the register only, or allow more with --room."
        ) from None
    width = max((len(row) for row in rows), default=0)
    lengths = [0] * offset + [len(row) for row in rows]
    blank: list[list[str]] = [[]] * offset
    return [[*row, *[""] * (width - len(row))] for row in blank + rows], lengths


def _split(text: str, most: float) -> tuple[int, list[list[str]]]:
    """Give the number of lines that only name the delimiter, and the other rows."""
    offset = 0
    if text[:4].casefold() == "sep=" and len(first := text.splitlines()[0]) == 5:
        delimiter, text = first[4], text[len(first) :].lstrip("\r\n")
        offset = 1
    else:
        delimiter = _delimiter(text)
    return offset, _cells(text, delimiter, most)


def _few_enough(rows: Iterable[list[str]], most: float) -> Iterator[list[str]]:
    """Give rows as long as they are no more cells than allowed, blank ones to be added too."""
    width = 0
    for count, row in enumerate(rows, 1):
        width = max(width, len(row))
        if width * count > most:
            raise TooMuch(
                f"has {count:,} lines or more of up to {width:,} cells, too many to read"
            )
        yield row


def _cells(text: str, delimiter: str, most: float) -> list[list[str]]:
    """Split a text; a quotation mark that is not closed must not swallow the rows below it."""
    form: dict[str, Any] = {"delimiter": delimiter, "skipinitialspace": True}
    strictly = csv.reader(io.StringIO(text, newline=""), strict=True, **form)
    start = 1
    rows: list[list[str]] = []
    try:
        for row in _few_enough(strictly, most):
            rows.append(row)
            start = strictly.line_num + 1
        return rows
    except csv.Error as error:
        ended = "end of data" in str(error)
    # People write 36" in the middle of a cell, and that is read; what spans lines is not.
    rows.clear()
    del strictly  # and with it a copy of the text
    rows += _few_enough(csv.reader(io.StringIO(text, newline=""), **form), most)
    if ended or any("\n" in cell or "\r" in cell for row in rows for cell in row):
        raise csv.Error(f"a quotation mark in line {start} is not closed where its cell ends")
    return rows
