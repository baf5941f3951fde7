"""How many lines a text takes in a cell, so that rows are as high as their text.

Not every program fits a row to its wrapped text when it opens a file, so heights are given.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from ..data import rows

__all__ = ["lines_of", "listed_whole", "room_of"]

# Widths of the letters in thousandths of the size: Adobe, Font Metrics for PDF Core 14 Fonts,
# Helvetica, to whose widths Arial is made.
_WIDTHS = {int(line["width"]): line["letters"] for line in rows(__package__, "letter_widths.csv")}
# A letter outside ASCII is of two or three bytes, and about two or three thirds of the size wide.
_OTHER_BYTE = 333
_STEP = 4  # widths are kept in a byte each
_TABLE = bytes(
    next((width for width, letters in _WIDTHS.items() if chr(byte) in letters), _OTHER_BYTE)
    // _STEP
    for byte in range(256)
)
_SPACE = _TABLE[ord(" ")]
_SIZE = 12  # pixels: 9 points
_DIGIT = 7  # pixels: what a column's width counts, in the standard font of a new workbook
_BOLD = 1.07
# Programs place letters on whole pixels, some a little wider than the typeface has them.
_SLACK = 0.95
_REMEMBERED = 20_000


def room_of(width: float, *, bold: bool = False) -> int:
    """Room for text in a column of so many characters, as `lines_of` takes it."""
    room = width * _DIGIT * _SLACK / _SIZE * 1000 / _STEP
    return max(int(room / _BOLD if bold else room), 1)


@lru_cache(_REMEMBERED)
def lines_of(text: str, room: int) -> int:
    """Lines that a text takes when wrapped at words.

    Parameters
    ----------
    text
        The text; it may hold line ends of its own.
    room
        From `room_of`.
    """
    lines = 0
    for paragraph in text.split("\n"):
        lines += 1
        used = 0
        for word in paragraph.split(" "):
            wide = sum(word.encode(errors="replace").translate(_TABLE))
            if used and used + _SPACE + wide > room:
                lines += 1
                used = wide
            else:
                used += wide + (_SPACE if used else 0)
            if used > room:
                # A word longer than a line is broken.
                more, used = divmod(used - 1, room)
                lines += more
                used += 1
    return lines


def listed_whole(items: Iterable[str], room: int) -> str:
    """Items with commas between them, in lines that part none of them at its hyphen or blank."""
    lines: list[str] = []
    for item in items:
        longer = f"{lines[-1]}, {item}" if lines else item
        if lines and lines_of(longer + ",", room) == 1:
            lines[-1] = longer
        else:
            lines.append(item)
    return ",\n".join(lines)
