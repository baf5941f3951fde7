"""Many workbooks at once: the same results as one by one, whatever happens to one of them.

What is held here is this project's own public contract; no outside source says how it must be.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import pickle
import signal
import subprocess
import sys
import threading
import time
import zipfile
from collections import Counter
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook

from sheetcheck.checks import CHECKS
from sheetcheck.errors import UnusableCall
from sheetcheck.register.register import same_tag_key
from sheetcheck.run import Job, Options, do, plan, run

PROJECT = Path(__file__).parent.parent
PATIENCE = 60.0  # seconds until a test gives up waiting for another process
HEADINGS = ["Tag", "Belt width (mm)", "Trough angle (°)", "Chute width inside (mm)", "Nip guards"]

posix = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")


def write_register(path, rows):
    book = Workbook()
    sheet = book.active
    sheet.title = "Conveyors"
    for row in (HEADINGS, *rows):
        sheet.append(row)
    book.save(path)


@pytest.fixture
def folder(tmp_path):
    """Three small registers; no two of them give the same verdicts."""
    sources = tmp_path / "sources"
    sources.mkdir()
    for number, name in enumerate(("quay", "screens", "yard"), start=1):
        rows = [
            [f"{name}-{row}", 800 + 200 * number, 35, 400 + 100 * row, "yes" if row % 2 else "no"]
            for row in range(1, number + 2)
        ]
        write_register(sources / f"{name}.xlsx", rows)
    return sources


def sheetcheck(*arguments, **more):
    """Start the command line in a process of its own, and of its own group."""
    return subprocess.Popen(
        [sys.executable, "-m", "sheetcheck", *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": os.pathsep.join((HOOKED.get("at", ""), str(PROJECT)))},
        text=True,
        encoding="utf-8",
        start_new_session=True,
        **more,
    )


def ended(process):
    out, err = process.communicate(timeout=PATIENCE)
    return process.returncode, out, err


def until(condition):
    end = time.monotonic() + PATIENCE
    while not condition():
        assert time.monotonic() < end, "waited too long"
        time.sleep(0.01)


def silent(done, total, name):
    pass


def test_any_number_of_workers_gives_the_same_bytes(folder, tmp_path):
    written = []
    for workers in (1, 2):
        out = tmp_path / f"out{workers}"
        files = out / "all.json", out / "all.csv"
        process = sheetcheck(
            "check",
            folder,
            "--out",
            out,
            "--workers",
            workers,
            "--json",
            files[0],
            "--csv",
            files[1],
        )
        status, said, err = ended(process)
        assert (status, err) == (0, "")
        assert [line for line in said.splitlines() if line.startswith(str(folder))] == sorted(
            line for line in said.splitlines() if line.startswith(str(folder))
        )
        written.append([file.read_bytes() for file in files])
        assert sorted(path.name for path in out.iterdir()) == [
            "all.csv",
            "all.json",
            "quay.checked.xlsx",
            "screens.checked.xlsx",
            "site_summary.xlsx",
            "yard.checked.xlsx",
        ]
    assert written[0] == written[1]
    books = json.loads(written[0][0])["workbooks"]
    assert [book["source"]["file"] for book in books] == ["quay.xlsx", "screens.xlsx", "yard.xlsx"]


def test_each_part_of_a_joint_json_is_what_the_workbook_gives_alone(folder, tmp_path):
    joint = tmp_path / "joint.json"
    status, _, _ = ended(sheetcheck("check", folder, "--no-workbook", "--json", joint))
    assert status == 0
    books = json.loads(joint.read_text(encoding="utf-8"))["workbooks"]
    for source, book in zip(sorted(folder.iterdir()), books, strict=True):
        alone = Job(source, None, json=tmp_path / "alone.json")
        assert do(alone, Options()).error is None
        assert json.loads(alone.json.read_text(encoding="utf-8")) == book


def test_a_process_that_outlives_a_run_reads_changed_limits_again(folder, tmp_path):
    """As a scheduler's worker does, which keeps what it has read for a run's next workbook."""
    limits = tmp_path / "limits.toml"
    job = Job(folder / "quay.xlsx", None, json=tmp_path / "out.json")
    shares = []
    for share in ("0.60", "0.30"):
        limits.write_text(
            f'[limits.load-width.share]\nvalue = {share}\nunit = "1"\n'
            'set_by = "R. Amsel"\nwhy = "trial"\ndate = 2026-11-02\n'
        )
        options = pickle.loads(pickle.dumps(Options(workbook=False, limits=limits)))
        assert do(job, options).error is None
        row = json.loads(job.json.read_text(encoding="utf-8"))["rows"][0]
        shares.append(row["checks"]["load-width"]["required"] / row["values"]["belt_width"])
    assert shares == pytest.approx([0.6, 0.3])


def test_json_goes_to_standard_output_too(folder, tmp_path):
    alone = Job(folder / "quay.xlsx", None, json=tmp_path / "alone.json")
    assert do(alone, Options()).error is None
    status, out, err = ended(sheetcheck("check", alone.source, "--no-workbook", "--json", "-"))
    assert (status, err) == (0, "")
    assert out == alone.json.read_text(encoding="utf-8") + "\n"


def test_a_workbook_that_cannot_be_read_stops_no_other(folder, tmp_path):
    (folder / "roads.xlsx").write_bytes(b"PK\x03\x04 no workbook at all")
    out = tmp_path / "out"
    status, _, err = ended(
        sheetcheck("check", folder, "--out", out, "--workers", 2, "--json", out / "all.json")
    )
    assert status == 3
    assert err.count("\n") == 1
    assert "roads.xlsx" in err
    found = json.loads((out / "all.json").read_text(encoding="utf-8"))["workbooks"]
    assert [book["source"]["file"] for book in found] == ["quay.xlsx", "screens.xlsx", "yard.xlsx"]
    [workbook, why, what_to_do] = cells_of(out / "site_summary.xlsx", "Could not be checked")[3]
    assert workbook == "roads.xlsx"  # below the folder of all: no path of this machine
    assert "roads.xlsx" in why
    assert what_to_do


def cells_of(path, sheet):
    book = load_workbook(path, read_only=True)
    cells = [list(row) for row in book[sheet].iter_rows(values_only=True)]
    book.close()
    return cells


def test_the_site_summary_counts_what_the_json_says(folder, tmp_path):
    out = tmp_path / "out"
    status, _, _ = ended(sheetcheck("check", folder, "--out", out, "--json", out / "all.json"))
    assert status == 0
    books = json.loads((out / "all.json").read_text(encoding="utf-8"))["workbooks"]
    cells = cells_of(out / "site_summary.xlsx", "Workbooks")
    heading = cells[2]
    for line, book in zip(cells[3:], books, strict=False):
        shown = dict(zip(heading, line, strict=True))
        assert Path(shown["Workbook"]).name == book["source"]["file"]
        assert shown["Rows"] == len(book["rows"])
        for band in ("falls short", "marginal", "meets", "not judged", "not applicable"):
            assert shown[band.capitalize()] == book["summary"]["bands"][band]

    every = [
        (key, verdict["band"])
        for book in books
        for row in book["rows"]
        for key, verdict in row["checks"].items()
    ]
    by_check = Counter(every)
    heading, *lines = cells_of(out / "site_summary.xlsx", "Checks")[2:]
    for line in lines:
        shown = dict(zip(heading, line, strict=True))
        key = next(key for key, check in CHECKS.items() if check.title == shown["Check"])
        assert shown["Falls short"] == by_check[key, "falls short"], key
        assert shown["Not judged"] == by_check[key, "not judged"], key

    # A check counts once for a conveyor, at however many load points it falls short.
    short = {
        (same_tag_key(row["tag"]), key)
        for book in books
        for row in book["rows"]
        for key, verdict in row["checks"].items()
        if verdict["band"] == "falls short"
        and key.startswith(("access-", "housekeeping-", "tracking-edge"))
    }
    people = Counter(tag for tag, _ in short)
    heading, *lines = cells_of(out / "site_summary.xlsx", "Worst conveyors")[2:]
    shown = [dict(zip(heading, line, strict=True)) for line in lines]
    tags = [same_tag_key(row["Tag"]) for row in shown]
    assert len(tags) == len(set(tags))
    assert [row["For people"] for row in shown] == [people[tag] for tag in tags]
    assert [row["For people"] for row in shown] == sorted(
        (row["For people"] for row in shown), reverse=True
    )
    assert set(tags) >= set(people)


def test_one_workbook_has_no_site_summary(folder, tmp_path):
    out = tmp_path / "out"
    assert ended(sheetcheck("check", folder / "quay.xlsx", "--out", out))[0] == 0
    assert [path.name for path in out.iterdir()] == ["quay.checked.xlsx"]


def test_a_site_summary_that_is_there_is_refused_before_any_work(folder, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    (out / "site_summary.xlsx").write_bytes(b"kept")
    status, _, err = ended(sheetcheck("check", folder, "--out", out))
    assert status == 2
    assert "site_summary.xlsx" in err
    assert [path.name for path in out.iterdir()] == ["site_summary.xlsx"]
    assert (out / "site_summary.xlsx").read_bytes() == b"kept"


def test_a_fault_in_one_workbook_is_reported_and_stops_no_other(folder, monkeypatch):
    from sheetcheck import intake

    read = intake.read_register

    def faulty(path, **more):
        if path.stem == "screens":
            raise ZeroDivisionError("as if there were a fault")
        return read(path, **more)

    monkeypatch.setattr(intake, "read_register", faulty)
    jobs = plan([folder], Options(workbook=False))
    found = list(run(jobs, Options(workbook=False), silent))
    assert [one.error is None for one in found] == [True, False, True]
    assert "screens.xlsx" in str(found[1].error)
    assert "ZeroDivisionError" in str(found[1].error)


def test_progress_counts_to_the_end(folder):
    options = Options(workbook=False)
    said = []
    jobs = plan([folder], options)
    found = list(run(jobs, options, lambda *about: said.append(about), workers=2))
    assert [one.job for one in found] == jobs
    assert [done for done, _, _ in said] == sorted(done for done, _, _ in said)
    assert said[0][0] == 0
    assert said[-1] == (3, 3, "")
    assert {total for _, total, _ in said} == {3}


# --- processes that are stopped ---------------------------------------------------------------


HOOKED: dict[str, str] = {}
HOOK = """\
import pathlib
read = pathlib.Path.read_bytes

def waiting(path):
    return read(path.with_suffix(".pipe") if path.name == "stuck.xlsx" else path)

pathlib.Path.read_bytes = waiting
"""


@pytest.fixture
def stuck(folder, tmp_path, monkeypatch):
    """A workbook that is never read: that waits until somebody writes into the pipe beside it."""
    hook = tmp_path / "hook"
    hook.mkdir()
    (hook / "sitecustomize.py").write_text(HOOK)
    monkeypatch.setenv("PYTHONPATH", str(hook))
    monkeypatch.setitem(HOOKED, "at", str(hook))
    (folder / "stuck.xlsx").write_bytes(b"what the pipe holds stands for it")
    os.mkfifo(folder / "stuck.pipe")
    return folder / "stuck.xlsx"


def kill_reader(stuck, times, content=b""):
    """Kill the batch's processes when one reads `stuck`, so often; then let it be read."""
    pipe = stuck.with_suffix(".pipe")

    def act():
        for _ in range(times):
            writer = os.open(pipe, os.O_WRONLY)  # waits until somebody reads
            for process in multiprocessing.active_children():
                process.kill()
                process.join()
            os.close(writer)
        if content:
            pipe.write_bytes(content)

    thread = threading.Thread(target=act, daemon=True)
    thread.start()
    return thread


@posix
@pytest.mark.parametrize("place", [0, 1, 3])
def test_a_process_that_is_killed_costs_nothing_if_the_next_one_lives(
    folder, stuck, tmp_path, place
):
    names = ["quay", "screens", "yard"]
    names.insert(place, "stuck")
    options = Options(workbook=False)
    jobs = [Job(folder / f"{name}.xlsx", None, json=tmp_path / f"{name}.json") for name in names]
    content = (folder / "quay.xlsx").read_bytes()
    thread = kill_reader(stuck, 1, content)
    found = list(run(jobs, options, silent, workers=2))
    thread.join(PATIENCE)
    assert [one.error for one in found] == [None] * 4
    assert [one.job for one in found] == jobs
    for job in jobs:
        alone = Job(
            folder / "quay.xlsx" if job.source == stuck else job.source,
            None,
            json=tmp_path / "alone.json",
        )
        assert do(alone, options).error is None
        expected = alone.json.read_text(encoding="utf-8").replace(
            alone.source.name, job.source.name
        )
        assert job.json.read_text(encoding="utf-8") == expected


@posix
def test_a_process_that_is_killed_twice_costs_its_workbook_only(folder, stuck, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    options = Options(out=out)
    jobs = plan([folder / f"{name}.xlsx" for name in ("quay", "stuck", "yard")], options)
    left = out / ".stuck.checked.xlsx.1.sheetcheck.part"
    left.write_bytes(b"what a killed process leaves behind")
    thread = kill_reader(stuck, 2)
    found = list(run(jobs, options, silent, workers=2))
    thread.join(PATIENCE)
    assert [one.error is None for one in found] == [True, False, True]
    assert "stuck.xlsx" in str(found[1].error)
    assert "stopped from outside" in str(found[1].error)
    assert sorted(path.name for path in out.iterdir()) == [
        "quay.checked.xlsx",
        "yard.checked.xlsx",
    ]


def under_way(folder, stuck, out, workers):
    """A batch that has one job done and one under way for good; and what keeps it so."""
    sources = [folder / "quay.xlsx", stuck, folder / "yard.xlsx", folder / "screens.xlsx"]
    process = sheetcheck(
        "check", *sources, "--out", out, "--workers", workers, "--json", out / "all.json"
    )
    first = out / "quay.checked.xlsx"
    until(first.exists)
    return process, os.open(stuck.with_suffix(".pipe"), os.O_WRONLY)


@posix
@pytest.mark.parametrize(
    ("workers", "number"), [(1, signal.SIGTERM), (2, signal.SIGINT), (2, signal.SIGHUP)]
)
def test_a_batch_that_is_stopped_leaves_whole_files_only(folder, stuck, tmp_path, workers, number):
    out = tmp_path / "out"
    process, writer = under_way(folder, stuck, out, workers)
    # A terminal stops all its processes; whoever ends or hangs up on one, that one.
    (os.killpg if number == signal.SIGINT else os.kill)(process.pid, number)
    status, _, err = ended(process)
    os.close(writer)
    assert status == 128 + number
    assert err == "sheetcheck: stopped; finished outputs are whole\n"
    names = {path.name for path in out.iterdir()}
    assert "quay.checked.xlsx" in names
    assert names <= {"quay.checked.xlsx", "yard.checked.xlsx", "screens.checked.xlsx"}
    for path in out.iterdir():
        with zipfile.ZipFile(path) as package:
            assert package.testzip() is None


@posix
def test_a_batch_that_is_killed_ends_its_workers_and_is_swept_up_after(folder, stuck, tmp_path):
    out = tmp_path / "out"
    process, writer = under_way(folder, stuck, out, 2)
    process.kill()
    assert ended(process)[0] == -signal.SIGKILL  # and no other holds its output any more
    os.close(writer)
    (left,) = out.glob(".sheetcheck-*")
    (left / "register.xlsx").write_bytes((folder / "quay.xlsx").read_bytes())
    assert ended(sheetcheck("check", out, "--out", tmp_path / "again"))[0] == 2  # no register
    (folder / "stuck.xlsx").unlink()
    assert ended(sheetcheck("check", folder, "--out", out, "--overwrite"))[::2] == (0, "")
    assert not [path for path in out.iterdir() if path.name.startswith(".")]


def test_without_the_package_a_scheduler_cannot_be_used(folder, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    jobs = plan([folder], Options(workbook=False))
    running = run(jobs, Options(workbook=False), silent, scheduler="tcp://127.0.0.1:8786")
    with pytest.raises(UnusableCall, match=r"sheetcheck\[cluster\]"):
        next(running)
