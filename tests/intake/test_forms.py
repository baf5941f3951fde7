"""Forms of label and value beside each other: which belong together, and which are forms."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from sheetcheck.intake import read_register

Sheets = dict[str, list[list[object]]]


@pytest.fixture
def read(tmp_path: Path):
    def build(sheets: Sheets):
        book = openpyxl.Workbook()
        book.remove(book.active)
        for name, rows in sheets.items():
            sheet = book.create_sheet(name)
            for row in rows:
                sheet.append(row)
        book.save(tmp_path / "forms.xlsx")
        return read_register(tmp_path / "forms.xlsx")

    return build


def test_a_tag_with_one_value_under_it_is_a_form_beside_others(read) -> None:
    register = read(
        {
            "Survey": [
                ["Tag", "CV-1"],
                ["Belt width", 900, "mm"],
                ["Belt speed", 2.0, "m/s"],
                [],
                ["Tag", "CV-2"],
                ["Belt width", 1200, "mm"],
                [],
                ["Tag", "CV-3"],
                ["Belt speed", 3.0, "m/s"],
            ]
        }
    )
    assert register.values["tag"].tolist() == ["CV-1", "CV-2", "CV-3"]
    assert register.value(1, "belt_width") == pytest.approx(1.2)
    assert register.value(2, "belt_speed") == pytest.approx(3.0)
    assert register.problems == []


def test_labels_of_something_else_are_no_form_of_a_conveyor(read) -> None:
    conveyor = [
        ["Tag", "CV-1"],
        ["Belt width", 900, "mm"],
        ["Belt speed", 2.0, "m/s"],
        ["Emergency stop", "yes"],
    ]
    stores = [
        ["Belt width", 1200, "mm"],
        ["Emergency stop", "12 in stock"],
        ["Primary cleaner", "3 in stock"],
        ["Belt speed", 9.0, "m/s"],
    ]
    register = read({"CV-1": conveyor, "Stores": stores})
    assert register.values["tag"].tolist() == ["CV-1"]
    assert register.value(0, "belt_width") == pytest.approx(0.9)
    assert register.value(0, "emergency_stop") is True
    assert register.problems == []
