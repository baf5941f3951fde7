"""Plant-changeable limits: published defaults, that each one matters, and its strict side."""

from __future__ import annotations

import pytest

from sheetcheck.checks import CHECKS
from sheetcheck.findings.evaluate import evaluate
from tests.checks.judging import GOODNESS, INFORMATION, UNJUDGED, verdicts
from tests.checks.reference import FOOT, INCH
from tests.checks.samples import sample_rows
from tests.conftest import make_register

POUND_PER_CUBIC_FOOT = 0.45359237 / FOOT**3 / 1000

# Defaults with their sources; [C] common practice and [M] from memory have no published source.
DEFAULTS: dict[str, set[float] | list[float]] = {
    "transition-tension-tail": {1.15, 1.30},  # GY p. 23; ISO 5293:1981 in summary
    "transition-tension-head": {1.15, 1.30},
    "transition-idlers": {20.0},  # CEMA 7th ed.
    "load-width": {2 / 3},  # GY p. 19
    "load-lump": {1 / 3, 1 / 5, 1 / 6, 1 / 10, 1 / 2.0, 1 / 3.5},  # CEMA rule as quoted; GY
    "load-fill": {1.0, 0.8},  # quoted
    "load-support": {0.01},  # TM 5-810-15
    "load-impact": {0.6, 1.6, 271.0, 1356.0, 2712.0},  # [C], CEMA 575 [M]
    "seal-edge": {0.075, 0.100},  # [C]
    "seal-chute-max": {2 / 3, 0.075, 0.012},  # GY p. 19; [C]
    "seal-length": {1.2, 5 * FOOT, 0.6, 4.0, 5.0},  # NIOSH Table 5.2; GY p. 20
    # NIOSH eq. 5.2; ACGIH VS-50-20: 3 ft, 150 to 200 ft/min, 1.5 to 2 times
    "seal-air": {0.003, 3 * FOOT, 150 * FOOT / 60, 200 * FOOT / 60, 1.5, 2.0},
    "cleaning-duty": {350 * FOOT / 60, 36 * INCH},  # TM 5-810-15
    "cleaning-carryback": [0.40, 0.40, 0.50, 0.90],  # [C]
    "tracking-reach": {70 * FOOT, 150 * FOOT, 50 * FOOT},  # [C]; UFGS 15501N
    "tracking-face": {0.075, 0.100, 0.150, 42 * INCH, 500 * FOOT},  # UFGS 15555A
    "tracking-clearance": {0.075},  # UFGS 15555A
    "access-opening": {0.300},  # [C]
    "access-service": {0.600},  # ISO 14122-2
    "housekeeping-dust": {INCH / 32, 75 * POUND_PER_CUBIC_FOOT},  # OSHA memorandum, 21 April 2015
    "housekeeping-cost": {52.0},
}
EVERY = [(key, name) for key, check in CHECKS.items() for name in check.limits]
ROWS = sample_rows(250, seed=41, missing=0.12)
# Dusty material that falls about 3 ft, which the sample has none of.
ROWS += [
    row | {"dust_kind": "combustible", "drop_height": drop, "exhaust_airflow": 0.6}
    for row, drop in zip(sample_rows(4, seed=42), (0.8, 0.9, 1.0, 1.1), strict=True)
]


def test_defaults_are_the_published_values():
    declared = {
        key: sorted(limit.value for limit in check.limits.values())
        for key, check in CHECKS.items()
        if check.limits
    }
    assert declared.keys() == DEFAULTS.keys()
    for key, values in declared.items():
        assert values == pytest.approx(sorted(DEFAULTS[key]), rel=1e-6), key


@pytest.mark.parametrize(("key", "name"), EVERY)
def test_a_changed_limit_changes_what_is_said_and_its_strict_side_never_helps(key, name):
    limit = CHECKS[key].limits[name]
    register = make_register(ROWS)
    before = evaluate(register, checks=[key], flips=False)
    changed = False
    for factor in (0.8, 1.25):
        given = {key: {name: limit.value * factor}}
        after = evaluate(register, given, checks=[key], flips=False)
        stricter = (factor > 1) == (limit.stricter == "higher")
        pairs = zip(verdicts(before, key), verdicts(after, key), strict=True)
        for row, (a, b) in enumerate(pairs):
            changed |= (a.band, a.required, a.found, a.numbers) != (
                *(b.band, b.required, b.found, b.numbers),
            )
            if limit.stricter and not {a.band, b.band} & {UNJUDGED, INFORMATION}:
                good, now = GOODNESS[a.band], GOODNESS[b.band]
                assert now <= good if stricter else now >= good, (row, a.band, b.band)
    assert changed


@pytest.mark.parametrize(
    ("key", "changed", "row", "usual", "now"),
    [
        (
            *("seal-edge", {"dual_lip": 0.08, "dual_lip_high": 0.09}),
            {"seal_kind": "dual lip", "chute_wall_thickness": 0.006, "trough_angle": 35.0},
            *("takes 75 to 100 mm", "takes 80 to 90 mm"),
        ),
        (
            *("seal-air", {"least_size": 0.0045}),
            {"exhaust_airflow": 1.0, "belt_speed": 2.0, "material_size_mean": 0.002},
            *("not above 3 mm", "not above 4.5 mm"),
        ),
    ],
)
def test_what_is_said_of_a_limit_is_the_plant_s_own_number(key, changed, row, usual, now):
    register = make_register([{"belt_width": 1.2, "chute_width_inside": 0.7} | row])
    for limits, said in (({}, usual), ({key: changed}, now)):
        found = evaluate(register, limits, checks=[key], flips=False)
        assert any(said in text for text in found.verdict(key, 0).assumptions)


def test_limits_of_an_unknown_check_are_refused():
    with pytest.raises(KeyError):
        evaluate(make_register([{}]), {"no-such-check": {"share": 0.5}})
