"""A real Dask scheduler and two workers on this machine, one of them killed under way.

The scheduler's promise, to give the work of a lost worker to another one, is that of its own
documentation (distributed, "Resilience"); what is held here is that nothing is lost or written
twice by what this project hands to it.
"""

from __future__ import annotations

import importlib.util
import json
import os
import re
import subprocess
import sys
import time
import zipfile
from contextlib import contextmanager
from pathlib import Path

import pytest
from openpyxl import Workbook

pytestmark = pytest.mark.skipif(
    importlib.util.find_spec("distributed") is None,
    reason="the package 'distributed' (extra 'cluster') is not installed",
)

PROJECT = Path(__file__).parent.parent
PATIENCE = 90.0  # seconds until the test gives up
WORKBOOKS = 8
HEADINGS = ["Tag", "Belt width (mm)", "Trough angle (°)", "Chute width inside (mm)"]
MOMENT = re.compile(rb"\d{4}-\d\d-\d\d \d\d:\d\d|\d{1,2} [A-Z][a-z]+ \d{4}")


def write_registers(folder):
    folder.mkdir()
    for number in range(WORKBOOKS):
        book = Workbook()
        sheet = book.active
        sheet.append(HEADINGS)
        for row in range(20 + number):
            sheet.append([f"B{number}-{row}", 800 + 10 * number, 35, 300 + 10 * row])
        book.save(folder / f"berth_{number}.xlsx")


def start(*arguments, **more):
    return subprocess.Popen(
        [sys.executable, *map(str, arguments)],
        env=os.environ | {"PYTHONPATH": str(PROJECT)},
        **more,
    )


def until(condition, process=None):
    end = time.monotonic() + PATIENCE
    while not condition():
        assert time.monotonic() < end, "waited too long"
        assert process is None or process.poll() is None, "ended too early"
        time.sleep(0.01)


@contextmanager
def cluster(folder):
    """Scheduler and two workers of one thread each, on loopback addresses only."""
    address = folder / "scheduler.json"
    scheduling = [
        *("-m", "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0"),
        *("--no-dashboard", "--scheduler-file", address),
    ]
    working = [
        *("-m", "distributed.cli.dask_worker", "--scheduler-file", address, "--no-nanny"),
        *("--nthreads", "1", "--no-dashboard", "--host", "127.0.0.1"),
        *("--local-directory", folder, "--death-timeout", "60"),
    ]
    with open(folder / "log.txt", "wb") as log:
        scheduler = start(*scheduling, stdout=log, stderr=log, cwd=folder)
        workers = []
        try:
            until(address.exists, scheduler)
            workers = [
                start(*working, "--name", f"worker {number}", stdout=log, stderr=log, cwd=folder)
                for number in range(2)
            ]
            until(lambda: (folder / "log.txt").read_text().count("Registered to") == 2, scheduler)
            yield json.loads(address.read_text(encoding="utf-8"))["address"], workers
        finally:
            for process in (*workers, scheduler):
                process.kill()
                process.wait()


def check(*arguments):
    return start(
        *("-m", "sheetcheck", "check", *arguments),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
    )


def ended(process):
    out, err = process.communicate(timeout=PATIENCE)
    return process.returncode, out, err


def contents(path):
    """Parts of a workbook, without the moment of the run."""
    with zipfile.ZipFile(path) as package:
        assert package.testzip() is None
        return {
            name: MOMENT.sub(b"", package.read(name))
            for name in package.namelist()
            if not name.startswith("docProps/")
        }


def test_a_worker_that_is_killed_loses_nothing(tmp_path):
    sources, alone, shared = (tmp_path / name for name in ("sources", "alone", "shared"))
    write_registers(sources)
    files = "--json", alone / "all.json", "--csv", alone / "all.csv"
    status, _, err = ended(check(sources, "--out", alone, "--workers", "1", *files))
    assert (status, err) == (0, "")

    (tmp_path / "cluster").mkdir()
    with cluster(tmp_path / "cluster") as (address, workers):
        assert address.startswith("tcp://127.0.0.1:")
        files = "--json", shared / "all.json", "--csv", shared / "all.csv"
        process = check(sources, "--out", shared, "--scheduler", address, *files)
        until(lambda: any(shared.glob("*.checked.xlsx")), process)
        workers[0].kill()
        assert len(list(shared.glob("*.checked.xlsx"))) < WORKBOOKS
        status, said, err = ended(process)
    assert (status, err) == (0, "")

    assert said.count(".checked.xlsx\n") == WORKBOOKS
    names = sorted(path.name for path in shared.iterdir())
    assert names == sorted(path.name for path in alone.iterdir())
    assert len(names) == WORKBOOKS + 3
    for name in ("all.json", "all.csv"):
        assert (shared / name).read_bytes() == (alone / name).read_bytes()
    for path in alone.glob("*.xlsx"):
        assert contents(shared / path.name) == contents(path)


def test_no_scheduler_at_the_address_is_one_clear_line(tmp_path, monkeypatch):
    write_registers(tmp_path / "sources")
    # Port 9 of the loopback address is the discard service, which nothing here runs.
    process = check(
        *(tmp_path / "sources", "--no-workbook", "--json", "-"),
        *("--scheduler", "tcp://127.0.0.1:9"),
    )
    status, out, err = ended(process)
    assert (status, out) == (2, "")
    assert err.startswith("sheetcheck: --scheduler tcp://127.0.0.1:9: no Dask scheduler answers")
    assert err.count("\n") == 1
