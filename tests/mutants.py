"""Mutants of the package, by hand: which changes of it would no test notice?

    python tests/mutants.py named          the kinds of which each must be caught by golden text
    python tests/mutants.py sample 300 1   a sample of small changes anywhere, by a seed
    python tests/mutants.py sample 40 1 report/   the same in a part of the package

Works in a copy in a temporary folder; a mutant is caught when a test fails, or does not end.
Prints those that live.
"""

# ruff: noqa: E501
from __future__ import annotations

import ast
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parent.parent
GOLDEN = ["tests/test_golden.py"]
# Tests that concern a part of the package, tried after the golden text.
TESTS = {
    "checks": ["tests/checks", "tests/test_every_check.py"],
    "formulas": ["tests/formulas", "tests/checks"],
    "tables": ["tests/test_tables.py", "tests/checks"],
    "findings": ["tests/findings", "tests/test_every_check.py"],
    "register": ["tests/register", "tests/findings"],
    "intake": ["tests/intake"],
    "report": ["tests/report"],
}
REST = ["tests/test_cli.py", "tests/test_batch.py", "tests/test_public_api.py", "tests/intake"]
PATIENCE = 900  # seconds


class Mutant(NamedTuple):
    """A text of a module changed in one place."""

    module: str
    start: int
    stop: int
    new: str
    what: str = ""

    def applied(self, text: str) -> str:
        return text[: self.start] + self.new + text[self.stop :]


NAMED = (
    ("found shown as required",
     "report/findings_sheet.py", "of.figures.required", "of.figures.found"),
    ("worst margin turned to best",
     "report/summary_sheet.py", "min(known, default", "max(known, default"),
    ("assumed and source swapped",
     "report/verdicts_sheet.py", 'capital("; ".join(of[0].assumptions))', "of[0].source"),
    ("cost before people in the site order",
     "report/site_summary.py", "-worst.people_weight, -worst.yearly_cost",
     "-worst.yearly_cost, -worst.people_weight"),
    ("not judged before falls short as the worst verdict",
     "report/results_sheet.py", '("falls short", "not judged", "mar', '("not judged", "falls short", "mar'),
    ("margin of the other sign",
     "report/figures.py", "self._number(verdict, margin)", "self._number(verdict, short)"),
    ("counts under the heading of another band",
     "report/summary_sheet.py", '*map(capital, _SHOWN)], subjects', '*map(capital, reversed(_SHOWN))], subjects'),
    ("links one row too low",
     "report/places.py", "divmod(index, ", "divmod(index + 1, "),
    ("a band in the look of another",
     "report/findings_sheet.py", "Cell(band, band)", 'Cell(band, "meets")'),
    ("a chart over the next column",
     "report/summary_sheet.py", "Series(capital(band), span, 0, column,", "Series(capital(band), span, 0, column + 1,"),
    ("what to measure next in another order",
     "findings/gaps.py", "-gap.rows, -gap.verdicts", "gap.rows, -gap.verdicts"),
    ("then and now swapped",
     "report/compare_sheets.py", "Cell(change.old_band, change.old_band)", "Cell(change.new_band, change.new_band)"),
    ("the range that a cell takes turned round",
     "report/blank.py", "Number(low, high, message)", "Number(high, low, message)"),
    ("a walk-down form without units",
     "report/walk_form.py", "            unit,\n", '            "",\n'),
)  # fmt: skip


def named() -> Iterator[Mutant]:
    for what, module, old, new in NAMED:
        text = (ROOT / "sheetcheck" / module).read_text(encoding="utf-8")
        if text.count(old) < 1:
            raise SystemExit(f"{what}: {module} no longer says {old!r}")
        start = text.index(old)
        yield Mutant(module, start, start + len(old), new, what)


_SWAPS = {
    "found": "required", "required": "found", "low": "high", "high": "low", "min": "max",
    "max": "min", "minimum": "maximum", "maximum": "minimum", "any": "all", "all": "any",
    "first": "last", "last": "first", "at_least": "at_most", "at_most": "at_least",
    "MEETS": "SHORT", "SHORT": "MEETS", "floor": "ceil", "ceil": "floor",
}  # fmt: skip
_COMPARED = {
    ast.Lt: ">=", ast.LtE: "<", ast.Gt: "<=", ast.GtE: ">", ast.Eq: "!=", ast.NotEq: "==",
    ast.In: "not in", ast.NotIn: "in", ast.Is: "is not", ast.IsNot: "is",
}  # fmt: skip
_REVERSED = {ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*"}


def small(module: str, text: str) -> Iterator[Mutant]:
    """Every small change of a module that this script knows to make."""
    starts = [0]
    for line in text.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))

    def place(line: int, column: int) -> int:
        before = text[starts[line - 1] : starts[line]].encode()[:column]
        return starts[line - 1] + len(before.decode())

    def whole(node: ast.AST, new: str, what: str) -> Mutant:
        start, stop = _span(node, place)
        return Mutant(module, start, stop, new, f"line {node.lineno}: {what}")  # type: ignore[attr-defined]

    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Compare) and type(node.ops[0]) in _COMPARED:
            _, stop = _span(node.left, place)
            start, _ = _span(node.comparators[0], place)
            if "(" not in text[stop:start] and ")" not in text[stop:start]:
                new = f" {_COMPARED[type(node.ops[0])]} "
                yield Mutant(module, stop, start, new, f"line {node.lineno}: turned to{new}")
        elif isinstance(node, ast.UnaryOp) and isinstance(
            node.op, (ast.Not, ast.Invert, ast.USub)
        ):
            start, stop = _span(node.operand, place)
            yield whole(node, f"({text[start:stop]})", "sign or negation dropped")
        elif isinstance(node, ast.BinOp) and type(node.op) in _REVERSED:
            _, stop = _span(node.left, place)
            start, _ = _span(node.right, place)
            if text[stop:start].strip() in "+-*/" and not isinstance(node.left, ast.JoinedStr):
                new = f" {_REVERSED[type(node.op)]} "
                yield Mutant(module, stop, start, new, f"line {node.lineno}: turned to{new}")
        elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
            yield whole(node, repr(node.value + 1), f"{node.value!r} one more")
        elif isinstance(node, ast.Constant) and type(node.value) is bool:
            yield whole(node, repr(not node.value), "the other")
        elif isinstance(node, ast.Attribute) and node.attr in _SWAPS:
            stop = _span(node, place)[1]
            new = _SWAPS[node.attr]
            yield Mutant(
                module,
                stop - len(node.attr),
                stop,
                new,
                f"line {node.lineno}: {node.attr} to {new}",
            )
        elif isinstance(node, ast.Name) and node.id in _SWAPS and isinstance(node.ctx, ast.Load):
            yield whole(node, _SWAPS[node.id], f"{node.id} to {_SWAPS[node.id]}")
        elif isinstance(node, ast.BoolOp):
            word, other = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
            (_, stop), (start, _) = (_span(value, place) for value in node.values[:2])
            if text[stop:start].strip() == word:
                yield Mutant(
                    module, stop, start, f" {other} ", f"line {node.lineno}: {word} to {other}"
                )


def _span(node, place):  # type: ignore[no-untyped-def]
    return place(node.lineno, node.col_offset), place(node.end_lineno, node.end_col_offset)


def sample(count: int, seed: int, part: str) -> list[Mutant]:
    every = []
    for path in sorted((ROOT / "sheetcheck").rglob("*.py")):
        module = path.relative_to(ROOT / "sheetcheck").as_posix()
        if module.startswith(part):
            every += small(module, path.read_text(encoding="utf-8"))
    every.sort()
    return random.Random(seed).sample(every, min(count, len(every)))


def caught(copy: Path, tests: list[str]) -> bool:
    """Whether a test of the copy fails, or does not end in time."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider"]
    try:
        return (
            subprocess.run(
                [*command, *tests], cwd=copy, timeout=PATIENCE, capture_output=True, check=False
            ).returncode
            != 0
        )
    except subprocess.TimeoutExpired:
        return True


def main() -> None:
    mode, *rest = sys.argv[1:]
    count, seed, part = [*rest, *("300", "1", "")[len(rest) :]]
    mutants = list(named()) if mode == "named" else sample(int(count), int(seed), part)
    living = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder, "copy")
        shutil.copytree(
            ROOT, copy, ignore=shutil.ignore_patterns(".git", "__pycache__", ".*_cache")
        )
        if caught(copy, GOLDEN):
            raise SystemExit("the golden tests fail as it is")
        for done, mutant in enumerate(mutants, start=1):
            path = copy / "sheetcheck" / mutant.module
            before = path.read_text(encoding="utf-8")
            path.write_text(mutant.applied(before), encoding="utf-8")
            further = TESTS.get(mutant.module.split("/")[0], REST)
            tests = [GOLDEN] if mode == "named" else [GOLDEN, further]
            lives = not any(caught(copy, some) for some in tests)
            path.write_text(before, encoding="utf-8")
            living += lives
            print(
                f"{done}\t{'LIVES' if lives else 'caught'}\t{mutant.module}\t{mutant.what}",
                flush=True,
            )
    print(f"{living} of {len(mutants)} live")


if __name__ == "__main__":
    main()
