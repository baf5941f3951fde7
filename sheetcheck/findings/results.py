"""What a run of all checks over a register gives: columns per check, and single verdicts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from ..checks.declare import Check, Cite
from ..register.fields import FIELDS, Tolerance
from ..register.register import Register, cell_reference
from .columns import Array, Columns
from .judge import SHORT, relative
from .plant import Ruling
from .steps import Steps

if TYPE_CHECKING:
    import pandas as pd

    from .remedies import Offers

__all__ = ["BANDS", "CheckResult", "Findings", "Number", "Verdict"]

BANDS = ("meets", "marginal", "falls short", "not judged", "not applicable", "information")
"""Band words; a band column holds indices into this tuple."""

# A rating that is bounded from the strength has its cell.
_SERVES_AS = {"belt_nominal_strength": ("belt_nominal_strength", "belt_rated_tension")}

Number = float | tuple[float, float] | None
"""A number, a range, or nothing."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """One check on one register row, as it is shown and written.

    Attributes
    ----------
    found, required, margin
        In `unit` (SI); margin is positive where the requirement is met.
    cells
        Field to source cell of every input that was recorded.
    assumptions
        What was assumed, bounded or not compared.
    if_known
        For *not judged* by bounding: field to value to the band that value would give.
    flips_at
        Measured input to the value at which the band changes; None where none exists,
        ``"at a table step"`` where it sits on one.
    numbers
        Named extra results.
    source, grade
        The authority as one line, and how it was read (S, Q, D, C, M).
    basis
        What the check stands on, of `BASES`.
    rests_on_doubtful
        Inputs that were used although they are doubtful.
    remedy, alternatives
        What to do first, with numbers, and what else would do, each at most 160 characters;
        empty where nothing is called for.
    side_effects
        Of the remedy and of each alternative, the checks that it makes worse and how; empty where
        none does.
    accepted
        The accepted deviation that covers this verdict, in words; empty where none.
    """

    key: str
    row: int
    band: str
    why: str
    found: Number
    required: Number
    unit: str
    margin: Number
    relative_margin: Number
    cells: Mapping[str, str]
    assumptions: tuple[str, ...]
    if_known: Mapping[str, Mapping[str, str]]
    flips_at: Mapping[str, float | str | None]
    numbers: Mapping[str, Any]
    source: str
    grade: str
    basis: str
    rests_on_doubtful: tuple[str, ...]
    remedy: str
    alternatives: tuple[str, ...]
    side_effects: tuple[str, ...]
    accepted: str = ""

    @property
    def to_do(self) -> str:
        """The remedy and its alternatives, a line each."""
        return "\n".join((self.remedy, *self.alternatives))


@dataclass
class CheckResult:
    """One check over all n rows of a register.

    Attributes
    ----------
    limits
        The limits used.
    band, why
        Band codes (int8, into `BANDS`) and reasons.
    ends
        ``found``, ``required`` and ``margin``, each as (low, high) columns.
    uncertainty
        Combined measuring uncertainty of the margin, NaN where not guarded.
    numbers, more
        Named extra results as (low, high) columns, and those asked for once (any shape).
    notes, assumed
        (rows, text) that hold for many rows; `assumptions` by single row.
    cites
        (rows, authority) where it is not the check's own.
    if_known
        Row to field to value to band.
    flips
        Field to column; NaN for none, infinite for "at a table step".
    none_of
        (rows, fields) of which none is recorded though one is needed.
    outside
        Rows that are not judged because they lie outside the method, whatever else they lack.
    """

    check: Check
    limits: dict[str, float]
    band: Array
    why: Array
    ends: dict[str, tuple[Array, Array]]
    uncertainty: Array
    numbers: dict[str, tuple[Array, Array]]
    notes: list[tuple[Array, str]]
    cites: list[tuple[Array, Cite]]
    more: dict[str, Array] = field(default_factory=dict)
    assumed: list[tuple[Array, str]] = field(default_factory=list)
    assumptions: dict[int, tuple[str, ...]] = field(default_factory=dict)
    if_known: dict[int, dict[str, dict[str, str]]] = field(default_factory=dict)
    flips: dict[str, Array] = field(default_factory=dict)
    none_of: list[tuple[Array, tuple[str, ...]]] = field(default_factory=list)
    outside: Array = field(default_factory=lambda: np.zeros(0, bool))

    def number(self, name: str) -> tuple[Array, Array]:
        """Ends of one of its numbers, in every row; NaN where it has none of that name."""
        both = {**self.numbers, **self.ends}
        column = self.more.get(name, np.full(len(self.band), np.nan))
        return both.get(name, (column, column))

    @cached_property
    def relative_margin(self) -> Array:
        """Worse end of margin ÷ required; NaN where either is unknown or required is 0."""
        return relative(self.ends["margin"][0], self.ends["required"][0])


class Findings:
    """All checks over one register.

    Parameters
    ----------
    register, columns
        What was judged.
    results
        Check key to result, in report order.
    limits
        Check key to limit name to value where a plant changed it.
    measuring
        Measuring tolerances used.

    Attributes
    ----------
    ruling
        What the plant's own decisions come to; nothing, until they are put there. It never
        touches a band or a number.
    steps
        Trade steps of what is to be set out.
    """

    def __init__(
        self,
        register: Register,
        columns: Columns,
        results: dict[str, CheckResult],
        limits: Mapping[str, Mapping[str, float]],
        measuring: Mapping[str, Tolerance],
    ) -> None:
        self.register = register
        self.columns = columns
        self.results = results
        self.limits = limits
        self.measuring = measuring
        self.words = columns.words
        self.ruling = Ruling()
        self.steps = Steps(self.words)

    def __len__(self) -> int:
        return len(self.register)

    @cached_property
    def doubts(self) -> dict[tuple[str, bool], dict[str, str]]:
        """Problems of the source: (field, whether it was used) to cell reference to words."""
        found: dict[tuple[str, bool], dict[str, str]] = {}
        for problem in self.register.problems:
            if problem.field is None:
                continue
            for name, cell in product(
                _SERVES_AS.get(problem.field, (problem.field,)), problem.cells
            ):
                reference = cell if "!" in cell else cell_reference(problem.sheet, cell)
                said = found.setdefault((name, problem.used), {})
                text = f"{problem.text!r} {problem.problem}" if problem.text else problem.problem
                said[reference] = f"{said[reference]}; {text}" if reference in said else text
        return found

    @cached_property
    def doubtful(self) -> dict[str, Array]:
        """Field to the rows whose value was used although it is doubtful."""
        found: dict[str, Array] = {}
        every = list(range(len(self)))
        for (name, used), said in self.doubts.items():
            cells = {cell for cell, text in said.items() if "doubtful" in text}
            if used and cells:
                rows = [cell in cells for cell in self.register.cells.addresses(every, name)]
                found[name] = np.array(rows, bool)
        return found

    @cached_property
    def resting(self) -> dict[str, Array]:
        """Check to the rows whose verdict rests on a value that is doubtful."""
        found = {}
        for key, result in self.results.items():
            rows = np.zeros(len(self), bool)
            for name in result.check.fields:
                for source, doubtful in self.doubtful.items():
                    if source in (name, FIELDS[name].stand_in):
                        read = self.columns.seen_by(result.check).read_from(name, source)
                        rows |= doubtful & read
            found[key] = rows & (result.band <= SHORT)
        return found

    def __deepcopy__(self, memo: Any) -> Findings:
        # Never changed once made; pandas copies what it carries in a table's attributes.
        return self

    @cached_property
    def rank(self) -> Array:
        """Rank of each row, 1 the worst."""
        from .rank import rank_rows

        return rank_rows(self)

    @cached_property
    def offers(self) -> Offers:
        """Remedies that set inputs, as tried and judged again."""
        from .remedies import Offers

        return Offers(self)

    def verdicts(self, row: int) -> Iterator[Verdict]:
        """Every check's verdict on one row, in report order."""
        from .verdict_columns import VerdictColumns

        columns = VerdictColumns(self, np.array([row]))
        return (columns.verdicts(key)[0] for key in self.results)

    def missing_inputs(self, key: str, row: int) -> tuple[str, ...]:
        """Needed inputs that this row does not record; of a set of which one is needed, all."""
        result = self.results[key]
        lacking = [n for n in result.check.inputs if self.columns.missing(n)[row]]
        for rows, names in result.none_of:
            if rows[row]:
                lacking += names
        return tuple(dict.fromkeys(lacking))

    def numbers(self, key: str, row: int) -> dict[str, Any]:
        """Named extra results of one verdict: a number, a [low, high] pair, words, or a list."""
        from .verdict_columns import VerdictColumns

        return VerdictColumns(self, np.array([row])).numbers(key)[0]

    def verdict(self, key: str, row: int) -> Verdict:
        """The verdict of one check on one row."""
        from .verdict_columns import VerdictColumns

        return VerdictColumns(self, np.array([row])).verdicts(key)[0]

    def only(self, kept: Mapping[str, Array]) -> Findings:
        """Keep some verdicts (check key to register rows); all others are said to be left out."""
        results, none = {}, np.int8(BANDS.index("not applicable"))
        for key, result in self.results.items():
            left_out = np.ones(len(self), bool)
            left_out[kept.get(key, [])] = False

            def cut(ends: Mapping[str, tuple[Array, Array]], out: Array = left_out) -> Any:
                return {
                    name: (np.where(out, np.nan, low), np.where(out, np.nan, high))
                    for name, (low, high) in ends.items()
                    if low.dtype.kind == "f"
                }

            results[key] = replace(
                result,
                band=np.where(left_out, none, result.band),
                why=np.where(left_out, "left out of what this report was asked for", result.why),
                ends=cut(result.ends),
                numbers=cut(result.numbers),
                notes=[(rows & ~left_out, text) for rows, text in result.notes],
                assumed=[(rows & ~left_out, text) for rows, text in result.assumed],
            )
        made = Findings(self.register, self.columns, results, self.limits, self.measuring)
        made.ruling, made.steps = self.ruling, self.steps
        return made

    def frame(self) -> pd.DataFrame:
        """All verdicts as a long pandas table: one row per register row and check.

        A range has its ends in ``found`` and ``found_high`` and so on, a single number is in both.
        """
        import pandas as pd

        from .verdict_columns import VerdictColumns

        every = VerdictColumns(self, np.arange(len(self)))
        checks = [every.of(key) for key in self.results]
        tags = self.register.values["tag"].tolist()
        columns: dict[str, Any] = {"tag": [str(tag) for tag in tags for _ in checks]}
        for name in Verdict.__slots__:
            items = [
                item for row in zip(*(of[name] for of in checks), strict=True) for item in row
            ]
            if name in ("found", "required", "margin", "relative_margin"):
                ends = [item if isinstance(item, tuple) else (item, item) for item in items]
                columns[name] = np.array([low for low, _ in ends], float)
                columns[f"{name}_high"] = np.array([high for _, high in ends], float)
            else:
                columns[name] = items
        return pd.DataFrame(columns).rename(columns={"key": "check"})
