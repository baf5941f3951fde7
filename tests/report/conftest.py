"""Findings of two demo registers, and their result sheets."""

from __future__ import annotations

from pathlib import Path

import pytest

from sheetcheck.findings import evaluate
from sheetcheck.findings.results import Findings
from sheetcheck.intake import read_register
from sheetcheck.report.model import SheetModel
from tests.report.sheet_models import laid_out

DEMO = Path(__file__).parents[2] / "demo_workbooks"


@pytest.fixture(scope="module", params=["harrow_sidings_acquired", "tern_quay_berths_us"])
def findings(request: pytest.FixtureRequest) -> Findings:
    return evaluate(read_register(DEMO / f"{request.param}.xlsx"))


@pytest.fixture(scope="module")
def sheets(findings: Findings) -> dict[str, SheetModel]:
    return laid_out(findings)
