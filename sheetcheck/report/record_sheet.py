"""The record: what an auditor asks, from the source's hash to every limit and every problem."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, version

from ..findings.plant import Plant
from ..findings.ranges import range_words
from ..findings.results import Findings
from ..findings.rule import limit_words
from ..register.fields import MEASURING
from ..register.ranges import RANGES
from ..register.register import cell_reference
from ..tables import source_line
from .display import capital, listed
from .model import Cell, Column, Page, Row, SheetModel
from .places import RECORD, VERDICTS, cell_link
from .run_record import NOTE, TITLE, record_body
from .verdicts_sheet import MOST_VERDICTS, holds_all_verdicts

__all__ = ["record_sheet"]

_WIDTHS = (26, 36, 13, 13, 24, 38, 36, 6.5)
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
        *_changed(findings),
        *_accepted(findings),
        *_limits(findings),
        *_ranges(findings),
        *_tolerances(findings),
        *_checks(findings),
        *_section(TITLE),
        (Cell(NOTE, "subtitle"),),
    ]
    return SheetModel(
        RECORD,
        tuple(Column(width) for width in _WIDTHS),
        ((Cell("Record", "title"),),),
        record_body(findings, tool, rows),
        repeat=1,
        # The lines for the program are no reading matter.
        printed=1 + len(rows),
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
    ruling, plant = findings.ruling, findings.ruling.plant
    own = sum(bool(values) for values in findings.limits.values())
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
        ("Limits file", plant.file if plant else "none"),
        ("Jurisdiction", (plant and plant.jurisdiction) or "not stated"),
        ("Currency", (plant and plant.currency) or "not stated"),
        ("Deviations held against", ruling.on.isoformat() if ruling.on else "no date"),
        ("Checks with changed limits", f"{own:,}" if own else "none"),
        ("Changed ranges and weights", _further(plant)),
        ("Verdicts", _verdicts(findings)),
        ("Links", "at most 60,000 on a sheet; past that the text stands without a link"),
        (
            "To reproduce",
            f"sheetcheck check {source.file!r} --like THIS WORKBOOK, with the versions named here",
        ),
    )
    for name, text in facts:
        yield (Cell(name, "name"), Cell(text, "plain"))


def _verdicts(findings: Findings) -> str:
    count = len(findings) * len(findings.results)
    if holds_all_verdicts(findings):
        return f"{count:,}, all of them on {VERDICTS}"
    return (
        f"{count:,}: more than the {MOST_VERDICTS:,} that a sheet is made for; check with --csv "
        "or --json for the list of all"
    )


def _further(plant: Plant | None) -> str:
    if plant is None or not (plant.ranges or plant.weights):
        return "none"
    return f"{len(plant.ranges)} and {len(plant.weights)}"


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
        "Unit",
        "Source of the default",
        "Name in a limits file",
        "Grade",
    )
    for key, result in findings.results.items():
        for name, limit in result.check.limits.items():
            yield (
                result.check.title,
                capital(limit.meaning),
                Cell(_short(result.limits.get(name, limit.value)), "figure"),
                Cell(_short(limit.value), "figure"),
                "ratio" if limit.unit in ("1", "") else limit.unit,
                source_line(limit.cite.key, limit.cite.locator),
                f"{key}.{name}",
                limit.cite.grade,
            )


def _ranges(findings: Findings) -> Iterator[Row]:
    yield from _section(
        "Ranges of what is not recorded",
        "Input",
        "What is sought in it",
        "Used",
        "Default",
        "Unit",
        "Source of the default",
        "Name in a limits file",
        "Grade",
    )
    for name, usual in RANGES.items():
        used, default = (
            f"{_short(low):g} to {_short(high):g}"
            for low, high in (findings.columns.ranges[name], usual.ends)
        )
        yield (
            capital(name.replace("_", " ")),
            capital(usual.meaning),
            used,
            default,
            "ratio" if usual.unit == "1" else usual.unit,
            capital(usual.authority),
            f"ranges.{name}",
            usual.grade,
        )


def _changed(findings: Findings) -> Iterator[Row]:
    """Every limit, range and weight that is not the default: in words, who set it, why, when."""
    plant = findings.ruling.plant
    yield from _section(
        "Limits changed from the default",
        "Check",
        "Change",
        "Date",
        "Set by",
        "Name in a limits file",
        "Why",
    )
    found = False
    for key, names in findings.limits.items():
        for name, value in names.items():
            said = limit_words(findings.words, key, name, value)
            own = plant.limit(key, name) if plant else None
            if said:
                found = True
                yield (
                    findings.results[key].check.title,
                    capital(said),
                    own.date.isoformat() if own else "",
                    own.set_by if own else "",
                    f"{key}.{name}",
                    own.why if own else "",
                )
    for item in plant.ranges if plant else ():
        said = range_words(findings.words, item.name, item.ends)
        if said:
            found = True
            yield (
                "What is not recorded",
                capital(said),
                item.date.isoformat(),
                item.set_by,
                f"ranges.{item.name}",
                item.why,
            )
    for key, weight in plant.weights.items() if plant else ():
        if weight != 1:
            found = True
            said = f"Counts {weight:g} times in the ranking, in place of once"
            title = findings.results[key].check.title
            yield (title, said, "", "", f"weights.{key}", "The order only; no verdict.")
    if not found:
        yield (Cell("None.", "text"),)


def _accepted(findings: Findings) -> Iterator[Row]:
    yield from _section(
        "Accepted deviations", "Tag", "Check", "Until", "State", "Accepted by", "Reason"
    )
    plant = findings.ruling.plant
    if plant is None or not plant.accepted:
        yield (Cell("None.", "text"),)
        return
    for entry, state in zip(plant.accepted, findings.ruling.states, strict=True):
        tag = f"{entry.tag}, {entry.load_point}" if entry.load_point else entry.tag
        check = findings.results[entry.check].check
        yield (tag, check.title, entry.until.isoformat(), state, entry.by, entry.reason)


def _short(value: float) -> float:
    """Six significant digits: enough to tell two limits apart, and no more than fits the cell."""
    return float(f"{value:.6g}")


def _tolerances(findings: Findings) -> Iterator[Row]:
    yield from _section(
        "Measuring tolerances", "Quantity", "Meaning", "Absolute, SI", "Share of the value"
    )
    for name, tolerance in findings.measuring.items():
        usual = MEASURING[name]
        yield (
            capital(name),
            "The larger of the two counts."
            if tolerance == usual
            else f"Changed by the plant; usually {usual.absolute:g} and {usual.relative:.1%}.",
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
            check.title,
            check.question,
            check.unit,
            "yes" if check.guarded else "no",
            key,
            source_line(check.cite.key, check.cite.locator),
            listed(name.replace("_", " ") for name in check.fields),
            check.cite.grade,
        )
