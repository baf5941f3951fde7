"""One workbook over all workbooks of a run: each of them, each check, the worst conveyors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from ..checks import CHECKS
from ..errors import SheetcheckError
from ..findings.cautions import GOVERNING, SCREENING
from ..findings.digest import Digest, Worst
from .display import capital, listed, width_of
from .lists import HEAD, ListColumn, list_sheet
from .model import Body, Cell, Chart, Page, Series, SheetModel
from .skeleton import BookOptions
from .style import BAND_COLOURS, SHOWN
from .write import write_results

__all__ = ["Checked", "site_sheets", "write_site_summary"]

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


def _added(every: Sequence[Mapping[str, int]]) -> dict[str, int]:
    return {band: sum(counts.get(band, 0) for counts in every) for band in SHOWN}


def _workbooks(checked: Sequence[Checked], page: Page) -> SheetModel:
    """Every workbook in counts."""
    whole = [(one, one.digest) for one in checked if one.digest is not None]
    rows = sum(found.rows for _, found in whole)
    lines = [
        (one.source, one.target, found.rows, found.totals, found.problems) for one, found in whole
    ]
    totals = _added([found.totals for _, found in whole])
    lines.append(("All", "", rows, totals, sum(found.problems for _, found in whole)))
    sources, targets = [one.source for one in checked], [one.target for one in checked]
    columns = (
        ListColumn("Workbook", width_of(sources, *_NAME_WIDTH), lambda of: of[0], "name"),
        ListColumn("Checked copy", width_of(targets, *_NAME_WIDTH), lambda of: of[1]),
        ListColumn("Rows", 12, lambda of: of[2], "count"),
        *(
            ListColumn(capital(band), 12, lambda of, b=band: of[3].get(b, 0), "count")  # type: ignore[misc]
            for band in SHOWN
        ),
        ListColumn("Problems in it", 12, lambda of: of[4], "count"),
    )
    about = f"{len(whole)} of {len(checked)} workbooks were checked, {rows:,} register rows."
    sheet = list_sheet("Workbooks", "Site summary", about, columns, lines, page)
    failed = len(checked) - len(whole)
    notes = (
        f"{failed} could not be checked: see the next sheet." if failed else "",
        GOVERNING,
        SCREENING,
    )
    body = [*sheet.body, (), *((Cell(note, "plain"),) for note in notes)]
    first = HEAD
    series = tuple(
        Series(
            capital(band), (first, first + len(whole) - 1), 0, 3 + number, BAND_COLOURS[band][0]
        )
        for number, band in enumerate(SHOWN)
    )
    chart = Chart(
        "stacked bar",
        "Verdicts by workbook",
        "verdicts",
        series,
        row=first + len(body) + 1,
        column=0,
        width=900,
        height=180 + 16 * len(whole),
    )
    charts = (chart,) if 1 < len(whole) <= _MOST_BARS else ()
    return replace(sheet, body=Body.of(body), charts=charts)


def _failed(checked: Sequence[Checked], page: Page) -> SheetModel:
    """Every workbook that could not be checked, and why."""
    failed = [(one.source, one.error) for one in checked if one.error is not None]
    return list_sheet(
        "Could not be checked",
        "Could not be checked",
        "The other workbooks were checked all the same."
        if failed
        else "None: every workbook was checked.",
        (
            ListColumn("Workbook", 40, lambda of: of[0], "name"),
            ListColumn("Why", 70, lambda of: f"{of[1].where}: {of[1].problem}"),
            ListColumn("What to do", 60, lambda of: of[1].what_to_do),
        ),
        failed,
        page,
    )


def _checks(checked: Sequence[Checked], page: Page) -> SheetModel:
    """Every check over all workbooks."""
    found = [one.digest for one in checked if one.digest is not None]

    def every(key: str) -> list[Mapping[str, int]]:
        return [digest.bands[key] for digest in found if key in digest.bands]

    return list_sheet(
        "Checks",
        "Checks over all workbooks",
        "Verdicts by band; the last column counts workbooks in which the check falls short.",
        (
            ListColumn("Check", 26, lambda key: CHECKS[key].title, "name"),
            ListColumn("Subject", 15, lambda key: capital(CHECKS[key].subject), "line"),
            ListColumn("Question", 52, lambda key: CHECKS[key].question),
            *(
                ListColumn(capital(b), 12, lambda key, b=b: _added(every(key))[b], "count")  # type: ignore[misc]
                for b in SHOWN
            ),
            ListColumn(
                "Workbooks",
                12,
                lambda key: sum(counts["falls short"] > 0 for counts in every(key)),
                "count",
            ),
        ),
        list(CHECKS),
        page,
        filtered=True,
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
    names = width_of([source for source, _ in every], *_NAME_WIDTH)
    return list_sheet(
        "Worst conveyors",
        "Worst conveyors",
        "By: falls short that bear on people, cost a year (each in its own register's "
        f"currency), all falls short, worst margin{weights}. "
        f"A check that falls short at several load points counts once. At most {_MOST_CONVEYORS}.",
        (
            ListColumn("Order", 7, lambda of: of[0], "count"),
            ListColumn(
                "Tag",
                width_of([worst.tag for _, worst in every], 10),
                lambda of: of[2].tag,
                "name",
            ),
            ListColumn("Load points", 11, lambda of: listed(of[2].load_points) or None, "line"),
            ListColumn("Workbook", names, lambda of: of[1]),
            ListColumn("Place", 22, lambda of: f"{of[2].sheet}, row {of[2].row}", "line"),
            ListColumn("For people", 12, lambda of: of[2].people, "count"),
            ListColumn("Cost a year", 12, lambda of: of[2].yearly_cost or None, "count"),
            ListColumn("Falls short", 12, lambda of: of[2].short, "count"),
            ListColumn("Worst margin", 12, lambda of: of[2].worst_margin, "share"),
            ListColumn("What falls short", 70, lambda of: _short(of[2])),
        ),
        [(at, *one) for at, one in enumerate(every[:_MOST_CONVEYORS], start=1)],
        page,
        freeze=(HEAD, 2),
        filtered=True,
    )


def _short(worst: Worst) -> str:
    return listed((CHECKS[key].title.lower() for key in worst.checks), _MOST_CHECKS)
