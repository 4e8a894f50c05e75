"""How far a monotone line can run through a corridor, and the fewest extremes that follow.

A line that falls by at least grade ``g`` from station ``j`` to ``k`` fits between ``lowest`` and
``highest`` exactly when, for every pair ``j <= k`` in its range,
``highest[j] - lowest[k] >= g (s[k] - s[j])``. With ``upper = highest + g s`` and
``lower = lowest + g s`` that reads ``upper[j] >= lower[k]``: the running least ``upper`` may
nowhere sink below ``lower``. Rising lines are the same thing read backwards.
"""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray, IntArray
from routing.compiled import kernel
from routing.value import dataclass

__all__ = ["Reach", "fewest_extremes", "reach"]

SLACK = 1e-9
"""Rounding allowance in elevations [m]."""


@kernel
def furthest(upper: FloatArray, lower: FloatArray) -> IntArray:
    """Return for each start ``p`` the last ``q`` with ``min(upper[p..k]) >= lower[k]`` up to q.

    Two pointers and a queue of minima: each station enters and leaves the queue once.
    """
    n = upper.size
    result = np.empty(n, dtype=np.int64)
    queue = np.empty(n, dtype=np.int64)
    head, tail = 0, 0
    end = -1
    for p in range(n):
        if end < p:
            end = p
            head, tail = 0, 1
            queue[0] = p
        while head < tail and queue[head] < p:
            head += 1
        while end + 1 < n:
            k = end + 1
            least = min(upper[queue[head]], upper[k])
            if least < lower[k] - 1e-9:
                break
            while tail > head and upper[queue[tail - 1]] >= upper[k]:
                tail -= 1
            queue[tail] = k
            tail += 1
            end = k
        result[p] = end
    return result


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """How far monotone lines of a least grade run, by station index, shape (n,) each."""

    fall_to: IntArray
    """Last index a falling line from here can reach."""
    rise_from: IntArray
    """First index from which a rising line can reach here."""
    rise_to: IntArray
    """Last index a rising line from here can reach."""


def reach(
    station_m: FloatArray,
    highest_m: FloatArray,
    lowest_m: FloatArray,
    *,
    rising: float,
    falling: float,
) -> Reach:
    """Return the reaches of lines that rise or fall by at least the given grades [-]."""
    run = furthest.sized(8 * station_m.size)
    n = station_m.size
    fall = run(highest_m + falling * station_m, lowest_m + falling * station_m)
    up_high, up_low = highest_m - rising * station_m, lowest_m - rising * station_m
    back = run(np.ascontiguousarray(up_high[::-1]), np.ascontiguousarray(up_low[::-1]))
    ahead = run(-up_low, -up_high)
    return Reach(fall_to=fall, rise_from=np.ascontiguousarray(n - 1 - back[::-1]), rise_to=ahead)


def fewest_extremes(reach: Reach) -> tuple[int, int] | None:
    """Return the fewest (summits, sags) of any line through the corridor, None if there is no line.

    Monotone pieces are taken as long as they go, once starting downwards and once upwards: both
    reaches only grow with their start, so no shorter piece can ever help. Without a least grade
    there is always a line.
    """
    counts = [c for c in (_turns(reach, True), _turns(reach, False)) if c is not None]
    return min(counts) if counts else None


def _turns(reach: Reach, start_falling: bool) -> tuple[int, int] | None:
    last = reach.fall_to.size - 1
    falling, at, pieces, idle = start_falling, 0, 0, 0
    while True:
        ahead = int((reach.fall_to if falling else reach.rise_to)[at])
        pieces += 1
        if ahead >= last:
            break
        idle = idle + 1 if ahead == at else 0
        if idle == 2:
            return None
        at, falling = ahead, not falling
    turns = pieces - 1
    summits = turns // 2 if start_falling else (turns + 1) // 2
    return summits, turns - summits
