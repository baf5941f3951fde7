"""The contract that every declared check keeps; a new check needs no line here but its key."""

import pickle
import re

import numpy as np
import pytest

from sheetcheck.checks import CHECKS, SUBJECTS, declare
from sheetcheck.findings import BANDS, evaluate
from sheetcheck.findings.remedies import MOST_CHARACTERS
from sheetcheck.register.fields import FIELDS, POSITIONS
from sheetcheck.register.ranges import RANGES
from sheetcheck.tables import SOURCES, rows
from tests.checks.samples import sample_rows as draw_rows
from tests.conftest import make_register

# The catalogue's checks, in words that outside scripts rely on.
KEYS = [
    "transition-length-tail",
    "transition-length-head",
    "transition-tension-tail",
    "transition-tension-head",
    "transition-loading",
    "transition-idlers",
    "load-width",
    "load-lump",
    "load-fill",
    "load-support",
    "load-impact",
    "seal-edge",
    "seal-wander",
    "seal-chute-max",
    "seal-length",
    "seal-kind",
    "seal-air",
    "cleaning-stages",
    "cleaning-blade",
    "cleaning-duty",
    "cleaning-carryback",
    "cleaning-plough",
    "tracking-places",
    "tracking-reach",
    "tracking-face",
    "tracking-clearance",
    "tracking-crown",
    "tracking-edge",
    "tracking-switches",
    "access-opening",
    "access-closure",
    "access-barrier",
    "access-isolation",
    "access-guard",
    "access-stop",
    "access-service",
    "housekeeping-spillage",
    "housekeeping-dust",
    "housekeeping-cost",
]
GUARDED = [
    "transition-length-tail",
    "transition-length-head",
    "transition-tension-tail",
    "transition-tension-head",
    "transition-loading",
    "load-support",
    "seal-edge",
    "seal-wander",
    "housekeeping-dust",
]
PER_BELT = [
    key
    for key in KEYS
    if key.startswith(("transition-length", "transition-tension", "cleaning", "tracking"))
    or key == "transition-idlers"
]
INFORMATION = ["load-impact", "seal-chute-max", "housekeeping-cost"]


@pytest.fixture(scope="module")
def sample_rows():
    return draw_rows(60, seed=7, missing=0.15)


@pytest.fixture(scope="module")
def sample_register(sample_rows):
    return make_register(sample_rows)


WORDS = [word for field in FIELDS.values() for word in field.choices] + list(POSITIONS)
every_check = pytest.mark.parametrize("check", CHECKS.values(), ids=list(CHECKS))


def test_the_catalogue_is_complete():
    assert list(CHECKS) == KEYS
    assert [key for key, check in CHECKS.items() if check.guarded] == GUARDED
    assert [key for key, check in CHECKS.items() if check.per_belt] == PER_BELT
    assert [key for key, check in CHECKS.items() if check.information] == INFORMATION


def test_titles_tell_checks_apart():
    assert len({check.title for check in CHECKS.values()}) == len(CHECKS)


def test_every_subject_module_is_listed():
    folder = {
        entry.stem
        for entry in __import__("pathlib").Path(declare.__file__).parent.glob("*.py")
        if entry.stem != "declare" and not entry.stem.startswith("_")
    }
    assert folder == {subject.__name__.rpartition(".")[2] for subject in SUBJECTS}


@every_check
def test_is_declared_in_full(check):
    assert re.fullmatch(r"[a-z]+(-[a-z]+)+", check.key)
    assert check.question.endswith("?")
    assert check.judge.__doc__
    name = check.key.replace("-", "_")  # one function may serve both ends of a conveyor
    assert check.judge.__name__ in (name, name.removesuffix("_tail"), name.removesuffix("_head"))
    assert check.title[0].isupper()
    assert check.fields
    assert set(check.found_in) <= {*check.fields, *(FIELDS[n].stand_in for n in check.fields)}
    assert set(check.fields) <= set(FIELDS)
    for helper in check.helpers:
        assert (
            helper.removesuffix("_position").removesuffix("_stood_in").removesuffix("_nominal")
            in FIELDS
        )
    assert check.information or check.remedies
    named = {*check.steps, *check.spread, *check.bounded}
    assert named <= set(check.fields)
    assert set(check.assumes) <= set(check.optional)
    for names in check.one_of:
        assert set(names) <= set(check.optional)


@every_check
def test_every_number_has_its_authority(check):
    cites = [check.cite, *(limit.cite for limit in check.limits.values())]
    cites += [worked.cite for worked in check.worked]
    for cite in cites:
        assert cite.key in SOURCES
        assert cite.grade in "SQDCM"
        # A reading of a source says where in it; practice has no place to name.
        assert cite.locator or cite.key in ("PRACTICE", "DERIVED")
        assert (cite.grade == "C") == (cite.key == "PRACTICE")


def test_no_source_is_unused():
    used = {cite.key for check in CHECKS.values() for cite in cites_of(check)}
    used |= {row["source"] for row in rows("transition_factors")}
    # What the evaluator and the remedies lean on, cited in their texts.
    used |= {"ISO14253-1", "JCGM106", "BECKLEY", "ISO5293-2004", "GB50431", "EN620"}
    used |= {"ISO5048", "DIN22101"}
    assert set(SOURCES) == used


def cites_of(check):
    yield check.cite
    yield from (limit.cite for limit in check.limits.values())
    yield from (worked.cite for worked in check.worked)


@every_check
def test_worked_values(check):
    for worked in check.worked:
        register = make_register([{"tag": "W1", **worked.given}])
        verdict = evaluate(register, checks=[check.key]).verdict(check.key, 0)
        near = {"rel": worked.relative_tolerance}
        if worked.required is not None:
            assert verdict.required == pytest.approx(worked.required, **near), worked.name
        if worked.found is not None:
            assert verdict.found == pytest.approx(worked.found, **near), worked.name
        if worked.band is not None:
            assert verdict.band == worked.band, worked.name
        for name, value in worked.numbers.items():
            assert verdict.numbers[name] == pytest.approx(value, **near), worked.name


@every_check
def test_a_row_that_records_nothing_is_never_good(check):
    verdict = evaluate(make_register([{"tag": "B1"}]), checks=[check.key]).verdict(check.key, 0)
    assert verdict.band in ("not judged", "information")
    if check.information:
        assert (verdict.found, verdict.margin) == (None, None)


@every_check
def test_every_hole_of_a_remedy_can_be_filled(check, sample_register):
    findings = evaluate(sample_register, checks=[check.key])
    result = findings.results[check.key]
    known = {
        "found",
        "required",
        "missing",
        "new",
        "change",
        *result.numbers,
        *result.more,
        *RANGES,
    }
    for remedy in check.remedies:
        assert not remedy.when or remedy.when in known
        assert set(remedy.sets) <= set(FIELDS)
        for value in remedy.sets.values():
            assert not isinstance(value, str) or value in known | set(WORDS)
        for name, unit in re.findall(r"\{(\w+):([^}^_]+)[\^_]?\}", remedy.text):
            assert name in known
            units = {field.unit for field in FIELDS.values()} | {"count", "1", "words"}
            assert unit in units


@every_check
def test_one_row_alone_is_judged_like_the_same_row_among_many(check, sample_register, sample_rows):
    together = evaluate(sample_register, checks=[check.key])
    for row in range(0, len(sample_rows), 7):
        alone = evaluate(make_register([sample_rows[row]]), checks=[check.key])
        first, second = together.verdict(check.key, row), alone.verdict(check.key, 0)
        assert (first.band, first.why) == (second.band, second.why)
        assert (first.found is None) == (second.found is None)
        if first.found is not None:
            assert first.found == pytest.approx(second.found, rel=1e-12)
        assert first.assumptions == second.assumptions
        for name, value in first.flips_at.items():
            other = second.flips_at[name]
            assert other == (pytest.approx(value, rel=1e-7) if isinstance(value, float) else value)


@every_check
def test_inputs_are_not_changed(check, sample_register):
    before = pickle.dumps(sample_register.values)
    evaluate(sample_register, checks=[check.key])
    assert pickle.dumps(sample_register.values) == before


@every_check
def test_verdicts_are_of_the_declared_kind(check, sample_register):
    findings = evaluate(sample_register, checks=[check.key])
    for row in range(len(sample_register)):
        verdict = findings.verdict(check.key, row)
        assert verdict.band in BANDS
        assert verdict.why
        assert (verdict.band == "information") >= check.information
        if verdict.band in ("marginal", "falls short"):
            assert verdict.remedy, (check.key, row, verdict.why)
            said = (verdict.remedy, *verdict.alternatives)
            assert all(0 < len(one) <= MOST_CHARACTERS for one in said), said
        if verdict.band in ("meets", "not applicable"):
            assert not verdict.remedy
        if verdict.band == "not judged" and not verdict.remedy:
            # Nothing to record would help: it lies outside the method.
            outside = findings.results[check.key].outside[row]
            assert outside or not findings.missing_inputs(check.key, row)


def test_the_sample_shows_every_band(sample_register):
    findings = evaluate(sample_register)
    seen = {band for result in findings.results.values() for band in np.unique(result.band)}
    assert seen == set(range(len(BANDS)))
