"""How far a summit of the pipe stands out, and how sure the elevations make it."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

from routing.arrays import FloatArray, IntArray
from routing.errors import InputError

__all__ = ["Standing", "summit_probability", "summit_standing"]


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


def summit_probability(
    prominence_m: float, distance_m: float, rmse_m: float, correlation_m: float = 100.0
) -> float:
    r"""Return the probability that a summit is there at all, given the elevations' error.

    .. math::
        P = \Phi(p / s), \quad s^2 = 2 \sigma^2 (1 - e^{-d / L_c})

    Parameters
    ----------
    prominence_m : float
        Height of the summit above the low point that sets its prominence, >= 0 [m]
    distance_m : float
        Distance between the two, >= 0 [m]
    rmse_m : float
        Standard error of one elevation, >= 0 [m]
    correlation_m : float
        Length over which errors are alike, > 0; 50 to 300 m is usual [m]

    Returns
    -------
    probability : float
        0.5 for no prominence, towards 1 for one that is large against the error [-]

    Raises
    ------
    InputError
        If an argument is negative or not finite, or ``correlation_m`` is zero.

    Notes
    -----
    Errors normal and unbiased, alike over short distances: neighbouring elevations err together,
    so a local hump is known better than its height above the sea. The correlation length is
    common practice, no source.

    Examples
    --------
    >>> round(summit_probability(1.0, 100.0, 0.82), 3)
    0.861
    """
    values = {
        "prominence_m": prominence_m,
        "distance_m": distance_m,
        "rmse_m": rmse_m,
        "correlation_m": correlation_m,
    }
    for name, value in values.items():
        if not (math.isfinite(value) and value >= 0.0) or (
            name == "correlation_m" and value == 0.0
        ):
            raise InputError(f"{name} = {value} cannot be.", "Give a finite length above zero.")
    spread = rmse_m * math.sqrt(-2.0 * math.expm1(-distance_m / correlation_m))
    if spread == 0.0:
        return 1.0 if prominence_m > 0.0 else 0.5
    return 0.5 * math.erfc(-prominence_m / (spread * math.sqrt(2.0)))
