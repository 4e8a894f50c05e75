"""The levels to which depressions fill, and ways downstream, by the plainest means."""

from __future__ import annotations

import heapq

import numpy as np

STEPS = [(0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0), (-1, 1)]


def around(shape, r, c):
    """Yield the neighbours of a cell that lie on the grid."""
    for y, x in STEPS:
        if 0 <= r + y < shape[0] and 0 <= c + x < shape[1]:
            yield r + y, c + x


def is_open(heights, r, c):
    """Return whether water can leave the raster from a cell."""
    known = [np.isfinite(heights[cell]) for cell in around(heights.shape, r, c)]
    return len(known) < 8 or not all(known)


def filled(heights):
    """Return the heights with depressions filled to their outflow, from the edge inwards.

    The priority-flood of Barnes, Lehman and Mulla 2014, algorithm 1.
    """
    out = np.full(heights.shape, np.nan)
    queue = []
    for cell in np.ndindex(heights.shape):
        if np.isfinite(heights[cell]) and is_open(heights, *cell):
            out[cell] = heights[cell]
            heapq.heappush(queue, (float(heights[cell]), cell))
    while queue:
        level, cell = heapq.heappop(queue)
        for near in around(heights.shape, *cell):
            if np.isfinite(heights[near]) and np.isnan(out[near]):
                out[near] = max(level, heights[near])
                heapq.heappush(queue, (float(out[near]), near))
    return out


def downstream(directions, r, c):
    """Yield the cells of the way from a cell out of the raster."""
    for _ in range(directions.size):
        yield r, c
        way = int(directions[r, c])
        if way == 8:
            return
        assert way < 8, "the way ends in a pit"
        r, c = r + STEPS[way][0], c + STEPS[way][1]
    raise AssertionError("the way goes in a ring")


def highest_on_the_way(heights, directions):
    """Return for each cell the highest elevation on its way out, NaN where it has none."""
    out = np.full(heights.shape, np.nan)
    for cell in np.ndindex(heights.shape):
        if np.isfinite(heights[cell]):
            out[cell] = max(heights[each] for each in downstream(directions, *cell))
    return out


def cells_through(directions):
    """Return how many cells drain through each, by walking from every one."""
    count = np.zeros(directions.shape, dtype=int)
    for cell in np.ndindex(directions.shape):
        if directions[cell] != 255:
            for each in downstream(directions, *cell):
                count[each] += 1
    return count
