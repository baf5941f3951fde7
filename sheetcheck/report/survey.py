"""A form for what a register lacks: what to find out along each conveyor, and in the office."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from ..findings.gaps import lacks
from ..findings.results import Findings
from .model import SheetModel, continued
from .office_form import office_form
from .skeleton import BookOptions
from .walk_form import walk_forms
from .write import write_results

__all__ = ["survey_sheets", "write_survey"]


def write_survey(
    findings: Findings, path: str | Path, *, overwrite: bool = False, when: datetime | None = None
) -> None:
    """Write the form for one register.

    Parameters
    ----------
    findings
        The register, judged; what no verdict waits for is not asked.
    path
        File to write.
    overwrite
        Whether a file that is there may be replaced.
    when
        Moment of the run; now, where not given.

    Raises
    ------
    OutputExists
        Where the file is there and `overwrite` is not set.
    UnusableCall
        Where it cannot be written.
    """
    when = when or datetime.now()
    options = BookOptions(f"Survey for {findings.register.source.file}", when)
    write_results(survey_sheets(findings, when), Path(path), options, overwrite=overwrite)


def survey_sheets(findings: Findings, when: datetime) -> list[SheetModel]:
    """Lay out the form: what is found out on foot, then what drawings and records tell.

    Both are laid out so that they are read back as what they ask for: moved into the register's
    workbook they are joined to its rows by tag.
    """
    lacking = lacks(findings)
    office = office_form(findings, lacking, when)
    walk = walk_forms(findings, lacking, when, office=office is not None)
    return walk if office is None else [*walk, *continued(office)]
