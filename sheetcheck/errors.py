"""Exceptions that end a run; each carries the exit status and what the user can do."""

from __future__ import annotations

__all__ = ["OutputExists", "SheetcheckError", "UnusableCall", "UnusableInput"]


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
        return f"{self.where}: {self.problem}. {self.what_to_do}"


class UnusableCall(SheetcheckError):
    """The command line or an option file cannot be used as given."""


class UnusableInput(SheetcheckError):
    """A workbook cannot be processed: unreadable, no conveyor table, no tag column."""


class OutputExists(SheetcheckError):
    """An output is already there and overwriting was not asked for."""
