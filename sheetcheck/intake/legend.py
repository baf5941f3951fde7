"""What letters in cells stand for, where a remark or a heading says so: ``S = single strip``."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from ..register.fields import FIELDS
from .grid import Grid, is_blank
from .table import Table
from .words import is_placeholder, read_choice, read_yes

__all__ = ["remarks", "spell_out"]

# Where remarks stand: above and between the headings, or below the last row.
_ABOVE, _BELOW = 8, 6
_PAIR = re.compile(
    r"(?<![\w=])(?P<code>[^\W_]{1,4})\s*=\s*(?P<word>[^\W\d_][^,;=|/()\[\].]{1,40}?)"
    r"(?=\s*[,;|/()\[\].]|\s{2,}|\s*\Z|\s+[^\W_]{1,4}\s*=)"
)
_CHOICES = tuple(name for name, field in FIELDS.items() if field.kind == "choice")


def remarks(grids: Iterable[Grid]) -> Iterator[str]:
    """Texts above and below the tables of a workbook, headings among them."""
    for grid in grids:
        for row in (*grid.rows[:_ABOVE], *grid.rows[-_BELOW:]):
            for value in row:
                if isinstance(value, str) and len(value) <= 400:
                    yield value


def _legend(texts: Iterable[str]) -> dict[str, str]:
    """Codes to their words; a code that is given two meanings has none."""
    found: dict[str, str] = {}
    twice: set[str] = set()
    for text in texts:
        for pair in _PAIR.finditer(text) if "=" in text else ():
            code, word = pair["code"], pair["word"].strip()
            if found.setdefault(code, word).casefold() != word.casefold():
                twice.add(code)
    return {code: word for code, word in found.items() if code not in twice}


def spell_out(table: Table, texts: Sequence[str]) -> None:
    """Put the words into the columns whose cells hold nothing but codes explained elsewhere.

    Only where all those words are words of one choice, or yes and no: a code of an area or of a
    material stays as it is.

    Parameters
    ----------
    table
        The table; its columns are changed in place.
    texts
        Remarks of the workbook.
    """
    general = _legend(texts)
    for index, heading in enumerate(table.headings):
        legend = general | _legend([heading.text, heading.group])
        if not legend:
            continue
        cells = {
            value
            for value in table.columns[index]
            if not is_blank(value) and not (isinstance(value, str) and is_placeholder(value))
        }
        codes = {value.strip() for value in cells if isinstance(value, str)}
        if not codes or len(codes) != len(cells) or not codes <= legend.keys():
            continue
        words = [legend[code] for code in codes]
        if _are_answers(words):
            table.columns[index] = [
                legend.get(value.strip(), value) if isinstance(value, str) else value
                for value in table.columns[index]
            ]


def _are_answers(words: Sequence[str]) -> bool:
    """Whether words are all of one choice, or yes and no."""
    of_one = any(
        all((read := read_choice(name, word)) is not None and read.value for word in words)
        for name in _CHOICES
    )
    return of_one or all(
        (answer := read_yes("nip_guards", word)) is not None and answer.value for word in words
    )
