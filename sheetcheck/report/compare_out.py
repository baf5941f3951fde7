"""A comparison of two results as JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from ..findings.compare import Comparison, Place
from .json_parts import dump, picked

__all__ = ["comparison_json"]

_FORMAT = 1


def _runs(results: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    return [
        {
            "file": result["source"]["file"],
            "sha256": result["source"]["sha256"],
            "version": result["tool"]["version"],
            "rows": len(result["rows"]),
        }
        for result in results
    ]


def _place(place: Place) -> dict[str, Any]:
    return asdict(place) | {"load_point": place.load_point or None}


def _bands(row: Mapping[str, Any]) -> dict[str, str]:
    return {key: verdict["band"] for key, verdict in row["checks"].items()}


def comparison_json(found: Comparison, version: str) -> str:
    """Give a comparison as one object, a list item a line.

    Parameters
    ----------
    found
        From `findings.compare.compare`.
    version
        Version of this package.
    """
    head = {
        "format": _FORMAT,
        "tool": {"name": "sheetcheck", "version": version},
        "old": _runs(found.old),
        "new": _runs(found.new),
        "summary": {
            "rows_in_both": found.matched,
            "rows_appeared": len(found.appeared),
            "rows_gone": len(found.gone),
            "register_changes": len(found.register_changes),
            "verdicts": found.counts(),
        },
    }
    lists: dict[str, list[dict[str, Any]]] = {
        "run_changes": [picked(change, "kind text checks") for change in found.run],
        "inputs": [
            _place(change.place) | picked(change, "field old new text origin verdicts")
            for change in found.inputs
        ],
        "verdicts": [
            _place(change.place)
            | picked(change, "check kind")
            | {"band": [change.old_band, change.new_band]}
            | picked(change, "found required because causes")
            for change in found.verdicts
        ],
        "appeared": [_place(place) | {"bands": _bands(row)} for place, row in found.appeared],
        "gone": [_place(place) | {"bands": _bands(row)} for place, row in found.gone],
    }
    parts = (
        f',\n"{name}":[' + ",\n".join(map(dump, items)) + "]" for name, items in lists.items()
    )
    return dump(head)[:-1] + "".join(parts) + "}"
