"""What every test may use: a register built in memory, and how hypothesis is run."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from hypothesis import settings

from sheetcheck.register.fields import FIELDS, POSITIONS
from sheetcheck.register.register import Cells, Register, Source, TableSource
from sheetcheck.report.archive import ArchiveWriter
from tests.report.package_rules import faults

# The same examples each time: a test that fails only sometimes tells nobody anything.
settings.register_profile("suite", derandomize=True, deadline=None, max_examples=50)
settings.load_profile("suite")


def pytest_addoption(parser: Any) -> None:
    parser.addoption(
        "--update-golden",
        action="store_true",
        help="rewrite the expected texts instead of comparing with them",
    )


_seen: set[tuple[bytes, bytes]] = set()


@pytest.fixture(autouse=True)
def every_written_workbook_is_sound(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Hold each package that a test writes in its process to the rules; see `package_rules`."""
    found: list[str] = []
    copy, close = ArchiveWriter.copy, ArchiveWriter.__exit__

    def copy_and_note(self: Any, source: Any, original: Any) -> None:
        self.copied_from = source
        copy(self, source, original)

    def whole(file: Any) -> bytes:
        place = file.tell()
        file.seek(0)
        content: bytes = file.read()
        file.seek(place)
        return content

    def close_and_hold(self: Any, kind: Any, error: Any, trace: Any) -> None:
        close(self, kind, error, trace)
        if kind is None:
            source = whole(self.copied_from) if hasattr(self, "copied_from") else b""
            content = whole(self._file)
            key = hashlib.sha256(content).digest(), hashlib.sha256(source).digest()
            if key not in _seen:
                _seen.add(key)
                found.extend(faults(content, source))

    monkeypatch.setattr(ArchiveWriter, "copy", copy_and_note)
    monkeypatch.setattr(ArchiveWriter, "__exit__", close_and_hold)
    yield
    assert not found, found


@dataclass(frozen=True)
class Approximate:
    """A number that the register marks as approximate ("~ 0.9")."""

    value: float


def _letter(number: int) -> str:
    letters = ""
    while number >= 0:
        number, rest = divmod(number, 26)
        letters, number = chr(65 + rest) + letters, number - 1
    return letters


def make_register(rows: Sequence[Mapping[str, Any]], sheet: str = "Conveyors") -> Register:
    """A register as if read from one sheet, a row per mapping of field to value in SI.

    A tuple (low, high) is a range, `Approximate` a number so marked, None or an absent field a
    missing value. Rows without a tag are T1, T2, …; the header stands in sheet row 1.
    """
    rows = [{"tag": f"T{number}"} | dict(row) for number, row in enumerate(rows, 1)]
    names = [name for name in FIELDS if any(name in row for row in rows)]
    unknown = {name for row in rows for name in row} - set(FIELDS)
    if unknown:
        raise KeyError(f"no such field: {sorted(unknown)}")
    values: dict[str, np.ndarray[Any, Any]] = {}
    positions: dict[str, np.ndarray[Any, Any]] = {}
    intervals: dict[tuple[int, str], tuple[float, float]] = {}
    approximate: set[tuple[int, str]] = set()
    for name in names:
        kind = FIELDS[name].kind
        words = [""] * len(rows)
        numbers = np.full(len(rows), np.nan)
        for number, row in enumerate(rows):
            value = row.get(name)
            if isinstance(value, Approximate):
                approximate.add((number, name))
                value = value.value
            if value is None:
                continue
            if isinstance(value, tuple):
                intervals[number, name] = value
            elif isinstance(value, str):
                allowed = POSITIONS if kind == "lift" else FIELDS[name].choices
                if kind != "text" and value not in allowed:
                    raise ValueError(f"{name} cannot be {value!r}")
                words[number] = value
            else:
                numbers[number] = float(value)
        if kind == "lift":
            positions[name] = np.array(words, dtype=object)
        values[name] = np.array(words, dtype=object) if kind in ("text", "choice") else numbers
    columns = {name: _letter(number) for number, name in enumerate(names)}
    return Register(
        values=values,
        cells=Cells([TableSource(sheet, columns)], [[(0, n + 2)] for n in range(len(rows))]),
        columns=[],
        problems=[],
        skipped=[],
        source=Source("", "made in memory", "", (sheet,), (sheet,)),
        positions=positions,
        intervals=intervals,
        approximate=approximate,
    )
