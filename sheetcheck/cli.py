"""The command line: parse, call, print."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Annotated

import typer

from . import __version__
from .errors import SheetcheckError, UnusableCall, fault, on_one_line
from .files import make_folder

if TYPE_CHECKING:
    from .run import Done, Job

__all__ = ["app"]

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="Checks a plant's belt-conveyor register and hands back a workbook. A desk screening of "
    "the data given: local codes, the makers and licensed practice govern.",
)


class FailOn(StrEnum):
    """Bands that make ``--fail-on`` end with status 1."""

    falls_short = "falls-short"
    not_judged = "not-judged"


class TableFormat(StrEnum):
    """Forms in which columns are listed."""

    table = "table"
    json = "json"


class RulesFormat(StrEnum):
    """Forms in which the checks are listed."""

    table = "table"
    md = "md"
    csv = "csv"
    json = "json"


class Units(StrEnum):
    """Unit systems of an empty register."""

    metric = "metric"
    us = "us"


_Columns = Annotated[
    Path | None, typer.Option("--columns", metavar="FILE.toml", help="Column map to use.")
]
_Sheet = Annotated[str | None, typer.Option("--sheet", metavar="NAME", help="Only this sheet.")]
_Limits = Annotated[
    Path | None,
    typer.Option(
        "--limits", metavar="FILE.toml", help="Plant limits and accepted deviations to use."
    ),
]
_Overwrite = Annotated[bool, typer.Option("--overwrite", help="Replace outputs that exist.")]


@contextmanager
def _reported() -> Iterator[None]:
    """Turn an error raised on purpose into one line and its exit status."""
    try:
        yield
    except SheetcheckError as error:
        typer.echo(f"sheetcheck: {error}", err=True)
        raise typer.Exit(error.exit_status) from None
    except KeyboardInterrupt:
        typer.echo("sheetcheck: stopped; finished outputs are whole", err=True)
        raise typer.Exit(130) from None
    except (typer.Exit, typer.Abort, typer.BadParameter):
        raise
    except Exception as error:
        typer.echo(f"sheetcheck: {fault(' '.join(sys.argv[1:2]), error)}", err=True)
        raise typer.Exit(fault("", error).exit_status) from None


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"sheetcheck {__version__}")
        raise typer.Exit


@app.callback()
def _start(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version."),
    ] = False,
) -> None:
    pass


@app.command()
def check(
    paths: Annotated[list[Path], typer.Argument(metavar="PATH...", help="Workbooks or folders.")],
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Folder for the outputs.")
    ] = None,
    columns: _Columns = None,
    limits: _Limits = None,
    like: Annotated[
        Path | None,
        typer.Option(
            "--like",
            metavar="CHECKED.xlsx",
            help="Take column map, sheet and limits from this earlier result.",
        ),
    ] = None,
    date: Annotated[
        datetime | None,
        typer.Option(
            "--date",
            formats=["%Y-%m-%d"],
            metavar="YYYY-MM-DD",
            help="Day against which accepted deviations are held; today, or with --like and the "
            "same source the day of that run.",
        ),
    ] = None,
    sheet: _Sheet = None,
    json: Annotated[
        str | None,
        typer.Option("--json", metavar="FILE", help="Also write JSON; - for standard output."),
    ] = None,
    csv: Annotated[
        Path | None, typer.Option("--csv", metavar="FILE", help="Also write one line a verdict.")
    ] = None,
    report_only: Annotated[
        bool, typer.Option("--report-only", help="Results without the source's own sheets.")
    ] = False,
    no_workbook: Annotated[
        bool, typer.Option("--no-workbook", help="Write no workbook, only --json or --csv.")
    ] = False,
    fail_on: Annotated[
        FailOn | None, typer.Option("--fail-on", help="End with status 1 if this band occurs.")
    ] = None,
    workers: Annotated[
        int | None,
        typer.Option(
            "--workers", min=1, metavar="N", help="Workbooks at a time; one a core if not given."
        ),
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option(
            "--scheduler",
            metavar="ADDRESS",
            help="Let the workers of this Dask scheduler check them; they need the same folders.",
        ),
    ] = None,
    protect: Annotated[
        bool, typer.Option("--protect", help="Guard our sheets against accidental edits.")
    ] = False,
    room: Annotated[
        float,
        typer.Option(
            "--room",
            min=1,
            metavar="N",
            help="Allow a workbook N times the usual size, memory and reading time.",
        ),
    ] = 1.0,
    overwrite: _Overwrite = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="Say nothing but errors.")] = False,
) -> None:
    """Check every conveyor in the given workbooks and write NAME.checked.xlsx for each."""
    from .run import Options, cores, plan, run, site_summary, summarise

    with _reported():
        options = Options(
            out=out,
            columns=columns,
            sheet=sheet,
            report_only=report_only,
            workbook=not no_workbook,
            overwrite=overwrite,
            protect=protect,
            room=room,
            limits=limits,
            like=like,
            on=None if date is None else date.date(),
        )
        to_stdout = json == "-"
        json_file = None if json is None or to_stdout else Path(json)
        extra = [path for path in (json_file, csv) if path is not None]
        jobs = plan(paths, options, extra)
        summary = site_summary(jobs, options)
        with _pieces(jobs, json_file or csv, out, bool(json), bool(csv), scheduler) as jobs:
            done: list[Done] = []
            running = run(
                jobs, options, _progress(quiet), workers=workers or cores(), scheduler=scheduler
            )
            with closing(running):
                for item in running:
                    done.append(item)
                    _tell(item, quiet or to_stdout)
            if not (quiet or to_stdout):
                _tell_unknown(done)
            _write_extra(done, json_file, csv, to_stdout, overwrite)
        if summary is not None:
            summarise(done, summary, overwrite=overwrite)
            if not (quiet or to_stdout):
                typer.echo(f"written: {summary}")
        raise typer.Exit(_status(done, fail_on))


@contextmanager
def _pieces(
    jobs: list[Job],
    beside: Path | None,
    out: Path | None,
    json: bool,
    csv: bool,
    scheduler: str | None,
) -> Iterator[list[Job]]:
    """Give each job files of its own for JSON and CSV, in a folder that goes afterwards."""
    if not (json or csv):
        yield jobs
        return
    # The workers of a cluster see the folders of the outputs, not this machine's temporary ones.
    folder = beside.parent if beside is not None else (out or Path()) if scheduler else None
    try:
        if folder is not None:
            make_folder(folder)
        held = TemporaryDirectory(prefix=".sheetcheck-", dir=folder, ignore_cleanup_errors=True)
    except OSError as error:
        reason = error.strerror or error
        raise UnusableCall(
            str(beside or folder), f"cannot be written ({reason})", "Choose another folder."
        ) from None
    with held as name:
        yield [
            replace(
                job,
                json=Path(name, f"{number}.json") if json else None,
                csv=Path(name, f"{number}.csv") if csv else None,
            )
            for number, job in enumerate(jobs)
        ]


def _progress(quiet: bool):  # type: ignore[no-untyped-def]
    """Progress on standard error, only where somebody watches."""
    if quiet or not sys.stderr.isatty():
        return lambda done, total, name: None

    def show(done: int, total: int, name: str) -> None:
        sys.stderr.write(f"\r\033[K{done}/{total} {name}" if name else "\r\033[K")
        sys.stderr.flush()

    return show


def _tell(done: Done, quiet: bool) -> None:
    if done.error is not None:
        typer.echo(f"sheetcheck: {done.error}", err=True)
        return
    if quiet or done.digest is None:
        return
    typer.echo(on_one_line(f"{done.job.source}: {done.digest.line}"))
    if done.job.target is not None:
        typer.echo(on_one_line(f"  written: {done.job.target}"))
    for note in done.notes:
        typer.echo(on_one_line(f"  note: {note}"))


def _tell_unknown(done: list[Done]) -> None:
    """Name tags with an accepted deviation that none of the workbooks has."""
    digests = [item.digest for item in done if item.digest is not None]
    if digests:
        for tag in dict.fromkeys(digests[0].unknown_tags):
            if all(tag in digest.unknown_tags for digest in digests):
                typer.echo(f"note: a deviation is accepted for {tag}, which no workbook has")


def _write_extra(
    done: list[Done], json_file: Path | None, csv: Path | None, to_stdout: bool, overwrite: bool
) -> None:
    whole = [item.job for item in done if item.error is None]
    several = len(done) > 1
    if not whole or (json_file is None and csv is None and not to_stdout):
        return
    from .files import replacing
    from .report.json_out import join_csv, join_json

    json_parts = [job.json for job in whole if job.json is not None]
    if to_stdout:
        join_json(json_parts, typer.get_binary_stream("stdout"), several=several)
    if json_file is not None:
        with replacing(json_file, overwrite=overwrite) as file:
            join_json(json_parts, file, several=several)
    if csv is not None:
        with replacing(csv, overwrite=overwrite) as file:
            join_csv([job.csv for job in whole if job.csv is not None], file)


def _status(done: list[Done], fail_on: FailOn | None) -> int:
    failed = [item for item in done if item.error is not None]
    if failed:
        return 3 if len(done) > 1 else failed[0].error.exit_status  # type: ignore[union-attr]
    if fail_on is not None:
        band = fail_on.value.replace("-", " ")
        if any(item.digest.totals[band] for item in done if item.digest is not None):
            return 1
    return 0


@app.command()
def columns(
    workbook: Annotated[Path, typer.Argument(metavar="WORKBOOK")],
    save: Annotated[
        Path | None, typer.Option("--save", metavar="FILE.toml", help="Save as a column map.")
    ] = None,
    columns: _Columns = None,
    sheet: _Sheet = None,
    format: Annotated[TableFormat, typer.Option("--format", help="table or json.")] = (
        TableFormat.table
    ),
    overwrite: _Overwrite = False,
) -> None:
    """Show how a workbook's columns are understood, with units, confidence and reasons."""
    from .intake import describe_columns, load_column_map, save_column_map
    from .report.columns_out import columns_json, columns_table

    with _reported():
        column_map = None if columns is None else load_column_map(columns)
        found = describe_columns(workbook, column_map=column_map, sheet=sheet)
        if save is not None:
            save_column_map(save, found.columns, workbook.name, overwrite=overwrite)
        show = columns_json if format is TableFormat.json else columns_table
        typer.echo(show(found))


@app.command()
def rules(
    key: Annotated[str | None, typer.Argument(metavar="[KEY]", help="One check, in full.")] = None,
    format: Annotated[RulesFormat, typer.Option("--format", help="Form of the list.")] = (
        RulesFormat.table
    ),
    limits: _Limits = None,
    save: Annotated[
        Path | None,
        typer.Option("--save", metavar="FILE.toml", help="Save as a limits file to edit."),
    ] = None,
    overwrite: _Overwrite = False,
) -> None:
    """List every check with its limits, source and grade, or explain one."""
    from .report.rules import explain, listing

    with _reported():
        plant = None
        if limits is not None:
            from .findings import load_limits

            plant = load_limits(limits)
        if save is not None:
            from .report.json_out import save as save_text
            from .report.limits_file import limits_file

            save_text(save, lambda handle: print(limits_file(), file=handle), overwrite=overwrite)
            typer.echo(f"written: {save}")
            return
        typer.echo(listing(format.value, plant) if key is None else explain(key, plant))


@app.command()
def blank(
    file: Annotated[Path, typer.Argument(metavar="FILE.xlsx")],
    units: Annotated[Units, typer.Option("--units", help="metric or us.")] = Units.metric,
    missing_from: Annotated[
        Path | None,
        typer.Option(
            "--missing-from",
            metavar="REGISTER",
            help="A form for the walk-down instead: only what this register lacks.",
        ),
    ] = None,
    columns: _Columns = None,
    sheet: _Sheet = None,
    overwrite: _Overwrite = False,
) -> None:
    """Write an empty register, or a survey form of what a given register lacks."""
    with _reported():
        if missing_from is None:
            from .report.blank import write_blank

            write_blank(file, units.value, overwrite=overwrite)
        else:
            from .findings import evaluate
            from .intake import load_column_map, read_register
            from .report.survey import write_survey

            column_map = None if columns is None else load_column_map(columns)
            register = read_register(missing_from, column_map=column_map, sheet=sheet)
            write_survey(evaluate(register, flips=False), file, overwrite=overwrite)
        typer.echo(f"written: {file}")


@app.command()
def compare(
    old: Annotated[Path, typer.Argument(metavar="OLD", help="Earlier result.")],
    new: Annotated[Path, typer.Argument(metavar="NEW", help="Later result.")],
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Folder for the workbook.")
    ] = None,
    json: Annotated[
        str | None,
        typer.Option("--json", metavar="FILE", help="Also write JSON; - for standard output."),
    ] = None,
    no_workbook: Annotated[
        bool, typer.Option("--no-workbook", help="Write no workbook, only --json.")
    ] = False,
    overwrite: _Overwrite = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="Say nothing but errors.")] = False,
) -> None:
    """Compare two results of a site and write NAME.compared.xlsx.

    A result is a checked workbook or a --json file. Tells what got better, worse, appeared and
    went, and which inputs, limits or version did it.
    """
    from .earlier import compare_results, compared_path
    from .report.compare_out import write_comparison

    with _reported():
        target = None if no_workbook else compared_path(new, out)
        json_file = None if json is None or json == "-" else Path(json)
        found = compare_results(old, new, target, json_file, overwrite=overwrite)
        if json == "-":
            write_comparison(found, sys.stdout, __version__)
        elif not quiet:
            typer.echo(found.one_line())
            if target is not None:
                typer.echo(f"  written: {target}")
