"""Rank, gaps, corrective quantities, cautions and side effects over small registers."""

import numpy as np
import pytest

from sheetcheck.findings import evaluate
from sheetcheck.findings.cautions import GOVERNING, NOT_EXAMINED, SCREENING, cautions
from sheetcheck.findings.gaps import gaps
from sheetcheck.findings.quantities import quantities
from sheetcheck.findings.rank import load_points, ranking, worst_first
from sheetcheck.findings.results import BANDS
from sheetcheck.findings.summary import band_counts, by_subject, one_line
from tests.checks.samples import sample_rows
from tests.conftest import make_register

SHORT = "falls short"
SAFE = {
    "isolation_procedure": True,
    "nip_guards": True,
    "emergency_stop": True,
    "primary_cleaner": True,
    "secondary_cleaner": True,
}


def findings_of(*rows):
    return evaluate(make_register([SAFE | row for row in rows]))


def test_what_bears_on_people_ranks_before_any_cost():
    costly = {"cleanup_hours": 40.0, "labour_rate": 60.0, "spilled_mass": 5.0, "material_value": 9}
    found = findings_of(costly, {"nip_guards": False}, {})
    assert found.rank.tolist() == [2, 1, 3]
    parts = ranking(found)
    assert parts.people.tolist() == [0, 1, 0]
    # 40 h × 60 × 52 weeks + 5 t × 9 × 52 weeks
    assert parts.yearly_cost.tolist() == [40 * 60 * 52 + 5 * 9 * 52, 0, 0]


def test_cost_counts_what_is_recorded_of_it():
    found = findings_of({"cleanup_hours": 10.0, "labour_rate": 50.0}, {})
    assert ranking(found).yearly_cost.tolist() == [10 * 50 * 52, 0]
    assert found.verdict("housekeeping-cost", 0).found is None
    assert found.verdict("housekeeping-cost", 0).numbers["labour_cost"] == 26_000


def test_then_all_that_falls_short_then_the_worst_margin_then_register_order():
    wide = {"chute_width_inside": 0.62, "belt_width": 0.9}  # 600 mm allowed
    wider = {"chute_width_inside": 0.80, "belt_width": 0.9}
    found = findings_of({}, wide, wider, {"tail_plough": False} | wide, {})
    assert found.rank.tolist() == [4, 3, 2, 1, 5]
    assert ranking(found).worst_margin[2] == pytest.approx((0.6 - 0.8) / 0.6)


def test_missing_cleaning_bears_on_people_with_heavy_spillage():
    no_cleaner = {"secondary_cleaner": False}
    found = findings_of(no_cleaner, no_cleaner | {"spillage_level": "heavy"})
    assert ranking(found).people.tolist() == [0, 2]  # the stages, and the spillage itself


def test_a_conveyor_stands_once_in_the_order_whatever_its_load_points():
    """Two load points without guards are one conveyor without guards."""
    twice = [{"tag": "A 1", "nip_guards": False}, {"tag": "a1", "nip_guards": False}]
    found = findings_of(*twice, {"tag": "B", "nip_guards": False, "emergency_stop": False}, {})
    assert found.rank.tolist() == [2, 2, 1, 3]
    parts = ranking(found)
    assert parts.people.tolist() == parts.short.tolist() == [1, 1, 2, 0]
    assert worst_first(found) == [2, 0, 3]
    assert load_points(found, 0) == ("1", "2")
    assert load_points(found, 2) == ()


def test_what_falls_short_at_one_load_point_falls_short_of_the_conveyor():
    rows = [
        {"tag": "A", "load_point": "north", "seal_kind": "none", "dust_kind": "combustible"},
        {"tag": "A", "load_point": "south", "tail_plough": False, "chute_width_inside": 1.0}
        | {"belt_width": 0.9},
    ]
    found = findings_of(*rows)
    short = {
        key for key, result in found.results.items() if (result.band == BANDS.index(SHORT)).any()
    }
    assert short == {"seal-kind", "load-width"}  # the plough is judged on the first row
    parts = ranking(found)
    assert parts.short.tolist() == [2, 2]
    # 0.9 m × 2/3 = 0.6 m where 1.0 m is found
    assert parts.worst_margin.tolist() == pytest.approx([-0.4 / 0.6] * 2)
    assert load_points(found, 0) == ("north", "south")


def test_heavy_spillage_at_any_load_point_makes_missing_cleaners_bear_on_people():
    rows = [{"tag": "A", "secondary_cleaner": False}, {"tag": "A", "spillage_level": "heavy"}]
    assert ranking(findings_of(*rows)).people.tolist() == [2, 2]


@pytest.mark.parametrize(
    ("hours", "cost"),
    [
        ((10.0, 10.0), 10 * 50 * 52),  # the conveyor's own figure, repeated
        ((10.0, None), 10 * 50 * 52),
        ((10.0, 4.0), 14 * 50 * 52),  # each load point's own
        ((10.0, 10.0, 4.0), 24 * 50 * 52),
    ],
)
def test_a_cost_repeated_on_each_load_point_counts_once(hours, cost):
    found = findings_of(
        *({"tag": "A", "cleanup_hours": item, "labour_rate": 50.0} for item in hours)
    )
    assert ranking(found).yearly_cost.tolist() == [cost] * len(hours)


def test_gaps_name_the_input_that_decides_most_rows():
    width = {"belt_width": 0.9, "chute_width_inside": 0.5}
    found = findings_of(
        width, {"belt_width": 0.9}, {"belt_width": 0.9}, {"chute_width_inside": 0.5}
    )
    by_name = {gap.field: gap for gap in gaps(found)}
    # load-width of two rows waits for the chute width alone, of one row for the belt width alone.
    assert by_name["chute_width_inside"].rows == 2
    assert by_name["belt_width"].rows == 1
    assert by_name["chute_width_inside"].recorded
    assert not by_name["tail_plough"].recorded
    assert by_name["tail_plough"].rows == 4
    ordered = [gap.rows for gap in gaps(found)]
    assert ordered == sorted(ordered, reverse=True)


def test_measuring_the_gap_really_decides():
    rows = [{"belt_width": 0.9}, {"belt_width": 1.2}]
    gap = next(g for g in gaps(findings_of(*rows)) if g.field == "chute_width_inside")
    measured = findings_of(*(row | {"chute_width_inside": 0.5} for row in rows))
    assert gap.rows == 2
    assert measured.results["load-width"].band.tolist() == [0, 0]


def test_quantities_add_up_what_falls_short():
    short = {
        "belt_width": 0.9144,
        "trough_angle": 35.0,
        "belt_carcass": "fabric",
        "tail_tension_ratio": 0.8,
        "tail_pulley_lift": "full trough",
    }
    found = findings_of(
        short | {"tail_transition_length": 1.5},
        short | {"tail_transition_length": 2.0},
        short | {"tail_transition_length": 3.0, "secondary_cleaner": False},
    )
    by_name = {item.what: item for item in quantities(found)}
    # CEMA factor 2.4: 2.19456 m required.
    metres = by_name["tail transition to lengthen"]
    assert metres.low == metres.high == pytest.approx(2 * 2.19456 - 1.5 - 2.0)
    assert metres.conveyors == 2
    assert by_name["secondary cleaners to fit"].low == 1
    assert "primary cleaners to fit" not in by_name


def test_work_is_counted_where_it_is_done_and_conveyors_once():
    point = {"tag": "A", "nip_guards": False, "belt_width": 0.9, "skirt_length": 1.0}
    point |= {"belt_speed": 2.0, "chute_width_inside": 0.8, "tail_plough": False}
    found = findings_of(point, point, point | {"tag": "B"})
    by_name = {item.what: item for item in quantities(found)}
    for what, amount in (
        ("chutes to narrow", 3),  # one at each load point
        ("conveyors to guard", 2),
        ("tail ploughs to fit", 2),
    ):
        item = by_name[what]
        assert (item.low, item.high, item.conveyors) == (amount, amount, 2), what
    # The largest rule at 2 m/s and 0.9 m is the belt maker's 4 × 0.9 m (GY p. 20).
    skirt = by_name["skirtboard to add"]
    assert (skirt.low, skirt.conveyors) == (pytest.approx(3 * 2.6), 2)


def test_carryback_adds_up_where_it_can_be_reckoned():
    row = {
        "carryback_measured": 0.1,
        "belt_width": 1.0,
        "belt_speed": 2.0,
        "operating_hours": 5000.0,
        "secondary_blade": "tungsten carbide",
    }
    found = findings_of(row, row, row | {"belt_speed": None})
    carryback = next(item for item in quantities(found) if item.what.startswith("carryback"))
    # 0.1 kg/m² × 1 m × 2 m/s × 3600 s × 5000 h, twice.
    assert carryback.low == carryback.high == pytest.approx(2 * 3600.0)
    assert (carryback.unit, carryback.conveyors) == ("t/year", 2)


def test_devices_for_the_loop_come_as_a_range():
    none = dict.fromkeys(
        ("tracker_before_tail", "tracker_after_load", "tracker_before_head"), "none"
    )
    found = findings_of(none | {"conveyor_length": 100.0, "tracker_count": 0})
    devices = next(item for item in quantities(found) if item.what.startswith("tracking dev"))
    # A loop of 200 m at 45.72 m and at 21.336 m each.
    assert (devices.low, devices.high) == (5, 10)


def test_cautions_always_stand_and_name_the_rows_that_call_for_them():
    found = findings_of({"dust_kind": "combustible"}, {"lift": 20.0}, {"nip_guards": False})
    by_title = {caution.title: caution for caution in cautions(found)}
    assert len(by_title) == 13
    assert by_title["Combustible dust"].rows == (0,)
    assert by_title["Run-back on inclines"].rows == (1,)
    assert by_title["Nip points"].rows == (2,)
    assert all(caution.rules or caution.elsewhere for caution in by_title.values())
    assert "govern" in GOVERNING
    assert "not a survey" in SCREENING
    assert "start-up warning" in NOT_EXAMINED
    assert "start-up warning" in by_title["Start-up warning"].title.casefold()


TAIL = {
    "belt_width": 0.9144,
    "trough_angle": 35.0,
    "belt_carcass": "fabric",
    "tail_tension_ratio": 0.8,
    "tail_pulley_lift": "full trough",
    "tail_transition_length": 1.8,
    "carry_idler_spacing": 1.0,
}


def test_what_fails_another_check_is_not_offered_where_something_else_would_do():
    # 1.8 m of transition where 2.19456 m is required; loaded at 1.9 m, or well beyond.
    found = findings_of(TAIL | {"chute_back": 1.9}, TAIL | {"chute_back": 3.8})
    first, second = (found.verdict("transition-length-tail", number) for number in (0, 1))
    assert second.remedy.startswith("Move the first fully troughed idler to at least")
    assert second.side_effects == ()
    assert "troughed idler" not in " ".join((first.remedy, *first.alternatives))
    assert first.remedy.startswith("Raise the tail pulley to")


def test_a_remedy_names_what_it_would_worsen():
    # 87 mm free beside the chute [D]: enough for a strip (73 mm), not for a dual lip of 100 mm.
    row = TAIL | {"chute_width_inside": 0.63, "chute_wall_thickness": 0.0}
    row |= {"seal_kind": "single strip", "dust_kind": "dry dusty"}
    verdict = findings_of(row).verdict("seal-kind", 0)
    assert verdict.remedy.startswith(
        "Fit a dual-lip seal; it rests on 75 mm to 100 mm of belt. Worsens: free belt edge (then "
    )
    assert verdict.side_effects[0].startswith("seal-edge: meets to ")


def test_counts_agree_with_the_bands():
    found = findings_of({}, {"tail_plough": False})
    counts = band_counts(found)
    every = np.concatenate([result.band for result in found.results.values()])
    assert counts["falls short"] == int((every == 2).sum()) == 1
    assert sum(counts.values()) == len(every)
    summed = dict.fromkeys(counts, 0)
    for subject in by_subject(found).values():
        for band, count in subject.items():
            summed[band] += count
    assert summed == counts
    assert one_line(found).startswith("2 rows; ")
    assert "1 falls short" in one_line(found)


def test_no_remedy_begins_as_an_alternative_to_nothing():
    findings = evaluate(make_register(sample_rows(60, seed=12)))
    said = [
        verdict
        for row in range(len(findings))
        for verdict in findings.verdicts(row)
        if verdict.remedy
    ]
    assert any(other.startswith("Or ") for one in said for other in one.alternatives)
    assert not [one for one in said if one.remedy.startswith("Or ")]
