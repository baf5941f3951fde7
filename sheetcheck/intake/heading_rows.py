"""What rows above a table hold: headings, the groups above them, units below, or a title."""

from __future__ import annotations

import re
from functools import cache

from .grid import Grid, is_blank
from .header_meaning import meaning
from .headers import is_known_wording, match_header, split_unit
from .quantities import parse_unit
from .table import Heading
from .words import is_cell_word

__all__ = [
    "NUMBER",
    "PER",
    "heading_score",
    "is_group_row",
    "is_second_line",
    "is_tag_like",
    "is_units_row",
    "unit_of",
    "unit_text",
]

NUMBER = re.compile(r"[-+~<>±]?\s*\d")
"""How a number begins."""
# What a title line tells beside the title: a day or a year, an issue, who wrote it.
_BRACKETS = re.compile(r"\([^)]*\)")
_TITLE = re.compile(
    r"(?:.*\W)?(?:(?:19|20)\d\d|\d{1,2}[-./]\d{1,2}[-./]\d{2,4})\b|"
    r"(?:rev|revision|issued?|page|sheet|date|updated|printed|prepared|compiled|checked|kept|"
    r"stand|seite|blatt|datum|hoja|fecha|folha|data|feuille)\b\.?\s*:?(?:\s|\d|\Z)",
    re.IGNORECASE,
)
PER = re.compile(
    r"[^\s/]{1,10}\s?/\s?(?:h|hr|hour|d|day|shift|wk|week|mo|month|yr|year|annum|min|s|sec|m|ft|t|"
    r"m[23²³]|woche|wo|sem|semana|semaine|jahr|año|ano|an)\.?",
    re.IGNORECASE,
)
"""What can only be a unit, known or not: ``manhrs/week``."""
_ANSWERS = re.compile(
    r"[([]?\s*(?:y(?:es)?\s*/\s*no?|j(?:a)?\s*/\s*n(?:ein)?|s(?:i|í|im)?\s*/\s*n(?:o|ão)?|"
    r"o(?:ui)?\s*/\s*n(?:on)?|ok\s*/\s*not ok)\s*[)\]]?\Z",
    re.IGNORECASE,
)
"""The answers a column takes, where they stand among the units: (Y/N)."""


@cache
def heading_score(text: str) -> float:
    """How much a cell's text looks like a column heading: 1 known, 0.6 half known, 0 not."""
    if not text or len(text) > 120 or NUMBER.match(text) or is_tag_like(text):
        return 0.0
    match = match_header(text)
    if match.field is not None:
        return 1.0
    if match.candidates:
        return 0.6
    return 0.5 if match.known and match.why.startswith("known wording") else 0.0


@cache
def is_tag_like(text: str) -> bool:
    """Whether a text is made like a tag, such as CV-101 or XX-CV-01: short words and digits."""
    words = re.findall(r"[^\W\d_]+|\d+", text)
    letters = [word for word in words if not word.isdigit()]
    return (
        len(letters) < len(words) <= 6
        and len(text) <= 20
        and all(len(word) <= (5 if at == 0 else 3) for at, word in enumerate(letters))
        and split_unit(text)[1] is None
        and not is_known_wording(text)
    )


def is_units_row(grid: Grid, at: int) -> bool:
    """Whether row `at` (zero-based) holds the units of the columns."""
    if at >= len(grid.rows):
        return False
    texts = [value for value in grid.rows[at] if not is_blank(value)]
    units = [
        text
        for text in texts
        if isinstance(text, str)
        and (unit_of(text) is not None or _ANSWERS.match(text))
        and text.strip() not in ("N", "n")  # rather a no than newtons
    ]
    short = all(
        isinstance(text, str) and re.fullmatch(r"\D{1,10}|.*[²³23]", text) for text in texts
    )
    return bool(units) and (len(units) == len(texts) or (short and 2 * len(units) >= len(texts)))


def is_second_line(grid: Grid, leaf: int) -> bool:
    """Whether the row below holds units, and words that headings go on with: ``length m``."""
    if leaf + 1 >= len(grid.rows) or is_units_row(grid, leaf + 1):
        return False
    texts = [value for value in grid.rows[leaf + 1] if not is_blank(value)]
    if len(texts) < 4 or not all(isinstance(t, str) and len(t) <= 20 for t in texts):
        return False
    words = [str(text) for text in texts]
    if any(is_cell_word(text) and unit_of(text) in (None, "N") for text in words):
        return False
    pure = sum(unit_of(text) is not None or bool(_ANSWERS.match(text)) for text in words)
    told = pure + sum(split_unit(text)[1] is not None for text in words)
    body = any(
        re.search(r"\d{2}", text) or (is_tag_like(text) and not any(meaning(text).choices))
        for text in words
    )
    return pure >= 2 and 3 * told >= len(words) and not body


def unit_of(text: str) -> str | None:
    """Canonical unit that a cell of a units row names; a dash says that there is none."""
    unit = parse_unit(text)
    return unit if unit is not None or text.strip() not in ("-", "–") else "1"


def is_group_row(grid: Grid, at: int, leaf: int) -> bool:
    """Whether row `at` holds headings of groups of the columns below it."""
    row = grid.rows[at]
    filled = [column for column, value in enumerate(row) if not is_blank(value)]
    if not filled or any(not isinstance(row[column], str) for column in filled):
        return False
    across = sum(
        any(not is_blank(grid.rows[line][column]) for line in range(at, leaf + 1))
        for column in range(grid.width)
    )
    spans = [
        area for area in grid.merged if area.top <= at <= area.bottom and area.right > area.left
    ]
    if any(area.right - area.left + 1 >= 0.6 * max(across, 4) for area in spans):
        return False  # a title across the whole table
    texts = [str(row[column]) for column in filled]
    if any(len(text) > 60 for text in texts):
        return False
    if 3 * len(filled) < across and any(
        _TITLE.match(text.strip()) or len(_BRACKETS.sub("", text).split()) > 6 for text in texts
    ):
        return False  # the line with title, author and date, or a remark
    if len(filled) == 1:
        return bool(spans)
    return bool(spans) or len(filled) >= 2


def unit_text(heading: Heading) -> str | None:
    """Canonical unit a heading names, in its text or in the units row."""
    named = split_unit(heading.text)[1]
    return named if named is not None else unit_of(heading.unit_text)
