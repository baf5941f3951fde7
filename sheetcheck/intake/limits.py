"""What a workbook may ask of the machine before it is refused.

A workbook kept by people stays far below; a crafted or damaged one does not. All limits may be
raised together, for the rare register that is truly that large.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

__all__ = [
    "BYTES_A_SECOND",
    "MEMORY_A_BYTE",
    "MOST_CELLS",
    "MOST_ELEMENTS",
    "MOST_ENTRIES",
    "MOST_MEMORY",
    "MOST_RATIO",
    "MOST_SECONDS",
    "MOST_UNPACKED",
    "SMALL_PART",
    "Allowance",
]

MOST_ENTRIES = 10_000
"""Parts in a workbook's package."""

MOST_UNPACKED = 2 << 30
"""Bytes that the parts unpack to, all together; bytes of a delimited text."""

MOST_RATIO = 200
"""Unpacked size of a part over its packed size; parts of less than `SMALL_PART` may have any."""

SMALL_PART = 4 << 20
"""Bytes of an unpacked part below which its ratio does not matter."""

MOST_ELEMENTS = 1_000_000
"""XML elements of a part that is held in memory whole, such as the style sheet."""

MOST_CELLS = 20_000_000
"""Cells of a sheet, rows times columns, and of all sheets together."""

MOST_SECONDS = 12.0
"""Time to read a small workbook; for a large one see `BYTES_A_SECOND`."""

BYTES_A_SECOND = 4 << 20
"""Unpacked bytes for which one second more is given: a seventh of what was measured here."""

MOST_MEMORY = 768 << 20
"""Address space in bytes to read a small workbook; for a large one see `MEMORY_A_BYTE`."""

MEMORY_A_BYTE = 6
"""Address space given besides for each unpacked byte: three times what was measured here."""


@dataclass(frozen=True, slots=True)
class Allowance:
    """The limits in force for one workbook."""

    entries: float = MOST_ENTRIES
    unpacked: float = MOST_UNPACKED
    ratio: float = MOST_RATIO
    elements: float = MOST_ELEMENTS
    cells: float = MOST_CELLS
    seconds: float = MOST_SECONDS
    memory: float = MOST_MEMORY

    def times(self, factor: float) -> Allowance:
        """Give all limits `factor` times as high."""
        return Allowance(**{one.name: factor * getattr(self, one.name) for one in fields(self)})

    def seconds_for(self, size: int) -> float:
        """Time in seconds to read a workbook of `size` unpacked bytes."""
        return self.seconds * (1 + size / BYTES_A_SECOND / MOST_SECONDS)

    def memory_for(self, size: int) -> int:
        """Address space in bytes to read a workbook of `size` unpacked bytes."""
        return round(self.memory * (1 + size * MEMORY_A_BYTE / MOST_MEMORY))
