"""Which spellings of a tag are one conveyor."""

from __future__ import annotations

import pytest

from sheetcheck.register.register import same_tag_key


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("CV 101", "CV-101"),
        ("CV-101", "cv101"),
        ("CV_101 A", "CV101A"),
        ("HS 12B", "HS-12-B"),
        ("B1-01", "b1 01"),
        ("B1.01", "B1/01"),
    ],
)
def test_spellings_of_one_tag(one, other):
    assert same_tag_key(one) == same_tag_key(other)


@pytest.mark.parametrize(
    ("one", "other"),
    [("B1-01", "B10-1"), ("CV-1-1", "CV-11"), ("CV-1", "CV-01"), ("CV1A", "CV1B")],
)
def test_tags_of_two_conveyors(one, other):
    assert same_tag_key(one) != same_tag_key(other)
