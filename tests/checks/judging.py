"""One check on a register built in memory, and the words for what comes out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from sheetcheck.findings.evaluate import evaluate
from sheetcheck.findings.results import BANDS, Findings, Verdict
from sheetcheck.findings.verdict_columns import VerdictColumns
from tests.conftest import make_register

MEETS, MARGINAL, SHORT = "meets", "marginal", "falls short"
UNJUDGED, NOT_APPLICABLE, INFORMATION = "not judged", "not applicable", "information"
GOODNESS = {SHORT: 0, UNJUDGED: 1, MARGINAL: 2, MEETS: 3, NOT_APPLICABLE: 4}


def judge(key: str, given: Mapping[str, Any], **changes: Any) -> Verdict:
    """One check on a register of one row."""
    return evaluate(make_register([{**given, **changes}]), checks=[key]).verdict(key, 0)


def band(key: str, given: Mapping[str, Any], **changes: Any) -> str:
    """The band of one check on a register of one row."""
    return bands(key, [{**given, **changes}])[0]


def bands(key: str, rows: list[dict[str, Any]]) -> list[str]:
    """The bands of one check on many rows, evaluated together."""
    return bands_in(evaluate(make_register(rows), checks=[key], flips=False), key)


def bands_in(findings: Findings, key: str) -> list[str]:
    """The bands of one check on every row."""
    return [BANDS[code] for code in findings.results[key].band.tolist()]


def verdicts(findings: Findings, key: str) -> list[Verdict]:
    """The verdicts of one check on every row, made together: in a fraction of the time."""
    return VerdictColumns(findings, np.arange(len(findings))).verdicts(key)
