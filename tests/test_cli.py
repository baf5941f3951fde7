"""The command line as its user meets it: outputs, exit statuses, one clear line for bad input."""

import csv
import hashlib
import json
import shutil
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest
from typer.testing import CliRunner

from sheetcheck import __version__
from sheetcheck.checks import CHECKS
from sheetcheck.cli import app
from sheetcheck.findings import BANDS
from sheetcheck.register.register import same_tag_key

DEMOS = Path(__file__).parent.parent / "demo_workbooks"
HARROW = DEMOS / "harrow_sidings_acquired.xlsx"
SHEETS = [
    "Check results",
    "Check findings",
    "Check summary",
    "Check cautions",
    "Check columns",
    "Check record",
]


def call(*arguments):
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def one_line_error(result, status=2):
    """The single line of standard error that a failed call gives."""
    assert result.exit_code == status, result.output
    assert "Traceback" not in result.output
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1, result.stderr
    return lines[0]


@pytest.fixture(scope="module")
def checked(tmp_path_factory):
    """One run over the messy demo, with everything it can write."""
    out = tmp_path_factory.mktemp("checked")
    result = call("check", HARROW, "--out", out, "--json", out / "r.json", "--csv", out / "r.csv")
    assert result.exit_code == 0, result.output
    return out


def test_the_checked_workbook_has_the_source_s_sheets_then_ours(checked):
    source = openpyxl.load_workbook(HARROW).sheetnames
    book = openpyxl.load_workbook(checked / "harrow_sidings_acquired.checked.xlsx")
    assert book.sheetnames[: len(source)] == source
    ours = book.sheetnames[len(source) :]
    assert [name for name in ours if name in SHEETS] == SHEETS
    for name in ours:
        formulas = [
            cell.coordinate
            for line in book[name].iter_rows()
            for cell in line
            if cell.data_type == "f"
        ]
        assert not formulas


def test_every_conveyor_is_in_it_with_every_verdict_band(checked):
    found = json.loads((checked / "r.json").read_text(encoding="utf-8"))
    book = openpyxl.load_workbook(checked / "harrow_sidings_acquired.checked.xlsx")
    shown = {cell.value for line in book["Check results"].iter_rows() for cell in line}
    assert {row["tag"] for row in found["rows"]} <= shown
    assert set(BANDS[:5]) <= shown
    bands = found["summary"]["bands"]
    assert all(bands[band] for band in BANDS[:5])
    assert sum(bands.values()) == len(found["rows"]) * len(CHECKS)


def test_the_source_is_not_touched(tmp_path):
    copy = tmp_path / "register.xlsx"
    shutil.copy(HARROW, copy)
    before = hashlib.sha256(copy.read_bytes()).hexdigest(), copy.stat().st_mtime_ns
    assert call("check", copy, "--quiet").exit_code == 0
    assert (hashlib.sha256(copy.read_bytes()).hexdigest(), copy.stat().st_mtime_ns) == before
    assert (tmp_path / "register.checked.xlsx").exists()


def test_json_keeps_to_the_contract(checked):
    found = json.loads((checked / "r.json").read_text(encoding="utf-8"))
    assert list(found) == ["format", "tool", "source", "columns", "problems", "rows", "summary"]
    assert found["format"] == 1
    assert found["tool"] == {"name": "sheetcheck", "version": __version__}
    assert found["source"]["file"] == HARROW.name
    assert found["source"]["sha256"] == hashlib.sha256(HARROW.read_bytes()).hexdigest()
    for column in found["columns"]:
        assert list(column) == [
            "field", "sheet", "header", "column", "unit", "confidence", "why",
        ]  # fmt: skip
    for problem in found["problems"]:
        assert list(problem) == [
            "sheet", "cells", "field", "text", "problem", "what_to_do", "used",
        ]  # fmt: skip
        assert problem["cells"]
        assert problem["what_to_do"]
    for row in found["rows"]:
        # Named only in rows that mark a value approximate.
        assert [key for key in row if key != "approximate"] == [
            "tag", "load_point", "sheet", "row", "rank", "values", "derived", "checks",
        ]  # fmt: skip
        assert list(row["checks"]) == list(CHECKS)
        for key, verdict in row["checks"].items():
            assert list(verdict) == [
                "band", "why", "found", "required", "unit", "margin", "relative_margin", "cells",
                "assumptions", "if_known", "flips_at", "numbers", "source", "grade", "basis",
                "rests_on_doubtful", "remedy", "alternatives", "side_effects",
            ]  # fmt: skip
            assert verdict["band"] in BANDS
            assert verdict["unit"] == CHECKS[key].unit
    # A rank for each conveyor, which its load points share.
    conveyors = {same_tag_key(row["tag"]): row["rank"] for row in found["rows"]}
    assert sorted(conveyors.values()) == list(range(1, len(conveyors) + 1))
    assert all(row["rank"] == conveyors[same_tag_key(row["tag"])] for row in found["rows"])


def test_cells_point_at_the_value_they_gave(checked):
    found = json.loads((checked / "r.json").read_text(encoding="utf-8"))
    book = openpyxl.load_workbook(HARROW, data_only=True)
    row = next(row for row in found["rows"] if row["tag"] == "HS 12B")
    sheet, cell = row["checks"]["load-width"]["cells"]["chute_width_inside"].split("!")
    text = book[sheet.strip("'")][cell].value
    assert row["values"]["chute_width_inside"] == pytest.approx(float(text) / 1000)


def test_json_is_the_same_twice_and_on_standard_output(checked, tmp_path):
    first = (checked / "r.json").read_bytes()
    again = call("check", HARROW, "--no-workbook", "--json", "-")
    assert again.exit_code == 0
    assert again.stdout.encode() == first
    assert not list(tmp_path.iterdir())


def test_csv_has_a_line_a_verdict_and_no_formula(checked):
    with (checked / "r.csv").open(encoding="utf-8", newline="") as file:
        lines = list(csv.DictReader(file))
    found = json.loads((checked / "r.json").read_text(encoding="utf-8"))
    assert len(lines) == len(found["rows"]) * len(CHECKS)
    texts = ("workbook", "tag", "why", "assumptions", "remedy", "source")
    assert not any(line[name].startswith(("=", "+", "@")) for line in lines for name in texts)


def test_report_only_leaves_the_source_s_sheets_out(tmp_path):
    assert call("check", HARROW, "--report-only", "--out", tmp_path, "--quiet").exit_code == 0
    book = openpyxl.load_workbook(tmp_path / "harrow_sidings_acquired.checked.xlsx")
    assert not set(book.sheetnames) & {"Conveyors", "Cleaners", "Spares"}
    assert book.sheetnames[0] == "Check results"
    assert book.active.title == "Check results"


def test_an_output_that_exists_is_not_replaced_unasked(tmp_path):
    assert call("check", HARROW, "--out", tmp_path, "--quiet").exit_code == 0
    target = tmp_path / "harrow_sidings_acquired.checked.xlsx"
    before = target.read_bytes()
    assert "--overwrite" in one_line_error(call("check", HARROW, "--out", tmp_path))
    assert target.read_bytes() == before
    assert call("check", HARROW, "--out", tmp_path, "--overwrite", "--quiet").exit_code == 0


def test_checking_a_checked_workbook_replaces_our_sheets(tmp_path):
    assert call("check", HARROW, "--out", tmp_path, "--quiet").exit_code == 0
    checked = tmp_path / "harrow_sidings_acquired.checked.xlsx"
    other = tmp_path / "other"
    result = call("check", checked, "--out", other, "--quiet")
    assert result.exit_code == 0, result.output
    again = openpyxl.load_workbook(other / checked.name)
    assert again.sheetnames == openpyxl.load_workbook(checked).sheetnames


@pytest.mark.parametrize(("band", "status"), [(None, 0), ("falls-short", 1), ("not-judged", 1)])
def test_fail_on(band, status, tmp_path):
    options = [] if band is None else ["--fail-on", band]
    assert call("check", HARROW, "--out", tmp_path, *options, "--quiet").exit_code == status


def test_one_bad_workbook_among_several(tmp_path):
    folder = tmp_path / "site"
    folder.mkdir()
    shutil.copy(HARROW, folder / "good.xlsx")
    (folder / "bad.xlsx").write_text("not a workbook")
    (folder / "~$good.xlsx").write_text("a lock file")
    result = call("check", folder, "--quiet", "--fail-on", "falls-short")
    assert "bad.xlsx" in one_line_error(result, status=3)
    assert (folder / "good.checked.xlsx").exists()
    assert not (folder / "bad.checked.xlsx").exists()


def test_two_inputs_that_would_give_one_output(tmp_path):
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        shutil.copy(HARROW, tmp_path / name / "same.xlsx")
    result = call("check", tmp_path / "a", tmp_path / "b", "--out", tmp_path / "out")
    assert "same.xlsx" in one_line_error(result)
    assert not (tmp_path / "out").exists()


@pytest.fixture(scope="module")
def bad_inputs(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bad")
    (folder / "empty.xlsx").touch()
    (folder / "text.xlsx").write_text("tag,width\nC1,900\n")
    # An OLE2 container, as old workbooks and encrypted ones are, that is neither.
    (folder / "ole.xlsx").write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600))
    book = openpyxl.Workbook()
    book.active.append(["minutes of the meeting"])
    book.save(folder / "notable.xlsx")
    book = openpyxl.Workbook()
    book.active.append(["Belt width (mm)", "Belt speed (m/s)", "Trough angle (°)", "Length (m)"])
    for number in range(5):
        book.active.append([900 + 100 * number, 1.5, 35, 100 + number])
    book.save(folder / "untagged.xlsx")
    return folder


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("missing.xlsx", "missing.xlsx"),
        ("empty.xlsx", "empty"),
        ("text.xlsx", "text.xlsx"),
        ("ole.xlsx", "ole.xlsx"),
        ("notable.xlsx", "no conveyor table"),
        ("untagged.xlsx", "tag"),
    ],
)
def test_bad_input_gives_one_line(bad_inputs, tmp_path, name, says):
    line = one_line_error(call("check", bad_inputs / name, "--out", tmp_path))
    assert says in line
    assert not list(tmp_path.iterdir())


def test_a_folder_search_skips_our_own_outputs(tmp_path):
    shutil.copy(HARROW, tmp_path / "register.xlsx")
    outputs = "--json", tmp_path / "r.json", "--csv", tmp_path / "r.csv"
    assert call("check", tmp_path / "register.xlsx", *outputs, "--quiet").exit_code == 0
    again = call("check", tmp_path, "--out", tmp_path / "again")
    assert again.exit_code == 0, again.output
    assert [path.name for path in (tmp_path / "again").iterdir()] == ["register.checked.xlsx"]


def test_a_folder_without_workbooks(tmp_path):
    assert "no workbook" in one_line_error(call("check", tmp_path))


def test_columns_as_json_keeps_to_the_contract():
    result = call("columns", HARROW, "--format", "json")
    assert result.exit_code == 0
    found = json.loads(result.stdout)
    assert {tuple(item) for item in found} == {
        ("sheet", "column", "header", "field", "unit", "confidence", "why")
    }
    assert any(item["field"] == "belt_width" and item["unit"] == "m" for item in found)


def test_a_saved_column_map_gives_the_same_verdicts(tmp_path, checked):
    saved = tmp_path / "map.toml"
    assert call("columns", HARROW, "--save", saved).exit_code == 0
    again = call("check", HARROW, "--columns", saved, "--no-workbook", "--json", "-")
    assert again.exit_code == 0, again.output
    first = json.loads((checked / "r.json").read_text(encoding="utf-8"))
    second = json.loads(again.stdout)
    assert [row["checks"] for row in second["rows"]] == [row["checks"] for row in first["rows"]]


@pytest.mark.parametrize("form", ["table", "md", "csv", "json"])
def test_rules_lists_every_check(form):
    result = call("rules", "--format", form)
    assert result.exit_code == 0
    assert all(key in result.stdout for key in CHECKS)


def test_rules_as_json_keeps_to_the_contract():
    found = json.loads(call("rules", "--format", "json").stdout)
    assert [item["key"] for item in found] == list(CHECKS)
    for item in found:
        assert list(item) == [
            "key", "subject", "question", "inputs", "optional", "limits", "source", "grade",
            "basis", "guarded", "ranges",
        ]  # fmt: skip


@pytest.mark.parametrize("key", CHECKS)
def test_rules_explains_each_check(key):
    result = call("rules", key)
    assert result.exit_code == 0
    assert CHECKS[key].question in result.stdout
    # Words for a practitioner: no mark-up, no template signs.
    assert not set("{}$\\`") & set(result.stdout)
    assert all(name in result.stdout for name in CHECKS[key].fields)


def test_rules_of_an_unknown_check_offers_near_ones():
    assert "seal-edge" in one_line_error(call("rules", "seal-edges"))


def test_blank_writes_an_empty_register_or_a_survey_form(tmp_path):
    assert call("blank", tmp_path / "b.xlsx", "--units", "us").exit_code == 0
    assert "Tag" in {
        str(cell.value)
        for line in openpyxl.load_workbook(tmp_path / "b.xlsx").worksheets[0].iter_rows()
        for cell in line
    }
    assert call("blank", tmp_path / "s.xlsx", "--missing-from", HARROW).exit_code == 0
    texts = {
        str(cell.value)
        for line in openpyxl.load_workbook(tmp_path / "s.xlsx").worksheets[0].iter_rows()
        for cell in line
    }
    assert any("HS 14" in text for text in texts)
    assert "--overwrite" in one_line_error(call("blank", tmp_path / "b.xlsx"))


def test_protect_guards_our_sheets_alone(tmp_path):
    assert call("check", HARROW, "--protect", "--out", tmp_path, "--quiet").exit_code == 0
    book = openpyxl.load_workbook(tmp_path / "harrow_sidings_acquired.checked.xlsx")
    guarded = {sheet.title for sheet in book.worksheets if sheet.protection.sheet}
    assert guarded >= set(SHEETS)
    assert not guarded & {"Conveyors", "Cleaners", "Spares"}


def test_version_and_help_start_without_the_heavy_libraries():
    code = (
        "import sys; from sheetcheck.cli import app; "
        "heavy = {'numpy', 'pandas', 'pint', 'xlsxwriter', 'lxml'} & set(sys.modules); "
        "print(heavy); sys.exit(bool(heavy))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout
    version = subprocess.run(
        [sys.executable, "-m", "sheetcheck", "--version"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert version.stdout == f"sheetcheck {__version__}\n"
