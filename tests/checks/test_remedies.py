"""A remedy, read as it is printed and done, makes its check meet and hides nothing it worsens.

``python -m tests.checks.test_remedies ROWS [SEED]`` tries many more rows than the suite does.
"""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
import pytest

from sheetcheck.findings.evaluate import evaluate
from sheetcheck.findings.results import Findings, Verdict
from sheetcheck.findings.verdict_columns import VerdictColumns
from sheetcheck.register.register import Column, Register
from tests.checks.judging import MARGINAL, MEETS, SHORT, judge, verdicts
from tests.checks.samples import sample_rows
from tests.conftest import make_register

# Exact: the international yard and pound agreement of 1959, and a short ton of 2000 lb.
SI = {
    "mm": 1e-3,
    "m": 1.0,
    "in": 0.0254,
    "m/s": 1.0,
    "ft/min": 0.3048 / 60,
    "m³/s": 1.0,
    "ft³/min": 0.3048**3 / 60,
    "t/h": 1.0,
    "short ton/h": 0.90718474,
    "°": 1.0,
}
UNITS = "|".join(sorted(SI, key=len, reverse=True))
Q = rf"((?:\d+ ft(?: [\d.]+ in)?)|(?:[\d.]+ ?(?:{UNITS})))(?![\w/³])"


def read(text: str) -> float:
    """A printed quantity in SI."""
    if feet := re.fullmatch(r"(\d+) ft(?: ([\d.]+) in)?", text):
        return (12 * int(feet[1]) + float(feet[2] or 0)) * 0.0254
    found = re.fullmatch(r"([\d.]+) ?(\D.*)", text)
    assert found, text
    return float(found[1]) * SI[found[2]]


def to(*fields: str) -> Any:
    return lambda row, values: dict.fromkeys(fields, values[0])


def further(*fields: str) -> Any:
    """Each field that is recorded no nearer than the number."""
    return lambda row, values: {n: max(row[n], values[0]) for n in fields if row.get(n)}


def footprint(kind: str) -> Any:
    return lambda _, values: {"seal_kind": kind, "seal_footprint": tuple(values[:2])}


# Check, the words of a remedy, and what doing it as printed puts into the register.
DONE: list[tuple[str, str, Any]] = [
    *[
        (f"transition-{kind}-{end}", words, done)
        for end in ("tail", "head")
        for kind, words, done in (
            ("length", f"idler to at least {Q} from", to(f"{end}_transition_length")),
            ("length", f"aise the {end} pulley to {Q} above", to(f"{end}_pulley_lift")),
            (
                "length",
                f"aise the {end} pulley to half trough",
                lambda _, __, end=end: {f"{end}_pulley_lift": "half"},
            ),
            ("length", f"rough the belt at {Q}", to("trough_angle")),
            ("length", "fabric belt", lambda *_: {"belt_carcass": "fabric"}),
            ("tension", f"transition to at least {Q}", to(f"{end}_transition_length")),
            ("tension", f"aise the {end} pulley to {Q} above", to(f"{end}_pulley_lift")),
        )
    ],
    ("transition-loading", rf"to at least {Q}\.", further("chute_back", "load_start")),
    ("transition-loading", f"idler to at most {Q}", to("tail_transition_length")),
    ("load-width", f"arrow the chute to {Q}", to("chute_width_inside")),
    ("load-lump", f"lumps of at most {Q}", to("lump_size")),
    ("load-lump", f"iden the belt to at least {Q}", to("belt_width")),
    ("load-lump", f"iden the chute to at least {Q}", to("chute_width_inside")),
    (
        "load-lump",
        f"both the belt to at least {Q} and the chute to at least {Q}",
        lambda _, values: dict(zip(("belt_width", "chute_width_inside"), values, strict=True)),
    ),
    ("load-fill", f"arry at most {Q}", to("tonnage")),
    ("load-fill", f"un at {Q}", to("belt_speed")),
    ("load-support", f"no more than {Q} apart", to("load_idler_spacing")),
    ("seal-edge", f"arrow the chute to {Q}", to("chute_width_inside")),
    ("seal-wander", f"arrow the chute to {Q}", to("chute_width_inside")),
    ("seal-wander", f"old the belt within {Q}", to("belt_wander")),
    ("seal-length", f"skirtboards to {Q}", to("skirt_length")),
    ("seal-kind", f"dual-lip seal; it rests on {Q} to {Q}", footprint("dual lip")),
    ("seal-kind", f"single strip rests on {Q} to {Q}", footprint("single strip")),
    ("seal-air", f"raw off at least {Q}", to("exhaust_airflow")),
    ("tracking-reach", f"no run of belt above {Q}", to("tracker_spacing_max")),
    ("tracking-face", f"the tail pulley with a face of at least {Q}", to("pulley_face_tail")),
    ("tracking-face", f"the head pulley with a face of at least {Q}", to("pulley_face_head")),
    (
        "tracking-face",
        f"both end pulleys with a face of at least {Q}",
        to("pulley_face_tail", "pulley_face_head"),
    ),
    ("tracking-clearance", f"lear {Q} beside", to("side_clearance")),
    (
        "access-opening",
        f"door of at least {Q} by",
        lambda _, v: {"door_count": 1.0, "door_width": v[0], "door_height": v[0]},
    ),
    (
        "access-opening",
        f"opening to at least {Q}",
        lambda row, v: {n: max(row.get(n, 0.0), v[0]) for n in ("door_width", "door_height")},
    ),
    ("access-service", f"^Clear {Q} beside", to("service_clear_width")),
    (
        "access-service",
        f"chutework, and clear {Q}",
        lambda _, v: {"component_reach": True, "service_clear_width": v[0]},
    ),
    ("housekeeping-dust", f"keep it to {Q}", to("dust_layer_depth")),
]
BEFORE_ANY = ("First ", "Measure again", "Record ")
NO_INPUT = ("transition-idlers",)
"""Its numbers are where idlers stand, which no field records."""
SEVERITY = {MEETS: 1, MARGINAL: 2, "not judged": 3, SHORT: 4, "not applicable": 0}


class Remedied(NamedTuple):
    """A verdict, one of its remedies as printed, what it says it worsens, and the row as done."""

    verdict: Verdict
    text: str
    worse: str
    row: dict[str, Any]


def register_of(rows: list[dict[str, Any]], us: bool) -> Register:
    register = make_register(rows)
    units = {"belt_width": "in", "belt_speed": "ft/min", "tonnage": "short ton/h"}
    for field, unit in units.items() if us else ():
        register.columns.append(Column("S", "A", "h", field, unit, 1.0, "known wording"))
    return register


def remedied(findings: Findings, rows: list[dict[str, Any]]) -> Iterator[Remedied]:
    columns = VerdictColumns(findings, np.arange(len(rows)))
    for key in findings.results:
        ways = [(words, done) for check, words, done in DONE if check == key]
        for row, verdict in zip(rows, columns.verdicts(key), strict=True):
            if verdict.band not in (SHORT, MARGINAL):
                continue
            said = (verdict.remedy, *verdict.alternatives)
            worse = verdict.side_effects or ("",) * len(said)
            for text, effects in zip(said, worse, strict=True):
                if text.startswith(BEFORE_ANY) or key in NO_INPUT or not re.search(Q, text):
                    continue
                hits = [(h, done) for words, done in ways if (h := re.search(words, text))]
                assert hits, f"no way to do what {key} says: {text}"
                hit, done = hits[-1]
                values = [read(group) for group in hit.groups()]
                yield Remedied(verdict, text, effects, row | done(row, values))


def tried(count: int, seed: int, us: bool) -> tuple[list[Remedied], list[str]]:
    """Remedies of so many random rows, and what is wrong with them."""
    rows = sample_rows(count, seed, missing=0.1)
    findings = evaluate(register_of(rows, us), flips=False)
    before = {key: bands_of(findings, key) for key in findings.results}
    done = list(remedied(findings, rows))
    alone = [one.row | {"tag": f"D{number}"} for number, one in enumerate(done)]
    again = evaluate(make_register(alone), flips=False)
    wrong = []
    for key in findings.results:
        for one, band in zip(done, bands_of(again, key), strict=True):
            was = before[key][one.verdict.row]
            if key == one.verdict.key:
                if band != MEETS:
                    wrong.append(f"{key} {was} to {band}: {one.text}")
            elif "information" not in (was, band) and SEVERITY[band] > max(SEVERITY[was], 1):
                title = findings.results[key].check.title.lower()
                if f"{key}: {was} to {band}" not in one.worse or not (
                    title in one.text or re.search(r"Worsens: \d+ checks", one.text)
                ):
                    wrong.append(f"{one.verdict.key} hides {key} {was} to {band}: {one.text}")
    return done, wrong


def bands_of(findings: Findings, key: str) -> list[str]:
    names = ("meets", "marginal", "falls short", "not judged", "not applicable", "information")
    return [names[code] for code in findings.results[key].band.tolist()]


@pytest.mark.parametrize("us", [False, True])
def test_every_remedy_done_as_printed_meets_and_hides_nothing(us):
    done, wrong = tried(30, 21 + us, us)
    assert not wrong, f"{len(wrong)} of {len(done)}: {wrong[:3]}"
    assert len(done) > 150
    assert len({one.verdict.key for one in done}) >= 15


def test_no_remedy_asks_for_what_cannot_be():
    # 60 t/h of light material on a belt that creeps would need a speed no belt runs at.
    slow = {"belt_speed": 0.4, "tonnage": 1500.0, "bulk_density": 0.65, "belt_width": 0.5}
    said = judge("load-fill", slow, trough_angle=20.0, surcharge_angle=5.0)
    assert "Carry at most" in said.remedy
    assert not said.alternatives
    lump = {"belt_width": 1.8, "lump_size": 1.5, "surcharge_angle": 15.0, "lump_mix": "uniform"}
    said = judge("load-lump", lump)
    assert "elt" not in said.remedy
    assert not said.alternatives


def test_what_is_missed_or_met_by_less_than_can_be_measured_is_measured_first():
    # 36 in belt at 35°: 97.28 mm free beside a thin 24 in chute [D]; 73.2 mm needed [CEMA, Q].
    row = {"belt_width": 0.9144, "trough_angle": 35.0, "chute_width_inside": 0.655}
    row |= {"chute_wall_thickness": 0.0, "seal_kind": "single strip"}
    for width, met in ((0.655, "met by"), (0.660, "missed by")):
        said = judge("seal-edge", row, chute_width_inside=width)
        assert said.remedy.startswith(f"Measure again first: {met}")
        assert said.alternatives[0].startswith("Narrow the chute to")


def test_six_inches_stay_six_inches():
    # 48 in belt: the face is to be 6 in wider (UFGS 15555A), 54 in.
    row = {"belt_width": 1.2192, "conveyor_length": 60.0}
    row |= {"pulley_face_tail": 1.27, "pulley_face_head": 1.4}
    findings = evaluate(register_of([row], True), checks=["tracking-face"])
    said = findings.verdict("tracking-face", 0).remedy
    assert said == "Fit the tail pulley with a face of at least 4 ft 6 in."


def test_a_lift_above_a_third_of_the_trough_carries_its_caution():
    findings = evaluate(make_register(sample_rows(120, seed=21)), flips=False)
    lifts = [
        text
        for key in ("transition-length-tail", "transition-length-head")
        for verdict in verdicts(findings, key)
        for text in (verdict.remedy, *verdict.alternatives)
        if "aise the" in text
    ]
    assert len(lifts) > 10
    assert all("GB 50431-2020, cl. 10.4.1" in text for text in lifts)


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
    assert remedy == "First record the head pulley lift, by which 1.44 m to 2.88 m is required."
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
        "dust_kind": "wet",
    }
    remedy = judge("seal-air", row).remedy
    assert remedy.startswith("Record what is missing (material size mean), so that")


def main(count: int, seed: int) -> None:
    """Print how many remedies of `count` rows in either system of units are wrong, and which."""
    for us in (False, True):
        done, wrong = tried(count, seed, us)
        found = len({(one.verdict.key, one.verdict.row) for one in done})
        print(
            f"{'US' if us else 'metric'}: {len(done)} remedies of {found} verdicts,"
            f" {len(wrong)} wrong"
        )
        print(Counter(one.verdict.key for one in done))
        print(*wrong[:20], sep="\n")


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]) if sys.argv[2:] else 1)
