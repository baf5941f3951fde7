"""The library's three calls: read a register, check it, write the report."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from .errors import UnusableCall
from .findings import Findings, check_register, load_limits, refuse
from .intake import read_register as _read
from .register.register import Register

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["read_register", "run_checks", "write_report"]


def read_register(
    path: str | Path, *, columns: str | Path | None = None, sheet: str | None = None
) -> Register:
    """Read a workbook's conveyors into a register.

    Parameters
    ----------
    path
        Workbook (xlsx, xlsm, xls, xlsb, ods or csv).
    columns
        Column map (TOML) to use instead of recognising the headers.
    sheet
        Only this sheet.

    Returns
    -------
    Register
        ``.table``: pandas table in SI; ``.cells``: source cell of each value; ``.columns``: how
        each column was read; ``.problems``.

    Raises
    ------
    UnusableInput
        Where the workbook cannot be read or holds no conveyor table.
    """
    from .intake.columns import load_column_map

    column_map = None if columns is None else load_column_map(Path(columns))
    return _read(Path(path), column_map=column_map, sheet=sheet)


def run_checks(
    register: Register,
    limits: str | Path | Mapping[str, Mapping[str, float]] | None = None,
    *,
    on: date | None = None,
) -> pd.DataFrame:
    """Run every check over a register.

    Parameters
    ----------
    register
        From `read_register`.
    limits
        A limits file (TOML); or check key to limit name to value, in SI, in place of the
        declared defaults.
    on
        Date that decides which accepted deviations have run out; today where not given.

    Returns
    -------
    pandas.DataFrame
        One row per register row and check, in register and report order; a range has its ends in
        ``found`` and ``found_high`` and so on. ``attrs["findings"]`` holds what `write_report`
        needs.

    Raises
    ------
    UnusableCall
        Naming the line of the limits file, or the limit, that cannot be used.
    """
    if isinstance(limits, str | Path):
        findings = check_register(register, load_limits(limits), on=on)
    else:
        refuse(limits or {})
        findings = check_register(register, limits=limits, on=on)
    frame = findings.frame()
    frame.attrs["findings"] = findings
    return frame


def write_report(
    register: Register, findings: pd.DataFrame | Findings, path: str | Path, *,
    overwrite: bool = False,
) -> list[str]:  # fmt: skip
    """Write the checked workbook; gives notes worth telling the user.

    Parameters
    ----------
    register
        From `read_register`.
    findings
        From `run_checks`, for this register; of a table that was filtered, the verdicts that it
        still holds are written, and the others are said to be left out.
    path
        Where to write: an ``.xlsx``, or an ``.xlsm`` for a register with macros.
    overwrite
        Whether an existing file may be replaced.

    Raises
    ------
    UnusableCall
        Where `findings` are not those of `register`, or the ending cannot be written.
    OutputExists
        Where `path` is there already.
    """
    from .report import write_report as write

    path = Path(path)
    ending = ".xlsm" if Path(register.source.path).suffix.casefold() == ".xlsm" else ".xlsx"
    if path.suffix.casefold() != ending:
        raise UnusableCall(str(path), f"does not end in {ending}", "Give it that ending.")
    held = findings if isinstance(findings, Findings) else findings.attrs.get("findings")
    # Figures of a limits file go into a copy of the register; its source stays the same.
    if held is None or held.register.source is not register.source:
        raise UnusableCall(
            str(path), "the findings are not of this register", "Pass what run_checks returned."
        )
    if not isinstance(findings, Findings) and len(findings) < len(held) * len(held.results):
        held = held.only(
            {str(key): rows.to_numpy() for key, rows in findings.groupby("check")["row"]}
        )
    return write(held.register, held, path, overwrite=overwrite)[1]
