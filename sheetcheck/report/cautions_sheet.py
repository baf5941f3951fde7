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
from ..findings.columns import Array
from ..findings.results import Findings
from ..tables import REGULATIONS
from .display import capital
from .lists import ListColumn, list_sheet, section_row
from .model import Area, Body, Cell, Page, SheetModel
from .places import CAUTIONS
from .rules import GRADES
from .text_lines import listed_whole, room_of

__all__ = ["cautions_sheet"]

_GRADES = "Grades of the rules: " + "; ".join(f"{grade} {GRADES[grade]}" for grade in "SQM") + "."
_MOST_TAGS = 12


_WIDEST = 32  # of the tags that call for a caution


def cautions_sheet(findings: Findings, page: Page) -> SheetModel:
    """Lay out the cautions, general ones and those that findings call for."""
    tags = findings.register.values["tag"]
    columns = (
        ListColumn("Caution", 26, lambda caution: caution.title, "name"),
        ListColumn("What to heed", 52, lambda caution: caution.text),
        ListColumn("Rules", 92, _rules),
        ListColumn("Called for by", _WIDEST, lambda caution: _called_for_by(caution, tags)),
    )
    sheet = list_sheet(CAUTIONS, "Cautions", "", columns, cautions(findings), page)
    title, _, names = sheet.head
    about = f"{jurisdiction_line(findings)} {_GRADES}"
    examined = [(Cell(capital(what), "text"),) for what in NOT_EXAMINED]
    head = (
        title,
        (Cell(GOVERNING, "strong"),),
        (Cell(SCREENING, "strong"),),
        (Cell(about, "paragraph"),),
        names,
    )
    return replace(
        sheet,
        head=head,
        body=Body.of([*sheet.body, (), section_row("Not examined", len(columns)), *examined]),
        freeze=(len(head), 1),
        heights={0: 24, 1: 20, 2: 20, 3: 28},
        merges=tuple(Area(row, 0, row, len(columns) - 1) for row in (1, 2, 3)),
        page=replace(page, one_page=True),
    )


def _rules(caution: Caution) -> str:
    rules = [_rule(rule) for rule in caution.rules]
    if caution.elsewhere:
        cites = (f"{cite} [{REGULATIONS[cite]['grade']}]" for cite in caution.elsewhere)
        rules.append(f"Elsewhere: {'; '.join(cites)}")
    return "\n".join(rules)


def _rule(cite: str) -> str:
    line = REGULATIONS[cite]
    return f"{cite}, {line['title']} – {line['jurisdiction']} [{line['grade']}]"


def _called_for_by(caution: Caution, tags: Array) -> str:
    called = list(dict.fromkeys(str(tags[row]) for row in caution.rows))
    more = len(called) - _MOST_TAGS
    shown = called[:_MOST_TAGS] + ([f"and {more} more"] if more > 0 else [])
    return listed_whole(shown, room_of(_WIDEST)) if called else "general"
