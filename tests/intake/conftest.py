from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import openpyxl
import pytest

Rows = Sequence[Sequence[Any]]
Build = Callable[..., Path]


@pytest.fixture
def build(tmp_path: Path) -> Build:
    """Write a workbook from rows of cells per sheet; `change` may then touch the workbook."""

    def write(
        sheets: Mapping[str, Rows] | Rows,
        *,
        name: str = "register.xlsx",
        merged: Iterable[str] = (),
        change: Callable[[openpyxl.Workbook], None] | None = None,
    ) -> Path:
        named = sheets if isinstance(sheets, Mapping) else {"Conveyors": sheets}
        book = openpyxl.Workbook()
        book.remove(book.active)
        for title, rows in named.items():
            sheet = book.create_sheet(title)
            for row in rows:
                sheet.append(list(row))
        first = book.worksheets[0]
        for area in merged:
            first.merge_cells(area)
        if change is not None:
            change(book)
        path = tmp_path / name
        book.save(path)
        return path

    return write
