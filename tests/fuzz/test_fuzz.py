"""Input that nobody thought of: some of each kind, always the same; see `harnesses`."""

from __future__ import annotations

import time

import pytest
from hypothesis import HealthCheck, given, settings

from .harnesses import HARNESSES, PIECES, parse_cell

LONGEST = 32_767  # characters that a cell can hold (ECMA-376 part 1; Excel specifications)


@pytest.mark.parametrize("name", HARNESSES)
def test_holds_for_any_input(name):
    harness = HARNESSES[name]

    @settings(
        max_examples=harness.times,
        derandomize=True,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(harness.given)
    def holds(one):
        harness.holds(one)

    holds()


@pytest.mark.parametrize("number", range(len(PIECES)))
def test_the_longest_cell_is_read_in_good_time(number):
    """Patterns that look again at what they have seen take minutes for such a text."""
    piece, end = PIECES[number], "!"[number % 2 :]
    text = (piece * (LONGEST // len(piece)))[: LONGEST - 1] + end
    start = time.perf_counter()
    parse_cell(text)
    assert time.perf_counter() - start < 10
