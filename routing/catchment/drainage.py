"""Flow directions of a whole raster, strip by strip, with every depression given its way out."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from routing.catchment import basins, descent
from routing.catchment.cells import CellSizes, cell_sizes
from routing.catchment.codes import DCOL, DROW, VOID
from routing.catchment.descent import Codes, Heights, Whole
from routing.errors import NotElevation, RasterTooLarge
from routing.terrain import Terrain
from routing.terrain.reduced import read_cells
from routing.value import dataclass

__all__ = ["MOST_CELLS", "Drainage", "check_drainable", "drain"]

MOST_CELLS = 600_000_000
"""Most cells of a raster whose water is followed [-]; 400 million were measured within 2 GB."""

STRIP_CELLS = 4_000_000
"""Cells worked on at a time by one thread [-]."""

LEAST_ROWS = 16
"""Fewest rows of a strip [-]."""

MOST_THREADS = 4
"""Most strips worked on at the same time; each takes about 150 MB."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drainage:
    """Where the water of every cell of a terrain's finest grid goes.

    ``directions`` (rows, cols) are the codes of :mod:`routing.catchment.codes`: 0 to 7 the
    neighbours clockwise from east, 8 out of the raster, 255 no elevation. Following them from any
    cell ends outside. ``depressions`` were led over their lowest pass, which turned the way of
    ``turned`` cells round.
    """

    terrain: Terrain
    directions: Codes
    sizes: CellSizes
    depressions: int
    turned: int

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.terrain.shape


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Strip:
    """What is kept of a strip: its basins' ends, the passes of its own tree, its outer rows."""

    roots: NDArray[np.int64]
    ends: Whole
    level: Heights
    code: NDArray[np.int64]
    names: Whole
    heights: Heights


def check_drainable(terrain: Terrain) -> None:
    """Raise the error for a raster too large to follow its water."""
    rows, cols = terrain.shape
    if rows * cols > MOST_CELLS:
        raise RasterTooLarge(
            f"The terrain has {rows} x {cols} cells; water is followed on {MOST_CELLS:,} at most.",
            "Cut out the part that drains to the intake, or give a coarser raster.",
        )


def drain(terrain: Terrain, *, progress: Callable[[float], None] | None = None) -> Drainage:
    """Find where the water of every cell of a terrain goes.

    Parameters
    ----------
    terrain : Terrain
        The elevation raster; only its finest grid is used
    progress : callable, optional
        Is told the share of the work that is done, 0 to 1

    Returns
    -------
    Drainage
        Directions in which every cell drains off the raster

    Raises
    ------
    RasterTooLarge, NotElevation
        If there are more cells than the limit, or none has an elevation.

    Notes
    -----
    Steepest descent to one of eight neighbours [1]_. Level ground is crossed away from higher
    and towards lower ground [2]_. Depressions overflow at their lowest pass, found as a least
    spanning tree of the graph of basins, and the way from there down to the pit is turned round
    [3]_; the highest cell on any way out is then the level to which filling [4]_ would raise it.
    Strips are joined by their outer rows as in [5]_, so that only one byte a cell is kept in
    memory; level ground is crossed within each strip. Water leaves at the raster's edge and where
    there is no elevation.

    References
    ----------
    .. [1] O'Callaghan and Mark, The extraction of drainage networks from digital elevation data,
       1984.
    .. [2] Barnes, Lehman and Mulla, An efficient assignment of drainage direction over flat
       surfaces in raster digital elevation models, 2014.
    .. [3] Cordonnier, Bovy and Braun, A versatile, linear complexity algorithm for flow routing in
       topographies with depressions, 2019.
    .. [4] Barnes, Lehman and Mulla, Priority-flood: an optimal depression-filling and
       watershed-labeling algorithm for digital elevation models, 2014.
    .. [5] Barnes, Parallel non-divergent flow accumulation for trillion cell digital elevation
       models on desktops or clusters, 2017.
    """
    check_drainable(terrain)
    rows, cols = terrain.shape
    sizes = cell_sizes(terrain)
    out = np.empty((rows, cols), dtype=np.uint8)
    bounds = _bounds(terrain)
    done = 0
    strips: list[_Strip] = []
    threads = min(MOST_THREADS, os.cpu_count() or 1, len(bounds))
    with ThreadPoolExecutor(threads) as pool:
        waiting = [pool.submit(_strip, terrain, sizes, out, *ends) for ends in bounds]
        for ends, each in zip(bounds, waiting, strict=True):
            strips.append(each.result())
            done += ends[1] - ends[0]
            if progress is not None:
                progress(0.95 * done / rows)
    if np.all(out == VOID):
        raise NotElevation("No cell of the terrain has an elevation.", "Give another raster.")
    depressions, turned = _join(out, sizes, strips, bounds)
    out.flags.writeable = False
    return Drainage(
        terrain=terrain, directions=out, sizes=sizes, depressions=depressions, turned=turned
    )


def _bounds(terrain: Terrain) -> list[tuple[int, int]]:
    """Return first and end row of each strip, whole blocks of the file where they are low."""
    rows, cols = terrain.shape
    high = max(STRIP_CELLS // cols, LEAST_ROWS)
    block = max(tile.block[0] for tile in terrain.tiles)
    if block <= high:
        high = high // block * block
    return [(row, min(row + high, rows)) for row in range(0, rows, high)]


def _strip(terrain: Terrain, sizes: CellSizes, out: Codes, first: int, last: int) -> _Strip:
    """Fill the directions of a strip, and return what joins it to the others."""
    rows, cols = terrain.shape
    work = (last - first) * cols * 40
    heights = np.full((last - first + 2, cols + 2), np.nan, dtype=np.float32)
    above, below = max(first - 1, 0), min(last + 1, rows)
    heights[1 - (first - above) : 1 + below - first, 1:-1] = read_cells(
        terrain, above, below, 0, cols
    )
    own = out[first:last]
    steps = sizes.steps(first, last)
    level = descent.steepest.sized(work)(heights, steps, own)
    names = np.full(own.shape, -1, dtype=np.int32)
    if level:
        descent.cross_flats.sized(work)(heights, own, names, np.empty((4, level), dtype=np.int32))
        names[:] = -1
    roots = np.empty(basins.count_roots.sized(work)(own), dtype=np.int32)
    basins.label.sized(work)(own, names, roots)
    count = basins.count_passes.sized(work)(heights, names)
    ends, code = np.empty((2, count), dtype=np.int32), np.empty(count, dtype=np.int64)
    passes = np.empty((2, count), dtype=np.float32)
    basins.list_passes.sized(work)(heights, names, steps, ends, passes, code, first * cols)
    parent = np.arange(roots.size + 1, dtype=np.int32)
    kept = basins.span.sized(work)(ends, passes, parent)
    return _Strip(
        roots=roots + np.int64(first * cols),
        ends=ends[:, kept],
        level=passes[:, kept],
        code=code[kept],
        names=names[[0, -1]],
        heights=heights[[1, -2], 1:-1],
    )


def _join(
    out: Codes, sizes: CellSizes, strips: list[_Strip], bounds: list[tuple[int, int]]
) -> tuple[int, int]:
    """Join the basins of all strips and lead each depression out; return counts of both."""
    cols = out.shape[1]
    names = np.concatenate(([0], np.cumsum([strip.roots.size for strip in strips])))
    count = int(names[-1]) + 1
    rim = [_named(strip.names, int(first)) for strip, first in zip(strips, names[:-1], strict=True)]
    parent = np.arange(count, dtype=np.int32)
    for index, strip in enumerate(strips):
        _join_exits(out, parent, strip, int(names[index]), (index, rim))
    ends = [_named(strip.ends, int(first)) for strip, first in zip(strips, names[:-1], strict=True)]
    level, code = [strip.level for strip in strips], [strip.code for strip in strips]
    for upper, (_, last) in enumerate(bounds[:-1]):
        pair = np.stack((rim[upper][1], rim[upper + 1][0]))
        high = np.stack((strips[upper].heights[1], strips[upper + 1].heights[0]))
        found = (
            np.empty((2, 3 * cols), dtype=np.int32),
            np.empty((2, 3 * cols), dtype=np.float32),
            np.empty(3 * cols, dtype=np.int64),
        )
        n = basins.seam_passes.sized(30 * cols)(
            high, pair, sizes.steps(last - 1, last)[0], *found, (last - 1) * cols
        )
        ends.append(found[0][:, :n].copy())
        level.append(found[1][:, :n].copy())
        code.append(found[2][:n].copy())
    all_ends, all_code = np.concatenate(ends, axis=1), np.concatenate(code)
    work = 20 * (all_code.size + count)
    kept = np.flatnonzero(
        basins.span.sized(work)(all_ends, np.concatenate(level, axis=1), parent.copy())
    ).astype(np.int32)
    side = basins.turn_to_root.sized(work)(all_ends, parent, kept)
    turned = basins.carve.sized(out.size)(out, all_code[kept], side)
    return kept.size, int(turned)


def _named(names: Whole, first: int) -> Whole:
    """Return a strip's names as names of the whole raster; outside and void keep theirs."""
    return np.where(names > 0, names + np.int32(first), names).astype(np.int32)


def _join_exits(
    out: Codes, parent: Whole, strip: _Strip, first: int, place: tuple[int, list[Whole]]
) -> None:
    """Join each cell that leads out of its strip to the basin of the cell below it."""
    index, rim = place
    rows, cols = divmod(strip.roots, out.shape[1])
    way = out[rows, cols]
    leads = np.flatnonzero(way < 8)
    if not leads.size:
        return
    down = DROW[way[leads]]
    target = cols[leads] + DCOL[way[leads]]
    below = np.empty(leads.size, dtype=np.int32)
    for step, row in ((1, 0), (-1, 1)):
        ours = down == step
        if ours.any():
            below[ours] = rim[index + step][row][target[ours]]
    parent[first + 1 + leads] = below
