"""Checks a plant's belt-conveyor register and hands back a workbook with every verdict."""

from __future__ import annotations

TYPE_CHECKING = False  # as type checkers know it; importing it costs a start of the program time

__version__ = "0.1.0"

if TYPE_CHECKING:
    from typing import Any

    from .api import read_register, run_checks, write_report
    from .errors import OutputExists, SheetcheckError, UnusableCall, UnusableInput
    from .findings import Findings
    from .register.register import Register

__all__ = [
    "Findings",
    "OutputExists",
    "Register",
    "SheetcheckError",
    "UnusableCall",
    "UnusableInput",
    "__version__",
    "read_register",
    "run_checks",
    "write_report",
]

_HOMES = {
    "Findings": "findings",
    "OutputExists": "errors",
    "Register": "register.register",
    "SheetcheckError": "errors",
    "UnusableCall": "errors",
    "UnusableInput": "errors",
    "read_register": "api",
    "run_checks": "api",
    "write_report": "api",
}


def __getattr__(name: str) -> Any:
    # Loaded when asked for, so that the command line starts without numpy and pandas.
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f".{_HOMES[name]}", __name__), name)
