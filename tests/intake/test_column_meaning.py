"""What a column holds where its heading alone does not tell, or tells something else."""

from __future__ import annotations

import pytest
from openpyxl import Workbook

from sheetcheck.intake import describe_columns, read_register


@pytest.fixture
def build(tmp_path):
    def make(rows, merged=()):
        book = Workbook()
        sheet = book.active
        sheet.title = "Belts"
        for row in rows:
            sheet.append(row)
        for area in merged:
            sheet.merge_cells(area)
        book.save(tmp_path / "register.xlsx")
        return tmp_path / "register.xlsx"

    return make


def fields(book):
    return [column.field for column in describe_columns(book).columns]


def test_what_rows_share_is_no_tag(build):
    rows = [["Y-1", 900, "3/450"], ["Y-2", 900, "3/450"], ["Y-3", 1000, "4/600"]]
    assert fields(build([["Conv", "Width (mm)", "Belt"], *rows])) == [
        "tag",
        "belt_width",
        "belt_designation",
    ]


def test_a_number_in_a_unit_that_nobody_knows_is_asked_about(build):
    head = ["Tag", "Belt width", "Belt speed", "Lift"]
    rows = [["C1", 900, 2.0, 4], ["C2", 900, 2.5, 5], ["C3", 800, 2.5, 6]]
    found = fields(build([head, [None, "mm", "rev/min", "m"], *rows]))
    assert found == ["tag", "belt_width", None, "lift"]


def test_a_tall_heading_beside_groups_takes_no_text_of_its_neighbour(build):
    head = [["Tag", "Safety", None, "Spillage cleaning"], [None, "Nip guards", "Pull cord", None]]
    units = [None, None, None, "manhrs/week"]
    rows = [["C1", "Y", "Y", 12], ["C2", "Y", "N", 30], ["C3", "N", "Y", 8]]
    book = build([*head, units, *rows], ("A1:A2", "B1:C1", "D1:D2"))
    assert fields(book) == ["tag", "nip_guards", "emergency_stop", "cleanup_hours"]


def test_a_line_with_title_and_date_is_no_group(build):
    head = ["Tag", "Speed m/s", "Capacity t/h", "Width mm", "Lift m", "Spillage", "Notes"]
    title = ["Belts of the yard", None, "spring 2024"]
    assert fields(build([title, head, ["C1", 2.0, 400, 900, 4, "light", "a remark"]]))[:4] == [
        "tag",
        "belt_speed",
        "tonnage",
        "belt_width",
    ]


def test_headings_go_on_in_the_row_of_units(build):
    head = ["Belt no.", "Width", "Speed", "Return rollers", "Skirts", None, "Scrapers", None]
    below = [None, "mm", "m/s", "m apart", "length m", "height mm", "head", "2nd"]
    rows = [["B1", 900, 1.8, 3, 3.6, 450, "PU", "TC"], ["B2", 750, 1.6, 3, 2.4, 400, "PU", "none"]]
    assert fields(build([head, below, *rows])) == [
        "tag",
        "belt_width",
        "belt_speed",
        "return_idler_spacing",
        "skirt_length",
        "skirt_height",
        "primary_blade",
        "secondary_cleaner",
    ]


def test_a_remark_over_the_headings_is_no_group_of_them(build):
    remark = ["walk round list, please keep up to date", None, None, "as taped, not as drawn"]
    heads = ["Belt No", "Width mm", "Crs m", "Lift m", "Speed m/s", "TPH", "Lump mm"]
    rows = [["C1", 900, 60, 4, 2, 500, 90], ["C2", 900, 42, 3, 2, 450, 80]]
    assert fields(build([remark, heads, *rows])) == [
        "tag",
        "belt_width",
        "conveyor_length",
        "lift",
        "belt_speed",
        "tonnage",
        "lump_size",
    ]


def test_so_many_switches_do_not_reach_along_the_whole_way(build):
    rows = [["C1", 900, 14], ["C2", 900, 8], ["C3", 800, 20]]
    found = read_register(build([["Tag", "Belt width (mm)", "Pull cord"], *rows]))
    assert not found.has("emergency_stop")


@pytest.mark.parametrize("figures", [(800.0, 500.0, 1000.0), (80.0, 50.0, 100.0)])
def test_a_breaking_strength_is_never_taken_for_a_rating(build, figures):
    belts = ["EP 800/4", "EP 500/3", "EP 1000/4"]
    rows = [[f"C{at}", *pair] for at, pair in enumerate(zip(belts, figures, strict=True))]
    found = fields(build([["Tag", "Belt type", "Belt rated tension (N/mm)"], *rows]))
    rated = figures[0] < 100
    assert found == ["tag", "belt_designation", "belt_rated_tension" if rated else None]


@pytest.mark.parametrize(
    ("heading", "value", "tonnes"),
    [
        # Weights and Measures Act 1985, schedule 1: a ton is 2240 lb, a pound 0.45359237 kg.
        ("LTPH", 2000.0, 2000 * 2240 * 0.45359237 / 1000),
        ("Capacity MT/h", 500.0, 500.0),
    ],
)
def test_long_and_metric_tons_are_told_from_short_ones(build, heading, value, tonnes):
    book = build([["Tag", "Belt width (in)", heading], ["C1", 36, value], ["C2", 42, value]])
    assert read_register(book).value(0, "tonnage") == pytest.approx(tonnes, rel=1e-9)


def test_forms_with_two_numbers_of_each_conveyor_are_one_each(build):
    rows = [
        *(["Conveyor no.", "C1"], ["Belt width (mm)", 900], ["Asset no.", 2001], ["Lift (m)", 4]),
        *([], ["Conveyor no.", "C2"], ["Belt width (mm)", 800], ["Asset no.", 2002]),
        ["Lift (m)", 5],
    ]
    found = read_register(build(rows))
    assert found.values["tag"].tolist() == ["C1", "C2"]
    assert found.values["lift"].tolist() == [4, 5]
