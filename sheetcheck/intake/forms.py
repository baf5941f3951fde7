"""Forms and sideways tables."""

from __future__ import annotations

from collections.abc import Sequence

from .grid import Grid
from .table import Table

__all__ = ["find_forms"]


def find_forms(grids: Sequence[Grid]) -> list[Table]:
    """Find forms."""
    return []
