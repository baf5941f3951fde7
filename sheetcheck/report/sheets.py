"""All result sheets of one run, in the order in which they stand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from ..findings.results import Findings
from .cautions_sheet import cautions_sheet
from .columns_sheet import columns_sheet
from .display import Display
from .findings_sheet import Listing, findings_sheet
from .model import Page, SheetModel, continued
from .paper import papers
from .record_sheet import record_sheet
from .results_sheet import results_sheet
from .summary_sheet import summary_sheet
from .verdicts_sheet import verdicts_sheet

__all__ = ["report_sheets"]


def report_sheets(
    findings: Findings, *, when: datetime, tool: str, with_links: bool
) -> list[SheetModel]:
    """Lay out everything that a report shows.

    Parameters
    ----------
    findings
        What was judged.
    when
        Moment of the run.
    tool
        Version of this package.
    with_links
        Whether the source's sheets stand in the same workbook, so that links to them lead
        somewhere.
    """
    register = findings.register
    date = f"{when.day} {when:%B %Y}"
    display = Display(register)
    small, large = papers(us=display.us)
    page = Page(register.source.file, date, small)
    wide = replace(page, paper=large)
    listing = Listing(findings)
    count = len(findings.results)
    about = (
        f"{register.source.file}, {date}: {len(register):,} register rows, {count} checks each. "
        f"{len(listing):,} findings."
    )
    sheets = [
        results_sheet(findings, display, wide),
        findings_sheet(findings, display, listing, wide, with_links=with_links),
        summary_sheet(findings, display, wide, about=about),
        cautions_sheet(findings, page),
        columns_sheet(findings, page, with_links=with_links),
        record_sheet(
            findings, page, when=f"{when:%Y-%m-%d %H:%M}", tool=tool, with_links=with_links
        ),
    ]
    if (verdicts := verdicts_sheet(findings, display, wide)) is not None:
        sheets.append(verdicts)
    return [part for sheet in sheets for part in continued(sheet)]
