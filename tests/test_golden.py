"""Every verdict and sheet on the demo registers, as text beside which a change can be read."""

import json
from datetime import datetime
from functools import cache
from pathlib import Path

import pytest
from openpyxl import load_workbook
from typer.testing import CliRunner

from sheetcheck import __version__
from sheetcheck.cli import app
from sheetcheck.errors import UnusableInput
from sheetcheck.findings import check_register, load_limits
from sheetcheck.findings.compare import compare
from sheetcheck.findings.digest import digest
from sheetcheck.intake import read_register
from sheetcheck.report import write_report
from sheetcheck.report.blank import write_blank
from sheetcheck.report.compare_sheets import comparison_sheets
from sheetcheck.report.json_out import json_pieces
from sheetcheck.report.site_summary import Checked, write_site_summary
from sheetcheck.report.skeleton import BookOptions
from sheetcheck.report.survey import write_survey
from sheetcheck.report.write import write_results
from tests.sheet_text import book_text

ROOT = Path(__file__).parent.parent
GOLDEN = Path(__file__).parent / "golden"
NAMES = ("tern_quay_register", "tern_quay_berths_us", "harrow_sidings_acquired")
WHEN = datetime(2026, 3, 14, 9, 26)


def short(number):
    """A number or a range to six digits, empty where there is none."""
    if isinstance(number, list):
        return " to ".join(short(end) for end in number)
    return "" if number is None else f"{number:.6g}"


def as_text(found):
    lines = ["tag,load point,check,band,found,required,margin,flips"]
    for row in found["rows"]:
        for key, verdict in row["checks"].items():
            flips = "; ".join(
                f"{name} {value if isinstance(value, str) else short(value)}"
                for name, value in verdict["flips_at"].items()
                if value is not None
            )
            lines.append(
                ",".join(
                    (
                        row["tag"],
                        row["load_point"] or "",
                        key,
                        verdict["band"],
                        short(verdict["found"]),
                        short(verdict["required"]),
                        short(verdict["margin"]),
                        flips,
                    )
                )
            )
    lines += [
        f"problem,{problem['sheet']},{' '.join(problem['cells'][:3])},{problem['problem']}"
        for problem in found["problems"]
    ]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("name", NAMES)
def test_verdicts_on_the_demo_registers(name, request):
    workbook = ROOT / "demo_workbooks" / f"{name}.xlsx"
    result = CliRunner().invoke(app, ["check", str(workbook), "--no-workbook", "--json", "-"])
    assert result.exit_code == 0, result.output
    got = as_text(json.loads(result.stdout))
    hold(got, f"{name}.csv", request)


def hold(got, name, request):
    """Hold a text to the golden one, or renew that."""
    golden = GOLDEN / name
    if request.config.getoption("--update-golden"):
        golden.write_text(got, encoding="utf-8")
        return
    want = golden.read_text(encoding="utf-8")
    assert got.splitlines() == want.splitlines(), "python -m pytest --update-golden, and read it"


def demo(name):
    return ROOT / "demo_workbooks" / f"{name}.xlsx"


@cache
def judged(name):
    return check_register(read_register(demo(name)), on=WHEN.date())


def report_text(findings, path, sheets="Check "):
    write_report(findings.register, findings, path, when=WHEN)
    return book_text(path, __version__, sheets)


@pytest.mark.parametrize("name", NAMES)
def test_sheets_of_the_demo_registers(name, tmp_path, request):
    hold(report_text(judged(name), tmp_path / "checked.xlsx"), f"{name}.sheets.txt", request)


# Cells of the demo register that a later survey finds otherwise.
LATER = {"K9": 2600, "T9": 700, "Z9": "dual lip", "AA11": 20, "AG9": "Y", "E10": None, "G15": None}


def test_sheets_of_a_later_run_with_limits_and_of_its_comparison(tmp_path, request):
    """A run with everything that a limits file can say, and what changed since the one without."""
    source = tmp_path / demo(NAMES[2]).name
    book = load_workbook(demo(NAMES[2]))
    sheet = book["Conveyors"]
    for cell, value in LATER.items():
        sheet[cell] = value
    sheet["A11"] = "HS 03 A"
    book.save(source)
    limits = load_limits(GOLDEN / "changed.toml")
    later = check_register(read_register(source), limits, on=WHEN.date())
    sheets = "Check (results|findings|summary|cautions|record)"
    hold(report_text(later, tmp_path / "checked.xlsx", sheets), "changed.sheets.txt", request)
    old, new = (
        [json.loads(b"".join(json_pieces(found, __version__)))]
        for found in (judged(NAMES[2]), later)
    )
    path = tmp_path / "compared.xlsx"
    write_results(
        comparison_sheets(compare(old, new), when=WHEN),
        path,
        BookOptions("Compared", WHEN),
        overwrite=False,
    )
    hold(book_text(path, __version__), "compared.sheets.txt", request)


def test_sheets_of_a_site_summary(tmp_path, request):
    checked = [
        Checked(f"{name}.xlsx", f"{name}.checked.xlsx", digest(judged(name)), None)
        for name in NAMES
    ]
    error = UnusableInput("locked.xlsx", "needs a password", "Save it without one.")
    checked.insert(1, Checked("locked.xlsx", "", None, error))
    path = tmp_path / "summary.xlsx"
    write_site_summary(checked, path, overwrite=False, when=WHEN)
    hold(book_text(path, __version__), "site_summary.sheets.txt", request)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_sheets_of_the_blank_register(units, tmp_path, request):
    path = tmp_path / "blank.xlsx"
    write_blank(path, units)
    hold(book_text(path, __version__), f"blank_{units}.sheets.txt", request)


@pytest.mark.parametrize("name", NAMES[1:])
def test_sheets_of_the_survey_forms(name, tmp_path, request):
    """What a walk-down and the office must find out."""
    path = tmp_path / "survey.xlsx"
    write_survey(judged(name), path, when=WHEN)
    hold(book_text(path, __version__), f"{name}.survey.sheets.txt", request)
