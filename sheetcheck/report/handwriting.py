"""Room to write in on a printed form."""

from __future__ import annotations

__all__ = ["writing_height"]

_PRINTED = 23.0  # points: 8.1 mm


def writing_height(scale: int) -> float:
    """Height, in points on the sheet, of a row to write in that is printed at `scale` per cent."""
    return _PRINTED * 100 / scale
