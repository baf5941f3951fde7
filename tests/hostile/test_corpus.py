"""Workbooks from other projects' test suites, many of them odd on purpose: no fault in any.

They stand beside the checkout where the project is developed; elsewhere this is skipped. That
each is carried whole, or why it is not, is held in tests/report/test_foreign.py.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from .conftest import check

FOLDER = Path(__file__).parents[3] / "shared" / "corpus"
FILES = sorted(FOLDER.glob("*")) if FOLDER.is_dir() else []


@pytest.mark.skipif(not FILES, reason=f"no folder {FOLDER.name} of foreign workbooks at hand")
def test_every_foreign_workbook_is_read_or_refused_in_one_line():
    before = [hashlib.sha256(path.read_bytes()).hexdigest() for path in FILES]
    result = check(*FILES, "--no-workbook", "--workers", 1)
    assert result.exit_code == 3
    assert "Traceback" not in result.output
    assert "fault of this program" not in result.stderr
    assert len(result.stderr.splitlines()) + len(result.stdout.splitlines()) == len(FILES)
    assert [hashlib.sha256(path.read_bytes()).hexdigest() for path in FILES] == before
