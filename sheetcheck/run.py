"""The main job over one or many workbooks: plan the outputs, then read, check and write each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from .errors import OutputExists, SheetcheckError, UnusableCall

if TYPE_CHECKING:
    from .findings import Findings

__all__ = ["Done", "Job", "Options", "plan", "run"]

READABLE = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods", ".csv")
_CARRIED = (".xlsx", ".xlsm")
_OURS = ".checked"
_SUMMARY = "site_summary"


@dataclass(frozen=True, slots=True)
class Options:
    """What the user asked for, beyond the workbooks themselves."""

    out: Path | None = None
    columns: Path | None = None
    sheet: str | None = None
    report_only: bool = False
    workbook: bool = True
    overwrite: bool = False


@dataclass(frozen=True, slots=True)
class Job:
    """One workbook, and where its checked copy goes (None: nowhere)."""

    source: Path
    target: Path | None


@dataclass(slots=True)
class Done:
    """What became of one job: findings, or the error that stopped it."""

    job: Job
    findings: Findings | None = None
    notes: list[str] = field(default_factory=list)
    error: SheetcheckError | None = None


def _is_ours(path: Path) -> bool:
    return path.stem.endswith(_OURS) or path.stem == _SUMMARY


def _workbooks_in(folder: Path) -> list[Path]:
    return sorted(
        path
        for path in folder.rglob("*")
        if path.suffix.lower() in READABLE
        and path.is_file()
        and not path.name.startswith(("~$", "."))
        and not _is_ours(path)
    )


def _target(source: Path, options: Options) -> Path | None:
    if not options.workbook:
        return None
    suffix = source.suffix.lower()
    carried = suffix in _CARRIED and not options.report_only
    stem = source.stem if source.stem.endswith(_OURS) else f"{source.stem}{_OURS}"
    return (options.out or source.parent) / f"{stem}{suffix if carried else '.xlsx'}"


def plan(paths: Sequence[Path], options: Options, others: Sequence[Path] = ()) -> list[Job]:
    """List the jobs before any work is done.

    Parameters
    ----------
    paths
        Workbooks, and folders to search.
    options
        As given.
    others
        Further files that will be written, such as a JSON file.

    Raises
    ------
    UnusableCall
        Where a folder holds no workbook, or two inputs would give one output.
    OutputExists
        Where an output is there already and may not be replaced.
    """
    sources: list[Path] = []
    for path in paths:
        if path.is_dir():
            found = _workbooks_in(path)
            if not found:
                raise UnusableCall(
                    str(path),
                    "the folder holds no workbook",
                    f"Give a folder with {', '.join(READABLE)} files.",
                )
            sources += found
        else:
            sources.append(path)
    sources = list(dict.fromkeys(sources))
    jobs = [Job(source, _target(source, options)) for source in sources]
    taken: dict[Path, Path] = {}
    for job in jobs:
        if job.target is None:
            continue
        key = job.target.resolve()
        if key in taken:
            raise UnusableCall(
                str(job.source),
                f"would give the same output as {taken[key]} ({job.target})",
                "Check them one at a time with different --out folders.",
            )
        taken[key] = job.source
    for target in (*(job.target for job in jobs if job.target), *others):
        if target.exists() and not options.overwrite:
            raise OutputExists(
                str(target), "is there already", "Use --overwrite, or another folder with --out."
            )
    return jobs


def run(
    jobs: Sequence[Job], options: Options, progress: Callable[[int, int, str], None]
) -> Iterator[Done]:
    """Do the jobs in order; an error in one is its result and never stops the rest.

    Parameters
    ----------
    jobs, options
        From `plan`.
    progress
        Called with the number done, the number in all, and what is under way.
    """
    for number, job in enumerate(jobs):
        progress(number, len(jobs), job.source.name)
        yield _one(job, options)
    progress(len(jobs), len(jobs), "")


def _one(job: Job, options: Options) -> Done:
    from .findings import evaluate
    from .intake import read_register
    from .intake.columns import load_column_map

    done = Done(job)
    try:
        column_map = None if options.columns is None else load_column_map(options.columns)
        register = read_register(job.source, column_map=column_map, sheet=options.sheet)
        done.findings = evaluate(register)
        if job.target is not None:
            from .report import write_report

            job.target.parent.mkdir(parents=True, exist_ok=True)
            done.notes = write_report(
                register,
                done.findings,
                job.target,
                report_only=options.report_only or job.source.suffix.lower() not in _CARRIED,
                overwrite=options.overwrite,
            )
    except SheetcheckError as error:
        done.error, done.findings = error, None
    return done
