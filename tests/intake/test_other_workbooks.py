"""The raw grid of odd workbooks, cell by cell, against a second library (openpyxl).

The folder of workbooks from other projects' test suites stands beside the checkout where the
project is developed; elsewhere its tests are skipped, and the generated ones still run.
"""

from __future__ import annotations

import datetime
import io
import math
import time
import warnings
from pathlib import Path

import openpyxl
import pytest

from sheetcheck.errors import SheetcheckError
from sheetcheck.intake import read_register
from sheetcheck.intake.grid import Fault, Shown
from sheetcheck.intake.workbook import open_book

FOLDER = Path(__file__).parents[3] / "shared" / "corpus"
FILES = sorted(FOLDER.glob("*.xls*"))
ABSENT = pytest.mark.skipif(not FILES, reason=f"{FOLDER.name} folder is not beside the checkout")


def same(ours, theirs) -> bool:
    """Whether both libraries tell the same of one cell."""
    if isinstance(ours, Fault):
        return ours.text == (theirs or "")
    if isinstance(ours, Shown):
        ours = ours.value
    if isinstance(ours, str) and ours == "":
        return theirs is None or theirs == ""
    if isinstance(theirs, str):
        plain = theirs.replace("\r\n", "\n").replace("_x000D_", "\r").replace("\r\n", "\n")
        return isinstance(ours, str) and ours.replace("\r\n", "\n") == plain
    if isinstance(ours, bool) or isinstance(theirs, bool):
        return ours is theirs
    if isinstance(ours, float) and isinstance(theirs, int | float):
        return math.isclose(ours, theirs, rel_tol=1e-14)
    if isinstance(theirs, datetime.datetime) and theirs.year < 1900:
        return ours == theirs.time()  # a time of day: the day is of no calendar
    if isinstance(theirs, datetime.datetime) and isinstance(ours, datetime.date):
        moment = (
            ours
            if isinstance(ours, datetime.datetime)
            else datetime.datetime.combine(ours, datetime.time())
        )
        return abs(moment - theirs) < datetime.timedelta(seconds=1)
    return type(ours) is type(theirs) and ours == theirs


def differences(path: Path) -> list[str]:
    try:
        book = open_book(path)
    except SheetcheckError:
        return []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # openpyxl says what it cannot keep; it is only read here
        try:
            other = openpyxl.load_workbook(io.BytesIO(path.read_bytes()), data_only=True)
        except Exception as error:  # what the second library cannot open cannot be compared
            pytest.skip(f"openpyxl: {error!r}")
    found = []
    for grid in book.grids:
        if grid.sheet not in other.sheetnames:
            continue
        sheet = other[grid.sheet]
        for at, row in enumerate(grid.rows):
            for column, ours in enumerate(row):
                theirs = sheet.cell(at + 1, column + 1).value
                if not same(ours, theirs):
                    found.append(
                        f"{grid.sheet} row {at + 1} column {column + 1}: {ours!r} {theirs!r}"
                    )
    return found


@ABSENT
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_grid_is_what_openpyxl_reads(path):
    assert differences(path) == []


def test_generated_grid_is_what_openpyxl_reads(build):
    path = build(
        {
            "Mixed": [
                ["text", 1, 2.5, True, None, "  spaces ", "line\nbreak", "ünïcode ½"],
                [datetime.datetime(2024, 3, 6), datetime.time(7, 26), -1e-9, 1e15, "00123"],
                [],
                [None, None, "=1+1", "'quoted", 0, False],
            ],
            "Other sheet": [[None], [None, "B2"]],
        },
        merged=["B3:D3"],
    )
    assert differences(path) == []


@ABSENT
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_every_workbook_is_read_or_refused_in_good_time(path):
    before = time.perf_counter()
    message = ""
    try:
        read_register(path)
    except SheetcheckError as error:
        message = str(error)
    assert "\n" not in message
    assert time.perf_counter() - before < 10
