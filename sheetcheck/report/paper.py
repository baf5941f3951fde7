"""What fits a printed page, in points of a 72nd of an inch."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from .model import Column, Page, Paper

__all__ = ["MARGINS", "PAPERS", "papers", "printable", "scale_that_fits", "width_in_points"]

PAPERS: Mapping[Paper, tuple[int, float, float]] = MappingProxyType(
    {
        "A4": (9, 595.3, 841.9),
        "A3": (8, 841.9, 1190.6),
        "Letter": (1, 612.0, 792.0),
        "Tabloid": (3, 792.0, 1224.0),
    }
)
"""Paper to its number in the file format (ECMA-376 part 1, 18.3.1.63) and its sides (ISO 216,
ANSI/ASME Y14.1)."""


def papers(*, us: bool) -> tuple[Paper, Paper]:
    """Small and large paper of the region."""
    return ("Letter", "Tabloid") if us else ("A4", "A3")


MARGINS: Mapping[str, float] = MappingProxyType(
    {"left": 0.4, "right": 0.4, "top": 0.5, "bottom": 0.6}
)
"""Margins in inches."""

_POINTS_PER_INCH = 72
_PIXELS_PER_DIGIT, _PIXELS_BESIDE = 7, 5  # a column in the standard font of a new workbook
_POINTS_PER_PIXEL = 0.75
# Some programs count a column's width in whole pixels, others do not round the digits down.
_SLACK = 0.92
# In a copy, columns count digits of the source's standard font. Where a machine lacks that font, a
# wider one may stand in: Calibri of 11 points has digits of 7 pixels, DejaVu Sans of 9.3.
_SLACK_IN_COPY = 0.72


def width_in_points(columns: Iterable[Column]) -> float:
    """Width of columns at full size."""
    pixels = sum(column.width * _PIXELS_PER_DIGIT + _PIXELS_BESIDE for column in columns)
    return pixels * _POINTS_PER_PIXEL


def printable(page: Page) -> tuple[float, float]:
    """Width and height of a page within its margins."""
    _, short, long = PAPERS[page.paper]
    across, down = (long, short) if page.landscape else (short, long)
    return (
        across - (MARGINS["left"] + MARGINS["right"]) * _POINTS_PER_INCH,
        down - (MARGINS["top"] + MARGINS["bottom"]) * _POINTS_PER_INCH,
    )


def scale_that_fits(
    page: Page, width: float, height: float = 0.0, *, in_copy: bool = False
) -> int:
    """Print scale in per cent, at most 100, at which a sheet fits a page.

    Parameters
    ----------
    page
        The paper, and how it lies.
    width, height
        Of the sheet at full size, in points; a height of 0 may take any number of pages.
    in_copy
        Whether it may stand in a copy of a workbook, whose standard font is not ours.
    """
    across, down = printable(page)
    across *= _SLACK_IN_COPY if in_copy else _SLACK
    share = min(across / width, down / height if height else 1.0)
    return max(min(int(100 * share), 100), 10)
