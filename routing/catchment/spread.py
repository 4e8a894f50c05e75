"""Catchment areas where water is shared among all lower neighbours, not sent one way."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.catchment.areas import ONE_PIECE_CELLS, CatchmentAreas, Flags, own_areas
from routing.catchment.codes import DCOL, DROW, OUT, VOID
from routing.catchment.descent import Codes, Heights, Whole
from routing.catchment.drainage import Drainage
from routing.compiled import kernel
from routing.errors import RasterTooLarge
from routing.terrain.reduced import read_cells

__all__ = ["spread_areas"]

FREEMAN = 1.1
"""Exponent of the slope by which water is shared [-]: Freeman 1991."""


@kernel
def _raise_to_outflow(out: Codes, heights: Heights, order: Whole, donors: Flags) -> None:
    """Raise each cell to the highest one on its way out, in place; ``donors`` come as 0."""
    rows, cols = out.shape
    for r in range(rows):
        for c in range(cols):
            if out[r, c] < OUT:
                donors[r + DROW[out[r, c]], c + DCOL[out[r, c]]] += 1
    n = 0
    for r in range(rows):
        for c in range(cols):
            y, x = r, c
            while donors[y, x] == 0:
                donors[y, x] = VOID
                order[n] = y * cols + x
                n += 1
                d = out[y, x]
                if d >= OUT:
                    break
                y, x = y + DROW[d], x + DCOL[d]
                donors[y, x] -= 1
    for i in range(n - 1, -1, -1):
        r, c = order[i] // cols, order[i] % cols
        d = out[r, c]
        if d < OUT:
            heights[r, c] = max(heights[r, c], heights[r + DROW[d], c + DCOL[d]])


@kernel
def _shares(
    out: Codes, heights: Heights, steps: FloatArray, r: int, c: int, share: FloatArray
) -> None:
    """Fill ``share`` (8,) with the parts of a cell's water that go each way.

    They add up to 1; where water leaves the raster they are 0.
    """
    rows, cols = out.shape
    share[:] = 0.0
    if out[r, c] == OUT:
        return
    total = 0.0
    for d in range(8):
        y, x = r + DROW[d], c + DCOL[d]
        if 0 <= y < rows and 0 <= x < cols and heights[y, x] < heights[r, c]:
            fall = (float(heights[r, c]) - float(heights[y, x])) / steps[r, d % 4]
            share[d] = fall**FREEMAN
            total += share[d]
    if total > 0.0:
        for d in range(8):
            share[d] /= total
    else:
        share[out[r, c]] = 1.0


@kernel
def _sources(out: Codes, heights: Heights, steps: FloatArray, order: Whole, donors: Flags) -> int:
    """Count what gives to each cell, and list those to which nothing comes; return how many."""
    rows, cols = out.shape
    share = np.empty(8)
    for r in range(rows):
        for c in range(cols):
            if out[r, c] != VOID:
                _shares(out, heights, steps, r, c, share)
                for d in range(8):
                    if share[d] > 0.0:
                        donors[r + DROW[d], c + DCOL[d]] += 1
    n = 0
    for r in range(rows):
        for c in range(cols):
            if out[r, c] != VOID and donors[r, c] == 0:
                order[n] = r * cols + c
                n += 1
    return n


@kernel
def _share_out(
    out: Codes,
    heights: Heights,
    steps: FloatArray,
    area: FloatArray,
    open_: Flags,
    order: Whole,
    donors: Flags,
) -> None:
    """Hand on the water of each cell once all that comes to it is there; ``donors`` come as 0."""
    cols = out.shape[1]
    share = np.empty(8)
    head, tail = 0, _sources(out, heights, steps, order, donors)
    while head < tail:
        r, c = order[head] // cols, order[head] % cols
        head += 1
        _shares(out, heights, steps, r, c, share)
        for d in range(8):
            if share[d] > 0.0:
                y, x = r + DROW[d], c + DCOL[d]
                area[y, x] += share[d] * area[r, c]
                open_[y, x] |= open_[r, c]
                donors[y, x] -= 1
                if donors[y, x] == 0:
                    order[tail] = y * cols + x
                    tail += 1


def spread_areas(drainage: Drainage) -> CatchmentAreas:
    """Return the catchment area of every cell, its water shared among all lower neighbours.

    Parameters
    ----------
    drainage : Drainage
        What :func:`routing.catchment.drain` returned; at most 32 million cells

    Returns
    -------
    CatchmentAreas
        Areas, larger where water gathers over many cells and smaller on open slopes than those of
        one way; ``at_least`` where any of it may come from beyond the raster

    Raises
    ------
    RasterTooLarge
        If there are more cells.

    Notes
    -----
    Shares go with the slope to the power 1.1 [1]_, on the ground with its depressions filled to
    their outflow; where nothing is lower, all goes the one way. So no water is lost, and none goes
    round in a ring.

    References
    ----------
    .. [1] Freeman, Calculating catchment area with divergent flow based on a regular grid, 1991.
    """
    rows, cols = drainage.shape
    if rows * cols > ONE_PIECE_CELLS:
        raise RasterTooLarge(
            f"The water of {rows} x {cols} cells is not shared among neighbours; the limit is "
            f"{ONE_PIECE_CELLS:,} cells.",
            'Set method = "d8" under [catchment], or cut out a part of the raster.',
        )
    out, work = drainage.directions, 60 * rows * cols
    heights = read_cells(drainage.terrain, 0, rows, 0, cols)
    order = np.empty(rows * cols, dtype=np.int32)
    _raise_to_outflow.sized(work)(out, heights, order, np.zeros(out.shape, dtype=np.uint8))
    area, open_ = own_areas(drainage, 0, rows)
    donors = np.zeros(out.shape, dtype=np.uint8)
    steps = drainage.sizes.steps(0, rows)
    _share_out.sized(work)(out, heights, steps, area, open_, order, donors)
    return CatchmentAreas(area_m2=frozen(area), at_least=frozen(open_, dtype=np.uint8))
