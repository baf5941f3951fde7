"""Pictures of the tension across the belt, held against the published limit."""

from __future__ import annotations

import numpy as np
import pytest

from sheetcheck.findings import evaluate
from sheetcheck.report.model import Chart, SheetModel
from sheetcheck.report.paper import printable, width_in_points
from tests.conftest import make_register
from tests.report.sheet_models import laid_out, text


def test_tension_is_drawn_at_the_length_that_is_and_at_the_one_that_would_do() -> None:
    findings = evaluate(
        make_register(
            [
                {
                    "belt_width": 1.2,
                    "trough_angle": 35.0,
                    "tail_transition_length": 1.5,
                    "tail_tension_ratio": 0.9,
                    "belt_rated_tension": 100.0,
                    "belt_modulus": 5000.0,
                    "tail_pulley_lift": "full trough",
                    "centre_roll_length": 0.4,
                    "idler_rolls": 3,
                }
            ]
        )
    )
    verdict = findings.verdict("transition-tension-tail", 0)
    assert verdict.band == "falls short"
    sheet = laid_out(findings)["Check tension"]
    (chart,) = sheet.charts
    first, last = chart.series[0].rows
    points = [[text(cell) for cell in row[:3]] for row in list(sheet)[first : last + 1]]
    assert len(points) == 41
    places, exists, would_do = (np.array(column, float) for column in zip(*points, strict=True))
    assert places[[0, 20, 40]].tolist() == [-600, 0, 600]
    assert exists.max() / 100 == pytest.approx(verdict.found)
    # The shortest length that would do has its peak at the limit, GY p. 23: 1.15 of rated.
    assert would_do.max() / 100 == pytest.approx(1.15, rel=1e-6)
    # The mean tension is kept, so that what the edges gain the centre gives.
    assert exists[20] < would_do[20] < 90
    assert "Check tension" not in laid_out(evaluate(make_register([{"belt_width": 1.2}])))


def drawn(sheet: SheetModel, chart: Chart) -> dict[str, list[tuple[object, object]]]:
    """Series of a chart by name, as the points that its cells hold."""
    rows = list(sheet)
    return {
        series.name: [
            (text(row[series.categories]), text(row[series.values]))
            for row in rows[series.rows[0] : series.rows[1] + 1]
        ]
        for series in chart.series
    }


def test_tension_is_drawn_against_its_limits_a_page_for_each_transition() -> None:
    # Goodyear/Veyance guide p. 23: 1.15 of rated; a belt that pulls nowhere buckles.
    belt = {
        "belt_width": 1.2,
        "trough_angle": 45.0,
        "tail_tension_ratio": 0.15,
        "head_tension_ratio": 1.0,
        "belt_rated_tension": 200.0,
        "belt_modulus": 15_000.0,
        "tail_pulley_lift": "full trough",
        "head_pulley_lift": "full trough",
        "tail_transition_length": 2.0,
        "head_transition_length": 4.0,
    }
    sheet = laid_out(evaluate(make_register([belt])))["Check tension"]
    # What falls short stands before what is marginal, though its peak is lower.
    tail, head = sheet.charts
    assert tail.title.startswith("T1, tail")
    lines = drawn(sheet, tail)
    assert lines["Rated tension"] == [(-600, 200), (600, 200)]
    limit = lines["Limit, 1.15 × rated"]
    assert [place for place, _ in limit] == [-600, 600]
    assert [value for _, value in limit] == pytest.approx([230, 230])
    profile = np.array(lines["At 2,000 mm, as recorded"], float)[:, 1]
    assert profile.min() < 0
    assert lines["No tension: the belt buckles"] == [(-600, 0), (600, 0)]
    assert "No tension: the belt buckles" not in drawn(sheet, head)
    patterns = [series.pattern for series in tail.series]
    assert len(set(patterns)) == len(patterns)  # told apart without colour
    assert sheet.row_breaks == (head.row - 1,)
    # In a font whose digits are a third wider (see test_paper) it still fits, and can be read.
    across, _ = printable(sheet.page)
    assert width_in_points(sheet.columns) * 4 / 3 * sheet.page.scale / 100 <= across
    assert 60 <= sheet.page.scale <= 100
