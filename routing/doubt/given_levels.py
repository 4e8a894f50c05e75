"""Drawn grounds made to keep to levels taken on the ground."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray, IntArray
from routing.doubt.error import ElevationError
from routing.doubt.line import Levels

__all__ = ["kept_to_levels", "nearness"]

MOST_LEVELS = 400
"""Most levels of one line that count at a time; of more, every so many-th one is taken."""


def kept_to_levels(
    ground_m: FloatArray,
    fine_m: float,
    levels: Levels,
    error: ElevationError,
    rng: np.random.Generator,
) -> FloatArray:
    """Return grounds that keep to the levels and stay as likely as the profile has them.

    Parameters
    ----------
    ground_m : FloatArray, shape (n, g)
        Grounds drawn from the profile, ``fine_m`` apart [m]
    fine_m : float
        Distance between their points [m]
    levels : Levels
        The levels
    error : ElevationError
        The raster's error, whose long part levels tell as well
    rng : Generator
        Random numbers

    Returns
    -------
    ground_m : FloatArray, shape (n, g)
        Each moved by what it misses the levels by, less the further off (conditioning by kriging,
        with the covariance of the drawn grounds themselves; of the long part, a smooth one)
    """
    points, width = ground_m.shape
    place, level, sd = _at_points(levels, ground_m, fine_m)
    station = fine_m * np.arange(points)
    long = _long(np.abs(np.subtract.outer(station, station[place])), error)
    # The long part is drawn at the levels only; elsewhere it follows from what it is there.
    drawn = long[place] + 1e-9 * np.eye(place.size)
    waves = np.linalg.cholesky(drawn) @ rng.standard_normal((place.size, width))
    apart = ground_m - ground_m.mean(axis=1, keepdims=True)
    near = nearness(np.abs(np.subtract.outer(station, station[place])), fine_m, error)
    shared = near * (apart @ apart[place].T) / (width - 1) + long
    known = shared[place] + np.diag(sd**2)
    read = level[:, None] + sd[:, None] * rng.standard_normal((place.size, width))
    follow = long @ np.linalg.solve(drawn, waves)
    missed = read - ground_m[place] - waves
    return np.asarray(ground_m + follow + shared @ np.linalg.solve(known, missed))


def nearness(apart_m: FloatArray, fine_m: float, error: ElevationError) -> FloatArray:
    """Return by how much to believe a covariance of a few hundred draws, 1 to 0 with distance.

    The compact correlation of Gaspari and Cohn, 0 from six ranges on.
    """
    half = 3.0 * max(error.range_m or 0.0, 6.0 * fine_m)
    ratio = apart_m / half
    inner = 1.0 - ratio**2 * (5.0 / 3.0 - ratio * (5.0 / 8.0 + ratio * (0.5 - 0.25 * ratio)))
    far = np.maximum(ratio, 1.0)
    outer = (
        4.0
        - 5.0 * far
        + far**2 * (5.0 / 3.0 + far * (5.0 / 8.0 + far * (far / 12.0 - 0.5)))
        - 2.0 / (3.0 * far)
    )
    return np.where(ratio <= 1.0, inner, np.where(ratio < 2.0, np.maximum(outer, 0.0), 0.0))


def _long(apart_m: FloatArray, error: ElevationError) -> FloatArray:
    """Return the covariance of the long part, smooth over short distances [m2]."""
    ratio = np.sqrt(3.0) * apart_m / error.long_range_m
    return np.asarray((error.long_sigma_m or 0.0) ** 2 * (1.0 + ratio) * np.exp(-ratio))


def _at_points(
    levels: Levels, ground_m: FloatArray, fine_m: float
) -> tuple[IntArray, FloatArray, FloatArray]:
    """Return the fine points that levels stand at, the levels there and their errors [m].

    Of several at one point the surest counts. A level a little beside its point is moved along the
    slope of the drawn grounds' mean.
    """
    mean = ground_m.mean(axis=1)
    station = fine_m * np.arange(mean.size)
    place = np.clip(np.round(levels.station_m / fine_m).astype(np.int64), 0, mean.size - 1)
    order = np.lexsort((levels.sd_m, place))
    first = np.concatenate([[True], np.diff(place[order]) > 0])
    kept = order[first]
    kept = kept[:: -(-kept.size // MOST_LEVELS)]
    spot = place[kept]
    moved = mean[spot] - np.interp(levels.station_m[kept], station, mean)
    return spot, levels.level_m[kept] + moved, np.maximum(levels.sd_m[kept], 1e-3)
