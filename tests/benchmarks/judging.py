"""Time of judging alone, by check: ``python tests/benchmarks/judging.py [ROWS]``.

Prints seconds of processor time without and with flip points, and for trying the remedies.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from sheetcheck.checks import CHECKS
from sheetcheck.findings.columns import Columns
from sheetcheck.findings.evaluate import evaluate, evaluate_check
from sheetcheck.register.fields import MEASURING
from tests.checks.samples import sample_rows
from tests.conftest import make_register


def main(count: int) -> None:
    """Measure over `count` rows drawn at random, a fifth of their values missing."""
    register = make_register(sample_rows(count, seed=1, missing=0.2))
    for flips in (False, True):
        start = time.process_time()
        findings = evaluate(register, flips=flips)
        print(f"{count} rows, flip points {flips}: {time.process_time() - start:.2f} s")
    start = time.process_time()
    for key, check in CHECKS.items():
        for place, remedy in enumerate(check.remedies):
            assert not remedy.sets or findings.offers[key, place]
    print(f"remedies tried and judged again: {time.process_time() - start:.2f} s")
    columns = Columns(register)
    print(f"{'check':<26}{'judged':>8}{'flips':>8}")
    for check in CHECKS.values():
        took = []
        for flips in (False, True):
            start = time.process_time()
            evaluate_check(check, columns, {}, MEASURING, flips)
            took.append(time.process_time() - start)
        print(f"{check.key:<26}{took[0]:8.3f}{max(took[1] - took[0], 0):8.3f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20_000)
