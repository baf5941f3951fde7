"""A limits file to edit: all that a plant may change, at its default, commented out."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from ..checks import CHECKS
from ..checks.declare import Limit
from ..findings.limits import PLANT_KEYS
from ..findings.steps import STEP_UNITS, STEPS
from ..register.fields import MEASURING, TOLERANCE_UNITS
from ..register.ranges import RANGES
from ..tables import source_line
from ..toml_lines import quoted
from .rules import GRADES
from .style import BAND_COLOURS

__all__ = ["limits_file"]

_ABOUT = """\
What this plant sets in place of the defaults, and the deviations it has accepted.
Use it with: sheetcheck check REGISTER --limits THIS_FILE

Lines that begin with # are not read. Take the # away from what is to hold, and change it.
Numbers have their unit, beside them or in "unit". Every limit and every range says who set it,
why and when.
A limit laxer than a published one is used, and said in the findings and the record.
Names, dates and reasons below are invented.
"""
_STRICTER = {"higher": "higher is stricter", "lower": "lower is stricter", "": ""}

_DECIDED = ('#set_by = "name and post"', '#why = "reason"', "#date = 2026-01-31")


def limits_file() -> str:
    """Give the text of the file, without a line end after the last line."""
    lines = [f"# {line}".rstrip() for line in _ABOUT.splitlines()]
    lines += ["", "[plant]", *_plant()]
    lines += ["", "# Limits. Grades of their sources:"]
    lines += [f"# {grade}: {meaning}" for grade, meaning in GRADES.items()]
    lines += _limits()
    lines += ["", *_ranges(), "", *_tolerances(), "", *_steps(), "", *_weights(), "", *_colours()]
    lines += ["", *_accepted()]
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
            yield f"#unit = {quoted(limit.unit)}"
            yield from _DECIDED


def _authority(limit: Limit) -> str:
    stricter = _STRICTER[limit.stricter]
    source = source_line(limit.cite.key, limit.cite.locator)
    parts = (limit.meaning, stricter, f"{limit.cite.grade}: {source}")
    return "; ".join(filter(None, parts))


def _prose(text: str) -> list[str]:
    return textwrap.wrap(text, 99, initial_indent="# ", subsequent_indent="# ")


def _ranges() -> Iterator[str]:
    yield from _prose(
        "Ranges in which a number is sought that is not recorded: a check that gives one band "
        "over the whole range gives that band. A narrower range lets more be judged though it is "
        "not recorded, and is said in the findings. What is known of a conveyor belongs in its "
        "row."
    )
    for name, item in RANGES.items():
        yield ""
        yield from _prose(f"{item.meaning}; {item.grade}: {item.authority}")
        yield f"#[ranges.{name}]"
        yield f"#low = {item.low!r}"
        yield f"#high = {item.high!r}"
        yield f"#unit = {quoted(item.unit)}"
        yield from _DECIDED


def _weights() -> Iterator[str]:
    yield from _prose(
        "Weights: how much falling short of a check counts in the ranking; 1 where not given. "
        "They change which conveyor comes first, never a verdict."
    )
    yield "[weights]"
    yield from (f"#{key} = 1.0" for key, check in CHECKS.items() if not check.information)


def _tolerances() -> Iterator[str]:
    yield from _prose(
        "Measuring tolerances: the larger of the absolute one and the share of the value counts. "
        "What is left out keeps its default."
    )
    yield "[tolerances]"
    for name, tolerance in MEASURING.items():
        unit = TOLERANCE_UNITS[name]
        parts = [f"absolute = {quoted(f'{tolerance.absolute!r} {unit}')}"] if unit else []
        parts.append(f"relative = {quoted(f'{tolerance.relative * 100:g} %')}")
        key = quoted(name) if " " in name else name
        yield f"#{key} = {{{', '.join(parts)}}}"


def _steps() -> Iterator[str]:
    yield from _prose(
        "Steps in which work is set out: what a remedy asks for is a whole number of them. Those "
        "here are a metric register's; a US one has 1/2 in (whole inches from 100 in) for "
        "lengths, 1 in for openings, 5 short tons/h, 5 ft/min, 100 ft³/min, 1 ft and 0.005 in."
    )
    yield "[steps]"
    for name, (step, _) in STEPS.items():
        key = f'"{name}"' if " " in name else name
        yield f'#{key} = "{step!r} {STEP_UNITS[name]}"'


def _colours() -> Iterator[str]:
    yield from _prose("Colours of the bands. Text and fill need a contrast of 4.5:1 or more.")
    yield "[colours]"
    for band, (fill, text) in BAND_COLOURS.items():
        yield f"#{quoted(band)} = {{fill = {quoted(fill)}, text = {quoted(text)}}}"


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
