"""The search for straights: the cheapest way to each level of each station, piece by piece.

The loops here run compiled; ``pieces_plain`` has the same in array operations for a short line. The
mathematics stands in ``straight``.
"""

from __future__ import annotations

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.compiled import kernel

__all__ = ["BELOW_GRADE_M2", "SHORT_PIECE_M3", "SLACK", "search"]

SHORT_PIECE_M3 = 20.0
"""Price of a piece shorter than the least one [m3]: worth it for a turn or a grade (our own)."""
BELOW_GRADE_M2 = 100.0
"""Price of each metre below the least grade [m3/m]: no digging is worth it (our own)."""
NEAR, STRIDE = 24, 4
"""Stations from which on only every fourth is tried as the far end of a piece: wide and even ground
would make the search quadratic, and there one station more or less is worth next to nothing."""
SLACK = 1e-9
"""Rounding allowance in elevations [m]."""


@kernel
def search(
    station: FloatArray,
    highest: FloatArray,
    lowest: FloatArray,
    level: FloatArray,
    may_break: BoolArray,
    ceiling: FloatArray,
    sums: FloatArray,
    moments: FloatArray,
    price: float,
    least: float,
    longest: float,
    rising: float,
    falling: float,
    keeps: bool,
    turn: float,
) -> tuple[FloatArray, FloatArray, IntArray, IntArray]:
    """Return the least cost to reach each level falling and rising, and the place before each.

    A place is ``station * levels + level``. A summit costs two turns, a sag one: of lines with
    equally many summits the fewest sags wins, and one summit more is never made good by sags.
    """
    n, count = level.shape
    fall, rise = np.full((n, count), np.inf), np.full((n, count), np.inf)
    fall_from = np.full((n, count), -1, dtype=np.int64)
    rise_from = np.full((n, count), -1, dtype=np.int64)
    fall[0, :], rise[0, :] = -price, -price
    down, up = np.empty(count), np.empty(count)
    low, high = np.empty(count), np.empty(count)
    for j in range(n - 1):
        if not may_break[j]:
            continue
        for k in range(count):
            down[k], up[k] = fall[j, k] + price, rise[j, k] + price
            low[k], high[k] = -np.inf, np.inf
            doubled = k > 0 and level[j, k] == level[j, k - 1]
            if doubled or (down[k] == np.inf and up[k] == np.inf):
                high[k] = -np.inf
            elif j > 0:
                down[k] = min(down[k], up[k] + 2.0 * turn)
                up[k] = min(up[k], fall[j, k] + price + turn)
        look_ahead(
            j, down, up, low, high, station, highest, lowest, level, may_break, ceiling, sums,
            moments, least, longest, rising, falling, keeps, fall, rise, fall_from, rise_from,
        )  # fmt: skip
    return fall, rise, fall_from, rise_from


@kernel
def look_ahead(
    j: int,
    down: FloatArray,
    up: FloatArray,
    low: FloatArray,
    high: FloatArray,
    station: FloatArray,
    highest: FloatArray,
    lowest: FloatArray,
    level: FloatArray,
    may_break: BoolArray,
    ceiling: FloatArray,
    sums: FloatArray,
    moments: FloatArray,
    least: float,
    longest: float,
    rising: float,
    falling: float,
    keeps: bool,
    fall: FloatArray,
    rise: FloatArray,
    fall_from: IntArray,
    rise_from: IntArray,
) -> None:
    """Price every piece that starts at station ``j``; keep what is cheaper.

    ``down`` and ``up`` are the costs of leaving each level falling and rising, ``low`` and ``high``
    the slopes that it sees, closed where it is not to be left.
    """
    n, count = level.shape
    for i in range(j + 1, n):
        far = station[i] - station[j]
        if far > longest and i > j + NEAR:
            break
        seen = 0
        for k in range(count):
            low[k] = max(low[k], (lowest[i] - SLACK - level[j, k]) / far)
            high[k] = min(high[k], (highest[i] + SLACK - level[j, k]) / far)
            seen += low[k] <= high[k]
        if seen == 0:
            break
        if not may_break[i] or (i > j + NEAR and i % STRIDE != 0 and i != n - 1):
            continue
        dug = sums[i] - sums[j]
        arm = (moments[i] - moments[j] - station[j] * dug) / far
        base = ceiling[i] - ceiling[j] + (SHORT_PIECE_M3 if far < least - SLACK else 0.0)
        # Changes of level between these two are flatter than the least grade.
        flat_low, flat_high = SLACK - falling * far, rising * far - SLACK
        for k in range(count):
            if low[k] <= high[k]:
                price_pieces(
                    level[j, k], level[j, k] + low[k] * far, level[j, k] + high[k] * far, base,
                    dug, arm, flat_low, flat_high, np.inf if keeps else BELOW_GRADE_M2 * far,
                    down[k], up[k], j * count + k, level[i], fall[i], rise[i], fall_from[i],
                    rise_from[i],
                )  # fmt: skip


@kernel
def price_pieces(
    z: float,
    low: float,
    high: float,
    base: float,
    dug: float,
    arm: float,
    flat_low: float,
    flat_high: float,
    flat_price: float,
    down: float,
    up: float,
    place: int,
    level: FloatArray,
    fall: FloatArray,
    rise: FloatArray,
    fall_from: IntArray,
    rise_from: IntArray,
) -> None:
    """Price the pieces from level ``z`` to those of one station between ``low`` and ``high``."""
    for m in range(level.size):
        if level[m] > high:
            continue
        if level[m] < low:
            break
        change = level[m] - z
        cost = base - z * dug - change * arm
        if flat_low < change < flat_high:
            cost += flat_price
        if change <= SLACK and cost + down < fall[m]:
            fall[m], fall_from[m] = cost + down, place
        if change >= -SLACK and cost + up < rise[m]:
            rise[m], rise_from[m] = cost + up, place
