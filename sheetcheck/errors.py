"""Exceptions that end a run; each carries the exit status and what the user can do."""

from __future__ import annotations

import os
from pathlib import Path
from traceback import extract_tb, print_exception

__all__ = [
    "OutputExists",
    "ProgramFault",
    "SheetcheckError",
    "UnusableCall",
    "UnusableInput",
    "fault",
    "on_one_line",
]


_LONGEST = 600


class SheetcheckError(Exception):
    """Base of every error raised on purpose.

    Parameters
    ----------
    where
        File, and where known sheet and cell, the message is about.
    problem
        What is wrong, in plain words.
    what_to_do
        The next step for the user.
    """

    exit_status = 2

    def __init__(self, where: str, problem: str, what_to_do: str) -> None:
        super().__init__(where, problem, what_to_do)
        self.where = where
        self.problem = problem
        self.what_to_do = what_to_do

    def __str__(self) -> str:
        problem = self.problem  # it may quote a cell or a key of any length
        if len(problem) > _LONGEST:
            problem = f"{problem[: _LONGEST // 2]} … {problem[-_LONGEST // 2 :]}"
        return on_one_line(f"{self.where}: {problem}. {self.what_to_do}")


class UnusableCall(SheetcheckError):
    """The command line or an option file cannot be used as given."""


class UnusableInput(SheetcheckError):
    """A workbook cannot be processed: unreadable, no conveyor table, no tag column."""


class OutputExists(SheetcheckError):
    """An output is already there and overwriting was not asked for."""


class ProgramFault(SheetcheckError):
    """A fault of this program, not of what it was given."""

    exit_status = 70  # sysexits.h, EX_SOFTWARE


def on_one_line(text: str) -> str:
    """Write out what a terminal would not show as itself: names come from outside."""
    return "".join(
        character if character.isprintable() else ascii(character)[1:-1] for character in text
    )


def fault(where: str, error: Exception) -> ProgramFault:
    """Make an error that nobody foresaw one line that asks to be reported."""
    if os.environ.get("SHEETCHECK_TRACEBACK") == "1":
        print_exception(error)
    place = extract_tb(error.__traceback__)[-1]
    return ProgramFault(
        where,
        f"could not be checked, by a fault of this program ({type(error).__name__}: "
        f"{' '.join(str(error).split())[:300]}; {Path(place.filename).name}:{place.lineno})",
        "Please report it, with the workbook if you may; other workbooks are not affected.",
    )
