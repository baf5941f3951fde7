"""The vocabulary: data files beside this module."""

from __future__ import annotations

import csv
import io
from functools import cache
from importlib.resources import files

__all__ = ["rows"]


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """Give the rows of one of this package's CSV files, by column name."""
    text = files(__package__).joinpath(name).read_text(encoding="utf-8")
    lines = csv.reader(io.StringIO(text, newline=""))
    names = next(lines)
    return tuple(dict(zip(names, line, strict=True)) for line in lines)
