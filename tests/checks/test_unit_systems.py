"""The unit system that a register is kept in never changes a verdict.

One register, written out in metric and in US units (converted by pint's full registry), read back
and checked.
"""

from __future__ import annotations

from typing import Any

import pint
import pytest
import xlsxwriter

import sheetcheck
from sheetcheck.checks import CHECKS
from sheetcheck.findings.evaluate import evaluate
from tests.checks.judging import verdicts
from tests.checks.samples import sample_rows
from tests.conftest import make_register

# field, heading without its unit, metric and US unit as headings write them and as pint does
COLUMNS = [
    ("belt_width", "Belt width", ("mm", "mm"), ("in", "inch")),
    ("belt_speed", "Belt speed", ("m/s", "m/s"), ("fpm", "foot/minute")),
    ("belt_rated_tension", "Rated tension", ("kN/m", "kN/m"), ("PIW", "lbf/inch")),
    ("belt_modulus", "Belt modulus", ("kN/m", "kN/m"), ("lb/in", "lbf/inch")),
    ("belt_mass", "Belt mass", ("kg/m", "kg/m"), ("lb/ft", "pound/foot")),
    ("conveyor_length", "Conveyor length", ("m", "m"), ("ft", "foot")),
    ("centre_roll_length", "Centre roll length", ("mm", "mm"), ("in", "inch")),
    ("carry_idler_spacing", "Carrying idler spacing", ("m", "m"), ("ft", "foot")),
    ("pulley_face_tail", "Tail pulley face", ("mm", "mm"), ("in", "inch")),
    ("pulley_face_head", "Head pulley face", ("mm", "mm"), ("in", "inch")),
    ("tail_transition_length", "Tail transition length", ("m", "m"), ("ft", "foot")),
    ("head_transition_length", "Head transition length", ("mm", "mm"), ("in", "inch")),
    ("chute_back", "Tail pulley to chute back", ("m", "m"), ("ft", "foot")),
    ("load_start", "Tail pulley to where material lands", ("m", "m"), ("ft", "foot")),
    ("chute_width_inside", "Chute inside width", ("mm", "mm"), ("in", "inch")),
    ("chute_wall_thickness", "Chute wall thickness", ("mm", "mm"), ("in", "inch")),
    ("drop_height", "Drop height", ("m", "m"), ("ft", "foot")),
    ("lump_size", "Largest lump", ("mm", "mm"), ("in", "inch")),
    ("material_size_mean", "Mean material size", ("mm", "mm"), ("in", "inch")),
    ("bulk_density", "Bulk density", ("t/m³", "tonne/m**3"), ("lb/ft³", "pound/foot**3")),
    ("tonnage", "Tonnage", ("t/h", "tonne/hour"), ("stph", "short_ton/hour")),
    ("load_idler_spacing", "Idler spacing under load", ("m", "m"), ("in", "inch")),
    ("load_belt_tension", "Belt tension at load point", ("kN", "kN"), ("lbf", "lbf")),
    ("skirt_length", "Skirt length", ("m", "m"), ("ft", "foot")),
    ("seal_footprint", "Seal footprint on belt", ("mm", "mm"), ("in", "inch")),
    ("belt_wander", "Belt wander seen, each side", ("mm", "mm"), ("in", "inch")),
    ("exhaust_airflow", "Exhaust air flow", ("m³/s", "m**3/s"), ("cfm", "foot**3/minute")),
    ("chute_open_area", "Chute open area", ("m²", "m**2"), ("ft²", "foot**2")),
    (
        *("tracker_spacing_max", "Longest run without dynamic tracking device"),
        *(("m", "m"), ("ft", "foot")),
    ),
    ("side_clearance", "Belt edge to structure", ("mm", "mm"), ("in", "inch")),
    ("door_width", "Door clear width", ("mm", "mm"), ("in", "inch")),
    ("door_height", "Door clear height", ("mm", "mm"), ("in", "inch")),
    (
        "service_clear_width",
        "Clear width beside cleaners and rollers",
        ("mm", "mm"),
        ("in", "inch"),
    ),
    ("dust_layer_depth", "Settled dust depth", ("mm", "mm"), ("in", "inch")),
]
UNCONVERTED = [
    ("belt_carcass", "Belt carcass"),
    ("tail_tension_ratio", "Tail tension (ratio of rated)"),
    ("head_tension_ratio", "Head tension (ratio of rated)"),
    ("trough_angle", "Trough angle (°)"),
    ("surcharge_angle", "Surcharge angle (°)"),
    ("tail_transition_idlers", "Tail transition idlers"),
    ("lump_mix", "Lump mix"),
    ("dust_kind", "Kind of dust"),
    ("load_support", "Support under load"),
    ("seal_kind", "Skirt seal"),
    ("door_count", "Inspection doors"),
    ("tracker_count", "Dynamic tracking devices"),
]
SI = {
    **{"belt_rated_tension": "kN/m", "belt_modulus": "kN/m", "belt_mass": "kg/m"},
    **{"bulk_density": "tonne/m**3", "tonnage": "tonne/hour", "load_belt_tension": "kN"},
    **{"exhaust_airflow": "m**3/s", "chute_open_area": "m**2", "belt_speed": "m/s"},
}
UNIT = pint.UnitRegistry()
ROWS = sample_rows(60, seed=31, missing=0.05)


def written(path: Any, system: int) -> str:
    """Write the rows in one unit system; give the file's name."""

    workbook = xlsxwriter.Workbook(path)
    sheet = workbook.add_worksheet("Conveyors")
    sheet.write_string(0, 0, "Tag")
    for number, row in enumerate(ROWS, 1):
        sheet.write_string(number, 0, row["tag"])
    for column, (field, heading) in enumerate(UNCONVERTED, 1):
        sheet.write_string(0, column, heading)
        for number, row in enumerate(ROWS, 1):
            if row.get(field) is not None:
                sheet.write(number, column, row[field])
    for column, (field, heading, *units) in enumerate(COLUMNS, 1 + len(UNCONVERTED)):
        shown, converted = units[system]
        sheet.write_string(0, column, f"{heading} ({shown})")
        factor = UNIT.Quantity(1.0, SI.get(field, "m")).to(converted).magnitude
        for number, row in enumerate(ROWS, 1):
            if row.get(field) is not None:
                sheet.write_number(number, column, row[field] * factor)
    workbook.close()
    return str(path)


def test_metric_and_us_copies_of_one_register_give_the_same_verdicts(tmp_path):
    fields = ["tag", *(field for field, _ in UNCONVERTED), *(column[0] for column in COLUMNS)]
    truth = evaluate(
        make_register([{name: row.get(name) for name in fields} for row in ROWS]), flips=False
    )
    for system, name in enumerate(("metric.xlsx", "us.xlsx")):
        register = sheetcheck.read_register(written(tmp_path / name, system))
        assert {c.field for c in register.columns} == set(fields)
        got = evaluate(register, flips=False)
        for key in CHECKS:
            pairs = zip(verdicts(truth, key), verdicts(got, key), ROWS, strict=True)
            for a, b, row in pairs:
                assert a.band == b.band, (name, key, row)
                if isinstance(a.found, float):
                    assert b.found == pytest.approx(a.found, rel=1e-9, abs=1e-12)
                if isinstance(a.required, float):
                    assert b.required == pytest.approx(a.required, rel=1e-9, abs=1e-12)
