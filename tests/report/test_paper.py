"""Page sizes and print scales, against ISO 216 and ANSI/ASME Y14.1."""

from __future__ import annotations

import pytest

from sheetcheck.report.model import Column, Page, Paper
from sheetcheck.report.paper import PAPERS, papers, printable, scale_that_fits, width_in_points


@pytest.mark.parametrize(
    ("paper", "short", "long"),
    [("A4", 210, 297), ("A3", 297, 420), ("Letter", 215.9, 279.4), ("Tabloid", 279.4, 431.8)],
)
def test_sides_are_those_of_the_standard(paper: Paper, short: float, long: float) -> None:
    # In millimetres: ISO 216; ANSI/ASME Y14.1, 8.5 × 11 in and 11 × 17 in.
    _, *sides = PAPERS[paper]
    assert sides == pytest.approx([short / 25.4 * 72, long / 25.4 * 72], abs=0.1)


def test_a_register_in_us_units_prints_on_us_paper() -> None:
    assert (papers(us=True), papers(us=False)) == (("Letter", "Tabloid"), ("A4", "A3"))


def test_what_fits_is_printed_whole_and_never_enlarged() -> None:
    page = Page(paper="A3")
    across, down = printable(page)
    assert across > down
    assert scale_that_fits(page, 10.0) == 100
    for width, height in ((2 * across, 0.0), (100.0, 3 * down), (2 * across, 3 * down)):
        scale = scale_that_fits(page, width, height) / 100
        assert width * scale <= across
        assert height * scale <= down
        assert scale > 0.9 * min(across / width, down / height if height else 1)
    assert printable(Page(landscape=False))[0] < printable(Page())[0]


def test_a_copy_fits_where_a_wider_font_stands_in_for_its_standard_one() -> None:
    # Digits as read from the fonts' own tables: DejaVu Sans 1303 of 2048 units an em; Calibri 7
    # pixels at 11 points, at 96 pixels an inch.
    wider = 1303 / 2048 * 11 / 72 * 96 / 7
    assert wider == pytest.approx(4 / 3, abs=0.01)
    page = Page(paper="A4")
    across, _ = printable(page)
    scale = scale_that_fits(page, across, in_copy=True) / 100
    assert 0.9 * across < across * wider * scale < 0.97 * across


def test_a_column_of_eight_digits_is_61_pixels_wide() -> None:
    # ECMA-376 part 1, 18.3.1.13: digits of 7 pixels and 5 pixels beside them; 96 pixels an inch.
    assert width_in_points([Column(8)]) == 61 * 72 / 96
