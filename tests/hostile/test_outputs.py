"""What is read is never written over; pipes, devices and terminals that do not take everything.

Every option that names a file is given every kind of path. What is held here is this project's
own public contract; no outside source says how it must be.
"""

from __future__ import annotations

import csv
import os
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sheetcheck import files, intake
from sheetcheck.cli import app
from sheetcheck.run import Options, plan

from .conftest import the_line
from .packages import HEADINGS, ROWS, register, repacked, xlsx

PROJECT = Path(__file__).parents[2]
posix = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a POSIX system")


def call(*arguments):
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


# --- no output is a file that the call reads ----------------------------------------------------

# IN is read and OUT is written; they are made one file in every way that there is.
CALLS = [
    "check IN --json OUT",
    "check IN --csv OUT",
    "check IN --no-workbook --csv OUT",
    "check r.xlsx --limits IN --csv OUT",
    "check r.xlsx --columns IN --json OUT",
    "check r.xlsx --like IN --json OUT",
    "columns IN --save OUT",
    "columns r.xlsx --columns IN --save OUT",
    "blank OUT --missing-from IN",
    "blank OUT --missing-from r.xlsx --columns IN",
    "rules --limits IN --save OUT",
    "compare IN r.json --json OUT",
    "compare r.json IN --json OUT --no-workbook",
]
SAME = {
    "the same": lambda folder: "in.xlsx",
    "another way": lambda folder: os.path.join("..", folder.name, "in.xlsx"),
    "another case": lambda folder: "IN.xlsX",
    "a link": lambda folder: os.symlink("in.xlsx", "link") or "link",
    "a link to a link": lambda folder: (
        os.symlink("in.xlsx", "one") or os.symlink("one", "two") or "two"
    ),
    "a second name": lambda folder: os.link("in.xlsx", "hard") or "hard",
    "a linked folder": lambda folder: os.symlink(".", "here") or "here/in.xlsx",
}


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


@posix
@pytest.mark.parametrize("same", SAME)
@pytest.mark.parametrize("words", CALLS)
def test_no_output_is_a_file_that_is_read(folder, words, same):
    # Never read: the call is refused before that, whatever they hold.
    for name in ("in.xlsx", "r.xlsx", "r.json"):
        (folder / name).write_text(f"kept {name}")
    out = SAME[same](folder)
    there = {path: path.is_symlink() or path.read_text() for path in folder.iterdir()}
    words = words.replace("IN", "in.xlsx").replace("OUT", out).split()
    more = [] if words[0] in ("columns", "blank", "rules") else ["--out", "new"]
    assert "a file that this call reads" in the_line(call(*words, *more, "--overwrite"))
    found = {path: path.is_symlink() or path.read_text() for path in folder.iterdir()}
    assert found.keys() - {folder / "here"} == there.keys() - {folder / "here"}
    assert all(found[path] == there[path] for path in there if not path.is_dir())


@pytest.mark.parametrize(
    "words",
    [
        "check site_summary.xlsx r.xlsx --out .",
        "check r.checked.xlsx",
        "compare r.compared.xlsx r.json",
    ],
)
def test_nor_is_one_whose_name_the_program_chose(folder, words):
    for name in ("site_summary.xlsx", "r.xlsx", "r.checked.xlsx", "r.json", "r.compared.xlsx"):
        (folder / name).write_text(f"kept {name}")
    assert "a file that this call reads" in the_line(call(*words.split(), "--overwrite"))
    assert all(path.read_text() == f"kept {path.name}" for path in folder.iterdir())


def test_two_outputs_are_never_one_file(folder):
    (folder / "r.xlsx").write_bytes(register())
    for one, other in (("a", "a"), ("a", "./A"), ("site/../a", "a"), ("r.checked.xlsx", "b")):
        line = the_line(call("check", "r.xlsx", "--json", one, "--csv", other, "--overwrite"))
        assert "named for two outputs" in line
    assert "folder" in the_line(call("check", "r.xlsx", "--json", ".", "--overwrite"))
    assert [path.name for path in folder.iterdir()] == ["r.xlsx"]


def test_results_that_do_not_fit_into_a_copy_take_no_other_s_name(folder):
    origin = b"application/vnd.openxmlformats-package.digital-signature-origin"
    added = b'<Default Extension="sigs" ContentType="' + origin + b'"/></Types>'
    signed = repacked(
        register(), {"[Content_Types].xml": lambda part: part.replace(b"</Types>", added)}
    )
    (folder / "r.xlsm").write_bytes(signed)
    (folder / "r.xlsx").write_bytes(xlsx([HEADINGS, *ROWS, ["CV-3", 900, 1.5, 35, "no"]]))
    (folder / "s.xlsm").write_bytes(signed)
    result = call("check", "r.xlsm", "r.xlsx", "s.xlsm", "--workers", "1")
    assert result.exit_code == 0, result.output
    results = ["r.checked apart.xlsx", "r.checked.xlsx", "s.checked.xlsx"]
    assert sorted(path.name for path in folder.glob("*.checked*")) == results
    for name, rows in zip(results, (2, 3, 2), strict=True):
        assert f"written: {name}\n" in result.stdout
        found = intake.record_lines(folder / name)
        assert sum(line[0] == "row" for line in found) == rows


# --- what is read must be a file ----------------------------------------------------------------

READ = [
    "check PATH",
    "check r.xlsx --limits PATH",
    "check r.xlsx --columns PATH",
    "check r.xlsx --like PATH",
    "columns PATH",
    "columns r.xlsx --columns PATH",
    "blank new.xlsx --missing-from PATH",
    "rules --limits PATH",
    "compare PATH r.xlsx",
    "compare PATH.json r.xlsx",
]


@posix
@pytest.mark.parametrize(
    ("kind", "says"),
    [
        ("pipe", "is a pipe"),
        ("device", "is a device"),
        ("folder", "is a folder|holds no workbook"),
        ("loop", "cannot be read"),
        ("nothing", "no such file"),
        ("empty", "empty|not whole JSON|no value"),
    ],
)
@pytest.mark.parametrize("words", READ)
def test_what_is_read_is_a_file(folder, words, kind, says):
    (folder / "r.xlsx").write_bytes(register())
    path = folder / ("there.json" if ".json" in words else "there")
    make = {
        "pipe": os.mkfifo,
        "device": lambda path: path.symlink_to("/dev/zero"),
        "folder": Path.mkdir,
        "loop": lambda path: path.symlink_to(path),
        "nothing": lambda path: None,
        "empty": Path.touch,
    }
    make[kind](path)
    result = call(*words.replace("PATH", "there").split())
    if kind == "empty" and {"--limits", "--columns"} & set(words.split()):
        assert result.exit_code == 0  # says nothing, which is something
        return
    line = the_line(result)
    assert any(word in line for word in says.split("|")), line
    assert {item.name for item in folder.iterdir()} <= {"r.xlsx", path.name}


@posix
def test_pipes_and_devices_are_written_to_and_not_replaced(folder):
    (folder / "r.xlsx").write_bytes(register())
    os.mkfifo("pipe")
    taken = []
    reader = threading.Thread(target=lambda: taken.append(Path("pipe").read_bytes()))
    reader.start()
    result = call("check", "r.xlsx", "--no-workbook", "--json", "pipe", "--csv", "/dev/null")
    assert result.exit_code == 0, result.output
    reader.join(60)
    assert taken[0] == call("check", "r.xlsx", "--no-workbook", "--json", "-").stdout.encode()
    assert Path("pipe").is_fifo()
    assert Path("/dev/null").is_char_device()
    os.symlink("loop", "loop")
    assert "cannot be made" in the_line(call("check", "r.xlsx", "--out", "loop"))


@pytest.mark.parametrize("room", ["nan", "inf", "-inf", "0.5", "1e9", "1e999"])
def test_room_is_a_size(folder, room):
    assert "--room" in the_line(call("check", "r.xlsx", "--room", room))


# --- leftovers ----------------------------------------------------------------------------------


def test_what_dead_runs_left_is_removed_and_never_read(folder, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    for name in (".git", ".Trash-0", "sub", ".sheetcheck-abc"):
        (folder / name).mkdir()
        (folder / name / "r.csv").write_bytes(b"Tag,Belt width (mm)\nCV-1,900\n")
    (folder / ".sheetcheck-abc" / "held").touch()
    (folder / ".r.xlsx.7.sheetcheck.part").touch()
    (folder / ".other.part").touch()
    with files.replacing(folder / "live.xlsx", overwrite=False), files.scratch(folder) as mine:
        options = Options(workbook=False)
        assert [job.source.name for job in plan([folder], options)] == ["r.csv"]
        plan([folder], options, [folder / "new.json"])
        names = {path.name for path in folder.iterdir()}
        unfinished = f".live.xlsx.{os.getpid()}.sheetcheck.part"
        assert names == {".git", ".Trash-0", "sub", ".other.part", unfinished, mine.name}


# --- standard output ----------------------------------------------------------------------------


def run(*arguments, stdout=subprocess.PIPE, **environment):
    return subprocess.run(
        [sys.executable, "-m", "sheetcheck", *map(str, arguments)],
        stdout=stdout,
        stderr=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": str(PROJECT)} | environment,
        timeout=120,
    )


def test_an_old_console_gets_what_it_can_show():
    found = run("rules", "load-fill", PYTHONIOENCODING="cp1252")
    assert (found.returncode, found.stderr) == (0, b"")
    assert "load-fill" in found.stdout.decode("cp1252")
    listing = run("rules", PYTHONIOENCODING="ascii").stdout.decode("ascii")
    assert "transition-length-tail" in listing
    assert "CEMA" in listing


@posix
def test_standard_output_that_takes_nothing(folder):
    (folder / "r.xlsx").write_bytes(register())
    with open("/dev/full", "wb") as full:
        found = run("check", "r.xlsx", "--json", "r.json", stdout=full)
    assert found.returncode == 2
    assert found.stderr.count(b"\n") == 1
    assert b"standard output: cannot be written" in found.stderr
    # What can be written is.
    assert {path.name for path in folder.iterdir()} == {"r.xlsx", "r.checked.xlsx", "r.json"}
    reader, writer = os.pipe()
    os.close(reader)
    found = run("check", "r.xlsx", "--no-workbook", "--json", "-", stdout=writer)
    os.close(writer)
    assert (found.returncode, found.stderr) == (0, b"")


def test_csv_goes_to_standard_output_alone(folder):
    (folder / "r.xlsx").write_bytes(xlsx([HEADINGS, *ROWS]))
    result = call("check", "r.xlsx", "--no-workbook", "--csv", "-")
    assert result.exit_code == 0
    assert {line["tag"] for line in csv.DictReader(result.stdout.splitlines())} == {"CV-1", "CV-2"}
    assert "both" in the_line(call("check", "r.xlsx", "--csv", "-", "--json", "-"))


# --- a fault of the program ---------------------------------------------------------------------


def test_a_fault_of_the_program_has_its_own_status(folder, monkeypatch):
    def faulty(path, **more):
        raise ZeroDivisionError("as if there were a fault")

    monkeypatch.setattr(intake, "read_register", faulty)
    for name in ("r.xlsx", "s.xlsx"):
        (folder / name).write_bytes(register())
    alone = call("check", "r.xlsx")
    assert (alone.exit_code, alone.stderr.count("\n")) == (70, 1)
    assert "fault of this program (ZeroDivisionError" in alone.stderr
    assert call("check", "r.xlsx", "s.xlsx", "--workers", "1").exit_code == 3
    assert call("blank", "b.xlsx", "--missing-from", "r.xlsx").exit_code == 70
    monkeypatch.setenv("SHEETCHECK_TRACEBACK", "1")
    assert "Traceback" in call("check", "r.xlsx").stderr
