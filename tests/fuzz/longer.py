"""Tries every harness many times: ``python tests/fuzz/longer.py [times] [seed]``.

`times` multiplies what the tests try. A failure prints the smallest input found for it and ends
with status 1.
"""

from __future__ import annotations

import importlib.util
import sys
import time
import traceback
from pathlib import Path

from hypothesis import HealthCheck, given, seed, settings


def main(times: int, number: int) -> int:
    place = Path(__file__).with_name("harnesses.py")
    spec = importlib.util.spec_from_file_location("harnesses", place)
    harnesses = importlib.util.module_from_spec(spec)
    sys.modules["harnesses"] = harnesses
    spec.loader.exec_module(harnesses)
    failed = 0
    for name, harness in harnesses.HARNESSES.items():
        tried = 0

        @seed(number)
        @settings(
            max_examples=times * harness.times,
            database=None,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        )
        @given(harness.given)
        def holds(one, harness=harness):
            nonlocal tried
            tried += 1
            harness.holds(one)

        start = time.monotonic()
        try:
            holds()
        except Exception:
            failed += 1
            traceback.print_exc()
        print(f"{name}: {tried} tried in {time.monotonic() - start:.0f} s", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    given_numbers = [int(argument) for argument in sys.argv[1:]]
    sys.exit(main(*[*given_numbers, *(10, 1)[len(given_numbers) :]]))
