"""A comparison of two results as sheets: one page that sums it up, and the lists behind it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from operator import itemgetter
from typing import Any, NamedTuple

from ..checks import CHECKS
from ..findings.compare import BECAUSE, KINDS, Comparison, Place, VerdictChange
from ..register.fields import FIELDS
from ..units import factor
from .display import capital, listed, width_of
from .lists import ListColumn, list_sheet, section_row, title_rows
from .lists import headings as headings_row
from .model import Body, Cell, Chart, Column, Page, Row, Series, SheetModel, continued
from .style import BAND_COLOURS, SHOWN

__all__ = ["comparison_sheets"]

_MOST = 12
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
        rows.extend((section_row(title, _WIDTH), headings_row(headings)))
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
        ["Result", *map(capital, SHOWN)],
        [
            [Cell(name, "line"), *(_count(bands[band]) for band in SHOWN)]
            for name, bands in (("Then", _bands(found.old)), ("Now", _bands(found.new)))
        ],
    )
    series = [
        Series(capital(band), at, 0, column, BAND_COLOURS[band][0])
        for column, band in enumerate(SHOWN, start=1)
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
        (*title_rows("What changed", _about(found)), ()),
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


_TAG = ListColumn("Tag", 8, lambda change: change.place.tag, "tag")
_LOAD_POINT = ListColumn("Load point", 10, lambda change: change.place.load_point)
_ROW_NOW = ListColumn(
    "Row now", 22, lambda change: f"{change.place.sheet}, row {change.place.row}"
)


def _list(
    name: str,
    title: str,
    about: str,
    columns: Sequence[ListColumn],
    items: Sequence[Any],
    page: Page,
) -> SheetModel:
    """A list, its tags' column as wide as they are."""
    if columns[0] is _TAG:
        width = width_of([item.place.tag for item in items], 8)
        columns = [_TAG._replace(width=width), *columns[1:]]
    more = {"repeat_columns": 1, "filtered": bool(items)}
    return list_sheet(name, title, about, columns, items, page, **more)


def _verdicts(found: Comparison, page: Page) -> SheetModel:
    units = {
        result["source"]["file"]: {c["field"]: c["unit"] for c in result["columns"] if c["unit"]}
        for result in found.new
    }

    def figure(change: VerdictChange, pair: tuple[Any, Any]) -> str:
        return _then_now(pair, _unit(change.check, units[change.place.workbook])[1])

    def title(change: VerdictChange) -> str:
        return CHECKS[change.check].title if change.check in CHECKS else change.check

    columns = (
        _TAG,
        _LOAD_POINT,
        ListColumn("What became of it", 16, lambda change: capital(change.kind), "name"),
        ListColumn("Check", 22, title),
        ListColumn("Then", 13.5, lambda change: Cell(change.old_band, change.old_band)),
        ListColumn("Now", 13.5, lambda change: Cell(change.new_band, change.new_band)),
        ListColumn("What changed", 44, lambda change: capital("; ".join(change.causes))),
        ListColumn("Because of", 22, lambda change: capital(_BECAUSE[change.because])),
        ListColumn("Found", 18, lambda change: figure(change, change.found)),
        ListColumn("Required", 18, lambda change: figure(change, change.required)),
        ListColumn("Unit", 8, lambda c: _unit(c.check, units[c.place.workbook])[0]),
        ListColumn("Key", 22, lambda change: change.check),
        _ROW_NOW,
    )
    return _list(
        "Changed verdicts",
        "Changed verdicts",
        "The worse first. What a limit or a version changed is no change of the plant.",
        columns,
        found.verdicts,
        page,
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


_ORIGINS = {
    "register": "changed in the register",
    "reading": "the column is read otherwise",
    "limits file": "a figure of the limits file",
    "derived": "follows from other inputs",
}


def _inputs(found: Comparison, page: Page) -> SheetModel:
    order = list(_ORIGINS)
    return _list(
        "Changed inputs",
        "Changed inputs",
        "Verdicts: how many changed their band with it.",
        (
            _TAG,
            _LOAD_POINT,
            ListColumn("Change", 56, lambda change: capital(change.text)),
            ListColumn("Where it comes from", 34, lambda change: _ORIGINS[change.origin]),
            ListColumn("Verdicts", 10, lambda change: change.verdicts, "count"),
            ListColumn("Field", 26, lambda change: change.field),
            _ROW_NOW._replace(width=26),
        ),
        sorted(found.inputs, key=lambda change: order.index(change.origin)),
        page,
    )


class _OneSided(NamedTuple):
    """A row of one result only, and how many verdicts of each band went or came with it."""

    what: str
    place: Place
    bands: Counter[str]


def _rows(found: Comparison, page: Page) -> SheetModel:
    rows = [
        _OneSided(what, place, Counter(verdict["band"] for verdict in row["checks"].values()))
        for what, some in (("appeared", found.appeared), ("gone", found.gone))
        for place, row in some
    ]
    return _list(
        "Appeared and gone",
        "Rows of one result only",
        "A conveyor that is gone takes its verdicts with it: gone is not cured.",
        (
            _TAG,
            _LOAD_POINT,
            ListColumn("What", 12, lambda row: capital(row.what), "name"),
            *(
                ListColumn(capital(band), 13, lambda row, band=band: row.bands[band], "count")  # type: ignore[misc]
                for band in SHOWN
            ),
            ListColumn("Workbook", 30, lambda row: row.place.workbook),
            _ROW_NOW._replace(heading="Row", width=26),
        ),
        rows,
        page,
    )


def _runs(found: Comparison, page: Page) -> SheetModel:
    rows = []
    for name, results in (("Then", found.old), ("Now", found.new)):
        for result in results:
            source = result["source"]
            facts = f"{source['file']}, SHA-256 {source['sha256']}"
            version = f"sheetcheck {result['tool']['version']}"
            rows.append((name, facts, f"{len(result['rows']):,} rows; {version}"))
    rows += [(capital(run.kind), capital(run.text), listed(run.checks)) for run in found.run]
    return _list(
        "Runs",
        "The two runs, and what differs between them",
        "Changes of limits, deviations, version and reading are no changes of the plant.",
        (
            ListColumn("What", 18, itemgetter(0), "name"),
            ListColumn("Change", 80, itemgetter(1)),
            ListColumn("Checks it bears on", 60, itemgetter(2)),
        ),
        rows,
        page,
    )
