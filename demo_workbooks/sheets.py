"""What the three workbooks share: a workbook that comes out the same each time, cells, words."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import xlsxwriter
from plant import INVENTED

WRITTEN = datetime(2025, 1, 6)  # a fixed date, so that a rebuilt workbook has the same bytes


def book(folder: Path, name: str, title: str) -> xlsxwriter.Workbook:
    """A new workbook in `folder`; its parts carry fixed dates."""
    # In memory, the writer stamps every part of the package with 1980-01-01.
    made = xlsxwriter.Workbook(folder / name, {"in_memory": True})
    made.set_properties({"title": title, "comments": INVENTED, "created": WRITTEN})
    return made


def shown(value: Any, factor: float, decimals: int | None, words: dict[Any, str]) -> Any:
    """A value as the register's author typed it: number in the shown unit, or a word."""
    if value is None:
        return None
    if isinstance(value, bool | str):
        return words.get(value, value)
    if decimals is None:
        return value
    number = round(value * factor, decimals)
    return int(number) if decimals == 0 else number


def put(sheet: Any, row: int, column: int, value: Any, style: Any = None) -> None:
    """Write one cell; text is never taken for a formula or a link."""
    if value is None:
        if style is not None:
            sheet.write_blank(row, column, None, style)
    elif isinstance(value, str):
        sheet.write_string(row, column, value, style)
    else:
        sheet.write_number(row, column, value, style)
