"""Registers kept by strangers, as JSON with the truth beside each, made into workbooks.

Every register here is invented. A file holds ``about``; ``sheets``, each with ``name``, ``grid``
(rows of cells as a spreadsheet holds them) and ``merged`` (ranges such as ``A1:C1``); and
``truth``:

``columns``
    For each column of each conveyor table: ``sheet``, ``column`` (its letter; of a register on
    its side the row's number; of forms the cell of the value on the first), ``field`` of the
    neutral schema (null where no field holds it) and the ``unit`` its bare numbers are in (null
    where there is none or the cells carry their own). ``ask`` is true where a person could not
    tell either and would have to ask.
``rows``
    For each row: ``sheet``, ``row`` (as numbered in the sheet), ``tag`` and ``values`` by field:
    numbers in the schema's SI unit, ``[low, high]`` for a range, the middle figure for an
    approximation, true or false, or the schema's words. Null means the cell is blank or says
    that nobody knows, so no value may come of it. A field left out is not part of the truth.
"""

from __future__ import annotations

import json
from pathlib import Path

from openpyxl import Workbook


def make_workbook(register: Path, workbook: Path) -> None:
    """Write the sheets of a register, merged cells included, to an Excel workbook.

    Parameters
    ----------
    register : Path
        One of the JSON files beside this module.
    workbook : Path
        Where the .xlsx is written; an existing file is replaced.
    """
    book = Workbook()
    book.remove(book.worksheets[0])
    for sheet in json.loads(register.read_text(encoding="utf-8"))["sheets"]:
        page = book.create_sheet(sheet["name"])
        for row, cells in enumerate(sheet["grid"], start=1):
            for column, cell in enumerate(cells, start=1):
                page.cell(row, column, cell)
        for area in sheet["merged"]:
            page.merge_cells(area)
    book.save(workbook)
