"""Tables and vocabularies: CSV files beside the code that reads them."""

from __future__ import annotations

import csv
import io
from functools import cache
from importlib.resources import files

__all__ = ["rows"]


@cache
def rows(package: str, name: str) -> tuple[dict[str, str], ...]:
    """Give the rows of one of a package's CSV files, as text by column name.

    Raises
    ------
    FileNotFoundError
        Where no such file is shipped.
    """
    text = files(package).joinpath(name).read_text(encoding="utf-8")
    lines = csv.reader(io.StringIO(text, newline=""))
    names = next(lines)
    return tuple(dict(zip(names, line, strict=True)) for line in lines)
