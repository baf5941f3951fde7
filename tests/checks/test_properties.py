"""What must hold for any register: order, company, direction, and flip points that flip."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetcheck.checks import CHECKS
from sheetcheck.findings.evaluate import evaluate
from sheetcheck.register.fields import FIELDS
from tests.checks.judging import GOODNESS, INFORMATION, UNJUDGED, bands, verdicts
from tests.checks.samples import pool, sample_rows
from tests.conftest import make_register

BANDS = {*GOODNESS, INFORMATION}


def as_shown(verdict: Any) -> dict[str, Any]:
    """All of a verdict but its place."""
    plain = {name: getattr(verdict, name) for name in type(verdict).__slots__}
    del plain["row"], plain["cells"]
    return plain


def same(a: Any, b: Any) -> bool:
    if isinstance(a, float) and isinstance(b, float):
        return math.isclose(a, b, rel_tol=2e-8, abs_tol=1e-12) or (a != a and b != b)
    if isinstance(a, dict) and isinstance(b, dict):
        return a.keys() == b.keys() and all(same(a[k], b[k]) for k in a)
    if isinstance(a, list | tuple) and isinstance(b, list | tuple):
        return len(a) == len(b) and all(map(same, a, b))
    return bool(a == b)


def test_order_of_rows_does_not_matter():
    rows = sample_rows(40, seed=1, missing=0.2)
    order = list(reversed(range(40)))
    straight = evaluate(make_register(rows))
    turned = evaluate(make_register([rows[number] for number in order]))
    for key in CHECKS:
        first, second = verdicts(straight, key), verdicts(turned, key)
        for place, number in enumerate(order):
            a, b = as_shown(first[number]), as_shown(second[place])
            assert all(same(a[name], b[name]) for name in a), (key, number)


def test_a_row_alone_is_judged_as_in_company():
    rows = sample_rows(16, seed=2, missing=0.2)
    together = evaluate(make_register(rows))
    every = {key: verdicts(together, key) for key in CHECKS}
    for number, row in enumerate(rows):
        alone = evaluate(make_register([row]))
        for key in CHECKS:
            a, b = as_shown(alone.verdict(key, 0)), as_shown(every[key][number])
            assert all(same(a[name], b[name]) for name in a), (key, number)


def test_evaluating_twice_gives_the_same_and_leaves_the_register_alone():
    rows = sample_rows(20, seed=3, missing=0.2)
    register = make_register(rows)
    before = {name: column.copy() for name, column in register.values.items()}
    first, second = evaluate(register), evaluate(register)
    for key in CHECKS:
        for one, other in zip(verdicts(first, key), verdicts(second, key), strict=True):
            assert same(as_shown(one), as_shown(other))
    for name, column in register.values.items():
        assert same(column.tolist(), before[name].tolist())


def test_every_verdict_is_whole():
    rows = sample_rows(120, seed=4, missing=0.1)
    findings = evaluate(make_register(rows))
    for key, check in CHECKS.items():
        seen = set()
        for row, verdict in enumerate(verdicts(findings, key)):
            seen.add(verdict.band)
            assert verdict.band in BANDS
            assert verdict.key == key
            assert verdict.why
            assert verdict.source
            assert verdict.grade in ("S", "Q", "D", "C", "M")
            if verdict.band == "falls short":
                assert verdict.remedy, (key, row)
            for number in (verdict.found, verdict.required, verdict.margin):
                for part in number if isinstance(number, tuple) else (number,):
                    assert part is None or math.isfinite(part), (key, row)
        assert seen == {INFORMATION} if check.information else INFORMATION not in seen or seen


# Direction: more of this never gives a better, or never a worse, verdict -------------------

NEVER_WORSE = [
    ("tail_transition_length", "transition-length-tail"),
    ("head_transition_length", "transition-length-head"),
    ("tail_transition_length", "transition-tension-tail"),
    ("head_transition_length", "transition-tension-head"),
    ("chute_back", "transition-loading"),
    ("load_start", "transition-loading"),
    ("tail_transition_idlers", "transition-idlers"),
    ("load_belt_tension", "load-support"),
    ("skirt_length", "seal-length"),
    ("exhaust_airflow", "seal-air"),
    ("pulley_face_tail", "tracking-face"),
    ("side_clearance", "tracking-clearance"),
    ("service_clear_width", "access-service"),
    ("door_width", "access-opening"),
    ("belt_width", "load-width"),
]
NEVER_BETTER = [
    ("chute_width_inside", "load-width"),
    ("chute_width_inside", "seal-edge"),
    ("chute_wall_thickness", "seal-edge"),
    ("seal_footprint", "seal-edge"),
    ("chute_width_inside", "seal-wander"),
    ("belt_wander", "seal-wander"),
    ("seal_footprint", "seal-wander"),
    ("belt_wander", "tracking-clearance"),
    ("lump_size", "load-lump"),
    ("tonnage", "load-fill"),
    ("tonnage", "load-support"),
    ("load_idler_spacing", "load-support"),
    ("tail_tension_ratio", "transition-length-tail"),
    ("belt_modulus", "transition-tension-head"),
    ("carryback_measured", "cleaning-carryback"),
    ("tracker_spacing_max", "tracking-reach"),
    ("conveyor_length", "tracking-face"),
    ("dust_layer_depth", "housekeeping-dust"),
    ("trough_angle", "transition-length-tail"),
]


@pytest.mark.parametrize(
    ("name", "key", "way"),
    [(*pair, 1) for pair in NEVER_WORSE] + [(*pair, -1) for pair in NEVER_BETTER],
)
def test_direction(name, key, way):
    @settings(max_examples=25)  # each with five values of one input
    @given(
        row=st.fixed_dictionaries(
            {f: st.sampled_from(pool(f)) for f in CHECKS[key].fields if pool(f)}
        ),
        start=st.floats(0.02, 0.6),
        growth=st.lists(st.floats(1.0, 2.0), min_size=5, max_size=5),
    )
    def holds(row, start, growth):
        scale = max(v for v in pool(name) if isinstance(v, int | float)) or 1.0
        values, value = [], start * scale
        for step in growth:
            values.append(float(round(value)) if name == "tail_transition_idlers" else value)
            value *= step
        if name == "trough_angle":
            values = [min(max(value, 1.0), 45.0) for value in values]
        rows = [row | {"tag": f"D{n}", name: value} for n, value in enumerate(values)]
        found = bands(key, rows)
        known = [GOODNESS[band] for band in found if band not in (UNJUDGED, INFORMATION)]
        assert known == sorted(known, reverse=way < 0), (values, found)

    holds()


# Flip points --------------------------------------------------------------------------------


def test_flip_points_flip():
    rows = sample_rows(150, seed=6)
    findings = evaluate(make_register(rows))
    tried: dict[str, list[tuple[dict, str, float, str]]] = {}
    for key in CHECKS:
        for row, verdict in zip(rows, verdicts(findings, key), strict=True):
            for name, flip in verdict.flips_at.items():
                assert flip is None or isinstance(flip, float | int | str)
                if isinstance(flip, str):
                    assert flip == "at a table step"
                elif flip is not None:
                    tried.setdefault(key, []).append((row, name, float(flip), verdict.band))
    sides = []
    for key, flips in tried.items():
        for way in (-1e-6, 1e-6):
            changed = [
                row | {"tag": f"F{n}", name: flip + way * abs(flip)}
                for n, (row, name, flip, _) in enumerate(flips)
            ]
            sides.append(bands(key, changed))
        below, above = sides[-2:]
        for (row, name, flip, band), low, high in zip(flips, below, above, strict=True):
            assert low != high, (key, name, flip, band, row)
            if isinstance(row[name], str):  # a position word: either side may be its own
                assert band in (low, high), (key, name, flip, band, low, high, row)
            else:
                near = low if row[name] < flip else high
                assert near == band, (key, name, flip, band, low, high, row)
    assert sum(len(flips) for flips in tried.values()) > 500


def test_numeric_verdicts_carry_a_flip_entry_for_each_measured_input():
    row = sample_rows(1, seed=8)[0] | {
        "trough_angle": 35.0,
        "tail_transition_length": 1.0,
        "belt_width": 1.0,
        "belt_carcass": "fabric",
        "tail_tension_ratio": 0.75,
        "tail_pulley_lift": "full trough",
        "chute_width_inside": 0.9,
        "chute_wall_thickness": 0.01,
        "seal_kind": "single strip",
        "belt_wander": 0.02,
    }
    findings = evaluate(make_register([row]))
    expected = {
        "transition-length-tail": {"tail_transition_length", "belt_width"},
        "load-width": {"chute_width_inside", "belt_width"},
        "seal-edge": {"chute_width_inside", "belt_width", "trough_angle", "chute_wall_thickness"},
    }
    for key, names in expected.items():
        assert names <= set(findings.verdict(key, 0).flips_at), key


def test_flip_points_do_not_depend_on_the_other_rows():
    rows = sample_rows(40, seed=13)
    together = evaluate(make_register(rows))
    every = {key: verdicts(together, key) for key in CHECKS}
    for number in range(0, len(rows), 5):
        alone = evaluate(make_register([rows[number]]))
        for key in CHECKS:
            flips = every[key][number].flips_at
            assert alone.verdict(key, 0).flips_at == flips, (key, number)


def test_load_width_flip_points_are_exact():
    row = {"belt_width": 0.9, "chute_width_inside": 0.7}
    flips = evaluate(make_register([row])).verdict("load-width", 0).flips_at
    assert flips["chute_width_inside"] == pytest.approx(0.6, rel=1e-6)
    assert flips["belt_width"] == pytest.approx(1.05, rel=1e-6)


@pytest.mark.parametrize(
    "key",
    [
        *("tracking-reach", "seal-length", "load-fill", "housekeeping-dust"),
        pytest.param(
            "transition-tension-head",
            marks=pytest.mark.xfail(
                strict=True, reason="the search holds the measuring uncertainty as it is now"
            ),
        ),
    ],
)
def test_no_band_changes_nearer_than_the_flip_point(key):
    """Values to either side, up to just short of the flip point, all have the present band."""
    rows = sample_rows(50, seed=10)
    findings = evaluate(make_register(rows), checks=[key])
    trials, present = [], []
    for row, verdict in zip(rows, verdicts(findings, key), strict=True):
        for name, flip in verdict.flips_at.items():
            if isinstance(flip, float) and isinstance(row[name], float):
                # A flip point is given to nine digits.
                reach = abs(flip - row[name]) * (1.0 - 1e-6) - 1e-9 * abs(flip)
                for share in np.linspace(-1.0, 1.0, 41):
                    value = row[name] + share * reach
                    if FIELDS[name].plausible.holds(value) and FIELDS[name].possible.holds(value):
                        trials.append(row | {"tag": f"N{len(trials)}", name: float(value)})
                        present.append(verdict.band)
    assert len(trials) > 500
    for trial, band, near in zip(trials, present, bands(key, trials), strict=True):
        assert near in (band, UNJUDGED), trial


def test_no_flip_point_is_missed_that_a_plain_search_finds():
    shares = (0.4, 0.6, 0.8, 0.95, 1.05, 1.25, 1.7, 2.5)
    rows = sample_rows(60, seed=9)
    findings = evaluate(make_register(rows))
    searched = 0
    for key, check in CHECKS.items():
        present = verdicts(findings, key)
        cases = [
            (number, name)
            for number, row in enumerate(rows)
            for name, flip in present[number].flips_at.items()
            if flip is None and isinstance(row.get(name), float) and row[name] > 0
        ]
        tried = [
            rows[number] | {"tag": f"G{place}x{part}", name: rows[number][name] * share}
            for place, (number, name) in enumerate(cases)
            for part, share in enumerate(shares)
        ]
        if check.information or not tried:
            continue
        got = bands(key, tried)
        for place, (number, name) in enumerate(cases):
            band = present[number].band
            if band == UNJUDGED:
                continue
            for part, share in enumerate(shares):
                other = got[place * len(shares) + part]
                possible = FIELDS[name].possible.holds(rows[number][name] * share)
                searched += 1
                # outside the method is no other verdict on the same method
                assert other in (band, UNJUDGED) or not possible, (
                    *(key, name, rows[number][name], share, band, other, rows[number]),
                )
    assert searched > 1000
