"""The limits file: what a plant sets in place of the defaults, and what it has accepted.

A TOML file of ``[plant]``, ``[limits.CHECK.NAME]``, ``[ranges.NAME]``, ``[tolerances]``,
``[steps]``, ``[weights]``, ``[colours]`` and ``[[accepted]]``. Nothing in it is guessed at: a key
that is not known, a number without a unit, or an entry that does not say who decided it and why,
ends the run with the line and what to do.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Collection, Mapping
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path
from types import MappingProxyType
from typing import Any

from ..checks import CHECKS
from ..checks.declare import Limit, exceeds
from ..errors import UnusableCall
from ..register.fields import FIELDS, MEASURING, TOLERANCE_UNITS, Span, Tolerance
from ..register.ranges import RANGES, Range
from ..toml_lines import TomlText, read_toml
from ..units import UNITS, canonical, factor
from .plant import Accepted, Plant, PlantLimit, PlantRange
from .results import BANDS
from .steps import STEP_UNITS, STEPS

__all__ = ["PLANT_KEYS", "WEIGHTS", "load_limits", "parse_limits", "refuse"]

PLANT_KEYS: Mapping[str, str] = MappingProxyType(
    {
        "jurisdiction": "whose law governs, as text",
        "currency": "code of the currency that costs are in, as text",
        "labour_rate": "loaded labour rate, currency an hour; used where the register has none",
        "operating_hours": "hours run a year; used where the register has none",
    }
)
"""Keys of ``[plant]`` and what they mean."""

WEIGHTS = Span(0, 1000, low_open=True)
"""What a weight in the ranking may be; nothing that falls short ever counts for nothing."""

_CONTRAST = 4.5  # W3C, Web Content Accessibility Guidelines 2.1, success criterion 1.4.3
_QUANTITY = re.compile(r"\s*([-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?)\s*([^\d\s].*)?\Z")
_COLOUR = re.compile(r"#[0-9A-Fa-f]{6}\Z")

Where = tuple[str | int, ...]


def load_limits(path: str | Path) -> Plant:
    """Read a limits file.

    Parameters
    ----------
    path
        The TOML file.

    Raises
    ------
    UnusableCall
        Naming the line, where the file cannot be used.
    """
    return _Reading(read_toml(Path(path), "limits file")).plant()


def parse_limits(text: str, name: str) -> Plant:
    """Read a limits file's text; `name` is what messages call it.

    Raises
    ------
    UnusableCall
        Naming the line, where the text cannot be used.
    """
    return _Reading(TomlText(text, name)).plant()


def refuse(limits: Mapping[str, Mapping[str, float]]) -> None:
    """Refuse limits, in SI, that a file could not hold: unknown, impossible or out of order.

    Raises
    ------
    UnusableCall
        Naming the check and the limit.
    """
    said = {"set_by": "the caller", "why": "given", "date": date.today()}
    tables = {}
    for check, names in limits.items():
        known = CHECKS[check].limits if check in CHECKS else {}
        units = {name: known[name].unit if name in known else "1" for name in names}
        tables[check] = {n: {"value": names[n], "unit": unit, **said} for n, unit in units.items()}
    _Reading(TomlText("", ""))._limits(tables)


class _Reading:
    """One file on its way from TOML to `Plant`."""

    def __init__(self, toml: TomlText) -> None:
        self.toml = toml

    def plant(self) -> Plant:
        content = self.toml.content
        sections = (
            "plant", "limits", "ranges", "tolerances", "steps", "weights", "colours", "accepted",
        )  # fmt: skip
        self._known((), content, sections, "section")
        plant = self._table(("plant",), content.get("plant", {}))
        self._known(("plant",), plant, PLANT_KEYS, "key")
        return Plant(
            file=self.toml.name,
            text=self.toml.text,
            jurisdiction=self._word(("plant", "jurisdiction"), plant.get("jurisdiction", "")),
            currency=self._word(("plant", "currency"), plant.get("currency", "")),
            labour_rate=self._figure("labour_rate", plant),
            operating_hours=self._figure("operating_hours", plant),
            limits=tuple(self._limits(content.get("limits", {}))),
            ranges=tuple(self._ranges(content.get("ranges", {}))),
            tolerances=dict(self._tolerances(content.get("tolerances", {}))),
            steps=dict(self._steps(content.get("steps", {}))),
            weights=dict(self._weights(content.get("weights", {}))),
            colours=dict(self._colours(content.get("colours", {}))),
            accepted=tuple(self._accepted(content.get("accepted", []))),
        )

    # --- sections ------------------------------------------------------------------------

    def _figure(self, name: str, plant: Mapping[str, Any]) -> float | None:
        """A number that stands in for a register field; a bare one is in the field's unit."""
        if name not in plant:
            return None
        where, spec = ("plant", name), FIELDS[name]
        value = self._quantity(where, plant[name], spec.unit, spec.unit)
        self._possible(where, name, value, spec.possible, spec.unit)
        return value

    def _possible(self, where: Where, name: str, value: float, span: Span, unit: str) -> None:
        if span.holds(value):
            return
        unit = "" if unit == "1" else f" {unit}"
        least = f"more than {span.low:g}" if span.low_open else f"{span.low:g}"
        if math.isfinite(span.high):
            hint = f"{least}{', up' if span.low_open else ''} to {span.high:g}{unit}"
        else:
            hint = f"{least}{unit}{'' if span.low_open else ' or more'}"
        raise self.toml.error(where, f"{name} cannot be {value:g}{unit}", f"Give {hint}.")

    def _limits(self, table: Any) -> list[PlantLimit]:
        found = []
        for check, names in self._table(("limits",), table).items():
            self._known(("limits",), (check,), CHECKS, "check")
            names = self._table(("limits", check), names)
            limits = CHECKS[check].limits
            if not limits:
                raise self.toml.error(
                    ("limits", check), f"{check} has no limit to change", "Take it out."
                )
            self._known(("limits", check), names, limits, f"limit of {check}")
            found += [
                self._limit(("limits", check, name), entry, limits[name])
                for name, entry in names.items()
            ]
            own = {limit.name: limit for limit in found if limit.check == check}
            self._in_order(check, limits, own)
        return found

    def _in_order(
        self, check: str, limits: Mapping[str, Limit], own: Mapping[str, PlantLimit]
    ) -> None:
        """Refuse a limit below the one of the same check that it must not be below."""

        def now(name: str) -> tuple[float, str]:
            if name in own:
                return own[name].value, own[name].written
            limit = limits[name]
            unit = "" if limit.unit == "1" else f" {limit.unit}"
            return limit.value, f"{limit.value:g}{unit} unless set"

        for high, limit in limits.items():
            low = limit.not_below
            if not low or not {low, high} & own.keys():
                continue
            (least, least_written), (most, most_written) = now(low), now(high)
            if exceeds(least, most):
                raise self.toml.error(
                    ("limits", check, high if high in own else low, "value"),
                    f"{high} of {check} ({most_written}) is below {low} ({least_written})",
                    f"Set both, with {low} no more than {high}.",
                )

    def _decided(self, where: Where, entry: Any, *numbers: str) -> tuple[dict[str, Any], Any]:
        """A table of numbers with who set them, why and when; and their unit, None if apart."""
        entry = self._table(where, entry)
        keys = (*numbers, "set_by", "why", "date")
        self._known(where, entry, (*keys, "unit"), "key")
        for key in keys:
            self._required(where, entry, key)
        unit = entry.get("unit")
        if unit is not None and not isinstance(unit, str):
            raise self.toml.error((*where, "unit"), "unit is not text", 'Write unit = "mm".')
        return entry, unit

    def _limit(self, where: tuple[str, str, str], entry: Any, limit: Limit) -> PlantLimit:
        entry, unit = self._decided(where, entry, "value")
        at = (*where, "value")
        # A ratio too: 60 without a unit may be 60 % or sixty times.
        value = self._quantity(at, entry["value"], limit.unit, "", unit)
        self._possible(at, where[2], value, Span(0, limit.most), limit.unit)
        written = entry["value"] if isinstance(entry["value"], str) else f"{entry['value']:g}"
        return PlantLimit(
            check=where[1],
            name=where[2],
            value=value,
            written=" ".join(filter(None, (written, unit))),
            set_by=self._text((*where, "set_by"), entry["set_by"]),
            why=self._text((*where, "why"), entry["why"]),
            date=self._date((*where, "date"), entry["date"]),
        )

    def _ranges(self, table: Any) -> list[PlantRange]:
        table = self._table(("ranges",), table)
        self._known(("ranges",), table, RANGES, "range")
        return [self._range(("ranges", name), table[name], RANGES[name]) for name in table]

    def _range(self, where: tuple[str, str], entry: Any, usual: Range) -> PlantRange:
        entry, unit = self._decided(where, entry, "low", "high")
        ends = []
        for key in ("low", "high"):
            at = (*where, key)
            value = self._quantity(at, entry[key], usual.unit, "", unit)
            self._possible(at, f"{key} of {where[1]}", value, usual.possible, usual.unit)
            ends.append(value)
        low, high = ends
        if low >= high:
            raise self.toml.error(
                (*where, "high"),
                f"high of {where[1]} is no more than low",
                "Give a range; a value that is known belongs in the register.",
            )
        return PlantRange(
            name=where[1],
            ends=(low, high),
            set_by=self._text((*where, "set_by"), entry["set_by"]),
            why=self._text((*where, "why"), entry["why"]),
            date=self._date((*where, "date"), entry["date"]),
        )

    def _weights(self, table: Any) -> list[tuple[str, float]]:
        table = self._table(("weights",), table)
        judging = [key for key, check in CHECKS.items() if not check.information]
        self._known(("weights",), table, judging, "check that gives a verdict")
        found = []
        for key, item in table.items():
            value = self._quantity(("weights", key), item, "1", "1")
            self._possible(("weights", key), f"weight of {key}", value, WEIGHTS, "1")
            found.append((key, value))
        return found

    def _tolerances(self, table: Any) -> list[tuple[str, Tolerance]]:
        found = []
        table = self._table(("tolerances",), table)
        self._known(("tolerances",), table, MEASURING, "kind of measured input")
        for name, entry in table.items():
            where = ("tolerances", name)
            entry = self._table(where, entry)
            unit = TOLERANCE_UNITS[name]
            self._known(where, entry, ("absolute", "relative") if unit else ("relative",), "key")
            usual = MEASURING[name]
            absolute, relative = usual.absolute, usual.relative
            if "absolute" in entry:
                absolute = self._quantity((*where, "absolute"), entry["absolute"], unit, "")
            if "relative" in entry:
                relative = self._quantity((*where, "relative"), entry["relative"], "1", "1")
            for key, value, most in (("absolute", absolute, math.inf), ("relative", relative, 1)):
                if not 0 <= value <= most:
                    raise self.toml.error(
                        (*where, key),
                        f"a tolerance cannot be {value:g}",
                        "Give zero or more; a share no more than 100 %.",
                    )
            found.append((name, Tolerance(absolute, relative)))
        return found

    def _steps(self, table: Any) -> list[tuple[str, float]]:
        table = self._table(("steps",), table)
        self._known(("steps",), table, STEPS, "kind of work")
        found = []
        for name, item in table.items():
            where, unit = ("steps", name), STEP_UNITS[name]
            value = self._quantity(where, item, unit, "")
            self._possible(where, f"step of {name}", value, Span(0, low_open=True), unit)
            found.append((name, value))
        return found

    def _colours(self, table: Any) -> list[tuple[str, tuple[str, str]]]:
        found = []
        table = self._table(("colours",), table)
        self._known(("colours",), table, BANDS, "band")
        for band, entry in table.items():
            where = ("colours", band)
            entry = self._table(where, entry)
            self._known(where, entry, ("fill", "text"), "key")
            colours = []
            for key in ("fill", "text"):
                self._required(where, entry, key)
                colour = entry[key]
                if not isinstance(colour, str) or not _COLOUR.match(colour):
                    raise self.toml.error(
                        (*where, key), f"{colour!r} is not a colour", 'Write it as "#C6E4F2".'
                    )
                colours.append(colour.upper())
            ratio = _contrast(*colours)
            if ratio < _CONTRAST:
                raise self.toml.error(
                    where,
                    f"text and fill of {band!r} differ by {ratio:.1f}:1, too little to read",
                    f"Choose colours with a contrast of at least {_CONTRAST}:1.",
                )
            found.append((band, (colours[0], colours[1])))
        return found

    def _accepted(self, entries: Any) -> list[Accepted]:
        if not isinstance(entries, list):
            raise self.toml.error(
                ("accepted",), "is not a list of deviations", "Head each one [[accepted]]."
            )
        found = []
        for number, entry in enumerate(entries):
            where: Where = ("accepted", number)
            entry = self._table(where, entry)
            keys = ("tag", "check", "reason", "by", "until")
            self._known(where, entry, (*keys, "load_point"), "key")
            for key in keys:
                self._required(where, entry, key)
            check = self._text((*where, "check"), entry["check"])
            if check not in CHECKS:
                raise self._unknown((*where, "check"), check, CHECKS, "check")
            if CHECKS[check].information:
                raise self.toml.error(
                    (*where, "check"),
                    f"{check} gives numbers and no verdict, so nothing can be accepted",
                    "Take the entry out.",
                )
            found.append(
                Accepted(
                    tag=self._text((*where, "tag"), entry["tag"]),
                    check=check,
                    reason=self._text((*where, "reason"), entry["reason"]),
                    by=self._text((*where, "by"), entry["by"]),
                    until=self._date((*where, "until"), entry["until"]),
                    load_point=self._word((*where, "load_point"), entry.get("load_point", "")),
                )
            )
        return found

    # --- values --------------------------------------------------------------------------

    def _table(self, where: Where, item: Any) -> dict[str, Any]:
        if not isinstance(item, dict):
            name = ".".join(map(str, where))
            raise self.toml.error(where, f"{name} is not a table", f"Head it [{name}].")
        return item

    def _known(
        self, where: Where, given: Collection[str], known: Collection[str], what: str
    ) -> None:
        for key in given:
            if key not in known:
                raise self._unknown((*where, key), key, known, what)

    def _unknown(self, where: Where, key: str, known: Collection[str], what: str) -> UnusableCall:
        near = difflib.get_close_matches(key, known, 3)
        if near:
            hint = f"Did you mean {', '.join(near)}?"
        elif len(known) > 12:
            hint = "See sheetcheck rules."
        else:
            hint = f"Use {', '.join(known)}."
        return self.toml.error(where, f"{key!r} is no {what}", hint)

    def _required(self, where: Where, entry: Mapping[str, Any], key: str) -> None:
        if key not in entry:
            name = ".".join(str(step) for step in where if isinstance(step, str))
            raise self.toml.error(where, f"{key} is missing from {name}", f"Add {key} = ….")

    def _word(self, where: Where, item: Any) -> str:
        if not isinstance(item, str):
            raise self.toml.error(
                where, f"{where[-1]} is not text", 'Put it in quotation marks ("").'
            )
        return " ".join(item.split())

    def _text(self, where: Where, item: Any) -> str:
        text = self._word(where, item)
        if not text:
            raise self.toml.error(where, f"{where[-1]} is empty", "Fill it in.")
        return text

    def _date(self, where: Where, item: Any) -> date:
        if not isinstance(item, date) or isinstance(item, datetime):
            raise self.toml.error(
                where, f"{where[-1]} is not a date", "Write it as 2027-06-30, without quotes."
            )
        return item

    def _quantity(
        self, where: Where, item: Any, si: str, bare: str, unit: str | None = None
    ) -> float:
        """A number in `si`; `bare` is the unit of one that has none, "" where it must have one."""
        if isinstance(item, str):
            found = _QUANTITY.match(item)
            if found is None:
                raise self.toml.error(
                    where, f"{item!r} is not a number with a unit", 'Write it as "610 mm".'
                )
            if found[2] is not None and unit is not None:
                raise self.toml.error(where, f"{item!r} has a unit already", "Take unit out.")
            item, unit = float(found[1]), found[2] or unit
        number = math.nan
        if isinstance(item, int | float) and not isinstance(item, bool):
            with suppress(OverflowError):  # an integer past what a float holds
                number = float(item)
        if not math.isfinite(number):
            raise self.toml.error(
                where, f"{where[-1]} is not a number", "Write digits, and the unit."
            )
        unit = bare if unit is None else unit.strip()
        fits = [name for name in UNITS if factor(name, si) is not None] or [si]
        if not unit:
            raise self.toml.error(
                where, f"{where[-1]} has no unit", f"Give one of {', '.join(fits)}."
            )
        by = 1.0 if unit == si else factor(unit if unit in UNITS else canonical(unit) or "", si)
        if by is None:
            raise self.toml.error(
                where,
                f"{unit!r} does not measure {where[-2] if len(where) > 1 else where[-1]}",
                f"Give one of {', '.join(fits)}.",
            )
        return number * by


def _luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (Web Content Accessibility Guidelines 2.1)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(share * part for share, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def _contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21 (the same guidelines)."""
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)
