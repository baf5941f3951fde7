"""The process that reads a workbook: what ends it, what it may send, and what it costs.

What is held here is the project's own promise; no outside source says how it must be.
"""

from __future__ import annotations

import datetime
import io
import os
import pickle
import signal
import sys
import threading
import time

import pytest

from sheetcheck.errors import UnusableInput
from sheetcheck.intake import isolate
from sheetcheck.intake.isolate import read_apart
from sheetcheck.intake.limits import MOST_MEMORY, MOST_SECONDS, Allowance
from sheetcheck.intake.sheets import read_sheets

from .packages import SHEET, STRINGS, register, repacked

posix = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that copies processes")


def endless():
    """A sheet of cells that do not say where they stand: each takes longer than others do."""
    rows = (b"<row>" + b"<c/>" * 16_000 + b"</row>") * 60
    return repacked(
        register(), {SHEET: lambda part: part.replace(b"</sheetData>", rows + b"</sheetData>")}
    )


def refusal(content, allowance=None):
    with pytest.raises(UnusableInput) as caught:
        list(read_apart(content, "register.xlsx", allowance or Allowance()))
    return str(caught.value)


def test_what_comes_back_is_what_was_read():
    content, allowance = register(), Allowance()
    here = list(read_sheets(content, "register.xlsx", allowance))
    assert [m for m in here if m[0] != "size"] == list(
        read_apart(content, "register.xlsx", allowance)
    )


def test_a_workbook_that_takes_too_long_is_ended():
    start = time.monotonic()
    assert "takes more than 1 s" in refusal(endless(), Allowance(seconds=0.8))
    assert time.monotonic() - start < 5


def test_time_and_memory_grow_with_the_workbook_and_with_room():
    usual = Allowance()
    assert usual.seconds_for(0) == MOST_SECONDS
    assert usual.memory_for(0) == MOST_MEMORY
    assert usual.seconds_for(1 << 30) > usual.seconds_for(1 << 20)
    assert usual.memory_for(1 << 30) > 1 << 30
    assert usual.times(3).memory_for(0) == 3 * MOST_MEMORY
    assert usual.times(3).cells == 3 * usual.cells


@posix
@pytest.mark.parametrize("how", ["SIGKILL", "SIGABRT", "SIGSEGV", "SIGTERM"])
def test_a_reader_that_is_killed_is_one_line(how):
    """As by a lack of memory, a failed allocation, a fault in native code, or an administrator."""

    def kill():
        while not isolate._idle and time.monotonic() < end:
            time.sleep(0.01)

    end = time.monotonic() + 10
    reader = isolate._standing_by()
    isolate._idle.append(reader)
    pid = reader._process.pid
    thread = threading.Timer(0.3, os.killpg, (pid, getattr(signal, how)))
    thread.start()
    said = refusal(endless(), Allowance(seconds=30))
    thread.join()
    assert "damaged, or needs more than" in said
    # The next workbook has a reader of its own.
    assert len(list(read_apart(register(), "register.xlsx", Allowance()))) == 3


def test_a_reader_that_dies_idle_costs_nothing():
    list(read_apart(register(), "register.xlsx", Allowance()))
    for reader in isolate._idle:
        reader._process.kill()
        reader._process.wait()
    assert len(list(read_apart(register(), "register.xlsx", Allowance()))) == 3


def test_nothing_sent_can_call_anything():
    class Harm:
        def __reduce__(self):
            return os.system, ("exit 1",)

    sent = io.BytesIO(pickle.dumps(("rows", 0, [[Harm()]])))
    with pytest.raises(pickle.UnpicklingError, match="no plain value"):
        isolate._Plain(sent).load()
    plain = ("rows", 2, [[1.0, "x", True, None, datetime.date(2024, 3, 6), datetime.time(7)]])
    assert isolate._Plain(io.BytesIO(pickle.dumps(plain))).load() == plain


@posix
def test_the_reader_can_write_no_file_and_leaves_no_core(tmp_path):
    import resource

    copy = os.fork()
    if not copy:
        isolate._hold(Allowance(), 0)
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        cores = resource.getrlimit(resource.RLIMIT_CORE)[0]
        try:
            (tmp_path / "written").write_bytes(b"x")
        except OSError:
            os._exit(0 if cores == 0 else 2)
        os._exit(1)
    assert os.waitstatus_to_exitcode(os.waitpid(copy, 0)[1]) == 0


@posix
def test_the_reader_ends_with_the_one_who_asks(tmp_path):
    """Even where that one is killed and can tidy nothing up."""
    import subprocess

    code = (
        "import sys, time; from pathlib import Path\n"
        "from sheetcheck.intake import isolate\n"
        "from sheetcheck.intake.workbook import open_book\n"
        "open_book(sys.argv[1])\n"
        "print(isolate._idle[0]._process.pid, flush=True); time.sleep(60)"
    )
    path = tmp_path / "register.xlsx"
    path.write_bytes(register())
    with subprocess.Popen(
        [sys.executable, "-c", code, str(path)],
        stdout=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": isolate._PACKAGE},
    ) as asking:
        pid = int(asking.stdout.readline())
        os.kill(pid, 0)
        asking.kill()
    end = time.monotonic() + 10
    while time.monotonic() < end:
        try:
            with open(f"/proc/{pid}/stat") as file:
                if file.read().rpartition(")")[2].split()[0] == "Z":
                    return  # ended, and not yet taken note of
        except FileNotFoundError:
            return
        time.sleep(0.02)
    pytest.fail("the reader is still there")


def test_reading_apart_costs_little():
    """No more than 0.1 s for an ordinary workbook; the best of some, as the machine is shared."""
    content, allowance = register(), Allowance()

    def best(read):
        times = []
        for _ in range(7):
            start = time.perf_counter()
            list(read(content, "register.xlsx", allowance))
            times.append(time.perf_counter() - start)
        return min(times)

    assert best(read_apart) - best(read_sheets) < 0.1


def test_a_forged_count_of_strings_ends_a_reader_only():
    """Without a process of its own this would end the tests (measured: SIGABRT)."""
    forged = repacked(
        register(),
        {STRINGS: lambda part: part.replace(b'uniqueCount="', b'uniqueCount="4294967295" x="')},
    )
    assert "memory" in refusal(forged)
