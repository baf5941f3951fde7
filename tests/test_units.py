"""Unit factors: those kept in a file are pint's, and pint's own registry agrees with ours."""

import csv
from pathlib import Path

import pint
import pytest

from sheetcheck import units
from sheetcheck.units import SPELLINGS, UNITS, by_pint, canonical, factor

KEPT = Path(units.__file__).parent / "unit_factors.csv"
PAIRS = [
    (unit, si)
    for unit, measures in units._UNITS.items()
    for si, same in units._UNITS.items()
    if measures["si_unit"] == same["si_unit"] and unit != si
]
# Exact by definition: international yard and pound agreement (1959), NIST SP 811 appendix B.
PUBLISHED = {
    ("in", "m"): 0.0254,
    ("ft", "m"): 0.3048,
    ("ft/min", "m/s"): 0.00508,
    ("short ton/h", "t/h"): 0.90718474,
    ("lbf/in", "kN/m"): 0.1751268,
    ("lb/ft³", "t/m³"): 0.01601846,
    ("ft³/min", "m³/s"): 4.719474e-4,
    ("lb/ft", "kg/m"): 1.488164,
    ("N/mm", "kN/m"): 1.0,
    ("%", "1"): 0.01,
    ("1", "%"): 100.0,
}


def test_the_kept_factors_are_what_pint_gives(request):
    if request.config.getoption("--update-golden"):
        with KEPT.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(("unit", "si_unit", "factor"))
            writer.writerows((unit, si, repr(by_pint(unit, si))) for unit, si in PAIRS)
    with KEPT.open(encoding="utf-8", newline="") as file:
        kept = {(line["unit"], line["si_unit"]): line["factor"] for line in csv.DictReader(file)}
    assert kept == {(unit, si): repr(by_pint(unit, si)) for unit, si in PAIRS}


@pytest.mark.parametrize(("unit", "si"), PAIRS)
def test_a_factor_is_that_of_pint_s_full_registry(unit, si):
    if unit.startswith("currency"):
        pytest.skip("pint knows no currency")
    full = pint.get_application_registry()
    ours, theirs = (units._UNITS[name]["definition"] for name in (unit, si))
    ratio = (full.Quantity(1, ours) / full.Quantity(1, theirs)).to_base_units().magnitude
    assert factor(unit, si) == pytest.approx(ratio, rel=1e-12)


@pytest.mark.parametrize(("pair", "value"), PUBLISHED.items())
def test_published_factors(pair, value):
    assert factor(*pair) == pytest.approx(value, rel=1e-6)


def test_what_measures_something_else_has_no_factor():
    assert factor("m", "m/s") is None
    assert factor("°", "1") is None
    assert factor("no unit", "m") is None


@pytest.mark.parametrize("unit", UNITS)
def test_every_unit_is_spelt_and_round_trips(unit):
    assert unit in SPELLINGS.values()
    for si in UNITS:
        there, back = factor(unit, si), factor(si, unit)
        assert (there is None) == (back is None)
        if there is not None and back is not None:
            assert there * back == pytest.approx(1.0, rel=1e-12)


def test_a_bare_word_is_no_unit():
    assert canonical("width") is None
    assert canonical(" FPM ") == "ft/min"
