"""Results of earlier runs: read back, and compared."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .files import content_of, make_folder, replacing
from .run import read_checked

if TYPE_CHECKING:
    from .findings.compare import Comparison

__all__ = ["compare_results", "compared_path", "read_result"]

_LARGEST = 2 << 30  # bytes: of some 75,000 rows


def read_result(path: Path) -> list[dict[str, Any]]:
    """Read a ``--json`` file or a checked workbook back, one object for each workbook of it.

    Raises UnusableCall or UnusableInput where it is neither.
    """
    if path.suffix.casefold() != ".json":
        return [read_checked(path)]
    from .report.result_form import parse_results

    return parse_results(content_of(path, "a result", _LARGEST), str(path))


def compared_path(new: Path, out: Path | None) -> Path:
    """Where the comparison with a result is written: beside it, or in the folder `out`."""
    stem = new.stem.removesuffix(".checked")
    return (out or new.parent) / f"{stem}.compared.xlsx"


def compare_results(
    old: Path, new: Path, target: Path | None, json_file: Path | None, *, overwrite: bool
) -> Comparison:
    """Compare two results, and write a workbook and a JSON file where these are named.

    Raises SheetcheckError where a result cannot be read, or an output is there already.
    """
    from . import __version__
    from .findings.compare import compare
    from .report.compare_out import comparison_json
    from .report.compare_sheets import comparison_sheets
    from .report.skeleton import BookOptions
    from .report.write import write_results

    found = compare(read_result(old), read_result(new))
    if target is not None:
        when = datetime.now()
        make_folder(target.parent)
        options = BookOptions(title=f"What changed from {old.name} to {new.name}", created=when)
        write_results(comparison_sheets(found, when=when), target, options, overwrite=overwrite)
    if json_file is not None:
        with replacing(json_file, overwrite=overwrite) as file:
            file.write(f"{comparison_json(found, __version__)}\n".encode())
    return found
