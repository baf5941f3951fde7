"""The limits file, reruns and comparisons as their user meets them: files in, files out."""

from __future__ import annotations

import json
import shutil
from datetime import date, timedelta
from pathlib import Path

import openpyxl
import pytest
from typer.testing import CliRunner

import sheetcheck
from sheetcheck import UnusableCall
from sheetcheck.cli import app
from sheetcheck.run import read_checked

DEMOS = Path(__file__).parent.parent / "demo_workbooks"
TERN = DEMOS / "tern_quay_register.xlsx"
HARROW = DEMOS / "harrow_sidings_acquired.xlsx"
BERTHS = DEMOS / "tern_quay_berths_us.xlsx"
PLANT = """\
# Invented. A line like _x0041_ and   blanks   at its end   \x20
[plant]
jurisdiction = "nowhere"
currency = "EUR"
labour_rate = 52
operating_hours = 6000

[limits.load-width.share]
value = "70 %"
set_by = "chief engineer — é"
why = "narrow material"
date = 2026-01-02

[ranges]
strength_to_rating_fabric.low = 9
strength_to_rating_fabric.high = 11
strength_to_rating_fabric.unit = "1"
strength_to_rating_fabric.set_by = "chief engineer"
strength_to_rating_fabric.why = "one maker"
strength_to_rating_fabric.date = 2026-01-02

[weights]
load-width = 2

[[accepted]]
tag = "{tag}"
check = "{check}"
reason = "next shutdown"
by = "works manager"
until = 2026-06-30
"""


def call(*arguments):
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def done(*arguments):
    result = call(*arguments)
    assert result.exit_code == 0, result.output
    return result


def refused(*arguments):
    """The single line of standard error that a failed call gives."""
    result = call(*arguments)
    assert result.exit_code == 2, result.output
    (line,) = result.stderr.strip().splitlines()
    return line


def limits_file(folder, tag="TQ-C02", check="transition-length-tail", **changes):
    text = PLANT.format(tag=tag, check=check)
    for old, new in changes.values():
        assert old in text
        text = text.replace(old, new)
    path = folder / "plant.toml"
    path.write_text(text, encoding="utf-8")
    return path


def texts(path, sheet):
    """Every text and number of one sheet."""
    book = openpyxl.load_workbook(path, read_only=True)
    return [cell for row in book[sheet].iter_rows(values_only=True) for cell in row if cell]


# --- the round trip --------------------------------------------------------------------------

EDITS = {
    # tag, heading → value, what the comparison says, checks whose band must change
    ("TQ-C02", "Tail transition length (m)"): (
        3.4,
        "tail transition length 1.95 → 3.4 m",
        {("transition-length-tail", "better")},
    ),
    ("TQ-C01", "Chute inside width (mm)"): (
        1000,
        "chute width inside 840 → 1000 mm",
        {("load-width", "worse"), ("seal-edge", "worse")},
    ),
    ("TQ-C03", "Belt speed (m/s)"): (
        None,
        "belt speed 2 m/s → not recorded",
        {
            ("load-fill", "no longer judged"),
            ("load-support", "no longer judged"),
            ("seal-length", "no longer judged"),
        },
    ),
}


@pytest.fixture(scope="module")
def years(tmp_path_factory):
    """A register checked, edited in three cells, and checked again; both results."""
    folder = tmp_path_factory.mktemp("years")
    then, now = folder / "then", folder / "now"
    then.mkdir(), now.mkdir()
    shutil.copy(TERN, then / "register.xlsx")
    book = openpyxl.load_workbook(TERN)
    sheet = book["Conveyors"]
    columns = {cell.value: cell.column for cell in sheet[1]}
    rows = {cell.value: cell.row for cell in sheet["A"]}
    for (tag, heading), (value, _, _) in EDITS.items():
        cell = sheet.cell(rows[tag], columns[heading])
        assert cell.value is not None
        cell.value = value
    book.save(now / "register.xlsx")
    for year in (then, now):
        done("check", year / "register.xlsx", "--json", year / "r.json", "--quiet")
    return folder


@pytest.fixture(scope="module")
def compared(years):
    books = [years / year / "register.checked.xlsx" for year in ("then", "now")]
    done("compare", *books, "--out", years, "--json", years / "books.json")
    return json.loads((years / "books.json").read_text(encoding="utf-8"))


def test_exactly_the_edited_cells_are_changes(compared):
    assert {(c["tag"], c["text"]) for c in compared["inputs"]} == {
        (tag, text) for (tag, _), (_, text, _) in EDITS.items()
    }
    assert all(change["origin"] == "register" for change in compared["inputs"])
    assert compared["summary"]["register_changes"] == len(EDITS)
    assert compared["run_changes"] == compared["appeared"] == compared["gone"] == []


def test_their_consequences_and_no_others(compared):
    for (tag, _), (_, text, expected) in EDITS.items():
        of_tag = [c for c in compared["verdicts"] if c["tag"] == tag]
        bands = {(c["check"], c["kind"]) for c in of_tag if not c["kind"].startswith("same band")}
        assert bands == expected
        assert all(change["causes"] == [text] for change in of_tag)
        (change,) = (c for c in compared["inputs"] if c["tag"] == tag)
        assert change["verdicts"] == len(expected)
    tags = {tag for tag, _ in EDITS}
    assert {change["tag"] for change in compared["verdicts"]} == tags


def test_the_verdicts_named_are_those_that_differ_in_the_results(years, compared):
    old, new = (
        json.loads((years / year / "r.json").read_text(encoding="utf-8"))["rows"]
        for year in ("then", "now")
    )
    differ = {
        (was["tag"], key)
        for was, now in zip(old, new, strict=True)
        for key in was["checks"]
        if was["checks"][key]["band"] != now["checks"][key]["band"]
    }
    named = {
        (c["tag"], c["check"])
        for c in compared["verdicts"]
        if not c["kind"].startswith("same band")
    }
    assert named == differ


def test_results_from_json_compare_like_checked_workbooks(years, compared):
    files = [years / year / "r.json" for year in ("then", "now")]
    result = done("compare", *files, "--no-workbook", "--json", "-")
    assert json.loads(result.stdout) == compared
    mixed = done("compare", files[0], years / "now" / "register.checked.xlsx", "--no-workbook",
                 "--json", "-")  # fmt: skip
    assert mixed.stdout == result.stdout


def test_the_workbook_of_a_comparison(years, compared):
    path = years / "register.compared.xlsx"
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == [
        "Comparison",
        "Changed verdicts",
        "Changed inputs",
        "Appeared and gone",
        "Runs",
    ]
    for sheet in book:
        assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row)
    assert book["Comparison"]._charts
    shown = texts(path, "Changed inputs")
    for _, text, _ in EDITS.values():
        assert text[:1].upper() + text[1:] in shown
    verdicts = list(book["Changed verdicts"].iter_rows(min_row=4, values_only=True))
    assert len(verdicts) == len(compared["verdicts"])
    assert [row[0] for row in verdicts] == [change["tag"] for change in compared["verdicts"]]


def test_a_comparison_obeys_overwrite_and_is_no_register(tmp_path, years):
    books = [years / year / "register.checked.xlsx" for year in ("then", "now")]
    done("compare", *books, "--out", tmp_path)
    assert "--overwrite" in refused("compare", *books, "--out", tmp_path)
    done("compare", *books, "--out", tmp_path, "--overwrite")
    # A folder search leaves our own outputs alone.
    assert [path.name for path in tmp_path.iterdir()] == ["register.compared.xlsx"]
    assert "no workbook" in refused("check", tmp_path)


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("a.json", None, "no such file"),
        ("a.json", b'{"format": 1, "rows": [', "not whole JSON"),
        ("a.json", b"[1, 2]", "not hold results"),
        ("a.json", b'{"format": 2, "tool": 1, "source": 1, "columns": 1, "rows": 1}', "form"),
        ("a.json", b'{"format": 1, "tool": 1, "source": 1, "columns": 1, "rows": [1]}', "form"),
        ("a.xlsx", None, "there is no such file"),
        ("a.xlsx", TERN.read_bytes(), "holds no sheet Check record"),
        ("a.xlsx", b"PK\x03\x04rubbish", "Open it in a spreadsheet program"),
    ],
)
def test_what_is_no_result_is_refused(tmp_path, years, name, content, said):
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    line = refused("compare", path, years / "now" / "r.json", "--no-workbook")
    assert said in line
    assert name in line


def test_an_edited_record_is_refused(tmp_path, years):
    book = openpyxl.load_workbook(years / "now" / "register.checked.xlsx")
    record = book["Check record"]
    (cell,) = (c for c in record["A"] if c.value == "run")
    record.cell(cell.row, 2).value = "{tampered"
    path = tmp_path / "edited.xlsx"
    book.save(path)
    assert "have been edited" in refused("compare", path, path, "--no-workbook")


# --- run again -------------------------------------------------------------------------------


@pytest.mark.parametrize("source", [HARROW, BERTHS], ids=lambda path: path.stem)
def test_like_a_checked_workbook_gives_the_same_bytes(tmp_path, source):
    plant = limits_file(tmp_path, "HS 12 b", "cleaning-stages")
    first, second = tmp_path / "1.json", tmp_path / "2.json"
    done("check", source, "--limits", plant, "--out", tmp_path, "--json", first)
    checked = tmp_path / f"{source.stem}.checked.xlsx"
    again = ("check", source, "--like", checked, "--no-workbook", "--json", second)
    done(*again)
    assert first.read_bytes() == second.read_bytes()
    # And a copy of the copy is as good.
    done("check", source, "--like", checked, "--out", tmp_path / "again", "--quiet")
    done(*again[:3], tmp_path / "again" / checked.name, *again[4:], "--overwrite")
    assert first.read_bytes() == second.read_bytes()


def test_like_an_earlier_version_reads_the_columns_as_that_one_did(tmp_path, monkeypatch):
    first, second = tmp_path / "1.json", tmp_path / "2.json"
    done("check", HARROW, "--out", tmp_path, "--json", first)
    monkeypatch.setattr("sheetcheck.run.__version__", "0.0.0")
    checked = tmp_path / "harrow_sidings_acquired.checked.xlsx"
    done("check", HARROW, "--like", checked, "--no-workbook", "--json", second)
    assert first.read_bytes() == second.read_bytes()


def test_like_for_another_register_keeps_how_headings_were_read(tmp_path):
    header = ["Tag", "Belt", "Belt speed (m/s)", "Trough angle (deg)"]
    for year, speed in (("then", 1.5), ("now", 2.5)):
        book = openpyxl.Workbook()
        book.active.append(header[: 4 if year == "then" else 3])
        for number in range(1, 4):
            row = [f"CV-{number}", 900 + 100 * number, speed, 35]
            book.active.append(row[: 4 if year == "then" else 3])
        book.save(tmp_path / f"{year}.xlsx")
    column_map = tmp_path / "map.toml"
    column_map.write_text(
        '[[column]]\nsheet = "Sheet"\nheader = "Belt"\nfield = "belt_width"\nunit = "mm"\n',
        encoding="utf-8",
    )
    done("check", tmp_path / "then.xlsx", "--columns", column_map)
    like = tmp_path / "then.checked.xlsx"
    result = done("check", tmp_path / "now.xlsx", "--like", like, "--no-workbook", "--json", "-")
    found = json.loads(result.stdout)
    assert [row["values"]["belt_width"] for row in found["rows"]] == [1.0, 1.1, 1.2]
    assert {c["header"]: c["why"].partition(";")[0] for c in found["columns"]} == {
        "Tag": "as read before",
        "Belt": "column map, line 1",
        "Belt speed (m/s)": "as read before",
    }
    # A heading that has gone since is a problem; so nothing is missed in silence.
    assert [(p["text"], p["field"]) for p in found["problems"]] == [
        ("Trough angle (deg)", "trough_angle")
    ]


def test_like_keeps_the_column_map_and_the_sheet(tmp_path):
    column_map, first, second = (tmp_path / name for name in ("map.toml", "1.json", "2.json"))
    done("columns", HARROW, "--save", column_map)
    text = column_map.read_text(encoding="utf-8")
    field = 'field = "belt_speed"'
    assert text.count(field) == 1
    column_map.write_text(text.replace(field, 'field = ""'), encoding="utf-8")
    sheet = json.loads(done("columns", HARROW, "--format", "json").stdout)[0]["sheet"]
    done("check", HARROW, "--columns", column_map, "--sheet", sheet, "--out", tmp_path,
         "--json", first)  # fmt: skip
    checked = tmp_path / "harrow_sidings_acquired.checked.xlsx"
    done("check", HARROW, "--like", checked, "--no-workbook", "--json", second)
    assert first.read_bytes() == second.read_bytes()
    found = json.loads(first.read_text(encoding="utf-8"))
    assert found["source"]["sheets_read"] == [sheet]
    assert not any("belt_speed" in row["values"] for row in found["rows"])


def test_the_record_gives_files_back_as_they_were(tmp_path):
    plant = limits_file(tmp_path)
    done("check", TERN, "--limits", plant, "--out", tmp_path)
    found = read_checked(tmp_path / "tern_quay_register.checked.xlsx")
    assert found["limits_text"] == plant.read_text(encoding="utf-8")
    assert (found["limits_file"], found["column_map"], found["sheet"]) == ("plant.toml", "", None)
    assert found["date"] == date.today()


def test_an_empty_limits_file_is_one_too(tmp_path):
    plant = tmp_path / "plant.toml"
    plant.touch()
    first, second = tmp_path / "1.json", tmp_path / "2.json"
    done("check", BERTHS, "--limits", plant, "--out", tmp_path, "--json", first)
    like = tmp_path / f"{BERTHS.stem}.checked.xlsx"
    done("check", BERTHS, "--like", like, "--no-workbook", "--json", second)
    assert first.read_bytes() == second.read_bytes()
    assert json.loads(first.read_text(encoding="utf-8"))["plant"]["file"] == "plant.toml"


def test_like_holds_deviations_against_the_day_of_that_run_only_for_the_same_source(tmp_path):
    plant = limits_file(tmp_path)
    last = date(2026, 6, 30)
    done("check", TERN, "--limits", plant, "--out", tmp_path, "--date", last.isoformat())
    checked = tmp_path / "tern_quay_register.checked.xlsx"

    def states(*more):
        result = done("check", *more, "--no-workbook", "--json", "-")
        return [item["state"] for item in json.loads(result.stdout)["plant"]["accepted"]]

    assert states(TERN, "--like", checked) == ["in force"]
    after = (last + timedelta(days=1)).isoformat()
    assert states(TERN, "--like", checked, "--date", after) == ["expired"]
    assert states(TERN, "--limits", plant, "--date", after) == ["expired"]
    # Another file is another year: what has run out since is not carried over.
    book = openpyxl.load_workbook(TERN)
    book["Conveyors"]["C2"] = "another service"
    book.save(tmp_path / "next_year.xlsx")
    expected = "in force" if date.today() <= last else "expired"
    assert states(tmp_path / "next_year.xlsx", "--like", checked) == [expected]


def test_what_is_given_goes_before_like(tmp_path):
    done("check", TERN, "--limits", limits_file(tmp_path), "--out", tmp_path)
    checked = tmp_path / "tern_quay_register.checked.xlsx"
    other = limits_file(tmp_path, strict=("70 %", "50 %"))
    result = done("check", TERN, "--like", checked, "--limits", other, "--no-workbook",
                  "--json", "-")  # fmt: skip
    (limit,) = json.loads(result.stdout)["plant"]["limits"]
    assert limit["value"] == 0.5


# --- the report ------------------------------------------------------------------------------


def test_the_workbook_says_what_the_plant_decided(tmp_path):
    plant = limits_file(tmp_path)
    gone = plant.read_text(encoding="utf-8").replace("TQ-C02", "TQ-C99").partition("[[acc")[2]
    plant.write_text(plant.read_text(encoding="utf-8") + f"\n[[acc{gone}", encoding="utf-8")
    done("check", TERN, "--limits", plant, "--out", tmp_path, "--date", "2026-03-01")
    path = tmp_path / "tern_quay_register.checked.xlsx"
    record = [str(text) for text in texts(path, "Check record")]
    for text in ("nowhere", "EUR", "in force", "no such tag", "next shutdown", "works manager"):
        assert text in record, text
    assert any("laxer than published" in text for text in record)
    assert any("chief engineer — é" in text for text in record)
    findings = [str(text) for text in texts(path, "Check findings")]
    assert "laxer limit" in findings
    assert "deviation without effect" in findings
    assert any("by works manager until 2026-06-30" in text for text in findings)
    summary = [str(text) for text in texts(path, "Check summary")]
    assert any("accepted" in text.lower() for text in summary)
    assert "Cost a year, EUR" in summary
    assert "Cost a year, EUR/year" in texts(path, "Check results")


def test_a_tag_that_only_another_workbook_has_is_no_slip_of_the_site(tmp_path):
    plant = limits_file(tmp_path, "TQ-C02")
    more = plant.read_text(encoding="utf-8").partition("[[acc")[2]
    plant.write_text(
        plant.read_text(encoding="utf-8") + "\n[[acc" + more.replace("TQ-C02", "TQ-C99"),
        encoding="utf-8",
    )
    call_both = ("check", TERN, BERTHS, "--limits", plant, "--out", tmp_path / "out")
    notes = [line for line in done(*call_both).stderr.splitlines() if "deviation" in line]
    assert notes == ["note: a deviation is accepted for TQ-C99, which no workbook has"]


def test_changed_tolerances_and_colours_show_in_the_workbook(tmp_path):
    plant = tmp_path / "plant.toml"
    plant.write_text(
        '[tolerances]\nangle = {absolute = "0.5 °"}\n'
        '[colours]\n"falls short" = {fill = "#3B0A45", text = "#FFFFFF"}\n',
        encoding="utf-8",
    )
    done("check", BERTHS, "--limits", plant, "--out", tmp_path)
    path = tmp_path / f"{BERTHS.stem}.checked.xlsx"
    assert "Changed by the plant; usually 1 and 0.0%." in texts(path, "Check record")
    sheet = openpyxl.load_workbook(path)["Check results"]
    short = [cell for row in sheet.iter_rows() for cell in row if cell.value == "falls short"]
    assert {cell.fill.start_color.rgb for cell in short} == {"FF3B0A45"}


def test_rules_show_default_and_plant_side_by_side(tmp_path):
    plant = limits_file(tmp_path)
    page = done("rules", "load-width", "--limits", plant).stdout
    assert "share = 0.666667" in page
    assert "plant: 0.7, LAXER than published" in page
    assert "set by chief engineer — é on 2026-01-02: narrow material" in page
    table = done("rules", "--limits", plant).stdout
    assert "share 0.666667 (plant: 0.7, LAXER than published)" in table
    found = json.loads(done("rules", "--format", "json", "--limits", plant).stdout)
    shown = {
        item["key"]: {limit["name"]: limit["plant"] for limit in item["limits"]} for item in found
    }
    assert shown["load-width"]["share"]["value"] == pytest.approx(0.7)
    assert shown["seal-chute-max"]["share"] is None
    assert "plant: 0.7" in done("rules", "--format", "md", "--limits", plant).stdout
    assert "plant: 0.7" in done("rules", "--format", "csv", "--limits", plant).stdout


def test_rules_show_a_plant_s_ranges_and_weights_beside_the_defaults(tmp_path):
    plant = limits_file(tmp_path)
    page = done("rules", "transition-length-tail", "--limits", plant).stdout
    assert "strength_to_rating_fabric = 8 to 12" in page
    assert "plant: 9 to 11, NARROWER" in page
    assert "set by chief engineer on 2026-01-02: one maker" in page
    counted = done("rules", "load-width", "--limits", plant).stdout
    assert "counts 2 times in the ranking" in counted
    for form in ("table", "md", "csv"):
        shown = " ".join(done("rules", "--format", form, "--limits", plant).stdout.split())
        assert "strength_to_rating_fabric 8 to 12 (plant: 9 to 11, NARROWER)" in shown
        assert "load_idler_spacing 0.3 to 1.5 m" in shown
    for found in (
        json.loads(done("rules", "--format", "json").stdout),
        json.loads(done("rules", "--format", "json", "--limits", plant).stdout),
    ):
        ranges = {item["key"]: {one["name"]: one for one in item["ranges"]} for item in found}
        assert set(ranges["load-support"]) == {"load_idler_spacing"}
        assert ranges["load-width"] == {}
        fabric = ranges["transition-length-tail"]["strength_to_rating_fabric"]
        assert (fabric["low"], fabric["high"], fabric["grade"]) == (8, 12, "C")
    assert (fabric["plant"]["low"], fabric["plant"]["high"]) == (9, 11)
    assert fabric["plant"]["narrower"]


def test_a_limits_file_to_edit_is_written_once(tmp_path):
    path = tmp_path / "plant.toml"
    done("rules", "--save", path)
    assert "already there" in refused("rules", "--save", path)
    done("check", TERN, "--limits", path, "--no-workbook", "--json", tmp_path / "r.json")


def test_an_unusable_limits_file_stops_before_any_work(tmp_path):
    plant = limits_file(tmp_path, wrong=("70 %", "70 mm"))
    for command in (("check", TERN, "--out", tmp_path / "out"), ("rules",)):
        line = refused(*command, "--limits", plant)
        assert "plant.toml, line 9: 'mm' does not measure share" in line
    assert not (tmp_path / "out").exists()


def test_the_library_takes_a_limits_file_too(tmp_path):
    register = sheetcheck.read_register(TERN)
    frame = sheetcheck.run_checks(register, limits_file(tmp_path), on=date(2026, 6, 30))
    accepted = frame[frame["accepted"] != ""]
    assert accepted["tag"].tolist() == ["TQ-C02"]
    assert accepted["check"].tolist() == ["transition-length-tail"]
    sheetcheck.write_report(register, frame, tmp_path / "out.xlsx")
    with pytest.raises(UnusableCall, match=r"plant\.toml, line"):
        sheetcheck.run_checks(register, limits_file(tmp_path, bad=("[plant]", "[plants]")))
