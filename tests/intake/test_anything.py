"""Any grid of cells is read or refused: no other exception, and no value outside its limits."""

from __future__ import annotations

import datetime

import numpy as np
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from sheetcheck.errors import SheetcheckError
from sheetcheck.intake import read, read_register
from sheetcheck.intake.grid import Area, Fault, Grid, Shown
from sheetcheck.intake.workbook import Book
from sheetcheck.register.fields import FIELDS, POSITIONS

HEADINGS = [
    "Tag", "Conveyor No.", "Belt width (mm)", "Belt width", "BELT", "TAIL END", "Width (m)",
    "Transition (mm)", "Speed (m/s)", "Pulley", "Blade", "Primary", "Secondary", "Capacity (TPH)",
    "Trough angle", "Belt", "Carcass", "Tail tension (%)", "mm", "(m)", "Remarks", "Load point",
    "Chute width inside (mm)", "Conveyor length", "Lump (mm)", "Notes:", "Skirt seal", "kW",
]  # fmt: skip
CELLS = [
    "CV-1", "CV 1", "cv2", "Y", "N", "x", "✓", "TBC", "-", "ditto", '"', "900", "1,200", "1.500",
    "0,25", "7'-2 1/2\"", "0.6–0.9 m", "~900 mm", "< 5", "EP 800/4", "ST 2500", "urethane",
    "dual lip", "full trough", "see drawing", "TOTAL", "AREA 100", "80 %", "450 TPH", "2 off", " ",
]  # fmt: skip
VALUES = st.one_of(
    st.sampled_from(HEADINGS),
    st.sampled_from(CELLS),
    st.floats(allow_nan=False),
    st.sampled_from([0.0, 0.9, 35.0, 900.0, 1.5, 1e308, -3.0, 80.0]),
    st.booleans(),
    st.text(max_size=12),
    st.just(""),
    st.just(datetime.date(2024, 3, 6)),
    st.just(datetime.time(7, 26)),
    st.just(Fault("#N/A", "is an error", "Correct it.")),
    st.builds(Shown, st.floats(-1e6, 1e6), st.sampled_from(["mm", "m", "1", "%"])),
)


@st.composite
def grids(draw, name="Conveyors"):
    width = draw(st.integers(1, 7))
    heads = [[draw(st.sampled_from(HEADINGS)) for _ in range(width)] for _ in range(2)]
    body = draw(st.lists(st.lists(VALUES, min_size=width, max_size=width), max_size=8))
    title = draw(st.lists(st.lists(VALUES, min_size=width, max_size=width), max_size=2))
    rows = [*title, *heads[: draw(st.integers(1, 2))], *body]
    merged = []
    if draw(st.booleans()):
        top, left = draw(st.integers(0, len(rows) - 1)), draw(st.integers(0, width - 1))
        merged = [
            Area(top, left, draw(st.integers(top, len(rows))), draw(st.integers(left, width)))
        ]
    grid = Grid(name, rows, merged, frozenset(draw(st.sets(st.integers(0, 9)))))
    return grid.turned() if draw(st.booleans()) else grid


@settings(max_examples=150, suppress_health_check=list(HealthCheck))
@given(st.lists(grids(), min_size=1, max_size=2))
def test_any_grid_is_read_or_refused(found):
    for number, grid in enumerate(found):
        grid.sheet = f"Sheet {number}"
    book = Book("any.xlsx", "any.xlsx", "", tuple(g.sheet for g in found), tuple(found))
    opened, read.open_book = read.open_book, lambda *_: book
    message = ""
    try:
        register = read_register("any.xlsx")
    except SheetcheckError as error:
        message = str(error)
    finally:
        read.open_book = opened
    event("refused" if message else "read")
    assert "\n" not in message
    if message:
        return
    size = len(register)
    assert all(register.values["tag"])
    for name, column in register.values.items():
        spec = FIELDS[name]
        assert len(column) == size
        if spec.numeric:
            known = column[~np.isnan(column)]
            assert all(spec.possible.holds(value) for value in known.tolist()), name
        elif spec.kind == "choice":
            assert set(column.tolist()) <= {"", *spec.choices}
        elif spec.kind == "yes/no":
            assert set(column[~np.isnan(column)].tolist()) <= {0.0, 1.0}
    for (row, name), (low, high) in register.intervals.items():
        assert low < high
        assert np.isnan(register.values[name][row])
    for name, words in register.positions.items():
        assert set(words.tolist()) <= {"", *POSITIONS}
        assert np.isnan(register.values[name][words != ""]).all()
    for row in range(size):
        for name in register.values:
            register.value(row, name)
            register.cells.address(row, name)
    for problem in register.problems:
        assert problem.problem
        assert problem.what_to_do
