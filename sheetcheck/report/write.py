"""One report file: a copy of the source with the result sheets, or a workbook of results."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from io import BufferedReader
from pathlib import Path
from typing import BinaryIO

from .. import __version__
from ..errors import UnusableCall, UnusableInput
from ..files import replacing
from ..findings.results import Findings
from ..register.register import Register
from .into_book import add_sheets
from .model import SheetModel
from .new_book import write_book
from .opc import CannotCarry
from .self_check import check_copy
from .sheets import report_sheets
from .skeleton import BookOptions
from .style import styles_with

__all__ = ["write_copy", "write_report", "write_results"]

_OWN_WORKBOOK = "The results stand in a workbook of their own."
_TAKES_SHEETS = (".xlsx", ".xlsm")


def write_report(
    register: Register,
    findings: Findings,
    path: str | Path,
    *,
    apart: Path | None = None,
    report_only: bool = False,
    overwrite: bool = False,
    protect: bool = False,
    when: datetime | None = None,
) -> tuple[Path, list[str]]:
    """Write the report of one register: its workbook with the result sheets added.

    Where the source cannot take added sheets (another kind of workbook, a signed one, …) the
    report is a workbook of results only, and a note says why.

    Parameters
    ----------
    register, findings
        What was read and judged.
    path
        File to write. A copy of a workbook with macros needs the suffix ``.xlsm``; a workbook of
        results only never has it.
    apart
        Where a workbook of results goes in place of `path`; the same under ``.xlsx``, where None.
    report_only
        Leave the source's sheets out.
    overwrite
        Whether a file that is there may be replaced.
    protect
        Protect our sheets against accidental edits.
    when
        Moment of the run; now, where not given.

    Returns
    -------
    tuple of Path and list of str
        What was written, and what the user should know, a line each.

    Raises
    ------
    OutputExists
        Where the file is there and `overwrite` is not set.
    UnusableCall
        Where it cannot be written, or is the source itself.
    UnusableInput
        Where the source has changed since it was read.
    """
    when = when or datetime.now()
    path, source = Path(path), Path(register.source.path)
    plant = findings.ruling.plant
    options = BookOptions(
        title=f"Conveyor checks of {register.source.file}",
        created=when,
        protect=protect,
        results=True,
        styles=styles_with(plant.colours if plant else {}),
    )

    def sheets(with_links: bool) -> list[SheetModel]:
        return report_sheets(findings, when=when, tool=__version__, with_links=with_links)

    notes = []
    if not report_only and source.suffix.casefold() in _TAKES_SHEETS:
        _refuse_the_source_itself(source, path)
        try:
            return path, write_copy(
                source,
                register.source.sha256,
                sheets(with_links=True),
                path,
                options,
                overwrite=overwrite,
            )
        except CannotCarry as refusal:
            notes.append(f"{refusal.where}: {refusal.problem}. {_OWN_WORKBOOK}")
    elif not report_only:
        kind = source.suffix or "no suffix"
        notes.append(f"{register.source.file}: {kind} files take no added sheets. {_OWN_WORKBOOK}")
    if path.suffix.casefold() != ".xlsx":
        path = apart or path.with_suffix(".xlsx")
        notes.append(f"The results are in {path.name}.")
    _refuse_the_source_itself(source, path)
    write_results(sheets(with_links=False), path, options, overwrite=overwrite)
    return path, notes


def _refuse_the_source_itself(source: Path, path: Path) -> None:
    if path.exists() and source.exists() and path.samefile(source):
        raise UnusableCall(
            str(path), "is the source itself, which is never changed", "Name another file."
        )


def write_copy(
    source: Path,
    sha256: str,
    sheets: Sequence[SheetModel],
    path: Path,
    options: BookOptions,
    *,
    overwrite: bool,
) -> list[str]:
    """Write a copy of `source` with `sheets` added; gives plain notes for the user.

    Raises
    ------
    CannotCarry
        Where the source cannot take them.
    UnusableInput
        Where the source is not the file that was read (its SHA-256 is not `sha256`).
    """
    with _opened(source) as file:
        _refuse_a_changed_source(file, source, sha256)
        with replacing(path, overwrite=overwrite) as target:
            try:
                carried = add_sheets(file, sheets, target, options, label=source.name)
                target.flush()
                check_copy(source, Path(target.name), carried, source.name)
            finally:
                # Whatever went wrong, or right, rests on what was read.
                file.seek(0)
                _refuse_a_changed_source(file, source, sha256)
    renamed = [
        f"{source.name} has a sheet named {old!r} that is not as this program writes it, and "
        f"keeps it; ours is {new!r}."
        for old, new in carried.names.items()
        if old != new
    ]
    return [*carried.notes, *renamed]


def _refuse_a_changed_source(file: BinaryIO, source: Path, sha256: str) -> None:
    if hashlib.file_digest(file, "sha256").hexdigest() != sha256:  # type: ignore[arg-type]
        raise UnusableInput(str(source), "has changed since it was read", "Run the check again.")


@contextmanager
def _opened(source: Path) -> Iterator[BufferedReader]:
    try:
        file = source.open("rb")
    except OSError as error:
        raise UnusableInput(
            str(source),
            f"cannot be opened ({error.strerror or error})",
            "Close it elsewhere, or check its name and your rights.",
        ) from error
    with file:
        yield file


def write_results(
    sheets: Sequence[SheetModel],
    path: Path,
    options: BookOptions,
    *,
    overwrite: bool,
) -> None:
    """Write `sheets` as a workbook of their own."""
    with replacing(path, overwrite=overwrite) as target:
        write_book(sheets, target, options)
