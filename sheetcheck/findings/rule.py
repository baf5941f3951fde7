"""A register judged under a plant's own decisions, and what those decisions come to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date

import numpy as np

from ..checks import CHECKS
from ..register.derive import with_ranges
from ..register.fields import FIELDS
from ..register.register import Register, same_tag_key
from ..tables import source_line
from .columns import Columns
from .evaluate import evaluate
from .judge import MARGINAL, NOT_JUDGED, SHORT
from .plant import Accepted, Notice, Plant, Ruling, changed, laxer_than_published
from .ranges import checks_of, narrower, range_words, served
from .results import BANDS, Findings
from .steps import Steps
from .words import Words, say

__all__ = ["check_register", "limit_words", "with_plant_figures"]

_STAND_INS = ("labour_rate", "operating_hours")


def check_register(
    register: Register,
    plant: Plant | None = None,
    *,
    limits: Mapping[str, Mapping[str, float]] | None = None,
    on: date | None = None,
) -> Findings:
    """Judge a register under a plant's decisions.

    Parameters
    ----------
    register
        The register; not changed.
    plant
        What the limits file says; None for the declared defaults.
    limits
        Further limits by check key and name, in SI; these go before the plant's.
    on
        Date that decides which accepted deviations have run out; today where not given. Nothing
        else hangs on it.
    """
    values = {key: dict(names) for key, names in (plant.values if plant else {}).items()}
    for key, names in (limits or {}).items():
        values.setdefault(key, {}).update(names)
    if plant is None:
        findings = evaluate(register, values)
    else:
        ranges = {item.name: item.ends for item in plant.ranges}
        register = with_plant_figures(with_ranges(register, ranges), plant)
        findings = evaluate(register, values, measuring=plant.tolerances, ranges=ranges)
        findings.steps = Steps(findings.words, plant.steps)
        _say_ranges(findings, plant)
    for key, names in findings.limits.items():
        said = (limit_words(findings.words, key, name, value) for name, value in names.items())
        every = np.ones(len(findings), bool)
        findings.results[key].assumed += [(every, text) for text in said if text]
    findings.ruling = _rule(findings, plant, on or date.today())
    return findings


def _say_ranges(findings: Findings, plant: Plant) -> None:
    """Say of each verdict over a range of the plant's own that it is the plant's."""
    for item in plant.ranges:
        text = range_words(findings.words, item.name, item.ends)
        rows = served(item.name, findings.columns)
        for key in checks_of(item.name) if text and rows.any() else ():
            findings.results[key].assumed.append((rows, text))


def with_plant_figures(register: Register, plant: Plant) -> Register:
    """Give a register in which the plant's rate and hours stand where a row records none."""
    columns = Columns(register)
    values, derived = dict(register.values), dict(register.derived)
    for name in _STAND_INS:
        figure = getattr(plant, name)
        rows = columns.missing(name)
        if figure is None or not rows.any():
            continue
        values[name] = np.where(rows, figure, columns.get(name))
        text = f"{say(name)} {figure:g} {FIELDS[name].unit} taken from {plant.file}"
        derived.update(((row, name), text) for row in np.flatnonzero(rows).tolist())
    return replace(register, values=values, derived=derived)


def _rule(findings: Findings, plant: Plant | None, on: date) -> Ruling:
    notices = list(_laxer(findings, plant))
    if plant is None:
        return Ruling(on=on, notices=tuple(notices))
    notices += _narrower(findings, plant)
    rows: dict[str, list[int]] = {}
    for row, tag in enumerate(findings.register.values["tag"].tolist()):
        rows.setdefault(same_tag_key(tag), []).append(row)
    # Those in force first: what they cover is not reported as expired.
    accepted: dict[tuple[str, int], str] = {}
    states = [""] * len(plant.accepted)
    order = sorted(range(len(states)), key=lambda at: plant.accepted[at].until < on)
    for at in order:
        entry = plant.accepted[at]
        of_tag = rows.get(same_tag_key(entry.tag), [])
        of_point = [row for row in of_tag if _same_point(findings.register, row, entry)]
        band = findings.results[entry.check].band
        covered = [row for row in of_point if band[row] in (MARGINAL, SHORT)]
        expired = entry.until < on
        states[at] = "expired" if expired else "in force"
        if not covered:
            states[at] = "without effect" if of_tag else "no such tag"
        if not covered:
            notices.append(_without_effect(findings, entry, of_tag, of_point))
        elif not expired:
            law = findings.results[entry.check].check.basis == "law"
            said = f"by {entry.by} until {entry.until.isoformat()}: {entry.reason}"
            said = f"by the plant; the rule stands; {said}" if law else said
            for row in covered:
                accepted.setdefault((entry.check, row), said)
        elif not all((entry.check, row) in accepted for row in covered):
            notices.append(
                Notice(
                    "deviation expired",
                    entry.tag,
                    entry.check,
                    f"accepted by {entry.by} until {entry.until.isoformat()}, which is over: "
                    f"{entry.reason}",
                    "Cure it, or have it accepted again with a new date.",
                )
            )
    return Ruling(plant, on, accepted, tuple(states), tuple(notices))


def _same_point(register: Register, row: int, entry: Accepted) -> bool:
    own = register.value(row, "load_point")
    return not entry.load_point or str(own or "").casefold() == entry.load_point.casefold()


def _without_effect(
    findings: Findings, entry: Accepted, of_tag: list[int], of_point: list[int]
) -> Notice:
    band = findings.results[entry.check].band
    if not of_tag:
        text = "the register has no such tag"
        todo = (
            "Correct the tag, or take the entry out, unless another workbook of the site has it."
        )
    elif not of_point:
        text = f"the conveyor has no load point {entry.load_point!r}"
        todo = "Correct the load point, or take the entry out."
    else:
        bands = ", ".join(dict.fromkeys(BANDS[band[row]] for row in of_point))
        text, todo = f"the verdict is {bands}", "Take the entry out."
        if any(band[row] == NOT_JUDGED for row in of_point):
            text += ", and a verdict that is missing cannot be accepted"
            todo = "Record what is missing."
    return Notice(
        "deviation without effect",
        entry.tag,
        entry.check,
        f"a deviation accepted by {entry.by} covers nothing: {text}",
        todo,
    )


def _laxer(findings: Findings, plant: Plant | None) -> Iterator[Notice]:
    for key, names in findings.limits.items():
        for name, value in names.items():
            limit = CHECKS[key].limits[name]
            if not laxer_than_published(limit, value):
                continue
            own = plant.limit(key, name) if plant else None
            who = f"; set by {own.set_by} on {own.date.isoformat()}: {own.why}" if own else ""
            yield Notice(
                "laxer limit",
                "",
                key,
                limit_words(findings.words, key, name, value) + who,
                "Have it confirmed by whoever answers for the site, or take it out.",
            )


def _narrower(findings: Findings, plant: Plant) -> Iterator[Notice]:
    for item in plant.ranges:
        if narrower(item.name, item.ends):
            yield Notice(
                "narrower range",
                "",
                "",
                f"{range_words(findings.words, item.name, item.ends)}, so that more is judged "
                f"though it is not recorded; set by {item.set_by} on {item.date.isoformat()}: "
                f"{item.why}",
                "Have it confirmed by whoever answers for the site, or record what is missing.",
            )


def limit_words(words: Words, key: str, name: str, value: float) -> str:
    """Say how a limit that was changed stands to the default; empty where it was not changed."""
    limit = CHECKS[key].limits[name]
    if not changed(limit, value):
        return ""
    now, usual = (words.quantity(number, limit.unit) for number in (value, limit.value))
    source = source_line(limit.cite.key, limit.cite.locator)
    text = f"plant limit {now} for {limit.meaning}, in place of {usual}"
    if laxer_than_published(limit, value):
        text += f": laxer than published ({source})"
    return text
