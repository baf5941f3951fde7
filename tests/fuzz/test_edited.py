"""Results that somebody edited: every key left out, of another type, of another size.

Each edit is read, or refused by one line that names the key. What is held here is this project's
own public contract; no outside source says how it must be.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from sheetcheck import __version__
from sheetcheck.errors import SheetcheckError
from sheetcheck.findings import parse_limits
from sheetcheck.findings.compare import compare
from sheetcheck.intake import columns_as_before, read_register, record_lines, restore_reasons
from sheetcheck.report.compare_out import comparison_json
from sheetcheck.report.result_form import parse_results, read_record
from sheetcheck.run import Job, Options, do

from .harnesses import books

__all__ = ["PLANT", "edits", "held", "run_again"]

DECIDED = 'set_by = "s"\nwhy = "w"\ndate = 2026-01-31\n'
PLANT = f"""\
[plant]
jurisdiction = "nowhere"
currency = "EUR"
labour_rate = 50
operating_hours = 6000
[limits.load-width.share]
value = "60 %"
{DECIDED}[ranges.carry_idler_spacing]
low = "0.9 m"
high = "1.2 m"
{DECIDED}[tolerances]
length = {{absolute = "10 mm"}}
[weights]
access-guard = 3
[[accepted]]
tag = "CV-1"
check = "access-guard"
reason = "r"
by = "b"
until = 2030-01-01
"""
OTHERS = (None, True, -1, 0.5, 1e300, 10**400, "", "x", "x" * 50_000, [], [1], [[]], {}, {"a": 1})


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return make(tmp_path_factory.mktemp("made"))


def make(folder: Path) -> tuple[Path, dict[str, Any], list[list[str]]]:
    """A register, its result as JSON with every decision of a plant, and its record's lines."""
    source, target, whole = folder / "r.xlsx", folder / "out.xlsx", folder / "r.json"
    source.write_bytes(books()[".xlsx"])
    (folder / "plant.toml").write_text(PLANT, encoding="utf-8")
    done = do(Job(source, target, json=whole), Options(limits=folder / "plant.toml"))
    assert done.error is None, done.error
    lines = [[str(cell) for cell in line if cell != ""] for line in record_lines(target)]
    result = json.loads(whole.read_bytes())
    row = result["rows"][0]
    row["checks"] = {key: row["checks"][key] for key in ("load-width", "access-guard")}
    return source, result | {"rows": [row], "columns": result["columns"][:2]}, lines


def edits(tree: Any, steps: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    """Every edit of a tree; of a list its first item, of checks and values the first two."""
    for other in OTHERS:
        yield steps, other
    if not isinstance(tree, dict | list):
        return
    few = steps and steps[-1] in ("checks", "values")
    keys = list(tree)[: 2 if few else None] if isinstance(tree, dict) else range(len(tree))[:1]
    for key in keys:
        for path, part in edits(tree[key], (*steps, key)):
            copy = tree.copy()
            copy[key] = part
            yield path, copy
        copy = tree.copy()
        del copy[key]
        yield (*steps, key), copy


def held(call: Any, steps: tuple[Any, ...]) -> bool:
    """Whether an edit is taken; where it is not, one line names where it is."""
    try:
        call()
    except SheetcheckError as error:
        line = str(error)
        assert line.isprintable()
        assert len(line) < 1_000
        keys = [step for step in steps if isinstance(step, str)]
        # A verdict's own name is the register's, so the message has [...] for it.
        assert not keys or "[...]" in line or any(f"{key}" in line for key in keys[-2:]), line
        return False
    return True


def compared(one: bytes, other: bytes) -> None:
    results = [parse_results(text, "r.json") for text in (one, other)]
    comparison_json(compare(*results), __version__)
    comparison_json(compare(*results[::-1]), __version__)


def test_every_edit_of_a_result_is_read_or_refused(made):
    _, whole, _ = made
    sound = json.dumps(whole).encode()
    taken = [
        held(lambda tree=tree: compared(sound, json.dumps(tree).encode()), steps)
        for steps, tree in edits(whole)
    ]
    assert len(taken) > 1_000
    assert 0 < sum(taken) < len(taken)


def run_again(source: Path, lines: list[list[str]], read: bool) -> None:
    """What ``--like`` takes from a record."""
    before = read_record(lines, "out.xlsx")
    if before["limits_file"] is not None:
        parse_limits(before["limits_text"], before["limits_file"])
    column_map = columns_as_before(before["column_map"], "out.xlsx", before["columns"])
    compare([before], [before])
    if read:
        restore_reasons(read_register(source, column_map=column_map), before["columns"])


@pytest.mark.parametrize("kind", ["run", "column", "row"])
def test_every_edit_of_a_record_is_read_or_refused(made, kind):
    source, _, lines = made
    at = next(number for number, line in enumerate(lines) if line[:1] == [kind])
    if kind == "column":
        at += 1  # the first is the tag's, without a unit
    taken = 0
    for steps, tree in edits(json.loads("".join(lines[at][1:]))):
        text = "" if tree is None else json.dumps(tree)
        edited = [*lines[:at], [kind, text], *lines[at + 1 :]]
        call = partial(run_again, source, edited, kind == "column")
        taken += held(call, (kind, *steps))
    assert taken > 0
