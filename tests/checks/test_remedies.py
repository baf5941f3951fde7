"""A number in a remedy, read as it is printed and put in place, does away with the shortfall."""

from __future__ import annotations

import re
from typing import Any

import pytest

from sheetcheck.findings.evaluate import evaluate
from tests.checks.judging import SHORT, bands, judge, verdicts
from tests.checks.samples import sample_rows
from tests.conftest import make_register

QUANTITY = r"([\d ]+(?:\.\d+)?) ?(mm|m/s|m³/s|t/h|m|°)(?!\w)"
FACTORS = {"mm": 1e-3}

# Check, words before the number, and the field that takes it.
CURES = [
    *[
        (f"transition-length-{end}", words, field)
        for end in ("tail", "head")
        for words, field in (
            ("fully troughed idler to at least", f"{end}_transition_length"),
            (f"raise the {end} pulley to", f"{end}_pulley_lift"),
            ("trough the belt at", "trough_angle"),
        )
    ],
    *[
        (f"transition-tension-{end}", words, field)
        for end in ("tail", "head")
        for words, field in (
            (f"Lengthen the {end} transition to at least", f"{end}_transition_length"),
            (f"raise the {end} pulley to", f"{end}_pulley_lift"),
        )
    ],
    ("load-width", "Narrow the chute to", "chute_width_inside"),
    ("load-lump", "lumps of at most", "lump_size"),
    ("load-lump", "widen the belt to at least", "belt_width"),
    ("load-lump", "widen the chute to at least", "chute_width_inside"),
    ("load-fill", "run at", "belt_speed"),
    ("load-fill", "Carry at most", "tonnage"),
    ("load-support", "idlers under the load no more than", "load_idler_spacing"),
    ("seal-edge", "Narrow the chute to", "chute_width_inside"),
    ("seal-wander", "Hold the belt within", "belt_wander"),
    ("seal-length", r"skirtboards by .*? to", "skirt_length"),
    ("seal-air", "Draw off at least", "exhaust_airflow"),
    ("tracking-clearance", "Clear", "side_clearance"),
    ("access-service", "Clear", "service_clear_width"),
    ("housekeeping-dust", "keep it under", "dust_layer_depth"),
]

ROWS = sample_rows(400, seed=21)
# The other part of a compound check, put right at the same time
WITH_IT = {"access-service": {"component_reach": True}}


@pytest.mark.parametrize(("key", "words", "field"), CURES)
def test_remedy_cures(key, words, field):
    findings = evaluate(make_register(ROWS), checks=[key], flips=False)
    cured: list[dict[str, Any]] = []
    said: list[str] = []
    for row, verdict in zip(ROWS, verdicts(findings, key), strict=True):
        if verdict.band != SHORT:
            continue
        found = re.search(rf"{words} {QUANTITY}", verdict.remedy)
        if found:
            amount, unit = found.groups()
            value: Any = float(amount.replace(" ", "")) * FACTORS.get(unit, 1.0)
            after = verdict.remedy[found.end() :]
            if place := re.match(
                r" above the centre-roll line \((one-third|half) trough\)", after
            ):
                value = place.group(1)  # the table's own position; the number is for the fitter
            cured.append(row | {field: value} | WITH_IT.get(key, {}))
            said.append(verdict.remedy)
    assert cured, "no remedy of these words among the samples"
    after = bands(key, cured)
    still = [
        (text, row) for text, row, band in zip(said, cured, after, strict=True) if band == SHORT
    ]
    assert not still, f"{len(still)} of {len(cured)}: {still[0]}"


def test_more_than_now_and_the_whole_agree():
    # "2.19 m … (995 mm more than now)": the two numbers in one sentence lead to the same place
    findings = evaluate(make_register(ROWS), checks=["seal-length"], flips=False)
    seen = 0
    for row, verdict in zip(ROWS, verdicts(findings, "seal-length"), strict=True):
        found = re.search(rf"by {QUANTITY} to {QUANTITY}", verdict.remedy)
        if found:
            more, unit, whole, whole_unit = found.groups()
            total = row["skirt_length"] + float(more) * FACTORS.get(unit, 1.0)
            assert total == pytest.approx(float(whole) * FACTORS.get(whole_unit, 1.0), rel=0.01)
            seen += 1
    assert seen > 20


def test_narrowing_the_chute_by_what_is_said_keeps_the_belt_under_the_seal():
    findings = evaluate(make_register(ROWS), checks=["seal-wander"], flips=False)
    cured = []
    for row, verdict in zip(ROWS, verdicts(findings, "seal-wander"), strict=True):
        found = re.search(rf"arrow the chute by {QUANTITY}", verdict.remedy)
        if verdict.band == SHORT and found:
            less = float(found.group(1).replace(" ", "")) * FACTORS.get(found.group(2), 1.0)
            if row["chute_width_inside"] > less:
                cured.append(row | {"chute_width_inside": row["chute_width_inside"] - less})
    assert len(cured) > 20
    assert SHORT not in bands("seal-wander", cured)


@pytest.mark.parametrize(
    ("target", "words"),
    [
        (0.31, "one"),
        (0.27, "a primary and a metal"),
        (0.06, "a primary and a metal-bladed secondary"),
        (0.04, "more stages"),
    ],
)
def test_cleaners_advised_are_those_whose_residue_meets_the_target(target, words):
    # 0.5 kg/m² uncleaned: 0.25 to 0.30 after one stage, 0.05 after two with a metal secondary
    # (common practice, no published source)
    given = {"carryback_initial": 0.5, "carryback_target": target}
    none = {"primary_cleaner": False, "secondary_cleaner": False}
    assert words in judge("cleaning-carryback", given | none).remedy


def test_what_decides_the_requirement_is_recorded_before_anything_is_built():
    row = {
        "belt_width": 1.2,
        "trough_angle": 35.0,
        "belt_carcass": "fabric",
        "head_tension_ratio": 0.75,
        "head_transition_length": 1.0,
    }
    remedy = judge("transition-length-head", row).remedy
    assert remedy.startswith(
        "First record the head pulley lift, by which 1.44 m to 2.88 m is required. "
    )
    known = judge("transition-length-head", row, head_pulley_lift="full trough").remedy
    assert "record" not in known


def test_only_what_is_missing_is_asked_for():
    row = {
        "belt_width": 1.0,
        "belt_speed": 2.0,
        "exhaust_airflow": 3.0,
        "tonnage": 500.0,
        "bulk_density": 1.6,
        "drop_height": 2.0,
        "chute_open_area": 0.1,
    }
    remedy = judge("seal-air", row).remedy
    assert remedy.startswith("Record what is missing (material size mean), so that")
