"""A limits file to edit: all that a plant may change, at its default, commented out."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from importlib.resources import files
from string import Template

from ..checks import CHECKS
from ..checks.declare import Limit
from ..findings.steps import STEP_UNITS, STEPS
from ..register.fields import MEASURING, TOLERANCE_UNITS
from ..register.ranges import RANGES
from ..tables import source_line
from ..toml_lines import quoted
from .rules import GRADES
from .style import BAND_COLOURS

__all__ = ["limits_file"]

_STRICTER = {"higher": "higher is stricter", "lower": "lower is stricter", "": ""}


def limits_file() -> str:
    """Give the text of the file, without a line end after the last line.

    What stands in it whatever the program declares is `limits_file.toml`, beside this module.
    """
    parts = {
        "grades": (f"# {grade}: {meaning}" for grade, meaning in GRADES.items()),
        "limits": _limits(),
        "ranges": _ranges(),
        "tolerances": _tolerances(),
        "steps": (
            f'#{_key(name)} = "{step!r} {STEP_UNITS[name]}"' for name, (step, _) in STEPS.items()
        ),
        "weights": (f"#{key} = 1.0" for key, check in CHECKS.items() if not check.information),
        "colours": (
            f"#{quoted(band)} = {{fill = {quoted(fill)}, text = {quoted(text)}}}"
            for band, (fill, text) in BAND_COLOURS.items()
        ),
    }
    frame = files(__package__).joinpath("limits_file.toml").read_text(encoding="utf-8")
    text = Template(frame).substitute({name: "\n".join(lines) for name, lines in parts.items()})
    return text.removesuffix("\n")


def _key(name: str) -> str:
    return quoted(name) if " " in name else name


def _prose(text: str) -> Iterator[str]:
    yield ""
    yield from textwrap.wrap(text, 99, initial_indent="# ", subsequent_indent="# ")


def _decided(table: str, **values: float | str) -> Iterator[str]:
    """A table of figures, with who set them, why and when."""
    yield f"#[{table}]"
    for key, value in values.items():
        yield f"#{key} = {quoted(value) if isinstance(value, str) else repr(value)}"
    yield from ('#set_by = "name and post"', '#why = "reason"', "#date = 2026-01-31")


def _limits() -> Iterator[str]:
    for check in CHECKS.values():
        if check.limits:
            yield from _prose(f"{check.key}: {check.question}")
        for name, limit in check.limits.items():
            yield from _prose(_authority(limit))
            yield from _decided(f"limits.{check.key}.{name}", value=limit.value, unit=limit.unit)


def _authority(limit: Limit) -> str:
    stricter = _STRICTER[limit.stricter]
    source = source_line(limit.cite.key, limit.cite.locator)
    parts = (limit.meaning, stricter, f"{limit.cite.grade}: {source}")
    return "; ".join(filter(None, parts))


def _ranges() -> Iterator[str]:
    for name, item in RANGES.items():
        yield from _prose(f"{item.meaning}; {item.grade}: {item.authority}")
        yield from _decided(f"ranges.{name}", low=item.low, high=item.high, unit=item.unit)


def _tolerances() -> Iterator[str]:
    for name, tolerance in MEASURING.items():
        unit = TOLERANCE_UNITS[name]
        parts = [f"absolute = {quoted(f'{tolerance.absolute!r} {unit}')}"] if unit else []
        parts.append(f"relative = {quoted(f'{tolerance.relative * 100:g} %')}")
        yield f"#{_key(name)} = {{{', '.join(parts)}}}"
