"""The places of summits in the order: every summit of a line with the fewest has exactly one."""

from __future__ import annotations

import numpy as np

from routing.arrays import BoolArray, IntArray
from routing.compiled import kernel

__all__ = ["place_in_order"]


def place_in_order(candidate: BoolArray, fall_to: IntArray, rise_from: IntArray) -> IntArray:
    """Return, for each station, its place among the summits of a line with fewest summits.

    The start has place 0, the end the last place; -1 marks stations that no such line uses.
    """
    n = fall_to.size
    count = places_from_start.sized(10 * n)
    after_start = count(candidate, fall_to, rise_from)
    # Read backwards, rising lines fall and the end is the start.
    before_end = count(
        np.ascontiguousarray(candidate[::-1]),
        np.ascontiguousarray(n - 1 - rise_from[::-1]),
        np.ascontiguousarray(n - 1 - fall_to[::-1]),
    )[::-1]
    on_best_line = after_start + before_end == after_start[-1]
    return np.where(on_best_line, after_start, -1)


@kernel
def places_from_start(candidate: BoolArray, fall_to: IntArray, rise_from: IntArray) -> IntArray:
    """Return the fewest stretches from the start to a summit at each station.

    A station that can be no summit, or not be reached, has a number beyond any count.
    """
    n = fall_to.size
    places = np.full(n, 2 * n, dtype=np.int64)
    best = np.full(n + 1, -1, dtype=np.int64)
    places[0] = 0
    best[0] = fall_to[0]
    deepest = 0
    for r in range(1, n):
        if r < n - 1 and not candidate[r]:
            continue
        place = 0
        while place <= deepest and best[place] < rise_from[r]:
            place += 1
        if place > deepest:
            continue
        places[r] = place + 1
        deepest = max(deepest, place + 1)
        best[place + 1] = max(best[place + 1], fall_to[r])
    return places
