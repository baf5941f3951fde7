"""The main job over one or many workbooks: plan the outputs, then read, check and write each."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Collection, Generator, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, fields, replace
from datetime import date
from functools import lru_cache
from hashlib import file_digest
from pathlib import Path
from time import time_ns
from typing import TYPE_CHECKING, Any, TypeVar

from . import __version__
from .errors import SheetcheckError, UnusableCall, fault, on_one_line
from .files import make_folder, settle

if TYPE_CHECKING:
    from .findings import Plant
    from .findings.digest import Digest
    from .intake import ColumnMap

__all__ = [
    "Done",
    "Job",
    "Options",
    "absolute",
    "cores",
    "do",
    "plan",
    "read_checked",
    "run",
    "site_summary",
    "summarise",
]

READABLE = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods", ".csv")
_CARRIED = (".xlsx", ".xlsm")
_OURS = ".checked"
_SUMMARY = "site_summary"
_CSV_START = b"workbook,tag,load_point,sheet,row,rank,check,band,"


@dataclass(frozen=True, slots=True)
class Options:
    """What the user asked for, beyond the workbooks themselves.

    ``like`` is a checked workbook whose column map, sheet and limits serve where none are given;
    ``on`` the date against which accepted deviations are held; ``room`` raises the limits on what
    a workbook may ask of the machine, so many times. ``asked`` (ns) tells runs apart: a process
    that outlives a run reads the files that options name again for the next.
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
    protect: bool = False
    room: float = 1.0
    asked: int = field(default_factory=time_ns)


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
    """One workbook, and where its checked copy, its JSON and its CSV go (None: nowhere).

    Results that cannot be added to a copy go to `apart` instead of `target`.
    """

    source: Path
    target: Path | None
    apart: Path | None = None
    json: Path | None = None
    csv: Path | None = None


@dataclass(slots=True)
class Done:
    """What became of one job: its findings in counts, or the error that stopped it."""

    job: Job
    digest: Digest | None = None
    notes: list[str] = field(default_factory=list)
    error: SheetcheckError | None = None


_Paths = TypeVar("_Paths", Options, Job)


def absolute(item: _Paths) -> _Paths:
    """Make the same of full paths, for a process that works in another folder."""
    named = ((one.name, getattr(item, one.name)) for one in fields(item))
    full: dict[str, Any] = {name: x.absolute() for name, x in named if isinstance(x, Path)}
    return replace(item, **full)


def _is_ours(path: Path) -> bool:
    if path.stem.endswith((_OURS, ".compared")) or path.stem == _SUMMARY:
        return True
    if path.suffix.lower() != ".csv":
        return False
    # A result as CSV may have any name, so its first line tells.
    try:
        with path.open("rb") as file:
            return file.read(len(_CSV_START)) == _CSV_START
    except OSError:
        return False


def _workbooks_in(folder: Path) -> list[Path]:
    found = []
    for where, folders, names in os.walk(folder):
        # Neither the depths of other programs nor what a dead run has left.
        folders[:] = [name for name in folders if not name.startswith(".")]
        found += [Path(where, name) for name in names if not name.startswith(("~$", "."))]
    return sorted(
        path
        for path in found
        if path.suffix.lower() in READABLE and path.is_file() and not _is_ours(path)
    )


def _target(source: Path, options: Options) -> Path | None:
    if not options.workbook:
        return None
    suffix = source.suffix.lower()
    carried = suffix in _CARRIED and not options.report_only
    stem = source.stem if source.stem.endswith(_OURS) else f"{source.stem}{_OURS}"
    return (options.out or source.parent) / f"{stem}{suffix if carried else '.xlsx'}"


def plan(paths: Sequence[Path], options: Options, others: Sequence[Path] = ()) -> list[Job]:
    """List the jobs before any work is done; `others` are further files that will be written.

    Raises UnusableCall where a folder holds no workbook, two inputs would give one output, or an
    output is a file that is read; OutputExists where one is there and may not be replaced.
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
    summary = site_summary(jobs, options)
    inputs = [*sources, *filter(None, (options.columns, options.limits, options.like))]
    given: dict[str, Path] = {}
    for job in jobs:
        if job.target and given.setdefault(_key(job.target), job.source) != job.source:
            raise UnusableCall(
                str(job.source),
                f"would give the same output as {given[_key(job.target)]} ({job.target})",
                "Check them one at a time with different --out folders.",
            )
    outputs = [*filter(None, (*(job.target for job in jobs), summary)), *others]
    settle(inputs, outputs, overwrite=options.overwrite)
    taken = {_key(path) for path in (*inputs, *outputs)}
    return [replace(job, apart=_apart(job.target, taken)) for job in jobs]


def _apart(target: Path | None, taken: Collection[str]) -> Path | None:
    """Where results go that turn out not to fit into a copy: a name that is no other file's."""
    if target is None or target.suffix == ".xlsx":
        return target
    path = target.with_suffix(".xlsx")
    while _key(path) in taken:
        path = path.with_stem(f"{path.stem} apart")
    return path


def _key(path: Path) -> str:
    return os.path.realpath(path).casefold()


def site_summary(jobs: Sequence[Job], options: Options) -> Path | None:
    """Where the summary over all workbooks goes; None where there is none."""
    if len(jobs) < 2 or options.out is None or not options.workbook:
        return None
    return options.out / f"{_SUMMARY}.xlsx"


def summarise(done: Sequence[Done], path: Path, *, overwrite: bool) -> None:
    """Write the summary over all workbooks; OutputExists or UnusableCall where it cannot be."""
    from .report.site_summary import Checked, write_site_summary

    # No further than needed to tell them apart: the rest of a path names people and machines.
    folder = os.path.commonpath([one.job.source.absolute().parent for one in done])
    checked = []
    for one in done:
        name, error = os.path.relpath(one.job.source, folder), one.error
        if error is not None:
            where = error.where.replace(str(one.job.source), name)
            error = SheetcheckError(where, error.problem, error.what_to_do)
        target = one.job.target.name if one.job.target and one.digest else ""
        checked.append(Checked(on_one_line(name), target, one.digest, error))
    make_folder(path.parent)
    write_site_summary(checked, path, overwrite=overwrite)


def cores() -> int:
    """Processor cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def run(
    jobs: Sequence[Job],
    options: Options,
    progress: Callable[[int, int, str], None],
    *,
    workers: int = 1,
    scheduler: str | None = None,
) -> Generator[Done, None, None]:
    """Do the jobs, in their order; an error in one is its result and never stops the rest.

    `progress` is called with the number done, the number in all, and what is under way. `workers`
    processes are used, this one for one workbook; or the workers of the Dask `scheduler`. Raises
    SheetcheckError where a file that serves all workbooks cannot be used.
    """
    if scheduler is None and min(workers, len(jobs)) == 1:
        from .intake.isolate import stand_by

        # It starts while the libraries load.
        stand_by()
    _given(options)
    if scheduler is not None:
        from .batch import on_cluster

        yield from on_cluster(jobs, options, scheduler, progress)
    elif min(workers, len(jobs)) > 1:
        from .batch import in_processes

        yield from in_processes(jobs, options, min(workers, len(jobs)), progress)
    else:
        for number, job in enumerate(jobs):
            progress(number, len(jobs), job.source.name)
            yield do(job, options)
    progress(len(jobs), len(jobs), "")


def read_checked(path: Path) -> dict[str, Any]:
    """Read what a checked workbook's record holds of its run; UnusableInput where it has none."""
    from .intake import record_lines
    from .report.result_form import read_record

    return read_record(record_lines(path), path.name)


@lru_cache(1)
def _given(options: Options) -> Given:
    from .findings import load_limits, parse_limits
    from .intake import load_column_map

    column_map = None if options.columns is None else load_column_map(options.columns)
    plant = None if options.limits is None else load_limits(options.limits)
    if options.like is None:
        return Given(column_map, options.sheet, plant, options.on)
    before = read_checked(options.like)
    if plant is None and before["limits_file"] is not None:
        plant = parse_limits(before["limits_text"], before["limits_file"])
    return Given(column_map, options.sheet or before["sheet"], plant, options.on, before)


def do(job: Job, options: Options) -> Done:
    """Do one job from reading to writing; whatever stops it is its result.

    With what `plan` gives alone, another process can do it.
    """
    try:
        with _seldom_collected():
            return _do(job, options, _given(options))
    except SheetcheckError as error:
        return Done(job, error=error)
    except Exception as error:
        return Done(job, error=fault(str(job.source), error))


def _hash_of(path: Path) -> str:
    """SHA-256 of a file; "" where it cannot be read, which reading it will say."""
    try:
        with path.open("rb") as file:
            return file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


@contextmanager
def _seldom_collected() -> Iterator[None]:
    """Look for circular garbage seldom.

    A job makes next to none, and looking for it among millions of objects in use takes a tenth
    of the time (tests/benchmarks).
    """
    usual = gc.get_threshold()
    gc.set_threshold(100_000, 50, 50)
    try:
        yield
    finally:
        gc.set_threshold(*usual)


def _do(job: Job, options: Options, given: Given) -> Done:
    from .findings import check_register
    from .findings.digest import digest
    from .intake import Allowance, columns_as_before, read_register, restore_reasons
    from .report import write_report
    from .report.json_out import write_csv, write_json

    on, before, column_map = given.on, given.before, given.column_map
    again = before is not None and before["source"]["sha256"] == _hash_of(job.source)
    if before is not None and options.columns is None:
        # The same version reads the same file alike by itself; any other is told how it was read.
        alike = again and before["tool"]["version"] == __version__
        columns = () if alike else before["columns"]
        column_map = columns_as_before(before["column_map"], str(options.like), columns)
    allowance = Allowance().times(options.room)
    register = read_register(
        job.source, column_map=column_map, sheet=given.sheet, allowance=allowance
    )
    if before is not None and again:
        # A deviation that held then holds now, or the run is another.
        on = on or before["date"]
        if options.columns is None:
            restore_reasons(register, before["columns"])
    findings = check_register(register, given.plant, on=on)
    done = Done(job, digest(findings))
    if job.target is not None:
        make_folder(job.target.parent)
        written, done.notes = write_report(
            findings.register,
            findings,
            job.target,
            apart=job.apart,
            report_only=options.report_only,
            overwrite=options.overwrite,
            protect=options.protect,
        )
        done.job = replace(job, target=written)
    # These lie in a folder of the run's own, and are joined into the files asked for.
    for path, write in ((job.json, write_json), (job.csv, write_csv)):
        if path is not None:
            write(findings, path)
    return done
