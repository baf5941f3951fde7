"""Values that hardly can be right are reported, and every verdict that rests on one says so."""

import openpyxl
import pytest

from sheetcheck.findings import check_register, evaluate
from sheetcheck.findings.digest import digest
from sheetcheck.findings.quantities import quantities
from sheetcheck.findings.rank import ranking
from sheetcheck.intake import read_register
from sheetcheck.register.derive import complete
from sheetcheck.report import write_report
from tests.conftest import make_register

HEADINGS = {
    "Tag": None,
    "Belt width (mm)": 1000,
    "Belt speed (m/s)": 2.0,
    "Belt designation": "EP 800/4",
    "Rated tension (kN/m)": 80,
    "Belt modulus (kN/m)": 6000,
    "Conveyor length (m)": 60,
    "Trough angle (°)": 35,
    "Rolls per idler set": 3,
    "Tail tension (% of rated)": 50,
    "Tail transition length (m)": 2.0,
    "Tail pulley lift (mm)": 0,
    "Chute back (m)": 3.5,
    "Carrying idler spacing (m)": 1.2,
    "Chute width inside (mm)": 600,
    "Skirt length (m)": 5,
    "Exhaust air flow (m³/s)": 2.5,
}


def judged(tmp_path, **changed):
    """A row that is sound but for the named cells, read from a workbook and judged."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(list(HEADINGS))
    sheet.append([*HEADINGS.values()])
    sheet.append([*HEADINGS.values()])
    sheet["A2"], sheet["A3"] = "C1", "C2"
    places = {heading: cell.column for heading, cell in zip(HEADINGS, sheet[1], strict=True)}
    for heading, value in changed.items():
        full = next(name for name in HEADINGS if name.startswith(heading.replace("_", " ")))
        sheet.cell(3, places[full], value)
    path = tmp_path / "r.xlsx"
    book.save(path)
    return check_register(read_register(path))


def test_the_sound_row_has_no_problem(tmp_path):
    found = judged(tmp_path)
    assert found.register.problems == []
    assert not found.doubtful


@pytest.mark.parametrize(
    ("changed", "field", "used"),
    [
        # a metre under a heading in millimetres, and the like: ten times beyond any plant
        ({"Belt_width": 1.05}, "belt_width", False),
        ({"Tail_transition": 0.0023}, "tail_transition_length", False),
        ({"Belt_modulus": 7.5}, "belt_modulus", False),
        ({"Exhaust": 6780}, "exhaust_airflow", False),
        ({"Skirt_length": 6000}, "skirt_length", False),
        ({"Chute_width": 22}, "chute_width_inside", False),
        # the breaking strength given as the rating
        ({"Rated": 800}, "belt_rated_tension", False),
        # hardly so, but used
        ({"Belt_width": 250}, "belt_width", True),
        ({"Skirt_length": 61}, "skirt_length", True),
        ({"Skirt_length": 59.9, "Conveyor_length": 40}, "skirt_length", True),
        ({"Chute_back": 70}, "chute_back", True),
        ({"Belt_modulus": 500}, "belt_modulus", True),
        ({"Trough": 0}, "tail_transition_length", True),
    ],
)
def test_a_value_that_hardly_can_be_right_is_a_problem(tmp_path, changed, field, used):
    found = judged(tmp_path, **changed)
    mine = [p for p in found.register.problems if p.field == field]
    assert mine
    assert {problem.used for problem in mine} == {used}
    assert all("3" in cell for problem in mine for cell in problem.cells)
    for key, result in found.results.items():
        if field not in result.check.fields or result.check.information:
            continue
        verdict = found.verdict(key, 1)
        if not used:
            # What was not used gives no good verdict of its own.
            assert (
                verdict.band == "not judged"
                or field in result.check.optional
                or (field in ("belt_modulus", "belt_rated_tension", "exhaust_airflow"))
            )
        elif verdict.band in ("meets", "marginal", "falls short"):
            assert "rests on what is doubtful" in verdict.why
            assert any(mine[0].cells[0] in text for text in verdict.assumptions)


def test_what_could_not_be_used_is_named_where_it_is_missed(tmp_path):
    verdict = judged(tmp_path, Tail_transition=0.0023).verdict("transition-length-tail", 1)
    assert verdict.band == "not judged"
    assert "Sheet!K3" in verdict.why


def test_the_results_sheet_marks_it(tmp_path):
    found = judged(tmp_path, Skirt_length=61)
    write_report(found.register, found, tmp_path / "out.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "out.xlsx")["Check results"]
    shown = [str(cell.value) for line in sheet.iter_rows() for cell in line]
    assert "meets, doubtful" in shown
    assert sum("doubtful" in text for text in shown if len(text) < 30) == 1


@pytest.mark.parametrize("nothing", [0, 0.004])
def test_a_size_too_small_to_be_true_is_never_left_out_where_less_is_worse(tmp_path, nothing):
    # Without it the load would be compared with where the material lands alone, and would pass.
    changed = {"Chute back (m)": nothing, "Skirt length (m)": nothing}
    findings = judged(tmp_path, **changed)
    for key in ("transition-loading", "seal-length"):
        verdict = findings.verdict(key, 1)
        assert (verdict.band, verdict.found) == ("falls short", nothing)
        assert "doubtful" in verdict.why


def test_an_unusable_cell_is_named_where_its_input_was_not_compared(tmp_path):
    # Lumps are compared with the belt alone, and the verdict says why not with the chute.
    path = tmp_path / "lumps.csv"
    path.write_text(
        "Tag,Belt width (mm),Largest lump (mm),Lump mix,Surcharge angle (°),"
        "Chute width inside (mm)\nC1,1000,100,with fines,20,see drawing 12\n",
        encoding="utf-8",
    )
    verdict = check_register(read_register(path)).verdict("load-lump", 0)
    assert verdict.band == "meets"
    assert any("lumps!F2" in said and "drawing" in said for said in verdict.assumptions)


def test_a_verdict_on_a_doubtful_value_asks_to_confirm_it_first_and_does_not_count(tmp_path):
    # 12 m/s: possible, and faster than any belt of a plant (8 m/s).
    found = judged(tmp_path, Belt_speed=12.0, Skirt_length=3)
    row, sound = 1, 0
    verdict = found.verdict("seal-length", row)
    assert verdict.band == "falls short"
    assert verdict.rests_on_doubtful == ("belt_speed",)
    cell = verdict.cells["belt_speed"]
    assert verdict.remedy == f"Confirm 12 m/s in {cell} first."
    assert verdict.alternatives[0].startswith("Extend the skirtboards")
    assert found.verdict("load-width", row).rests_on_doubtful == ()
    assert found.resting["seal-length"].tolist() == [False, True]
    # Neither in rank and worst margins nor in totals of work.
    parts = ranking(found)
    assert parts.short[row] == parts.short[sound]
    assert parts.worst_margin[row] == parts.worst_margin[sound]
    assert not [item for item in quantities(found) if item.what.startswith("skirtboard")]
    (worst,) = [item for item in digest(found).worst if item.tag == "C2"] or [None]
    assert worst is None or "seal-length" not in worst.checks


def test_a_doubt_about_a_strength_is_one_about_the_rating_that_it_bounds():
    row = {"belt_nominal_strength": 20.0, "belt_carcass": "fabric", "belt_width": 1.0}
    row |= {"tail_operating_tension": 1.5, "trough_angle": 35.0, "tail_transition_length": 3.0}
    register = make_register([row | {"tail_pulley_lift": "full trough"}])
    complete(register)
    verdict = evaluate(register).verdict("transition-length-tail", 0)
    assert verdict.rests_on_doubtful == ("belt_rated_tension",)
    assert verdict.cells["belt_rated_tension"] == register.cells.address(
        0, "belt_nominal_strength"
    )
