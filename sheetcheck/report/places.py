"""Names of the result sheets, in their order, and links between them."""

from __future__ import annotations

from ..register.register import split_reference
from .model import MAX_ROWS, Link, part_name
from .rows import cell_name

__all__ = [
    "CAUTIONS",
    "COLUMNS",
    "FINDINGS",
    "HEADS",
    "RECORD",
    "RESULTS",
    "SUMMARY",
    "TENSION",
    "VERDICTS",
    "cell_link",
    "place",
]

RESULTS = "Check results"
FINDINGS = "Check findings"
SUMMARY = "Check summary"
CAUTIONS = "Check cautions"
COLUMNS = "Check columns"
RECORD = "Check record"
TENSION = "Check tension"
VERDICTS = "Check verdicts"


HEADS = {RESULTS: 4, FINDINGS: 3}
"""Rows above the body of the sheets that links lead to."""


def place(sheet: str, index: int, limit: int = MAX_ROWS) -> Link:
    """Link to the tag of row `index` of a sheet's body, in whichever part it stands."""
    head = HEADS[sheet]
    part, row = divmod(index, limit - head)
    return Link(part_name(sheet, part + 1), cell_name(head + row, 0), own=True)


def cell_link(reference: str) -> Link:
    """Link to a source cell from its reference, such as ``'My sheet'!H7``."""
    return Link(*split_reference(reference))
