"""The demo registers (all invented), read whole."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from sheetcheck.intake import read_register

FOLDER = Path(__file__).parents[2] / "demo_workbooks"
BOOKS = sorted(FOLDER.glob("*.xlsx"))


@pytest.mark.parametrize("path", BOOKS, ids=lambda path: path.stem)
def test_every_column_is_understood(path):
    register = read_register(path)
    assert [column.header for column in register.columns if column.field is None] == []
    assert all(column.confidence >= 0.7 for column in register.columns)


@pytest.mark.parametrize("path", BOOKS, ids=lambda path: path.stem)
def test_every_value_stands_in_the_cell_it_says(path):
    """Outside reference: openpyxl gives the cells that the register points to."""
    register = read_register(path)
    book = openpyxl.load_workbook(path, data_only=True)
    checked = 0
    for row in range(len(register)):
        for name in register.values:
            if (row, name) in register.derived or register.value(row, name) is None:
                continue
            reference = register.cells.address(row, name)
            if reference is None:
                assert name == "load_point"  # numbered, no cell
                continue
            sheet, _, cell = reference.rpartition("!")
            found = book[sheet.strip("'")][cell].value
            value = register.value(row, name)
            if isinstance(value, str) and name in ("tag", "service", "material", "notes"):
                assert str(found) == value
            elif isinstance(value, float) and isinstance(found, int | float) and found and value:
                assert value / found > 0
            else:
                assert found is not None
            checked += 1
    assert checked > 20 * len(register)


def test_the_acquired_register():
    register = read_register(FOLDER / "harrow_sidings_acquired.xlsx")
    rows = {tag: row for row, tag in reversed(list(enumerate(register.values["tag"].tolist())))}
    value = lambda tag, name: register.value(rows[tag], name)  # noqa: E731
    assert value("HS 11", "belt_width") == pytest.approx(42 * 0.0254)
    assert value("HS 11", "tail_transition_length") == pytest.approx(102 * 0.0254)
    assert value("HS 11", "head_transition_length") == pytest.approx(110.5 * 0.0254)
    assert value("HS 12A", "tail_transition_length") == (1.7, 1.9)
    assert value("HS 13", "belt_speed") == pytest.approx(1.524)
    assert value("HS 23", "tonnage") == 1150
    assert value("HS 12B", "secondary_cleaner") is False  # on hold
    assert value("HS 01", "secondary_blade") == "tungsten carbide"
    assert value("HS 01", "area") == "AREA 100 – RECEIVING"
    for tag, name in (("HS 04", "belt_width"), ("HS 21", "trough_angle"), ("HS 33", "belt_speed")):
        assert value(tag, name) is None
    cells = {(problem.sheet, cell) for problem in register.problems for cell in problem.cells}
    # A width of 900 m, an angle of 350°, a speed of 120 m/s, an error, words for a number.
    assert {("Conveyors", cell) for cell in ("D11", "H23", "E31", "K18", "D26")} <= cells
