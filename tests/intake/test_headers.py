"""Headings as they are met in registers, and what each must, must not, or may mean."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from sheetcheck.data import rows
from sheetcheck.intake import headers
from sheetcheck.intake.headers import match_header, split_unit
from sheetcheck.intake.quantities import TONS
from sheetcheck.register.fields import FIELDS
from sheetcheck.units import UNITS

DATA = Path(__file__).parent / "data"

with (DATA / "header_spellings.csv").open(encoding="utf-8", newline="") as stream:
    SPELLINGS = list(csv.DictReader(stream))

# The list says that this is the return idlers' spacing; its own note says that it is the length
# of a return roll. A roll's length is no spacing, so it is asked.
ASKED_INSTEAD = {"Return Idlers Length"}


@pytest.mark.parametrize(
    "row", [row for row in SPELLINGS if row["rule"] == "map"], ids=lambda row: row["spelling"]
)
def test_known_headings_are_mapped(row):
    found = match_header(row["spelling"])
    if row["spelling"] in ASKED_INSTEAD:
        assert found.field is None
        assert row["field"] in found.candidates
        return
    assert found.field == row["field"]
    assert found.confidence >= headers.MAPPED


@pytest.mark.parametrize(
    "row", [row for row in SPELLINGS if row["rule"] != "map"], ids=lambda row: row["spelling"]
)
def test_other_headings_are_never_mapped_by_themselves(row):
    assert match_header(row["spelling"]).field is None


@pytest.mark.parametrize("field", FIELDS.values(), ids=lambda field: field.key)
def test_every_field_is_known_by_its_key_and_its_meaning(field):
    # A bare "lift" may be one of many; with a unit it is the field.
    unit = f" ({field.unit})" if field.unit not in ("", "1") else ""
    assert match_header(field.key + unit).field == field.key
    assert match_header(field.meaning).field == field.key


def test_vocabulary_names_only_what_exists():
    concepts = {
        name
        for row in rows("sheetcheck.intake", "header_concepts.csv")
        for name in row["concept"].split()
    }
    used = set()
    for row in rows("sheetcheck.intake", "header_patterns.csv"):
        assert row["field"] in FIELDS
        used |= set(f"{row['needs']} {row['may']}".split())
    assert used <= concepts
    rules = set()
    for row in rows("sheetcheck.intake", "header_words.csv"):
        assert set(row["fields"].split()) <= set(FIELDS), row
        assert row["unit"] in ("", *UNITS)
        rules.add(row["rule"])
        assert bool(row["fields"]) == (row["rule"] != "not"), row
    assert rules == {"map", "with unit", "alone", "ask", "not"}


@pytest.mark.parametrize("language", ["en", "de", "es", "pt", "fr"])
def test_vocabulary_speaks_each_language(language):
    given = [
        row
        for row in rows("sheetcheck.intake", "header_concepts.csv")
        if row["language"] == language
    ]
    assert len(given) >= 60


@pytest.mark.parametrize(
    ("header", "wording", "unit"),
    [
        ("Belt width (mm)", "Belt width", "mm"),
        ("Belt width [in.]", "Belt width", "in"),
        ("Length, m", "Length", "m"),
        ("SPEED mps", "SPEED", "m/s"),
        ("LENGTH IN MTS", "LENGTH", "m"),
        ("Width - mm", "Width", "mm"),
        ("Tail tension (% of rated)", "Tail tension of rated", "%"),
        ("Chute width (mm, inside)", "Chute width inside", "mm"),
        ("Labour rate (€/h)", "Labour rate", "currency/h"),
        ("Capacity (TPH)", "Capacity", TONS),
        ("Notes", "Notes", None),
        ("Tension ratio", "Tension ratio", None),
        ("Power (kW)", "Power (kW)", None),
    ],
)
def test_units_are_told_from_wording(header, wording, unit):
    assert split_unit(header) == (wording, unit)


@pytest.mark.parametrize(
    ("group", "header", "field"),
    [
        ("TAIL END", "Transition (mm)", "tail_transition_length"),
        ("HEAD END", "Transition (mm)", "head_transition_length"),
        ("Chute", "Width (mm)", "chute_width_inside"),
        ("Inspection door", "Width (mm)", "door_width"),
        ("BELT", "Width (mm)", "belt_width"),
        ("BELT", "Speed", "belt_speed"),
        ("DRIVE", "Speed (m/s)", None),
        ("MOTOR", "Capacity (t/h)", None),
        ("Hopper", "Length (m)", None),
        ("", "Transition length (mm)", None),  # which end?
        ("", "Pulley face (mm)", None),
    ],
)
def test_group_headings_tell(group, header, field):
    assert match_header(header, group).field == field


def test_a_missing_end_is_a_question_naming_both():
    asked = match_header("Transition length (mm)")
    assert asked.candidates == ("head_transition_length", "tail_transition_length")


@pytest.mark.parametrize(
    ("slip", "field"),
    [
        ("Belt widht (mm)", "belt_width"),
        ("Conceyor length (m)", "conveyor_length"),
        ("Trough angel (deg)", "trough_angle"),
        ("Tail transtion length (mm)", "tail_transition_length"),
    ],
)
def test_slips_of_the_pen_cost_confidence(slip, field):
    found = match_header(slip)
    assert found.field == field
    assert found.confidence < 0.95
    assert "read as" in found.why


def test_a_unit_that_does_not_fit_rules_a_field_out():
    assert match_header("Belt width (t/h)").field is None
    assert match_header("Belt speed (mm)").field is None


def test_unknown_words_make_a_question():
    found = match_header("Belt width flange zzyx")
    assert found.field is None


def test_choices_listed_in_a_heading_do_not_confuse():
    assert match_header("Splice (hot / clips)").field == "splice_kind"
    assert match_header("Spillage (none, light, heavy)").field == "spillage_level"


with (DATA / "headers_of_other_things.csv").open(encoding="utf-8", newline="") as stream:
    OTHERS = list(csv.DictReader(stream))


@pytest.mark.parametrize("row", OTHERS, ids=lambda row: f"{row['group']}|{row['header']}")
def test_headings_of_other_things_are_left_alone(row):
    assert match_header(row["header"], row["group"]).field is None


def test_feet_and_inches_are_no_unit_of_bare_numbers():
    assert split_unit("Tail transition, ft-in") == ("Tail transition", None)
    assert split_unit("Tail transition (ft. in.)") == ("Tail transition", None)
