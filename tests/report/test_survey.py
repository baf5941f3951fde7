"""The survey form: all that a verdict waits for, where it is found out, and read back."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from sheetcheck.errors import OutputExists
from sheetcheck.findings import evaluate
from sheetcheck.findings.gaps import lacks
from sheetcheck.findings.results import Findings
from sheetcheck.intake import read_register
from sheetcheck.intake.heading_rows import heading_score
from sheetcheck.register.fields import FIELDS, POSITIONS
from sheetcheck.register.register import Register
from sheetcheck.report.field_words import OFFICE, PLACES, label
from sheetcheck.report.survey import survey_sheets, write_survey
from sheetcheck.units import factor
from tests.checks.samples import sample_rows
from tests.conftest import make_register

WHEN = datetime(2026, 3, 14, 9, 26)
DEMOS = Path(__file__).parents[2] / "demo_workbooks"
WHERE, DECIDES, HOW, WHAT, FOUND, UNIT = range(6)
NAMES = {label(name, us=us): name for name in FIELDS for us in (False, True)}

# What a plausible belt would have, in SI; invented.
FOUND_OUT: Mapping[str, float] = {
    "belt_width": 1.0,
    "belt_speed": 2.0,
    "belt_rated_tension": 80.0,
    "tail_tension_ratio": 0.5,
    "head_tension_ratio": 0.7,
    "belt_modulus": 6000.0,
    "belt_mass": 15.0,
    "conveyor_length": 100.0,
    "trough_angle": 35.0,
    "pulley_face_tail": 1.15,
    "pulley_face_head": 1.15,
    "tail_transition_length": 2.4,
    "head_transition_length": 2.4,
    "tail_transition_idlers": 1.0,
    "chute_back": 3.0,
    "chute_width_inside": 0.6,
    "chute_wall_thickness": 0.008,
    "lump_size": 0.1,
    "bulk_density": 1.2,
    "surcharge_angle": 20.0,
    "tonnage": 300.0,
    "load_idler_spacing": 0.6,
    "load_belt_tension": 20.0,
    "drop_height": 2.0,
    "skirt_length": 4.5,
    "seal_footprint": 0.05,
    "belt_wander": 0.02,
    "carryback_measured": 0.1,
    "tracker_spacing_max": 20.0,
    "side_clearance": 0.08,
    "door_count": 1.0,
    "door_width": 0.35,
    "door_height": 0.35,
    "service_clear_width": 0.7,
    "dust_layer_depth": 0.001,
}


def answer(name: str, unit: str) -> tuple[object, object]:
    """What is written into the box, and what the register should then hold."""
    field = FIELDS[name]
    if field.kind == "yes/no":
        return "yes", True
    if field.kind == "lift":
        return "one-third", "one-third"
    if field.choices:
        return field.choices[1], field.choices[1]
    value = FOUND_OUT[name]
    by = 1.0 if field.kind == "count" else factor(unit, field.unit)
    assert by is not None, (name, unit)
    return value / by, pytest.approx(value)


def lines(sheet: Worksheet) -> Iterator[tuple[str, str | None, str, tuple[Any, ...], int]]:
    """Tag, load point, field, cells and row number of each line that asks for something."""
    tag, point = "", None
    for number, row in enumerate(sheet.iter_rows(values_only=True), start=1):
        if row[WHAT] == "Tag":
            tag, point = str(row[FOUND]), None
        elif row[WHAT] == "Load point":
            point = row[FOUND]
        elif row[HOW] and row[HOW][0].isdigit():
            yield tag, point, NAMES[row[WHAT]], row, number


def office_table(sheet: Worksheet) -> tuple[int, list[str]]:
    """Row number of the headings, and the headings."""
    for number, row in enumerate(sheet.iter_rows(values_only=True), start=1):
        if row[0] == "Tag":
            return number, [str(text) for text in row if text is not None]
    raise AssertionError("no headings")


def fill(book: openpyxl.Workbook) -> dict[tuple[str, str | None], dict[str, object]]:
    """Answer all that is asked; gives what each row of the register should then hold."""
    wanted: dict[tuple[str, str | None], dict[str, object]] = {}
    if "Walk-down" in book.sheetnames:
        sheet = book["Walk-down"]
        for tag, point, name, row, number in list(lines(sheet)):
            written, expected = answer(name, row[UNIT])
            sheet.cell(number, FOUND + 1).value = written
            wanted.setdefault((tag, point), {})[name] = expected
    if "Office data" in book.sheetnames:
        sheet = book["Office data"]
        first, headings = office_table(sheet)
        for row in sheet.iter_rows(min_row=first + 1):
            point = row[1].value if headings[1] == "Load point" else None
            for cell, heading in zip(row, headings, strict=False):
                text, _, unit = heading.partition(" (")
                name = NAMES.get(text)
                if cell.value is None and name not in (None, "load_point"):
                    cell.value, expected = answer(name, unit.rstrip(")"))
                    wanted.setdefault((str(row[0].value), point), {})[name] = expected
    return wanted


def moved(form: openpyxl.Workbook, register: Path, target: Path) -> None:
    """Add the form's sheets to a copy of the register's workbook, as a user would."""
    book = openpyxl.load_workbook(register, data_only=True)
    for sheet in form.worksheets:
        copy = book.create_sheet(sheet.title)
        for row in sheet.iter_rows():
            for cell in row:
                copy[cell.coordinate].value = cell.value
        for area in sheet.merged_cells.ranges:
            copy.merge_cells(str(area))
    book.save(target)


def held(register: Register, tag: str, point: str | None, name: str) -> object:
    tags = register.values["tag"].tolist()
    rows = [
        row
        for row, own in enumerate(tags)
        if own == tag and (point is None or register.value(row, "load_point") == point)
    ]
    return register.value(rows[0], name)


def asked(path: Path) -> set[tuple[str, str | None, str]]:
    book = openpyxl.load_workbook(path)
    found = {
        (tag, point, name)
        for sheet in book.worksheets
        if sheet.title.startswith("Walk-down")
        for tag, point, name, _, _ in lines(sheet)
    }
    if "Office data" in book.sheetnames:
        first, headings = office_table(book["Office data"])
        for row in book["Office data"].iter_rows(min_row=first + 1, values_only=True):
            point = row[1] if headings[1] == "Load point" else None
            for value, heading in zip(row, headings, strict=False):
                name = NAMES.get(heading.partition(" (")[0])
                if value is None and name not in (None, "load_point"):
                    found.add((str(row[0]), point, name))
    return found


@pytest.fixture(scope="module")
def findings() -> Findings:
    return evaluate(
        make_register(
            [
                {"belt_width": 0.9, "chute_width_inside": 0.6, "primary_cleaner": 1},
                {"belt_width": 0.9, "primary_cleaner": 1, "secondary_cleaner": 1},
            ]
        )
    )


@pytest.fixture(scope="module")
def form(findings: Findings, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("survey") / "survey.xlsx"
    write_survey(findings, path, when=WHEN)
    return path


def test_it_asks_for_what_a_verdict_waits_for_and_nothing_else(
    findings: Findings, form: Path
) -> None:
    # Of "chute_back or load_start" and the like the first will do.
    either = {"load_start": "chute_back", "carryback_initial": "carryback_measured"}
    expected = {
        (f"T{row + 1}", None, either.get(name, name))
        for row in range(2)
        for verdict in findings.verdicts(row)
        if verdict.band == "not judged"
        for name in findings.missing_inputs(verdict.key, row)
    }
    found = asked(form)
    assert found == expected
    assert ("T2", None, "chute_width_inside") in found
    assert ("T1", None, "chute_width_inside") not in found


def test_what_nobody_can_measure_at_the_belt_is_asked_of_the_office(form: Path) -> None:
    book = openpyxl.load_workbook(form)
    on_foot = {name for _, _, name, _, _ in lines(book["Walk-down"])}
    _, headings = office_table(book["Office data"])
    at_desk = {NAMES.get(text.partition(" (")[0]) for text in headings}
    for name in ("belt_rated_tension", "belt_modulus", "head_tension_ratio", "belt_mass"):
        assert name in at_desk
        assert name not in on_foot
    for name in ("load_idler_spacing", "belt_speed", "door_width"):
        assert name in on_foot


def test_load_points_stand_beside_the_tags_where_there_are_any(tmp_path: Path) -> None:
    for rows in ([{"tag": "T1", "load_point": ""}], [{"tag": "T1", "load_point": "Gate 2"}]):
        findings = evaluate(make_register(rows), checks=["load-support"])
        write_survey(findings, tmp_path / "form.xlsx", when=WHEN, overwrite=True)
        _, headings = office_table(openpyxl.load_workbook(tmp_path / "form.xlsx")["Office data"])
        assert (headings[1] == "Load point") == bool(rows[0]["load_point"])


def test_a_conveyor_is_walked_along_and_what_decides_most_comes_first(form: Path) -> None:
    sheet = openpyxl.load_workbook(form)["Walk-down"]
    for tag in ("T1", "T2"):
        rows = [row for own, _, _, row, _ in lines(sheet) if own == tag]
        places = [row[WHERE].partition(",")[0].split(" ", 1)[1].lower() for row in rows]
        assert places == sorted(places, key=PLACES.index)
        for place in PLACES:
            alone = [
                int((row[DECIDES] or "0").partition(" ")[0].partition("(")[0] or 0)
                for row, own in zip(rows, places, strict=True)
                if own == place
            ]
            assert alone == sorted(alone, reverse=True)


def test_each_line_says_how_many_verdicts_it_decides(findings: Findings, form: Path) -> None:
    lacking = lacks(findings)
    said = {
        (tag, name): row[DECIDES]
        for tag, _, name, row, _ in lines(openpyxl.load_workbook(form)["Walk-down"])
    }
    # T1 has neither a plough recorded nor anything else that its check needs.
    assert said["T1", "tail_plough"] == "1"
    # load-width waits for it alone; seal-edge and seal-wander need the trough angle as well.
    lack = lacking["chute_width_inside"]
    assert (lack.alone[1], lack.lacking[1]) == (1, 3)
    assert said["T2", "chute_width_inside"] == "1 (+2)"
    for (tag, name), text in said.items():
        row = int(tag[1:]) - 1
        alone, others = lacking[name].alone[row], lacking[name].lacking[row]
        assert str(alone) in text if alone else text == f"(+{others})"


def test_each_line_says_how_to_answer_and_leaves_room(form: Path) -> None:
    sheet = openpyxl.load_workbook(form)["Walk-down"]
    scale = sheet.page_setup.scale / 100
    for _, _, name, row, number in lines(sheet):
        field, how = FIELDS[name], str(row[HOW])
        assert row[FOUND] is None
        assert row[WHERE].endswith(FIELDS[name].belt)
        if field.choices:
            assert how.endswith(", ".join(field.choices))
        elif field.kind == "yes/no":
            assert how.endswith("yes or no")
        elif field.kind != "count":
            assert factor(row[UNIT], field.unit)
        if field.kind == "lift":
            assert how.endswith(", ".join(POSITIONS))
        assert sheet.row_dimensions[number].height * scale / 72 * 25.4 >= 8.0
    words = {str(rule.formula1) for rule in sheet.data_validations.dataValidation}
    assert '"yes,no"' in words


def test_whoever_measures_is_told_the_state_of_the_belt(form: Path) -> None:
    sheet = openpyxl.load_workbook(form)["Walk-down"]
    said = " ".join(str(row[0]) for row in sheet.iter_rows(max_row=7, values_only=True))
    for word in ("isolated, locked and tried", "outside the guards", "permits"):
        assert word in said
    # The reminder and the headings stand on every page.
    top, bottom = (int(part.strip("$")) for part in sheet.print_title_rows.split(":"))
    assert "Never reach past the guard" in sheet.cell(top, 1).value
    assert sheet.cell(bottom, FOUND + 1).value == "Found"


def test_a_conveyor_is_not_torn_over_two_pages(tmp_path: Path) -> None:
    findings = evaluate(make_register(sample_rows(40, seed=3, missing=0.3)))
    write_survey(findings, tmp_path / "form.xlsx", when=WHEN)
    sheet = openpyxl.load_workbook(tmp_path / "form.xlsx")["Walk-down"]
    breaks = {item.id for item in sheet.row_breaks.brk}
    assert len(breaks) > 5
    assert sheet.page_setup.fitToHeight in (None, 1)
    assert not sheet.sheet_properties.pageSetUpPr.fitToPage
    tags = {number for number, row in enumerate(sheet.iter_rows(values_only=True), 1)
            if row[WHAT] == "Tag"}  # fmt: skip
    # A break stands under the row before the page's first: a tag, or a conveyor that takes more.
    for row in breaks:
        first = str(sheet.cell(row + 1, 1).value)
        assert row + 1 in tags or first.endswith(", continued")
    heads = [sheet.row_dimensions[row].height for row in range(1, 8)]
    starts = [7, *sorted(breaks), sheet.max_row]
    for page, (above, last) in enumerate(pairwise(starts)):
        height = sum(sheet.row_dimensions[row].height for row in range(above + 1, last + 1))
        height += sum(heads[-2:] if page else heads)
        # A4 less margins.
        assert height * sheet.page_setup.scale / 100 <= 842 - (0.5 + 0.6) * 72


@pytest.mark.parametrize(
    "demo", ["tern_quay_register", "tern_quay_berths_us", "harrow_sidings_acquired"]
)
def test_a_filled_form_is_read_and_joined_to_its_register(demo: str, tmp_path: Path) -> None:
    source = DEMOS / f"{demo}.xlsx"
    before = read_register(source)
    write_survey(evaluate(before, flips=False), tmp_path / "form.xlsx", when=WHEN)
    book = openpyxl.load_workbook(tmp_path / "form.xlsx")
    wanted = fill(book)
    assert sum(map(len, wanted.values())) >= 9
    moved(book, source, tmp_path / "joined.xlsx")
    register = read_register(tmp_path / "joined.xlsx")
    assert len(register) == len(before)
    for (tag, point), values in wanted.items():
        for name, value in values.items():
            assert held(register, tag, point, name) == value, (tag, name)
    assert not [p for p in register.problems if p.sheet in ("Walk-down", "Office data")]
    still = {
        (str(register.values["tag"][row]), name)
        for name, lack in lacks(evaluate(register, flips=False)).items()
        for row in range(len(register))
        if lack.alone[row]
    }
    assert not still & {(tag, name) for (tag, _), names in wanted.items() for name in names}


def test_an_unfilled_form_changes_nothing(tmp_path: Path) -> None:
    source = DEMOS / "tern_quay_register.xlsx"
    before = read_register(source)
    write_survey(evaluate(before, flips=False), tmp_path / "form.xlsx", when=WHEN)
    moved(openpyxl.load_workbook(tmp_path / "form.xlsx"), source, tmp_path / "joined.xlsx")
    after = read_register(tmp_path / "joined.xlsx")
    assert after.problems == before.problems
    for name, column in before.values.items():
        for row in range(len(column)):
            assert after.value(row, name) == before.value(row, name), (name, row)


def test_one_thing_to_find_out_on_one_conveyor_is_read_back(tmp_path: Path) -> None:
    findings = evaluate(make_register([{}]), checks=["cleaning-plough"])
    write_survey(findings, tmp_path / "form.xlsx", when=WHEN)
    book = openpyxl.load_workbook(tmp_path / "form.xlsx")
    assert book.sheetnames == ["Walk-down"]
    assert fill(book) == {("T1", None): {"tail_plough": True}}
    book.save(tmp_path / "form.xlsx")
    assert read_register(tmp_path / "form.xlsx").value(0, "tail_plough") is True


def test_long_tags_and_services_are_not_cut(tmp_path: Path) -> None:
    rows = [{"tag": "CV-1"}, {"tag": "CV-" + "2" * 40, "service": "to the far stockyard " * 12}]
    write_survey(evaluate(make_register(rows), checks=["tracking-clearance"]), tmp_path / "a.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "a.xlsx")["Walk-down"]
    height = {
        row[FOUND].value: sheet.row_dimensions[row[FOUND].row].height
        for row in sheet.iter_rows()
        if row[WHAT].value == "Tag"
    }
    # 40 figures, and 250 letters, do not go on one line of 14 and of 59 characters.
    assert height["CV-" + "2" * 40] >= 3 * 11.5 > height["CV-1"]


def test_very_many_pages_go_on_a_further_sheet(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sheetcheck.report.walk_form._MOST_PAGES", 2)
    sheets = survey_sheets(evaluate(make_register([{}] * 8)), WHEN)
    names = [sheet.name for sheet in sheets]
    assert names[:2] == ["Walk-down", "Walk-down, part 2"]
    assert names[-1] == "Office data"
    assert all(len(sheet.row_breaks) <= 1 for sheet in sheets[:-1])


def test_a_complete_register_has_nothing_to_ask(tmp_path: Path) -> None:
    findings = evaluate(make_register([{"tail_plough": 1}]), checks=["cleaning-plough"])
    write_survey(findings, tmp_path / "survey.xlsx", when=WHEN)
    book = openpyxl.load_workbook(tmp_path / "survey.xlsx")
    assert book.sheetnames == ["Walk-down"]
    assert "0 things to find out" in str(book.active["A2"].value)
    with pytest.raises(OutputExists):
        write_survey(findings, tmp_path / "survey.xlsx", when=WHEN)


# --- the words -------------------------------------------------------------------------------


def test_every_field_has_its_words() -> None:
    for us in (False, True):
        names = [label(name, us=us) for name in FIELDS]
        assert len(set(names)) == len(names)
    for name, words in FIELDS.items():
        assert words.name, name
        assert words.how, name
        assert words.place in (*PLACES, OFFICE), name
        states = ("",) if words.place == OFFICE else ("locked", "moving", "either")
        assert words.belt in states, name


def touching(words: Iterable[str]) -> list[str]:
    return [word for word in words if FIELDS[word].belt != "locked"]


def test_nothing_within_reach_of_a_moving_belt_is_measured_unlocked() -> None:
    # Instruments that are laid on or held to the belt, its rolls, pulleys, chutes and cleaners.
    instruments = ("tape", "caliper", "straight edge", "level", "scrape", "rule,")
    near = [
        name
        for name, words in FIELDS.items()
        if words.place != OFFICE and any(word in words.how for word in instruments)
    ]
    assert len(near) > 30
    # A walkway is measured away from the belt.
    assert touching(near) == ["walkway_width"]
    moving = {name for name, words in FIELDS.items() if words.belt == "moving"}
    # Only what a belt at rest cannot show.
    assert moving == {"belt_speed", "belt_wander", "exhaust_airflow"}


def test_only_labels_are_taken_for_labels(form: Path) -> None:
    # The reader of forms looks for labels in every column, and comes to know more words.
    sheet = openpyxl.load_workbook(form)["Walk-down"]
    for row in sheet.iter_rows(min_row=8, max_col=WHAT, values_only=True):
        for text in row:
            if text and not text.startswith(("T1", "T2")):
                assert heading_score(text) == 0, text
                assert text[0].isdigit() or re.fullmatch(r"\(\+\d+\)", text), text
