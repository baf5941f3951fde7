"""The published tables that the package ships: whole, sourced, and as they were printed."""

import csv
from pathlib import Path

import numpy as np
import pytest

from sheetcheck.tables import REGULATIONS, SOURCES, factors, rows, source_line

TABLES = Path(factors.__file__).parent


def printed(position, carcass, angle):
    """Factors by tension band, over 90 %, 60 to 90 %, under 60 %."""
    found = {
        row["tension_band"]: float(row["factor_of_belt_width"])
        for row in rows("transition_factors")
        if (row["pulley_position"], row["carcass"], float(row["trough_angle_deg"]))
        == (position, carcass, angle)
    }
    return [found["over 90 %"], found["60 to 90 %"], found["under 60 %"]]


# CEMA, Belt Conveyors for Bulk Materials, 7th ed., Table 7.29, full trough (typed in from the
# page, not copied from the shipped file).
FULL_TROUGH = {
    ("fabric", 20.0): [1.8, 1.6, 1.2],
    ("fabric", 35.0): [3.2, 2.4, 1.8],
    ("fabric", 45.0): [4.0, 3.2, 2.4],
    ("steel cord", 20.0): [4.0, 3.2, 2.8],
    ("steel cord", 35.0): [6.8, 5.2, 3.6],
    ("steel cord", 45.0): [8.0, 6.4, 4.4],
}


@pytest.mark.parametrize(("carcass", "angle"), FULL_TROUGH)
def test_full_trough_factors_are_as_printed(carcass, angle):
    assert printed("full trough", carcass, angle) == FULL_TROUGH[carcass, angle]


@pytest.mark.parametrize(("carcass", "angle"), FULL_TROUGH)
def test_half_trough_is_half_of_full(carcass, angle):
    # Earlier CEMA editions print the half-trough table so.
    halves = [factor / 2 for factor in FULL_TROUGH[carcass, angle]]
    assert printed("half", carcass, angle) == pytest.approx(halves)


@pytest.mark.parametrize(("carcass", "angle"), FULL_TROUGH)
def test_one_third_trough_is_two_thirds_rounded_up(carcass, angle):
    up = [np.ceil(factor * 2 / 3 * 10 - 1e-9) / 10 for factor in FULL_TROUGH[carcass, angle]]
    assert printed("one-third", carcass, angle) == pytest.approx(up)


def test_factor_table_is_whole():
    table = rows("transition_factors")
    keys = {
        (row["pulley_position"], row["carcass"], row["trough_angle_deg"], row["tension_band"])
        for row in table
    }
    assert len(table) == len(keys) == 3 * 2 * 3 * 3
    # Added up by hand: full trough 21.6 + 44.4, half 33.0, one-third 14.6 + 30.0.
    assert sum(float(row["factor_of_belt_width"]) for row in table) == pytest.approx(143.6)
    disputed = {
        row["pulley_position"]: row["disputed_low"] for row in table if row["disputed_low"]
    }
    assert disputed == {"full trough": "2.0", "half": "1.0", "one-third": "1.4"}


@pytest.mark.parametrize("carcass", [0, 1])
@pytest.mark.parametrize("position", [0, 1, 2])
def test_factors_never_fall_with_angle_or_tension_nor_rise_with_the_pulley(position, carcass):
    ratios = np.array([0.3, 0.75, 0.95])
    table = np.array(
        [
            factors.transition_factor(position, carcass, np.full(3, angle), ratios)[0]
            for angle in (20.0, 35.0, 45.0)
        ]
    )
    assert (np.diff(table, axis=0) >= 0).all()
    assert (np.diff(table, axis=1) >= 0).all()
    if position:
        lower = np.array(
            [
                factors.transition_factor(position - 1, carcass, np.full(3, angle), ratios)[0]
                for angle in (20.0, 35.0, 45.0)
            ]
        )
        assert (table <= lower).all()


@pytest.mark.parametrize("path", sorted(TABLES.glob("*.csv")), ids=lambda path: path.stem)
def test_every_table_file_is_well_formed(path):
    with path.open(encoding="utf-8", newline="") as file:
        lines = list(csv.reader(file))
    assert lines
    assert {len(line) for line in lines} == {len(lines[0])}
    assert len({tuple(line) for line in lines}) == len(lines)
    if "source" in lines[0]:
        sources = {line[lines[0].index("source")] for line in lines[1:]}
        assert sources <= set(SOURCES)


def test_regulations_are_graded():
    assert {row["grade"] for row in REGULATIONS.values()} <= set("SQM")
    assert "29 CFR 1910.147" in REGULATIONS


def test_source_line_reads_as_one_line():
    assert source_line("CEMA7", "Table 7.29") == (
        "CEMA, Belt Conveyors for Bulk Materials, 7th ed., Table 7.29"
    )
    assert source_line("PRACTICE", "") == "Common practice, no published source"
    with pytest.raises(KeyError):
        source_line("NOBODY", "")
