"""The empty register: what a program reads from it, filled in and not."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest

from sheetcheck.errors import OutputExists
from sheetcheck.findings import evaluate
from sheetcheck.intake import read_register
from sheetcheck.register.fields import FIELDS
from sheetcheck.report import write_report
from sheetcheck.report.blank import write_blank
from sheetcheck.report.display import customary_unit
from sheetcheck.report.field_words import spelt
from sheetcheck.units import factor

TEMPLATES = Path(__file__).parents[2] / "templates"
HEADING_ROW, EXAMPLE_ROW = 4, 5


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


# A belt as it may be, in SI; invented. Every number has a figure of its own where it can, so that
# two columns read for each other would show.
MEASURED: Mapping[str, float] = {
    "belt_width": 1.0,
    "belt_speed": 2.1,
    "belt_rated_tension": 81.0,
    "belt_nominal_strength": 810.0,
    "tail_tension_ratio": 0.51,
    "head_tension_ratio": 0.71,
    "belt_tension_ratio": 0.72,
    "tail_operating_tension": 41.31,
    "head_operating_tension": 57.51,
    "belt_operating_tension": 58.32,
    "belt_modulus": 6100.0,
    "belt_thickness": 0.013,
    "belt_mass": 15.5,
    "conveyor_length": 101.0,
    "lift": 11.0,
    "incline": 6.25,
    "trough_angle": 35.0,
    "idler_rolls": 3.0,
    "centre_roll_length": 0.37,
    "carry_idler_spacing": 1.21,
    "return_idler_spacing": 2.9,
    "pulley_face_tail": 1.15,
    "pulley_face_head": 1.16,
    "tail_transition_length": 2.45,
    "head_transition_length": 2.55,
    "tail_pulley_lift": 0.05,
    "head_pulley_lift": 0.06,
    "tail_transition_idlers": 2.0,
    "load_start": 3.3,
    "chute_back": 2.8,
    "chute_width_inside": 0.61,
    "chute_wall_thickness": 0.008,
    "drop_height": 2.2,
    "lump_size": 0.11,
    "material_size_mean": 0.012,
    "bulk_density": 1.22,
    "moisture": 4.0,
    "surcharge_angle": 21.0,
    "tonnage": 310.0,
    "load_idler_spacing": 0.62,
    "load_belt_tension": 20.5,
    "skirt_length": 4.6,
    "skirt_height": 0.55,
    "seal_footprint": 0.052,
    "belt_wander": 0.021,
    "exhaust_airflow": 0.9,
    "chute_open_area": 0.17,
    "carryback_initial": 0.33,
    "carryback_measured": 0.09,
    "carryback_target": 0.08,
    "cleaned_width": 0.75,
    "tracker_spacing_max": 22.0,
    "tracker_count": 4.0,
    "side_clearance": 0.083,
    "door_count": 1.0,
    "door_width": 0.36,
    "door_height": 0.34,
    "service_clear_width": 0.73,
    "walkway_width": 0.82,
    "dust_layer_depth": 0.0015,
    "cleanup_hours": 7.0,
    "labour_rate": 46.0,
    "material_value": 19.0,
    "operating_hours": 5200.0,
    "spilled_mass": 1.7,
}
# Customary units of the United States by what they measure; a percentage, an angle and hours are
# the same everywhere.
IN_US_UNITS = {"in", "ft", "fpm", "PIW", "lbf/in", "lbf", "lb/ft", "lb/ft²", "lb/ft³", "ft²"} | {
    "STPH", "short tons/week", "$/h", "$/short ton", "cfm"
}  # fmt: skip
ALIKE = {"%", "°", "h/week", "h/year"}


def worded(name: str) -> object:
    """The last word that a cell may hold, or a text."""
    field = FIELDS[name]
    if field.kind == "yes/no":
        return "yes"
    if name == "belt_designation":
        return "EP 810/4"
    return field.choices[-1] if field.choices else f"{name} of it"


def test_a_register_filled_in_throughout_is_read_as_it_was_meant(blank: Path, units: str) -> None:
    shown = {name: customary_unit(name, us=units == "us") for name in FIELDS}
    by = {name: factor(shown[name], FIELDS[name].unit) or 1.0 for name in MEASURED}
    values = {name: value / by[name] for name, value in MEASURED.items()}
    words = {name: worded(name) for name in FIELDS if name not in MEASURED}
    assert set(values) == {name for name, field in FIELDS.items() if field.numeric}
    register = read_register(filled(blank, **values, **words))
    assert [column.field for column in register.columns] == list(FIELDS)
    for name, value in MEASURED.items():
        assert register.value(0, name) == pytest.approx(value), name
    for name, word in words.items():
        meant = "TQ-C01" if name == "tag" else {"yes": True}.get(str(word), word)
        assert register.value(0, name) == meant, name
    assert [p for p in register.problems if not p.used] == []


def test_a_us_register_shows_units_of_the_united_states_only(tmp_path: Path) -> None:
    write_blank(tmp_path / "us.xlsx", "us")
    sheet = openpyxl.load_workbook(tmp_path / "us.xlsx").active
    said = [str(cell.value) for cell in sheet[HEADING_ROW]]
    for text, field in zip(said, FIELDS.values(), strict=True):
        unit = text[text.rindex("(") + 1 : -1] if field.unit and text.endswith(")") else ""
        assert unit in (IN_US_UNITS | ALIKE if field.unit else {""}), text
    everything = " ".join(said + [cell.comment.text for cell in sheet[HEADING_ROW]])
    for british in ("centre", "plough", "labour", "metre", "vulcanised"):
        assert british not in everything.casefold()
    assert {"Belt weight (lb/ft)", "Tail plow", "Labor rate ($/h)"} <= set(said)
    # What is rated is in pounds an inch of width; a strength so written would pass for a rating.
    assert {"Rated tension (PIW)", "Belt breaking strength (lbf/in)"} <= set(said)
    lists = {rule.formula1 for rule in sheet.data_validations.dataValidation}
    assert '"vulcanized,mechanical"' in lists


def test_headings_are_words_of_the_trade(blank: Path) -> None:
    sheet = openpyxl.load_workbook(blank).active
    for cell, name in zip(sheet[HEADING_ROW], FIELDS, strict=True):
        assert "_" not in cell.value, name
        assert cell.value[0].isupper(), name


def test_lines_for_filling_in_by_hand_are_high_enough(blank: Path) -> None:
    sheet = openpyxl.load_workbook(blank).active
    heights = [sheet.row_dimensions[row].height for row in range(EXAMPLE_ROW + 1, sheet.max_row)]
    assert len(heights) >= 15
    assert min(heights) * sheet.page_setup.scale / 100 / 72 * 25.4 >= 8.0


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


def test_cells_offer_words_ranges_and_help(blank: Path, units: str) -> None:
    sheet = openpyxl.load_workbook(blank).active
    letters = {name: sheet.cell(4, at).column_letter for at, name in enumerate(FIELDS, start=1)}
    rules = {str(rule.sqref): rule for rule in sheet.data_validations.dataValidation}
    for name, field in FIELDS.items():
        rule = rules.get(f"{letters[name]}6:{letters[name]}505")
        meaning, choices = (
            spelt(text, us=units == "us") for text in (field.meaning, ",".join(field.choices))
        )
        assert sheet[f"{letters[name]}4"].comment.text.lower().startswith(meaning.lower())
        if field.choices:
            assert rule is not None
            assert rule.formula1 == f'"{choices}"'
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


def test_a_blank_that_was_filled_in_and_checked_keeps_its_sheet(blank: Path) -> None:
    names = []
    for path in (filled(blank), *(blank.with_name(f"checked {n}.xlsx") for n in range(2))):
        if names:
            register = read_register(names[-1])
            write_report(register, evaluate(register, flips=False), path)
        names.append(path)
    first, again = (openpyxl.load_workbook(path) for path in names[1:])
    assert first.sheetnames[0] == "Conveyors"
    assert again.sheetnames == first.sheetnames
    cells = [
        [cell.value for row in openpyxl.load_workbook(path)["Conveyors"].rows for cell in row]
        for path in names
    ]
    assert cells[0] == cells[1] == cells[2]


def test_a_tag_stays_text_and_a_date_is_no_tag(blank: Path) -> None:
    path = filled(blank, belt_width=900)
    book = openpyxl.load_workbook(path)
    sheet = book.active
    assert sheet.column_dimensions["A"].number_format == "@"
    assert sheet.cell(EXAMPLE_ROW + 1, 1).number_format == "@"
    for at, tag in enumerate(["1-2", datetime(2026, 2, 1)], start=2):
        sheet.cell(EXAMPLE_ROW + at, 1).value = tag
        sheet.cell(EXAMPLE_ROW + at, 7).value = "no"
    book.save(path)
    register = read_register(path)
    assert register.values["tag"].tolist() == ["TQ-C01", "1-2"]
    (problem,) = [found for found in register.problems if found.field == "tag"]
    assert "is a date" in problem.problem
    assert problem.cells == (f"A{EXAMPLE_ROW + 3}",)


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
