"""Compares the values of two workbooks' common sheets, in a process of its own.

Run as a script, ``read_back.py SOURCE COPY``, with the names of sheets to leave out as further
arguments. The reader is native code, which a crafted workbook can bring down with its process;
so this one is no part of the caller's. Ends with status 0 where all values are equal; otherwise
one line on standard output says what differs.
"""

from __future__ import annotations

import sys

import python_calamine

__all__ = ["first_difference"]


def first_difference(source: str, copy: str, left_out: set[str]) -> str:
    """Say where the first sheet differs whose values do; ``""`` where none does."""
    # One workbook after the other, as digests: two large ones at once would take the room of both.
    before, after = _digests(source, left_out), _digests(copy, left_out)
    if list(before) != list(after):
        return "the list of sheets"
    return next((f"sheet {name!r}" for name in before if before[name] != after[name]), "")


def _digests(path: str, left_out: set[str]) -> dict[str, object]:
    with open(path, "rb") as file:
        book = python_calamine.CalamineWorkbook.from_filelike(file)
        return {name: _digest(book, name) for name in book.sheet_names if name not in left_out}


def _digest(book: python_calamine.CalamineWorkbook, name: str) -> object:
    """Hash of every value with its type and place; of use in this process only."""
    try:
        rows = book.get_sheet_by_name(name).iter_rows()
    except python_calamine.CalamineError as error:
        return str(error)  # a chart sheet, say: the same in both
    digest = 0
    for row in rows:
        # No two numbers that are none are equal, but their texts are.
        row = [value if value == value else str(value) for value in row]
        digest = hash((digest, *row, *map(type, row)))
    return digest


if __name__ == "__main__":
    difference = first_difference(sys.argv[1], sys.argv[2], set(sys.argv[3:]))
    if difference:
        print(f"{difference} does not read the same")
        sys.exit(1)
