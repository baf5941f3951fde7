"""The record: what an auditor asks, from the source's hash to every limit and every problem."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, version

from ..findings.results import Findings
from ..register.register import cell_reference
from ..tables import source_line
from .display import capital, listed, name_of
from .model import Body, Cell, Column, Page, Row, SheetModel
from .places import RECORD, cell_link

__all__ = ["record_sheet"]

_WIDTHS = (26, 36, 12, 12, 24, 38, 36, 6)
_LIBRARIES = ("numpy", "pandas", "python-calamine", "xlsxwriter", "pint", "lxml")


def record_sheet(
    findings: Findings, page: Page, *, when: str, tool: str, with_links: bool
) -> SheetModel:
    """Lay out the record.

    Parameters
    ----------
    findings, page
        As `results_sheet.results_sheet` takes them.
    when
        Date of the run, as shown.
    tool
        Version of this package.
    with_links
        Whether the source's sheets stand in the same workbook.
    """
    rows = [
        *_source(findings, when, tool),
        *_problems(findings, with_links),
        *_skipped(findings, with_links),
        *_limits(findings),
        *_tolerances(findings),
        *_checks(findings),
    ]
    return SheetModel(
        RECORD,
        tuple(Column(width) for width in _WIDTHS),
        ((Cell("Record", "title"),),),
        Body.of(rows),
        repeat=1,
        freeze=(1, 1),
        heights={0: 24},
        page=page,
    )


def _section(title: str, *headings: str) -> Iterator[Row]:
    yield ()
    yield (Cell(title, "section"), *[Cell("", "section")] * (len(_WIDTHS) - 1))
    if headings:
        yield tuple(Cell(name, "heading") for name in headings)


def _source(findings: Findings, when: str, tool: str) -> Iterator[Row]:
    register = findings.register
    source = register.source
    tags = len(set(register.first_row.tolist()))
    yield from _section("Source and run")
    changed = sum(bool(values) for values in findings.limits.values())
    facts = (
        ("Source file", source.file),
        ("SHA-256 of the source", source.sha256),
        ("Sheets of the source", listed(source.sheets)),
        ("Sheets read", listed(source.sheets_read)),
        ("Rows checked", f"{len(register):,} (conveyors: {tags:,})"),
        ("Rows skipped", f"{len(register.skipped):,}, listed below"),
        ("Problems", f"{len(register.problems):,}, listed below"),
        ("Date of the run", when),
        ("sheetcheck", tool),
        ("Libraries", listed(_installed())),
        ("Checks with changed limits", f"{changed:,}" if changed else "none"),
        ("Links", "at most 60,000 on a sheet; past that the text stands without a link"),
        ("To reproduce", f"sheetcheck check {source.file!r} with the versions named here"),
    )
    for name, text in facts:
        yield (Cell(name, "name"), Cell(text, "plain"))


def _installed() -> Iterator[str]:
    for name in _LIBRARIES:
        try:
            yield f"{name} {version(name)}"
        except PackageNotFoundError:
            continue


def _problems(findings: Findings, with_links: bool) -> Iterator[Row]:
    yield from _section(
        "Problems in the source",
        "Cells",
        "Text",
        "Value used",
        "Sheet",
        "Field",
        "Problem",
        "What to do",
    )
    if not findings.register.problems:
        yield (Cell("None.", "text"),)
    for problem in findings.register.problems:
        cells = Cell(listed(problem.cells), "text")
        if with_links and problem.cells:
            link = cell_link(cell_reference(problem.sheet, problem.cells[0]))
            cells = Cell(listed(problem.cells), "link", link)
        yield (
            cells,
            problem.text,
            "yes" if problem.used else "no",
            problem.sheet,
            (problem.field or "").replace("_", " "),
            capital(problem.problem),
            problem.what_to_do,
        )


def _skipped(findings: Findings, with_links: bool) -> Iterator[Row]:
    yield from _section("Rows skipped", "Row", "Text", "Sheet", "Why")
    if not findings.register.skipped:
        yield (Cell("None.", "text"),)
    for row in findings.register.skipped:
        place = Cell(str(row.row), "text")
        if with_links:
            place = Cell(str(row.row), "link", cell_link(cell_reference(row.sheet, f"A{row.row}")))
        yield (place, row.text, row.sheet, row.reason)


def _limits(findings: Findings) -> Iterator[Row]:
    yield from _section(
        "Limits used",
        "Check",
        "Limit",
        "Used",
        "Default",
        "Unit and change",
        "Source",
        "Name in a limits file",
        "Grade",
    )
    for key, result in findings.results.items():
        for name, limit in result.check.limits.items():
            used = result.limits.get(name, limit.value)
            changed = "" if used == limit.value else ", changed by the plant"
            unit = "ratio" if limit.unit in ("1", "") else limit.unit
            yield (
                name_of(result.check),
                capital(limit.meaning),
                Cell(_short(used), "figure"),
                Cell(_short(limit.value), "figure"),
                f"{unit}{changed}",
                source_line(limit.cite.key, limit.cite.locator),
                f"{key}.{name}",
                limit.cite.grade,
            )


def _short(value: float) -> float:
    """Six significant digits: enough to tell two limits apart, and no more than fits the cell."""
    return float(f"{value:.6g}")


def _tolerances(findings: Findings) -> Iterator[Row]:
    yield from _section(
        "Measuring tolerances", "Quantity", "Meaning", "Absolute, SI", "Share of the value"
    )
    for name, tolerance in findings.measuring.items():
        yield (
            capital(name),
            "The larger of the two counts.",
            Cell(tolerance.absolute, "figure"),
            Cell(tolerance.relative, "share"),
        )


def _checks(findings: Findings) -> Iterator[Row]:
    yield from _section(
        "Checks run", "Check", "Question", "Unit", "Guarded", "Key", "Source", "Inputs", "Grade"
    )
    for key, result in findings.results.items():
        check = result.check
        yield (
            name_of(check),
            check.question,
            check.unit,
            "yes" if check.guarded else "no",
            key,
            source_line(check.cite.key, check.cite.locator),
            listed(name.replace("_", " ") for name in check.fields),
            check.cite.grade,
        )
