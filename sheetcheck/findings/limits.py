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
from collections.abc import Collection, Iterator, Mapping
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path
from typing import Any

from ..checks import CHECKS
from ..checks.declare import Limit, exceeds
from ..errors import UnusableCall
from ..register.fields import FIELDS, MEASURING, TOLERANCE_UNITS, Span, Tolerance
from ..register.ranges import RANGES
from ..toml_lines import TomlText, read_toml
from ..units import UNITS, canonical, factor
from .plant import Accepted, Plant, PlantLimit, PlantRange
from .results import BANDS
from .steps import STEP_UNITS, STEPS

__all__ = ["WEIGHTS", "load_limits", "parse_limits", "refuse"]

_PLANT_KEYS = ("jurisdiction", "currency", "labour_rate", "operating_hours")
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
        self._known(("plant",), plant, _PLANT_KEYS, "key")
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
        found: list[PlantLimit] = []
        for at, check, entries in self._entries(("limits",), table, CHECKS, "check"):
            limits = CHECKS[check].limits
            if not limits:
                raise self.toml.error(at, f"{check} has no limit to change", "Take it out.")
            own = {
                name: self._limit(where, entry, limits[name])
                for where, name, entry in self._entries(at, entries, limits, f"limit of {check}")
            }
            self._in_order(check, limits, own)
            found += own.values()
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

    def _decided(
        self, where: Where, entry: Any, named: Mapping[str, str], si: str, possible: Span
    ) -> tuple[dict[str, Any], list[float], dict[str, Any]]:
        """A table of numbers: as written, in SI, and who set them, why and when.

        `named` are its numbers' keys, and what messages call each.
        """
        entry = self._keys(where, entry, (*named, "set_by", "why", "date"), ("unit",))
        unit = entry.get("unit")
        if unit is not None and not isinstance(unit, str):
            raise self.toml.error((*where, "unit"), "unit is not text", 'Write unit = "mm".')
        numbers = []
        for key, name in named.items():
            # A ratio too: 60 without a unit may be 60 % or sixty times.
            value = self._quantity((*where, key), entry[key], si, "", unit)
            self._possible((*where, key), name, value, possible, si)
            numbers.append(value)
        who: dict[str, Any] = {
            key: self._text((*where, key), entry[key]) for key in ("set_by", "why")
        }
        return entry, numbers, who | {"date": self._date((*where, "date"), entry["date"])}

    def _limit(self, where: Where, entry: Any, limit: Limit) -> PlantLimit:
        _, check, name = map(str, where)
        span = Span(0, limit.most)
        entry, (value,), who = self._decided(where, entry, {"value": name}, limit.unit, span)
        written = entry["value"] if isinstance(entry["value"], str) else f"{entry['value']:g}"
        written = " ".join(filter(None, (written, entry.get("unit"))))
        return PlantLimit(check=check, name=name, value=value, written=written, **who)

    def _ranges(self, table: Any) -> Iterator[PlantRange]:
        for where, name, entry in self._entries(("ranges",), table, RANGES, "range"):
            usual = RANGES[name]
            named = {key: f"{key} of {name}" for key in ("low", "high")}
            _, (low, high), who = self._decided(where, entry, named, usual.unit, usual.possible)
            if low >= high:
                raise self.toml.error(
                    (*where, "high"),
                    f"high of {name} is no more than low",
                    "Give a range; a value that is known belongs in the register.",
                )
            yield PlantRange(name=name, ends=(low, high), **who)

    def _weights(self, table: Any) -> Iterator[tuple[str, float]]:
        judging = [key for key, check in CHECKS.items() if not check.information]
        what = "check that gives a verdict"
        for where, key, item in self._entries(("weights",), table, judging, what):
            value = self._quantity(where, item, "1", "1")
            self._possible(where, f"weight of {key}", value, WEIGHTS, "1")
            yield key, value

    def _tolerances(self, table: Any) -> Iterator[tuple[str, Tolerance]]:
        what = "kind of measured input"
        for where, name, entry in self._entries(("tolerances",), table, MEASURING, what):
            units = {"absolute": TOLERANCE_UNITS[name], "relative": "1"}
            entry = self._keys(where, entry, (), [key for key, unit in units.items() if unit])
            parts = {key: getattr(MEASURING[name], key) for key in units}
            for key, most in (("absolute", math.inf), ("relative", 1)):
                if key in entry:
                    bare = "1" if key == "relative" else ""
                    parts[key] = self._quantity((*where, key), entry[key], units[key], bare)
                if not 0 <= parts[key] <= most:
                    raise self.toml.error(
                        (*where, key),
                        f"a tolerance cannot be {parts[key]:g}",
                        "Give zero or more; a share no more than 100 %.",
                    )
            yield name, Tolerance(**parts)

    def _steps(self, table: Any) -> Iterator[tuple[str, float]]:
        for where, name, item in self._entries(("steps",), table, STEPS, "kind of work"):
            value = self._quantity(where, item, STEP_UNITS[name], "")
            more_than_none = Span(0, low_open=True)
            self._possible(where, f"step of {name}", value, more_than_none, STEP_UNITS[name])
            yield name, value

    def _colours(self, table: Any) -> Iterator[tuple[str, tuple[str, str]]]:
        for where, band, entry in self._entries(("colours",), table, BANDS, "band"):
            entry = self._keys(where, entry, ("fill", "text"))
            for key, colour in entry.items():
                if not isinstance(colour, str) or not _COLOUR.match(colour):
                    raise self.toml.error(
                        (*where, key), f"{colour!r} is not a colour", 'Write it as "#C6E4F2".'
                    )
            fill, text = entry["fill"].upper(), entry["text"].upper()
            ratio = _contrast(fill, text)
            if ratio < _CONTRAST:
                raise self.toml.error(
                    where,
                    f"text and fill of {band!r} differ by {ratio:.1f}:1, too little to read",
                    f"Choose colours with a contrast of at least {_CONTRAST}:1.",
                )
            yield band, (fill, text)

    def _accepted(self, entries: Any) -> Iterator[Accepted]:
        if not isinstance(entries, list):
            raise self.toml.error(
                ("accepted",), "is not a list of deviations", "Head each one [[accepted]]."
            )
        texts = ("tag", "check", "reason", "by")
        for number, entry in enumerate(entries):
            where: Where = ("accepted", number)
            entry = self._keys(where, entry, (*texts, "until"), ("load_point",))
            said = {key: self._text((*where, key), entry[key]) for key in texts}
            check = said["check"]
            if check not in CHECKS:
                raise self._unknown((*where, "check"), check, CHECKS, "check")
            if CHECKS[check].information:
                raise self.toml.error(
                    (*where, "check"),
                    f"{check} gives numbers and no verdict, so nothing can be accepted",
                    "Take the entry out.",
                )
            yield Accepted(
                **said,
                until=self._date((*where, "until"), entry["until"]),
                load_point=self._word((*where, "load_point"), entry.get("load_point", "")),
            )

    # --- values --------------------------------------------------------------------------

    def _table(self, where: Where, item: Any) -> dict[str, Any]:
        if not isinstance(item, dict):
            name = ".".join(map(str, where))
            raise self.toml.error(where, f"{name} is not a table", f"Head it [{name}].")
        return item

    def _entries(
        self, where: Where, table: Any, known: Collection[str], what: str
    ) -> list[tuple[Where, str, Any]]:
        """Place, name and content of what a table holds, all of it known."""
        table = self._table(where, table)
        self._known(where, table, known, what)
        return [((*where, name), name, entry) for name, entry in table.items()]

    def _keys(
        self, where: Where, entry: Any, required: Collection[str], further: Collection[str] = ()
    ) -> dict[str, Any]:
        """A table that has the required keys, and no others than these and the further ones."""
        table = self._table(where, entry)
        self._known(where, table, (*required, *further), "key")
        for key in required:
            if key not in table:
                name = ".".join(str(step) for step in where if isinstance(step, str))
                raise self.toml.error(where, f"{key} is missing from {name}", f"Add {key} = ….")
        return table

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
