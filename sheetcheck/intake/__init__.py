"""Intake: a workbook to a register."""

from .columns import ColumnMap, load_column_map, save_column_map
from .read import Description, describe_columns, read_register

__all__ = [
    "ColumnMap",
    "Description",
    "describe_columns",
    "load_column_map",
    "read_register",
    "save_column_map",
]
