"""Usual sizes: one table that doubts values and questions the units of headings."""

from __future__ import annotations

import numpy as np
import pytest

from sheetcheck.intake.numbers import other_unit
from sheetcheck.register.derive import complete
from sheetcheck.register.fields import FIELDS
from tests.conftest import make_register


@pytest.mark.parametrize("name", [name for name, field in FIELDS.items() if field.size])
def test_usual_sizes_are_possible(name):
    low, high = FIELDS[name].size
    assert low < high
    assert FIELDS[name].possible.holds(low) or low == FIELDS[name].possible.low
    assert FIELDS[name].possible.holds(high)
    # A field whose own span says what is doubtful is doubted by that alone.
    assert not np.isfinite(FIELDS[name].plausible.low)


@pytest.mark.parametrize(
    ("name", "value", "kept", "told"),
    [
        ("conveyor_length", 2.0, True, False),
        ("conveyor_length", 1.0, True, True),
        ("conveyor_length", 0.15, False, True),
        ("chute_wall_thickness", 0.006, True, False),
        ("chute_wall_thickness", 0.00025, True, True),
        ("chute_wall_thickness", 0.0, True, True),
        ("carryback_measured", 0.0, True, True),
        ("drop_height", 0.0, True, False),
        ("tonnage", 20.0, True, False),
    ],
)
def test_a_size_out_of_the_usual_is_doubted_and_one_far_out_is_not_used(name, value, kept, told):
    register = make_register([{name: value}])
    complete(register)
    assert (register.value(0, name) == value) == kept
    assert [problem.used for problem in register.problems] == [kept] * told


@pytest.mark.parametrize(
    ("name", "heading", "numbers", "other"),
    [
        ("chute_wall_thickness", "mm", [0.25, 0.375], "in"),  # quarter-inch plate
        ("chute_wall_thickness", "mm", [6.0, 0.25], None),  # one makes sense as it stands
        ("chute_width_inside", "mm", [0.6, 0.9], "m"),
        ("conveyor_length", "m", [0.15, 0.3], None),  # nothing makes sense of these
        ("chute_back", "mm", [3.2, 4.0], "m"),
    ],
)
def test_a_heading_is_questioned_where_no_value_of_its_column_makes_sense(
    name, heading, numbers, other
):
    assert other_unit(FIELDS[name], heading, np.array(numbers)) == other
