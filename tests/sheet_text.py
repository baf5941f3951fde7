"""A written workbook as text that can be read and compared, a line for each row.

A column's commonest style stands once, at the top; a cell says its style where it has another. A
``*`` goes before a text that is the name of its style; equal cells side by side stand once. A row
says its number only after a gap, and a link to one of our sheets what it leads to, so that a row
more changes one line. Numbers have nine digits: another machine's arithmetic changes none of them.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import groupby
from pathlib import Path
from typing import Any

from openpyxl import load_workbook
from openpyxl.cell.cell import Cell
from openpyxl.styles import NamedStyle
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

_LONG_NUMBER = re.compile(r"-?\d+\.\d+(?:e[-+]?\d+)?", re.IGNORECASE)
_HASH = re.compile(r"\b[0-9a-f]{64}\b")


def number(value: float) -> str:
    return f"{value:.9g}"


def book_text(path: Path, version: str, only: str = "") -> str:
    """The sheets whose names `only` finds, and the looks of the styles that they use."""
    book = load_workbook(path)
    sheets = [sheet for sheet in book if re.match(only, sheet.title)]
    lines = [line for sheet in sheets for line in _sheet(sheet, version)]
    used = {cell.style for sheet in sheets for row in sheet.iter_rows() for cell in row}
    names = {named.name: named for named in book._named_styles}
    lines.append("== styles")
    lines += [f"{_short(name)}: {_look(names[name])}" for name in sorted(used)]
    return "\n".join(lines) + "\n"


def _short(style: str) -> str:
    return style.removeprefix("Check ")


def _look(style: NamedStyle) -> str:
    font, fill, border, place = style.font, style.fill, style.border, style.alignment
    sides = {side: getattr(border, side) for side in ("left", "right", "top", "bottom")}
    parts = [
        font.name,
        number(font.sz),
        *(word for word in ("b", "i", "u") if getattr(font, word)),
        f"ink {font.color.rgb}" if font.color is not None else "",
        f"fill {fill.fgColor.rgb}" if fill.fill_type else "",
        *(f"{side} {line.style}" for side, line in sides.items() if line and line.style),
        *(word for word in (place.horizontal, place.vertical) if word),
        "wrapped" if place.wrap_text else "",
        style.number_format,
        "" if style.protection.locked else "unlocked",
    ]
    return ", ".join(part for part in parts if part)


def _sheet(sheet: Worksheet, version: str) -> Iterator[str]:
    yield f"== {sheet.title}"
    yield from _set_up(sheet)
    count: dict[int, Counter[str]] = {
        column: Counter(cell.style for cell in cells if cell.has_style and not _named(cell))
        for column, cells in enumerate(sheet.iter_cols(), start=1)
    }
    usual = {
        column: max(found, key=found.__getitem__, default="") for column, found in count.items()
    }
    yield from _columns(sheet, usual)
    last = 0
    kinds = [sheet.cell(at, 1).value == "row" for at in range(1, sheet.max_row + 1)]
    for row in sheet.iter_rows():
        at = row[0].row
        if all(kinds[at - 2 : at + 1]):
            last = at  # of the lines for the program, which are long, the first and the last
            continue
        height = sheet.row_dimensions[at].height
        cells = [(cell.column, _cell(cell, usual.get(cell.column, ""), version)) for cell in row]
        if height or any(text for _, text in cells):
            place = "" if last == at - 1 else f"row {at} "
            last = at
            yield f"{place}({number(height or 0)}) {' | '.join(_runs(cells))}".rstrip()
    yield from _charts(sheet)


def _runs(cells: list[tuple[int, str]]) -> Iterator[str]:
    """Texts with their columns; equal ones side by side once."""
    for text, run in groupby(cells, key=lambda cell: cell[1]):
        columns = [get_column_letter(column) for column, _ in run]
        if text:
            yield f"{':'.join(dict.fromkeys((columns[0], columns[-1])))} {text}"


def _named(cell: Any) -> bool:
    """Whether the text is the name of the style, as a band's is."""
    return bool(cell.value == _short(cell.style))


def _set_up(sheet: Worksheet) -> Iterator[str]:
    page, facts = sheet.page_setup, sheet.sheet_properties.pageSetUpPr
    fits = f"fits {page.fitToWidth} by {page.fitToHeight}" if facts and facts.fitToPage else ""
    about: dict[str, Any] = {
        "frozen": sheet.freeze_panes,
        "filter": sheet.auto_filter.ref,
        "printed": sheet.print_area,
        "repeated": (sheet.print_title_rows, sheet.print_title_cols),
        "page": (page.paperSize, page.orientation, page.scale, fits),
        "footer": (sheet.oddFooter.left.text, sheet.oddFooter.center.text),
        "row breaks": [item.id for item in sheet.row_breaks.brk],
        "column breaks": [item.id for item in sheet.col_breaks.brk],
        "merged": sorted(map(str, sheet.merged_cells.ranges)),
        "tab": sheet.sheet_properties.tabColor and sheet.sheet_properties.tabColor.rgb,
        "protected": sheet.protection.sheet,
        "conditional": [str(item.sqref) for item in sheet.conditional_formatting],
    }
    for name, value in about.items():
        several = value if isinstance(value, list | tuple) else [value]
        if any(several):
            yield f"{name}: {'; '.join(str(item) for item in several if item)}"
    for rule in sheet.data_validations.dataValidation:
        what = (rule.type, rule.operator, rule.formula1, rule.formula2, rule.error, rule.prompt)
        cells = " ".join(sorted(str(rule.sqref).split()))
        yield f"takes {cells}: {'; '.join(str(item) for item in what if item)}"


def _columns(sheet: Worksheet, styles: dict[int, str]) -> Iterator[str]:
    sizes = {
        column: (number(size.width), size.outlineLevel, size.hidden)
        for size in sheet.column_dimensions.values()
        for column in range(size.min or 0, (size.max or 0) + 1)
    }
    columns = []
    for column in sorted({*styles, *sizes}):
        width, level, hidden = sizes.get(column, ("default", 0, False))
        facts = (_short(styles.get(column, "")), f"level {level}" if level else "")
        said = ", ".join([f"width {width}", *filter(None, facts), *["hidden"] * hidden])
        columns.append((column, said))
    yield from (f"column {run}" for run in _runs(columns))


def _cell(cell: Any, usual: str, version: str) -> str:
    if not isinstance(cell, Cell):
        return ""  # inside a merged area
    value, style = cell.value, _short(cell.style)
    text = "" if value is None else _value(value, version)
    if _named(cell):
        text = f"*{text}"
    elif cell.has_style and cell.style != usual:
        text += f" {{{style}}}"
    if cell.hyperlink is not None:
        text += f" → {_target(cell)}".rstrip()
    if cell.comment is not None:
        text += f" # {_plain(cell.comment.text)}"
    return text.strip()


def _target(cell: Cell) -> str:
    """Where a link leads; nothing where the cell says it, and what stands there in our sheets."""
    place = str(cell.hyperlink.location or cell.hyperlink.target)
    if place.replace("'", "") == cell.value:
        return ""
    sheet, _, target = place.rpartition("!")
    sheet = sheet.strip("'")
    book = cell.parent.parent
    if not sheet.startswith("Check ") or sheet not in book:
        return place
    there = book[sheet][target]
    rows = range(1, there.row)
    before = sum(book[sheet].cell(row, there.column).value == there.value for row in rows)
    return f"{sheet}, {there.column_letter}, {there.value}" + f", {before + 1}th" * (before > 0)


def _value(value: Any, version: str) -> str:
    if isinstance(value, bool | int):
        return str(value)
    if isinstance(value, float):
        return number(value)
    text = _HASH.sub("HASH", str(value)).replace(version, "VERSION")
    if text.startswith("{"):
        text = _LONG_NUMBER.sub(lambda found: number(float(found[0])), text)
    # A text that looks like a number is told from one.
    return json.dumps(text) if re.fullmatch(r"[-\d.,]+", text) else _plain(text)


def _plain(text: str) -> str:
    return text.replace("\\", "\\\\").replace("\n", "\\n")


def _charts(sheet: Worksheet) -> Iterator[str]:
    for chart in sheet._charts:
        start = chart.anchor._from
        shape = [type(chart).__name__, getattr(chart, "grouping", None)]
        titles = [_title(chart.title), _title(chart.x_axis.title), _title(chart.y_axis.title)]
        place = f"{get_column_letter(start.col + 1)}{start.row + 1}"
        yield f"chart at {place}: {'; '.join(filter(None, (*shape, *titles)))}"
        for series in chart.series:
            yield f"  {'; '.join(filter(None, _series(series)))}"


def _series(series: Any) -> Iterable[str | None]:
    name = series.tx and (series.tx.v or series.tx.strRef.f)
    yield name
    for source in (series.cat, series.val, series.xVal, series.yVal):
        kinds = (source.numRef, getattr(source, "strRef", None)) if source else ()
        yield from (reference.f for reference in kinds if reference)
    looks = series.graphicalProperties
    for fill in (looks, looks and looks.line):
        colour = fill and fill.solidFill
        yield str(getattr(colour.srgbClr, "val", colour.srgbClr)) if colour else None


def _title(title: Any) -> str:
    if title is None or title.tx is None or title.tx.rich is None:
        return ""
    return "".join(run.t for part in title.tx.rich.p for run in part.r or ())
