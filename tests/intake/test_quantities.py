"""Cells as they are met in registers; readings are arithmetic, units exact by definition."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetcheck.intake.quantities import TONS, Quantity, parse_quantity, parse_unit
from sheetcheck.units import SPELLINGS, factor

IN = 0.0254  # international inch, exact
FT = 0.3048


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("900", 900, None),
        (" 900 ", 900, None),
        ("900mm", 900, "mm"),
        ("0.9 m", 0.9, "m"),
        ("0,25", 0.25, None),
        ("1,5 m", 1.5, "m"),
        ("64\u00a0000", 64000, None),
        ("15 672", 15672, None),
        ("1 234,5", 1234.5, None),
        ("1.234,56", 1234.56, None),
        ("1,234.5", 1234.5, None),
        ("1,234,567", 1234567, None),
        ("36 in", 36, "in"),
        ('36"', 36, "in"),
        ("36''", 36, "in"),
        ("7'", 7, "ft"),
        ("7'-2 1/2\"", 86.5, "in"),
        ("7' 2½\"", 86.5, "in"),
        ("7 ft 2 in", 86, "in"),
        ("7’-2”", 86, "in"),
        ("53'-4 5/16\"", 640.3125, "in"),
        ("7 3/8 in", 7.375, "in"),
        ("7-3/8 in", 7.375, "in"),
        ("3/4 in", 0.75, "in"),
        ("-15", -15, None),
        ("−15 m", -15, "m"),
        ("600 t/hr", 600, "t/h"),
        ("300t/hr", 300, "t/h"),
        ("450 TPH", 450, TONS),
        ("2.17 M/Sec.", 2.17, "m/s"),
        ("600 fpm", 600, "ft/min"),
        ("35°", 35, "°"),
        ("35 deg", 35, "°"),
        ("80 %", 80, "%"),
        ("2 off", 2, None),
        ("3 nos.", 3, None),
        ("1(*)", 1, None),
        ("900*", 900, None),
        ("±25 mm", 25, "mm"),
        ("87 lb/ft³", 87, "lb/ft³"),
        ("400 PIW", 400, "lbf/in"),
    ],
)
def test_reads_one_number(text, value, unit):
    found = parse_quantity(text)
    assert isinstance(found, Quantity), found
    assert (found.low, found.high, found.unit) == (value, value, unit)
    assert not found.others
    assert not found.approximate


@pytest.mark.parametrize(
    ("text", "low", "high", "unit"),
    [
        ("0.6–0.9 m", 0.6, 0.9, "m"),
        ("0.6 - 0.9 m", 0.6, 0.9, "m"),
        ("0.6 m to 0.9 m", 0.6, 0.9, "m"),
        ("600...900 mm", 600, 900, "mm"),
        ("900 ± 10 mm", 890, 910, "mm"),
        ("900 mm ± 10 %", 810, 990, "mm"),
        ("< 5 mm", -math.inf, 5, "mm"),
        ("> 100 mm", 100, math.inf, "mm"),
        ("max. 150", -math.inf, 150, None),
    ],
)
def test_keeps_ranges(text, low, high, unit):
    found = parse_quantity(text)
    assert isinstance(found, Quantity), found
    assert (found.low, found.unit) == (low, unit)
    assert found.high == pytest.approx(high)


@pytest.mark.parametrize(
    "text", ["~900", "900?", "approx 900", "ca. 900", "900 (approx.)", "c. 900"]
)
def test_marks_what_is_approximate(text):
    found = parse_quantity(text)
    assert isinstance(found, Quantity), found
    assert found.low == 900
    assert found.approximate


@pytest.mark.parametrize(
    "text",
    [
        "see drawing 12",
        "Values TBC with final layout drawing",
        "4,711 x 1.830",
        "11.25 x 850",
        "2.6(h) / 1.5(t)",
        "557 / 1671",
        "75/150",
        "6/3",
        "12./4.",
        '27/8"',  # probably 2 7/8 with the blank lost
        "7:26",
        "2:1",
        "],200",
        "3.2 ton",  # a mass is no rate, and no unit of anything recorded
        "1e400",
        "0.9 m (30 in)",
        "900/1000",
        "7'-14\"",
        "0.9-0.6 m",
        "1 m 20",
        "900 1000",
    ],
)
def test_refuses_what_is_not_one_number(text):
    assert isinstance(parse_quantity(text), str)


@pytest.mark.parametrize(
    ("text", "readings"),
    [("1,200", {1200, 1.2}), ("1.500", {1.5, 1500}), ("12,345", {12345, 12.345})],
)
def test_leaves_open_what_only_the_register_can_tell(text, readings):
    found = parse_quantity(text)
    assert isinstance(found, Quantity)
    assert {found.low, *found.others} == readings


def test_two_agreeing_figures_give_the_first():
    found = parse_quantity("0.9 m (36 in)")
    assert (found.low, found.unit) == (0.9, "m")
    assert "agree" in found.note


def test_a_second_fact_after_the_unit_is_noted():
    found = parse_quantity("600 t/hr, cut point 150mm")
    assert (found.low, found.unit) == (600, "t/h")
    assert "cut point 150mm" in found.note


def test_a_bare_hyphen_between_feet_and_inches_is_no_range():
    assert isinstance(parse_quantity("7-9", "ft"), str)
    assert parse_quantity("7-9", "m").high == 9


@pytest.mark.parametrize("word", ["cycle", "gypsum", "belt", "a", "B", "no", "in use"])
def test_bare_words_are_no_units(word):
    assert parse_unit(word) is None


numbers = st.decimals(min_value=0, max_value=99_999, places=3, allow_nan=False)


def written(number, decimals: int, mark: str, group: str) -> str:
    """The number as a person writes it with these marks."""
    text = f"{number:,.{decimals}f}"
    return text.replace(",", "\0").replace(".", mark).replace("\0", group)


@settings(max_examples=400, deadline=None)
@given(
    numbers,
    st.integers(0, 3),
    st.sampled_from(
        [(".", ","), (",", "."), (".", ""), (",", ""), (",", " "), (".", "'"), (",", "\u00a0")]
    ),
    st.sampled_from(["", *sorted(SPELLINGS)]),
    st.sampled_from(["", " "]),
    st.sampled_from(["", "-", "~", "approx. "]),
)
def test_what_is_written_is_read_back_or_refused(number, decimals, marks, unit, blank, lead):
    text = lead + written(number, decimals, *marks) + blank + unit
    found = parse_quantity(text)
    if isinstance(found, str):
        return
    value = float(written(number, decimals, ".", ""))
    value = -value if lead == "-" else value
    readings = {found.low, *found.others}
    assert any(
        math.isclose(value, reading, rel_tol=1e-12, abs_tol=1e-12) for reading in readings
    ), (
        text,
        found,
    )
    if unit and found.unit is not None:
        assert found.unit == SPELLINGS[unit], (text, found)


@settings(max_examples=300, deadline=None)
@given(
    st.integers(0, 200),
    st.integers(0, 11),
    st.integers(0, 63),
    st.sampled_from(["'-", "' ", "'", " ft ", "ft-", " ft. "]),
    st.sampled_from(['"', " in", "''", " in.", ""]),
)
def test_feet_and_inches_are_read_back_or_refused(feet, inches, sixty_fourths, after_feet, after):
    divisor = math.gcd(sixty_fourths, 64)
    part = f" {sixty_fourths // divisor}/{64 // divisor}" if sixty_fourths else ""
    found = parse_quantity(f"{feet}{after_feet}{inches}{part}{after}")
    if isinstance(found, str):
        return
    metres = found.low * factor(found.unit, "m")
    assert metres == pytest.approx((feet * 12 + inches + sixty_fourths / 64) * IN, rel=1e-12)
    assert pytest.approx(12 * IN) == FT
