"""Everything about our sheets but their rows, made by the writing library.

The library lays out columns, panes, print set-up, charts, notes and drop-downs and writes the
styles; the rows are streamed into its sheets afterwards by `rows`. What the library writes is
read back here as parts, from which both outputs are put together.
"""

from __future__ import annotations

import io
import math
import re
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import islice
from typing import Any

from .display import listed
from .model import Cell, Chart, DropDown, Series, SheetModel
from .named_styles import name_styles
from .opc import parse, serialised
from .paper import MARGINS, PAPERS, printable, width_in_points
from .rows import RowStream
from .style import INK, STYLES, TAB

__all__ = ["SHEET_FOLDER", "BookOptions", "SheetParts", "Skeleton", "lay_out"]

SHEET_FOLDER = "xl/worksheets/"
_STYLES_PART = "xl/styles.xml"
# Signs in texts of others that the library would take for a code of a footer, or for a reference
# to a cell in the name of a chart; they are put back into what it has written.
_AND, _MARK = "\ue000", "\ue001"
_PUT_BACK = ((_AND.encode(), b"&amp;&amp;"), (_MARK.encode(), b"!"))
# A footer holds 255 characters, codes included.
_FOOTER_TEXT = 120
_MOST_WIDTH = 255  # characters, the file format's limit
_MOST_AREAS = 8_192  # of one restriction; older programs take no more
_STANDARD_FONT = {"font_name": "Arial", "font_size": 10, "font_scheme": "none"}
_GRID = "#D0D4D8"
# A count axis up to this shows every whole number and no halves.
_SMALL_COUNT = 10
# Smaller than this no sheet is printed that may go over several pages.
_LEAST_SCALE = 0.6
# Where the library writes one cell per style, to the right of every sheet's own columns.
_PROBES_FROM = 500


@dataclass(frozen=True, slots=True)
class SheetParts:
    """A sheet's markup around its rows and around its links."""

    part: str
    before: bytes
    between: bytes
    after: bytes

    def stream(self, sheet: SheetModel, rows: RowStream) -> Iterator[bytes]:
        """Give the whole sheet in pieces, the rows of `sheet` in place."""
        links: list[str] = []
        yield self.before + b"<sheetData>"
        yield from rows.rows(sheet, links)
        yield b"</sheetData>" + self.between
        if links:
            yield ("<hyperlinks>" + "".join(links) + "</hyperlinks>").encode()
        yield self.after


@dataclass(frozen=True, slots=True)
class Skeleton:
    """The parts of the library's workbook.

    Attributes
    ----------
    sheets
        One for each model, in order.
    parts
        Every other part, name to content, in the library's order.
    styles
        Look to the index of its cell format, which is based on the cell style of its name.
    """

    sheets: tuple[SheetParts, ...]
    parts: Mapping[str, bytes]
    styles: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class BookOptions:
    """What holds for all sheets of one file.

    Attributes
    ----------
    title, created
        Title and date in the document's properties.
    protect
        Whether sheets are protected against accidental edits.
    results
        Whether they are results, which a later check replaces, or somebody's to keep.
    styles
        The looks, by the names in `style.STYLES`.
    """

    title: str
    created: datetime
    protect: bool = False
    results: bool = False
    styles: Mapping[str, Mapping[str, Any]] = field(default_factory=lambda: STYLES)


def lay_out(
    sheets: Sequence[SheetModel],
    names: Mapping[str, str],
    options: BookOptions,
    *,
    width_scale: float = 1.0,
) -> Skeleton:
    """Lay out `sheets` in a workbook of the library's making.

    Parameters
    ----------
    sheets
        Models in the order in which they are to stand.
    names
        Model name to sheet name, where they differ.
    options
        What holds for all of them.
    width_scale
        Factor on column widths, for a workbook whose standard font has narrower digits.
    """
    import xlsxwriter

    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(
        buffer,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
            # Column widths count its digits, so it must be a typeface that every program has.
            "default_format_properties": _STANDARD_FONT,
        },
    )
    book.set_properties({"title": options.title, "created": options.created})
    formats = {name: book.add_format(dict(look)) for name, look in options.styles.items()}
    for sheet in sheets:
        page = book.add_worksheet(names.get(sheet.name, sheet.name))
        _lay_out_sheet(book, page, sheet, width_scale, formats)
        page.set_tab_color(TAB)
        page.outline_settings(symbols_right=False)
        if options.protect:
            page.protect("", {"autofilter": True, "format_columns": True, "format_rows": True})
        # A link in the right place of the element order, replaced by the streamed ones.
        page.write_url(0, 0, "internal:A1", formats["link"], "-")
    # The index of a style is known once a cell has used it; these cells are replaced too.
    first = book.worksheets()[0]
    for column, name in enumerate(STYLES, start=_PROBES_FROM):
        first.write_blank(0, column, None, formats[name])
    book.close()
    return _take_apart(buffer, sheets)


def _lay_out_sheet(
    book: Any, page: Any, sheet: SheetModel, width_scale: float, formats: Mapping[str, Any]
) -> None:
    for index, column in enumerate(sheet.columns):
        width = min(column.width * width_scale, _MOST_WIDTH)
        whole = formats[column.style] if column.whole else None
        page.set_column(index, index, width, whole, {"level": column.level})
    last_column = len(sheet.columns) - 1
    if sheet.filtered:
        page.autofilter(len(sheet.head) - 1, 0, max(len(sheet) - 1, len(sheet.head)), last_column)
    if any(sheet.freeze):
        page.freeze_panes(*sheet.freeze)
    if sheet.repeat:
        page.repeat_rows(len(sheet.head) - sheet.repeat, len(sheet.head) - 1)
    if sheet.printed or sheet.printed_columns:
        rows = sheet.printed or max(len(sheet), 1)
        page.print_area(0, 0, rows - 1, (sheet.printed_columns or len(sheet.columns)) - 1)
    if sheet.repeat_columns:
        page.repeat_columns(0, sheet.repeat_columns - 1)
    for area in sheet.merges:
        page.merge_range(*area, "")
    for (row, column_index), note in sheet.notes.items():
        page.write_comment(row, column_index, note, {"x_scale": 2, "y_scale": 1.5})
    for drop_down in sheet.drop_downs:
        areas = [list(area) for area in (drop_down.cells, *drop_down.others)]
        for start in range(0, len(areas), _MOST_AREAS):
            first, *others = areas[start : start + _MOST_AREAS]
            page.data_validation(*first, _validation(drop_down) | {"other_cells": others})
    for chart in sheet.charts:
        _chart(book, page, sheet, chart)
    _print_set_up(page, sheet)


def _print_set_up(page: Any, sheet: SheetModel) -> None:
    page.hide_gridlines(2)
    page.ignore_errors({"number_stored_as_text": "A1:XFD1048576"})
    page.set_paper(PAPERS[sheet.page.paper][0])
    if sheet.page.landscape:
        page.set_landscape()
    page.set_margins(**MARGINS)
    if sheet.page.scale:
        page.set_print_scale(sheet.page.scale)
        page.set_h_pagebreaks(list(sheet.row_breaks))
        page.set_v_pagebreaks(list(sheet.column_breaks))
    else:
        # One page wide as long as that can be read; a wide table goes over several side by side.
        printed = sheet.columns[: sheet.printed_columns or None]
        wide = math.ceil(width_in_points(printed) / (printable(sheet.page)[0] / _LEAST_SCALE))
        page.fit_to_pages(*((1, 1) if sheet.page.one_page else (wide, 0)))
    file, date = sheet.page.file, sheet.page.date
    if len(file) + file.count("&") > _FOOTER_TEXT:
        file = file[: _FOOTER_TEXT // 2 - 1] + "…"
    file, date = file.replace("&", _AND), date.replace("&", _AND)
    # The blank after the size keeps a name or date that begins with a digit out of it.
    left = f"{file} – &A" if file else "&A"
    page.set_footer(f"&L&8 {left}&C&8 {date}&R&8 Page &P of &N")


def _validation(drop_down: DropDown) -> dict[str, Any]:
    if drop_down.words:
        return {
            "validate": "list",
            "source": list(drop_down.words),
            "error_title": "Not one of the words",
            "error_message": "Choose one of the words in the list, or leave the cell empty.",
        }
    assert drop_down.number is not None
    low, high, message = drop_down.number
    return {
        "validate": "decimal",
        "criteria": "between",
        "minimum": low,
        "maximum": high,
        "error_type": "warning",
        "error_title": "Is this right?",
        "error_message": message,
    }


def _chart(book: Any, page: Any, sheet: SheetModel, chart: Chart) -> None:
    kind = {
        "stacked bar": {"type": "bar", "subtype": "stacked"},
        "bar": {"type": "bar"},
        "line": {"type": "scatter", "subtype": "straight"},
    }[chart.kind]
    drawn = book.add_chart(kind)
    greatest = max(_series(page, sheet, chart, drawn, series) for series in chart.series)
    text = {"name": "Arial", "size": 9, "color": INK}
    lines = {"visible": True, "line": {"color": _GRID}}
    drawn.set_title(
        {
            "name": _literal(chart.title),
            "overlay": False,
            "name_font": text | {"size": 10, "bold": True},
        }
    )
    alone = len(chart.series) == 1
    drawn.set_legend({"none": True} if alone else {"position": "bottom", "font": text})
    # Where a chart does not say so, some programs draw marks on both sides and half way between.
    axis: dict[str, Any] = {"major_tick_mark": "outside", "minor_tick_mark": "none"}
    axis |= {"name_font": text | {"bold": False}, "num_font": text}
    along, down = axis | {"name": chart.axis}, axis | {"name": chart.down_axis}
    if chart.kind == "line":
        drawn.set_x_axis(along | {"major_gridlines": {"visible": False}})
        # The scale stands at the left, not where the other axis is 0.
        drawn.set_y_axis(down | {"major_gridlines": lines, "label_position": "low"})
    else:
        steps = {"major_unit": 1} if greatest <= _SMALL_COUNT else {}
        drawn.set_x_axis(along | steps | {"min": 0, "major_gridlines": lines})
        # Bars are listed from the top, as the rows are.
        drawn.set_y_axis(down | {"reverse": True, "crossing": "max", "interval_unit": 1})
    drawn.set_size({"width": chart.width, "height": chart.height})
    page.insert_chart(
        chart.row, chart.column, drawn, {"object_position": 2, "description": _described(chart)}
    )


def _series(page: Any, sheet: SheetModel, chart: Chart, drawn: Any, series: Series) -> float:
    """Draw one series; gives its greatest value."""
    first, last = series.rows
    greatest = 0.0
    for number, row in enumerate(islice(sheet, first, last + 1), start=first):
        for column in (series.categories, series.values):
            cell = row[column]
            value = cell.value if isinstance(cell, Cell) else cell
            # The library fills a chart's stored values from its own cells.
            if isinstance(value, str):
                page.write_string(number, column, value)
            elif value is not None:
                page.write_number(number, column, value)
                greatest = max(greatest, value)
    if chart.kind == "line":
        dash = series.pattern or "solid"
        look = {"line": {"color": series.colour, "width": series.width, "dash_type": dash}}
    else:
        look = {"fill": {"color": series.colour}, "border": {"color": INK, "width": 0.5}}
    drawn.add_series(
        {
            "name": _literal(series.name),
            "categories": [page.name, first, series.categories, last, series.categories],
            "values": [page.name, first, series.values, last, series.values],
            "gap": 40,
            **look,
        }
    )
    return greatest


def _described(chart: Chart) -> str:
    """What a reader who cannot see the chart is told of it."""
    shown = listed(series.name for series in chart.series)
    return f"{chart.title}. {chart.kind} chart, {chart.axis}: {shown}."


def _literal(name: str) -> str:
    return name.replace("!", _MARK)


_CHART_FOLDER = "xl/charts/"
# What the library leaves out, and what some programs then take otherwise than it means: lines of
# points become smooth, and lines of fewer points than others end at the origin.
_LEFT_OUT = (
    (b"</c:yVal></c:ser>", b'</c:yVal><c:smooth val="0"/></c:ser>'),
    (b'<c:plotVisOnly val="1"/>', b'<c:plotVisOnly val="1"/><c:dispBlanksAs val="gap"/>'),
)
_ROWS = re.compile(rb"<sheetData>.*</sheetData>", re.DOTALL)
_LINKS = re.compile(rb"<hyperlinks>.*</hyperlinks>", re.DOTALL)
_DIMENSION = re.compile(rb"<dimension [^>]*/>")
_COLUMN = re.compile(rb'(<col [^>]*style=)"([0-9]+)"')
_PROBE = re.compile(rb'<c r="[A-Z]+1" s="([0-9]+)"/>')


def _take_apart(buffer: io.BytesIO, sheets: Sequence[SheetModel]) -> Skeleton:
    with zipfile.ZipFile(buffer) as package:
        parts = {entry.filename: package.read(entry) for entry in package.infolist()}
    for name, content in parts.items():
        changes = _PUT_BACK + _LEFT_OUT * name.startswith(_CHART_FOLDER)
        for plain, in_full in changes:
            content = content.replace(plain, in_full)
        parts[name] = content
    laid_out = []
    for number in range(1, len(sheets) + 1):
        name = f"{SHEET_FOLDER}sheet{number}.xml"
        # The dimension is optional, and not known before the rows are.
        markup = _DIMENSION.sub(b"", parts.pop(name))
        if number == 1:
            indices = [int(found) for found in _PROBE.findall(markup)]
        before, rest = _ROWS.split(markup)
        between, after = _LINKS.split(rest)
        laid_out.append(SheetParts(name, before, between, after))
    style_sheet = parse(parts[_STYLES_PART], _STYLES_PART)
    styles = name_styles(style_sheet, dict(zip(STYLES, indices, strict=True)))
    now = dict(zip(indices, styles.values(), strict=True))

    def restyled(found: re.Match[bytes]) -> bytes:
        return b'%s"%d"' % (found[1], now[int(found[2])])

    parts[_STYLES_PART] = serialised(style_sheet)
    return Skeleton(
        tuple(replace(one, before=_COLUMN.sub(restyled, one.before)) for one in laid_out),
        parts,
        styles,
    )
