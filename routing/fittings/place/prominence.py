"""How far a summit of the pipe stands out."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

from routing.arrays import FloatArray, IntArray

__all__ = ["Standing", "summit_standing"]


class Standing(NamedTuple):
    """A summit's prominence [m] and the plan distance [m] to the low point that sets it."""

    prominence_m: float
    distance_m: float


class _Low(NamedTuple):
    height: float
    at: int


def summit_standing(
    station_m: FloatArray, pipe_m: FloatArray, summits: IntArray
) -> tuple[Standing, ...]:
    """Return the prominence of each summit and how far off the low point lies that sets it.

    Prominence is the height above the higher of the two lowest points on either side, each side
    reaching to the nearest higher pipe or to the end of the line.

    Parameters
    ----------
    station_m : array, shape (n,)
        Stations, strictly rising [m]
    pipe_m : array, shape (n,)
        Elevation of the pipe [m]
    summits : array of int, shape (k,)
        Indices of the summits, rising [-]

    Returns
    -------
    standings : tuple of Standing, length k
        Prominence [m] and distance [m] of each summit

    Notes
    -----
    The published topographic definition of prominence, along a line. One pass in each direction
    over the summits.

    Examples
    --------
    >>> import numpy as np
    >>> s = np.array([0.0, 10.0, 20.0, 30.0, 40.0])
    >>> z = np.array([50.0, 40.0, 44.0, 41.0, 48.0])
    >>> summit_standing(s, z, np.array([2]))
    (Standing(prominence_m=3.0, distance_m=10.0),)
    """
    tops = summits.tolist()
    edges = [0, *tops, station_m.size - 1]
    gaps = []
    for a, b in pairwise(edges):
        index = a + int(pipe_m[a : b + 1].argmin())
        gaps.append(_Low(float(pipe_m[index]), index))
    heights = pipe_m[summits].tolist()
    before = _side_lows(heights, gaps[:-1])
    after = _side_lows(heights[::-1], gaps[:0:-1])[::-1]
    result = []
    for top, height, left, right in zip(tops, heights, before, after, strict=True):
        key = max(left, right)
        distance = abs(float(station_m[top] - station_m[key.at]))
        result.append(Standing(height - key.height, distance))
    return tuple(result)


def _side_lows(heights: list[float], gaps: list[_Low]) -> list[_Low]:
    """Return each summit's lowest point back to the nearest higher one; gaps[i] lies before i."""
    lows: list[_Low] = []
    higher: list[tuple[float, _Low]] = []
    for height, gap in zip(heights, gaps, strict=True):
        low = gap
        while higher and higher[-1][0] <= height:
            low = min(low, higher.pop()[1])
        lows.append(low)
        higher.append((height, low))
    return lows
