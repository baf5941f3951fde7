"""Tracking devices around the loop of a belt: how many, and where."""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = ["device_count", "device_places"]

Array = np.ndarray[Any, Any]


def device_count(conveyor_length: Any, reach: float) -> Array:
    """Devices for the whole loop, 2 × conveyor length (m), when each serves `reach` (m)."""
    loop = 2.0 * np.asarray(conveyor_length)
    # A loop of exactly n reaches needs n devices whatever the rounding.
    return np.asarray(np.ceil(loop / reach * (1.0 - 1e-9)))


def device_places(conveyor_length: Any, count: int) -> tuple[Array, Array]:
    """Places of `count` devices, evenly spread over the loop.

    Parameters
    ----------
    conveyor_length
        Pulley centres, m; any shape.
    count
        Devices, at least one.

    Returns
    -------
    carry, return_run
        Distances from the tail pulley, m, on the carrying and on the return run, each ascending
        along a further last axis.

    Notes
    -----
    The belt travels up the carrying run and back along the return run; the last device stands just
    before the tail, where the belt must arrive in line [C], the others at equal runs before it:
    the k-th after k pitches of 2 × length ÷ count, on the carrying run while k ≤ count ÷ 2.
    """
    pitch = (2.0 * np.asarray(conveyor_length, float) / count)[..., np.newaxis]
    on_carry = count // 2
    return pitch * np.arange(1, on_carry + 1), pitch * np.arange(count - on_carry)
