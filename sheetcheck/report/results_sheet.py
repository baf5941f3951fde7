"""The matrix of all verdicts: one row per register row, one column per check."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np

from ..checks.declare import Check
from ..findings.results import BANDS, Findings
from ..register.fields import FIELDS
from .display import Display, capital, listed, width_of
from .findings_sheet import Listing
from .model import Body, Cell, Column, Page, Row, SheetModel
from .paper import scale_that_fits, width_in_points
from .places import FINDINGS, HEADS, RESULTS, place

__all__ = ["results_sheet"]

_MOST_REASONS = 4
_PIECE = 2_000
_WORST_FIRST = ("falls short", "not judged", "marginal", "meets", "not applicable")
_BAND_WIDTH = 11.5  # takes "not applicable", the longest band
_FIGURE_WIDTH = 11
_REMARK_WIDTHS = (24, 45)  # least and most
_REPEATED = 2
# Pages are filled with whole subjects as long as they print at this per cent of full size.
_LEAST_SCALE = 62

# What an engineer looks for first, where the register or a check gives it: fields as recorded,
# and the found or required number of a check, in the unit of a field where it is not the check's.
_FIELDS = ("belt_width", "belt_speed", "trough_angle", "tonnage", "material")
_FIGURES = (
    ("Tail transition, found", "transition-length-tail", "found", ""),
    ("Tail transition, required", "transition-length-tail", "required", ""),
    ("Head transition, required", "transition-length-head", "required", ""),
    ("Free belt edge, found", "seal-edge", "found", ""),
    ("Free belt edge, required", "seal-edge", "required", ""),
    ("Widest chute", "seal-chute-max", "required", "chute_width_inside"),
    ("Skirtboard, required", "seal-length", "required", ""),
    ("Belt filling", "load-fill", "found", ""),
    ("Residue after cleaning", "cleaning-carryback", "found", ""),
    ("Cost a year", "housekeeping-cost", "found", ""),
)


def results_sheet(
    findings: Findings, display: Display, listing: Listing, page: Page
) -> SheetModel:
    """Lay out the matrix.

    Parameters
    ----------
    findings
        What was judged.
    display
        Units.
    listing
        The rows of the findings sheet, which tags link to.
    page
        Print set-up.
    """
    return _Matrix(findings, display, listing).sheet(page)


def _pages(
    columns: Sequence[Column], blocks: Sequence[int], page: Page
) -> tuple[tuple[int, ...], int]:
    """Columns that begin a page, and the print scale; no block is parted.

    Every page repeats the first columns.
    """
    repeated = width_in_points(columns[:_REPEATED])
    breaks: list[int] = []
    widths = [0.0]
    start = 0
    for size in blocks:
        width = width_in_points(columns[start : start + size])
        scale = scale_that_fits(page, widths[-1] + width, in_copy=True)
        if start and size and scale < _LEAST_SCALE:
            breaks.append(start)
            widths.append(repeated)
        widths[-1] += width
        start += size
    return tuple(breaks), scale_that_fits(page, max(widths), in_copy=True)


_JUDGED = tuple(BANDS.index(word) for word in ("meets", "marginal", "falls short"))


class _Matrix:
    def __init__(self, findings: Findings, display: Display, listing: Listing) -> None:
        self.findings = findings
        self.display = display
        self.listing = listing
        register = findings.register
        self.checks = [result.check for result in findings.results.values()]
        self.places = {check.key: at for at, check in enumerate(self.checks)}
        self.bands = np.array([result.band for result in findings.results.values()]).T
        self.names = [name for name in ("area", "load_point") if register.has(name)]
        self.fields = [name for name in _FIELDS if register.has(name)]
        self.figures = [
            figure
            for figure in _FIGURES
            if figure[1] in findings.results
            and not np.isnan(findings.results[figure[1]].ends[figure[2]][0]).all()
        ]
        self.remarks = register.values["notes"].tolist() if register.has("notes") else []
        if not any(self.remarks):
            self.remarks = []
        self.accepted: dict[int, set[str]] = {}
        for key, row in findings.ruling.accepted:
            self.accepted.setdefault(row, set()).add(key)
        self.counted = ["falls short", "marginal", "not judged"]
        if self.accepted:
            self.counted.append("accepted")
        # (row, check) whose verdict rests on a value that is doubtful
        self.doubtful: dict[int, set[int]] = {}
        for name, rows in findings.doubtful.items():
            places = [at for at, check in enumerate(self.checks) if name in check.fields]
            for row in np.flatnonzero(rows).tolist():
                self.doubtful.setdefault(row, set()).update(places)
        self.titles = [check.title for check in self.checks]
        self.judging = np.array([not check.information for check in self.checks])

    def sheet(self, page: Page) -> SheetModel:
        findings = self.findings
        values = findings.register.values
        identity = [Column(width_of(values["tag"], 8), "tag"), Column(14)]
        identity += [Column(width_of(values[name], 8, 24)) for name in self.names]
        identity += [Column(48), *[Column(7.5, "count")] * len(self.counted), Column(6, "count")]
        bands = [Column(_BAND_WIDTH, "information", level=1) for _ in self.checks]
        figures = [
            Column(
                _FIGURE_WIDTH if FIELDS[name].kind != "text" else width_of(values[name], 10, 24)
            )
            for name in self.fields
        ] + [Column(_FIGURE_WIDTH) for _ in self.figures]
        columns = (*identity, *bands, *figures)
        subjects = [len(list(checks)) for _, checks in self._subjects()]
        blocks = [len(identity), *subjects, len(figures)]
        columns, breaks, scale = self._with_remarks(columns, blocks, page)
        return SheetModel(
            RESULTS,
            columns,
            self._head(len(identity)),
            Body(len(findings), self._rows),
            repeat=2,
            freeze=(HEADS[RESULTS], _REPEATED + ("area" in self.names)),
            filtered=True,
            heights={0: 24, 2: 20},
            repeat_columns=_REPEATED,
            column_breaks=breaks,
            page=replace(page, scale=scale),
        )

    def _with_remarks(
        self, columns: tuple[Column, ...], blocks: Sequence[int], page: Page
    ) -> tuple[tuple[Column, ...], tuple[int, ...], int]:
        """Columns with that of the remarks, narrow rather than on a page of its own; as `_pages`.

        On a page of its own it is wide again.
        """
        if not self.remarks:
            return (columns, *_pages(columns, blocks, page))
        wide = width_of(self.remarks, *_REMARK_WIDTHS)
        for width in (wide, *_REMARK_WIDTHS[:1], wide):
            every = (*columns, Column(width))
            breaks, scale = _pages(every, [*blocks, 1], page)
            if len(columns) not in breaks:
                break
        return every, breaks, scale

    def _subjects(self) -> Iterator[tuple[str, Iterator[Check]]]:
        return groupby(self.checks, key=lambda check: check.subject)

    def _head(self, identity: int) -> tuple[Row, ...]:
        # The explanation stands beside the columns that every printed page repeats.
        about = Cell(
            "One column per check; open or close a subject with the outline marks above. "
            "A tag leads to its findings. An empty number is one that could not be computed. A "
            "verdict marked doubtful rests on a value to confirm: see Check record.",
            "subtitle",
        )
        groups: list[Cell] = [Cell("", "heading")] * identity
        for subject, checks in self._subjects():
            others = len(list(checks)) - 1
            groups += [Cell(capital(subject), "heading")] + [Cell("", "heading")] * others
        figures = len(self.fields) + len(self.figures)
        if figures:
            groups += [Cell("Key figures", "heading")] + [Cell("", "heading")] * (figures - 1)
        names = ["Tag", "Worst verdict", *(capital(n.replace("_", " ")) for n in self.names)]
        names += ["Why", *map(capital, self.counted), "Rank"]
        names += [check.title for check in self.checks]
        names += [self._with_unit(name.replace("_", " "), name) for name in self.fields]
        plant = self.findings.ruling.plant
        for title, key, _, field in self.figures:
            unit = self._unit(key, field)
            if plant and plant.currency:
                unit = unit.replace("currency", plant.currency)
            names.append(title if unit == "1" else f"{title}, {unit}")
        if self.remarks:
            groups.append(Cell("As recorded, not judged", "heading"))
            names.append("Remarks in the register")
        return (
            (Cell("Results", "title"),),
            (Cell("", "plain"), Cell("", "plain"), about),
            tuple(groups),
            tuple(Cell(name, "heading") for name in names),
        )

    def _with_unit(self, text: str, field: str) -> str:
        unit = "" if not FIELDS[field].numeric else self.display.unit(field)
        return f"{capital(text)}, {unit}" if unit else capital(text)

    def _unit(self, key: str, field: str) -> str:
        check = self.findings.results[key].check
        return self.display.unit(field) if field else self.display.unit_of(check)

    def _why(self, bands: list[int], worst: str) -> str:
        if worst in ("meets", "not applicable"):
            return ""
        code = BANDS.index(worst)
        named = [
            name.lower()
            for name, band, counts in zip(self.titles, bands, self.judging, strict=True)
            if counts and band == code
        ]
        return f"{capital(worst)}: {listed(named, _MOST_REASONS)}"

    def _rows(self, start: int, stop: int) -> Iterator[Row]:
        """Rows in pieces, so that a long register takes no more room than a short one."""
        for first in range(start, stop, _PIECE):
            yield from self._piece(first, min(first + _PIECE, stop))

    def _piece(self, start: int, stop: int) -> Iterator[Row]:
        findings = self.findings
        register = findings.register
        shown = {band: Cell(word, word) for band, word in enumerate(BANDS)}
        judged = self.bands[start:stop, self.judging]
        counts = {word: (judged == band).sum(axis=1).tolist() for band, word in enumerate(BANDS)}
        counts["accepted"] = [len(self.accepted.get(row, ())) for row in range(start, stop)]
        names = [register.values[name][start:stop].tolist() for name in self.names]
        recorded = [
            [self.display.recorded(name, register.value(row, name)) for row in range(start, stop)]
            for name in self.fields
        ]
        figures = [self._figure(figure, start, stop) for figure in self.figures]
        behind = list(zip(*recorded, *figures, strict=True)) or [()] * (stop - start)
        tags = register.values["tag"][start:stop].tolist()
        ranks = findings.rank[start:stop].tolist()
        for at, bands in enumerate(self.bands[start:stop].tolist()):
            worst = next((w for w in _WORST_FIRST if counts[w][at]), "not applicable")
            finding = self.listing.first_of(start + at)
            tag: Cell | str = str(tags[at])
            if finding is not None:
                tag = Cell(tags[at], "tag link", place(FINDINGS, finding))
            yield (
                tag,
                shown[BANDS.index(worst)],
                *(str(column[at]) for column in names),
                self._why(bands, worst),
                *(counts[word][at] for word in self.counted),
                ranks[at],
                *self._verdicts(start + at, bands, shown),
                *behind[at],
                *self.remarks[start + at : start + at + 1],
            )

    def _verdicts(self, row: int, bands: list[int], shown: Mapping[int, Cell]) -> list[Cell]:
        cells = [shown[band] for band in bands]
        for key in self.accepted.get(row, ()):
            at = self.places[key]
            cells[at] = Cell(f"{cells[at].value}, accepted", cells[at].style)
        for at in self.doubtful.get(row, ()):
            if bands[at] in _JUDGED:
                cells[at] = Cell(f"{cells[at].value}, doubtful", cells[at].style)
        return cells

    def _figure(self, figure: tuple[str, str, str, str], start: int, stop: int) -> list[Cell]:
        _, key, end, field = figure
        result = self.findings.results[key]
        si, unit = result.check.unit, self._unit(key, field)
        lows, highs = (part[start:stop].tolist() for part in result.ends[end])
        return [
            self.display.number(
                None if math.isnan(low) else low if low == high else (low, high), si, unit
            )
            for low, high in zip(lows, highs, strict=True)
        ]
