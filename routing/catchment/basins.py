"""Which pit each cell drains to, and over which passes the pits are joined to the raster's edge.

Each depression overflows at its lowest pass. Those passes are a least spanning tree of the graph
of basins; the way from a pass down to its pit is turned round, so that the water of the pit runs
out there.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from routing.arrays import FloatArray
from routing.catchment.codes import DCOL, DROW, OUT, PIT, VOID
from routing.catchment.descent import Codes, Heights, Whole
from routing.compiled import kernel

__all__ = [
    "carve",
    "count_passes",
    "count_roots",
    "label",
    "list_passes",
    "seam_passes",
    "span",
    "turn_to_root",
]

Marks = NDArray[np.bool_]


@kernel
def count_roots(out: Codes) -> int:
    """Return how many cells of a strip are pits, or lead out of the strip."""
    rows, cols = out.shape
    count = 0
    for r in range(rows):
        for c in range(cols):
            d = out[r, c]
            if d == PIT or (d < OUT and not 0 <= r + DROW[d] < rows):
                count += 1
    return count


@kernel
def label(out: Codes, names: Whole, roots: Whole) -> None:
    """Name each cell of a strip by where its water ends, and list the cells that are ends.

    ``names`` (h, w) comes as -1. 0 is the outside; 1, 2 ... are ``roots[0], roots[1]`` ..., pits
    and cells that lead out of the strip; -2 has no elevation.
    """
    rows, cols = out.shape
    count = 0
    for r in range(rows):
        for c in range(cols):
            if names[r, c] != -1:
                continue
            if out[r, c] == VOID:
                names[r, c] = -2
                continue
            y, x = r, c
            while True:
                d = out[y, x]
                if d == OUT:
                    name = 0
                    break
                below = y if d == PIT else y + DROW[d]
                if d == PIT or not 0 <= below < rows:
                    roots[count] = y * cols + x
                    count += 1
                    name = count
                    break
                if names[below, x + DCOL[d]] != -1:
                    name = names[below, x + DCOL[d]]
                    break
                y, x = below, x + DCOL[d]
            last_y, last_x = y, x
            y, x = r, c
            while True:
                names[y, x] = name
                if y == last_y and x == last_x:
                    break
                d = out[y, x]
                y, x = y + DROW[d], x + DCOL[d]


@kernel
def _beside(heights: Heights, r: int, c: int) -> bool:
    """Return whether a cell lies beside one without elevation, or at the edge."""
    for d in range(8):
        there = heights[r + 1 + DROW[d], c + 1 + DCOL[d]]
        if not there == there:
            return True
    return False


@kernel
def count_passes(heights: Heights, names: Whole) -> int:
    """Return how many passes :func:`list_passes` will list."""
    rows, cols = names.shape
    count = 0
    for r in range(rows):
        for c in range(cols):
            if names[r, c] < 0:
                continue
            if names[r, c] > 0 and _beside(heights, r, c):
                count += 1
            for d in range(4):
                y, x = r + DROW[d], c + DCOL[d]
                if y < rows and 0 <= x < cols and names[y, x] >= 0 and names[y, x] != names[r, c]:
                    count += 1
    return count


@kernel
def list_passes(
    heights: Heights,
    names: Whole,
    steps: FloatArray,
    ends: Whole,
    level: Any,
    code: Any,
    first_cell: int,
) -> None:
    """List all pairs of neighbours of different basins, and where basins meet the outside.

    ``steps`` (h, 4) are the ways to the neighbours 0 to 3. ``ends`` (2, n) are the basins' names,
    ``level`` (2, n) the higher of both cells and the slope between them, negative; ``code`` (n,) 16
    times the cell of the first basin, counted from ``first_cell``, plus the direction.
    """
    rows, cols = names.shape
    n = 0
    for r in range(rows):
        for c in range(cols):
            here = names[r, c]
            if here < 0:
                continue
            z = heights[r + 1, c + 1]
            cell = first_cell + r * cols + c
            if here > 0 and _beside(heights, r, c):
                ends[0, n], ends[1, n], code[n] = here, 0, 16 * cell + OUT
                level[0, n], level[1, n] = z, -np.inf
                n += 1
            for d in range(4):
                y, x = r + DROW[d], c + DCOL[d]
                if y < rows and 0 <= x < cols and names[y, x] >= 0 and names[y, x] != here:
                    there = heights[y + 1, x + 1]
                    ends[0, n], ends[1, n], code[n] = here, names[y, x], 16 * cell + d
                    level[0, n] = max(z, there)
                    level[1, n] = -abs(float(z) - float(there)) / steps[r, d]
                    n += 1


@kernel
def seam_passes(
    heights: Heights,
    names: Whole,
    step: FloatArray,
    ends: Whole,
    level: Any,
    code: Any,
    first_cell: int,
) -> int:
    """List the passes between two strips as above, from the rows (2, w) on both sides.

    ``step`` (4,) are the ways to the neighbours, ``first_cell`` is the first cell of the upper row.
    Returns their count.
    """
    cols = names.shape[1]
    n = 0
    for c in range(cols):
        for d in range(1, 4):
            x = c + DCOL[d]
            if 0 <= x < cols and names[0, c] >= 0 and names[1, x] >= 0:
                z, there = heights[0, c], heights[1, x]
                ends[0, n], ends[1, n] = names[0, c], names[1, x]
                code[n] = 16 * (first_cell + c) + d
                level[0, n] = max(z, there)
                level[1, n] = -abs(float(z) - float(there)) / step[d]
                n += 1
    return n


@kernel
def _find(parent: Whole, i: int) -> int:
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


@kernel
def _lower(level: Any, a: int, b: int) -> bool:
    """Return whether pass ``a`` is lower than ``b``, or as high and steeper."""
    side = 1 if level[0, a] == level[0, b] else 0
    return bool(level[side, a] < level[side, b])


@kernel
def _lowest(ends: Whole, level: Any, parent: Whole, live: Any, count: int, best: Whole) -> int:
    """Find each basin's lowest pass among ``live``, dropping those within one; return how many."""
    left = 0
    for i in range(count):
        e = live[i]
        a, b = _find(parent, ends[0, e]), _find(parent, ends[1, e])
        if a == b:
            continue
        live[left] = e
        left += 1
        if best[a] < 0 or _lower(level, e, best[a]):
            best[a] = e
        if best[b] < 0 or _lower(level, e, best[b]):
            best[b] = e
    return left


@kernel
def span(ends: Whole, level: Any, parent: Whole) -> Marks:
    """Mark the passes of a least spanning tree.

    Of passes at one level the steepest counts, as it would for the water of a filled depression;
    of equal ones the first listed.
    ``parent`` are the basins as they are joined already, and takes up the further joins. Each round
    joins every basin over its lowest pass (Boruvka's method).
    """
    chosen = np.zeros(level.shape[1], np.bool_)
    live = np.arange(level.shape[1])
    best = np.full(parent.shape[0], -1, np.int32)
    count = _lowest(ends, level, parent, live, live.shape[0], best)
    while count:
        for i in range(count):
            e = live[i]
            a, b = _find(parent, ends[0, e]), _find(parent, ends[1, e])
            chosen[e] = best[a] == e or best[b] == e
        for i in range(count):
            e = live[i]
            a, b = _find(parent, ends[0, e]), _find(parent, ends[1, e])
            best[a] = best[b] = -1
            if chosen[e] and a != b:
                parent[max(a, b)] = min(a, b)
        count = _lowest(ends, level, parent, live, count, best)
    return chosen


@kernel
def turn_to_root(ends: Whole, parent: Whole, chosen: Whole) -> Any:
    """Return for each chosen pass which of its basins drains over it: 0 or 1.

    ``parent`` joins what flows together of itself; ``chosen`` (n,) number the passes of the tree,
    whose root is the basin of name 0.
    """
    count = chosen.shape[0]
    start = np.zeros(parent.shape[0] + 1, np.int64)
    for i in range(count):
        for k in range(2):
            start[_find(parent, ends[k, chosen[i]]) + 1] += 1
    start = np.cumsum(start)
    fill = start.copy()
    edges = np.empty(2 * count, np.int32)
    for i in range(count):
        for k in range(2):
            basin = _find(parent, ends[k, chosen[i]])
            edges[fill[basin]] = 2 * i + k
            fill[basin] += 1
    side = np.full(count, -1, np.int8)
    queue = np.empty(count + 1, np.int32)
    queue[0] = _find(parent, 0)
    head, tail = 0, 1
    while head < tail:
        basin = queue[head]
        head += 1
        for j in range(start[basin], start[basin + 1]):
            i, k = edges[j] // 2, edges[j] % 2
            if side[i] < 0:
                side[i] = 1 - k
                queue[tail] = _find(parent, ends[1 - k, chosen[i]])
                tail += 1
    return side


@kernel
def carve(out: Codes, code: Any, side: Any) -> int:
    """Turn round the way from each pass down to its pit; return how many cells were turned.

    ``out`` is the whole raster; ``side`` 0: the basin of the pass's own cell drains over it.
    """
    cols = out.shape[1]
    turned = 0
    for i in range(code.shape[0]):
        d = code[i] % 16
        r, c = (code[i] // 16) // cols, (code[i] // 16) % cols
        if side[i] == 1:
            r, c = r + DROW[d], c + DCOL[d]
            d = (d + 4) % 8
        while True:
            old = out[r, c]
            out[r, c] = d
            turned += 1
            if old == PIT:
                break
            d = (old + 4) % 8
            r, c = r + DROW[old], c + DCOL[old]
    return turned
