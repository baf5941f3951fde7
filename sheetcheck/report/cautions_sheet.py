"""Cautions: what governs, what to heed and under which rule, and what was not examined."""

from __future__ import annotations

from dataclasses import replace

from ..findings.cautions import (
    GOVERNING,
    NOT_EXAMINED,
    SCREENING,
    Caution,
    cautions,
    jurisdiction_line,
)
from ..findings.results import Findings
from ..tables import REGULATIONS
from .display import capital
from .model import Area, Body, Cell, Column, Page, Row, SheetModel
from .places import CAUTIONS
from .rules import GRADES
from .text_lines import listed_whole, room_of

__all__ = ["cautions_sheet"]

_WIDTHS = (26, 52, 92, 32)
_GRADES = "Grades of the rules: " + "; ".join(f"{grade} {GRADES[grade]}" for grade in "SQM") + "."
_MOST_TAGS = 12


def cautions_sheet(findings: Findings, page: Page) -> SheetModel:
    """Lay out the cautions, general ones and those that findings call for."""
    last = len(_WIDTHS) - 1
    head: tuple[Row, ...] = (
        (Cell("Cautions", "title"),),
        (Cell(GOVERNING, "strong"),),
        (Cell(SCREENING, "strong"),),
        (Cell(f"{jurisdiction_line(findings)} {_GRADES}", "paragraph"),),
        tuple(
            Cell(name, "heading") for name in ("Caution", "What to heed", "Rules", "Called for by")
        ),
    )
    rows: list[Row] = [_row(findings, caution) for caution in cautions(findings)]
    rows.append(())
    rows.append((Cell("Not examined", "section"), *[Cell("", "section")] * last))
    rows += [(Cell(capital(what), "text"),) for what in NOT_EXAMINED]
    return SheetModel(
        CAUTIONS,
        tuple(Column(width) for width in _WIDTHS),
        head,
        Body.of(rows),
        freeze=(len(head), 1),
        heights={0: 24, 1: 20, 2: 20, 3: 28},
        merges=tuple(Area(row, 0, row, last) for row in (1, 2, 3)),
        page=replace(page, one_page=True),
    )


def _row(findings: Findings, caution: Caution) -> Row:
    tags = findings.register.values["tag"]
    rules = [_rule(rule) for rule in caution.rules]
    if caution.elsewhere:
        cites = (f"{cite} [{REGULATIONS[cite]['grade']}]" for cite in caution.elsewhere)
        rules.append(f"Elsewhere: {'; '.join(cites)}")
    called = dict.fromkeys(str(tags[row]) for row in caution.rows)
    return (
        Cell(caution.title, "name"),
        caution.text,
        "\n".join(rules),
        _tags(list(called)) if called else "general",
    )


def _rule(cite: str) -> str:
    line = REGULATIONS[cite]
    return f"{cite}, {line['title']} – {line['jurisdiction']} [{line['grade']}]"


def _tags(tags: list[str]) -> str:
    more = len(tags) - _MOST_TAGS
    shown = tags[:_MOST_TAGS] + ([f"and {more} more"] if more > 0 else [])
    return listed_whole(shown, room_of(_WIDTHS[-1]))
