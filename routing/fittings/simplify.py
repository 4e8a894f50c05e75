"""The laid pipe with its small bends left out, for the rules that ask how the grade changes."""

from __future__ import annotations

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.compiled import kernel
from routing.fittings.trade_data import limits

__all__ = ["simplified", "simplify_tolerance"]


def simplify_tolerance(rmse_m: float | None) -> float:
    """Return how far the simplified pipe may depart from the laid one [m].

    Parameters
    ----------
    rmse_m : float or None
        Error of the elevations, None where not known [m]

    Returns
    -------
    tolerance_m : float
        Departure allowed [m]

    Notes
    -----
    Half the elevations' error and at least 0.1 m; never above 1 m, because neighbouring
    elevations share most of their error, so that bends of a coarse raster are still real.

    Examples
    --------
    >>> simplify_tolerance(None), simplify_tolerance(0.82), simplify_tolerance(8.0)
    (0.1, 0.41, 1.0)
    """
    numbers = limits()
    share = numbers.simplify_share * (rmse_m or 0.0)
    return min(max(numbers.simplify_least_m, share), numbers.simplify_most_m)


@kernel
def _keep_nodes(
    station: FloatArray, height: FloatArray, fixed: IntArray, tolerance: float, keep: BoolArray
) -> None:
    """Mark in ``keep`` the nodes that the method of Douglas and Peucker keeps between ``fixed``.

    Whole slices rather than points are the loop's steps, so that it is quick interpreted too.
    """
    first = np.empty(station.size, np.int64)
    last = np.empty(station.size, np.int64)
    for k in range(fixed.size - 1):
        first[0] = fixed[k]
        last[0] = fixed[k + 1]
        keep[fixed[k]] = True
        keep[fixed[k + 1]] = True
        size = 1
        while size > 0:
            size -= 1
            a = first[size]
            b = last[size]
            if b - a < 2:
                continue
            grade = (height[b] - height[a]) / (station[b] - station[a])
            apart = np.abs(
                height[a + 1 : b] - height[a] - grade * (station[a + 1 : b] - station[a])
            )
            worst = np.argmax(apart)
            if apart[worst] > tolerance * np.sqrt(1.0 + grade * grade):
                middle = a + 1 + worst
                keep[middle] = True
                first[size] = a
                last[size] = middle
                first[size + 1] = middle
                last[size + 1] = b
                size += 2


def simplified(
    station_m: FloatArray, pipe_m: FloatArray, fixed: IntArray, tolerance_m: float
) -> IntArray:
    """Return the indices of the stations that the simplified pipe keeps.

    The stations ``fixed`` (summits, sags) and both ends stay whatever the tolerance, and every
    station lies within ``tolerance_m`` [m] of the simplified pipe, measured square to it.
    """
    keep = np.zeros(station_m.size, np.bool_)
    ends = np.unique(np.concatenate((np.array([0, station_m.size - 1]), fixed)))
    _keep_nodes(station_m, pipe_m, ends, tolerance_m, keep)
    return np.flatnonzero(keep)
