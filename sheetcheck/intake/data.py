"""The vocabulary: data files beside this module."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from importlib.resources import files

__all__ = ["rows"]


def rows(name: str) -> Iterator[dict[str, str]]:
    """Give the rows of one of this package's CSV files, by column name."""
    text = files(__package__).joinpath(name).read_text(encoding="utf-8")
    yield from csv.DictReader(io.StringIO(text, newline=""))
