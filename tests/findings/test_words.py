"""Numbers in plain words, in the plant's own units, rounded the way that still does."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetcheck.findings.words import Words, plain, say
from sheetcheck.register.register import Column
from tests.conftest import make_register


def words(*units):
    register = make_register([{"tag": "T1"}])
    register.columns.extend(
        Column("S", "A", "h", "belt_width", unit, 1.0, "known wording") for unit in units
    )
    return Words(register)


METRIC, US = words("mm", "m/s", "kN/m"), words("in", "ft", "ft/min", "mm")


@pytest.mark.parametrize(
    ("value", "unit", "metric", "us"),
    [
        (2.19456, "m", "2.19 m", "7 ft 2.4 in"),  # 86.4 in
        (0.6096, "m", "610 mm", "24 in"),
        (0.073152, "m", "73.2 mm", "2.88 in"),
        (3.048, "m/s", "3.05 m/s", "600 ft/min"),
        (10.508, "kN/m", "10.5 kN/m", "60 lbf/in"),
        (35.0, "°", "35°", "35°"),
        (3.0, "count", "3", "3"),
        (1.15, "1", "1.15", "1.15"),
        (math.nan, "m", "unknown", "unknown"),
    ],
)
def test_quantities(value, unit, metric, us):
    assert METRIC.quantity(value, unit) == metric
    assert US.quantity(value, unit) == us


def test_rates_and_residues_are_said_in_the_unit_they_are_recorded_in():
    """A rate in metric tons among short ones is set a tenth too low by whoever reads it."""
    register = make_register([{"tag": "T1"}])
    for field, unit in (("tonnage", "short ton/h"), ("carryback_measured", "g/m²")):
        register.columns.append(Column("S", "A", "h", field, unit, 1.0, "known wording"))
    said = Words(register)
    assert said.quantity(907.18474, "t/h") == "1000 short ton/h"
    assert said.quantity(0.1, "kg/m²") == "100 g/m²"
    assert METRIC.quantity(907.0, "t/h") == "907 t/h"


@given(st.floats(1e-3, 50.0), st.sampled_from(["m", "m/s", "t/h", "kg/m²", "m³/s"]))
def test_rounding_up_is_never_less_nor_down_more(value, unit):
    def number(text):
        amount, shown = text.split()
        return float(amount) * (1e-3 if shown == "mm" else 1.0)

    up, down = (number(METRIC.quantity(value, unit, toward)) for toward in (1, -1))
    assert up >= value * (1 - 2e-9)
    assert down <= value * (1 + 2e-9)
    assert up - down <= max(0.011 * value, 1e-2 + 1e-9)


def test_a_whole_number_is_not_rounded_away():
    assert METRIC.quantity(0.6, "m", 1) == "600 mm"
    assert METRIC.quantity(0.1 + 0.2, "m", 1) == "300 mm"
    assert METRIC.quantity(0.3, "m", -1) == "300 mm"


def test_a_template_needs_all_its_numbers():
    known = {
        "a": [1.0, 2.0, 3.0],
        "b": [None, math.nan, ""],
        "c": [(0.5, 0.7), (0.5, math.nan), 4.0],
        "e": ["a plough", "", None],
    }

    def filled(template, known, rows):
        return [METRIC.filled(template, lambda name: known[name][row]) for row in rows]  # noqa: B023

    assert filled("{a:m} and {e:words}", known, [0, 1, 2]) == ["1 m and a plough", None, None]
    assert filled("up to {c:m^}.", known, [2, 0]) == ["up to 4 m.", "up to 700 mm."]
    assert filled("{c:m}", known, [0, 1]) == ["500 mm to 700 mm", None]
    assert filled("{b:m} then {a:m}", known, [0, 1, 2]) == [None, None, None]


@pytest.mark.parametrize(
    ("value", "text"),
    [(10_000.0, "10000"), (0.012, "0.012"), (0.0, "0"), (2447.25, "2447.25"), (1 / 3, "0.333333")],
)
def test_plain_numbers_have_no_exponent(value, text):
    assert plain(value) == text


def test_names_are_said_as_words():
    assert say("belt_rated_tension") == "belt rated tension"
