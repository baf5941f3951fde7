"""The summary: counts, the headline, and charts over what the tables hold."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np
import pytest

from sheetcheck.findings import evaluate
from sheetcheck.findings.results import BANDS, Findings
from sheetcheck.register.register import Column
from sheetcheck.report.model import SheetModel
from tests.conftest import make_register
from tests.report.sheet_models import laid_out, table, text, values


def test_the_summary_counts_what_the_checks_gave(
    findings: Findings, sheets: dict[str, SheetModel]
) -> None:
    rows = {text(row[0]): row for row in sheets["Check summary"] if row}
    shown = [int(str(text(cell))) for cell in rows["All"][1:6]]
    bands = np.concatenate([r.band for r in findings.results.values() if not r.check.information])
    order = ["falls short", "not judged", "marginal", "meets", "not applicable"]
    assert shown == [int((bands == BANDS.index(word)).sum()) for word in order]


def test_what_is_outside_a_method_is_named_though_nothing_is_missing() -> None:
    # CEMA's table of transition factors ends at 45°.
    steep = {
        "belt_width": 1.2,
        "trough_angle": 60.0,
        "belt_carcass": "fabric",
        "tail_transition_length": 3.0,
        "tail_tension_ratio": 0.8,
        "tail_pulley_lift": "full trough",
    }
    findings = evaluate(make_register([steep]), checks=["transition-length-tail"])
    assert findings.verdict("transition-length-tail", 0).band == "not judged"
    sheets = laid_out(findings)
    assert len(sheets["Check findings"].body) == 0
    said = [str(text(cell)) for row in sheets["Check summary"] for cell in row]
    assert "Tail transition length: the factor table ends at a 45° trough" in said


def test_charts_stand_on_at_least_two_points_of_numbers(sheets: dict[str, SheetModel]) -> None:
    sheet = sheets["Check summary"]
    rows = list(sheet)
    assert len(sheet.charts) == 3
    for chart in sheet.charts:
        for series in chart.series:
            first, last = series.rows
            assert last > first
            for row in rows[first : last + 1]:
                assert isinstance(text(row[series.categories]), str)
                assert isinstance(text(row[series.values]), int)


def test_every_bar_has_room_for_its_name(sheets: dict[str, SheetModel]) -> None:
    charts = [chart for chart in sheets["Check summary"].charts if "bar" in chart.kind]
    assert charts
    for chart in charts:
        # Points that LibreOffice 7.4 takes for title, scale and legend, read off its pages.
        around = 118 if len(chart.series) > 1 else 80
        first, last = chart.series[0].rows
        bar = (chart.height * 0.75 - around) / (last - first + 1)
        # Names are of 9 points; those of inputs may take two lines.
        assert bar >= (1.6 if chart.kind == "stacked bar" else 2.4) * 9


def test_the_summary_begins_with_what_falls_short_and_what_to_do_first(
    findings: Findings, sheets: dict[str, SheetModel]
) -> None:
    rows = values(sheets["Check summary"])
    conveyors = findings.register.first_row.tolist()
    short = {
        conveyors[row]
        for row in range(len(findings))
        if any(v.band == "falls short" for v in findings.verdicts(row))
    }
    said = f"{len(short)} of {len(set(conveyors))} conveyors fall short"
    assert str(rows[2][0]).startswith(said)
    # Without isolation, then guards, then stop, nobody should work there: they go before the rank.
    rank, first = findings.rank, int(np.argmin(findings.rank))
    for key in ("access-stop", "access-guard", "access-isolation"):
        lacking = np.flatnonzero(findings.results[key].band == BANDS.index("falls short"))
        if len(lacking):
            first = conveyors[lacking[np.argmin(rank[lacking])]]
    tag = findings.register.values["tag"][first]
    remedies = [
        verdict.remedy
        for row in np.flatnonzero(np.array(conveyors) == first).tolist()
        for verdict in findings.verdicts(row)
        if verdict.band == "falls short"
    ]
    assert str(rows[3][0]).startswith(f"First: {tag}. ")
    step = str(rows[3][0]).partition(". ")[2].partition(" (load point")[0]
    step = step.partition(" No work on or beside it")[0].removesuffix(".")
    assert any(remedy.startswith(step) for remedy in remedies)
    assert rows[5][1:6] == ["falls short", "not judged", "marginal", "meets", "not applicable"]
    worst = Counter(text(row["Worst verdict"]) for row in table(sheets["Check results"]))
    assert rows[6][1:6] == [worst[word] for word in rows[5][1:6]]
    assert sum(worst.values()) == len(findings)


def test_nobody_is_sent_to_a_conveyor_that_cannot_be_isolated() -> None:
    door = {"door_count": 0, "isolation_procedure": True, "nip_guards": True}
    rows = [
        {"tag": "A", "emergency_stop": True, "spillage_level": "heavy", **door},
        {"tag": "B", "emergency_stop": False, **door},
        {"tag": "C", "emergency_stop": True, **door, "isolation_procedure": False},
        {"tag": "D", **door},
    ]
    lines = values(laid_out(evaluate(make_register(rows)))["Check summary"])
    assert str(lines[3][0]).startswith("First: C. Write, train and enforce an isolation procedure")
    assert str(lines[3][0]).endswith("No work on or beside it before that.")
    # D's stop is not recorded: that is not to pass for a good one.
    assert "of 1 it is not known whether people can work on them safely" in str(lines[2][0])


def test_a_summary_in_which_nothing_falls_short_does_not_pass_over_what_is_unknown() -> None:
    sheet = laid_out(evaluate(make_register([{"belt_width": 1.2}])))["Check summary"]
    rows = values(sheet)
    assert "could not be judged" in str(rows[2][0])
    assert "record what is missing" in str(rows[3][0])


def test_one_conveyor_makes_no_chart_of_one_bar() -> None:
    sheets = laid_out(evaluate(make_register([{"primary_cleaner": 0, "secondary_cleaner": 0}])))
    assert "Worst conveyors" not in [chart.title for chart in sheets["Check summary"].charts]


MEASURED = {"carryback_measured": 0.08, "belt_width": 1.2, "primary_cleaner": False}


@pytest.mark.parametrize(
    ("residue", "tonnage_unit", "amounts", "unit"),
    [
        # kg/m2 over the belt's width at 2.5 m/s, 3600 s/h, for 6000 h/year: 5184 t.
        (MEASURED, "t/h", [5200, None], "t/year"),
        (MEASURED, "short ton/h", [5700, None], "short ton/year"),
        (MEASURED | {"belt_width": 0.001}, "t/h", [4.3, None], "t/year"),
        # One stage removes 40 to 50 %.
        (
            {"carryback_initial": 0.2, "belt_width": 1.2, "primary_cleaner": True},
            "t/h",
            [6500, 7800],
            "t/year",
        ),
    ],
)
def test_residue_that_passes_the_cleaners_is_no_work_and_no_surer_than_it_is(
    residue: dict[str, Any], tonnage_unit: str, amounts: list[float | None], unit: str
) -> None:
    recorded = {
        "belt_speed": 2.5,
        "carryback_target": 0.1,
        "secondary_cleaner": False,
        "secondary_blade": "rubber",
        "operating_hours": 6000.0,
        "tonnage": 500.0,
    }
    register = make_register([recorded | residue])
    register.columns.append(
        Column("Conveyors", "Z", "Rate", "tonnage", tonnage_unit, 1.0, "words for tonnage")
    )
    rows = values(laid_out(evaluate(register))["Check summary"])
    first = [row[0] if row else None for row in rows]
    at = first.index("Residue that passes the cleaners, where it can be reckoned")
    assert rows[at + 2][:5] == ["In a year", *amounts, unit, 1]
    work = first[first.index("Corrective work over the site") + 2 : at - 1]
    assert "Secondary cleaners to fit" in work
    assert not [what for what in work if "arryback" in str(what) or "esidue" in str(what)]
