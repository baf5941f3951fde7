"""The public face of the library: what the README shows works, and nothing else is public."""

import subprocess
import sys
from pathlib import Path

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
