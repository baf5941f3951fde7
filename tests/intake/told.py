"""What is understood of a register, in a form that two files of one content share."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sheetcheck.intake import read_register
from sheetcheck.register.fields import FIELDS

__all__ = ["told"]


def told(path: Path) -> dict[str, Any]:
    """All of it, but for the file's own name and hash."""
    register = read_register(path)
    rows = range(len(register))
    return {
        "values": [{name: register.value(row, name) for name in FIELDS} for row in rows],
        "cells": [{name: register.cells.address(row, name) for name in FIELDS} for row in rows],
        "columns": register.columns,
        "problems": register.problems,
        "skipped": register.skipped,
        "derived": register.derived,
        "sheets": (register.source.sheets, register.source.sheets_read),
    }
