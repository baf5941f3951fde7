"""Inputs that once stopped the program or were passed over in silence, each found by trying."""

from __future__ import annotations

import json

import pytest

from sheetcheck.earlier import read_result
from sheetcheck.errors import UnusableCall
from sheetcheck.intake.columns import load_column_map, parse_column_map, save_column_map
from sheetcheck.intake.quantities import parse_number, parse_quantity
from sheetcheck.register.register import Column


@pytest.mark.parametrize(
    "text",
    [
        "column = " + "[" * 5000,
        "column = " + "9" * 5000,
        "a." * 5000 + "a = 1",
        "['a'." + "a . 'b'." * 15 + "a]",
    ],
)
def test_a_column_map_of_endless_nesting_or_digits(text):
    with pytest.raises(UnusableCall):
        parse_column_map(text, "map.toml")


def test_a_column_map_in_another_form_is_not_passed_over():
    text = 'column = [{sheet = "Conveyors", header = "Width", field = "belt_width"}]'
    with pytest.raises(UnusableCall, match="Write each as"):
        parse_column_map(text, "map.toml")


def test_a_saved_column_map_reads_back_whatever_a_heading_holds(tmp_path):
    headings = ["a\x7fb", 'quo"te', "back\\slash", "tab\tline\nbreak", "\x00\x1f", "ünï 😀"]
    columns = [
        Column("She'et \x7f", letter, heading, "belt_width", "mm", 0.5, "a\nreason")
        for letter, heading in zip("ABCDEF", headings, strict=True)
    ]
    save_column_map(tmp_path / "map.toml", columns, "register.xlsx")
    entries = load_column_map(tmp_path / "map.toml").entries
    assert [entry.header for entry in entries] == headings
    assert {entry.sheet for entry in entries} == {"She'et \x7f"}


@pytest.mark.parametrize("text", ["2 off" * 6500, "1" * 400, "1" * 32_767])
def test_a_cell_too_long_for_a_number_is_no_number(text):
    """The first took half a minute; the second was read as infinite."""
    assert parse_quantity(text) == "is too long for one number"


@pytest.mark.parametrize("text", ["1.200,501.5", "1,200.501,5", "1.200.300.4", "1,200,300,4"])
def test_marks_that_contradict_each_other_make_no_number(text):
    """The first two stopped the reading; the last two were read without their last mark."""
    assert parse_number(text) == ()
    assert isinstance(parse_quantity(text), str)


@pytest.mark.parametrize(
    "text",
    [
        "[" * 100_000,
        "{}",
        '{"workbooks": 5}',
        '{"workbooks": [5]}',
        '{"format": 1, "tool": null, "source": {}, "columns": [], "rows": []}',
        json.dumps(
            {"format": 1, "tool": {"version": "0"}, "source": {"file": "a"}, "columns": [{}]}
            | {"rows": []}
        ),
        json.dumps(
            {"format": 1, "tool": {"version": "0"}, "source": {"file": "a"}, "columns": []}
            | {"rows": [{"tag": "CV-1", "load_point": None, "sheet": "S", "row": 2}]}
        ),
    ],
)
def test_a_result_that_was_changed_by_hand(tmp_path, text):
    path = tmp_path / "result.json"
    path.write_text(text)
    with pytest.raises(UnusableCall, match="check --json has written"):
        read_result(path)
