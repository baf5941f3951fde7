"""What is tried with input that nobody thought of: how it is made, and what must hold for any.

`test_fuzz.py` tries some of each with a fixed seed; ``python tests/fuzz/longer.py`` tries many.
"""

from __future__ import annotations

import io
import json
import math
import struct
import tempfile
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import xlsxwriter
from hypothesis import strategies as st

from sheetcheck.earlier import read_result
from sheetcheck.errors import SheetcheckError
from sheetcheck.findings.compare import compare
from sheetcheck.findings.limits import parse_limits
from sheetcheck.intake import columns_as_before, read_register, record_lines
from sheetcheck.intake.columns import parse_column_map
from sheetcheck.intake.headers import match_header, split_unit, word_list
from sheetcheck.intake.quantities import parse_number, parse_quantity, parse_unit
from sheetcheck.intake.words import is_placeholder, read_choice, read_yes
from sheetcheck.register.fields import FIELDS
from sheetcheck.report.result_form import read_record
from sheetcheck.report.run_record import TITLE
from sheetcheck.run import Job, Options, do
from sheetcheck.units import UNITS

__all__ = ["HARNESSES", "PIECES", "Harness", "books", "parse_cell"]

PIECES = [
    "0", "1", "9", "12", "900", "1,200", "1.5", "1.200,5", ".", ",", "-", "–", "+", "~", "<", ">",
    "≥", "±", "/", "½", " 1/2", "'", '"', "''", "′", "″", " ", "\t", "\n", "\xa0", "(", ")", "[",
    "]", "mm", "m", "in", "ft", "m/s", "fpm", "kN/m", "piw", "%", "°", "t/h", "TPH", "tons", "e9",
    "E400", "x", "X", "×", "to", "bis", "or", "ca.", "approx", "max", "min", "abt", "nom", "yes",
    "no", "not fitted", "TBC", "see drawing", "n/a", "EP 800/4", "ST 2500", "urethane", "dual lip",
    "half", "full trough", "2 off", "=", "#REF!", "٣", "²", "Ⅷ", "\u202e", "\u0301", "\x00", "😀",
]  # fmt: skip
HEADINGS = [
    "Tag", "Conveyor No", "Belt", "Width", "(mm)", "[m/s]", "tail", "head", "Transition", "length",
    "chute", "plate", "inside", "%", "rated", "tension", "primary", "cleaner", "blade", "/", "-",
    "speed", "capacity", "t/h", "angle", "°", "idlers", "\n", ":", ".", "nº", "ancho",
]  # fmt: skip


def _joined(pieces: list[str], most: int) -> st.SearchStrategy[str]:
    part = st.one_of(st.sampled_from(pieces), st.text(max_size=4))
    return st.lists(part, max_size=most).map("".join)


# --- cells and headings ------------------------------------------------------------------------


def parse_cell(text: str, unit: str | None = None) -> None:
    """Every way in which a cell's text is read."""
    found = parse_quantity(text, unit)
    if not isinstance(found, str):
        assert not math.isnan(found.low)
        assert found.low <= found.high
        assert found.unit is None or found.unit in UNITS or found.unit == "TPH"
    assert parse_unit(text) in {None, "TPH", *UNITS}
    assert len(text) > 300 or all(math.isfinite(number) for number in parse_number(text))
    is_placeholder(text)
    for name in ("secondary_cleaner", "nip_guards"):
        yes = read_yes(name, text)
        assert yes is None or yes.value in ("yes", "no", "")
    for name in ("belt_carcass", "seal_kind", "tail_pulley_lift"):
        word = read_choice(name, text)
        allowed = FIELDS[name].choices or ("full trough", "one-third", "half")
        assert word is None or word.value in ("", *allowed)


def _cell(given: tuple[str, str | None]) -> None:
    parse_cell(*given)


def _heading(given: tuple[str, str, str, str | None]) -> None:
    header, group, sheet, unit = given
    split_unit(header)
    word_list(header)
    match = match_header(header, group, sheet, unit)
    assert match.field is None or match.field in FIELDS
    assert 0 <= match.confidence <= 1


# --- option files ------------------------------------------------------------------------------

_TOML = [
    "[[column]]\n", "[column]\n", 'sheet = "Conveyors"\n', 'column = "B"\n', 'header = "Width"\n',
    'field = "belt_width"\n', 'field = "tag"\n', 'unit = "mm"\n', 'unit = "kN"\n', "field = 1\n",
    "column = [{sheet = 'a', header = 'b'}]\n", "sheet", "=", '"', "'", "'''", "\n", "#", "{",
    "[plant]\n", 'currency = "EUR"\n', "labour_rate = 50\n", "operating_hours = -1\n",
    "value = 1\n",
    "[limits.load-width.width_fraction]\n", 'value = "0.6 m"\n', 'unit = "1"\n', 'why = "w"\n',
    'set_by = "s"\n', "date = 2026-01-31\n", "date = 2026-01-31T00:00:00Z\n", "[tolerances]\n",
    "[ranges.carry_idler_spacing]\n", 'low = "0.3 m"\n', 'high = "1.2 m"\n', "low = 2\n",
    "[weights]\n", "access-guard = 3\n", "access-guard = 0\n",
    "length = 0.01\n", "[colours]\n", 'meets = "#00ff00"\n', "[[accepted]]\n", 'tag = "CV-1"\n',
    'check = "load-width"\n', "until = 2027-01-01\n", "value = inf\n", "value = nan\n", "1e999",
    "9" * 5000, "[" * 2000, "0x", "true", "\\u0000", "\ufeff", "[limits]\n", "limits = 1\n",
]  # fmt: skip


def _refusal(call: Callable[[], object]) -> str:
    """One line, where what is given is refused; "" where it is taken."""
    try:
        call()
    except SheetcheckError as error:
        line = str(error)
        assert line.isprintable()
        assert "fault of this program" not in line
        return line
    return ""


def _column_map(text: str) -> None:
    _refusal(lambda: parse_column_map(text, "map.toml"))


def _limits(text: str) -> None:
    _refusal(lambda: parse_limits(text, "limits.toml"))


# --- workbooks ---------------------------------------------------------------------------------


@cache
def books() -> dict[str, bytes]:
    """A sound register in each format that is made up of text."""
    rows = [
        ["Tag", "Belt width (mm)", "Belt speed", "Tail pulley lift", "Nip guards"],
        ["CV-1", 900, "1.5 m/s", "half", "yes"],
        ["CV-2", 1200, 2.5, "full trough", "no"],
    ]
    file = io.BytesIO()
    with xlsxwriter.Workbook(file) as book:
        sheet = book.add_worksheet("Conveyors")
        for at, row in enumerate(rows):
            sheet.write_row(at, 0, row, book.add_format({"num_format": '0.0" mm"'}))
        sheet.merge_range("A6:C6", "a note")
        sheet.set_row(2, None, None, {"hidden": True})
        sheet.write_formula("F2", "=1/0", None, "#DIV/0!")
    text = "\r\n".join(";".join(map(str, row)) for row in rows)
    return {".xlsx": file.getvalue(), ".csv": text.encode()}


@cache
def _parts() -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(books()[".xlsx"])) as package:
        return {name: package.read(name) for name in package.namelist()}


_CHANGES = st.lists(
    st.tuples(
        st.sampled_from(["flip", "set", "cut", "drop", "again", "number", "insert"]),
        st.floats(0, 1, exclude_max=True),
        st.integers(0, 255),
    ),
    min_size=1,
    max_size=6,
)
_INSERTED = [
    b"<", b">", b"&", b'"', b"\0", b"\xff", b"<!DOCTYPE x>", b"]]>", b"<c/>", b' r="XFD9"',
    b' t="s"', b' t="e"', b' s="99999"', b"<v>1e400</v>", b"<v>-1</v>", b"NaN", b"99999999999",
]  # fmt: skip


def _changed(content: bytes, changes: list[tuple[str, float, int]]) -> bytes:
    found = bytearray(content)
    for kind, place, value in changes:
        at = int(place * len(found))
        if kind == "flip" and found:
            found[at] ^= 1 << value % 8
        elif kind == "set" and found:
            found[at] = value
        elif kind == "cut":
            del found[at : at + 1 + value]
        elif kind == "drop":
            del found[at:]
        elif kind == "again":
            found[at:at] = found[at : at + value]
        elif kind == "number" and len(found) >= at + 4:
            struct.pack_into("<I", found, at, (0, 1, 0x7FFFFFFF, 0xFFFFFFFF)[value % 4])
        elif kind == "insert":
            found[at:at] = _INSERTED[value % len(_INSERTED)]
    return bytes(found)


def _bytes_of_a_workbook(given: tuple[str, list[tuple[str, float, int]]]) -> None:
    suffix, changes = given
    _read(_changed(books()[suffix], changes), suffix)


def _part_of_a_workbook(given: tuple[str, list[tuple[str, float, int]], bool]) -> None:
    """One part is changed, and the package packed anew: the change arrives at the readers."""
    name, changes, whole = given
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as package:
        for part, content in _parts().items():
            package.writestr(part, _changed(content, changes) if part == name else content)
    (_check if whole else _read)(file.getvalue(), ".xlsx")


def _read(content: bytes, suffix: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, f"register{suffix}")
        path.write_bytes(content)
        _refusal(lambda: read_register(path))


def _check(content: bytes, suffix: str) -> None:
    """The whole job, to the written workbook."""
    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder, f"register{suffix}"), Path(folder, f"out{suffix}")
        source.write_bytes(content)
        done = do(Job(source, target), Options())
        assert done.error is None or "fault of this program" not in str(done.error), done.error
        assert source.read_bytes() == content
        left = {path.name for path in Path(folder).iterdir()} - {source.name}
        assert left == (set() if done.error else {target.name})


# --- results that are compared -----------------------------------------------------------------


@cache
def _result() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder, "register.xlsx"), Path(folder, "r.json")
        source.write_bytes(books()[".xlsx"])
        assert do(Job(source, None, json=target), Options(workbook=False)).error is None
        return target.read_bytes()


_JSON = st.recursive(
    st.one_of(st.none(), st.booleans(), st.floats(), st.text(max_size=3), st.integers()),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=3), inner, max_size=3)
    ),
    max_leaves=4,
)


def _put(tree: Any, steps: list[int], value: Any) -> Any:
    """Replace something in a tree of lists and objects, found by counting."""
    if not steps or not isinstance(tree, list | dict) or not tree:
        return value
    keys = list(tree) if isinstance(tree, dict) else range(len(tree))
    key = keys[steps[0] % len(keys)]
    copy = tree.copy()
    copy[key] = _put(tree[key], steps[1:], value)
    return copy


def _comparison(given: tuple[list[int], Any]) -> None:
    steps, value = given
    with tempfile.TemporaryDirectory() as folder:
        old, new = Path(folder, "old.json"), Path(folder, "new.json")
        old.write_bytes(_result())
        new.write_text(json.dumps(_put(json.loads(_result()), steps, value)), encoding="utf-8")
        _refusal(lambda: compare(read_result(old), read_result(new)))
        _refusal(lambda: compare(read_result(new), read_result(old)))


@cache
def _record() -> tuple[Sequence[object], ...]:
    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder, "register.xlsx"), Path(folder, "out.xlsx")
        source.write_bytes(books()[".xlsx"])
        limits = Path(folder, "limits.toml")
        limits.write_text('[plant]\ncurrency = "EUR"\n[weights]\naccess-guard = 3\n')
        assert do(Job(source, target), Options(limits=limits)).error is None
        return tuple(record_lines(target))


def _run_again(given: tuple[int, list[int], Any, str]) -> None:
    """What is taken from a record of which one line was edited."""
    at, steps, value, text = given
    lines = [list(line) for line in _record()]
    begin = next(n for n, line in enumerate(lines) if line[0] == TITLE)
    line = lines[begin + at % (len(lines) - begin)]
    whole = "".join(map(str, line[1:]))
    edited = json.dumps(_put(json.loads(whole), steps, value)) if whole[:1] == "{" else text
    line[1:] = [edited]

    def read() -> None:
        before = read_record(lines, "out.xlsx")
        if before["limits_file"] is not None:
            parse_limits(before["limits_text"], before["limits_file"])
        columns_as_before(before["column_map"], "out.xlsx", before["columns"])
        compare([before], [before])

    _refusal(read)


@dataclass(frozen=True)
class Harness:
    """What must hold, for what, and how often the tests try it."""

    holds: Callable[[Any], None]
    given: st.SearchStrategy[Any]
    times: int


HARNESSES = {
    "cell": Harness(
        _cell, st.tuples(_joined(PIECES, 8), st.sampled_from([None, "mm", "m", "%", "t/h"])), 600
    ),
    "heading": Harness(
        _heading,
        st.tuples(
            _joined(HEADINGS, 6),
            _joined(HEADINGS, 2),
            _joined(HEADINGS, 2),
            st.none() | st.just("mm"),
        ),
        200,
    ),
    "column map": Harness(_column_map, _joined(_TOML, 14), 500),
    "limits": Harness(_limits, _joined(_TOML, 14), 400),
    "bytes of a workbook": Harness(
        _bytes_of_a_workbook, st.tuples(st.sampled_from([".xlsx", ".csv"]), _CHANGES), 250
    ),
    "part of a workbook": Harness(
        _part_of_a_workbook,
        st.deferred(
            lambda: st.tuples(
                st.sampled_from(sorted(_parts())), _CHANGES, st.sampled_from([False] * 5 + [True])
            )
        ),
        150,
    ),
    "result to compare": Harness(
        _comparison, st.tuples(st.lists(st.integers(0, 60), max_size=6), _JSON), 80
    ),
    "record to run again": Harness(
        _run_again,
        st.tuples(
            st.integers(0, 60), st.lists(st.integers(0, 60), max_size=6), _JSON, _joined(_TOML, 4)
        ),
        80,
    ),
}
