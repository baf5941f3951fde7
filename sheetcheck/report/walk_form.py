"""The part of the survey that is taken to the conveyors: one block each, in walking order.

What is read back is the label, the box at its right and the unit beside it. All that helps to
find the value out stands left of the label, where a reader of forms looks for no value, and begins
with a number, as no label does whatever words the reader comes to know.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import accumulate
from typing import NamedTuple

from ..findings.gaps import Lack
from ..findings.results import Findings
from ..register.fields import FIELDS, POSITIONS, Field
from .display import Display, capital, listed
from .field_words import OFFICE, PLACES, label, offered, spelt, written_unit
from .handwriting import writing_height
from .model import Area, Body, Cell, Column, DropDown, Page, Row, SheetModel, part_name
from .paper import papers, printable, scale_that_fits, width_in_points
from .text_lines import lines_of, room_of

__all__ = ["walk_forms"]

_NAME = "Walk-down"
_HEADINGS = (
    ("Where, belt", 12),
    ("Decides", 8),
    ("How to find it out", 39),
    ("What", 24),
    ("Found", 14),
    ("Unit", 7),
)
_HOW, _WHAT, _FOUND, _LAST = 2, 3, 4, 5
_SAFETY = (
    "locked: only with the belt isolated, locked and tried to start, and its tension and "
    "counterweight held. moving: watch from outside the guards, never reach in. either: from "
    "outside the guards. Open, cross or enter nothing on the strength of this form: the site's "
    "permits and rules govern."
)
_READING = (
    "Decides: verdicts that the figure decides alone; (+2): two more, together with other lines. "
    "Leave empty what was not found out; write the unit where it is another. Photograph what is "
    "looked at."
)
_RETURN = (
    "Once filled in, move the sheets of this form into the workbook of the register and check "
    "that: their tags join them to its rows."
)
_REMINDER = (
    "Isolate, lock and try before you measure. Never reach past the guard of a moving belt."
)

_COLUMNS = tuple(Column(width) for _, width in _HEADINGS)
_PAPER = Page(landscape=False)
# A fixed scale, as programs ignore page breaks in sheets that they fit to the paper.
_SCALE = scale_that_fits(_PAPER, width_in_points(_COLUMNS))
# Letter is the wider and shorter paper: a page is as wide as the one, and as high as the other.
_PAGE_HEIGHT = printable(replace(_PAPER, paper="Letter"))[1] * 100 / _SCALE - 10
_LINE, _TITLE, _TEXT_LINE, _PADDING = writing_height(_SCALE), 18.0, 11.5, 3.0  # points
_MOST_PAGES = 1000  # a sheet takes 1,023 page breaks


class _Line(NamedTuple):
    cells: Row
    height: float = _LINE
    merged: tuple[tuple[int, int], ...] = ()
    words: tuple[str, ...] = ()


def walk_forms(
    findings: Findings, lacking: Mapping[str, Lack], when: datetime, *, office: bool
) -> list[SheetModel]:
    """Lay out the form; more than one sheet where there are very many pages.

    Parameters
    ----------
    findings, lacking
        The register, judged, and what it lacks.
    when
        Moment of the run.
    office
        Whether a second part asks for what stands in drawings and records.
    """
    display = Display(findings.register)
    blocks = list(_blocks(findings, lacking, display))
    file = findings.register.source.file
    asked = sum(len(block) - 3 for block in blocks)
    title = f"{asked:,} things to find out on {len(blocks):,} of the rows of {file}."
    if office:
        title += " What drawings and records tell is asked on the sheet Office data."
    head = (
        _Line((Cell("Walk-down form", "title"),), 24),
        _Line((Cell(title, "subtitle"),), 18),
        *(_paragraph(text, "strong") for text in (_SAFETY,)),
        *(_paragraph(text, "paragraph") for text in (_READING, _RETURN)),
        _paragraph(_REMINDER, "strong"),
        _Line(tuple(Cell(name, "heading") for name, _ in _HEADINGS), _TITLE),
    )
    pages = _pages(blocks, sum(line.height for line in head), sum(x.height for x in head[-2:]))
    paper, _ = papers(us=display.us)
    date = f"{when.day} {when:%B %Y}"
    page = replace(_PAPER, file=file, date=date, paper=paper, scale=_SCALE)
    return [
        _sheet(part_name(_NAME, number + 1), head, pages[first : first + _MOST_PAGES], page)
        for number, first in enumerate(range(0, max(len(pages), 1), _MOST_PAGES))
    ]


def _paragraph(text: str, style: str) -> _Line:
    width = sum(column.width for column in _COLUMNS)
    height = _height(text, width, bold=style == "strong")
    return _Line((Cell(text, style),), height, ((0, _LAST),))


def _height(text: str, width: float, *, bold: bool = False) -> float:
    return lines_of(text, room_of(width, bold=bold)) * _TEXT_LINE + _PADDING


# --- blocks ----------------------------------------------------------------------------------


def _blocks(
    findings: Findings, lacking: Mapping[str, Lack], display: Display
) -> Iterator[list[_Line]]:
    """For each register row that lacks anything: its tag, signatures, lines, and remarks."""
    order = {name: at for at, name in enumerate(lacking)}
    on_foot = {name: lack for name, lack in lacking.items() if FIELDS[name].place != OFFICE}
    for row in range(len(findings)):
        asked = [name for name, lack in on_foot.items() if lack.lacking[row]]
        if not asked:
            continue
        asked.sort(
            key=lambda name: (
                PLACES.index(FIELDS[name].place),
                -on_foot[name].alone[row],
                -on_foot[name].lacking[row],
                order[name],
            )
        )
        yield [
            *_headed(findings, row),
            *(
                _asking(number, name, on_foot[name], row, display)
                for number, name in enumerate(asked, start=1)
            ),
            _remarks(len(asked) + 1),
        ]


def _across(first: str, style: str = "fill in") -> list[Cell]:
    return [Cell(first, style), *[Cell("", style)] * _LAST]


def _headed(findings: Findings, row: int) -> Iterator[_Line]:
    """The conveyor's tag, what it does, and who found out what is asked."""
    value = findings.register.value
    tag, point = str(findings.register.values["tag"][row]), value(row, "load_point")
    service = listed(str(text) for name in ("area", "service") if (text := value(row, name)))
    title = _across(f"{tag}   {service}".strip(), "heading")
    title[_WHAT], title[_FOUND] = Cell(FIELDS["tag"].name, "heading"), Cell(tag, "heading")
    across = sum(column.width for column in _COLUMNS[:_WHAT])
    height = max(
        _TITLE,
        _height(str(title[0].value), across, bold=True),
        _height(tag, _COLUMNS[_FOUND].width, bold=True),
    )
    yield _Line(title, height, ((0, _HOW),))
    signed = _across("0. Found by, when; belt locked and tried by, when")
    if not isinstance(point, str):
        yield _Line(signed, merged=((0, _LAST),))
        return
    signed[_WHAT], signed[_FOUND] = Cell(FIELDS["load_point"].name), Cell(point, "text")
    yield _Line(signed, max(_LINE, _height(point, _COLUMNS[_FOUND].width)), ((0, _HOW),))


def _remarks(number: int) -> _Line:
    cells = _across(f"{number}. Photographs")
    cells[_WHAT] = Cell(FIELDS["notes"].name)
    return _Line(cells, merged=((0, _HOW), (_FOUND, _LAST)))


def _asking(number: int, name: str, lack: Lack, row: int, display: Display) -> _Line:
    field = FIELDS[name]
    alone, others = int(lack.alone[row]), int(lack.lacking[row] - lack.alone[row])
    decides = f"{alone or ''}{f' (+{others})' if others else ''}".strip()
    how = spelt(f"{number}. {field.how}{_answers(field)}", us=display.us)
    what = label(name, us=display.us)
    unit = written_unit(field, display.unit(name), us=display.us)
    return _Line(
        (
            Cell(
                f"{PLACES.index(field.place) + 1} {capital(field.place)}, {field.belt}",
                "name" if field.belt == "moving" else "text",
            ),
            decides,
            how,
            Cell(what, "name"),
            Cell("", "box"),
            unit,
        ),
        max(
            _LINE,
            _height(how, _COLUMNS[_HOW].width),
            _height(what, _COLUMNS[_WHAT].width, bold=True),
        ),
        words=offered(field, us=display.us),
    )


def _answers(field: Field) -> str:
    if field.kind == "yes/no":
        return ": yes or no"
    if field.choices:
        return f": {listed(field.choices)}"
    return f"; or {listed(POSITIONS)}" if field.kind == "lift" else ""


# --- pages -----------------------------------------------------------------------------------


def _pages(blocks: Sequence[list[_Line]], first: float, further: float) -> list[list[_Line]]:
    """Put blocks on pages, none over two where one takes it; heads take `first` or `further`."""
    pages: list[list[_Line]] = []
    left = 0.0

    def turn() -> float:
        pages.append([])
        return _PAGE_HEIGHT - (first if len(pages) % _MOST_PAGES == 1 else further)

    for block in blocks:
        if sum(line.height for line in block) > left:
            left = turn()
        for line in block:
            if line.height > left:
                left = turn()
                title = block[0].cells[0]
                assert isinstance(title, Cell)
                again = _across(f"{title.value}, continued", "heading")
                pages[-1].append(_Line(again, _TITLE, ((0, _LAST),)))
                left -= _TITLE
            pages[-1].append(line)
            left -= line.height
    return pages


def _sheet(
    name: str, head: tuple[_Line, ...], pages: Sequence[list[_Line]], page: Page
) -> SheetModel:
    body = [line for lines in pages for line in lines]
    every = [*head, *body]
    starts = accumulate((len(lines) for lines in pages[:-1]), initial=len(head))
    boxes: dict[tuple[str, ...], list[Area]] = {}
    for at, line in enumerate(every):
        if line.words:
            boxes.setdefault(line.words, []).append(Area(at, _FOUND, at, _FOUND))
    return SheetModel(
        name,
        _COLUMNS,
        tuple(line.cells for line in head),
        Body.of([line.cells for line in body]),
        repeat=2,
        row_breaks=tuple(starts)[1:],
        freeze=(len(head), 0),
        heights={at: line.height for at, line in enumerate(every)},
        merges=tuple(
            Area(at, left, at, right)
            for at, line in enumerate(every)
            for left, right in line.merged
        ),
        drop_downs=tuple(
            DropDown(cells[0], words, others=tuple(cells[1:])) for words, cells in boxes.items()
        ),
        page=page,
    )
