"""Physical ranges over which a missing number may be bounded where they hang on other inputs."""

from __future__ import annotations

import re
from collections.abc import Mapping

import numpy as np

from .columns import Array, Columns

__all__ = ["dependent_range"]

# Modulus as a multiple of rated tension: 10 % of rated gives secant elongations of 2.0 % (EP) and
# 2.5 % (NN) at the low ends [S]; the high ends are from memory [M].
_MODULUS = {"EP": (50.0, 100.0), "NN": (40.0, 65.0), "fabric": (40.0, 100.0)}
_PLY = re.compile(r"\s*(EP|NN)(?![A-Za-z])", re.IGNORECASE)
_STEEL_MODULUS = (450.0, 500.0)
# Belt width that a seal rests on, m: common practice, no published source [C].
_FOOTPRINT = {"single strip": (0.025, 0.050), "dual lip": (0.075, 0.100)}


def _modulus_shares(columns: Columns) -> tuple[Array, Array]:
    """Ends of the modulus as multiples of rated tension, by register row."""
    carcass = columns.get("belt_carcass").tolist()
    designation = columns.get("belt_designation").tolist()
    ends = []
    for kind, text in zip(carcass, designation, strict=True):
        if kind == "steel cord":
            ends.append(_STEEL_MODULUS)
        elif kind == "fabric":
            ply = _PLY.match(str(text))
            ends.append(_MODULUS[ply.group(1).upper() if ply else "fabric"])
        else:
            ends.append((_MODULUS["fabric"][0], _STEEL_MODULUS[1]))
    low, high = np.array(ends).reshape(-1, 2).T
    return low, high


def _modulus(columns: Columns, rows: Array, given: Mapping[str, Array]) -> tuple[Array, Array]:
    low, high = columns.once("modulus shares", lambda: _modulus_shares(columns))
    rated = given["belt_rated_tension"]
    return low[rows] * rated, high[rows] * rated


def _footprint(columns: Columns, rows: Array, given: Mapping[str, Array]) -> tuple[Array, Array]:
    kinds = [given["seal_kind"] == kind for kind in _FOOTPRINT]
    low = np.select(kinds, [ends[0] for ends in _FOOTPRINT.values()], np.nan)
    high = np.select(kinds, [ends[1] for ends in _FOOTPRINT.values()], np.nan)
    return low, high


def dependent_range(
    name: str, columns: Columns, rows: Array, given: Mapping[str, Array]
) -> tuple[Array, Array]:
    """Ends of the range of a missing number, in SI, for some register rows.

    Parameters
    ----------
    name
        ``belt_modulus`` or ``seal_footprint``.
    columns, rows
        The register's columns and the rows asked for.
    given
        The check's other inputs in those rows, missing words and numbers filled in.

    Raises
    ------
    KeyError
        For any other field.
    """
    return {"belt_modulus": _modulus, "seal_footprint": _footprint}[name](columns, rows, given)
