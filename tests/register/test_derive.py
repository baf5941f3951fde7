"""Values derived from others, and problems between fields."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sheetcheck.register.derive import complete, parse_designation, with_ranges
from sheetcheck.register.fields import FIELDS
from sheetcheck.register.ranges import RANGES
from sheetcheck.register.register import cell_reference, split_reference
from tests.conftest import Approximate, make_register

PIW = 4.4482216152605 / 25.4  # kN/m in a pound-force per inch: exact definitions


def completed(*rows):
    register = make_register(rows)
    complete(register)
    return register


@pytest.mark.parametrize(
    ("text", "carcass", "nominal", "rated"),
    [
        # The number of an EP, NN or ST designation is breaking strength in N/mm = kN/m: textile
        # belts ISO 14890, steel cord belts ISO 15236-1 (from memory).
        ("EP 800/4", "fabric", 800, None),
        ("EP800/4 6+2 X", "fabric", 800, None),
        ("ep 630 / 4", "fabric", 630, None),
        ("NN 500/4", "fabric", 500, None),
        ("PN 1000/5", "fabric", 1000, None),
        ("ST 2500", "steel cord", 2500, None),
        ("ST-1600 8/6", "steel cord", 1600, None),
        ("St1000", "steel cord", 1000, None),
        # Ply and PIW classes are rated working tension in lbf/in (from memory).
        ("3-ply 330", "fabric", None, 330),
        ("3 ply 330 PIW", "fabric", None, 330),
        ("450 PIW", "", None, 450),
        ("fabric", "fabric", None, None),
        ("steel cord", "steel cord", None, None),
        ("rubber", "", None, None),
        ("1200 mm wide", "", None, None),
        ("MSHA grade 2", "", None, None),
        ("STEP 12", "", None, None),
    ],
)
def test_designations(text, carcass, nominal, rated):
    found = parse_designation(text)
    assert found.carcass == carcass
    assert found.nominal_strength == pytest.approx(nominal or math.nan, nan_ok=True)
    assert found.rated_tension == pytest.approx((rated or math.nan) * PIW, nan_ok=True)


def test_a_designation_gives_carcass_and_strength():
    register = completed({"belt_designation": "EP 800/4"}, {"belt_designation": "ST 2500"})
    assert register.values["belt_carcass"].tolist() == ["fabric", "steel cord"]
    assert register.values["belt_nominal_strength"].tolist() == [800, 2500]
    assert "EP 800/4" in register.derived[0, "belt_carcass"]


def test_what_is_recorded_is_never_overwritten():
    register = completed(
        {"belt_designation": "EP 800/4", "belt_carcass": "steel cord", "belt_rated_tension": 90.0}
    )
    assert register.value(0, "belt_carcass") == "steel cord"
    assert register.value(0, "belt_rated_tension") == 90
    assert (0, "belt_rated_tension") not in register.derived


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [("EP 800/4", 800 / 12, 800 / 8), ("ST 2500", 2500 / 10, 2500 / 6.5)],
)
def test_a_missing_rating_is_a_range_of_the_strength(text, low, high):
    """Divisors are common practice, no published source (catalogue section 2)."""
    register = completed({"belt_designation": text})
    assert register.value(0, "belt_rated_tension") == pytest.approx((low, high))
    assert "common practice" in register.derived[0, "belt_rated_tension"]


def test_a_strength_in_the_place_of_a_rating_is_no_rating():
    """A ply's figure is the rating to some, to others the strength; the strength tells."""
    plies = {"belt_designation": "3-ply 450", "belt_carcass": "fabric"}
    lbf_in = 4.4482216152605 / 25.4  # kN/m
    rated = completed({**plies, "belt_nominal_strength": 4500 * lbf_in})
    assert rated.value(0, "belt_rated_tension") == pytest.approx(450 * lbf_in)
    assert rated.problems == []
    register = completed({**plies, "belt_nominal_strength": 450.0})
    assert register.value(0, "belt_rated_tension") == pytest.approx((450 / 12, 450 / 8))
    (problem,) = register.problems
    assert problem.field == "belt_designation"
    assert "only 5.71 times" in problem.problem
    assert not problem.used


def same_register(one, other):
    assert list(one.values) == list(other.values)
    for name, column in one.values.items():
        np.testing.assert_array_equal(column, other.values[name])
    assert (one.intervals, one.derived, one.approximate, one.estimated) == (
        *(other.intervals, other.derived, other.approximate, other.estimated),
    )
    assert sorted(map(str, one.problems)) == sorted(map(str, other.problems))


RATED = [
    {"belt_designation": "EP 800/4", "tail_operating_tension": Approximate(40.0)},
    {"belt_designation": "EP 800/4", "head_operating_tension": 400.0},  # six times the rating
    {"belt_designation": "ST 2500", "belt_operating_tension": 100.0},
    {"belt_rated_tension": 80.0, "tail_operating_tension": 400.0},
    {"belt_rated_tension": (70.0, 90.0), "tail_operating_tension": 40.0},
    {"belt_designation": "3-ply 330", "tail_operating_tension": 20.0},
    {"tag": "X 1", "belt_rated_tension": (60.0, 90.0)},
    {"tag": "x1", "belt_designation": "EP 800/4", "tail_operating_tension": 40.0},
]


def test_a_plant_s_own_range_gives_another_rating_and_what_follows_from_it():
    register = completed(*RATED)
    before = completed(*RATED)
    fabric = {"strength_to_rating_fabric": (2.0, 10.0)}
    found = with_ranges(register, fabric)
    assert found.value(0, "belt_rated_tension") == pytest.approx((80, 400))
    assert found.value(0, "tail_tension_ratio") == pytest.approx((0.1, 0.5))
    assert (0, "tail_tension_ratio") in found.approximate
    assert (
        "divided by 2 to 10 (fabric; the plant's own range)"
        in (found.derived[0, "belt_rated_tension"])
    )
    # At 800 ÷ 8 to 12 kN/m a tension of 400 is no ratio; at 800 ÷ 2 to 10 it is still above 3.
    assert found.value(1, "head_tension_ratio") is None
    told = [p for p in found.problems if p.field == "head_operating_tension"]
    assert [p.problem for p in told] == [
        "operating tension is 5 times the rating; no ratio was derived"
    ]
    # The steel cord's rating, and what does not hang on a strength, stay as they were.
    for row in range(2, len(RATED)):
        for name in ("belt_rated_tension", "tail_tension_ratio", "belt_tension_ratio"):
            assert found.value(row, name) == before.value(row, name)
    # The register that was read stays as it is, and the usual range brings everything back.
    same_register(register, before)
    same_register(with_ranges(found, {"strength_to_rating_fabric": (8.0, 12.0)}), before)
    assert with_ranges(register, {"carry_idler_spacing": (1.0, 1.2)}) is register


def test_a_ratio_that_a_wider_range_makes_possible_is_derived():
    register = completed({"belt_designation": "EP 800/4", "head_operating_tension": 250.0})
    assert register.value(0, "head_tension_ratio") is None
    found = with_ranges(register, {"strength_to_rating_fabric": (4.0, 5.0)})
    assert found.value(0, "head_tension_ratio") == pytest.approx((250 / 200, 250 / 160))
    assert found.problems == []
    assert len(register.problems) == 1


def test_ranges_are_those_of_the_catalogue():
    """Common practice, no published source; those of the modulus from memory, not confirmed."""
    ends = {name: item.ends for name, item in RANGES.items()}
    assert ends == {
        "chute_wall_thickness": (0, 0.012),
        "carry_idler_spacing": (0.3, 1.5),
        "load_idler_spacing": (0.3, 1.5),
        "seal_footprint_single_strip": (0.025, 0.05),
        "seal_footprint_dual_lip": (0.075, 0.1),
        "belt_modulus_ep": (50, 100),
        "belt_modulus_nn": (40, 65),
        "belt_modulus_fabric": (40, 100),
        "belt_modulus_steel_cord": (450, 500),
        "strength_to_rating_fabric": (8, 12),
        "strength_to_rating_steel_cord": (6.5, 10),
    }
    for name, item in RANGES.items():
        assert item.grade in "CM", name
        assert all(item.possible.holds(end) for end in item.ends)
        assert item.unit in (FIELDS[item.fields[0]].unit, "1")
        assert set(item.fields) <= set(FIELDS)


def test_strength_without_a_carcass_gives_no_rating():
    register = completed({"belt_nominal_strength": 800.0})
    assert register.value(0, "belt_rated_tension") is None


@pytest.mark.parametrize("end", ["tail", "head", "belt"])
def test_ratios_from_operating_tension_and_rating(end):
    register = completed({f"{end}_operating_tension": 40.0, "belt_rated_tension": 80.0})
    assert register.value(0, f"{end}_tension_ratio") == 0.5
    assert "operating tension" in register.derived[0, f"{end}_tension_ratio"]
    others = {"tail", "head", "belt"} - {end}
    assert all(register.value(0, f"{other}_tension_ratio") is None for other in others)


def test_a_ratio_from_a_bounded_rating_is_a_range():
    register = completed({"belt_designation": "EP 800/4", "tail_operating_tension": 40.0})
    assert register.value(0, "tail_tension_ratio") == pytest.approx((0.4, 0.6))


def test_an_approximate_tension_gives_an_approximate_ratio():
    register = completed({"tail_operating_tension": Approximate(40.0), "belt_rated_tension": 80.0})
    assert (0, "tail_tension_ratio") in register.approximate


def test_a_tension_far_above_the_rating_is_a_problem():
    register = completed({"tail_operating_tension": 4000.0, "belt_rated_tension": 80.0})
    assert register.value(0, "tail_tension_ratio") is None
    (found,) = register.problems
    assert len(found.cells) == 2
    assert not found.used


def test_a_transition_longer_than_the_conveyor_is_not_used():
    register = completed({"conveyor_length": 9.0, "tail_transition_length": 12.0})
    assert register.value(0, "tail_transition_length") is None
    assert register.value(0, "conveyor_length") == 9
    (found,) = register.problems
    assert found.cells == tuple(
        register.cells.address(0, name).partition("!")[2]
        for name in ("tail_transition_length", "conveyor_length")
    )
    assert not found.used


@pytest.mark.parametrize(
    ("width", "doubted"), [(0.19, True), (0.2, False), (1.0, False), (1.01, True)]
)
def test_chutes_far_from_the_belt_width_are_doubted_and_used(width, doubted):
    register = completed({"belt_width": 1.0, "chute_width_inside": width})
    assert register.value(0, "chute_width_inside") == width
    assert [(len(found.cells), found.used) for found in register.problems] == [(2, True)] * doubted


@pytest.mark.parametrize("cleaner", ["primary", "secondary"])
def test_a_named_blade_means_that_the_cleaner_is_fitted(cleaner):
    register = completed({f"{cleaner}_blade": "rubber"}, {"belt_width": 1.0})
    assert register.value(0, f"{cleaner}_cleaner") is True
    assert register.value(1, f"{cleaner}_cleaner") is None
    assert (0, f"{cleaner}_cleaner") in register.derived


def test_a_blade_on_a_cleaner_that_is_not_fitted_is_a_problem():
    register = completed({"primary_blade": "rubber", "primary_cleaner": 0})
    assert register.value(0, "primary_cleaner") is False
    assert len(register.problems) == 1


def test_rows_of_one_conveyor_share_its_belt():
    register = completed(
        {"tag": "CV-1", "belt_width": 1.0, "tail_pulley_lift": "half", "skirt_length": 3.0},
        {"tag": "cv 1", "lump_size": 0.1},
    )
    assert register.value(1, "belt_width") == 1
    assert register.value(1, "tail_pulley_lift") == "half"
    assert register.value(1, "skirt_length") is None  # belongs to a load point
    assert register.cells.address(1, "belt_width") == register.cells.address(0, "belt_width")
    assert register.problems == []


def test_a_further_row_gives_the_first_what_it_lacks():
    register = completed(
        {"tag": "CV-1", "belt_width": 1.0},
        {"tag": "CV-1", "trough_angle": 35.0, "primary_cleaner": 1, "skirt_length": 3.0},
    )
    assert register.value(0, "trough_angle") == 35
    assert register.value(0, "primary_cleaner") is True
    assert register.value(0, "skirt_length") is None
    assert "another row" in register.derived[0, "trough_angle"]


def test_rows_of_one_conveyor_that_disagree_keep_their_own_value():
    register = completed(
        {"tag": "CV-1", "belt_width": 1.0, "belt_carcass": "fabric"},
        {"tag": "CV-1", "belt_width": 1.2, "belt_carcass": "steel cord"},
        {"tag": "CV-1", "belt_width": 1.001, "belt_carcass": "fabric"},
    )
    assert register.values["belt_width"].tolist() == [1, 1.2, 1.001]
    assert [found.field for found in register.problems] == ["belt_width"]
    assert "twice, or two?" in register.problems[0].problem
    assert register.first_row.tolist() == [0, 1, 0]
    assert all(len(found.cells) == 2 and found.used for found in register.problems)


def test_completing_twice_changes_nothing():
    register = completed({"belt_designation": "EP 800/4", "primary_blade": "rubber"})
    before = {name: column.copy() for name, column in register.values.items()}
    problems = list(register.problems)
    complete(register)
    assert register.problems == problems
    assert list(before) == list(register.values)
    for name, column in before.items():
        np.testing.assert_array_equal(column, register.values[name])


@pytest.mark.parametrize(
    "sheet", ["Conveyors", "Belt data", "Tom's list", "'quoted'", "AB12", "a!b"]
)
def test_a_reference_comes_apart_as_it_was_made(sheet):
    assert split_reference(cell_reference(sheet, "H7")) == (sheet, "H7")


def test_a_ratio_that_contradicts_the_derived_one_is_used_and_doubted():
    # 60 ÷ 80 = 0.75: 5 % off is 0.7125 and 0.7875.
    tension = {"tail_operating_tension": 60.0, "belt_rated_tension": 80.0}
    register = completed(*(tension | {"tail_tension_ratio": r} for r in (0.5, 0.713, 0.787, 0.8)))
    assert register.values["tail_tension_ratio"].tolist() == [0.5, 0.713, 0.787, 0.8]
    assert [(p.field, p.cells, p.used) for p in register.problems] == [
        ("tail_tension_ratio", ("C2", "D2", "B2"), True),
        ("tail_tension_ratio", ("C5", "D5", "B5"), True),
    ]
    assert not register.by_tension


def test_a_ratio_is_held_against_every_rating_that_a_strength_allows():
    # 800 ÷ 8 to 12: 66.7 to 100 kN/m, so that 60 kN/m is 0.6 to 0.9 of it.
    strength = {"belt_designation": "EP 800/4", "head_operating_tension": 60.0}
    register = completed(*(strength | {"head_tension_ratio": ratio} for ratio in (0.58, 0.5)))
    assert [(p.field, p.used) for p in register.problems] == [("head_tension_ratio", True)]
    assert "C3" in register.problems[0].cells or "D3" in register.problems[0].cells


def test_a_rating_that_a_strength_bounds_has_the_cell_of_the_strength():
    register = completed(
        {"belt_rated_tension": None, "belt_nominal_strength": 800.0, "belt_carcass": "fabric"}
    )
    cells = register.cells
    assert cells.address(0, "belt_rated_tension") == cells.address(0, "belt_nominal_strength")


@pytest.mark.parametrize(
    "other",
    [
        {"belt_width": 0.8},
        {"belt_carcass": "steel cord"},
        {"belt_designation": "ST 2500"},
        {"conveyor_length": 120.0},
    ],
)
def test_rows_of_one_tag_whose_belts_differ_are_not_silently_two_load_points(other):
    belt = {"tag": "CV-1", "belt_width": 1.0, "belt_carcass": "fabric", "conveyor_length": 80.0}
    belt |= {"belt_designation": "EP 800/4"}
    bare = {"tag": "cv 1", "belt_width": None}
    if "belt_designation" in other:
        belt["belt_carcass"] = None
    register = completed(belt, belt | other, bare)
    (problem,) = register.problems
    assert problem.field == next(iter(other))
    assert "is this one conveyor twice, or two?" in problem.problem
    assert problem.used
    assert register.first_row.tolist() == [0, 1, 0]
    # Nothing of one is taken for the other; a row that tells nothing goes with the first.
    assert register.values["belt_width"][2] == 1.0


def test_belts_that_agree_stay_one_conveyor():
    belt = {"tag": "CV-1", "belt_width": 1.0, "conveyor_length": 80.0}
    register = completed(belt, belt | {"conveyor_length": 80.5, "trough_angle": 35.0})
    assert register.problems == []
    assert register.first_row.tolist() == [0, 0]


def test_no_drop_is_a_drop():
    register = completed({"drop_height": 0.0}, {"drop_height": 0.001}, {"drop_height": 0.02})
    assert register.values["drop_height"].tolist()[::2] == [0.0, 0.02]
    assert [(p.cells, p.used) for p in register.problems] == [(("B3",), False), (("B4",), True)]
