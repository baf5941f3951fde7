"""Measures the package against a floor: what reading and writing alone would take.

Run with ``python tests/benchmarks/measure.py``. The floor reads every cell of the same register
with python-calamine and writes as many cells as the report adds, of the same kind, with
xlsxwriter in constant-memory mode. Both run on the same machine, one after the other, each in a
process of its own; the ratio is the figure that counts. Modules are compiled beforehand, as an
installed package has them.
"""

from __future__ import annotations

import argparse
import os
import platform
import resource
import statistics
import sys
import tempfile
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter, process_time

HERE = Path(__file__).parent
PROJECT = HERE.parent.parent
SIZES = (1_000, 20_000, 100_000)
_COMPILED = tempfile.TemporaryDirectory()


@dataclass(frozen=True, slots=True)
class Measured:
    """Seconds by the clock and of the processor; the most memory that one process held, MiB."""

    seconds: float
    cpu: float
    memory: float


def measured(command: Sequence[str]) -> Measured:
    """Run a command to its end."""
    start = perf_counter()
    environment = os.environ | {
        "PYTHONPATH": f"{PROJECT}{os.pathsep}{HERE}",
        "PYTHONDONTWRITEBYTECODE": "",
        "PYTHONPYCACHEPREFIX": _COMPILED.name,
    }
    with open(os.devnull, "wb") as nothing:
        child = os.posix_spawn(
            command[0],
            list(command),
            environment,
            file_actions=[(os.POSIX_SPAWN_DUP2, nothing.fileno(), 1)],
        )
    _, status, usage = os.wait4(child, 0)
    if status:
        raise SystemExit(f"{' '.join(command)} ended with {os.waitstatus_to_exitcode(status)}")
    seconds = perf_counter() - start
    return Measured(seconds, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)


def median(command: Sequence[str], times: int) -> Measured:
    runs = [measured(command) for _ in range(times)]
    return Measured(
        statistics.median(run.seconds for run in runs),
        statistics.median(run.cpu for run in runs),
        max(run.memory for run in runs),
    )


def check(*arguments: object) -> list[str]:
    return [sys.executable, "-m", "sheetcheck", "check", *map(str, arguments)]


def part(name: str, *arguments: object) -> list[str]:
    """Command that runs one function of this file in a process of its own."""
    return [sys.executable, str(HERE / "measure.py"), "--part", name, *map(str, arguments)]


# --- parts, each run in a process of its own --------------------------------------------------


def floor(register: Path, sample: Path, cells: int, target: Path) -> None:
    """Read `register`; write `cells` cells like those of the result sheets in `sample`."""
    import xlsxwriter
    from python_calamine import CalamineWorkbook

    start = perf_counter()
    for name in (book := CalamineWorkbook.from_path(str(register))).sheet_names:
        book.get_sheet_by_name(name).to_python()
    read = perf_counter()
    results = CalamineWorkbook.from_path(str(sample))
    rows = [
        row
        for name in results.sheet_names
        if name.startswith("Check ")
        for row in results.get_sheet_by_name(name).to_python()
    ]
    sampled = perf_counter()
    made = xlsxwriter.Workbook(str(target), {"constant_memory": True})
    style = made.add_format({"border": 1})
    written, number = 0, 1_048_576
    while written < cells:
        if number == 1_048_576:
            sheet, number = made.add_worksheet(), 0
        for column, value in enumerate(rows[number % len(rows)]):
            if isinstance(value, str) and value:
                sheet.write_string(number, column, value, style)
            elif isinstance(value, float):
                sheet.write_number(number, column, value, style)
            else:
                sheet.write_blank(number, column, None, style)
            written += 1
        number += 1
    made.close()
    print(f"  read {read - start:.2f} s, write {perf_counter() - sampled:.2f} s", file=sys.stderr)


def stages(register: Path, target: Path) -> None:
    """Time each stage of one run, and the memory held so far after each."""
    from sheetcheck.findings import evaluate
    from sheetcheck.intake import read_register
    from sheetcheck.report import write_report
    from sheetcheck.report.json_out import write_csv, write_json

    def timed(name: str, work: Callable[[], object]) -> object:
        start, cpu = perf_counter(), process_time()
        result = work()
        spent, cpu = perf_counter() - start, process_time() - cpu
        held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"  {name:<22} {spent:8.2f} {cpu:8.2f} s {held:7.0f} MiB", file=sys.stderr)
        return result

    read = timed("read", lambda: read_register(register))
    timed("judge, no flip points", lambda: evaluate(read, flips=False))
    found = timed("judge", lambda: evaluate(read))
    timed("rank", lambda: found.rank)
    timed("workbook", lambda: write_report(read, found, target, overwrite=True))

    start = perf_counter()
    json, text = target.with_suffix(".json"), target.with_suffix(".csv")
    timed("JSON", lambda: write_json(found, json))
    rate = len(found) * len(found.results) / (perf_counter() - start)
    print(f"  JSON: {rate:,.0f} verdicts a second", file=sys.stderr)
    timed("CSV", lambda: write_csv(found, text))


# --- the table --------------------------------------------------------------------------------


def cells_in(path: Path) -> int:
    """Cells of all sheets of a workbook, by their markup."""
    count = 0
    with zipfile.ZipFile(path) as package:
        for name in package.namelist():
            if not name.startswith("xl/worksheets/sheet"):
                continue
            with package.open(name) as sheet:
                kept = b""
                while piece := sheet.read(1 << 20):
                    # A mark that straddles two pieces is counted with the second.
                    joined = kept + piece
                    count += joined.count(b"<c ")
                    kept = joined[-2:]
    return count


def table(sizes: Sequence[int], folder: Path, times: int) -> None:
    from registers import COLUMNS, write_register

    print(f"Python {platform.python_version()}, {os.cpu_count()} cores, {platform.machine()}")
    version = median([sys.executable, "-m", "sheetcheck", "--version"], 9)
    print(f"--version: {version.seconds:.3f} s")
    small, out = folder / "register_50.xlsx", folder / "out"
    write_register(small, 50)
    measured(check(small, "--out", out, "--overwrite"))
    run = median(check(small, "--out", out, "--overwrite"), 5)
    print(f"50 rows: {run.seconds:.2f} s ({run.cpu:.2f} s processor), {run.memory:.0f} MiB")
    sample = folder / "register_1000.xlsx"
    write_register(sample, 1_000)
    measured(check(sample, "--out", out, "--overwrite"))
    sample = out / "register_1000.checked.xlsx"
    print("\nSeconds by the clock and of the processor, and each as a share of the floor's;")
    print(f"registers of {len(COLUMNS) + 1} columns.\n")
    print(f"{'rows':>8} {'what':<10} {'clock':>8} {'processor':>9} {'MiB':>6} {'of floor':>12}")
    for rows in sizes:
        register = folder / f"register_{rows}.xlsx"
        if not register.exists():
            write_register(register, rows)
        checked = out / f"register_{rows}.checked.xlsx"
        full = median(check(register, "--out", out, "--overwrite"), times)
        cells = cells_in(checked) - cells_in(register)
        base = median(part("floor", register, sample, cells, folder / "floor.xlsx"), times)
        json = folder / "register.json"
        only = median(check(register, "--no-workbook", "--json", json, "--overwrite"), times)
        for name, one in (("floor", base), ("report", full), ("JSON only", only)):
            print(
                f"{rows:>8} {name:<10} {one.seconds:8.2f} {one.cpu:9.2f} {one.memory:6.0f} "
                f"{one.seconds / base.seconds:6.2f}{one.cpu / base.cpu:6.2f}"
            )
        print(f"{'':>8} {cells:,} result cells; JSON {json.stat().st_size / 2**20:,.0f} MiB")
        measured(part("stages", register, folder / "stages.xlsx"))


def batch(count: int, folder: Path, times: int) -> None:
    """Workbooks of 50 rows, one at a time and side by side."""
    from registers import write_register

    sources = folder / f"batch_{count}"
    if not sources.exists():
        sources.mkdir()
        for number in range(count):
            write_register(sources / f"register_{number:04d}.xlsx", 50, seed=number)
    rates = {}
    for workers in (1, os.cpu_count() or 1):
        out = "--out", folder / "batch_out", "--json", folder / "batch.json", "--overwrite"
        run = median(check(sources, *out, "--workers", workers), times)
        rates[workers] = count / run.seconds
        print(f"{count} workbooks, {workers} at a time: {rates[workers]:.2f} a second")
    print(f"side by side {max(rates.values()) / rates[1]:.2f} times as fast")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, nargs="*", default=SIZES)
    parser.add_argument("--times", type=int, default=3, help="runs of each, of which the median")
    parser.add_argument("--workbooks", type=int, help="measure a batch of so many instead")
    parser.add_argument("--folder", type=Path, help="where to work; a temporary one if not given")
    parser.add_argument("--part", nargs="+", help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.part:
        name, *rest = given.part
        if name == "floor":
            floor(Path(rest[0]), Path(rest[1]), int(rest[2]), Path(rest[3]))
        else:
            stages(Path(rest[0]), Path(rest[1]))
        return
    with tempfile.TemporaryDirectory() as temporary:
        folder = given.folder or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        if given.workbooks:
            batch(given.workbooks, folder, given.times)
        else:
            table(given.rows, folder, given.times)


if __name__ == "__main__":
    main()
