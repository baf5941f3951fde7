"""The reading rules, each on a small register."""

from __future__ import annotations

import pytest

from sheetcheck.errors import UnusableInput
from sheetcheck.intake import read_register
from sheetcheck.units import factor

SHORT_TON = 0.90718474  # tonnes: 2000 lb of 0.45359237 kg, exact


def one(build, header, *cells, more=(), **options):
    """A register of one column beside the tag; `more` are further (header, cells) columns."""
    columns = [(header, cells), *more]
    rows = [
        [f"CV-{number + 1}", *(column[number] for _, column in columns)]
        for number in range(len(cells))
    ]
    return read_register(build([["Tag", *(head for head, _ in columns)], *rows], **options))


def column(register, name):
    return [register.value(row, name) for row in range(len(register))]


BELT = ("Belt width (mm)", (900, 1050, 1200, 1400))


# --- impossible and doubtful -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("header", "cells", "field"),
    [
        ("Belt width (m)", (0.9, 1.05, 900), "belt_width"),
        ("Trough angle (°)", (35, 20, 350), "trough_angle"),
        ("Belt speed (m/s)", (1.5, 2.5, 120), "belt_speed"),
        ("Lump size (mm)", (100, 150, 3000), "lump_size"),
        ("Conveyor length (m)", (40, 50, -3), "conveyor_length"),
        ("Operating hours (h/year)", (6000, 5000, 9000), "operating_hours"),
    ],
)
def test_an_impossible_value_is_a_problem_and_not_used(build, header, cells, field):
    register = one(build, header, *cells)
    assert column(register, field)[2] is None
    assert column(register, field)[:2] != [None, None]
    (found,) = register.problems
    assert (found.cells, found.field, found.used) == (("B4",), field, False)
    assert "impossible" in found.problem


@pytest.mark.parametrize(
    ("header", "cells", "field"),
    [
        ("Belt width (m)", (0.9, 1.05, 3.0), "belt_width"),
        ("Trough angle (°)", (35, 20, 5), "trough_angle"),
        ("Belt speed (m/s)", (1.5, 2.5, 9), "belt_speed"),
        ("Bulk density (t/m³)", (1.5, 1.6, 6), "bulk_density"),
    ],
)
def test_a_doubtful_value_is_a_problem_and_used(build, header, cells, field):
    register = one(build, header, *cells)
    assert column(register, field) == list(map(float, cells))
    (found,) = register.problems
    assert (found.cells, found.used) == (("B4",), True)
    assert "doubtful" in found.problem


def test_a_flat_belt_is_not_doubtful(build):
    register = one(build, "Trough angle (°)", 0, 35)
    assert column(register, "trough_angle") == [0, 35]
    assert register.problems == []


# --- units -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("header", "cell", "field", "value"),
    [
        ("Belt width (mm)", 900, "belt_width", 0.9),
        ("Belt width (cm)", 90, "belt_width", 0.9),
        ("Belt width (in)", 36, "belt_width", 36 * 0.0254),
        ("Belt speed (fpm)", 600, "belt_speed", 600 * 0.3048 / 60),
        ("Belt speed (m/min)", 90, "belt_speed", 1.5),
        ("Rated tension (N/mm)", 80, "belt_rated_tension", 80),
        ("Rated tension (PIW)", 400, "belt_rated_tension", 400 * 4.4482216152605 / 25.4),
        ("Bulk density (lb/ft³)", 87, "bulk_density", 87 * 0.45359237 / 0.3048**3 / 1000),
        ("Bulk density (kg/m³)", 1600, "bulk_density", 1.6),
        ("Capacity (stph)", 600, "tonnage", 600 * SHORT_TON),
        ("Exhaust airflow (cfm)", 1000, "exhaust_airflow", 1000 * 0.3048**3 / 60),
        ("Belt mass (lb/ft)", 9, "belt_mass", 9 * 0.45359237 / 0.3048),
        ("Tail tension (% of rated)", 80, "tail_tension_ratio", 0.8),
        ("Carryback target (g/m²)", 100, "carryback_target", 0.1),
    ],
)
def test_units_of_headings(build, header, cell, field, value):
    """Factors from the definitions of the inch, foot, pound and pound-force (exact)."""
    register = one(build, header, cell, cell)
    assert column(register, field) == pytest.approx([value, value], rel=1e-12)


def test_a_cells_own_unit_wins_and_is_reported(build):
    register = one(build, "Skirt length (m)", 3, "4500 mm", "15 ft", "14'-9\"")
    assert column(register, "skirt_length") == pytest.approx([3, 4.5, 15 * 0.3048, 177 * 0.0254])
    assert [found.cells for found in register.problems] == [("B3",), ("B4",), ("B5",)]
    assert all(found.used for found in register.problems)


def test_a_unit_of_another_kind_is_a_problem(build):
    register = one(build, "Capacity (t/h)", 600, 500, "3.2 ton", "40 kg")
    assert column(register, "tonnage") == [600, 500, None, None]
    assert [found.used for found in register.problems] == [False, False]


@pytest.mark.parametrize(
    ("header", "cells", "field", "unit"),
    [
        ("Belt width", (900, 1050), "belt_width", "mm"),
        ("Belt width", (36, 42), "belt_width", "in"),
        ("Belt width", (0.9, 1.2), "belt_width", "m"),
        ("Belt speed", (1.5, 2.5), "belt_speed", "m/s"),
        ("Belt speed", (400, 600), "belt_speed", "ft/min"),
        ("Bulk density", (1400, 1600), "bulk_density", "kg/m³"),
        ("Tail transition length", (1800, 2600), "tail_transition_length", "mm"),
        ("Trough angle", (35, 45), "trough_angle", "°"),
        ("Tail tension ratio", (0.45, 0.8), "tail_tension_ratio", "1"),
        ("Tail tension ratio", (45, 80), "tail_tension_ratio", "%"),
    ],
)
def test_numbers_without_a_unit_take_the_only_one_that_makes_sense(
    build, header, cells, field, unit
):
    register = one(build, header, *cells)
    described = next(item for item in register.columns if item.field == field)
    assert described.unit == unit
    assert "no unit given" in described.why or unit == "1"
    spec_unit = {"tail_tension_ratio": "1"}.get(field)
    ratio = factor(unit, spec_unit) if spec_unit else None
    if ratio is not None:
        assert column(register, field) == pytest.approx([cell * ratio for cell in cells])
    assert None not in column(register, field)


@pytest.mark.parametrize(
    ("header", "cells", "field"),
    [
        ("Belt width", (900, 1200, 36), "belt_width"),  # mm and in mixed
        ("Conveyor length", (120, 250, 80), "conveyor_length"),  # m or ft: both possible
        ("Tail tension ratio", (80, 0.8, 75), "tail_tension_ratio"),
    ],
)
def test_numbers_without_a_unit_that_could_be_in_several_are_not_used(build, header, cells, field):
    register = one(build, header, *cells)
    assert column(register, field) == [None, None, None]
    assert any(found.cells == ("B2", "B3", "B4") for found in register.problems)


@pytest.mark.parametrize(
    ("header", "cells", "field"),
    [
        ("Belt width (mm)", (0.9, 1.05, 1.2), "belt_width"),
        ("Belt width (m)", (900, 1050, 1200), "belt_width"),
        ("Belt width (mm)", (36, 42, 48), "belt_width"),
        ("Tail transition length (m)", (1800, 2600, 3400), "tail_transition_length"),
        ("Tail transition length (mm)", (1.8, 2.6, 3.4), "tail_transition_length"),
        ("Belt speed (m/s)", (400, 500, 600), "belt_speed"),
        ("Tail tension (% of rated)", (0.45, 0.8, 0.6), "tail_tension_ratio"),
    ],
)
def test_a_column_that_makes_sense_only_in_another_unit_is_questioned(build, header, cells, field):
    register = one(build, header, *cells, more=[("Trough angle (°)", (35, 35, 35))])
    assert not register.has(field)
    (found,) = register.problems
    assert found.cells == ("B1",)
    assert (found.field, found.used) == (field, False)
    assert "which" in found.problem


def test_tons_follow_the_other_units(build):
    metric = one(build, "Capacity (TPH)", 600, more=[("Belt width (mm)", (900,))])
    assert column(metric, "tonnage") == [600]
    assert metric.columns[1].unit == "t/h"
    us = one(build, "Capacity (TPH)", 600, more=[("Belt width (in)", (36,))])
    assert column(us, "tonnage") == pytest.approx([600 * SHORT_TON])
    assert us.columns[1].unit == "short ton/h"
    mixed = [("Belt width (in)", (36,)), ("Skirt length (m)", (3,))]
    open_ = one(build, "Capacity (TPH)", 600, more=mixed)
    assert column(open_, "tonnage") == [pytest.approx((600 * SHORT_TON, 600))]
    assert any("short or metric" in found.problem for found in open_.problems)


def test_a_share_among_percentages_is_a_problem(build):
    register = one(build, "Tail tension (% of rated)", 80, 75, 0.8)
    assert column(register, "tail_tension_ratio") == [0.8, 0.75, None]
    (found,) = register.problems
    assert found.cells == ("B4",)


def test_a_percentage_among_shares_is_a_problem(build):
    register = one(build, "Tail tension (fraction of rated)", 0.8, 0.75, 80)
    assert column(register, "tail_tension_ratio") == [0.8, 0.75, None]
    assert [found.cells for found in register.problems] == [("B4",)]


# --- marks -----------------------------------------------------------------------------------


def test_one_comma_is_settled_by_the_columns_size(build):
    register = one(build, "Belt width (mm)", 900, 1050, "1,200")
    assert column(register, "belt_width") == [0.9, 1.05, 1.2]


def test_one_comma_is_settled_by_how_the_register_writes(build):
    dots = one(build, "Capacity (t/h)", "1,200", more=[("Belt speed (m/s)", ("1.5 m/s",))])
    assert column(dots, "tonnage") == [1200]
    commas = one(build, "Conveyor length (m)", "1,200", more=[("Belt speed (m/s)", ("1,5",))])
    assert column(commas, "conveyor_length") == [1.2]


def test_one_comma_that_nothing_settles_is_a_problem(build):
    register = one(build, "Capacity (t/h)", "1,200", more=[BELT])
    assert column(register, "tonnage") == [None]
    assert any("thousands mark" in found.problem for found in register.problems)


def test_a_full_stop_is_a_decimal_mark_unless_the_register_writes_commas(build):
    plain = one(build, "Belt speed (m/s)", "1.500")
    assert column(plain, "belt_speed") == [1.5]
    commas = one(build, "Capacity (t/h)", "1.500", more=[("Belt speed (m/s)", ("0,25",))])
    assert column(commas, "tonnage") == [1500]


# --- kinds of cells --------------------------------------------------------------------------


def test_ranges_are_kept_as_ranges(build):
    register = one(build, "Carry idler spacing (m)", "0.9–1.2", "1 to 1.5 m", "< 1.2")
    assert column(register, "carry_idler_spacing") == [(0.9, 1.2), (1.0, 1.5), (0.0, 1.2)]


def test_a_range_that_reaches_beyond_the_possible_is_a_problem(build):
    register = one(build, "Carry idler spacing (m)", 1.2, "9–12")
    assert column(register, "carry_idler_spacing") == [1.2, None]
    assert len(register.problems) == 1


def test_approximate_values_are_used_and_listed(build):
    register = one(build, "Belt width (mm)", "~900", "1050?", 1200)
    assert column(register, "belt_width") == [0.9, 1.05, 1.2]
    assert register.approximate == {(0, "belt_width"), (1, "belt_width")}
    assert [(found.cells, found.used) for found in register.problems] == [
        (("B2",), True),
        (("B3",), True),
    ]


@pytest.mark.parametrize(
    "text",
    [
        *("", "-", "--", "---", "n/a", "NA", "N/A", "none given", "TBC", "tba", "TBD", "?"),
        *("unknown", "not known", "std", "Standard", "pending", "unbekannt", "k.A."),
        *("desconocido", "s/d", "desconhecido", "inconnu"),
    ],
)
def test_placeholders_are_blank(build, text):
    register = one(build, "Belt width (mm)", 900, text, more=[("Carcass", ("fabric", text))])
    assert column(register, "belt_width") == [0.9, None]
    assert column(register, "belt_carcass") == ["fabric", None]
    assert register.problems == []
    if text:
        assert "1 cell" in register.columns[1].why


@pytest.mark.parametrize(
    "text", ["see drawing 12", "to suit", "4,711 x 1.830", "75/150", "12./4.", "], 200"]
)
def test_other_text_where_a_number_belongs_is_a_problem(build, text):
    register = one(build, "Belt width (mm)", 900, text)
    assert column(register, "belt_width") == [0.9, None]
    (found,) = register.problems
    assert (found.cells, found.text, found.used) == (("B3",), text, False)
    assert found.what_to_do


@pytest.mark.parametrize(
    ("text", "value"),
    [
        *(
            (word, True)
            for word in ("Y", "yes", "Ja", "sí", "sim", "oui", "✓", "x", "ok", "fitted")
        ),
        *((word, False) for word in ("N", "no", "nein", "não", "non", "none installed", "✗")),
        *((word, False) for word in ("0", "none")),
    ],
)
def test_yes_and_no(build, text, value):
    assert column(one(build, "Alignment switches", text), "alignment_switches") == [value]


def test_true_and_false_cells(build):
    register = one(build, "Alignment switches", True, False)
    assert column(register, "alignment_switches") == [True, False]


def test_a_cross_beside_ticks_is_asked(build):
    register = one(build, "Alignment switches", "✓", "x")
    assert column(register, "alignment_switches") == [True, None]
    assert "yes or no" in register.problems[0].problem


@pytest.mark.parametrize(
    "text", ["maybe", "N/N", "BY MINE", "not sure", "yes, but broken", "Y (tail only)", "Yes?"]
)
def test_neither_yes_nor_no(build, text):
    register = one(build, "Alignment switches", "Y", text)
    assert column(register, "alignment_switches") == [True, None]
    assert register.problems[0].used is False


@pytest.mark.parametrize(
    ("text", "value"),
    [
        *((2, True), ("2 off", True), ("V-TYPE SCRAPER", True), ("urethane", True)),
        *((0, False), ("None installed", False), ("on hold", False)),
    ],
)
def test_cleaners_by_count_or_kind(build, text, value):
    register = one(build, "Primary cleaner", text, "Y")
    assert column(register, "primary_cleaner")[0] is value
    assert [found.used for found in register.problems] in ([], [True])


def test_a_cleaner_on_hold_is_flagged(build):
    register = one(build, "Secondary cleaner", "On Hold")
    assert column(register, "secondary_cleaner") == [False]
    assert "not fitted yet" in register.problems[0].problem


@pytest.mark.parametrize(
    ("header", "text", "field", "word"),
    [
        ("Carcass", "N/N", "belt_carcass", "fabric"),
        ("Carcass", "STEEL", "belt_carcass", "steel cord"),
        ("Carcass", "Steelcord", "belt_carcass", "steel cord"),
        ("Carcass", "EP", "belt_carcass", "fabric"),
        ("Splice", "Hot vulcanized", "splice_kind", "vulcanised"),
        ("Splice", "clips", "splice_kind", "mechanical"),
        ("Skirt seal", "double lip", "seal_kind", "dual lip"),
        ("Skirt seal", "none", "seal_kind", "none"),
        ("Secondary blade", "T/C tungsten carbide tips", "secondary_blade", "tungsten carbide"),
        ("Secondary blade", "PU", "secondary_blade", "urethane"),
        ("Support under load", "impact idlers", "load_support", "impact idlers"),
        ("Support under load", "impact bed", "load_support", "impact bed"),
        ("Tracking device before tail", "self-aligning idler", "tracker_before_tail", "dynamic"),
        ("Spillage", "Heavy", "spillage_level", "heavy"),
        ("Spillage", "heavvy", "spillage_level", "heavy"),
    ],
)
def test_words_of_choices(build, header, text, field, word):
    assert column(one(build, header, text, text, text), field) == [word] * 3


@pytest.mark.parametrize(
    "text", ["urethane or rubber", "not urethane", "see drawing", "blue", "steel"]
)
def test_words_that_are_no_choice_are_problems(build, text):
    register = one(build, "Secondary blade", "urethane", "rubber", text)
    assert column(register, "secondary_blade") == ["urethane", "rubber", None]
    assert [found.used for found in register.problems] == [False]


def test_pulley_lifts_are_numbers_or_words(build):
    register = one(
        build, "Tail pulley lift (mm)", "full trough", "1/3", 50, "half", "half way up?"
    )
    assert column(register, "tail_pulley_lift")[:4] == ["full trough", "one-third", 0.05, "half"]
    assert register.value(4, "tail_pulley_lift") is None


def test_counts_are_whole(build):
    register = one(build, "Tail transition idlers", 2, "3 off", 2.5)
    assert column(register, "tail_transition_idlers") == [2, 3, None]
    assert "whole number" in register.problems[0].problem


def test_numbers_as_tags(build):
    register = read_register(build([["Tag", "Belt width (mm)"], [101, 900], ["00102", 900]]))
    assert column(register, "tag") == ["101", "00102"]


# --- questions -------------------------------------------------------------------------------


def test_one_heading_that_could_be_two_fields_is_not_used(build):
    register = one(build, "Transition length (mm)", 1800, more=[BELT])
    assert not register.has("tail_transition_length")
    assert not register.has("head_transition_length")
    (found,) = register.problems
    assert (found.cells, found.used) == (("B1",), False)
    assert "tail_transition_length" in found.problem
    assert "head_transition_length" in found.problem


def test_two_headings_that_could_be_one_field_are_not_used(build):
    register = one(build, "Belt width (mm)", 900, more=[("Width of belt (mm)", (1000,))])
    assert not register.has("belt_width")
    assert [found.cells for found in register.problems] == [("B1",), ("C1",)]


def test_two_headings_of_one_field_that_say_the_same_are_one(build):
    register = one(build, "Belt width (mm)", 900, more=[("Width of belt (mm)", (900,))])
    assert column(register, "belt_width") == [0.9]
    assert register.problems == []
    assert "given by column B" in register.columns[2].why


def test_a_column_whose_cells_are_of_another_kind_is_questioned(build):
    register = one(build, "Belt width", "see", "the", "drawing", more=[("Lump (mm)", (1, 2, 3))])
    assert not register.has("belt_width")
    assert register.columns[1].field is None


def test_a_question_is_in_the_columns_too(build):
    register = one(build, "Pulley face (mm)", 1050)
    assert "question" in register.columns[1].why
    assert register.columns[1].confidence < 0.7


def test_reasons_show_the_parts_of_the_evidence(build):
    register = one(build, "Chute width (mm)", 540, 600)
    described = register.columns[1]
    assert described.field == "chute_width_inside"
    assert described.why == (
        "wording 0.95: words for chute + width; unit 1.00: mm is given; "
        "cells 1.00: 2 of 2 looked at make sense"
    )
    assert described.confidence == 0.95


def test_cells_that_make_no_sense_lower_the_confidence(build):
    good = one(build, "Chute width (mm)", *(540,) * 10)
    poor = one(build, "Chute width (mm)", *(540,) * 5, *("see drawing",) * 5, name="poor.xlsx")
    none = one(build, "Chute width (mm)", *("see drawing",) * 10, name="none.xlsx")
    found = [register.columns[1].confidence for register in (good, poor, none)]
    assert found == [0.95, pytest.approx(0.95 * 0.8), pytest.approx(0.95 * 0.6)]
    assert [register.has("chute_width_inside") for register in (good, poor, none)] == [
        *(True, True, False)
    ]


def test_rating_and_operating_tension_are_told_by_the_designation(build):
    belt = ("Belt designation", ("EP 630/4", "EP 800/4", "EP 1000/4", "EP 630/4"))
    rated = one(build, "Working tension (kN/m)", 63, 80, 100, 63, more=[belt])
    assert column(rated, "belt_rated_tension") == [63, 80, 100, 63]
    loose = one(build, "Working tension (kN/m)", 30, 41, 55, 28, more=[belt])
    assert not loose.has("belt_operating_tension")
    assert any("belt_operating_tension" in found.problem for found in loose.problems)


def test_the_library_says_when_no_row_has_a_tag(build):
    with pytest.raises(UnusableInput, match="no row has a tag"):
        read_register(build([["Tag", "Belt width (mm)", "Lift (m)"], [None, 900, 3]]))


def test_the_columns_size_does_not_settle_a_cell_in_another_unit(build):
    register = one(build, "Skirt length (m)", 3, 4.5, "1,200 mm")
    assert column(register, "skirt_length") == [3, 4.5, None]


def test_units_in_a_column_of_their_own(build):
    register = one(
        build,
        "Capacity",
        *(600, 600, 600),
        more=[("Capacity UOM", ("t/h", "stph", "")), ("Belt width (mm)", (900, 900, 900))],
    )
    assert column(register, "tonnage") == pytest.approx([600, 600 * SHORT_TON, 600])
    assert register.columns[2].why == "units of the column before it"
    assert not any("question" in described.why for described in register.columns)


def test_a_rate_without_any_unit_is_in_the_registers_tons(build):
    us = one(build, "Capacity", 600, more=[("Belt width (in)", (36,))])
    assert column(us, "tonnage") == pytest.approx([600 * SHORT_TON])
    bare = one(build, "Capacity", 600, more=[("Trough angle (°)", (35,))])
    assert column(bare, "tonnage") == [pytest.approx((600 * SHORT_TON, 600))]


def test_two_agreeing_figures_under_a_heading_with_the_first_ones_unit(build):
    register = one(build, "Belt width (mm)", '900 (36")', '900 (48")', "900 / 1200")
    assert column(register, "belt_width") == [0.9, None, None]


def test_two_names_of_one_unit_are_no_question(build):
    register = one(build, "Nominal belt strength", 800, 1000)
    assert column(register, "belt_nominal_strength") == [800, 1000]


def test_tons_follow_the_columns_own_cells_first(build):
    register = one(
        build,
        "Throughput",
        *("750 t/h", "600tph"),
        more=[("Belt width (in)", (36, 36)), ("Lump (mm)", (80, 90))],
    )
    assert column(register, "tonnage") == [750, 600]


def test_a_tag_column_is_told_by_its_cells_where_no_heading_tells(build):
    rows = [
        ["Stacker / line", "Belt width (mm)", "Lift (m)"],
        ["B1-01", 900, 3],
        ["B1-02", 900, 4],
    ]
    register = read_register(build(rows))
    assert column(register, "tag") == ["B1-01", "B1-02"]
    assert "made like tags" in register.columns[0].why


def test_a_units_row_of_unknown_words_is_a_question(build):
    rows = [["Tag", "Hourly", "Belt width"], [None, "t", "mm"], ["CV-1", 600, 900]]
    register = read_register(build(rows))
    assert register.columns[1].field is None
