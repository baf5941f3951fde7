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
from types import ModuleType

from hypothesis import HealthCheck, given, seed, settings


def _harnesses() -> ModuleType:
    place = Path(__file__).with_name("harnesses.py")
    spec = importlib.util.spec_from_file_location("harnesses", place)
    module = importlib.util.module_from_spec(spec)
    sys.modules["harnesses"] = module
    spec.loader.exec_module(module)
    return module


def _try(harness, times: int, number: int) -> int:
    """Number of inputs tried; the first that does not hold is raised by what it broke."""
    tried = 0

    @seed(number)
    @settings(
        max_examples=times * harness.times,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(harness.given)
    def holds(one):
        nonlocal tried
        tried += 1
        harness.holds(one)

    holds()
    return tried


def main(times: int = 10, number: int = 1) -> int:
    failed = 0
    for name, harness in _harnesses().HARNESSES.items():
        start = time.monotonic()
        try:
            tried = _try(harness, times, number)
        except Exception:
            failed = 1
            traceback.print_exc()
        else:
            print(f"{name}: {tried} tried in {time.monotonic() - start:.0f} s", flush=True)
    return failed


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
