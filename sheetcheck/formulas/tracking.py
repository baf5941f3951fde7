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


def device_places(conveyor_length: float, count: int) -> tuple[list[float], list[float]]:
    """Places of `count` devices, evenly spread over the loop.

    Parameters
    ----------
    conveyor_length
        Pulley centres, m.
    count
        Devices, at least one.

    Returns
    -------
    carry, return_run
        Distances from the tail pulley, m, on the carrying and on the return run, each ascending.

    Notes
    -----
    The belt travels up the carrying run and back along the return run; the last device stands just
    before the tail, where the belt must arrive in line [C], the others at equal runs before it.
    """
    pitch = 2.0 * conveyor_length / count
    travelled = [pitch * k for k in range(1, count + 1)]
    carry = [s for s in travelled if s <= conveyor_length]
    back = sorted(2.0 * conveyor_length - s for s in travelled if s > conveyor_length)
    return carry, [abs(place) for place in back]
