"""Verdicts of many rows at once are the verdicts of each row; numbers carry their digits.

The digits are held to Python's own decimal formatting.
"""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetcheck.findings.evaluate import evaluate
from sheetcheck.findings.verdict_columns import VerdictColumns, numbers_of, significant
from sheetcheck.report.json_out import json_pieces
from sheetcheck.tables import source_line
from tests.checks.samples import sample_rows
from tests.conftest import Approximate, make_register


@pytest.fixture(scope="module")
def findings():
    """Rows with every kind of value: missing, ranges, approximate, general figures, derived."""
    rows = sample_rows(30, seed=11, missing=0.25)
    for number, row in enumerate(rows):
        if number % 3 == 0:
            row["belt_width"] = (0.8, 1.0)
        if number % 4 == 0:
            row["tail_transition_length"] = Approximate(2.4)
        if number % 5 == 0:
            row.pop("tail_tension_ratio", None)
            row["belt_tension_ratio"] = 0.7
    rows[7]["tag"] = rows[6]["tag"]
    register = make_register(rows)
    register.derived[3, "belt_carcass"] = "belt carcass read from the designation"
    register.derived[5, "belt_tension_ratio"] = "from two tensions"
    return evaluate(register)


def test_all_rows_at_once_are_each_row_alone(findings):
    columns = VerdictColumns(findings, np.arange(len(findings)))
    for key in findings.results:
        one_by_one = [findings.verdict(key, row) for row in range(len(findings))]
        assert columns.verdicts(key) == one_by_one, key


def test_any_rows_in_any_order(findings):
    rows = np.array([20, 3, 11, 6, 0])
    columns = VerdictColumns(findings, rows)
    for key in findings.results:
        chosen = np.array([3, 0, 4])
        expected = [findings.verdict(key, int(row)) for row in rows[chosen]]
        assert columns.verdicts(key, chosen) == expected, key


def governing(result, row):
    """The first authority that holds for a row; the check's own where none does."""
    return next((cite for rows, cite in result.cites if rows[row]), result.check.cite)


def test_each_row_names_the_authority_that_governs_it(findings):
    columns = VerdictColumns(findings, np.arange(len(findings)))
    several = 0
    for key, result in findings.results.items():
        cites = [governing(result, row) for row in range(len(findings))]
        of = columns.of(key)
        assert of["source"] == [source_line(cite.key, cite.locator) for cite in cites], key
        assert of["grade"] == [cite.grade for cite in cites], key
        several += len(set(cites)) > 1
    assert several


def test_json_carries_the_verdicts(findings):
    found = json.loads(b"".join(json_pieces(findings, "0")))["rows"]

    def tidy(item):
        if isinstance(item, float):
            return pytest.approx(float(f"{item:.12g}"), rel=1e-12, abs=1e-300)
        if isinstance(item, list | tuple):
            parts = [tidy(part) for part in item]
            # Ends of a range that are one number when written are written once.
            one = len(item) == 2 and isinstance(item[0], float) and parts[0] == parts[1].expected
            return parts[0] if one else parts
        if hasattr(item, "items"):
            return {name: tidy(part) for name, part in item.items()}
        return item

    for row, written in enumerate(found):
        assert list(written["checks"]) == list(findings.results)
        for key, verdict in written["checks"].items():
            single = findings.verdict(key, row)
            assert verdict.items() >= {"band": single.band, "remedy": single.remedy}.items()
            for name, item in verdict.items():
                assert item == tidy(getattr(single, name)), (key, row, name)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_significant_digits_are_those_of_decimal_formatting(value):
    found = float(significant(np.array([value]), 12)[0])
    if 1e-9 <= abs(value) <= 1e15:
        # A tie may go to either side; what comes out has twelve digits in any case.
        assert found == float(f"{found:.12g}")
        assert abs(found - value) <= 0.5000001 * 10.0 ** (np.floor(np.log10(abs(value))) - 11)
    assert found == pytest.approx(value, rel=1e-11, abs=1e-307)


def test_numbers_that_are_none_and_ranges():
    low = np.array([1.0, np.nan, 2.0, np.inf, -0.5])
    high = np.array([1.0, 1.0, 3.0, np.inf, -0.5])
    assert numbers_of(low, high) == [1.0, None, (2.0, 3.0), None, -0.5]
