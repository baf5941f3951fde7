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
    with open(source, "rb") as before, open(copy, "rb") as after:
        old = python_calamine.CalamineWorkbook.from_filelike(before)
        new = python_calamine.CalamineWorkbook.from_filelike(after)
        names = [name for name in old.sheet_names if name not in left_out]
        if names != [name for name in new.sheet_names if name in set(names)]:
            return "the list of sheets"
        for name in names:
            if _content(old, name) != _content(new, name):
                return f"sheet {name!r}"
    return ""


def _content(book: python_calamine.CalamineWorkbook, name: str) -> object:
    try:
        return list(book.get_sheet_by_name(name).iter_rows())
    except python_calamine.CalamineError as error:
        return str(error)  # a chart sheet, say: the same in both


if __name__ == "__main__":
    difference = first_difference(sys.argv[1], sys.argv[2], set(sys.argv[3:]))
    if difference:
        print(f"{difference} does not read the same")
        sys.exit(1)
