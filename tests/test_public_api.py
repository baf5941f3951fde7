"""The public face of the library: what the README shows works, and nothing else is public."""

import subprocess
import sys
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

import sheetcheck
from sheetcheck.checks import CHECKS

HARROW = Path(__file__).parent.parent / "demo_workbooks" / "harrow_sidings_acquired.xlsx"


def test_all_is_what_it_says():
    assert sorted(sheetcheck.__all__) == list(sheetcheck.__all__)
    for name in sheetcheck.__all__:
        assert getattr(sheetcheck, name) is not None
    with pytest.raises(AttributeError, match="nothing_here"):
        _ = sheetcheck.nothing_here


def test_importing_it_loads_nothing_heavy():
    code = "import sys, sheetcheck; print(sorted({'numpy', 'pandas', 'pint'} & set(sys.modules)))"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


@pytest.fixture(scope="module")
def register():
    return sheetcheck.read_register(HARROW)


@pytest.fixture(scope="module")
def findings(register):
    return sheetcheck.run_checks(register)


def test_the_register_is_a_table_in_si_with_its_cells(register):
    table = register.table
    assert isinstance(table, pd.DataFrame)
    assert len(table) == len(register)
    row = table.index[table["tag"] == "HS 12B"][0]
    assert 0.3 <= table["belt_width"][row] <= 2.6
    assert register.cells.address(row, "belt_width").startswith("Conveyors!D")
    assert {column.field for column in register.columns} >= {"tag", "belt_width"}
    assert all(problem.what_to_do for problem in register.problems)


def test_findings_are_a_long_table(register, findings):
    assert len(findings) == len(register) * len(CHECKS)
    assert list(findings["check"][: len(CHECKS)]) == list(CHECKS)
    short = findings[findings["band"] == "falls short"]
    assert (short["remedy"] != "").all()
    assert (short["source"] != "").all()


def test_a_plant_limit_changes_its_check_alone(register, findings):
    tight = sheetcheck.run_checks(register, limits={"load-width": {"share": 0.3}})
    changed = findings["band"] != tight["band"]
    assert set(findings["check"][changed]) == {"load-width"}


def test_the_report_is_written_from_what_run_checks_gave(register, findings, tmp_path):
    target = tmp_path / "out.xlsx"
    sheetcheck.write_report(register, findings, target)
    assert target.exists()
    with pytest.raises(sheetcheck.OutputExists):
        sheetcheck.write_report(register, findings, target)
    other = sheetcheck.read_register(HARROW)
    with pytest.raises(sheetcheck.UnusableCall):
        sheetcheck.write_report(other, findings, tmp_path / "other.xlsx")


def test_numbers_of_the_table_sort_and_ranges_have_two_ends(register, findings):
    for name in ("found", "required", "margin", "relative_margin"):
        assert findings[name].dtype == findings[f"{name}_high"].dtype == float
    ordered = findings.sort_values("margin")["margin"].dropna()
    assert ordered.is_monotonic_increasing
    ranged = findings[findings["found"] < findings["found_high"]]
    assert len(ranged)
    held = findings.attrs["findings"]
    for row, key, low, high in ranged[["row", "check", "found", "found_high"]].values.tolist():
        assert held.verdict(key, row).found == (low, high)


def test_a_report_of_part_of_the_table_holds_that_part(register, findings, tmp_path):
    part = findings[(findings["band"] == "falls short") & (findings["row"] % 2 == 0)]
    sheetcheck.write_report(register, part, tmp_path / "part.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "part.xlsx")["Check results"]
    titles = {check.title for check in CHECKS.values()}
    bands = [
        cell.value
        for column in sheet.iter_cols(min_row=4)
        if column[0].value in titles
        for cell in column[1:]
    ]
    assert bands.count("falls short") == len(part) > 0
    assert set(bands) == {"falls short", "not applicable"}
    sheetcheck.write_report(register, findings.sort_values("margin"), tmp_path / "whole.xlsx")


@pytest.mark.parametrize("name", ["out.csv", "out.pdf", "out", "out.xlsm"])
def test_an_ending_that_cannot_be_written_is_refused(register, findings, tmp_path, name):
    with pytest.raises(sheetcheck.UnusableCall, match=r"does not end in \.xlsx"):
        sheetcheck.write_report(register, findings, tmp_path / name)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("limits", "said"),
    [
        ({"load-wdth": {"share": 0.5}}, "'load-wdth' is no check. Did you mean load-width"),
        ({"load-width": {"shaer": 0.5}}, "'shaer' is no limit of load-width. Did you mean share"),
        ({"load-width": {"share": -0.5}}, "limits.load-width.share.value: share cannot be -0.5"),
        ({"load-width": {"share": float("nan")}}, "value is not a number"),
        ({"load-width": {"share": "a half"}}, "'a half' is not a number"),
        ({"tracking-reach": {"long_reach": 10.0}}, "long_reach of tracking-reach .* is below"),
        ({"access-guard": {"least": 1.0}}, "access-guard has no limit to change"),
    ],
)
def test_limits_that_a_file_could_not_hold_are_refused_in_a_call(register, limits, said):
    with pytest.raises(sheetcheck.UnusableCall, match=said):
        sheetcheck.run_checks(register, limits=limits)


def test_what_the_calls_take_and_give_can_be_named(register, findings):
    assert isinstance(register, sheetcheck.Register)
    assert isinstance(findings.attrs["findings"], sheetcheck.Findings)
