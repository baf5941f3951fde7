"""The record: what an auditor asks, from the source's hash to every limit and every problem."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from importlib.metadata import PackageNotFoundError, version
from operator import itemgetter
from typing import Any

from ..findings.plant import Plant
from ..findings.ranges import range_words
from ..findings.results import Findings
from ..findings.rule import limit_words
from ..register.fields import MEASURING, Tolerance
from ..register.ranges import RANGES
from ..register.register import Problem, Skipped, cell_reference
from ..tables import source_line
from .display import capital, listed
from .lists import section
from .model import Cell, Column, Page, Row, SheetModel, Value
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


def _section(
    title: str,
    columns: Sequence[tuple[str, Callable[[Any], Value | Cell]]] = (),
    items: Iterable[Any] = (),
) -> Iterator[Row]:
    return section(title, len(_WIDTHS), columns, items)


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
    def cells(problem: Problem) -> Cell:
        text = listed(problem.cells)
        # A column as an earlier run's map names it is no cell to lead to.
        if not (with_links and problem.cells and problem.cells[0][-1:].isdigit()):
            return Cell(text, "text")
        return Cell(text, "link", cell_link(cell_reference(problem.sheet, problem.cells[0])))

    columns = (
        ("Cells", cells),
        ("Text", lambda problem: problem.text),
        ("Value used", lambda problem: "yes" if problem.used else "no"),
        ("Sheet", lambda problem: problem.sheet),
        ("Field", lambda problem: (problem.field or "").replace("_", " ")),
        ("Problem", lambda problem: capital(problem.problem)),
        ("What to do", lambda problem: problem.what_to_do),
    )
    return _section("Problems in the source", columns, findings.register.problems)


def _skipped(findings: Findings, with_links: bool) -> Iterator[Row]:
    def place(row: Skipped) -> Cell:
        if not with_links:
            return Cell(str(row.row), "text")
        return Cell(str(row.row), "link", cell_link(cell_reference(row.sheet, f"A{row.row}")))

    columns = (
        ("Row", place),
        ("Text", lambda row: row.text),
        ("Sheet", lambda row: row.sheet),
        ("Why", lambda row: row.reason),
    )
    return _section("Rows skipped", columns, findings.register.skipped)


def _ratio(unit: str) -> str:
    return "ratio" if unit in ("1", "") else unit


def _limits(findings: Findings) -> Iterator[Row]:
    columns = (
        ("Check", lambda of: of[0].check.title),
        ("Limit", lambda of: capital(of[2].meaning)),
        ("Used", lambda of: Cell(_short(of[0].limits.get(of[1], of[2].value)), "figure")),
        ("Default", lambda of: Cell(_short(of[2].value), "figure")),
        ("Unit", lambda of: _ratio(of[2].unit)),
        ("Source of the default", lambda of: source_line(of[2].cite.key, of[2].cite.locator)),
        ("Name in a limits file", lambda of: f"{of[0].check.key}.{of[1]}"),
        ("Grade", lambda of: of[2].cite.grade),
    )
    limits = (
        (result, name, limit)
        for result in findings.results.values()
        for name, limit in result.check.limits.items()
    )
    return _section("Limits used", columns, limits)


def _ends(ends: tuple[float, float]) -> str:
    return " to ".join(f"{_short(end):g}" for end in ends)


def _ranges(findings: Findings) -> Iterator[Row]:
    columns = (
        ("Input", lambda of: capital(of[0].replace("_", " "))),
        ("What is sought in it", lambda of: capital(of[1].meaning)),
        ("Used", lambda of: _ends(findings.columns.ranges[of[0]])),
        ("Default", lambda of: _ends(of[1].ends)),
        ("Unit", lambda of: _ratio(of[1].unit)),
        ("Source of the default", lambda of: capital(of[1].authority)),
        ("Name in a limits file", lambda of: f"ranges.{of[0]}"),
        ("Grade", lambda of: of[1].grade),
    )
    return _section("Ranges of what is not recorded", columns, RANGES.items())


def _changed(findings: Findings) -> Iterator[Row]:
    """Every limit, range and weight that is not the default: in words, who set it, why, when."""
    headings = ("Check", "Change", "Date", "Set by", "Name in a limits file", "Why")
    columns = [(heading, itemgetter(at)) for at, heading in enumerate(headings)]
    return _section("Limits changed from the default", columns, _changes(findings))


def _changes(findings: Findings) -> Iterator[Row]:
    plant = findings.ruling.plant
    for key, names in findings.limits.items():
        title = findings.results[key].check.title
        for name, value in names.items():
            own = plant.limit(key, name) if plant else None
            if said := limit_words(findings.words, key, name, value):
                who = (own.date.isoformat(), own.set_by, own.why) if own else ("", "", "")
                yield (title, capital(said), *who[:2], f"{key}.{name}", who[2])
    for item in plant.ranges if plant else ():
        if said := range_words(findings.words, item.name, item.ends):
            day, by = item.date.isoformat(), item.set_by
            yield ("What is not recorded", capital(said), day, by, f"ranges.{item.name}", item.why)
    for key, weight in plant.weights.items() if plant else ():
        if weight != 1:
            said = f"Counts {weight:g} times in the ranking, in place of once"
            title = findings.results[key].check.title
            yield (title, said, "", "", f"weights.{key}", "The order only; no verdict.")


def _accepted(findings: Findings) -> Iterator[Row]:
    columns = (
        ("Tag", lambda of: ", ".join(filter(None, (of[0].tag, of[0].load_point)))),
        ("Check", lambda of: findings.results[of[0].check].check.title),
        ("Until", lambda of: of[0].until.isoformat()),
        ("State", lambda of: of[1]),
        ("Accepted by", lambda of: of[0].by),
        ("Reason", lambda of: of[0].reason),
    )
    plant = findings.ruling.plant
    entries = zip(plant.accepted, findings.ruling.states, strict=True) if plant else ()
    return _section("Accepted deviations", columns, entries)


def _short(value: float) -> float:
    """Six significant digits: enough to tell two limits apart, and no more than fits the cell."""
    return float(f"{value:.6g}")


def _tolerances(findings: Findings) -> Iterator[Row]:
    def meaning(item: tuple[str, Tolerance]) -> str:
        usual = MEASURING[item[0]]
        if item[1] == usual:
            return "The larger of the two counts."
        return f"Changed by the plant; usually {usual.absolute:g} and {usual.relative:.1%}."

    columns = (
        ("Quantity", lambda of: capital(of[0])),
        ("Meaning", meaning),
        ("Absolute, SI", lambda of: Cell(of[1].absolute, "figure")),
        ("Share of the value", lambda of: Cell(of[1].relative, "share")),
    )
    return _section("Measuring tolerances", columns, findings.measuring.items())


def _checks(findings: Findings) -> Iterator[Row]:
    columns = (
        ("Check", lambda check: check.title),
        ("Question", lambda check: check.question),
        ("Unit", lambda check: check.unit),
        ("Guarded", lambda check: "yes" if check.guarded else "no"),
        ("Key", lambda check: check.key),
        ("Source", lambda check: source_line(check.cite.key, check.cite.locator)),
        ("Inputs", lambda check: listed(name.replace("_", " ") for name in check.fields)),
        ("Grade, basis", lambda check: f"{check.cite.grade}, {check.basis}"),
    )
    checks = (result.check for result in findings.results.values())
    return _section("Checks run", columns, checks)
