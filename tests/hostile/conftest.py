from __future__ import annotations

import hashlib
import re
import time
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sheetcheck.cli import app

PATIENCE = 20.0  # seconds that any bad input may take


def check(*arguments):
    """The main job, as its user starts it."""
    return CliRunner().invoke(app, ["check", *map(str, arguments)])


def the_line(result, status=2):
    """The single line that a bad input gets."""
    assert result.exit_code == status, result.output
    assert "Traceback" not in result.output
    assert "fault of this program" not in result.stderr
    (line,) = result.stderr.splitlines()
    assert line.startswith("sheetcheck: ")
    return line


@pytest.fixture
def refused(tmp_path):
    """Check a file that must be refused: one line, in good time, and nothing is touched or left.

    Gives the line.
    """

    def act(path: Path, says: str, *options: object) -> str:
        regular = path.is_file()
        before = hashlib.sha256(path.read_bytes()).hexdigest() if regular else ""
        there = sorted(path.parent.iterdir())
        out = tmp_path / "results"
        start = time.monotonic()
        line = the_line(check(path, "--out", out, *options))
        assert time.monotonic() - start < PATIENCE
        assert re.search(says, line), line
        assert not regular or hashlib.sha256(path.read_bytes()).hexdigest() == before
        assert sorted(path.parent.iterdir()) == there
        assert not out.exists() or not list(out.iterdir())
        return line

    return act
