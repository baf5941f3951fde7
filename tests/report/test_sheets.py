"""What the result sheets say, held against the findings and the source."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path

import openpyxl
import pytest

from sheetcheck.checks import CHECKS
from sheetcheck.findings import check_register, evaluate, parse_limits
from sheetcheck.findings.results import BANDS, Findings
from sheetcheck.register.fields import FIELDS
from sheetcheck.report import write_report
from sheetcheck.report.display import Display, width_of
from sheetcheck.report.findings_sheet import Listing
from sheetcheck.report.model import Cell, SheetModel
from sheetcheck.report.paper import printable, width_in_points
from sheetcheck.report.sheets import report_sheets
from sheetcheck.report.skeleton import BookOptions
from sheetcheck.report.style import STYLES
from sheetcheck.tables import REGULATIONS
from sheetcheck.units import factor
from tests.conftest import make_register
from tests.report.sheet_models import WHEN, laid_out, table, text, values

# The contract's sheets; after them pictures of tension, where a transition calls for one, and the
# list of all verdicts.
ORDER = [
    "Check results",
    "Check findings",
    "Check summary",
    "Check cautions",
    "Check columns",
    "Check record",
]


def test_the_sheets_stand_in_the_order_of_the_contract(sheets: dict[str, SheetModel]) -> None:
    assert list(sheets)[: len(ORDER)] == ORDER
    assert list(sheets)[len(ORDER) :] == ["Check verdicts"]


def test_every_register_row_has_its_row_and_every_check_its_column(
    findings: Findings, sheets: dict[str, SheetModel]
) -> None:
    rows = table(sheets["Check results"])
    assert [text(row["Tag"]) for row in rows] == findings.register.values["tag"].tolist()
    for number, row in enumerate(rows):
        for key, result in findings.results.items():
            cell = row[CHECKS[key].title]
            assert isinstance(cell, Cell)
            assert cell.value == BANDS[result.band[number]]
            assert cell.style == cell.value
        bands = Counter(
            BANDS[result.band[number]]
            for result in findings.results.values()
            if not result.check.information
        )
        for word in ("falls short", "marginal", "not judged"):
            assert row[word.capitalize()] == bands[word]
        assert row["Rank"] == findings.rank[number]
        worst = text(row["Worst verdict"])
        order = ["falls short", "not judged", "marginal", "meets", "not applicable"]
        assert worst == next(word for word in order if bands[word])
        assert bool(row["Why"]) == (worst in order[:3])


def test_the_findings_are_those_of_the_contract_the_worst_conveyor_first(
    findings: Findings, sheets: dict[str, SheetModel]
) -> None:
    expected = Counter()
    for row in range(len(findings)):
        for verdict in findings.verdicts(row):
            has_a_column = any(
                findings.register.has(name) or findings.register.has(FIELDS[name].stand_in)
                for name in findings.missing_inputs(verdict.key, row)
            )
            if verdict.band in ("falls short", "marginal") or (
                verdict.band == "not judged" and has_a_column
            ):
                expected[findings.register.values["tag"][row], verdict.key, verdict.band] += 1
    rows = table(sheets["Check findings"])
    assert Counter((text(r["Tag"]), r["Check"], text(r["Verdict"])) for r in rows) == expected
    ranks = [row["Rank"] for row in rows]
    assert ranks == sorted(ranks)  # type: ignore[type-var]
    assert {text(row["Verdict"]) for row in rows} == {"falls short", "marginal", "not judged"}


def test_numbers_are_in_the_units_that_the_source_used(
    findings: Findings, sheets: dict[str, SheetModel]
) -> None:
    units = {c.field: c.unit for c in findings.register.columns if c.field}
    seen = 0
    rows = Listing(findings).rows.tolist()
    for row, line in zip(rows, table(sheets["Check findings"]), strict=True):
        key = str(line["Check"])
        check = findings.results[key].check
        verdict = findings.verdict(key, row)
        if isinstance(verdict.found, float):
            unit = str(line["Unit"]) or "1"
            by = factor(unit, check.unit)
            assert by is not None
            assert text(line["Found"]) == pytest.approx(verdict.found / by)
            if key == "transition-length-tail":
                # A column in feet and inches has no one unit; it reads in feet.
                assert unit == (units["tail_transition_length"] or "ft")
                seen += 1
    assert seen


def test_source_cells_link_to_where_they_say_and_tags_nowhere(
    findings: Findings, sheets: dict[str, SheetModel]
) -> None:
    """What a tag led to would be another conveyor once somebody has sorted either sheet."""
    for sheet in sheets.values():
        assert not any(c.link.own for row in sheet for c in row if isinstance(c, Cell) and c.link)
    for line in table(sheets["Check findings"]):
        cell = line["Source cell"]
        if text(cell):
            assert isinstance(cell, Cell)
            assert cell.link is not None
            assert not cell.link.own
            assert cell.link.sheet in findings.register.source.sheets


def test_a_results_only_workbook_has_no_links_to_source_cells(findings: Findings) -> None:
    for sheet in laid_out(findings, with_links=False).values():
        for row in sheet:
            assert all(
                cell.link is None or cell.link.own for cell in row if isinstance(cell, Cell)
            )


def test_no_subject_of_the_results_is_parted_over_two_printed_pages(
    sheets: dict[str, SheetModel],
) -> None:
    sheet = sheets["Check results"]
    subjects = [at for at, cell in enumerate(sheet.head[2]) if text(cell)]
    assert sheet.column_breaks
    assert set(sheet.column_breaks) <= set(subjects)
    assert sheet.page.scale >= 60
    assert sheet.page.paper in ("A3", "Tabloid")
    across = printable(sheet.page)[0]
    edges = [0, *sheet.column_breaks, len(sheet.columns)]
    repeated = width_in_points(sheet.columns[: sheet.repeat_columns])
    for first, last in pairwise(edges):
        width = width_in_points(sheet.columns[first:last]) + (repeated if first else 0)
        # In a font whose digits are a third wider too (see test_paper).
        assert width * 4 / 3 * sheet.page.scale / 100 <= across


def test_findings_print_on_one_page_width_that_can_be_read(sheets: dict[str, SheetModel]) -> None:
    sheet = sheets["Check findings"]
    names = [text(cell) for cell in sheet.head[-1]][: sheet.printed_columns]
    for name in ("Tag", "Verdict", "Found", "Required", "What to do", "Source cell", "Source"):
        assert name in names
    printed = width_in_points(sheet.columns[: sheet.printed_columns])
    # 60 % of 9 points is 5.4: the least that is read without effort, common practice.
    assert printable(sheet.page)[0] / printed >= 0.65


def test_cautions_come_with_their_rules_and_with_what_governs(
    sheets: dict[str, SheetModel],
) -> None:
    sheet = sheets["Check cautions"]
    said = " ".join(str(text(cell)) for row in sheet.head for cell in row)
    for word in ("Local law", "instructions", "licensed", "desk screening"):
        assert word in said
    rows = table(sheet)
    titles = [text(row["Caution"]) for row in rows if text(row.get("Rules"))]
    # The catalogue's list, by a word of each.
    for word in (
        *("energy", "start-up", "lock", "nip", "running", "confined", "silica", "combustible"),
        *("hot", "height", "handling", "splices", "run-back"),
    ):
        assert any(word in str(title).lower() for title in titles), word
    for row in rows:
        for line in str(text(row.get("Rules")) or "").splitlines():
            for rule in line.removeprefix("Elsewhere: ").split("; "):
                cites = [cite for cite in REGULATIONS if rule.startswith(cite)]
                assert any(rule.endswith(f"[{REGULATIONS[cite]['grade']}]") for cite in cites)
    assert "No jurisdiction is stated" in said


def test_every_column_is_listed_with_how_it_was_read(
    findings: Findings, sheets: dict[str, SheetModel]
) -> None:
    rows = table(sheets["Check columns"])[: len(findings.register.columns)]
    for column, row in zip(findings.register.columns, rows, strict=True):
        assert (row["Header in the source"], row["Sheet"]) == (column.header, column.sheet)
        assert row["Used"] == ("yes" if column.field else "no")
        assert text(row["Confidence"]) == column.confidence


def test_the_record_holds_what_an_auditor_asks(
    findings: Findings, sheets: dict[str, SheetModel]
) -> None:
    shown = {str(text(cell)) for row in sheets["Check record"] for cell in row}
    source = findings.register.source
    assert {source.file, source.sha256, "2026-03-14 09:26", "0.0"} <= shown
    for problem in findings.register.problems:
        assert ", ".join(problem.cells) in shown
        assert problem.what_to_do in shown
    for skipped in findings.register.skipped:
        assert str(skipped.row) in shown
    for key, result in findings.results.items():
        assert key in shown
        assert {f"{key}.{name}" for name in result.check.limits} <= shown


LIMITS = """
[plant]
jurisdiction = "Ternland"

[limits.tracking-clearance.least]
value = "60 mm"
set_by = "the site engineer"
why = "narrow gantry"
date = 2026-01-15

[ranges.carry_idler_spacing]
low = "0.9 m"
high = "1.2 m"
set_by = "the site engineer"
why = "one drawing for all"
date = 2026-01-16

[weights]
cleaning-plough = 4

[colours."falls short"]
fill = "#000000"
text = "#FFFFFF"

[[accepted]]
tag = "T1"
check = "cleaning-plough"
reason = "plough on order"
by = "the site engineer"
until = 2026-12-31

[[accepted]]
tag = "T2"
check = "cleaning-plough"
reason = "was on order"
by = "the site engineer"
until = 2025-12-31
"""


@pytest.fixture(scope="module")
def ruled() -> Findings:
    rows = [{"side_clearance": 0.07, "belt_width": 0.9, "tail_plough": 0} for _ in range(2)]
    return check_register(make_register(rows), parse_limits(LIMITS, "limits.toml"), on=WHEN.date())


def test_a_changed_limit_shows_beside_its_default_with_who_and_why(ruled: Findings) -> None:
    rows = values(laid_out(ruled)["Check record"])
    (used,) = [row for row in rows if row and "tracking-clearance.least" in row and 0.06 in row]
    assert used[2:4] == [0.06, 0.075]
    (change,) = [row for row in rows if row and "narrow gantry" in row]
    assert "laxer than published" in str(change[1])
    assert change[2:4] == ["2026-01-15", "the site engineer"]


def test_a_changed_range_shows_beside_its_default_and_is_a_finding(ruled: Findings) -> None:
    sheets = laid_out(ruled)
    rows = values(sheets["Check record"])
    (used,) = [row for row in rows if row and "0.9 to 1.2" in row]
    assert used[0] == "Carry idler spacing"
    assert used[2:4] == ["0.9 to 1.2", "0.3 to 1.5"]
    assert used[6] == "ranges.carry_idler_spacing"
    (change,) = [row for row in rows if row and "one drawing for all" in row]
    assert "in place of 300 mm to 1.5 m" in str(change[1])
    assert change[2:5] == ["2026-01-16", "the site engineer", "ranges.carry_idler_spacing"]
    (line,) = [
        row for row in table(sheets["Check findings"]) if text(row["Verdict"]) == "narrower range"
    ]
    assert "one drawing for all" in str(line["Why"])


def test_a_changed_weight_is_said_wherever_the_order_shows(ruled: Findings) -> None:
    sheets = laid_out(ruled)
    rows = values(sheets["Check record"])
    (change,) = [row for row in rows if row and "weights.cleaning-plough" in row]
    assert change[1] == "Counts 4 times in the ranking, in place of once"
    said = "by the plant's weights"
    assert any(said in str(row[0]) for row in values(sheets["Check summary"]) if row)
    assert any(said in str(cell) for row in sheets["Check findings"].head for cell in row)
    plain = laid_out(evaluate(ruled.register))
    assert not any(
        said in str(text(cell))
        for name in ("Check summary", "Check findings")
        for row in plain[name]
        for cell in row
    )


def test_the_worst_conveyors_stand_once_each_with_their_load_points() -> None:
    wide = {"chute_width_inside": 0.9, "belt_width": 0.9, "tail_plough": False}
    rows = [
        {"tag": "A 1", "load_point": "north"} | wide | {"nip_guards": True},
        {"tag": "a1", "load_point": "south"} | wide | {"nip_guards": False},
        {"tag": "B"} | wide,
    ]
    sheets = laid_out(evaluate(make_register(rows)))
    lines = values(sheets["Check summary"])
    assert str(lines[2][0]).startswith("2 of 2 conveyors fall short")
    first = "Guard the head, tail, drive, take-up and reachable return nips (load point south)."
    assert lines[3][0] == f"First: A 1. {first} No work on or beside it before that."
    start = next(at for at, row in enumerate(lines) if row and row[:2] == ["Tag", "For people"])
    shown = [(*row[:3], row[7], row[12]) for row in lines[start + 1 : start + 3]]
    assert shown[0] == (
        *("A 1", 1, 2),
        "Nip guards (south), chute width (north, south), tail plough",
        first,
    )
    assert shown[1][:4] == ("B", 0, 2, "Chute width, tail plough")
    assert lines[start + 3] in ([], [None])
    order = [
        (text(row["Tag"]), text(row["Load point"]), row["Rank"])
        for row in table(sheets["Check findings"])
        if row["Check"] == "load-width"
    ]
    assert order == [("A 1", "north", 1), ("a1", "south", 1), ("B", None, 2)]


def test_an_accepted_deviation_keeps_its_band_and_is_counted_apart(ruled: Findings) -> None:
    sheets = laid_out(ruled)
    first, second = table(sheets["Check results"])
    cell = first["Tail plough"]
    assert isinstance(cell, Cell)
    assert (cell.value, cell.style) == ("falls short, accepted", "falls short")
    assert (first["Accepted"], first["Falls short"]) == (1, second["Falls short"])
    assert text(second["Tail plough"]) == "falls short"
    summary = {row[0]: row[1:6] for row in values(sheets["Check summary"]) if row}
    assert summary["Of these, accepted by the plant"] == [1, 0, 0, 0, 0]
    (line,) = [
        row
        for row in table(sheets["Check findings"])
        if row["Check"] == "cleaning-plough" and text(row["Tag"]) == "T1"
    ]
    assert text(line["Verdict"]) == "falls short"
    assert "accepted: by the site engineer until 2026-12-31: plough on order" in str(line["Why"])


def test_an_expired_deviation_and_a_laxer_limit_are_findings_of_their_own(
    ruled: Findings,
) -> None:
    sheets = laid_out(ruled)
    notices = {text(row["Verdict"]): row for row in table(sheets["Check findings"])[-3:]}
    assert set(notices) == {"laxer limit", "narrower range", "deviation expired"}
    assert text(notices["deviation expired"]["Tag"]) == "T2"
    assert text(notices["laxer limit"]["Tag"]) == "all"
    states = [
        row[3]
        for row in values(sheets["Check record"])
        if row and row[-1] in ("plough on order", "was on order")
    ]
    assert states == ["in force", "expired"]


def test_a_plant_names_its_jurisdiction_and_its_colours(ruled: Findings, tmp_path: Path) -> None:
    sheets = laid_out(ruled)
    assert "Ternland" in str(values(sheets["Check cautions"])[3])
    assert sheets["Check summary"].charts[0].series[0].colour == "#000000"
    write_report(ruled.register, ruled, tmp_path / "out.xlsx", report_only=True, when=WHEN)
    book = openpyxl.load_workbook(tmp_path / "out.xlsx")
    cells = [cell for row in book["Check results"].iter_rows() for cell in row]
    assert {c.fill.fgColor.rgb for c in cells if c.value == "falls short"} == {"FF000000"}


def models(sheets: Iterable[SheetModel]) -> Iterable[tuple[SheetModel, int, str, object]]:
    for sheet in sheets:
        for row in sheet:
            for at, cell in enumerate(row):
                own = cell.style if isinstance(cell, Cell) else ""
                yield sheet, at, own or sheet.columns[at].style, text(cell)


def test_tags_never_wrap_and_fit_their_column(sheets: dict[str, SheetModel]) -> None:
    for sheet, at, style, value in models(sheets.values()):
        if style == "tag" and value:
            assert not STYLES[style].get("text_wrap")
            assert sheet.columns[at].width >= min(width_of([value], 0), 60)


def test_numbers_fit_their_column(sheets: dict[str, SheetModel]) -> None:
    for sheet, at, style, value in models(sheets.values()):
        if isinstance(value, float | int) and style.startswith(("number", "count", "share")):
            places = int(style[-1]) if style.startswith("number") else 0
            assert sheet.columns[at].width >= width_of([f"{value:,.{places}f}"], 0) - 0.5, (
                sheet.name,
                at,
                value,
            )


def test_units_of_fields_without_a_column_follow_the_register(findings: Findings) -> None:
    display = Display(findings.register)
    assert display.us == findings.register.source.file.endswith("_us.xlsx")
    bare = make_register([{"belt_width": 0.9}])
    assert Display(bare).unit("belt_width") == "mm"
    assert Display(bare).unit("conveyor_length") == "m"


def test_text_from_the_source_that_looks_like_a_formula_stays_text(tmp_path: Path) -> None:
    from sheetcheck.report.write import write_results

    register = make_register([{"tag": "=1+1", "area": "@SUM(A1)", "material": "+1"}])
    path = tmp_path / "out.xlsx"
    sheets = report_sheets(evaluate(register), when=WHEN, tool="0.0", with_links=False)
    write_results(sheets, path, BookOptions("", WHEN), overwrite=False)
    book = openpyxl.load_workbook(path)
    for sheet in book:
        assert not [c for row in sheet.iter_rows() for c in row if c.data_type == "f"]
    assert book["Check results"]["A5"].value == "=1+1"


def test_lines_for_the_program_are_neither_printed_nor_spread_over_the_sheet(
    sheets: dict[str, SheetModel],
) -> None:
    record = sheets["Check record"]
    rows = list(record)
    assert 0 < record.printed < len(rows)
    for row in rows[: record.printed]:
        assert all(len(str(text(cell))) < 1_000 for cell in row)
    for row in rows[record.printed :]:
        assert {cell.style for cell in row[1:] if isinstance(cell, Cell)} == {"clipped"}


def test_of_a_conveyor_what_people_need_before_work_is_listed_first() -> None:
    wide = {"chute_width_inside": 0.9, "belt_width": 0.9, "spillage_level": "heavy"}
    unsafe = {"nip_guards": False, "isolation_procedure": False, "emergency_stop": False}
    sheets = laid_out(evaluate(make_register([{"tag": "A"} | wide | unsafe])))
    keys = [row["Check"] for row in table(sheets["Check findings"])]
    assert keys[:4] == [
        "access-isolation",
        "access-guard",
        "access-stop",
        "housekeeping-spillage",
    ]
    assert keys.index("load-width") > 3


def test_a_flip_point_says_on_which_side_the_band_changes() -> None:
    wide = {"tag": "A", "chute_width_inside": 0.7, "belt_width": 0.9}
    sheets = laid_out(evaluate(make_register([wide])))
    (line,) = [row for row in table(sheets["Check findings"]) if row["Check"] == "load-width"]
    said = str(line["Band changes at"]).lower()
    assert "chute width inside below 600 mm" in said or "chute inside width below" in said
    assert "belt width above 1.05 m" in said or "belt width above 1,050 mm" in said
