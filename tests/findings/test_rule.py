"""A plant's own decisions in a run: what they change, and what they never do."""

from __future__ import annotations

import json
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetcheck.checks import CHECKS
from sheetcheck.findings import check_register, parse_limits
from sheetcheck.findings.plant import Accepted, Plant
from sheetcheck.findings.rank import ranking
from sheetcheck.findings.summary import accepted_counts, band_counts, one_line
from sheetcheck.register.derive import complete
from sheetcheck.report.json_out import json_pieces
from tests.checks.samples import sample_rows
from tests.conftest import make_register

ON = date(2026, 3, 14)
LAST = ON + timedelta(days=30)
ROWS = [
    {"tag": "TQ-C04", "belt_width": 0.9144, "chute_width_inside": 0.7},
    {"tag": "TQ-C05", "belt_width": 0.9144, "chute_width_inside": 0.5},
    {"tag": "TQ-C06", "belt_width": 0.9144},
    {
        "tag": "TQ-C07",
        "load_point": "north",
        "belt_width": 1.2,
        "chute_width_inside": 1.0,
        "cleanup_hours": 2.0,
    },
    {
        "tag": "TQ-C07",
        "load_point": "south",
        "belt_width": 1.2,
        "chute_width_inside": 1.0,
        "labour_rate": 30.0,
    },
]


def accepted(tag, check="load-width", until=LAST, load_point=""):
    return Accepted(
        tag, check, "narrowed at the next shutdown", "works manager", until, load_point
    )


def run(*entries, rows=ROWS, on=ON, **more):
    return check_register(make_register(rows), Plant("p.toml", accepted=entries, **more), on=on)


def as_json(findings):
    return json.loads(b"".join(json_pieces(findings, "0")))


def without_marks(found):
    """The JSON object with everything taken out that speaks of accepted deviations."""
    for row in found["rows"]:
        for verdict in row["checks"].values():
            verdict.pop("accepted", None)
    found.pop("plant")
    found["summary"].pop("accepted")
    return found


# --- accepted deviations ---------------------------------------------------------------------


def test_a_deviation_marks_its_verdict_and_leaves_the_band():
    findings = run(accepted("tq c04"))
    verdict = findings.verdict("load-width", 0)
    assert verdict.band == "falls short"
    assert verdict.accepted == (
        f"by works manager until {LAST.isoformat()}: narrowed at the next shutdown"
    )
    assert findings.ruling.states == ("in force",)
    assert findings.ruling.notices == ()
    assert accepted_counts(findings) == {"falls short": 1}
    assert "(1 of these accepted)" in one_line(findings)
    assert as_json(findings)["rows"][0]["checks"]["load-width"]["accepted"] == verdict.accepted
    others = [v for row in range(len(ROWS)) for v in findings.verdicts(row) if v != verdict]
    assert not any(other.accepted for other in others)


entries = st.lists(
    st.builds(
        accepted,
        st.sampled_from([f"T{number}" for number in range(1, 6)] + ["t 3", "no such"]),
        st.sampled_from([key for key, check in CHECKS.items() if not check.information]),
        st.sampled_from([ON - timedelta(days=1), ON, LAST]),
    ),
    max_size=40,
)
SOME = sample_rows(5, seed=5, missing=0.1)


@pytest.fixture(scope="module")
def plain():
    return run(rows=SOME)


@given(given_entries=entries)
@settings(max_examples=10)
def test_accepting_never_changes_another_number(plain, given_entries):
    marked = run(*given_entries, rows=SOME)
    assert band_counts(plain) == band_counts(marked)
    assert plain.rank.tolist() == marked.rank.tolist()
    assert without_marks(as_json(plain)) == without_marks(as_json(marked))
    # What is accepted falls short or is marginal, and each entry is accounted for.
    for (key, row), said in marked.ruling.accepted.items():
        assert marked.verdict(key, row).band in ("falls short", "marginal")
        assert said
    assert len(marked.ruling.states) == len(given_entries)
    assert set(marked.ruling.states) <= {"in force", "expired", "no such tag", "without effect"}


@pytest.mark.parametrize(("days", "state"), [(-1, "expired"), (0, "in force"), (1, "in force")])
def test_the_last_day_is_included(days, state):
    findings = run(accepted("TQ-C04", until=ON + timedelta(days=days)))
    assert findings.ruling.states == (state,)
    assert bool(findings.verdict("load-width", 0).accepted) == (state == "in force")
    kinds = [notice.kind for notice in findings.ruling.notices]
    assert kinds == (["deviation expired"] if state == "expired" else [])


def test_an_expired_deviation_is_a_finding_unless_renewed():
    old = accepted("TQ-C04", until=ON - timedelta(days=1))
    (notice,) = run(old).ruling.notices
    assert (notice.tag, notice.check) == ("TQ-C04", "load-width")
    assert "which is over" in notice.text
    renewed = run(old, accepted("TQ-C04"))
    assert renewed.ruling.notices == ()
    assert renewed.ruling.states == ("expired", "in force")
    assert accepted_counts(renewed) == {"falls short": 1}


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        (accepted("TQ-C99"), "no such tag"),
        (accepted("TQ-C05"), "the verdict is meets"),
        (accepted("TQ-C06"), "not judged, and a verdict that is missing cannot be accepted"),
        (accepted("TQ-C07", load_point="west"), "no load point 'west'"),
        (accepted("TQ-C99", until=ON - timedelta(days=1)), "no such tag"),
    ],
)
def test_a_deviation_that_covers_nothing_is_reported(entry, said):
    findings = run(entry)
    (notice,) = findings.ruling.notices
    assert notice.kind == "deviation without effect"
    assert said in notice.text
    expected = "no such tag" if said == "no such tag" else "without effect"
    assert findings.ruling.states == (expected,)
    assert not findings.ruling.accepted


def test_a_load_point_narrows_it():
    assert sorted(run(accepted("TQ-C07")).ruling.accepted) == [
        ("load-width", 3),
        ("load-width", 4),
    ]
    north = run(accepted("TQ-C07", load_point="North"))
    assert list(north.ruling.accepted) == [("load-width", 3)]


# --- limits ----------------------------------------------------------------------------------


def limits(value):
    return parse_limits(
        "[limits.load-width.share]\n"
        f'value = {value}\nunit = "1"\nset_by = "chief"\nwhy = "test"\ndate = 2026-01-02\n',
        "p.toml",
    )


@pytest.mark.parametrize(
    ("value", "band", "said", "laxer"),
    [
        (0.8, "meets", "plant limit 0.8", True),
        (0.5, "falls short", "plant limit 0.5", False),
        (2 / 3, "falls short", "", False),
    ],
)
def test_a_plant_s_limit_rules_and_is_said(value, band, said, laxer):
    # 0.7 m of 0.9144 m is 0.766: by the published two-thirds too wide.
    findings = check_register(make_register(ROWS), limits(value), on=ON)
    verdict = findings.verdict("load-width", 0)
    assert verdict.band == band
    assert verdict.required == pytest.approx(value * 0.9144)
    assert any(said in text for text in verdict.assumptions) if said else not verdict.assumptions
    assert [notice.kind for notice in findings.ruling.notices] == ["laxer limit"] * laxer
    assert all("laxer than published" in text for text in verdict.assumptions) == (
        laxer or not said
    )
    found = as_json(findings)["plant"]["limits"]
    assert [item["laxer_than_published"] for item in found] == [laxer]


def test_limits_of_a_call_are_flagged_like_those_of_a_file():
    findings = check_register(make_register(ROWS), limits={"load-width": {"share": 0.8}}, on=ON)
    assert [notice.kind for notice in findings.ruling.notices] == ["laxer limit"]
    assert "plant" in as_json(findings)
    assert "plant" not in as_json(check_register(make_register(ROWS), on=ON))


def test_tolerances_of_the_plant_are_used():
    # Without a tolerance there is no guard, so nothing is marginal for it.
    row = {
        "belt_width": 0.9,
        "trough_angle": 35.0,
        "chute_width_inside": 0.6,
        "chute_wall_thickness": 0.0,
        "seal_kind": "other",
        "seal_footprint": 0.0955,
    }
    none = "[tolerances]\n" + "".join(
        f'{name} = {{absolute = "0 {unit}", relative = "0 %"}}\n'
        for name, unit in (("length", "m"), ("wall", "m"), ("footprint", "m"), ("angle", "°"))
    )
    usual = check_register(make_register([row]), on=ON).verdict("seal-edge", 0)
    exact = check_register(make_register([row]), parse_limits(none, "p"), on=ON)
    assert 0 < usual.margin < usual.numbers["measuring_uncertainty"]
    assert (usual.band, exact.verdict("seal-edge", 0).band) == ("marginal", "meets")


# --- ranges of what is not recorded ----------------------------------------------------------

LOADED = {"load_support": "idlers", "belt_mass": 10.0, "tonnage": 648.0}
LOADED |= {"belt_speed": 2.0, "load_belt_tension": 15.9358}


def own_range(name, low, high, unit):
    return parse_limits(
        f'[ranges.{name}]\nlow = {low}\nhigh = {high}\nunit = "{unit}"\n'
        'set_by = "chief"\nwhy = "one drawing"\ndate = 2026-01-02\n',
        "p.toml",
    )


@pytest.mark.parametrize(
    ("low", "high", "band", "narrow"),
    [
        # The belt sags 1 % at a pitch of 1.3 m, and U is 7.2 % of that.
        (0.3, 1.5, "not judged", False),
        (0.9, 1.1, "meets", True),
        (1.22, 1.28, "marginal", True),
        (0.2, 1.5, "not judged", False),
        (0.2, 1.4, "not judged", True),
    ],
)
def test_a_plant_s_range_is_where_the_missing_pitch_is_sought(low, high, band, narrow):
    rows = [LOADED, LOADED | {"load_idler_spacing": 1.0}]
    findings = check_register(
        make_register(rows), own_range("load_idler_spacing", low, high, "m"), on=ON
    )
    missing, recorded = (findings.verdict("load-support", row) for row in (0, 1))
    assert missing.band == band
    assert recorded.band == "meets"
    assert not any("plant range" in text for text in recorded.assumptions)
    if (low, high) == (0.3, 1.5):
        assert not any("plant range" in text for text in missing.assumptions)
    elif band != "not judged":
        assert any(
            "plant range" in text and "in place of 300 mm to 1.5 m" in text
            for text in missing.assumptions
        )
    notices = [notice for notice in findings.ruling.notices if notice.kind == "narrower range"]
    assert len(notices) == narrow
    assert all("set by chief on 2026-01-02: one drawing" in notice.text for notice in notices)
    (item,) = as_json(findings)["plant"]["ranges"]
    assert (item["low"], item["high"], item["default"]) == (low, high, [0.3, 1.5])
    assert item["narrower"] == narrow


@pytest.mark.parametrize(
    ("name", "low", "high", "unit", "row", "key"),
    [
        (
            *("seal_footprint_dual_lip", 0.09, 0.12, "m"),
            {
                **{"belt_width": 1.2, "trough_angle": 35.0, "chute_width_inside": 0.7},
                **{"chute_wall_thickness": 0.006, "seal_kind": "dual lip", "belt_wander": 0.01},
            },
            "seal-wander",
        ),
        (
            *("belt_modulus_fabric", 60, 70, "1"),
            {
                **{"belt_width": 1.0, "trough_angle": 35.0, "tail_transition_length": 4.0},
                **{"tail_tension_ratio": 0.5, "belt_rated_tension": 100.0},
                **{"tail_pulley_lift": 0.0, "belt_carcass": "fabric"},
            },
            "transition-tension-tail",
        ),
    ],
)
def test_a_verdict_over_a_plant_s_range_says_so(name, low, high, unit, row, key):
    """Once where the range serves, and not of a conveyor that it does not."""
    other = {"seal_kind": "single strip"} if "seal" in name else {"belt_carcass": "steel cord"}
    findings = check_register(
        make_register([row, row | other]), own_range(name, low, high, unit), on=ON
    )
    first, second = (findings.verdict(key, at) for at in (0, 1))
    assert first.band in ("meets", "marginal", "falls short")
    assert sum("plant range" in text for text in first.assumptions) == 1
    assert not any("plant range" in text for text in second.assumptions)


def test_a_rating_over_a_plant_s_range_is_said_where_it_is_used():
    row = {"belt_designation": "EP 1000/4", "belt_width": 1.0, "trough_angle": 35.0}
    row |= {"tail_transition_length": 3.0, "tail_operating_tension": 50.0}
    row |= {"tail_pulley_lift": "full trough"}
    register = make_register([row])
    complete(register)
    plant = own_range("strength_to_rating_fabric", 9.5, 10.5, "1")
    findings = check_register(register, plant, on=ON)
    # 50 ÷ (1000 ÷ 9.5 … 10.5): the middle column of CEMA's table at either end.
    assert findings.register.value(0, "tail_tension_ratio") == pytest.approx((0.475, 0.525))
    assert register.value(0, "tail_tension_ratio") == pytest.approx((0.4, 0.6))
    said = findings.verdict("transition-length-tail", 0).assumptions
    assert any("operating tension divided by rated tension" in text for text in said)
    derived = findings.register.derived[0, "belt_rated_tension"]
    assert "the plant's own range" in derived
    assert [notice.kind for notice in findings.ruling.notices] == ["narrower range"]


# --- weights ---------------------------------------------------------------------------------


def test_weights_change_the_order_and_no_verdict():
    rows = [
        {"nip_guards": False, "emergency_stop": True},
        {"nip_guards": True, "emergency_stop": False, "tail_plough": False},
    ]
    usual = run(rows=rows)
    weighed = run(rows=rows, weights={"access-guard": 2.5})
    assert usual.rank.tolist() == [2, 1]  # one each for people, then all that falls short
    assert weighed.rank.tolist() == [1, 2]
    parts = ranking(weighed)
    assert parts.people.tolist() == [1, 1]
    assert parts.people_weight.tolist() == [2.5, 1.0]
    assert band_counts(usual) == band_counts(weighed)
    one, other = as_json(usual), as_json(weighed)
    assert other["plant"].pop("weights") == {"access-guard": 2.5}
    assert one["plant"].pop("weights") == {}
    for found in (one, other):
        for row in found["rows"]:
            del row["rank"]
    assert one == other


# --- the plant's own figures -----------------------------------------------------------------


def test_the_plant_s_rate_stands_only_where_the_register_has_none():
    register = make_register(ROWS)
    plant = Plant("p.toml", currency="EUR", labour_rate=50.0, operating_hours=6000.0)
    findings = check_register(register, plant, on=ON)
    assert findings.register.values["labour_rate"].tolist() == [50.0, 50.0, 50.0, 50.0, 30.0]
    assert not register.has("operating_hours")
    assert (3, "labour_rate") in findings.register.derived
    assert (4, "labour_rate") not in findings.register.derived
    # 2 h/week at 50 over 52 weeks.
    assert findings.verdict("housekeeping-cost", 3).numbers["labour_cost"] == 2 * 50 * 52
    assert "p.toml" in findings.register.derived[3, "labour_rate"]
    assert as_json(findings)["rows"][0]["derived"] == ["labour_rate", "operating_hours"]


def test_the_json_holds_no_date_of_the_run():
    plant = Plant("p.toml", accepted=(accepted("TQ-C04"),))
    days = (ON, ON + timedelta(days=7), LAST)
    texts = {
        b"".join(json_pieces(check_register(make_register(ROWS), plant, on=d), "0")) for d in days
    }
    assert len(texts) == 1


BASES = {
    # What each stands on, by the kind of its source in the catalogue.
    "law": "tracking-edge access-barrier access-isolation access-guard access-stop "
    "housekeeping-spillage housekeeping-dust",
    "practice": "seal-kind cleaning-stages cleaning-blade cleaning-duty cleaning-carryback "
    "tracking-places tracking-reach access-opening access-closure housekeeping-cost",
    "mechanics": "transition-length-tail transition-length-head transition-tension-tail "
    "transition-tension-head transition-loading transition-idlers load-fill load-impact seal-edge "
    "seal-wander",
}


def test_every_check_tells_what_it_stands_on_and_never_bands_by_it():
    basis = {key: name for name, keys in BASES.items() for key in keys.split()}
    assert {key: check.basis for key, check in CHECKS.items()} == {
        key: basis.get(key, "guidance") for key in CHECKS
    }
    found = check_register(make_register([{"nip_guards": False}]))
    assert found.verdict("access-guard", 0).basis == "law"


@pytest.mark.parametrize(
    ("jurisdiction", "first"),
    [
        ("Great Britain", "PUWER 1998 reg. 11; comparable: US Code"),
        ("Ontario, Canada", "Reg. 854 s.196; comparable: US Code"),
        ("Nevada, USA", "US Code of Federal Regulations, title 30, part 56, 56.14107"),
        ("", "US Code of Federal Regulations, title 30, part 56, 56.14107"),
    ],
)
def test_the_rule_of_the_plant_s_jurisdiction_is_cited_first(jurisdiction, first):
    plant = Plant(jurisdiction=jurisdiction)
    found = check_register(make_register([{"nip_guards": False}]), plant, on=ON)
    verdict = found.verdict("access-guard", 0)
    assert verdict.source.replace("EN 620:2021, ", "").startswith(first)
    assert verdict.band == "falls short"


def test_of_an_accepted_deviation_on_a_law_check_the_rule_stands():
    row = {"tag": "A", "nip_guards": False, "belt_width": 1.0, "chute_width_inside": 0.9}
    accepted = tuple(
        Accepted("A", key, "long planned", "chief", ON) for key in ("access-guard", "load-width")
    )
    found = check_register(make_register([row]), Plant(accepted=accepted), on=ON)
    law, guide = (found.verdict(key, 0) for key in ("access-guard", "load-width"))
    assert law.accepted.startswith("by the plant; the rule stands; by chief until ")
    assert guide.accepted.startswith("by chief until ")
