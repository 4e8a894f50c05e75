"""High and low points of a profile, with how far each stands out."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from routing.arrays import FloatArray, IntArray
from routing.compiled import kernel
from routing.errors import InputError
from routing.value import dataclass

__all__ = ["Extreme", "find_extremes"]

STEPS_PER_TURN = 4
"""Loop steps that one high costs at most: each is pushed and popped once for each side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Extreme:
    """One interior high or low of a profile."""

    index: int
    station_m: float
    height_m: float
    prominence_m: float


def find_extremes(
    station_m: ArrayLike, height_m: ArrayLike, *, least_prominence_m: float = 0.1
) -> tuple[tuple[Extreme, ...], tuple[Extreme, ...]]:
    """Return the interior highs and lows of a profile that stand out far enough.

    The prominence of a high is its height above the higher of the two lowest points on either side,
    each side reaching to the nearest higher ground or to the end of the line. A low is a high of
    the profile turned upside down. The first and the last station are neither.

    Parameters
    ----------
    station_m : array_like, shape (n,)
        Stations, rising [m]
    height_m : array_like, shape (n,)
        Elevation at each station, finite [m]
    least_prominence_m : float
        Smallest prominence to return, >= 0 [m]

    Returns
    -------
    highs, lows : tuple of Extreme
        In order of station. A level stretch counts once, at its first station [m]

    Raises
    ------
    InputError
        If the arrays differ in shape or an elevation is not finite.

    Notes
    -----
    Ground as high as the high itself does not end a side, only higher ground does. Time is
    proportional to n: highs are taken in order and each waits on a stack until higher ground comes.

    Examples
    --------
    >>> highs, lows = find_extremes([0, 10, 20, 30, 40], [50.0, 46.0, 48.5, 44.0, 45.0])
    >>> [(high.station_m, high.prominence_m) for high in highs]
    [(20.0, 2.5)]
    >>> [(low.station_m, low.prominence_m) for low in lows]
    [(10.0, 2.5), (30.0, 1.0)]
    """
    station = np.asarray(station_m, dtype=np.float64)
    height = np.asarray(height_m, dtype=np.float64)
    if station.shape != height.shape or height.ndim != 1:
        raise InputError(
            f"The profile has stations of shape {station.shape} and heights of {height.shape}.",
            "Give one height for every station.",
        )
    if not np.isfinite(height).all():
        at = int(np.argmin(np.isfinite(height)))
        raise InputError(
            f"The profile has no elevation at station {station[at]:.1f} m.",
            "Fill the gap before looking for highs and lows.",
            station_m=float(station[at]),
        )
    highs, lows = _turns(height)
    return (
        _standing_out(station, height, highs, lows, 1.0, least_prominence_m),
        _standing_out(station, height, lows, highs, -1.0, least_prominence_m),
    )


def _turns(height: FloatArray) -> tuple[IntArray, IntArray]:
    """Return the indices of all highs and lows, alternating along the line."""
    step = np.diff(height)
    moves = np.flatnonzero(step)
    rises = step[moves] > 0.0
    highs = moves[:-1][rises[:-1] & ~rises[1:]] + 1
    lows = moves[:-1][~rises[:-1] & rises[1:]] + 1
    return highs.astype(np.int64), lows.astype(np.int64)


def _standing_out(
    station: FloatArray,
    height: FloatArray,
    highs: IntArray,
    lows: IntArray,
    sign: float,
    least_prominence_m: float,
) -> tuple[Extreme, ...]:
    """Return the highs whose prominence is enough; ``sign`` -1 turns the profile upside down."""
    if not highs.size:
        return ()
    peak = sign * height[highs]
    # Between neighbouring highs lies one low; outside the outermost, one or else the line's end.
    foot = np.empty(highs.size + 1)
    foot[1:-1] = sign * height[lows[np.searchsorted(lows, highs[:-1])]] if highs.size > 1 else 0.0
    foot[0] = sign * height[lows[0] if lows.size and lows[0] < highs[0] else 0]
    foot[-1] = sign * height[lows[-1] if lows.size and lows[-1] > highs[-1] else height.size - 1]
    lowest = _lowest_before.sized(STEPS_PER_TURN * highs.size)
    before = lowest(peak, foot[:-1].copy())
    after = lowest(peak[::-1].copy(), foot[:0:-1].copy())[::-1]
    prominence = peak - np.maximum(before, after)
    return tuple(
        Extreme(index=index, station_m=at, height_m=z, prominence_m=p)
        for index, at, z, p in zip(
            *(
                values[prominence >= least_prominence_m].tolist()
                for values in (highs, station[highs], height[highs], prominence)
            ),
            strict=True,
        )
    )


@kernel
def _lowest_before(peak: Any, foot: Any) -> Any:
    """Return, for each high, the lowest point before it back to the nearest higher high.

    ``foot[i]`` is the lowest point between high ``i - 1`` (or the start) and high ``i``.
    """
    lowest = foot.copy()
    waiting = np.empty(peak.size, np.int64)
    count = 0
    for i in range(peak.size):
        while count > 0 and peak[waiting[count - 1]] <= peak[i]:
            count -= 1
            lowest[i] = min(lowest[i], lowest[waiting[count]])
        waiting[count] = i
        count += 1
    return lowest
