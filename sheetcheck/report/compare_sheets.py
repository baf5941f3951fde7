"""A comparison of two results as sheets: one page that sums it up, and the lists behind it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from ..checks import CHECKS
from ..findings.compare import BECAUSE, KINDS, Comparison, Place, VerdictChange
from ..register.fields import FIELDS
from ..units import factor
from .display import capital, listed, width_of
from .model import Body, Cell, Chart, Column, Page, Row, Series, SheetModel, continued
from .style import BAND_COLOURS

__all__ = ["comparison_sheets"]

_MOST = 12
_BANDS = ("falls short", "not judged", "marginal", "meets", "not applicable")
# A change of a verdict in the colour of the band that it is like.
_LIKE = {
    "worse": "falls short",
    "no longer judged": "not judged",
    "newly judged": "marginal",
    "better": "meets",
}
_HEAD, _WIDTH, _CHARTS = 3, 8, 9
_CHART_ROWS, _CHART_WIDTH, _ROW_PIXELS = 16, 520, 20
_NO_CHANGE = "Nothing."


def comparison_sheets(found: Comparison, *, when: datetime) -> list[SheetModel]:
    """Lay out a comparison.

    Parameters
    ----------
    found
        From `findings.compare.compare`.
    when
        Moment of the comparison.
    """
    page = Page(f"{_files(found.old)} → {_files(found.new)}", f"{when.day} {when:%B %Y}")
    sheets = [
        _summary(found, page),
        _verdicts(found, page),
        _inputs(found, page),
        _rows(found, page),
        _runs(found, page),
    ]
    return [part for sheet in sheets for part in continued(sheet)]


def _files(results: Sequence[Mapping[str, Any]]) -> str:
    return listed((result["source"]["file"] for result in results), 3)


def _versions(results: Sequence[Mapping[str, Any]]) -> str:
    return listed(dict.fromkeys(result["tool"]["version"] for result in results))


# --- the page that sums it up ----------------------------------------------------------------


def _summary(found: Comparison, page: Page) -> SheetModel:
    rows: list[Row] = []
    charts: list[Chart] = []

    def add(title: str, headings: Sequence[str], lines: Sequence[Row]) -> tuple[int, int]:
        """Put a table under the last one; gives the sheet rows of its first and last line."""
        if rows:
            rows.append(())
        rows.append((Cell(title, "section"), *[Cell("", "section")] * (_WIDTH - 1)))
        rows.append(tuple(Cell(name, "heading") for name in headings))
        first = _HEAD + len(rows)
        rows.extend(lines or [(Cell(_NO_CHANGE, "plain"),)])
        return first, _HEAD + len(rows) - 1

    def chart(title: str, axis: str, series: Sequence[Series], *, stacked: bool) -> None:
        charts.append(
            Chart(
                "stacked bar" if stacked else "bar",
                title,
                axis,
                tuple(series),
                row=_HEAD + len(charts) * _CHART_ROWS,
                column=_CHARTS,
                width=_CHART_WIDTH,
                height=_CHART_ROWS * _ROW_PIXELS - 8,
            )
        )

    kinds, counts = KINDS[:-1], found.counts()
    subjects = _by_subject(found, kinds)
    at = add("What became of the verdicts", ["Subject", *map(capital, kinds)], subjects)
    if len(subjects) > 1:
        series = [
            Series(capital(kind), (at[0], at[1] - 1), 0, 1 + kinds.index(kind), _colour(kind))
            for kind in _LIKE
            if counts[kind]
        ]
        if series:
            chart("What became of the verdicts", "verdicts", series, stacked=True)

    at = add(
        "What that can be put down to",
        ["Because of", *map(capital, kinds)],
        [
            [Cell(_BECAUSE[why], "line"), *(_count(number) for number in numbers)]
            for why, numbers in _by_cause(found, kinds).items()
        ],
    )

    at = add(
        "Verdicts then and now, all rows",
        ["Result", *map(capital, _BANDS)],
        [
            [Cell(name, "line"), *(_count(bands[band]) for band in _BANDS)]
            for name, bands in (("Then", _bands(found.old)), ("Now", _bands(found.new)))
        ],
    )
    series = [
        Series(capital(band), at, 0, column, BAND_COLOURS[band][0])
        for column, band in enumerate(_BANDS, start=1)
    ]
    chart("Verdicts then and now", "verdicts", series, stacked=True)

    telling = sorted(found.register_changes, key=lambda change: -change.verdicts)[:_MOST]
    at = add(
        f"Changes in the register ({len(found.register_changes):,}), those that bear most first",
        ["Change", "Verdicts"],
        [
            [Cell(f"{_name(change.place)}: {change.text}", "text"), _count(change.verdicts)]
            for change in telling
        ],
    )
    if len(telling) > 1 and telling[0].verdicts:
        bars = [Series("verdicts", at, 0, 1, BAND_COLOURS["not judged"][0])]
        chart("Changes in the register", "verdicts that changed", bars, stacked=False)

    add(
        "Limits, version and reading: no changes of the plant",
        ["What", "Checks"],
        [
            [Cell(capital(change.text), "text"), _count(len(change.checks))]
            for change in found.run[:_MOST]
        ],
    )
    height = max(len(rows), len(charts) * _CHART_ROWS)
    rows += [()] * (height - len(rows))
    return SheetModel(
        "Comparison",
        (Column(52, "plain"), *[Column(12, "plain")] * (_WIDTH - 1), Column(2, "plain")),
        (
            (Cell("What changed", "title"),),
            (Cell(_about(found), "subtitle"),),
            (),
        ),
        Body.of(rows),
        repeat=0,
        heights={0: 24, 1: 20},
        charts=tuple(charts),
        page=replace(page, one_page=True),
    )


_BECAUSE = {
    "register": "The register, as the plant is now",
    "reading": "A column read otherwise",
    "limits file": "A limit or figure of the limits file",
    "version": "Another version of the program",
    "several": "Several of these",
    "not explained": "Nothing that the results record",
}


def _about(found: Comparison) -> str:
    old, new = _versions(found.old), _versions(found.new)
    versions = f"version {new}" if old == new else f"versions {old} and {new}"
    return (
        f"{_files(found.old)} → {_files(found.new)}, {versions}: {found.matched:,} rows in both, "
        f"{len(found.appeared):,} appeared, {len(found.gone):,} gone; "
        f"{len(found.register_changes):,} changes in the register."
    )


def _colour(kind: str) -> str:
    return BAND_COLOURS[_LIKE[kind]][0]


def _count(value: int) -> Cell:
    return Cell(value, "count")


def _name(place: Place) -> str:
    return f"{place.tag}, {place.load_point}" if place.load_point else place.tag


def _by_subject(found: Comparison, kinds: Sequence[str]) -> list[Row]:
    count: Counter[tuple[str, str]] = Counter()
    for change in found.verdicts:
        subject = CHECKS[change.check].subject if change.check in CHECKS else "other"
        count[subject, change.kind] += 1
    subjects = dict.fromkeys(check.subject for check in CHECKS.values())
    subjects |= dict.fromkeys(subject for subject, _ in count)
    rows: list[Row] = [
        [Cell(capital(subject), "line"), *(_count(count[subject, kind]) for kind in kinds)]
        for subject in subjects
    ]
    totals = found.counts()
    return [*rows, [Cell("All", "tag"), *(_count(totals[kind]) for kind in kinds)]]


def _by_cause(found: Comparison, kinds: Sequence[str]) -> dict[str, list[int]]:
    count = Counter((change.because, change.kind) for change in found.verdicts)
    every = {why: [count[why, kind] for kind in kinds] for why in BECAUSE}
    return {why: numbers for why, numbers in every.items() if any(numbers)}


def _bands(results: Sequence[Mapping[str, Any]]) -> Counter[str]:
    return Counter(
        verdict["band"]
        for result in results
        for row in result["rows"]
        for verdict in row["checks"].values()
    )


# --- the lists -------------------------------------------------------------------------------


def _list(
    name: str,
    title: str,
    about: str,
    columns: Sequence[tuple[str, float]],
    body: Body,
    page: Page,
    tags: Sequence[str] = (),
) -> SheetModel:
    widths = [max(width, width_of(tags, 8)) if head == "Tag" else width for head, width in columns]
    return SheetModel(
        name,
        tuple(Column(width) for width in widths),
        (
            (Cell(title, "title"),),
            (Cell(about, "subtitle"),),
            tuple(Cell(head, "heading") for head, _ in columns),
        ),
        body,
        repeat_columns=1,
        freeze=(3, 1),
        filtered=len(body) > 0,
        heights={0: 24, 1: 20},
        page=page,
    )


def _verdicts(found: Comparison, page: Page) -> SheetModel:
    units = {
        result["source"]["file"]: {c["field"]: c["unit"] for c in result["columns"] if c["unit"]}
        for result in found.new
    }

    def line(change: VerdictChange) -> Row:
        unit, show = _unit(change.check, units[change.place.workbook])
        check = CHECKS.get(change.check)
        return (
            Cell(change.place.tag, "tag"),
            change.place.load_point,
            Cell(capital(change.kind), "name"),
            check.title if check else change.check,
            Cell(change.old_band, change.old_band),
            Cell(change.new_band, change.new_band),
            capital("; ".join(change.causes)),
            capital(_BECAUSE[change.because]),
            _then_now(change.found, show),
            _then_now(change.required, show),
            unit,
            change.check,
            f"{change.place.sheet}, row {change.place.row}",
        )

    changes = found.verdicts
    return _list(
        "Changed verdicts",
        "Changed verdicts",
        "The worse first. What a limit or a version changed is no change of the plant.",
        (
            ("Tag", 8),
            ("Load point", 10),
            ("What became of it", 16),
            ("Check", 22),
            ("Then", 13.5),
            ("Now", 13.5),
            ("What changed", 44),
            ("Because of", 22),
            ("Found", 18),
            ("Required", 18),
            ("Unit", 8),
            ("Key", 22),
            ("Row now", 22),
        ),
        Body(len(changes), lambda start, stop: map(line, changes[start:stop])),
        page,
        [change.place.tag for change in changes],
    )


def _unit(key: str, units: Mapping[str, str]) -> tuple[str, Callable[[Any], str]]:
    """Unit in which a check's numbers are shown, and how a number in SI is put into it."""
    check = CHECKS.get(key)
    si = check.unit if check else ""
    alike = [n for n in (check.fields if check else ()) if FIELDS[n].unit == si and n in units]
    unit = units[alike[0]] if alike else si
    by = factor(unit, si) or 1.0

    def show(value: Any) -> str:
        if value is None:
            return "unknown"
        if isinstance(value, list):
            return " to ".join(map(show, value))
        return f"{value / by:.5g}"

    return "" if unit == "1" else unit, show


def _then_now(pair: tuple[Any, Any], show: Callable[[Any], str]) -> str:
    if pair == (None, None):
        return ""
    old, new = map(show, pair)
    return old if old == new else f"{old} → {new}"


def _inputs(found: Comparison, page: Page) -> SheetModel:
    order = {"register": 0, "reading": 1, "limits file": 2, "derived": 3}
    changes = sorted(found.inputs, key=lambda change: order[change.origin])
    rows = [
        (
            Cell(change.place.tag, "tag"),
            change.place.load_point,
            capital(change.text),
            _ORIGINS[change.origin],
            _count(change.verdicts),
            change.field,
            f"{change.place.sheet}, row {change.place.row}",
        )
        for change in changes
    ]
    return _list(
        "Changed inputs",
        "Changed inputs",
        "Verdicts: how many changed their band with it.",
        (
            ("Tag", 8),
            ("Load point", 10),
            ("Change", 56),
            ("Where it comes from", 34),
            ("Verdicts", 10),
            ("Field", 26),
            ("Row now", 26),
        ),
        Body.of(rows),
        page,
        [change.place.tag for change in changes],
    )


_ORIGINS = {
    "register": "changed in the register",
    "reading": "the column is read otherwise",
    "limits file": "a figure of the limits file",
    "derived": "follows from other inputs",
}


def _rows(found: Comparison, page: Page) -> SheetModel:
    rows: list[Row] = []
    for what, listed_rows in (("appeared", found.appeared), ("gone", found.gone)):
        for place, row in listed_rows:
            count = Counter(verdict["band"] for verdict in row["checks"].values())
            rows.append(
                (
                    Cell(place.tag, "tag"),
                    place.load_point,
                    Cell(capital(what), "name"),
                    *(_count(count[band]) for band in _BANDS),
                    place.workbook,
                    f"{place.sheet}, row {place.row}",
                )
            )
    return _list(
        "Appeared and gone",
        "Rows of one result only",
        "A conveyor that is gone takes its verdicts with it: gone is not cured.",
        (
            ("Tag", 8),
            ("Load point", 10),
            ("What", 12),
            *((capital(band), 13.0) for band in _BANDS),
            ("Workbook", 30),
            ("Row", 26),
        ),
        Body.of(rows),
        page,
        [place.tag for place, _ in (*found.appeared, *found.gone)],
    )


def _runs(found: Comparison, page: Page) -> SheetModel:
    rows: list[Row] = []
    for name, results in (("Then", found.old), ("Now", found.new)):
        for result in results:
            source = result["source"]
            facts = f"{source['file']}, SHA-256 {source['sha256']}"
            version = f"sheetcheck {result['tool']['version']}"
            rows.append((Cell(name, "name"), facts, f"{len(result['rows']):,} rows; {version}"))
    rows += [
        (Cell(capital(change.kind), "name"), capital(change.text), listed(change.checks))
        for change in found.run
    ]
    return _list(
        "Runs",
        "The two runs, and what differs between them",
        "Changes of limits, deviations, version and reading are no changes of the plant.",
        (("What", 18), ("Change", 80), ("Checks it bears on", 60)),
        Body.of(rows),
        page,
    )
