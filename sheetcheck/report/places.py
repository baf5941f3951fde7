"""Names of the result sheets, in their order, and links between them."""

from __future__ import annotations

from ..register.register import split_reference
from .model import Link

__all__ = [
    "CAUTIONS",
    "COLUMNS",
    "FINDINGS",
    "RECORD",
    "RESULTS",
    "SUMMARY",
    "VERDICTS",
    "cell_link",
]

RESULTS = "Check results"
FINDINGS = "Check findings"
SUMMARY = "Check summary"
CAUTIONS = "Check cautions"
COLUMNS = "Check columns"
RECORD = "Check record"
VERDICTS = "Check verdicts"


def cell_link(reference: str) -> Link:
    """Link to a source cell from its reference, such as ``'My sheet'!H7``."""
    return Link(*split_reference(reference))
