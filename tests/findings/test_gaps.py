"""Which missing input keeps how many verdicts from being given, row by row."""

from __future__ import annotations

import pytest

from sheetcheck.findings import evaluate
from sheetcheck.findings.gaps import gaps, lacks
from sheetcheck.findings.results import BANDS, Findings
from tests.checks.samples import sample_rows
from tests.conftest import make_register

NOT_JUDGED = BANDS.index("not judged")


@pytest.fixture(scope="module")
def findings() -> Findings:
    return evaluate(make_register(sample_rows(30, seed=11, missing=0.25)), flips=False)


def test_an_input_that_decides_alone_is_one_that_a_verdict_lacks(findings: Findings) -> None:
    for name, lack in lacks(findings).items():
        assert (lack.alone <= lack.waiting).all(), name
        assert (lack.waiting <= lack.lacking).all(), name
        assert lack.lacking.any(), name


def test_counts_add_up_over_the_rows(findings: Findings) -> None:
    by_name = {gap.field: gap for gap in gaps(findings)}
    for name, lack in lacks(findings).items():
        if name in by_name:
            gap = by_name[name]
            assert gap.verdicts == lack.alone.sum()
            assert gap.waiting == lack.waiting.sum()
            assert gap.rows == (lack.alone > 0).sum()
        else:
            # Nothing waits for it before something else is known.
            assert not lack.waiting.any()


def test_every_verdict_that_lacks_an_input_is_counted_under_one(findings: Findings) -> None:
    lacking = lacks(findings)
    for key, result in findings.results.items():
        for row in ((result.band == NOT_JUDGED) & ~result.outside).nonzero()[0].tolist():
            missing = findings.missing_inputs(key, row)
            assert not missing or any(
                name in lacking and lacking[name].lacking[row] for name in missing
            ), (key, row)


def test_a_figure_that_is_needed_comes_before_a_word_that_may_not_matter() -> None:
    # load-width waits for its width only.
    found = lacks(evaluate(make_register([{"belt_width": 1.0}]), checks=["load-width"]))
    assert {name: int(lack.alone[0]) for name, lack in found.items()} == {"chute_width_inside": 1}
    found = lacks(evaluate(make_register([{}]), checks=["access-service"]))
    # Reach is asked as well, but the clear width comes first: if it is too small, that decides.
    assert found["service_clear_width"].alone.tolist() == [1]
    assert found["component_reach"].waiting.tolist() == [0]
    assert found["component_reach"].lacking.tolist() == [1]


def test_of_inputs_of_which_any_will_do_the_first_is_asked() -> None:
    row = {"tail_transition_length": 2.0, "carry_idler_spacing": 1.2, "trough_angle": 35.0}
    found = lacks(evaluate(make_register([row]), checks=["transition-loading"]))
    assert list(found) == ["chute_back"]
    assert found["chute_back"].alone.tolist() == [1]


def test_nobody_is_asked_for_the_blade_of_a_cleaner_that_is_not_there() -> None:
    row = {"primary_cleaner": 1, "carryback_target": 0.1}
    absent, unknown = row | {"secondary_cleaner": 0}, row
    found = lacks(evaluate(make_register([absent, unknown]), checks=["cleaning-carryback"]))
    assert found["carryback_measured"].lacking.tolist() == [1, 1]
    assert found["secondary_blade"].lacking.tolist() == [0, 1]
