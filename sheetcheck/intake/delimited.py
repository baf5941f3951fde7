"""Delimited text (csv): encoding and delimiter are detected."""

from __future__ import annotations

import csv
import io

from ..errors import UnusableInput
from .grid import Value
from .limits import Allowance

__all__ = ["read_delimited"]

_DELIMITERS = ";\t,|"


def _decode(content: bytes) -> str | None:
    for mark, encoding in (
        (b"\xef\xbb\xbf", "utf-8-sig"),
        (b"\xff\xfe", "utf-16"),
        (b"\xfe\xff", "utf-16"),
    ):
        if content.startswith(mark):
            return content.decode(encoding, errors="replace")
    if b"\0" in content:
        return None
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def _delimiter(text: str) -> str:
    """Give the delimiter that splits most lines alike; a blank-only choice is a comma."""
    lines = text.splitlines()[:200]

    def score(mark: str) -> tuple[int, int]:
        widths = [len(row) for row in csv.reader(lines, delimiter=mark)]
        many = [width for width in widths if width > 1]
        usual = max(set(many), key=many.count) if many else 0
        return many.count(usual), usual

    return max(_DELIMITERS, key=score)


def read_delimited(content: bytes, file: str, allowance: Allowance) -> list[list[Value]]:
    """Read delimited text into rows of equal length.

    Parameters
    ----------
    content
        The file's bytes.
    file
        Its name, for messages.
    allowance
        Limits in force.

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
        offset, rows = _split(text)
    except csv.Error as error:
        raise UnusableInput(
            file, f"cannot be split into cells ({error})", "Save it as xlsx and try again."
        ) from None
    width = max((len(row) for row in rows), default=0)
    if width * len(rows) > allowance.cells:
        raise UnusableInput(
            file,
            f"has {len(rows):,} lines of up to {width:,} cells, too many to read",
            "Give the register only, or allow more with --room.",
        )
    blank: list[list[Value]] = [[] for _ in range(offset)]
    return [row + [""] * (width - len(row)) for row in blank + rows]


def _split(text: str) -> tuple[int, list[list[Value]]]:
    """Give the number of lines that only name the delimiter, and the other rows."""
    offset = 0
    if text.startswith("sep=") and len(first := text.splitlines()[0]) == 5:
        delimiter, text = first[4], text[len(first) :].lstrip("\r\n")
        offset = 1
    else:
        delimiter = _delimiter(text)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    return offset, [list(row) for row in rows]
