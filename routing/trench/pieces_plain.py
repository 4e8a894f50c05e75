"""The search of ``pieces`` in array operations: for a line too short to repay compiling.

Line by line the same sums in the same order, so that both find the same straights to the last bit.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.trench.pieces import (
    BELOW_GRADE_M2,
    NEAR,
    SHORT_PIECE_M3,
    SLACK,
    STRIDE,
    Ground,
    Rules,
    Ways,
)

__all__ = ["search_plain"]

AHEAD = 16
"""Stations looked at in one go [-]; where more can be seen, twice as many are looked at."""
BLOCK = 32
"""Stations whose pieces are priced in one go [-]: the tables stay within the processor's cache."""


def search_plain(ground: Ground, level: FloatArray, may_break: BoolArray, rules: Rules) -> Ways:
    """Return what :func:`~routing.trench.pieces.search` returns."""
    station, ceiling, sums, moments = ground.station, ground.ceiling, ground.sums, ground.moments
    price, turn = rules.price, rules.turn
    n, count = level.shape
    # Falling and rising side by side, so that one operation keeps the better of both.
    best, came = np.full((n, 2, count), np.inf), np.full((n, 2, count), -1, dtype=np.int64)
    best[0] = -price
    reached = np.searchsorted(station, station + rules.longest, "right")
    end = np.minimum(np.maximum(reached, np.arange(n) + NEAR), n - 1)
    strided = (np.arange(n) % STRIDE == 0) | (np.arange(n) == n - 1)
    usable = np.column_stack((np.ones(n, np.bool_), level[:, 1:] != level[:, :-1]))
    starts = np.flatnonzero(may_break[:-1])
    for block in np.split(starts, range(BLOCK, starts.size, BLOCK)):
        row, i, low, high = _sight(block, end[block], level, ground)
        j = block[row]
        far = station[i] - station[j]
        kept = may_break[i] & ((i <= j + NEAR) | (strided[i] & (far <= rules.longest)))
        row, j, i, low, high, far = (each[kept] for each in (row, j, i, low, high, far))
        z, to, run = level[j][:, :, None], level[i][:, None, :], far[:, None, None]
        low, high = low[:, :, None], high[:, :, None]
        dug = sums[i] - sums[j]
        arm = (moments[i] - moments[j] - station[j] * dug) / far
        base = ceiling[i] - ceiling[j] + np.where(far < rules.least - SLACK, SHORT_PIECE_M3, 0.0)
        change = to - z
        cost = base[:, None, None] - z * dug[:, None, None] - change * arm[:, None, None]
        flat = (change > SLACK - rules.falling * run) & (change < rules.rising * run - SLACK)
        cost += np.where(flat, np.inf if rules.keeps else BELOW_GRADE_M2 * run, 0.0)
        seen = (
            usable[j][:, :, None] & (low <= high) & (to <= z + high * run) & (to >= z + low * run)
        )
        both = np.empty((row.size, count, 2, count))
        both[:, :, 0] = np.where(seen & (change <= SLACK), cost, np.inf)
        both[:, :, 1] = np.where(seen & (change >= -SLACK), cost, np.inf)
        bounds = np.searchsorted(row, np.arange(block.size + 1)).tolist()
        for at, (a, b) in enumerate(pairwise(bounds)):
            if a == b:
                continue
            here = int(block[at])
            leave = best[here].T + price
            if here > 0:
                leave = np.minimum(leave, leave[:, ::-1] + (2.0 * turn, turn))
            _keep(both[a:b] + leave[:, :, None], here * count, i[a:b], best, came)
    return Ways(best[:, 0], best[:, 1], came[:, 0], came[:, 1])


def _sight(
    j: IntArray, end: IntArray, level: FloatArray, ground: Ground
) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
    """Return what stations ``j`` see: row of j, station, slopes seen (pairs, levels)."""
    station, highest, lowest = ground.station, ground.highest, ground.lowest
    ahead, z = AHEAD, level[j][:, None, :]
    most = int(np.max(end - j))
    while True:
        i = j[:, None] + np.arange(1, min(ahead, most) + 1)
        inside = i <= end[:, None]
        i = np.minimum(i, station.size - 1)
        each = (1.0 / np.where(inside, station[i] - station[j][:, None], 1.0))[:, :, None]
        low = np.maximum.accumulate((lowest[i][:, :, None] - SLACK - z) * each, axis=1)
        high = np.minimum.accumulate((highest[i][:, :, None] + SLACK - z) * each, axis=1)
        seen = inside & np.any(low <= high, axis=2)
        if ahead >= most or not seen[:, -1].any():
            row, place = np.nonzero(seen)
            return row, i[row, place], low[row, place], high[row, place]
        ahead *= 2


def _keep(cost: FloatArray, place: int, i: IntArray, best: FloatArray, came: IntArray) -> None:
    """Keep the cheapest of the pieces ``cost``, (stations, levels from, sense, levels to)."""
    least = cost.min(axis=1)
    better = least < best[i]
    if better.any():
        best[i] = np.minimum(least, best[i])
        came[i] = np.where(better, place + cost.argmin(axis=1), came[i])
