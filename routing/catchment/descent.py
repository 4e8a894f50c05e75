"""The steepest way down from each cell, and the way over ground that is level."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from routing.arrays import FloatArray
from routing.catchment.codes import DCOL, DROW, FLAT, OUT, PIT, VOID
from routing.compiled import kernel

__all__ = ["Codes", "Heights", "cross_flats", "steepest"]

Codes = NDArray[np.uint8]
Heights = NDArray[np.float32]
Whole = NDArray[np.int32]

STRAIGHT_FIRST = np.array([0, 2, 4, 6, 1, 3, 5, 7])
"""Directions in the order in which equal ways over level ground are tried."""


@kernel
def steepest(heights: Heights, steps: FloatArray, out: Codes) -> int:
    """Fill ``out`` (h, w) with the steepest way down; return how many cells have none.

    ``heights`` (h + 2, w + 2) reaches one cell further on each side, NaN where there is no
    elevation; ``steps`` (h, 4) are the ways to the neighbours 0 to 3. A cell without lower
    neighbour beside one without elevation drains out.
    """
    level = 0
    for r in range(out.shape[0]):
        for c in range(out.shape[1]):
            here = heights[r + 1, c + 1]
            if not here == here:
                out[r, c] = VOID
                continue
            best, way, beside = 0.0, FLAT, False
            for d in range(8):
                there = heights[r + 1 + DROW[d], c + 1 + DCOL[d]]
                if there == there:
                    fall = (float(here) - float(there)) / steps[r, d % 4]
                    if fall > best:
                        best, way = fall, d
                else:
                    beside = True
            if way == FLAT:
                if beside:
                    way = OUT
                else:
                    level += 1
            out[r, c] = way
    return level


@kernel
def _collect(heights: Heights, out: Codes, place: Whole, cells: Whole, start: int, n: int) -> int:
    """Gather the level ground round a cell into ``cells`` from ``n`` on; return its end."""
    rows, cols = out.shape
    cells[n] = start
    place[start // cols, start % cols] = n
    head, n = n, n + 1
    while head < n:
        r, c = cells[head] // cols, cells[head] % cols
        head += 1
        for d in range(8):
            y, x = r + DROW[d], c + DCOL[d]
            if 0 <= y < rows and 0 <= x < cols and place[y, x] < 0 and out[y, x] == FLAT:
                if heights[y + 1, x + 1] == heights[r + 1, c + 1]:
                    cells[n] = y * cols + x
                    place[y, x] = n
                    n += 1
    return n


@kernel
def _spread(
    out: Codes, place: Whole, cells: Whole, first: int, last: int, level: Whole, queue: Whole
) -> None:
    """Number the cells of a flat by steps from those with level 1."""
    rows, cols = out.shape
    head, tail = first, first
    for i in range(first, last):
        if level[i] == 1:
            queue[tail] = i
            tail += 1
    while head < tail:
        i = queue[head]
        head += 1
        r, c = cells[i] // cols, cells[i] % cols
        for d in range(8):
            y, x = r + DROW[d], c + DCOL[d]
            if 0 <= y < rows and 0 <= x < cols:
                j = place[y, x]
                if first <= j < last and level[j] == 0:
                    level[j] = level[i] + 1
                    queue[tail] = j
                    tail += 1


@kernel
def _edges(
    heights: Heights, out: Codes, place: Whole, cells: Whole, first: int, last: int, levels: Whole
) -> bool:
    """Set level 1 in ``levels`` (2, n) beside a way down, and below higher ground.

    Returns whether the flat has a way down at all.
    """
    rows, cols = out.shape
    drained = False
    for i in range(first, last):
        levels[0, i] = levels[1, i] = 0
        r, c = cells[i] // cols, cells[i] % cols
        here = heights[r + 1, c + 1]
        for d in range(8):
            y, x = r + DROW[d], c + DCOL[d]
            there = heights[y + 1, x + 1]
            if there > here:
                levels[1, i] = 1
            elif there == here and 0 <= y < rows and 0 <= x < cols and out[y, x] <= OUT:
                levels[0, i] = 1
                drained = True
    return drained


@kernel
def _lead(
    heights: Heights, out: Codes, place: Whole, cells: Whole, first: int, last: int, levels: Whole
) -> None:
    """Give each cell of a drained flat its way: down the sum of both gradients."""
    rows, cols = out.shape
    for i in range(first, last):
        r, c = cells[i] // cols, cells[i] % cols
        best, way = 2 * levels[0, i] - levels[1, i], -1
        for k in range(8):
            d = STRAIGHT_FIRST[k]
            y, x = r + DROW[d], c + DCOL[d]
            if not (0 <= y < rows and 0 <= x < cols):
                continue
            j = place[y, x]
            if levels[0, i] == 1:
                level = heights[y + 1, x + 1] == heights[r + 1, c + 1]
                if j < 0 and level and out[y, x] <= OUT:
                    way = d
                    break
            elif first <= j < last:
                value = 2 * levels[0, j] - levels[1, j]
                if value < best:
                    best, way = value, d
        out[r, c] = way


@kernel
def cross_flats(heights: Heights, out: Codes, place: Whole, work: Any) -> None:
    """Lead the water over level ground: to where it falls, away from where it rises.

    ``place`` (h, w) comes as -1 and is used up, ``work`` (4, n) holds n = undecided cells. Level
    ground without a way down gets a pit, its first cell, to which all of it drains.
    """
    rows, cols = out.shape
    cells, queue, levels = work[0], work[1], work[2:]
    n = 0
    for r in range(rows):
        for c in range(cols):
            if out[r, c] != FLAT or place[r, c] >= 0:
                continue
            first = n
            n = _collect(heights, out, place, cells, r * cols + c, first)
            if _edges(heights, out, place, cells, first, n, levels):
                _spread(out, place, cells, first, n, levels[0], queue)
                _spread(out, place, cells, first, n, levels[1], queue)
                _lead(heights, out, place, cells, first, n, levels)
            else:
                levels[0, first] = 1
                _spread(out, place, cells, first, n, levels[0], queue)
                _gather_in(out, place, cells, first, n, levels[0])


@kernel
def _gather_in(out: Codes, place: Whole, cells: Whole, first: int, last: int, level: Whole) -> None:
    """Lead all cells of a flat to its first one, which becomes a pit."""
    rows, cols = out.shape
    for i in range(first, last):
        r, c = cells[i] // cols, cells[i] % cols
        if level[i] == 1:
            out[r, c] = PIT
            continue
        for k in range(8):
            d = STRAIGHT_FIRST[k]
            y, x = r + DROW[d], c + DCOL[d]
            if 0 <= y < rows and 0 <= x < cols:
                j = place[y, x]
                if first <= j < last and level[j] == level[i] - 1:
                    out[r, c] = d
                    break
