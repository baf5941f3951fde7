"""One check on a register built in memory, and the words for what comes out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sheetcheck.findings.evaluate import evaluate
from sheetcheck.findings.results import Verdict
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
    findings = evaluate(make_register(rows), checks=[key], flips=False)
    return [findings.verdict(key, row).band for row in range(len(rows))]
