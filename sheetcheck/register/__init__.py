"""The neutral schema and the register that is held in it; knows no workbook library."""

from .fields import FIELDS, Field
from .register import Cells, Column, Problem, Register, Skipped, Source, TableSource

__all__ = [
    "FIELDS",
    "Cells",
    "Column",
    "Field",
    "Problem",
    "Register",
    "Skipped",
    "Source",
    "TableSource",
]
