"""Values derived from others, and problems that lie between fields; knows no workbook."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..units import factor
from .doubts import doubt_pairs, doubt_values, drop_absurd, drop_strength_as_rating
from .fields import FIELDS
from .ranges import DEFAULTS, RANGES, Ends
from .register import Problem, Register, cell_reference, split_reference

__all__ = ["Designation", "complete", "parse_designation", "with_ranges"]

Numbers = np.ndarray[Any, np.dtype[np.float64]]

_RATING = "strength_to_rating_"
_ENDS = ("tail", "head", "belt")
_CONTRADICTS = 0.05 + 1e-9
"""Share by which a recorded tension ratio may differ from the derived one."""


@dataclass(frozen=True, slots=True)
class Designation:
    """What a belt designation says.

    Attributes
    ----------
    carcass
        ``"fabric"``, ``"steel cord"`` or "".
    nominal_strength
        Breaking strength, kN/m; NaN where it says none.
    rated_tension
        Rated working tension, kN/m; NaN where it says none.
    """

    carcass: str = ""
    nominal_strength: float = float("nan")
    rated_tension: float = float("nan")


_FABRIC = re.compile(
    r"(?<![A-Z])(?:EP|PN|NN|PP|EE|N/N|P/P|E/P)\s*-?\s*(?P<strength>\d{2,4})(?!\d|\s*(?:PIW|MM)\b)"
)
_STEEL = re.compile(r"(?<![A-Z])ST\s*[-/]?\s*(?P<strength>\d{3,5})\b")
_STEEL_WORD = re.compile(r"STEEL[\s-]*CORD|STAHLSEIL|CABLES? DE ACERO|\bSTEEL\b|\bST\b")
_FABRIC_WORD = re.compile(
    r"\b(?:EP|NN|PP|N/N|FABRIC|TEXTILE|PLY|PLIES|POLYESTER|NYLON|TELAS?|LONAS?)\b|\d\s*-?\s*PLY"
)
_PIW = re.compile(r"(?P<tension>\d{2,4})\s*PIW\b|\bPIW\s*(?P<after>\d{2,4})\b")
_PLY = re.compile(r"\b(?P<ply>\d)\s*-?\s*PLY\s*[-/ ]?\s*(?P<tension>\d{3,4})\b(?!\s*N)")


def parse_designation(text: str) -> Designation:
    """Read a belt designation.

    Parameters
    ----------
    text
        Such as ``EP 800/4``, ``ST 2500``, ``3-ply 330`` or ``450 PIW``.

    Returns
    -------
    Designation

    Notes
    -----
    EP, NN and similar numbers are the breaking strength of the whole carcass in N/mm of width
    (ISO 14890 designates textile belts so; from memory), ST numbers that of steel-cord belts
    (ISO 15236-1; from memory). PIW classes, and the number after a ply count, are rated working
    tensions in lbf per inch of width (from memory).
    """
    upper = " ".join(text.upper().split())
    if steel := _STEEL.search(upper):
        return Designation("steel cord", nominal_strength=float(steel["strength"]))
    piw = _PIW.search(upper)
    rated = float("nan")
    to_si = factor("lbf/in", "kN/m")
    assert to_si is not None
    if piw:
        rated = float(piw["tension"] or piw["after"]) * to_si
    elif ply := _PLY.search(upper):
        rated = float(ply["tension"]) * to_si
    if fabric := _FABRIC.search(upper):
        return Designation("fabric", float(fabric["strength"]), rated)
    if _STEEL_WORD.search(upper):
        return Designation("steel cord", rated_tension=rated)
    if _FABRIC_WORD.search(upper) or not np.isnan(rated):
        return Designation("fabric" if _FABRIC_WORD.search(upper) else "", rated_tension=rated)
    return Designation()


def complete(register: Register) -> None:
    """Add derived values to a register, and problems between fields; changes it in place.

    Parameters
    ----------
    register
        Values in SI.

    Notes
    -----
    Nothing that was recorded is overwritten, with three exceptions: a transition longer than its
    conveyor is taken out, as the catalogue says, and so are a breaking strength given as a rating
    and a value ten times beyond any that a plant would hardly have.
    """
    drop_absurd(register)
    _tell_apart(register)
    _share_belt(register)
    _drop_long_transitions(register)
    _doubt_chutes(register)
    _from_designation(register)
    drop_strength_as_rating(register)
    _rating_from_strength(register, DEFAULTS)
    for end in _ENDS:
        _ratio_from_tension(register, end, range(len(register)))
    for cleaner in ("primary", "secondary"):
        _cleaner_from_blade(register, cleaner)
    doubt_values(register)
    doubt_pairs(register)


def with_ranges(register: Register, ranges: Mapping[str, Ends]) -> Register:
    """Give a register whose ratings are bounded by a plant's own ranges.

    Parameters
    ----------
    register
        From `complete`; not changed.
    ranges
        By the keys of `RANGES`, in place of the defaults.

    Notes
    -----
    Only what was derived over such a range is derived anew; the rest does not hang on it.
    """
    rows = sorted({row for row, _ in register.estimated})
    if not rows or not any(name.startswith(_RATING) for name in ranges):
        return register
    told = {_ratio(register, end, row)[1] for end in _ENDS for row in rows}
    again = replace(
        register,
        values=dict(register.values),
        intervals={k: v for k, v in register.intervals.items() if k not in register.estimated},
        derived={k: v for k, v in register.derived.items() if k not in register.estimated},
        approximate={
            (row, name)
            for row, name in register.approximate
            if (row, name) not in register.estimated
        },
        problems=[problem for problem in register.problems if problem not in told],
        estimated=set(),
        by_tension={item for item in register.by_tension if item not in register.estimated},
    )
    _rating_from_strength(again, {**DEFAULTS, **ranges})
    for end in _ENDS:
        _ratio_from_tension(again, end, rows)
    return again


def _ensure(register: Register, name: str) -> np.ndarray[Any, Any]:
    """Column of a field, made empty where the source has none."""
    if name not in register.values:
        size = len(register)
        kind = FIELDS[name].kind
        register.values[name] = (
            np.full(size, "", dtype="<U32")
            if kind in ("text", "choice")
            else np.full(size, np.nan)
        )
    return register.values[name]


def _cell(register: Register, row: int, *names: str) -> tuple[str, tuple[str, ...]]:
    """Sheet of the first named value, and the cells of all that stand on that sheet."""
    references = [register.cells.address(row, name) for name in names]
    parts = [split_reference(reference) for reference in references if reference]
    main = parts[0][0] if parts else register.cells.main(row)[0]
    cells = tuple(cell if sheet == main else cell_reference(sheet, cell) for sheet, cell in parts)
    return main, cells


def _between(
    register: Register, row: int, names: tuple[str, str], problem: str, todo: str, used: bool
) -> None:
    sheet, cells = _cell(register, row, *names)
    text = " and ".join(f"{register.value(row, name):.4g} m" for name in names)
    register.problems.append(Problem(sheet, cells, names[0], text, problem, todo, used))


def _known(*columns: Numbers) -> Iterator[int]:
    yield from np.flatnonzero(~np.isnan(np.stack(columns)).any(axis=0)).tolist()


def _conveyors(register: Register) -> list[list[int]]:
    """Rows of each conveyor."""
    conveyors: dict[int, list[int]] = {}
    for row, first in enumerate(register.first_row.tolist()):
        conveyors.setdefault(first, []).append(row)
    return list(conveyors.values())


def _tell_apart(register: Register) -> None:
    """Take rows of one tag whose belts differ for conveyors of their own, and ask."""
    for rows in _conveyors(register):
        firsts: list[int] = rows[:1]
        for row in rows[1:]:
            unlike = [_unlike(register, first, row) for first in firsts]
            if None in unlike:
                register.apart[row] = firsts[unlike.index(None)]
                continue
            name = str(unlike[0])
            sheet, cells = _cell(register, firsts[0], name)
            further, more = _cell(register, row, name)
            values = (_shown(register.value(at, name)) for at in (firsts[0], row))
            register.problems.append(
                Problem(
                    sheet,
                    cells
                    + tuple(c if further == sheet else cell_reference(further, c) for c in more),
                    name,
                    " and ".join(values),
                    f"rows of one tag differ in their {_meaning(name)}: is this one conveyor "
                    "twice, or two? Each was judged as a conveyor of its own",
                    "One: correct whichever is wrong. Two: give each a tag of its own.",
                    True,
                )
            )
            firsts.append(row)
            register.apart[row] = row
    register.__dict__.pop("first_row", None)


def _unlike(register: Register, first: int, row: int) -> str | None:
    """What tells two belts apart; None where nothing recorded does."""
    for name in ("belt_width", "belt_carcass", "conveyor_length", "belt_designation"):
        one, other = (register.value(at, name) for at in (first, row))
        if name == "belt_designation":
            one, other = (parse_designation(str(text or "")).carcass for text in (one, other))
        if one and other and not _close(one, other):
            return name
    return None


def _share_belt(register: Register) -> None:
    """Let the rows of one conveyor share what belongs to it, and compare what they say of it."""
    names = [
        name
        for name in register.values
        if FIELDS[name].per_belt or FIELDS[name].group in ("Cleaning", "Tracking")
    ]
    for rows in _conveyors(register):
        for name in names if len(rows) > 1 else ():
            _share(register, rows, name)


def _share(register: Register, rows: list[int], name: str) -> None:
    source = next((row for row in rows if register.value(row, name) is not None), None)
    if source is None:
        return
    belt = register.value(source, name)
    for row in rows:
        own = register.value(row, name)
        if own is None:
            _copy(register, source, row, name)
            address = register.cells.address(source, name)
            if address is not None:
                register.cells.exceptions[row, name] = address
            register.derived[row, name] = f"{_shown(belt)}, from another row of the conveyor" + (
                f" ({address})" if address else ""
            )
        elif FIELDS[name].per_belt and not _close(own, belt):
            sheet, cells = _cell(register, source, name)
            further = _cell(register, row, name)
            register.problems.append(
                Problem(
                    sheet,
                    cells
                    + tuple(
                        cell if further[0] == sheet else cell_reference(further[0], cell)
                        for cell in further[1]
                    ),
                    name,
                    f"{_shown(belt)} and {_shown(own)}",
                    f"rows of one conveyor disagree about its {_meaning(name)}; "
                    "each row kept its own value",
                    "Correct whichever is wrong.",
                    True,
                )
            )


def _meaning(name: str) -> str:
    return FIELDS[name].meaning.split(",")[0]


def _close(one: object, other: object) -> bool:
    """Whether two values differ by rounding only (1 %)."""
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= 0.01 * max(abs(one), abs(other))
    return one == other


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return " to ".join(f"{end:.6g}" for end in value)
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _copy(register: Register, source: int, target: int, name: str) -> None:
    register.values[name][target] = register.values[name][source]
    if name in register.positions:
        register.positions[name][target] = register.positions[name][source]
    if (source, name) in register.intervals:
        register.intervals[target, name] = register.intervals[source, name]
    if (source, name) in register.approximate:
        register.approximate.add((target, name))


def _drop_long_transitions(register: Register) -> None:
    length = register.values.get("conveyor_length")
    for end in ("tail", "head"):
        name = f"{end}_transition_length"
        transition = register.values.get(name)
        if length is None or transition is None:
            continue
        for row in np.flatnonzero(transition > length).tolist():
            _between(
                register,
                row,
                (name, "conveyor_length"),
                "the transition is longer than the conveyor; the transition was not used",
                "Correct whichever is wrong, or its unit.",
                False,
            )
            transition[row] = np.nan
            register.approximate.discard((row, name))


def _doubt_chutes(register: Register) -> None:
    chute, belt = register.values.get("chute_width_inside"), register.values.get("belt_width")
    if chute is None or belt is None:
        return
    for row in _known(chute, belt):
        if chute[row] < 0.2 * belt[row] or chute[row] > belt[row]:
            how = "wider than" if chute[row] > belt[row] else "less than a fifth of"
            _between(
                register,
                row,
                ("chute_width_inside", "belt_width"),
                f"are doubtful together: the chute is {how} the belt; both were used",
                "Confirm or correct the widths and their units.",
                True,
            )


def _from_designation(register: Register) -> None:
    texts = register.values.get("belt_designation")
    if texts is None:
        return
    read = {text: parse_designation(text) for text in dict.fromkeys(texts.tolist()) if text}
    for row, text in enumerate(texts.tolist()):
        if not text:
            continue
        found = read[text]
        if found.carcass and register.value(row, "belt_carcass") is None:
            column = _ensure(register, "belt_carcass")
            if column.dtype.itemsize < 4 * len(found.carcass):
                column = register.values["belt_carcass"] = column.astype("<U32")
            column[row] = found.carcass
            register.derived[row, "belt_carcass"] = f"{found.carcass}, from {text!r}"
        for name, value in (
            ("belt_nominal_strength", found.nominal_strength),
            ("belt_rated_tension", found.rated_tension),
        ):
            if np.isnan(value) or register.value(row, name) is not None:
                continue
            if name == "belt_rated_tension" and _no_rating(register, row, value):
                continue
            _ensure(register, name)[row] = value
            _cite(register, row, name, "belt_designation")
            register.derived[row, name] = f"{value:.4g} kN/m, from {text!r}"


def _no_rating(register: Register, row: int, rating: float) -> bool:
    """Whether what a designation gives is no rating, as the recorded breaking strength tells.

    Some write the strength where others write the rating; taken for the rating it is several times
    too much.
    """
    strength = register.value(row, "belt_nominal_strength")
    if not isinstance(strength, float) or (row, "belt_nominal_strength") in register.derived:
        return False
    carcass = str(register.value(row, "belt_carcass") or "steel cord")  # unknown: the lower end
    least = RANGES[_RATING + carcass.replace(" ", "_")].ends[0]
    if strength >= least * rating * (1 - 1e-9):
        return False
    sheet, cells = _cell(register, row, "belt_designation", "belt_nominal_strength")
    register.problems.append(
        Problem(
            sheet,
            cells,
            "belt_designation",
            str(register.value(row, "belt_designation")),
            f"gives no rating: the breaking strength of {strength:.4g} kN/m is only "
            f"{strength / rating:.3g} times what would be its rating, and {least:g} times is the "
            "least that is usual",
            "Record the rated (allowable working) tension.",
            False,
        )
    )
    return True


def _rating_from_strength(register: Register, ranges: Mapping[str, Ends]) -> None:
    strength, carcass = (
        register.values.get("belt_nominal_strength"),
        register.values.get("belt_carcass"),
    )
    if strength is None or carcass is None:
        return
    for row in _known(strength):
        name = _RATING + str(carcass[row]).replace(" ", "_")
        if name not in ranges or register.value(row, "belt_rated_tension") is not None:
            continue
        nominal = float(strength[row])
        least, most = ranges[name]
        low, high = nominal / most, nominal / least
        whose = "common practice" if ranges[name] == RANGES[name].ends else "the plant's own range"
        _ensure(register, "belt_rated_tension")
        register.intervals[row, "belt_rated_tension"] = (low, high)
        register.estimated.add((row, "belt_rated_tension"))
        _cite(register, row, "belt_rated_tension", "belt_nominal_strength")
        register.derived[row, "belt_rated_tension"] = (
            f"{low:.4g} to {high:.4g} kN/m: no rating recorded, nominal strength "
            f"{nominal:.4g} kN/m divided by {least:g} to {most:g} "
            f"({carcass[row]}; {whose})"
        )


def _cite(register: Register, row: int, name: str, source: str) -> None:
    """Give a derived value the cell of what it is from: its own is blank."""
    if reference := register.cells.address(row, source):
        register.cells.exceptions[row, name] = reference


def _ends(register: Register, row: int, name: str) -> Ends | None:
    value = register.value(row, name)
    if isinstance(value, tuple):
        return value
    return None if value is None or isinstance(value, str) else (float(value), float(value))


def _ratio(register: Register, end: str, row: int) -> tuple[Ends | None, Problem | None]:
    """Operating over rated tension, and what is the matter with it; nothing without both."""
    tension, name = f"{end}_operating_tension", f"{end}_tension_ratio"
    pulled, rated = _ends(register, row, tension), _ends(register, row, "belt_rated_tension")
    if pulled is None or rated is None:
        return None, None
    low, high = pulled[0] / rated[1], pulled[1] / rated[0]
    own = None if (row, name) in register.by_tension else _ends(register, row, name)
    possible = FIELDS[name].possible
    text = f"{pulled[1]:.4g} and {rated[0]:.4g} kN/m"
    if own is None:
        if possible.holds(low) and possible.holds(high):
            return (low, high), None
        said = f"operating tension is {high:.3g} times the rating; no ratio was derived"
        todo, names = "Correct the tension, the rating or their units.", [tension]
    elif own[1] >= low * (1 - _CONTRADICTS) and own[0] <= high * (1 + _CONTRADICTS):
        return None, None
    else:
        words = f"{low:.3g}" if low == high else f"{low:.3g} to {high:.3g}"
        said = f"is doubtful: operating tension divided by rated tension is {words}; it was used"
        text = f"{_shown(own if own[0] != own[1] else own[0])} beside {text}"
        todo, names = "Correct the ratio, the tension or the rating.", [name, tension]
    sheet, cells = _cell(register, row, *names, "belt_rated_tension")
    return None, Problem(sheet, cells, names[0], text, said, todo, used=own is not None)


def _ratio_from_tension(register: Register, end: str, rows: Iterable[int]) -> None:
    tension, ratio = f"{end}_operating_tension", f"{end}_tension_ratio"
    if not register.has(tension) or not register.has("belt_rated_tension"):
        return
    problems: dict[Problem, None] = {}  # rows of one conveyor may share the cells
    for row in rows:
        found, problem = _ratio(register, end, row)
        if problem:
            problems[problem] = None
        if found is None:
            continue
        low, high = found
        column = _ensure(register, ratio)
        if low == high:
            column[row] = low
        else:
            register.intervals[row, ratio] = (low, high)
        words = f"{low:.3g}" if low == high else f"{low:.3g} to {high:.3g}"
        register.derived[row, ratio] = f"{words}, operating tension divided by rated tension"
        register.by_tension.add((row, ratio))
        if (row, "belt_rated_tension") in register.estimated:
            register.estimated.add((row, ratio))
        if (row, tension) in register.approximate:
            register.approximate.add((row, ratio))
    register.problems += problems


def _cleaner_from_blade(register: Register, cleaner: str) -> None:
    blades = register.values.get(f"{cleaner}_blade")
    if blades is None:
        return
    name = f"{cleaner}_cleaner"
    unread = {
        cell_reference(problem.sheet, cell)
        for problem in register.problems
        if problem.field == name and not problem.used
        for cell in problem.cells
    }
    for row in np.flatnonzero(blades != "").tolist():
        fitted = register.value(row, name)
        if fitted is None and register.cells.address(row, name) in unread:
            # "yes, broken" is no fitted cleaner, whatever blade it once had.
            continue
        if fitted is None:
            _ensure(register, name)[row] = 1.0
            register.derived[row, name] = f"fitted, because a {blades[row]} blade is named"
        elif fitted is False:
            sheet, cells = _cell(register, row, name, f"{cleaner}_blade")
            register.problems.append(
                Problem(
                    sheet,
                    cells,
                    name,
                    f"no, and {blades[row]}",
                    "no cleaner is said to be fitted, yet a blade is named; 'no' was used",
                    "Correct whichever is wrong.",
                    True,
                )
            )
