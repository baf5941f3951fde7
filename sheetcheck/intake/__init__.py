"""Intake: a workbook to a register."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .again import columns_as_before, record_lines, restore_reasons
    from .columns import ColumnMap, load_column_map, save_column_map
    from .limits import Allowance
    from .read import Description, describe_columns, read_register

__all__ = [
    "Allowance",
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

_HOMES = {
    "Allowance": "limits",
    "ColumnMap": "columns",
    "Description": "read",
    "columns_as_before": "again",
    "describe_columns": "read",
    "load_column_map": "columns",
    "read_register": "read",
    "record_lines": "again",
    "restore_reasons": "again",
    "save_column_map": "columns",
}


def __getattr__(name: str) -> Any:
    # Loaded when asked for: the process that reads one workbook starts without numpy.
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f".{_HOMES[name]}", __name__), name)
