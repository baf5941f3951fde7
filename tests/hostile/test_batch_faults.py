"""A fault in one workbook of many costs that workbook only.

Workers that are killed are held in tests/test_batch.py.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from .packages import HEADINGS, MADE_TO_HARM, xlsx

PROJECT = Path(__file__).parents[2]
LIMITED = (
    "import resource, sys; from sheetcheck.cli import app; "
    "resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]),) * 2); app(sys.argv[2:])"
)


def sheetcheck(*arguments, start=("-m", "sheetcheck")):
    return subprocess.run(
        [sys.executable, *start, *map(str, arguments)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=os.environ | {"PYTHONPATH": str(PROJECT)},
        timeout=120,
    )


def test_one_poisoned_workbook_among_200(tmp_path):
    folder = tmp_path / "site"
    folder.mkdir()
    for number in range(200):
        content = xlsx([HEADINGS, [f"CV-{number}", 500 + 5 * number, 1.5, 35, "yes"]])
        (folder / f"{number:03}.xlsx").write_bytes(content)
    (folder / "117.xlsx").write_bytes(MADE_TO_HARM["forged count of strings"][0]())
    joint = tmp_path / "all.json"
    found = sheetcheck(
        "check", folder, "--no-workbook", "--json", joint, "--workers", 2, "--quiet"
    )
    assert found.returncode == 3
    (line,) = found.stderr.splitlines()
    assert "117.xlsx" in line
    books = json.loads(joint.read_text(encoding="utf-8"))["workbooks"]
    sound = [number for number in range(200) if number != 117]
    assert [book["source"]["file"] for book in books] == [f"{n:03}.xlsx" for n in sound]
    for number, book in zip(sound, books, strict=True):
        (row,) = book["rows"]
        assert row["tag"] == f"CV-{number}"
        assert row["values"]["belt_width"] == pytest.approx((500 + 5 * number) / 1000)
        assert row["checks"]["access-guard"]["band"] == "meets"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["all.json", "site"]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a limit on the size of files")
def test_a_disk_that_is_full_in_the_middle(tmp_path):
    """The result of the long register does not fit; the ones before and after do."""
    folder, out = tmp_path / "site", tmp_path / "out"
    folder.mkdir()
    for name, rows in (("1 short", 2), ("2 long", 400), ("3 short", 3)):
        lines = [[f"CV-{n}", 900, 1.5, 35, "yes"] for n in range(rows)]
        (folder / f"{name}.xlsx").write_bytes(xlsx([HEADINGS, *lines]))
    found = sheetcheck(
        60_000, "check", folder, "--out", out, "--workers", 2, start=("-c", LIMITED)
    )
    assert found.returncode == 3, found.stderr
    (line,) = found.stderr.splitlines()
    assert "2 long.checked.xlsx: cannot be written" in line
    assert sorted(path.name for path in out.iterdir()) == [
        "1 short.checked.xlsx",
        "3 short.checked.xlsx",
        "site_summary.xlsx",
    ]
    for path in out.iterdir():
        with zipfile.ZipFile(path) as package:
            assert package.testzip() is None
