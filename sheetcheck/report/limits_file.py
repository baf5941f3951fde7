"""A limits file to edit: every limit that a plant may change, at its default, commented out."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from ..checks import CHECKS
from ..checks.declare import Limit
from ..findings.limits import PLANT_KEYS, TOLERANCE_UNITS
from ..register.fields import MEASURING
from ..tables import source_line
from .rules import GRADES
from .style import BAND_COLOURS

__all__ = ["limits_file"]

_ABOUT = """\
What this plant sets in place of the defaults, and the deviations it has accepted.
Use it with: sheetcheck check REGISTER --limits THIS_FILE

Lines that begin with # are not read. Take the # away from what is to hold, and change it.
Numbers have their unit, in "value" or in "unit". Every limit says who set it, why and when.
A limit laxer than a published one is used, and said in the findings and the record.
Names, dates and reasons below are invented.
"""
_STRICTER = {"higher": "higher is stricter", "lower": "lower is stricter", "": ""}


def limits_file() -> str:
    """Give the text of the file, without a line end after the last line."""
    lines = [f"# {line}".rstrip() for line in _ABOUT.splitlines()]
    lines += ["", "[plant]", *_plant()]
    lines += ["", "# Limits. Grades of their sources:"]
    lines += [f"# {grade}: {meaning}" for grade, meaning in GRADES.items()]
    lines += _limits()
    lines += ["", *_tolerances(), "", *_colours(), "", *_accepted()]
    return "\n".join(lines)


def _plant() -> Iterator[str]:
    given = {
        "jurisdiction": '"the country or state whose law governs"',
        "currency": '"EUR"',
        "labour_rate": "50.0",
        "operating_hours": "6000.0",
    }
    for key, meaning in PLANT_KEYS.items():
        yield f"# {meaning}"
        yield f"#{key} = {given[key]}"


def _limits() -> Iterator[str]:
    for check in CHECKS.values():
        if check.limits:
            yield ""
            yield from _prose(f"{check.key}: {check.question}")
        for name, limit in check.limits.items():
            yield ""
            yield from _prose(_authority(limit))
            yield f"#[limits.{check.key}.{name}]"
            yield f"#value = {limit.value!r}"
            yield f'#unit = "{limit.unit}"'
            yield '#set_by = "name and post"'
            yield '#why = "reason"'
            yield "#date = 2026-01-31"


def _authority(limit: Limit) -> str:
    stricter = _STRICTER[limit.stricter]
    source = source_line(limit.cite.key, limit.cite.locator)
    parts = (limit.meaning, stricter, f"{limit.cite.grade}: {source}")
    return "; ".join(filter(None, parts))


def _prose(text: str) -> list[str]:
    return textwrap.wrap(text, 99, initial_indent="# ", subsequent_indent="# ")


def _tolerances() -> Iterator[str]:
    yield from _prose(
        "Measuring tolerances: the larger of the absolute one and the share of the value counts. "
        "What is left out keeps its default."
    )
    yield "[tolerances]"
    for name, tolerance in MEASURING.items():
        unit = TOLERANCE_UNITS[name]
        parts = [f'absolute = "{tolerance.absolute!r} {unit}"'] if unit else []
        parts.append(f'relative = "{tolerance.relative * 100:g} %"')
        key = f'"{name}"' if " " in name else name
        yield f"#{key} = {{{', '.join(parts)}}}"


def _colours() -> Iterator[str]:
    yield from _prose("Colours of the bands. Text and fill need a contrast of 4.5:1 or more.")
    yield "[colours]"
    for band, (fill, text) in BAND_COLOURS.items():
        yield f'#"{band}" = {{fill = "{fill}", text = "{text}"}}'


def _accepted() -> Iterator[str]:
    yield from _prose(
        "Accepted deviations, as many as there are. The verdict keeps its band and its numbers, "
        "and is marked and counted as accepted until the last day, that day included. Only what "
        "falls short or is marginal can be accepted; what is not judged cannot."
    )
    yield "#[[accepted]]"
    yield '#tag = "HS 12B"'
    yield "# Leave load_point out to accept it for every load point of the conveyor."
    yield '#load_point = "2"'
    yield '#check = "load-width"'
    yield '#reason = "chute is replaced in the next shutdown"'
    yield '#by = "name and post"'
    yield "#until = 2026-12-31"
