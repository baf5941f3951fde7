"""Cautions: what governs, what to heed and under which rule, and what was not examined."""

from __future__ import annotations

from dataclasses import replace

from ..findings.cautions import GOVERNING, NOT_EXAMINED, SCREENING, Caution, cautions
from ..findings.results import Findings
from ..tables import REGULATIONS
from .display import capital
from .model import Area, Body, Cell, Column, Page, Row, SheetModel
from .places import CAUTIONS
from .text_lines import listed_whole, room_of

__all__ = ["cautions_sheet"]

_WIDTHS = (26, 56, 50, 32, 38)
_MOST_TAGS = 12


def cautions_sheet(findings: Findings, page: Page) -> SheetModel:
    """Lay out the cautions, general ones and those that findings call for."""
    last = len(_WIDTHS) - 1
    head: tuple[Row, ...] = (
        (Cell("Cautions", "title"),),
        (Cell(GOVERNING, "strong"),),
        (Cell(SCREENING, "strong"),),
        (),
        tuple(
            Cell(name, "heading")
            for name in ("Caution", "What to heed", "Rules", "Where they hold", "Called for by")
        ),
    )
    plant = findings.ruling.plant
    where = plant.jurisdiction if plant else ""
    head = (
        *head[:3],
        (Cell(f"Jurisdiction named in the limits file: {where}", "plain"),) if where else (),
        head[-1],
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
        heights={0: 24, 1: 20, 2: 20},
        merges=(Area(1, 0, 1, last), Area(2, 0, 2, last)),
        page=replace(page, one_page=True),
    )


def _row(findings: Findings, caution: Caution) -> Row:
    tags = findings.register.values["tag"]
    rules = [f"{rule}, {REGULATIONS[rule]['title']}" for rule in caution.rules]
    places = dict.fromkeys(REGULATIONS[rule]["jurisdiction"] for rule in caution.rules)
    called = dict.fromkeys(str(tags[row]) for row in caution.rows)
    return (
        Cell(caution.title, "name"),
        caution.text,
        "\n".join(rules),
        "\n".join(places),
        _tags(list(called)) if called else "general",
    )


def _tags(tags: list[str]) -> str:
    more = len(tags) - _MOST_TAGS
    shown = tags[:_MOST_TAGS] + ([f"and {more} more"] if more > 0 else [])
    return listed_whole(shown, room_of(_WIDTHS[-1]))
