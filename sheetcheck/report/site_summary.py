"""One workbook over all workbooks of a run: each of them, each check, the worst conveyors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from ..checks import CHECKS
from ..errors import SheetcheckError
from ..findings.cautions import GOVERNING, SCREENING
from ..findings.digest import Digest, Worst
from .display import capital, listed, width_of
from .model import Body, Cell, Chart, Column, Page, Row, Series, SheetModel
from .skeleton import BookOptions
from .style import BAND_COLOURS
from .write import write_results

__all__ = ["Checked", "site_sheets", "write_site_summary"]

_SHOWN = ("falls short", "not judged", "marginal", "meets", "not applicable")
_MOST_CONVEYORS = 200
_MOST_BARS = 30
_MOST_CHECKS = 6
_NAME_WIDTH = (16, 48)


@dataclass(frozen=True, slots=True)
class Checked:
    """One workbook of the run.

    Attributes
    ----------
    source
        As it was given or found.
    target
        Name of the checked copy; empty where there is none.
    digest
        What was found; None where the workbook could not be checked.
    error
        Why it could not be.
    """

    source: str
    target: str
    digest: Digest | None
    error: SheetcheckError | None


def write_site_summary(
    checked: Sequence[Checked], path: Path, *, overwrite: bool, when: datetime | None = None
) -> None:
    """Write the summary as a workbook.

    Parameters
    ----------
    checked
        The run's workbooks, in its order.
    path
        File to write.
    overwrite
        Whether a file that is there may be replaced.
    when
        Moment of the run; now, where not given.

    Raises
    ------
    OutputExists
        Where the file is there and `overwrite` is not set.
    UnusableCall
        Where it cannot be written.
    """
    when = when or datetime.now()
    options = BookOptions("Conveyor checks over all workbooks", when)
    write_results(site_sheets(checked, when), path, options, overwrite=overwrite)


def site_sheets(checked: Sequence[Checked], when: datetime) -> list[SheetModel]:
    """Lay out the summary."""
    page = Page("Site summary", f"{when.day} {when:%B %Y}")
    sheets = (_workbooks, _failed, _checks, _conveyors)
    return [sheet(checked, page) for sheet in sheets]


def _head(title: str, about: str, headings: Sequence[str]) -> tuple[Row, ...]:
    return (
        (Cell(title, "title"),),
        (Cell(about, "subtitle"),),
        tuple(Cell(name, "heading") for name in headings),
    )


def _count(value: float) -> Cell:
    return Cell(int(value), "count")


def _bands(counts: Mapping[str, int]) -> list[Cell]:
    return [_count(counts.get(band, 0)) for band in _SHOWN]


def _added(every: Sequence[Mapping[str, int]]) -> dict[str, int]:
    return {band: sum(counts.get(band, 0) for counts in every) for band in _SHOWN}


def _workbooks(checked: Sequence[Checked], page: Page) -> SheetModel:
    """Every workbook in counts."""
    whole = [(one, one.digest) for one in checked if one.digest is not None]
    headings = ["Workbook", "Checked copy", "Rows", *map(capital, _SHOWN), "Problems in it"]
    rows: list[Row] = [
        (
            Cell(one.source, "name"),
            Cell(one.target, "text"),
            _count(found.rows),
            *_bands(found.totals),
            _count(found.problems),
        )
        for one, found in whole
    ]
    rows.append(
        (
            Cell("All", "name"),
            Cell("", "text"),
            _count(sum(found.rows for _, found in whole)),
            *_bands(_added([found.totals for _, found in whole])),
            _count(sum(found.problems for _, found in whole)),
        )
    )
    failed = len(checked) - len(whole)
    rows += [
        (),
        (Cell(f"{failed} could not be checked: see the next sheet." if failed else "", "plain"),),
        (Cell(GOVERNING, "plain"),),
        (Cell(SCREENING, "plain"),),
    ]
    first = 3
    series = tuple(
        Series(
            capital(band), (first, first + len(whole) - 1), 0, 3 + number, BAND_COLOURS[band][0]
        )
        for number, band in enumerate(_SHOWN)
    )
    chart = Chart(
        "stacked bar",
        "Verdicts by workbook",
        "verdicts",
        series,
        row=first + len(rows) + 1,
        column=0,
        width=900,
        height=180 + 16 * len(whole),
    )
    sources = [one.source for one in checked]
    return SheetModel(
        "Workbooks",
        (
            Column(width_of(sources, *_NAME_WIDTH), "plain"),
            Column(width_of([one.target for one in checked], *_NAME_WIDTH), "plain"),
            *[Column(12, "plain")] * 7,
        ),
        _head(
            "Site summary",
            f"{len(whole)} of {len(checked)} workbooks were checked, "
            f"{sum(found.rows for _, found in whole):,} register rows.",
            headings,
        ),
        Body.of(rows),
        freeze=(first, 1),
        heights={0: 24, 1: 20},
        charts=(chart,) if 1 < len(whole) <= _MOST_BARS else (),
        page=page,
    )


def _failed(checked: Sequence[Checked], page: Page) -> SheetModel:
    """Every workbook that could not be checked, and why."""
    rows: list[Row] = [
        (Cell(one.source, "name"), f"{one.error.where}: {one.error.problem}", one.error.what_to_do)
        for one in checked
        if one.error is not None
    ]
    return SheetModel(
        "Could not be checked",
        (Column(40), Column(70), Column(60)),
        _head(
            "Could not be checked",
            "The other workbooks were checked all the same."
            if rows
            else "None: every workbook was checked.",
            ["Workbook", "Why", "What to do"],
        ),
        Body.of(rows),
        freeze=(3, 1),
        heights={0: 24, 1: 20},
        page=page,
    )


def _checks(checked: Sequence[Checked], page: Page) -> SheetModel:
    """Every check over all workbooks."""
    found = [one.digest for one in checked if one.digest is not None]
    rows: list[Row] = []
    for key, check in CHECKS.items():
        every = [digest.bands[key] for digest in found if key in digest.bands]
        touched = sum(counts["falls short"] > 0 for counts in every)
        rows.append(
            (
                Cell(check.title, "name"),
                Cell(capital(check.subject), "line"),
                Cell(check.question, "text"),
                *_bands(_added(every)),
                _count(touched),
            )
        )
    return SheetModel(
        "Checks",
        (Column(26), Column(15), Column(52), *[Column(12, "count")] * 6),
        _head(
            "Checks over all workbooks",
            "Verdicts by band; the last column counts workbooks in which the check falls short.",
            ["Check", "Subject", "Question", *map(capital, _SHOWN), "Workbooks"],
        ),
        Body.of(rows),
        freeze=(3, 1),
        filtered=True,
        heights={0: 24, 1: 20},
        page=page,
    )


def _order(worst: Worst) -> tuple[float, ...]:
    """Order of a single workbook's ranking, over all of them."""
    margin = float("inf") if worst.worst_margin is None else worst.worst_margin
    return -worst.people_weight, -worst.yearly_cost, -worst.short_weight, margin


def _conveyors(checked: Sequence[Checked], page: Page) -> SheetModel:
    """The worst conveyors, whichever workbook they stand in."""
    every = [
        (one.source, worst)
        for one in checked
        if one.digest is not None
        for worst in one.digest.worst
    ]
    every.sort(key=lambda item: _order(item[1]))  # stable: then the order of the run
    weighed = any(
        (worst.people_weight, worst.short_weight) != (worst.people, worst.short)
        for _, worst in every
    )
    weights = ", by the plant's weights" if weighed else ""
    rows: list[Row] = [
        (
            _count(number),
            Cell(worst.tag, "name"),
            Cell(listed(worst.load_points) or None, "line"),
            Cell(source, "text"),
            Cell(f"{worst.sheet}, row {worst.row}", "line"),
            _count(worst.people),
            Cell(worst.yearly_cost or None, "count"),
            _count(worst.short),
            Cell(worst.worst_margin, "share"),
            listed((CHECKS[key].title.lower() for key in worst.checks), _MOST_CHECKS),
        )
        for number, (source, worst) in enumerate(every[:_MOST_CONVEYORS], start=1)
    ]
    return SheetModel(
        "Worst conveyors",
        (
            Column(7, "count"),
            Column(width_of([worst.tag for _, worst in every], 10), "name"),
            Column(11),
            Column(width_of([source for source, _ in every], *_NAME_WIDTH)),
            Column(22),
            *[Column(12, "count")] * 4,
            Column(70),
        ),
        _head(
            "Worst conveyors",
            "By: falls short that bear on people, cost a year (each in its own register's "
            f"currency), all falls short, worst margin{weights}. "
            f"A check that falls short at several load points counts once. At most "
            f"{_MOST_CONVEYORS}.",
            [
                "Order",
                "Tag",
                "Load points",
                "Workbook",
                "Place",
                "For people",
                "Cost a year",
                "Falls short",
                "Worst margin",
                "What falls short",
            ],
        ),
        Body.of(rows),
        freeze=(3, 2),
        filtered=True,
        heights={0: 24, 1: 20},
        page=page,
    )
