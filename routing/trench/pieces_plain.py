"""The search of ``pieces`` in array operations: for a line too short to repay compiling.

Line by line the same sums in the same order, so that both find the same straights to the last bit.
"""

from __future__ import annotations

from typing import NamedTuple

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
"""Stations seen from, or priced, in one go [-]: tables stay within the processor's cache."""


class _Pairs(NamedTuple):
    """Stations that see each other, in order of the farther one, with the slopes seen."""

    near: IntArray
    far: IntArray
    low: FloatArray
    high: FloatArray
    run: FloatArray

    def of(self, which: slice | BoolArray | IntArray) -> _Pairs:
        """Return some of them."""
        near, far, low, high, run = self
        return _Pairs(near[which], far[which], low[which], high[which], run[which])


def search_plain(ground: Ground, level: FloatArray, may_break: BoolArray, rules: Rules) -> Ways:
    """Return what :func:`~routing.trench.pieces.search` returns."""
    n, count = level.shape
    pairs = _pairs(ground, level, may_break, rules)
    usable = np.column_stack((np.ones(n, np.bool_), level[:, 1:] != level[:, :-1]))
    ends = np.flatnonzero(may_break[1:]) + 1
    bounds = np.searchsorted(pairs.far, np.append(ends, n))
    # Falling and rising side by side, so that one operation finds the better of all.
    best, picked = np.full((n, 2 * count), np.inf), np.zeros((n, 2 * count), dtype=np.int64)
    best[0] = -rules.price
    leave = np.full((2, n, count), np.inf)
    leave[:, 0] = 0.0
    turned, each = np.array([[2.0 * rules.turn], [rules.turn]]), np.arange(2 * count)
    for first in range(0, ends.size, BLOCK):
        stop = min(first + BLOCK, ends.size)
        start = int(bounds[first])
        cost = _priced(ground, level, usable, pairs.of(slice(start, bounds[stop])), rules)
        for end, a, b in zip(
            ends[first:stop].tolist(),
            bounds[first:stop].tolist(),
            bounds[first + 1 : stop + 1].tolist(),
            strict=True,
        ):
            if a == b:
                continue
            way = cost[:, :, a - start : b - start] + leave.take(pairs.near[a:b], axis=1)[:, None]
            way = way.reshape(2 * count, -1)
            least = way.argmin(axis=1)
            best[end] = way[each, least]
            picked[end] = a * count + least
            onward = (best[end] + rules.price).reshape(2, count)
            leave[:, end] = np.minimum(onward, onward[::-1] + turned)
    came = pairs.near[picked // count] * count + picked % count
    came[np.isinf(best) | (np.arange(n) == 0)[:, None]] = -1
    return Ways(best[:, :count], best[:, count:], came[:, :count], came[:, count:])


def _pairs(ground: Ground, level: FloatArray, may_break: BoolArray, rules: Rules) -> _Pairs:
    """Return where pieces may begin and end."""
    station, n = ground.station, ground.station.size
    reached = np.searchsorted(station, station + rules.longest, "right")
    end = np.minimum(np.maximum(reached, np.arange(n) + NEAR), n - 1)
    strided = (np.arange(n) % STRIDE == 0) | (np.arange(n) == n - 1)
    starts = np.flatnonzero(may_break[:-1])
    found: list[_Pairs] = []
    for block in np.split(starts, range(BLOCK, starts.size, BLOCK)):
        row, far, low, high = _sight(block, end[block], level, ground)
        near = block[row]
        run = station[far] - station[near]
        kept = may_break[far] & ((far <= near + NEAR) | (strided[far] & (run <= rules.longest)))
        found.append(_Pairs(near, far, low, high, run).of(kept))
    every = _Pairs(*(np.concatenate(each) for each in zip(*found, strict=True)))
    return every.of(np.argsort(every.far, kind="stable"))


def _priced(
    ground: Ground, level: FloatArray, usable: BoolArray, pairs: _Pairs, rules: Rules
) -> FloatArray:
    """Return the price of each piece, (falling and rising, levels to, pairs, levels from)."""
    near, far, low, high, run = pairs
    z, to, along = level[near], level[far].T[:, :, None], run[:, None]
    dug = ground.sums[far] - ground.sums[near]
    arm = (ground.moments[far] - ground.moments[near] - ground.station[near] * dug) / run
    short = np.where(run < rules.least - SLACK, SHORT_PIECE_M3, 0.0)
    base = ground.ceiling[far] - ground.ceiling[near] + short
    change = to - z
    cost = base[:, None] - z * dug[:, None] - change * arm[:, None]
    flat = (change > SLACK - rules.falling * along) & (change < rules.rising * along - SLACK)
    cost += np.where(flat, np.inf if rules.keeps else BELOW_GRADE_M2 * along, 0.0)
    seen = usable[near] & (low <= high) & (to <= z + high * along) & (to >= z + low * along)
    cost[~seen] = np.inf
    return np.stack(
        [np.where(change <= SLACK, cost, np.inf), np.where(change >= -SLACK, cost, np.inf)]
    )


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
