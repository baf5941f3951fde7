"""The main job over one or many workbooks: plan the outputs, then read, check and write each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .errors import OutputExists, SheetcheckError, UnusableCall

if TYPE_CHECKING:
    from .findings import Findings, Plant
    from .intake import ColumnMap

__all__ = ["Done", "Job", "Options", "plan", "read_checked", "run"]

READABLE = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods", ".csv")
_CARRIED = (".xlsx", ".xlsm")
_OURS = ".checked"
_SUMMARY = "site_summary"


@dataclass(frozen=True, slots=True)
class Options:
    """What the user asked for, beyond the workbooks themselves.

    ``like`` is a checked workbook whose column map, sheet and limits serve where none are given;
    ``on`` the date against which accepted deviations are held.
    """

    out: Path | None = None
    columns: Path | None = None
    sheet: str | None = None
    report_only: bool = False
    workbook: bool = True
    overwrite: bool = False
    limits: Path | None = None
    like: Path | None = None
    on: date | None = None


@dataclass(frozen=True, slots=True)
class Given:
    """What `Options` come to once their files are read: read once, used for every workbook."""

    column_map: ColumnMap | None = None
    sheet: str | None = None
    plant: Plant | None = None
    on: date | None = None
    before: Mapping[str, Any] | None = None


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
    return path.stem.endswith((_OURS, ".compared")) or path.stem == _SUMMARY


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
    given = _given(options)
    for number, job in enumerate(jobs):
        progress(number, len(jobs), job.source.name)
        yield _one(job, options, given)
    progress(len(jobs), len(jobs), "")


def read_checked(path: Path) -> dict[str, Any]:
    """Read back what a checked workbook's record holds of its run.

    Raises
    ------
    UnusableInput
        Where it is no checked workbook.
    """
    from .intake import record_lines
    from .report.run_record import read_record

    return read_record(record_lines(path), path.name)


def _given(options: Options) -> Given:
    from .findings import load_limits, parse_limits
    from .intake import columns_as_before, load_column_map

    column_map = None if options.columns is None else load_column_map(options.columns)
    plant = None if options.limits is None else load_limits(options.limits)
    if options.like is None:
        return Given(column_map, options.sheet, plant, options.on)
    before = read_checked(options.like)
    name = options.like.name
    if column_map is None:
        column_map = columns_as_before(before["column_map"], name, before["columns"])
    if plant is None and before["limits_text"]:
        plant = parse_limits(before["limits_text"], before["limits_file"])
    return Given(column_map, options.sheet or before["sheet"], plant, options.on, before)


def _one(job: Job, options: Options, given: Given) -> Done:
    from .findings import check_register
    from .intake import read_register, restore_reasons

    done = Done(job)
    try:
        register = read_register(job.source, column_map=given.column_map, sheet=given.sheet)
        on = given.on
        before = given.before
        if before is not None and before["source"]["sha256"] == register.source.sha256:
            # The very file again: a deviation that held then holds now, or the run is another.
            on = on or (date.fromisoformat(before["date"]) if before["date"] else None)
            if options.columns is None:
                restore_reasons(register, before["columns"])
        done.findings = check_register(register, given.plant, on=on)
        if job.target is not None:
            from .report import write_report

            job.target.parent.mkdir(parents=True, exist_ok=True)
            done.notes = write_report(
                done.findings.register,
                done.findings,
                job.target,
                report_only=options.report_only or job.source.suffix.lower() not in _CARRIED,
                overwrite=options.overwrite,
            )
    except SheetcheckError as error:
        done.error, done.findings = error, None
    return done
