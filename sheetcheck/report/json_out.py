"""Findings as JSON and CSV: the forms that outside scripts rely on."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Iterator, Mapping, Sequence
from io import TextIOWrapper
from pathlib import Path
from typing import Any, BinaryIO

import orjson

from .. import __version__
from ..files import replacing, write_beside
from ..findings import Findings
from ..findings.columns import Array
from ..findings.summary import accepted_counts, band_counts
from ..findings.verdict_columns import VerdictColumns
from .json_parts import (
    DIGITS,
    columns_of,
    dump,
    marks_of,
    pieces,
    place_of,
    plant_of,
    run_of,
    values_of,
)

__all__ = ["join_csv", "join_json", "json_pieces", "write_csv", "write_json"]


def json_pieces(findings: Findings, version: str) -> Iterator[bytes]:
    """One workbook's JSON object in pieces, some register rows each; `version` is this one's."""
    head = run_of(findings, version) | {
        "columns": columns_of(findings),
        # Put into JSON as they stand: they may be many, and have no numbers to make tidy.
        "problems": orjson.Fragment(orjson.dumps(findings.register.problems)),
    }
    plant = plant_of(findings)
    if plant:
        head["plant"] = plant
    yield dump(head)[:-1].encode() + b',"rows":['
    marks = marks_of(findings)
    for rows in pieces(0, len(findings)):
        text = b",\n".join(_rows(findings, rows, marks))
        yield (b",\n" if rows[0] else b"\n") + text
    summary: dict[str, Any] = {"rows": len(findings), "bands": band_counts(findings)}
    if findings.ruling.plant is not None:
        summary["accepted"] = accepted_counts(findings)
    yield b"\n]," + dump({"summary": summary})[1:].encode()


def _rows(
    findings: Findings, rows: Array, marks: Mapping[int, dict[str, list[str]]]
) -> Iterator[bytes]:
    """One JSON object a register row, its verdicts' attributes in the order of `Verdict`."""
    register, verdicts = findings.register, VerdictColumns(findings, rows, DIGITS)
    checks = []
    for key in findings.results:
        columns = verdicts.of(key)
        accepted = columns.pop("accepted")
        del columns["key"], columns["row"]
        lines = [
            dict(zip(columns, items, strict=True)) for items in zip(*columns.values(), strict=True)
        ]
        for line, text in zip(lines, accepted, strict=True):
            if text:
                line["accepted"] = text
        checks.append(lines)
    values = values_of(register, rows)
    for row, recorded, *each in zip(rows.tolist(), values, *checks, strict=True):
        yield orjson.dumps(
            {
                **place_of(register, row),
                "rank": int(findings.rank[row]),
                "values": recorded,
                **marks[row],
                "checks": dict(zip(findings.results, each, strict=True)),
            }
        )


def write_json(findings: Findings, path: Path) -> None:
    """Write one workbook's object, with no line end after it."""
    with replacing(path, overwrite=True) as file:
        write_beside(file.write, json_pieces(findings, __version__))


def join_json(parts: Sequence[Path], target: BinaryIO, *, several: bool) -> None:
    """Join what `write_json` wrote.

    Parameters
    ----------
    parts
        Files, in order.
    target
        Open binary file.
    several
        Whether several workbooks were given, which makes it ``{"workbooks": [...]}``.
    """
    target.write(b'{"workbooks":[\n' if several else b"")
    for number, part in enumerate(parts):
        target.write(b",\n" if number else b"")
        _append(part, target)
    target.write(b"\n]}\n" if several else b"\n")


def join_csv(parts: Sequence[Path], target: BinaryIO) -> None:
    """Join what `write_csv` wrote, under one line of headings."""
    target.write((",".join(_CSV_COLUMNS) + "\n").encode())
    for part in parts:
        _append(part, target)


def _append(part: Path, target: BinaryIO) -> None:
    with part.open("rb") as file:
        shutil.copyfileobj(file, target, 1 << 20)


_CSV_COLUMNS = (
    "workbook", "tag", "load_point", "sheet", "row", "rank", "check", "band", "why", "found",
    "found_high", "required", "required_high", "unit", "margin", "margin_high", "relative_margin",
    "assumptions", "cells", "source", "grade", "basis", "rests_on_doubtful", "remedy", "accepted",
)  # fmt: skip
# The full-width ones too: programs set to a language that writes them take them for the others.
_DANGEROUS = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")


def _safe(text: str) -> str:
    """Text that a spreadsheet will not take for a formula."""
    return f"'{text}" if text.startswith(_DANGEROUS) else text


def _two(number: Any) -> tuple[Any, Any]:
    return number if isinstance(number, tuple) else (number, number)


def write_csv(findings: Findings, path: Path) -> None:
    """Write one line per register row and check; ranges as two columns, equal where exact."""
    with replacing(path, overwrite=True) as file:
        handle = TextIOWrapper(file, encoding="utf-8", newline="")
        writer = csv.writer(handle, lineterminator="\n")
        for rows in pieces(0, len(findings)):
            writer.writerows(_csv_lines(findings, rows))
        handle.detach()


def _csv_lines(findings: Findings, rows: Array) -> Iterator[list[Any]]:
    register = findings.register
    verdicts = VerdictColumns(findings, rows, DIGITS)
    checks = [verdicts.verdicts(key) for key in findings.results]
    for row, *each in zip(rows.tolist(), *checks, strict=True):
        start = [
            register.source.file,
            str(register.values["tag"][row]),
            register.value(row, "load_point") or "",
            *register.cells.main(row),
            int(findings.rank[row]),
        ]
        for verdict in each:
            line = [
                *start,
                verdict.key,
                verdict.band,
                verdict.why,
                *_two(verdict.found),
                *_two(verdict.required),
                verdict.unit,
                *_two(verdict.margin),
                _two(verdict.relative_margin)[0],
                "; ".join(verdict.assumptions),
                "; ".join(verdict.cells.values()),
                verdict.source,
                verdict.grade,
                verdict.basis,
                "; ".join(verdict.rests_on_doubtful),
                verdict.to_do,
                verdict.accepted,
            ]
            yield [_safe(x) if isinstance(x, str) else x for x in line]
