"""The form in which results are read back: a JSON file, or the record of a checked workbook.

Anybody may have edited them since, so what is not of this form is refused by its key. What the
form does not name is passed over.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Annotated, Any, Literal, NotRequired, TypedDict

from msgspec import Meta, Raw, ValidationError, defstruct
from msgspec.json import decode
from msgspec.structs import asdict

from ..errors import UnusableCall, UnusableInput
from ..findings.results import BANDS
from ..register.fields import FIELDS
from ..units import UNITS
from .run_record import COLUMN, LIMITS, MAP, ROW, RUN, TITLE

__all__ = ["parse_results", "read_record"]


def _form(name: str, more: Any = None, /, **keys: Any) -> Any:
    return TypedDict(name, {**(more.__annotations__ if more else {}), **keys})  # type: ignore


_TEXT: Any = Annotated[str, Meta(max_length=40_000)]  # more than a cell holds
_MAYBE: Any = _TEXT | None
_WHOLE: Any = Annotated[int, Meta(ge=-(10**15), le=10**15)]
_NUMBER: Any = _WHOLE | Annotated[float, Meta(ge=-1e200, le=1e200)]
_PAIR: Any = Annotated[list[_NUMBER | None], Meta(min_length=2, max_length=2)]
_FIGURE: Any = _NUMBER | _PAIR | None
_BAND: Any = Literal[tuple(BANDS)]
_VERDICT: Any = _form("Verdict", band=_BAND, found=_FIGURE, required=_FIGURE)
_COLUMN: Any = _form("Column", sheet=_TEXT, header=_TEXT, field=_MAYBE, unit=_MAYBE)
_ROW: Any = _form(
    "Row", tag=_TEXT, load_point=_MAYBE, sheet=_TEXT, row=_WHOLE,
    values=_form("Values", **dict.fromkeys(FIELDS, NotRequired[_FIGURE | bool | str])),
    derived=list[_TEXT], approximate=NotRequired[list[_TEXT]], checks=dict[_TEXT, _VERDICT],
)  # fmt: skip
_TOLERANCE: Any = _form("Tolerance", absolute=_NUMBER, relative=_NUMBER)
_LIMIT: Any = _form(
    "Limit", check=_TEXT, name=_TEXT, value=_NUMBER, default=_NUMBER, unit=_TEXT,
    laxer_than_published=bool,
)  # fmt: skip
_RANGE: Any = _form("Range", name=_TEXT, low=_NUMBER, high=_NUMBER, default=_PAIR, unit=_TEXT)
_ACCEPTED: Any = _form(
    "Accepted", tag=_TEXT, load_point=_MAYBE, check=_TEXT, until=_TEXT, state=_TEXT
)
_PLANT: Any = _form(
    "Plant", jurisdiction=NotRequired[_MAYBE], currency=NotRequired[_MAYBE],
    labour_rate=NotRequired[_NUMBER | None], operating_hours=NotRequired[_NUMBER | None],
    limits=NotRequired[list[_LIMIT]], ranges=NotRequired[list[_RANGE]],
    tolerances=NotRequired[dict[_TEXT, _TOLERANCE]], weights=NotRequired[dict[_TEXT, _NUMBER]],
    accepted=NotRequired[list[_ACCEPTED]],
)  # fmt: skip
_RUN: Any = _form(
    "Run", format=Literal[1], tool=_form("Tool", version=_TEXT),
    source=_form("Source", file=_TEXT, sha256=_TEXT), plant=NotRequired[_PLANT],
)  # fmt: skip
_RESULT: Any = _form("Result", _RUN, columns=list[_COLUMN], rows=list[_ROW])

# A record says the same in fewer words, and how to run again.
_SURE: Any = Annotated[float, Meta(ge=0, le=1)]
_RECORD_RUN: Any = _form("RecordRun", _RUN, date=date | None, sheet=_MAYBE, limits_file=_MAYBE)
_RECORD_COLUMN: Any = _form(
    "RecordColumn", _COLUMN, column=_TEXT, why=_TEXT, confidence=_SURE,
    field=Literal[tuple(FIELDS)] | None, unit=Literal[(*UNITS, "TPH")] | None,
)  # fmt: skip
_RECORD_VERDICT: Any = defstruct(
    "RecordVerdict",
    [("band", _BAND), ("found", _FIGURE, None), ("required", _FIGURE, None)],
    array_like=True,
)
_RECORD_ROW: Any = _form("RecordRow", _ROW, checks=dict[_TEXT, _RECORD_VERDICT])


def parse_results(content: bytes, name: str) -> list[dict[str, Any]]:
    """Read what ``check --json`` has written, one object for each workbook of it.

    Raises UnusableCall, which calls the file `name`, where it is something else.
    """
    try:
        whole = decode(content, type=dict[str, Raw])
        if "workbooks" in whole:
            several = Annotated[list[_RESULT], Meta(min_length=1)]
            return list(decode(whole["workbooks"], type=several))
        return [decode(content, type=_RESULT)]
    except ValidationError as error:
        problem = f"does not hold results in a form that this version reads ({error})"
    except (ValueError, RecursionError):
        problem = "is not whole JSON"
    raise UnusableCall(name, problem, "Give a file that check --json has written.")


def read_record(rows: Iterable[Sequence[object]], file: str) -> dict[str, Any]:
    """Read the record of a checked workbook: the cells of that sheet, from the top.

    Gives what `parse_results` does, with every column, unmapped ones too, and ``column_map`` and
    ``limits_text`` ("" where there was none), ``sheet``, ``limits_file`` and ``date`` (or None).
    Raises UnusableInput where the sheet holds no such lines, or they were edited.
    """
    texts: dict[str, list[str]] = {kind: [] for kind in (RUN, MAP, LIMITS, COLUMN, ROW)}
    begun = False
    for cells in rows:
        kind = str(cells[0]) if cells else ""
        begun = begun or kind == TITLE
        if begun and kind == RUN:
            # A record that somebody wrote into stands before the one that is ours.
            texts = {name: [] for name in texts}
        if begun and kind in texts:
            texts[kind].append("".join(str(cell) for cell in cells[1:]))
    where = f"{file}, sheet Check record"
    if not texts[RUN]:
        raise UnusableInput(
            where,
            f"holds no part headed {TITLE!r}",
            "Check the register again with this version, or give the --json file of that run.",
        )
    kind = RUN
    try:
        found: dict[str, Any] = decode(texts[RUN][0], type=_RECORD_RUN)
        kind = COLUMN
        found["columns"] = [decode(text, type=_RECORD_COLUMN) for text in texts[COLUMN]]
        kind = ROW
        found["rows"] = [decode(text, type=_RECORD_ROW) for text in texts[ROW]]
    except (ValueError, RecursionError) as error:
        raise UnusableInput(
            where,
            f"the lines under {TITLE!r} have been edited and cannot be read (a line {kind!r}: "
            f"{error})",
            "Check the register again, or give the --json file of that run.",
        ) from None
    for row in found["rows"]:
        row["checks"] = {key: asdict(verdict) for key, verdict in row["checks"].items()}
    return found | {
        "column_map": "\n".join(texts[MAP]),
        "limits_text": "\n".join(texts[LIMITS]),
    }
