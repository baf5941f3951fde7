"""How many lines a text takes, against the typeface's published widths."""

from __future__ import annotations

import pytest

from sheetcheck.report.text_lines import lines_of, listed_whole, room_of

# Adobe, Font Metrics for PDF Core 14 Fonts, Helvetica (to whose widths Arial is made), in
# thousandths of the size; from memory.
PUBLISHED = {"a": 556, "i": 222, "m": 833, "t": 278, "M": 833, "W": 944, "0": 556}


@pytest.mark.parametrize("letter", PUBLISHED)
def test_a_line_takes_as_many_letters_as_their_widths_allow(letter: str) -> None:
    # 40 digits of 7 pixels, of which 5 % are kept free; letters of 12 pixels (9 points).
    room = 40 * 7 * 0.95
    fit = int(room / (PUBLISHED[letter] / 1000 * 12))
    assert lines_of(letter * fit, room_of(40)) == 1
    # Widths are kept in steps of four thousandths, so that one letter more is within them.
    assert lines_of(letter * (fit + 2), room_of(40)) == 2


def test_words_wrap_whole_and_long_ones_are_broken() -> None:
    room = room_of(10)
    assert lines_of("transition length", room) == 2
    assert lines_of("one\ntwo\n\nfour", room) == 4
    assert lines_of("m" * 30, room) == 5  # 300 pixels in lines of 66.5
    assert lines_of("", room) == 1


def test_bold_letters_are_wider() -> None:
    text = "n" * int(40 * 7 * 0.95 / (0.556 * 12))
    assert lines_of(text, room_of(40)) == 1
    assert lines_of(text, room_of(40, bold=True)) == 2


@pytest.mark.parametrize("text", ["é" * 20, "輸送機" * 7, "\ud800" * 3, "a – b … c"])
def test_any_text_has_a_height(text: str) -> None:
    assert 1 <= lines_of(text, room_of(12)) <= 4


def test_a_list_of_tags_is_parted_between_tags_only() -> None:
    tags = [f"TQ-C{number:02d}" for number in range(30)]
    lines = listed_whole(tags, room_of(30)).split("\n")
    assert len(lines) > 2
    assert [tag for line in lines for tag in line.rstrip(",").split(", ")] == tags
    assert all(lines_of(line, room_of(30)) == 1 for line in lines)
    assert listed_whole(["a tag far longer than its column"], 10) == (
        "a tag far longer than its column"
    )
