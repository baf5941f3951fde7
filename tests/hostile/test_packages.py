"""Workbooks made to harm: each is refused in one line, or read without harm.

The classes are those of the project's list of bad inputs; limits are the project's own. That a
crafted file can end the process of its reader was measured, and is reported by others
(tafia/calamine, issues 550, 684 and 714).
"""

from __future__ import annotations

import io
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from .conftest import check
from .packages import MADE_TO_HARM, SHEET, register, repacked, xlsx

PROJECT = Path(__file__).parents[2]
START = (sys.executable, "-m", "sheetcheck")
# These hold a whole register beside what was added to them.
READ_ALL_THE_SAME = {"deep nesting in the strings"}
MOST_MEMORY = 1 << 20  # KiB


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """All of them, and one sound register."""
    folder = tmp_path_factory.mktemp("hostile")
    for name, (make, _) in MADE_TO_HARM.items():
        (folder / f"{name}.xlsx").write_bytes(make())
    (folder / "sound.xlsx").write_bytes(register())
    return folder


@pytest.mark.parametrize("name", [n for n in MADE_TO_HARM if n not in READ_ALL_THE_SAME])
def test_one_line_and_nothing_else(folder, refused, name):
    refused(folder / f"{name}.xlsx", MADE_TO_HARM[name][1])


@pytest.mark.parametrize("name", sorted(READ_ALL_THE_SAME))
def test_read_without_harm(folder, tmp_path, name):
    result = check(folder / f"{name}.xlsx", "--out", tmp_path)
    assert result.exit_code == 0, result.output
    assert "2 rows" in result.stdout


def test_all_in_one_batch_cost_no_other_and_little_memory(folder, tmp_path):
    process = subprocess.Popen(
        [*START, "check", str(folder), "--out", str(tmp_path), "--workers", "1"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": str(PROJECT)},
    )
    said, lines = process.communicate(timeout=120)
    assert process.returncode == 3
    assert len(lines.splitlines()) == len(MADE_TO_HARM) - len(READ_ALL_THE_SAME)
    assert b"Traceback" not in lines
    assert b"sound.xlsx: 2 rows" in said
    assert {path.name for path in tmp_path.iterdir()} == {
        "sound.checked.xlsx",
        "site_summary.xlsx",
        *(f"{name}.checked.xlsx" for name in READ_ALL_THE_SAME),
    }


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="needs Linux to measure it")
@pytest.mark.parametrize(
    "name", ["forged count of strings", "cells in the last row, all columns to ZZ"]
)
def test_a_hungry_workbook_gets_no_more_memory_than_is_allowed(folder, name):
    """The most that any process of the run has held, as the system counts it."""
    code = (
        "import resource, sys; from sheetcheck.intake.workbook import open_book\n"
        "try: open_book(sys.argv[1])\n"
        "except Exception: pass\n"
        "who = resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN\n"
        "print(max(resource.getrusage(w).ru_maxrss for w in who))"
    )
    found = subprocess.run(
        [sys.executable, "-c", code, str(folder / f"{name}.xlsx")],
        capture_output=True,
        env=os.environ | {"PYTHONPATH": str(PROJECT)},
        check=True,
    )
    assert int(found.stdout) < MOST_MEMORY


@pytest.mark.parametrize("name", ["../outside.xml", "xl/../../outside.xml", "..\\outside.xml"])
def test_parts_that_lie_outside_are_not_carried_on(tmp_path, name):
    source = tmp_path / "in" / "register.xlsx"
    source.parent.mkdir()
    source.write_bytes(repacked(register(), more=[(name, b"<x/>")]))
    result = check(source, "--out", tmp_path / "in" / "out")
    assert result.exit_code == 0, result.output
    assert "outside itself" in result.output
    assert "a workbook of their own" in result.output
    written = tmp_path / "in" / "out" / "register.checked.xlsx"
    with zipfile.ZipFile(written) as package:
        assert not any(".." in part for part in package.namelist())
    assert [path.name for path in tmp_path.iterdir()] == ["in"]


def test_a_claim_of_a_large_sheet_is_no_large_sheet(tmp_path):
    def claim(part: bytes) -> bytes:
        return part.replace(b'<dimension ref="A1:E3"', b'<dimension ref="A1:XFD1048576"')

    source = tmp_path / "register.xlsx"
    source.write_bytes(repacked(register(), {SHEET: claim}))
    with zipfile.ZipFile(source) as package:
        assert b"XFD1048576" in package.read(SHEET)
    result = check(source)
    assert result.exit_code == 0
    assert "2 rows" in result.stdout


def test_every_cut_of_a_package_is_refused(tmp_path, refused):
    content = register()
    for part in range(1, 20):
        path = tmp_path / f"cut {part}.xlsx"
        path.write_bytes(content[: len(content) * part // 20])
        refused(path, "damaged|cannot be read|not a workbook")


def test_a_picture_may_be_packed_as_tightly_as_it_likes(tmp_path):
    source = tmp_path / "register.xlsx"
    picture = b"BM" + bytes(8 << 20)
    source.write_bytes(repacked(register(), more=[("xl/media/image1.bmp", picture)]))
    assert check(source).exit_code == 0
    with zipfile.ZipFile(tmp_path / "register.checked.xlsx") as package:
        assert package.read("xl/media/image1.bmp") == picture


def test_more_room_lets_a_large_workbook_in(tmp_path, refused):
    rows = [["Tag", "Belt width (mm)"], *([f"CV-{n}", 900] for n in range(3))]
    blank = b" " * 5_000_000
    source = tmp_path / "register.xlsx"
    source.write_bytes(
        repacked(
            xlsx(rows), {SHEET: lambda p: p.replace(b"</sheetData>", b"</sheetData>" + blank)}
        )
    )
    with zipfile.ZipFile(io.BytesIO(source.read_bytes())) as package:
        entry = package.getinfo(SHEET)
    factor = entry.file_size / entry.compress_size / 200 * 1.1
    assert factor > 1
    refused(source, "--room")
    assert check(source, "--room", factor).exit_code == 0
