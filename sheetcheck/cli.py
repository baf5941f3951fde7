"""The command line: parse, call, print."""

from __future__ import annotations

import codecs
import os
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import replace
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, BinaryIO

import typer

from . import __version__
from .errors import SheetcheckError, UnusableCall, fault, on_one_line
from .files import is_stream, make_folder, scratch, settle

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


FailOn = StrEnum("FailOn", ["falls-short", "not-judged"])
TableFormat = StrEnum("TableFormat", ["table", "json"])
RulesFormat = StrEnum("RulesFormat", ["table", "md", "csv", "json"])
Units = StrEnum("Units", ["metric", "us"])


def _option(name: str, metavar: str, help: str, **more: Any) -> Any:
    return typer.Option(name, metavar=metavar, help=help, **more)


_Columns = Annotated[Path | None, _option("--columns", "FILE.toml", "Column map to use.")]
_Sheet = Annotated[str | None, _option("--sheet", "NAME", "Only this sheet.")]
_Limits = Annotated[
    Path | None,
    _option("--limits", "FILE.toml", "Plant limits and accepted deviations to use."),
]
_MOST_ROOM = 1000
_Json = Annotated[
    str | None,
    _option("--json", "FILE", "Also write JSON; - for standard output."),
]
_Out = Annotated[Path | None, _option("--out", "DIR", "Folder for the outputs.")]
_Quiet = Annotated[bool, typer.Option("--quiet", help="Say nothing but errors.")]
_Overwrite = Annotated[bool, typer.Option("--overwrite", help="Replace outputs that exist.")]


_PLAIN = {"≥": ">=", "≤": "<=", "→": "->", "−": "-", "◆": "*", "½": "1/2", "′": "'", "″": '"'}


def _plainly(error: UnicodeError) -> tuple[str, int]:
    """Write otherwise what the encoding of a terminal or a file does not hold."""
    assert isinstance(error, UnicodeEncodeError)
    lost = error.object[error.start : error.end]
    return "".join(_PLAIN.get(sign, "?") for sign in lost), error.end


codecs.register_error("plainly", _plainly)

_lost: list[str] = []


@contextmanager
def _standard_output() -> Iterator[BinaryIO]:
    """Standard output for bytes, which nobody needs to read to the end.

    Where it cannot be written, what is left to do is done, and `_reported` tells of it.
    """
    if sys.stdout is None:
        _lose("it is closed")
    try:
        stream = typer.get_binary_stream("stdout")
        yield stream
        stream.flush()
    except OSError as error:
        _lose("" if isinstance(error, BrokenPipeError) else error.strerror or str(error))


def _lose(why: str) -> None:
    """Write to nowhere from here on; what is still held back would fail again at the end."""
    _lost.append(why)
    nowhere = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    with suppress(AttributeError, OSError, ValueError):
        os.dup2(nowhere.fileno(), sys.stdout.fileno())
    sys.stdout = nowhere


def _say(text: str, *, exact: bool = False) -> None:
    """Write a line to standard output, in its encoding; in UTF-8 where it is for a program."""
    if sys.stdout is not None or exact:
        with _standard_output() as stream:
            coding = "utf-8" if exact else sys.stdout.encoding
            stream.write(f"{text}\n".encode(coding, "plainly"))


def _tell(text: object, start: str = "sheetcheck: ") -> None:
    """Write a line to standard error."""
    with suppress(OSError):
        typer.echo(on_one_line(f"{start}{text}"), err=True)


@contextmanager
def _reported() -> Iterator[None]:
    """Turn an error raised on purpose into one line and its exit status."""
    _lost.clear()
    if hasattr(sys.stderr, "reconfigure"):
        sys.stderr.reconfigure(errors="plainly")
    status = 0
    try:
        yield
    except typer.Exit as end:
        status = end.exit_code
    except SheetcheckError as error:
        _tell(error)
        status = error.exit_status
    except (typer.Abort, typer.BadParameter):
        raise
    except Exception as error:
        found = fault(" ".join(sys.argv[1:2]), error)
        _tell(found)
        status = found.exit_status
    if any(_lost):
        _tell(f"standard output: cannot be written ({_lost[0]}). Write to a file, or make room.")
        status = max(status, 2)
    raise typer.Exit(status)


def _show_version(wanted: bool) -> None:
    if wanted:
        _say(f"sheetcheck {__version__}")
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
    out: _Out = None,
    columns: _Columns = None,
    limits: _Limits = None,
    like: Annotated[
        Path | None,
        _option(
            "--like", "CHECKED.xlsx", "Take column map, sheet and limits from this earlier result."
        ),
    ] = None,
    date: Annotated[
        datetime | None,
        _option(
            "--date",
            "YYYY-MM-DD",
            "Day against which accepted deviations are held; today, or with --like and the "
            "same source the day of that run.",
            formats=["%Y-%m-%d"],
        ),
    ] = None,
    sheet: _Sheet = None,
    json: _Json = None,
    csv: Annotated[
        str | None,
        _option("--csv", "FILE", "Also write one line a verdict; - for standard output."),
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
        _option("--workers", "N", "Workbooks at a time; one a core if not given.", min=1),
    ] = None,
    scheduler: Annotated[
        str | None,
        _option(
            "--scheduler",
            "ADDRESS",
            "Let the workers of this Dask scheduler check them; they need the same folders.",
        ),
    ] = None,
    protect: Annotated[
        bool, typer.Option("--protect", help="Guard our sheets against accidental edits.")
    ] = False,
    room: Annotated[
        float,
        _option(
            "--room", "N", "Allow a workbook N times the usual size, memory and reading time."
        ),
    ] = 1.0,
    overwrite: _Overwrite = False,
    quiet: _Quiet = False,
) -> None:
    """Check every conveyor in the given workbooks and write NAME.checked.xlsx for each."""
    with _reported():
        from .run import Options, cores, plan, run, site_summary, summarise

        if not 1 <= room <= _MOST_ROOM:
            raise UnusableCall("--room", f"cannot be {room:g}", f"Give 1 to {_MOST_ROOM:,}.")
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
        if json == csv == "-":
            raise UnusableCall("--json - and --csv -", "cannot both be", "Name a file for one.")
        extra = {"json": json, "csv": csv}
        files = {kind: Path(name) for kind, name in extra.items() if name and name != "-"}
        silent = quiet or "-" in extra.values()
        jobs = plan(paths, options, list(files.values()))
        summary = site_summary(jobs, options)
        beside = next((path for path in files.values() if not is_stream(path)), None)
        with _pieces(jobs, beside, out, bool(json), bool(csv), scheduler) as jobs:
            done: list[Done] = []
            running = run(
                jobs, options, _progress(quiet), workers=workers or cores(), scheduler=scheduler
            )
            with closing(running):
                for item in running:
                    done.append(item)
                    _tell_done(item, silent, quiet)
            if not quiet:
                _tell_unknown(done)
            for kind, name in extra.items():
                if name:
                    _join(kind, files.get(kind), done, overwrite)
        if summary is not None:
            summarise(done, summary, overwrite=overwrite)
            if not silent:
                _say(on_one_line(f"written: {summary}"))
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
    if folder is not None:
        make_folder(folder)
    with scratch(folder) as place:
        yield [
            replace(
                job,
                json=place / f"{number}.json" if json else None,
                csv=place / f"{number}.csv" if csv else None,
            )
            for number, job in enumerate(jobs)
        ]


def _progress(quiet: bool):  # type: ignore[no-untyped-def]
    """Progress on standard error, only where somebody watches."""
    if quiet or sys.stderr is None or not sys.stderr.isatty():
        return lambda done, total, name: None

    def show(done: int, total: int, name: str) -> None:
        sys.stderr.write(f"\r\033[K{done}/{total} {name}" if name else "\r\033[K")
        sys.stderr.flush()

    return show


def _tell_done(done: Done, silent: bool, quiet: bool) -> None:
    if done.error is not None:
        _tell(done.error)
        return
    if done.digest is not None and not silent:
        _say(on_one_line(f"{done.job.source}: {done.digest.line}"))
        if done.job.target is not None:
            _say(on_one_line(f"  written: {done.job.target}"))
    for note in () if quiet else done.notes:
        _tell(note, "note: ")


def _tell_unknown(done: list[Done]) -> None:
    """Name tags with an accepted deviation that none of the workbooks has."""
    digests = [item.digest for item in done if item.digest is not None]
    if digests:
        for tag in dict.fromkeys(digests[0].unknown_tags):
            if all(tag in digest.unknown_tags for digest in digests):
                _tell(f"a deviation is accepted for {tag}, which no workbook has", "note: ")


def _join(kind: str, path: Path | None, done: list[Done], overwrite: bool) -> None:
    """Join what the jobs wrote of one kind, into a file or to standard output (None)."""
    whole = [getattr(item.job, kind) for item in done if item.error is None]
    if whole:
        from .files import replacing
        from .report.json_out import join_csv, join_json

        with _standard_output() if path is None else replacing(path, overwrite=overwrite) as file:
            if kind == "json":
                join_json(whole, file, several=len(done) > 1)
            else:
                join_csv(whole, file)


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
    save: Annotated[Path | None, _option("--save", "FILE.toml", "Save as a column map.")] = None,
    columns: _Columns = None,
    sheet: _Sheet = None,
    format: Annotated[TableFormat, typer.Option("--format", help="table or json.")] = (
        TableFormat.table
    ),
    overwrite: _Overwrite = False,
) -> None:
    """Show how a workbook's columns are understood, with units, confidence and reasons."""
    with _reported():
        from .intake import describe_columns, load_column_map, save_column_map
        from .report.columns_out import columns_json, columns_table

        _settle([workbook, columns], [save], overwrite)
        column_map = None if columns is None else load_column_map(columns)
        found = describe_columns(workbook, column_map=column_map, sheet=sheet)
        if save is not None:
            save_column_map(save, found.columns, workbook.name, overwrite=overwrite)
        if format is TableFormat.json:
            _say(columns_json(found), exact=True)
        else:
            _say(columns_table(found))


def _settle(inputs: list[Path | None], outputs: list[Path | None], overwrite: bool) -> None:
    settle(filter(None, inputs), filter(None, outputs), overwrite=overwrite)


@app.command()
def rules(
    key: Annotated[str | None, typer.Argument(metavar="[KEY]", help="One check, in full.")] = None,
    format: Annotated[RulesFormat, typer.Option("--format", help="Form of the list.")] = (
        RulesFormat.table
    ),
    limits: _Limits = None,
    save: Annotated[
        Path | None,
        _option("--save", "FILE.toml", "Save as a limits file to edit."),
    ] = None,
    overwrite: _Overwrite = False,
) -> None:
    """List every check with its limits, source and grade, or explain one."""
    with _reported():
        from .report.rules import explain, listing

        _settle([limits], [save], overwrite)
        plant = None
        if limits is not None:
            from .findings import load_limits

            plant = load_limits(limits)
        if save is not None:
            from .files import replacing
            from .report.limits_file import limits_file

            with replacing(save, overwrite=overwrite) as file:
                file.write(f"{limits_file()}\n".encode())
            _say(on_one_line(f"written: {save}"))
        elif key is not None:
            _say(explain(key, plant))
        else:
            _say(listing(format.value, plant), exact=format is not RulesFormat.table)


@app.command()
def blank(
    file: Annotated[Path, typer.Argument(metavar="FILE.xlsx")],
    units: Annotated[Units, typer.Option("--units", help="metric or us.")] = Units.metric,
    missing_from: Annotated[
        Path | None,
        _option(
            "--missing-from",
            "REGISTER",
            "A form for the walk-down instead: only what this register lacks.",
        ),
    ] = None,
    columns: _Columns = None,
    sheet: _Sheet = None,
    overwrite: _Overwrite = False,
) -> None:
    """Write an empty register, or a survey form of what a given register lacks."""
    with _reported():
        _settle([missing_from, columns], [file], overwrite)
        if missing_from is None:
            from .report.blank import write_blank

            write_blank(file, "us" if units is Units.us else "metric", overwrite=overwrite)
        else:
            from .findings import evaluate
            from .intake import load_column_map, read_register
            from .report.survey import write_survey

            column_map = None if columns is None else load_column_map(columns)
            register = read_register(missing_from, column_map=column_map, sheet=sheet)
            write_survey(evaluate(register, flips=False), file, overwrite=overwrite)
        _say(on_one_line(f"written: {file}"))


@app.command()
def compare(
    old: Annotated[Path, typer.Argument(metavar="OLD", help="Earlier result.")],
    new: Annotated[Path, typer.Argument(metavar="NEW", help="Later result.")],
    out: _Out = None,
    json: _Json = None,
    no_workbook: Annotated[
        bool, typer.Option("--no-workbook", help="Write no workbook, only --json.")
    ] = False,
    overwrite: _Overwrite = False,
    quiet: _Quiet = False,
) -> None:
    """Compare two results of a site and write NAME.compared.xlsx.

    A result is a checked workbook or a --json file. Tells what got better, worse, appeared and
    went, and which inputs, limits or version did it.
    """
    with _reported():
        from .earlier import compare_results, compared_path
        from .report.compare_out import comparison_json

        target = None if no_workbook else compared_path(new, out)
        json_file = None if json is None or json == "-" else Path(json)
        _settle([old, new], [target, json_file], overwrite)
        found = compare_results(old, new, target, json_file, overwrite=overwrite)
        if json == "-":
            _say(comparison_json(found, __version__), exact=True)
        elif not quiet:
            _say(found.one_line())
            if target is not None:
                _say(on_one_line(f"  written: {target}"))
