"""What drains through each cell: its catchment's area, and whether the raster holds all of it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from routing.arrays import FloatArray, frozen
from routing.catchment.basins import count_roots, label
from routing.catchment.codes import DCOL, DROW, OUT, VOID
from routing.catchment.descent import Codes, Whole
from routing.catchment.drainage import Drainage
from routing.compiled import kernel
from routing.errors import RasterTooLarge
from routing.value import dataclass

__all__ = ["CatchmentAreas", "StripAreas", "catchment_areas", "own_areas", "strips_of_areas"]

ONE_PIECE_CELLS = 32_000_000
"""Cells up to which a raster's areas are added up in one piece [-]."""

STRIP_CELLS = 8_000_000
"""Cells of a strip of a larger one [-]."""

Flags = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CatchmentAreas:
    """Areas of the whole grid, (rows, cols) each.

    ``area_m2`` is what drains through a cell, itself included, 0 where there is no elevation [m2];
    ``at_least`` is 1 where water may come from beyond the raster, so that the area is the least.
    """

    area_m2: FloatArray
    at_least: Flags


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StripAreas:
    """The same for rows ``first`` to ``last`` - 1."""

    first: int
    last: int
    area_m2: FloatArray
    at_least: Flags


@kernel
def _beside(out: Codes, r: int, c: int) -> bool:
    """Return whether a cell lies beside the raster's edge or a cell without elevation."""
    for d in range(8):
        y, x = r + DROW[d], c + DCOL[d]
        if not (0 <= y < out.shape[0] and 0 <= x < out.shape[1]) or out[y, x] == VOID:
            return True
    return False


@kernel
def _own(
    out: Codes,
    first: int,
    last: int,
    sizes: FloatArray,
    step: float,
    voids: bool,
    area: FloatArray,
    open_: Flags,
) -> None:
    """Fill in each cell's own area, and mark those beside the raster's edge or ``voids``."""
    rows, cols = out.shape
    nodes = sizes.shape[1]
    for r in range(first, last):
        for c in range(cols):
            if out[r, c] == VOID:
                continue
            node = min(int(c / step), nodes - 2)
            share = c / step - node
            low, high = sizes[r - first, node], sizes[r - first, node + 1]
            area[r - first, c] = (1.0 - share) * low + share * high
            if voids or r == 0 or c == 0 or r == rows - 1 or c == cols - 1:
                open_[r - first, c] = _beside(out, r, c)


@kernel
def _gather(out: Codes, area: FloatArray, open_: Flags, donors: Flags) -> None:
    """Add to each cell of a strip what drains to it from cells of the strip; ``donors`` are 0."""
    rows, cols = out.shape
    for r in range(rows):
        for c in range(cols):
            d = out[r, c]
            if d < OUT:
                y = r + DROW[d]
                if 0 <= y < rows:
                    donors[y, c + DCOL[d]] += 1
    for r in range(rows):
        for c in range(cols):
            y, x = r, c
            while donors[y, x] == 0:
                donors[y, x] = VOID
                d = out[y, x]
                if d >= OUT:
                    break
                below, beside = y + DROW[d], x + DCOL[d]
                if not 0 <= below < rows:
                    break
                area[below, beside] += area[y, x]
                open_[below, beside] |= open_[y, x]
                donors[below, beside] -= 1
                y, x = below, beside


@kernel
def _settle(below: Whole, area: FloatArray, open_: Flags) -> None:
    """Add up areas along a forest: ``below`` is what each drains to, -1 where that is outside."""
    donors = np.zeros(below.shape[0], np.int32)
    for i in range(below.shape[0]):
        if below[i] >= 0:
            donors[below[i]] += 1
    for i in range(below.shape[0]):
        j = i
        while donors[j] == 0:
            donors[j] = -1
            k = below[j]
            if k < 0:
                break
            area[k] += area[j]
            open_[k] |= open_[j]
            donors[k] -= 1
            j = k


def catchment_areas(drainage: Drainage) -> CatchmentAreas:
    """Return the catchment area of every cell; for rasters that fit into memory ninefold.

    Raises
    ------
    RasterTooLarge
        If there are more than 32 million cells; :func:`strips_of_areas` has no such limit.
    """
    rows, cols = drainage.shape
    if rows * cols > ONE_PIECE_CELLS:
        raise RasterTooLarge(
            f"The areas of all {rows} x {cols} cells are not kept at once; the limit is "
            f"{ONE_PIECE_CELLS:,} cells.",
            "Take them strip by strip, or cut out a part of the raster.",
        )
    (strip,) = strips_of_areas(drainage)
    return CatchmentAreas(
        area_m2=frozen(strip.area_m2), at_least=frozen(strip.at_least, dtype=np.uint8)
    )


def strips_of_areas(drainage: Drainage) -> Iterator[StripAreas]:
    """Yield the catchment areas of a grid from top to bottom, a strip of rows at a time.

    A raster of up to 32 million cells comes as one strip. Of a larger one each strip is added up
    twice: first what its own cells give, which is then carried along the cells where water leaves
    a strip, then with what comes in from its neighbours (Barnes 2017).
    """
    rows, cols = drainage.shape
    whole = rows * cols <= ONE_PIECE_CELLS
    high = rows if whole else max(STRIP_CELLS // cols, 2)
    bounds = [(row, min(row + high, rows)) for row in range(0, rows, high)]
    inflow = None if whole else _inflow(drainage, bounds)
    for index, (first, last) in enumerate(bounds):
        area, open_ = own_areas(drainage, first, last)
        if inflow is not None:
            cell, more, flag = inflow[index]
            np.add.at(area.reshape(-1), cell, more)
            np.bitwise_or.at(open_.reshape(-1), cell, flag)
        _add_up(drainage, first, last, area, open_)
        yield StripAreas(first=first, last=last, area_m2=area, at_least=open_)


def _add_up(drainage: Drainage, first: int, last: int, area: FloatArray, open_: Flags) -> None:
    out, donors = drainage.directions[first:last], np.zeros(area.shape, dtype=np.uint8)
    _gather.sized(20 * area.size)(out, area, open_, donors)


def own_areas(drainage: Drainage, first: int, last: int) -> tuple[FloatArray, Flags]:
    """Return the own area of each cell of some rows, and which lie beside edge or void."""
    out, sizes = drainage.directions, drainage.sizes
    area = np.zeros((last - first, drainage.shape[1]))
    open_ = np.zeros(area.shape, dtype=np.uint8)
    near = out[max(first - 1, 0) : last + 1]
    _own.sized(10 * area.size)(
        out,
        first,
        last,
        sizes.areas(first, last),
        sizes.column_step,
        bool(np.any(near == VOID)),
        area,
        open_,
    )
    return area, open_


def _inflow(drainage: Drainage, bounds: list[tuple[int, int]]) -> list[tuple[Any, Any, Any]]:
    """Return for each strip the cells into which water comes from others, its area and flag."""
    out, cols = drainage.directions, drainage.shape[1]
    roots, names, areas, flags = [], [], [], []
    for first, last in bounds:
        area, open_ = own_areas(drainage, first, last)
        _add_up(drainage, first, last, area, open_)
        own, name = out[first:last], np.full(area.shape, -1, dtype=np.int32)
        root = np.empty(count_roots.sized(area.size)(own), dtype=np.int32)
        label.sized(20 * area.size)(own, name, root)
        roots.append(root)
        names.append(name[[0, -1]])
        areas.append(area.reshape(-1)[root])
        flags.append(open_.reshape(-1)[root])
    start = np.concatenate(([0], np.cumsum([root.size for root in roots])))
    below = np.full(start[-1], -1, dtype=np.int32)
    into = np.empty((2, start[-1]), dtype=np.int64)
    for index, (first, _) in enumerate(bounds):
        row, col = np.divmod(roots[index], cols)
        way = out[first + row, col]
        down = DROW[way]
        for step in (1, -1):
            ours = np.flatnonzero(down == step)
            if not ours.size:
                continue
            target, strip = (col + DCOL[way])[ours], index + step
            name = names[strip][0 if step > 0 else 1][target]
            at = start[index] + ours
            below[at] = np.where(name > 0, start[strip] + name - 1, -1)
            row_in = 0 if step > 0 else bounds[strip][1] - bounds[strip][0] - 1
            into[0, at], into[1, at] = strip, row_in * cols + target
    total, flag = np.concatenate(areas), np.concatenate(flags)
    _settle.sized(10 * below.size)(below, total, flag)
    order = np.argsort(into[0], kind="stable")
    cut = np.searchsorted(into[0][order], np.arange(len(bounds) + 1))
    parts = [order[a:b] for a, b in pairwise(cut)]
    return [(into[1][part], total[part], flag[part]) for part in parts]
