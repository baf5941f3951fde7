"""One register in odd cells, to be written in several formats.

``data/kept.xls`` and ``data/kept.ods`` are what LibreOffice 7.4 makes of it, from the xlsx that
`as_xlsx` writes.
"""

from __future__ import annotations

import datetime
from pathlib import Path

import xlsxwriter

from .xlsb_book import Error, Formula, Sheet, Styled

__all__ = ["DAY", "KEPT", "MORNING", "as_xlsx"]

DAY, MORNING = datetime.date(2024, 3, 6), datetime.datetime(2024, 3, 6, 7, 30)

# A register as people keep one: a title, merged groups, a units row, sections, odd cells.
KEPT = Sheet(
    [
        ["Conveyor register, invented"],
        [],
        [None, None, "BELT", None, "TAIL END", None, None, None],
        ["Tag", "Area", "Width", "Speed", "Transition", "Tension", "Nip guards", "Lump size"],
        [None, None, "mm", "m/s", "mm", "% of rated", None, "mm"],
        ["CV-101", "North", 900, 1.5, 1800, Styled(0.8, "0%"), True, 75],
        ["CV-102", "North", Formula(1200), Formula(2.25), Error("#N/A"), Styled(0.455, "0.0%")],
        ["CV-103", None, Styled(1.05, '0.00" m"'), 2, 1900, Formula(Error("#DIV/0!")), False, DAY],
        ["CV-104", "South", "42 in", "n/a", "see DWG 7", Styled(1, "0%"), "yes", 40.5],
        ["CV-105", "South", 0.1, 1e-3, 2100.25, None, Formula(True), MORNING],
    ],
    top=3,
    left=2,
    merged=[(3, 2, 3, 6), (5, 4, 5, 5), (5, 6, 5, 7), (9, 3, 10, 3)],
    hidden_rows=frozenset({9}),
    hidden_columns=[(8, 8)],
)
_GIVING = {"#N/A": "=NA()", "#DIV/0!": "=1/0"}


def as_xlsx(path: Path, sheet: Sheet, *, since_1904: bool = False) -> Path:
    """The same grid, through a library that writes the other format."""
    book = xlsxwriter.Workbook(path, {"date_1904": since_1904})
    page = book.add_worksheet("Conveyors")
    for row in sheet.hidden_rows:
        page.set_row(row, None, None, {"hidden": True})
    for first, last in sheet.hidden_columns:
        page.set_column(first, last, None, None, {"hidden": True})
    for top, left, bottom, right in sheet.merged:
        page.merge_range(top, left, bottom, right, "")
    for row, values in enumerate(sheet.rows, sheet.top):
        for column, value in enumerate(values, sheet.left):
            code = None
            if isinstance(value, Styled):
                value, code = value.value, book.add_format({"num_format": value.code})
            kept = value.value if isinstance(value, Formula) else value
            if isinstance(kept, Error):
                page.write_formula(row, column, _GIVING[kept.text], code, kept.text)
            elif isinstance(value, Formula):
                same = f'"{kept}"' if isinstance(kept, str) else str(kept).upper()
                page.write_formula(row, column, f"={same}", code, kept)
            elif isinstance(value, datetime.date):
                page.write_datetime(row, column, value, book.add_format({"num_format": 14}))
            elif value is not None:
                page.write(row, column, value, code)
    book.close()
    return path
