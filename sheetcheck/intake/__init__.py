"""Intake: a workbook to a register."""

from .again import columns_as_before, record_lines, restore_reasons
from .columns import ColumnMap, load_column_map, save_column_map
from .read import Description, describe_columns, read_register

__all__ = [
    "ColumnMap",
    "Description",
    "columns_as_before",
    "describe_columns",
    "load_column_map",
    "read_register",
    "record_lines",
    "restore_reasons",
    "save_column_map",
]
