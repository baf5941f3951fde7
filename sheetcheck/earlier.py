"""Results of earlier runs: read back, and compared."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .errors import OutputExists, UnusableCall
from .files import make_folder
from .run import read_checked

if TYPE_CHECKING:
    from .findings.compare import Comparison

__all__ = ["compare_results", "compared_path", "read_result"]

# What a comparison looks at, in the form in which ``check --json`` writes it.
_WORD, _MAYBE, _NUMBER = (str,), (str, type(None)), (int, float)
_FORM: dict[str, Any] = {
    "tool": {"version": _WORD},
    "source": {"file": _WORD},
    "columns": [{"sheet": _WORD, "header": _WORD, "field": _MAYBE, "unit": _MAYBE}],
    "rows": [
        {
            "tag": _WORD,
            "load_point": _MAYBE,
            "sheet": _WORD,
            "row": (int,),
            "values": (dict,),
            "derived": (list,),
            "checks": (dict,),
        }
    ],
}


def read_result(path: Path) -> list[dict[str, Any]]:
    """Read a result back, one object for each workbook of it.

    Parameters
    ----------
    path
        A ``--json`` file or a checked workbook.

    Raises
    ------
    UnusableCall, UnusableInput
        Where it is neither.
    """
    if path.suffix.casefold() != ".json":
        return [read_checked(path)]
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise UnusableCall(
            str(path), f"cannot be read ({error.strerror or error})", "Check the path."
        ) from None
    except (ValueError, RecursionError):
        raise UnusableCall(
            str(path), "is not whole JSON", "Give a file that check --json has written."
        ) from None
    several = found.get("workbooks", [found]) if isinstance(found, dict) else []
    if not isinstance(several, list) or not several or not all(map(_is_result, several)):
        raise UnusableCall(
            str(path),
            "does not hold results in a form that this version reads",
            "Give a file that check --json has written.",
        )
    return several


def _is_result(item: Any) -> bool:
    return (
        _has_form(item, _FORM)
        and item.get("format") == 1
        and all(
            all(isinstance(value, str) or _is_figure(value) for value in row["values"].values())
            and all(_is_verdict(verdict) for verdict in row["checks"].values())
            for row in item["rows"]
        )
    )


def _is_verdict(item: Any) -> bool:
    from .findings import BANDS

    return (
        _has_form(item, {"band": _WORD, "found": (object,), "required": (object,)})
        and item["band"] in BANDS
        and _is_figure(item["found"])
        and _is_figure(item["required"])
    )


def _is_figure(item: Any) -> bool:
    """Whether it is a number, a pair of them, or none."""
    if isinstance(item, list):
        return len(item) == 2 and _has_form(item, [(int, float, type(None))])
    return item is None or isinstance(item, _NUMBER)


def _has_form(item: Any, form: Any) -> bool:
    """Whether an object has the keys of `form`, of its kinds; a list, in each of its items."""
    if isinstance(form, dict):
        return isinstance(item, dict) and all(
            key in item and _has_form(item[key], kind) for key, kind in form.items()
        )
    if isinstance(form, list):
        return isinstance(item, list) and all(_has_form(one, form[0]) for one in item)
    return isinstance(item, form)


def compared_path(new: Path, out: Path | None) -> Path:
    """Where the comparison with a result is written: beside it, or in the folder `out`."""
    stem = new.stem.removesuffix(".checked")
    return (out or new.parent) / f"{stem}.compared.xlsx"


def compare_results(
    old: Path, new: Path, target: Path | None, json_file: Path | None, *, overwrite: bool
) -> Comparison:
    """Compare two results and write what was asked for.

    Parameters
    ----------
    old, new
        ``--json`` files or checked workbooks.
    target, json_file
        Workbook and JSON file to write; None for none.
    overwrite
        Whether they may be replaced.

    Raises
    ------
    SheetcheckError
        Where a result cannot be read, or an output is there already.
    """
    from . import __version__
    from .findings.compare import compare
    from .report.compare_out import write_comparison
    from .report.compare_sheets import comparison_sheets
    from .report.json_out import save
    from .report.skeleton import BookOptions
    from .report.write import write_results

    for path in (target, json_file):
        if path is not None and path.exists() and not overwrite:
            raise OutputExists(
                str(path), "is there already", "Use --overwrite, or another folder with --out."
            )
    found = compare(read_result(old), read_result(new))
    if target is not None:
        when = datetime.now()
        make_folder(target.parent)
        options = BookOptions(title=f"What changed from {old.name} to {new.name}", created=when)
        write_results(comparison_sheets(found, when=when), target, options, overwrite=overwrite)
    if json_file is not None:
        save(
            json_file,
            lambda handle: write_comparison(found, handle, __version__),
            overwrite=overwrite,
        )
    return found
