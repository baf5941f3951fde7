"""Random registers with the truth beside them: what is read is the truth, or a problem says so.

Each column has a field, a unit that the field may be kept in, and cells written in that unit or
in one of their own, as numbers or as text, in a table, on its side, or as forms.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from sheetcheck.errors import UnusableInput
from sheetcheck.intake import read, read_register
from sheetcheck.intake.grid import Grid
from sheetcheck.intake.headers import match_header
from sheetcheck.intake.workbook import Book
from sheetcheck.register.fields import FIELDS
from sheetcheck.units import SPELLINGS, UNITS, factor

NUMBERS = [
    field
    for field in FIELDS.values()
    if field.kind == "number"
    and match_header(f"{field.meaning} ({field.unit})").field == field.key
]


def units_of(field):
    return [unit for unit in UNITS if factor(unit, field.unit) is not None]


def span(field):
    """A range of ordinary values, SI."""
    low, high = field.size or (field.plausible.low, field.plausible.high)
    low = max(low, field.possible.low, 0.0 if math.isinf(low) else low)
    high = min(high, field.possible.high, 100.0 if math.isinf(high) else high)
    return low, high


@st.composite
def columns(draw):
    """A heading, and cells with their truth in SI."""
    field = draw(st.sampled_from(NUMBERS))
    units = units_of(field)
    unit = draw(st.sampled_from(units))
    spelling = draw(st.sampled_from([s for s, u in SPELLINGS.items() if u == unit and s != "-"]))
    cells, truth = [], []
    for _ in range(3):
        low, high = span(field)
        # Sizes of one order in a column, as a plant has them.
        value = draw(st.floats(0.3, 0.6)) * (high - low) + low
        own = draw(st.sampled_from([unit, unit, unit, draw(st.sampled_from(units))]))
        number = float(f"{value / factor(own, field.unit):.6g}")
        written = (
            draw(st.sampled_from(["number", "text", "with unit"])) if own == unit else "with unit"
        )
        text = f"{number:.10f}".rstrip("0").rstrip(".")
        if written == "number":
            cells.append(number)
        elif written == "text":
            cells.append(text)
        else:
            marks = [s for s, u in SPELLINGS.items() if u == own and s != "-"]
            cells.append(f"{text} {draw(st.sampled_from(marks))}")
        truth.append(number * factor(own, field.unit))
    return field, f"{field.meaning} ({spelling})", cells, truth


@st.composite
def registers(draw):
    found = draw(st.lists(columns(), min_size=2, max_size=6, unique_by=lambda one: one[0].key))
    heads = ["Tag", *(heading for _, heading, _, _ in found)]
    rows = [[f"CV-{n}", *(cells[n] for _, _, cells, _ in found)] for n in range(3)]
    layout = draw(st.sampled_from(["table", "sideways", "forms"]))
    if layout == "forms":
        sheets = [
            Grid(row[0], [[head, value] for head, value in zip(heads, row, strict=True)])
            for row in rows
        ]
    else:
        grid = Grid("Conveyors", [heads, *rows])
        sheets = [grid.turned() if layout == "sideways" else grid]
    return found, sheets


@settings(max_examples=200, suppress_health_check=list(HealthCheck))
@given(registers())
def test_what_is_read_is_the_truth_or_a_problem_says_so(case):
    found, sheets = case
    book = Book("truth.xlsx", "truth.xlsx", "", tuple(s.sheet for s in sheets), tuple(sheets))
    opened, read.open_book = read.open_book, lambda *_: book
    try:
        register = read_register("truth.xlsx")
    except UnusableInput:
        register = None  # said aloud
    finally:
        read.open_book = opened
    event("refused" if register is None else "read")
    if register is None:
        return
    tags = register.values["tag"].tolist()
    assert sorted(tags) == ["CV-0", "CV-1", "CV-2"]
    told = {problem.field for problem in register.problems}
    for field, heading, cells, truth in found:
        for row, tag in enumerate(tags):
            value = register.value(row, field.key)
            if (row, field.key) in register.derived:
                continue
            known = value is not None and not isinstance(value, tuple)
            event("a value" if known else "a problem")
            if not known:
                asked = any(heading in problem.text for problem in register.problems)
                assert field.key in told or asked, (heading, cells)
                continue
            number = int(tag.removeprefix("CV-"))
            assert value == pytest.approx(truth[number], rel=1e-5), (
                heading,
                cells,
                register.problems,
            )
