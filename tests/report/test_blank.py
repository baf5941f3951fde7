"""The empty register: what a program reads from it, filled in and not."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from sheetcheck.errors import OutputExists
from sheetcheck.intake import read_register
from sheetcheck.register.fields import FIELDS
from sheetcheck.report.blank import write_blank
from sheetcheck.report.display import customary_unit

TEMPLATES = Path(__file__).parents[2] / "templates"
EXAMPLE_ROW = 5


@pytest.fixture(params=["metric", "us"])
def units(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def blank(tmp_path: Path, units: str) -> Path:
    path = tmp_path / "register.xlsx"
    write_blank(path, units)  # type: ignore[arg-type]
    return path


def filled(path: Path, **values: object) -> Path:
    """The register with the example's values under a tag of its own, and `values` over them."""
    book = openpyxl.load_workbook(path)
    sheet = book.active
    for column, name in enumerate(FIELDS, start=1):
        value = values.get(name, sheet.cell(EXAMPLE_ROW, column).value)
        sheet.cell(EXAMPLE_ROW + 1, column).value = "TQ-C01" if name == "tag" else value
    book.save(path)
    return path


def test_every_heading_is_read_as_its_field_in_its_unit(blank: Path, units: str) -> None:
    register = read_register(filled(blank))
    assert [column.field for column in register.columns] == list(FIELDS)
    for column in register.columns:
        assert column.field is not None
        if FIELDS[column.field].unit:
            assert column.unit == customary_unit(column.field, us=units == "us"), column
    assert register.problems == []


def test_the_example_is_no_conveyor_and_is_listed(blank: Path) -> None:
    register = read_register(filled(blank))
    assert register.values["tag"].tolist() == ["TQ-C01"]
    assert [(row.row, row.text) for row in register.skipped] == [(EXAMPLE_ROW, "EXAMPLE")]


def test_both_systems_mean_the_same_example(tmp_path: Path) -> None:
    registers = []
    for units in ("metric", "us"):
        path = tmp_path / f"{units}.xlsx"
        write_blank(path, units)  # type: ignore[arg-type]
        registers.append(read_register(filled(path)))
    metric, us = registers
    for name in metric.values:
        for one, other in zip(metric.values[name], us.values[name], strict=True):
            if isinstance(one, float):
                # Three significant figures in either system.
                assert other == pytest.approx(one, rel=6e-3, nan_ok=True), name
            else:
                assert one == other, name


def test_cells_offer_words_ranges_and_help(blank: Path) -> None:
    sheet = openpyxl.load_workbook(blank).active
    letters = {name: sheet.cell(4, at).column_letter for at, name in enumerate(FIELDS, start=1)}
    rules = {str(rule.sqref): rule for rule in sheet.data_validations.dataValidation}
    for name, field in FIELDS.items():
        rule = rules.get(f"{letters[name]}6:{letters[name]}505")
        assert sheet[f"{letters[name]}4"].comment.text.lower().startswith(field.meaning.lower())
        if field.choices:
            assert rule is not None
            assert rule.formula1 == '"{}"'.format(",".join(field.choices))
        elif field.kind == "yes/no":
            assert rule is not None
            assert rule.formula1 == '"yes,no"'
        elif field.kind == "number":
            assert rule is None or (rule.type, rule.errorStyle) == ("decimal", "warning")


def test_a_range_holds_what_the_schema_neither_refuses_nor_doubts(tmp_path: Path) -> None:
    write_blank(tmp_path / "metric.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "metric.xlsx").active
    rules = {str(rule.sqref): rule for rule in sheet.data_validations.dataValidation}
    width = sheet.cell(4, list(FIELDS).index("belt_width") + 1)
    assert width.value == "Belt width (mm)"
    rule = rules[f"{width.column_letter}6:{width.column_letter}505"]
    # Catalogue of fields: doubtful below 0.3 m and above 2.6 m.
    assert (float(rule.formula1), float(rule.formula2)) == (300, 2600)


def test_an_existing_file_stays(blank: Path) -> None:
    before = blank.read_bytes()
    with pytest.raises(OutputExists):
        write_blank(blank)
    assert blank.read_bytes() == before
    write_blank(blank, overwrite=True)


def shown(path: Path) -> list[object]:
    sheet = openpyxl.load_workbook(path).active
    cells = [
        (
            cell.coordinate,
            cell.value,
            cell.comment.text if cell.comment else "",
            cell.fill.fgColor.rgb,
        )
        for row in sheet.iter_rows()
        for cell in row
    ]
    rules = sorted(
        (str(rule.sqref), rule.formula1, rule.formula2)
        for rule in sheet.data_validations.dataValidation
    )
    widths = {letter: size.width for letter, size in sheet.column_dimensions.items()}
    return [cells, rules, widths]


def test_the_shipped_templates_are_what_the_command_writes(blank: Path, units: str) -> None:
    template = TEMPLATES / f"register_{units}.xlsx"
    same = shown(template) == shown(blank)
    assert same, f"sheetcheck blank templates/{template.name} --units {units} --overwrite"
