"""The demo registers are what their script makes, and show every band that a check can give."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from python_calamine import CalamineWorkbook

import sheetcheck

DEMOS = Path(__file__).parents[2] / "demo_workbooks"
NAMES = (
    "tern_quay_register.xlsx",
    "tern_quay_berths_us.xlsx",
    "harrow_sidings_acquired.xlsx",
)

M, G, F, N = "meets", "marginal", "falls short", "not judged"
A, INFO = "not applicable", "information"

# The bands that each check can give, by its rules.
POSSIBLE = {
    "transition-length-tail": {M, G, F, N, A},
    "transition-length-head": {M, G, F, N, A},
    "transition-tension-tail": {M, G, F, N, A},
    "transition-tension-head": {M, G, F, N, A},
    "transition-loading": {M, G, F, N, A},
    "transition-idlers": {M, F, N, A},
    "load-width": {M, F, N},
    "load-lump": {M, F, N},
    "load-fill": {M, G, F, N, A},
    "load-support": {M, G, F, N},
    "load-impact": {INFO},
    "seal-edge": {M, G, F, N},
    "seal-wander": {M, G, F, N, A},
    "seal-chute-max": {INFO},
    "seal-length": {M, G, F, N},
    "seal-kind": {M, G, F, N},
    "seal-air": {M, G, F, N, INFO},
    "cleaning-stages": {M, F, N, A},
    "cleaning-blade": {M, G, F, N, A},
    "cleaning-duty": {M, F, N, A},
    "cleaning-carryback": {M, G, F, N, A, INFO},
    "cleaning-plough": {M, F, N, A},
    "tracking-places": {M, G, F, N, A},
    "tracking-reach": {M, G, F, N, A},
    "tracking-face": {M, F, N, A},
    "tracking-clearance": {M, F, N, A},
    "tracking-crown": {M, F, N, A},
    "tracking-edge": {M, G, F, N, A},
    "tracking-switches": {M, F, N, A},
    "access-opening": {M, G, F, N},
    "access-closure": {M, G, F, N, A},
    "access-barrier": {M, F, N, A},
    "access-isolation": {M, F, N},
    "access-guard": {M, F, N},
    "access-stop": {M, F, N},
    "access-service": {M, F, N},
    "housekeeping-spillage": {M, G, F, N},
    "housekeeping-dust": {M, G, F, N, A},
    "housekeeping-cost": {INFO},
}


def contents(path: Path) -> dict[str, list]:
    with CalamineWorkbook.from_path(str(path)) as workbook:
        return {
            name: workbook.get_sheet_by_name(name).to_python() for name in workbook.sheet_names
        }


def test_the_script_makes_the_workbooks_that_stand_here_and_the_same_bytes_each_time(tmp_path):
    once, again = tmp_path / "once", tmp_path / "again"
    for folder in (once, again):
        folder.mkdir()
        subprocess.run([sys.executable, str(DEMOS / "build.py"), str(folder)], check=True)
    for name in NAMES:
        assert (once / name).read_bytes() == (again / name).read_bytes()
        # cells, not bytes: another release of the writing library may pack them differently
        assert contents(once / name) == contents(DEMOS / name)


@pytest.mark.parametrize("name", NAMES)
def test_each_workbook_says_that_it_is_invented(name):
    first = next(iter(contents(DEMOS / name).values()))
    assert any("Invented" in str(cell) for row in first[:5] for cell in row)


def bands_in(name: str) -> dict[str, set[str]]:
    findings = sheetcheck.run_checks(sheetcheck.read_register(DEMOS / name))
    return {key: set(group) for key, group in findings.groupby("check")["band"]}


@pytest.fixture(scope="module")
def seen() -> dict[str, dict[str, set[str]]]:
    return {name: bands_in(name) for name in NAMES}


def test_over_the_three_registers_every_band_of_every_check_occurs(seen):
    for key, possible in POSSIBLE.items():
        over_all = set().union(*(found[key] for found in seen.values()))
        assert over_all == possible, key
    assert all(found.keys() == POSSIBLE.keys() for found in seen.values())


def test_the_register_nobody_tidied_gives_each_of_the_five_verdict_bands(seen):
    assert set().union(*seen["harrow_sidings_acquired.xlsx"].values()) >= {M, G, F, N, A}
