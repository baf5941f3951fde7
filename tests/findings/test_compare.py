"""Two results held against each other."""

from __future__ import annotations

import copy
import json
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetcheck.findings import check_register
from sheetcheck.findings.compare import BECAUSE, KINDS, compare
from sheetcheck.findings.plant import Plant
from sheetcheck.findings.run_changes import same
from sheetcheck.register.derive import complete
from sheetcheck.report.json_out import json_pieces
from tests.checks.samples import sample_rows
from tests.conftest import Approximate, make_register

OPPOSITE = {
    "worse": "better",
    "better": "worse",
    "newly judged": "no longer judged",
    "no longer judged": "newly judged",
    "now applies": "no longer applies",
    "no longer applies": "now applies",
    "same band, other numbers": "same band, other numbers",
}


def result(rows, version="1", plant=None, derive=False, **units):
    """One run as the JSON output gives it; units of fields as if the headings named them."""
    register = make_register(rows)
    if derive:
        complete(register)
    findings = check_register(register, plant)
    found = json.loads(b"".join(json_pieces(findings, version)))
    found["columns"] = [
        {"field": name, "sheet": "Conveyors", "header": name, "column": "B", "unit": unit}
        for name, unit in units.items()
    ]
    return found


@pytest.fixture(scope="module")
def sample():
    return result(sample_rows(12, seed=3, missing=0.1))


@pytest.fixture(scope="module")
def other_sample():
    return result(sample_rows(12, seed=4, missing=0.1))


NARROW = {"tag": "A 1", "belt_width": 0.9144, "chute_width_inside": 0.7}
WIDE = NARROW | {"chute_width_inside": 0.61, "belt_width": 1.0}


def test_nothing_changes_against_itself(sample):
    found = compare([sample], [copy.deepcopy(sample)])
    assert (found.inputs, found.verdicts, found.run) == ([], [], [])
    assert (found.appeared, found.gone, found.matched) == ([], [], 12)


def test_the_other_way_round_is_the_opposite(sample, other_sample):
    there, back = compare([sample], [other_sample]), compare([other_sample], [sample])
    assert sum(there.counts().values()) > 50
    assert {(c.place.tag, c.check, c.kind) for c in there.verdicts} == {
        (c.place.tag, c.check, OPPOSITE[c.kind]) for c in back.verdicts
    }
    assert [(c.field, c.old, c.new) for c in there.inputs] == [
        (c.field, c.new, c.old) for c in back.inputs
    ]
    assert len(there.inputs) > 100


def test_every_change_is_of_a_known_kind_and_explained(sample, other_sample):
    found = compare([sample], [other_sample])
    order = [KINDS.index(change.kind) for change in found.verdicts]
    assert order == sorted(order)
    for change in found.verdicts:
        assert change.because in BECAUSE
        # The rows differ in their inputs alone, so these must explain every change.
        assert change.because == "register"
        assert change.causes


@given(st.randoms(use_true_random=False))
@settings(max_examples=20)
def test_order_and_spelling_of_tags_do_not_matter(sample, chance: random.Random):
    later = copy.deepcopy(sample)
    chance.shuffle(later["rows"])
    for row in later["rows"]:
        row["tag"] = chance.choice([str.lower, str.upper])(
            chance.choice(["", " ", "-", "_"]).join([row["tag"][:1], row["tag"][1:]])
        )
    found = compare([sample], [later])
    assert found.verdicts == found.appeared == found.gone == []
    assert {change.field for change in found.inputs} <= {"tag"}


@pytest.mark.parametrize(
    ("units", "text"),
    [
        ({"chute_width_inside": "mm"}, "chute width inside 700 → 610 mm"),
        ({"chute_width_inside": "in"}, "chute width inside 27.5591 → 24.0157 in"),
        ({}, "chute width inside 0.7 → 0.61 m"),
    ],
)
def test_a_change_reads_in_the_units_of_the_source(units, text):
    found = compare([result([NARROW], **units)], [result([WIDE], **units)])
    change = next(c for c in found.inputs if c.field == "chute_width_inside")
    assert change.text == text
    assert change.origin == "register"
    (verdict,) = (c for c in found.verdicts if c.check == "load-width")
    assert (verdict.kind, verdict.old_band, verdict.new_band) == ("better", "falls short", "meets")
    assert verdict.causes == ("belt width 0.9144 → 1 m", text)


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        ({"nip_guards": True}, {"nip_guards": False}, "nip guards yes → no"),
        ({}, {"nip_guards": True}, "nip guards not recorded → yes"),
        ({"seal_kind": "none"}, {"seal_kind": "dual lip"}, "seal kind none → dual lip"),
        ({"belt_speed": (1.0, 1.5)}, {"belt_speed": 2.0}, "belt speed 1 to 1.5 → 2 m/s"),
        ({"belt_speed": 2.0}, {}, "belt speed 2 m/s → not recorded"),
        ({"door_count": 1.0}, {"door_count": 2.0}, "door count 1 → 2"),
        ({"tail_pulley_lift": "half"}, {"tail_pulley_lift": 0.1}, "tail pulley lift half → 0.1 m"),
    ],
)
def test_changes_in_words(old, new, text):
    found = compare([result([{"tag": "A"} | old])], [result([{"tag": "A"} | new])])
    assert [change.text for change in found.inputs] == [text]


def test_a_value_that_is_no_longer_approximate_is_a_change_too():
    """0.135 m of free edge against 0.12 m: met by more than 10 mm, by less than 10 % of 0.9 m."""
    row = {"tag": "A", "belt_width": 0.9, "trough_angle": 35.0, "chute_width_inside": 0.52}
    row |= {"chute_wall_thickness": 0.0, "seal_kind": "other", "seal_footprint": 0.12}
    rough = result([row | {"belt_width": Approximate(0.9)}])
    found = compare([rough], [result([row])])
    (change,) = found.inputs
    assert change.text == "belt width 0.9 m, approximate → 0.9 m"
    (verdict,) = (c for c in found.verdicts if c.check == "seal-edge")
    assert (verdict.old_band, verdict.new_band) == ("marginal", "meets")
    assert (verdict.because, verdict.causes) == ("register", (change.text,))


def test_a_value_in_another_unit_names_both():
    found = compare(
        [result([NARROW], chute_width_inside="mm")], [result([WIDE], chute_width_inside="in")]
    )
    change = next(c for c in found.inputs if c.field == "chute_width_inside")
    assert change.text == "chute width inside 700 mm → 24.0157 in"
    # The heading is read in another unit than before, which is no change of the plant.
    assert change.origin == "reading"
    assert [c.kind for c in found.run] == ["reading"]
    assert change not in found.register_changes


# --- rows ------------------------------------------------------------------------------------


def test_rows_that_come_and_go():
    old = result([{"tag": "A"}, {"tag": "B"}])
    new = result([{"tag": "B"}, {"tag": "C"}])
    found = compare([old], [new])
    assert [place.tag for place, _ in found.gone] == ["A"]
    assert [place.tag for place, _ in found.appeared] == ["C"]
    assert found.matched == 1


def test_load_points_are_told_apart():
    rows = [
        {"tag": "A", "load_point": point, "drop_height": height}
        for point, height in (("north", 1.0), ("south", 2.0))
    ]
    found = compare([result(rows)], [result(rows[::-1])])
    assert (found.inputs, found.matched) == ([], 2)
    only = compare([result(rows)], [result(rows[1:])])
    assert [place.load_point for place, _ in only.gone] == ["north"]
    # A lone load point that was given a name is the same one.
    named = compare([result([{"tag": "A"}])], [result([{"tag": "A", "load_point": "north"}])])
    assert (named.matched, named.gone, named.appeared) == (1, [], [])


def test_several_workbooks_of_a_site_are_one():
    parts = [result([{"tag": "A", "drop_height": 1.0}]), result([{"tag": "B"}])]
    parts[1]["source"]["file"] = "second.xlsx"
    later = result([{"tag": "B"}, {"tag": "A", "drop_height": 1.5}])
    found = compare(parts, [later])
    assert found.matched == 2
    assert [change.text for change in found.inputs] == ["drop height 1 → 1.5 m"]


# --- what is no change of the plant ----------------------------------------------------------


def loose(share):
    return parse(f'[limits.load-width.share]\nvalue = {share}\nunit = "1"\n')


def parse(text):
    from sheetcheck.findings import parse_limits

    return parse_limits(text + 'set_by = "x"\nwhy = "y"\ndate = 2026-01-02\n', "p.toml")


def test_a_change_of_limits_is_told_apart():
    found = compare([result([NARROW])], [result([NARROW], plant=loose(0.8))])
    (verdict,) = (c for c in found.verdicts if c.check == "load-width")
    assert (verdict.kind, verdict.because) == ("better", "limits file")
    assert verdict.causes == (
        "limit share of load-width 0.666667 (default) → 0.8, laxer than published",
    )
    assert found.inputs == []
    back = compare([result([NARROW], plant=loose(0.8))], [result([NARROW])])
    (verdict,) = (c for c in back.verdicts if c.check == "load-width")
    assert (verdict.kind, verdict.because) == ("worse", "limits file")
    both = compare([result([NARROW])], [result([WIDE], plant=loose(0.8))])
    (verdict,) = (c for c in both.verdicts if c.check == "load-width")
    assert verdict.because == "several"


def ranged(name, low, high, unit):
    return parse(f'[ranges.{name}]\nlow = {low}\nhigh = {high}\nunit = "{unit}"\n')


def test_a_change_of_a_range_is_told_apart():
    # The belt sags 1 % at a pitch of 1.3 m.
    row = {"tag": "A", "load_support": "idlers", "belt_mass": 10.0, "tonnage": 648.0}
    row |= {"belt_speed": 2.0, "load_belt_tension": 15.9358}
    own = ranged("load_idler_spacing", 0.9, 1.1, "m")
    found = compare([result([row])], [result([row], plant=own)])
    (verdict,) = (c for c in found.verdicts if c.check == "load-support")
    assert (verdict.kind, verdict.because) == ("newly judged", "limits file")
    assert verdict.causes == ("range load_idler_spacing 0.3 to 1.5 m (default) → 0.9 to 1.1 m",)
    assert found.inputs == []
    back = compare([result([row], plant=own)], [result([row])])
    (verdict,) = (c for c in back.verdicts if c.check == "load-support")
    assert (verdict.kind, verdict.because) == ("no longer judged", "limits file")
    # Written out at its default, a range changes nothing.
    same_range = ranged("load_idler_spacing", 0.3, 1.5, "m")
    assert compare([result([row])], [result([row], plant=same_range)]).run == []


def test_a_rating_that_a_range_changes_is_no_change_of_the_register():
    row = {"tag": "A", "belt_designation": "EP 1000/4", "tail_operating_tension": 70.0}
    row |= {"belt_width": 1.0, "trough_angle": 35.0, "tail_transition_length": 2.0}
    row |= {"tail_pulley_lift": "full trough"}
    own = ranged("strength_to_rating_fabric", 9, 10, "1")

    def run(row, plant=None):
        return result([row], plant=plant, derive=True)

    found = compare([run(row)], [run(row, own)])
    assert {change.origin for change in found.inputs} == {"limits file"}
    assert {change.field for change in found.inputs} == {
        "belt_rated_tension",
        "tail_tension_ratio",
    }
    assert found.register_changes == []
    assert found.verdicts
    assert {change.because for change in found.verdicts} == {"limits file"}
    # A belt that was changed too is the register's doing as well.
    both = compare([run(row)], [run(row | {"belt_designation": "EP 1250/4"}, own)])
    assert {change.field for change in both.register_changes} >= {"belt_designation"}
    assert {change.because for change in both.verdicts} == {"several"}


def test_a_change_of_weights_explains_no_verdict():
    found = compare(
        [result([NARROW])], [result([NARROW], plant=Plant("p", weights={"load-width": 2.0}))]
    )
    assert [change.text for change in found.run] == ["weight of load-width in the ranking 1 → 2"]
    assert found.verdicts == []


def test_another_version_is_named_only_where_nothing_else_explains():
    old, new = result([NARROW], "1"), result([NARROW], "2")
    new["rows"][0]["checks"]["load-width"]["band"] = "meets"
    found = compare([old], [new])
    assert [change.text for change in found.run] == ["sheetcheck 1 → 2"]
    (verdict,) = found.verdicts
    assert (verdict.because, verdict.causes) == ("version", ("sheetcheck 1 → 2",))
    new["tool"]["version"] = "1"
    (verdict,) = compare([old], [new]).verdicts
    assert (verdict.because, verdict.causes) == ("not explained", ())


def test_a_check_of_one_version_only_is_no_verdict_that_changed():
    old, new = result([NARROW]), result([NARROW])
    del old["rows"][0]["checks"]["load-width"]
    found = compare([old], [new])
    assert [change.text for change in found.run] == ["check load-width added"]
    assert found.verdicts == []
    assert [c.text for c in compare([new], [old]).run] == ["check load-width removed"]


def test_a_figure_of_the_limits_file_is_no_change_of_the_register():
    row = NARROW | {"cleanup_hours": 2.0, "spilled_mass": 1.0, "material_value": 10.0}
    old, new = (result([row], plant=Plant("p", labour_rate=rate)) for rate in (40.0, 50.0))
    found = compare([old], [new])
    assert [(c.field, c.origin) for c in found.inputs] == [("labour_rate", "limits file")]
    assert found.register_changes == []
    (verdict,) = found.verdicts
    assert (verdict.check, verdict.because) == ("housekeeping-cost", "limits file")
    assert "labour rate 40 → 50" in [change.text for change in found.run]


# --- what follows from what ------------------------------------------------------------------


def test_a_derived_value_is_credited_to_what_it_follows_from():
    """As in a register whose carcass is read off the designation."""
    base = {"tag": "A", "belt_width": 1.0, "trough_angle": 35.0, "tail_transition_length": 3.0}
    base |= {"tail_tension_ratio": 0.8, "tail_pulley_lift": "full trough"}
    old = result([base | {"belt_designation": "EP 800/4", "belt_carcass": "fabric"}])
    new = result([base | {"belt_designation": "ST 800", "belt_carcass": "steel cord"}])
    for one in (old, new):
        one["rows"][0]["derived"] = ["belt_carcass"]
    found = compare([old], [new])
    assert [c.field for c in found.register_changes] == ["belt_designation"]
    derived = next(c for c in found.inputs if c.field == "belt_carcass")
    assert derived.origin == "derived"
    changed = [c for c in found.verdicts if c.kind != "same band, other numbers"]
    assert changed
    assert found.register_changes[0].verdicts == len(changed)
    assert all(c.because == "register" for c in changed)


def test_what_further_rows_take_from_the_first_is_one_change():
    """A conveyor's further load points share its belt; one cell was edited."""
    points = [{"tag": "A", "chute_width_inside": 0.7}, {"tag": "A", "chute_width_inside": 0.7}]
    old, new = (result([row | {"belt_width": b} for row in points]) for b in (0.9, 1.2))
    for one in (old, new):
        one["rows"][1]["load_point"], one["rows"][1]["derived"] = "2", ["belt_width"]
    found = compare([old], [new])
    (change,) = found.register_changes
    assert (change.place.load_point, change.text) == ("", "belt width 0.9 → 1.2 m")
    changed = [c for c in found.verdicts if c.kind == "better" and c.check == "load-width"]
    assert [c.place.load_point for c in changed] == ["", "2"]
    assert changed[1].causes == ("belt width 0.9 → 1.2 m (derived)",)
    bands = [c for c in found.verdicts if c.kind != "same band, other numbers"]
    assert change.verdicts == len(bands)


@given(st.floats(-1e6, 1e6), st.floats(1e-7, 1.0))
def test_numbers_are_the_same_within_their_digits(value, share):
    assert same(value, float(f"{value:.12g}"))
    if abs(value) > 1e-3:
        assert not same(value, value * (1 + share))
    assert not same(value, None)
    assert not same(True, 1.0)
    assert same([value, 2.0], [value, 2.0])
    assert not same([value, 2.0], value)
