"""Reports as files: what goes where, and what a failed run leaves behind."""

from __future__ import annotations

import os
import shutil
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest

from sheetcheck.errors import OutputExists, UnusableCall, UnusableInput
from sheetcheck.findings import evaluate
from sheetcheck.findings.results import Findings
from sheetcheck.intake import read_register
from sheetcheck.report import write_report
from sheetcheck.report.opc import CannotCarry
from tests.report.samples import edited

DEMO = Path(__file__).parents[2] / "demo_workbooks" / "harrow_sidings_acquired.xlsx"
WHEN = datetime(2026, 3, 14, 9, 26)


@pytest.fixture
def source(tmp_path: Path) -> Path:
    return Path(shutil.copy(DEMO, tmp_path / "register.xlsx"))


@pytest.fixture
def findings(source: Path) -> Findings:
    return evaluate(read_register(source), flips=False)


def write(findings: Findings, path: Path, **options: bool) -> list[str]:
    return write_report(findings.register, findings, path, when=WHEN, **options)[1]


def test_a_copy_has_the_source_first_and_then_our_sheets(
    findings: Findings, source: Path, tmp_path: Path
) -> None:
    before = source.read_bytes()
    assert write(findings, tmp_path / "out.xlsx") == []
    book = openpyxl.load_workbook(tmp_path / "out.xlsx")
    names = openpyxl.load_workbook(source).sheetnames
    assert book.sheetnames[: len(names)] == names
    assert [name for name in book.sheetnames if name.startswith("Check ")] == book.sheetnames[
        len(names) :
    ]
    assert book.active.title == names[0]
    assert source.read_bytes() == before
    assert sorted(os.listdir(tmp_path)) == ["out.xlsx", "register.xlsx"]


def test_checking_a_checked_copy_again_gives_the_same_copy(
    findings: Findings, tmp_path: Path
) -> None:
    once, twice = tmp_path / "register.checked.xlsx", tmp_path / "again.xlsx"
    write(findings, once)
    again = evaluate(read_register(once), flips=False)
    assert again.register.values["tag"].tolist() == findings.register.values["tag"].tolist()
    write(again, twice)
    names = openpyxl.load_workbook(twice).sheetnames
    assert names == openpyxl.load_workbook(once).sheetnames


def test_results_only_opens_on_the_results(findings: Findings, tmp_path: Path) -> None:
    assert write(findings, tmp_path / "out.xlsx", report_only=True) == []
    book = openpyxl.load_workbook(tmp_path / "out.xlsx")
    assert book.sheetnames[0] == book.active.title == "Check results"
    assert book.sheetnames[-2:] == ["Check record", "Check verdicts"]


def test_the_same_run_gives_the_same_bytes(findings: Findings, tmp_path: Path) -> None:
    for name in ("one.xlsx", "two.xlsx"):
        write(findings, tmp_path / name)
    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "two.xlsx").read_bytes()


def test_a_workbook_that_takes_no_sheets_gets_results_of_their_own(
    source: Path, tmp_path: Path
) -> None:
    signed = edited(
        source.read_bytes(),
        "[Content_Types].xml",
        b"</Types>",
        b'<Default Extension="sigs" ContentType='
        b'"application/vnd.openxmlformats-package.digital-signature-origin"/></Types>',
    )
    source.write_bytes(signed)
    (note,) = write(evaluate(read_register(source), flips=False), tmp_path / "out.xlsx")
    assert note == (
        "register.xlsx: is signed, and its signature would no longer hold. "
        "The results stand in a workbook of their own."
    )
    assert openpyxl.load_workbook(tmp_path / "out.xlsx").sheetnames[0] == "Check results"


def test_results_of_a_workbook_with_macros_are_never_called_one(
    findings: Findings, source: Path, tmp_path: Path
) -> None:
    notes = write(findings, tmp_path / "out.xlsm", report_only=True)
    assert notes == ["The results are in out.xlsx."]
    assert (tmp_path / "out.xlsx").exists()
    assert not (tmp_path / "out.xlsm").exists()


@pytest.mark.parametrize("report_only", [False, True])
def test_an_existing_file_stays_unless_overwriting_was_asked_for(
    findings: Findings, tmp_path: Path, report_only: bool
) -> None:
    path = tmp_path / "out.xlsx"
    path.write_bytes(b"last year's")
    with pytest.raises(OutputExists):
        write(findings, path, report_only=report_only)
    assert path.read_bytes() == b"last year's"
    write(findings, path, report_only=report_only, overwrite=True)
    assert openpyxl.load_workbook(path).sheetnames


@pytest.mark.parametrize("report_only", [False, True])
def test_the_source_is_never_the_target(
    findings: Findings, source: Path, report_only: bool
) -> None:
    before = source.read_bytes()
    with pytest.raises(UnusableCall, match="is the source itself"):
        write(findings, source, overwrite=True, report_only=report_only)
    assert source.read_bytes() == before


def test_a_source_that_changed_meanwhile_is_refused(
    findings: Findings, source: Path, tmp_path: Path
) -> None:
    source.write_bytes(source.read_bytes() + b" ")
    with pytest.raises(UnusableInput, match="has changed since it was read"):
        write(findings, tmp_path / "out.xlsx")
    assert not (tmp_path / "out.xlsx").exists()


def test_a_copy_that_fails_its_check_is_never_left(
    findings: Findings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise CannotCarry("register.xlsx", "was not carried over whole: a test", "")

    monkeypatch.setattr("sheetcheck.report.write.check_copy", fails)
    (note,) = write(findings, tmp_path / "out.xlsx")
    assert "not carried over whole" in note
    names = openpyxl.load_workbook(tmp_path / "out.xlsx").sheetnames
    assert names[0] == "Check results"
    assert sorted(os.listdir(tmp_path)) == ["out.xlsx", "register.xlsx"]


@pytest.mark.parametrize("report_only", [False, True])
def test_a_full_disk_is_one_line_and_leaves_nothing(
    findings: Findings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, report_only: bool
) -> None:
    path = tmp_path / "out.xlsx"
    path.write_bytes(b"last year's")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("sheetcheck.files.os.fsync", full)
    with pytest.raises(UnusableCall, match=r"cannot be written \(No space left on device\)"):
        write(findings, path, report_only=report_only, overwrite=True)
    assert path.read_bytes() == b"last year's"
    assert sorted(os.listdir(tmp_path)) == ["out.xlsx", "register.xlsx"]


def test_a_folder_that_is_not_there_is_one_line(findings: Findings, tmp_path: Path) -> None:
    with pytest.raises(UnusableCall, match="cannot be written"):
        write(findings, tmp_path / "nowhere" / "out.xlsx")
