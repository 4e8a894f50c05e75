"""Elevations at chosen cell centres, read block by block from the files.

The files are opened, read and closed within one call, so threads and processes share no handle.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from rasterio.windows import Window

from routing.arrays import FloatArray, IntArray
from routing.terrain.raster import Raster, opened, read_valid, settled
from routing.terrain.terrain import Terrain

__all__ = ["clean", "read_corners", "read_nodes"]

LEAST_CHUNK = 128
"""Blocks smaller than this are read several at a time [cells a side]."""

MOST_CHUNKS_JOINED = 8
"""Chunks side by side that are read in one call [-]."""

SENTINELS = (-9999.0, -32767.0, -32768.0, -99999.0, -999999.0)
"""Values that mean "missing" in unscaled rasters that declare nothing; no ground lies so low."""

HIGH_SENTINELS = (32767.0, 65535.0, 99999.0, 999999.0)
"""The same above: no ground lies so high, in feet either."""

HUGE = 1e6
"""Elevations from here up mean "missing" (fill values such as 3.4e38 and 1e20)."""


def read_corners(
    terrain: Terrain, rows: ArrayLike, cols: ArrayLike, tile: IntArray | None = None
) -> FloatArray:
    """Return the elevations at the four corners of bilinear cells, reading only their blocks.

    Parameters
    ----------
    terrain : Terrain
        What :func:`open_terrain` returned; only its own grid is read, not its ``others``
    rows, cols : array_like of int, shape (n,)
        Upper left corner of each cell, as row and column of the grid; one beyond the outer cell
        centres is allowed and holds the edge value [-]
    tile : IntArray, shape (n,), optional
        A tile on which part of each cell lies: a corner on no tile at all then holds that tile's
        edge value, as beyond the grid's own edge [-]

    Returns
    -------
    corners : FloatArray, shape (4, n)
        Elevations at (r, c), (r, c+1), (r+1, c), (r+1, c+1); NaN where missing [m]

    Raises
    ------
    UnreadableRaster
        If a block cannot be decoded.

    Notes
    -----
    Memory is that of the corners and of one block, whatever the size of the raster.
    """
    row = np.asarray(rows, dtype=np.int64)
    col = np.asarray(cols, dtype=np.int64)
    last_row, last_col = terrain.shape[0] - 1, terrain.shape[1] - 1
    up, down = np.clip(row, 0, last_row), np.clip(row + 1, 0, last_row)
    left, right = np.clip(col, 0, last_col), np.clip(col + 1, 0, last_col)
    # One corner of all cells after the other: each run follows the line from block to block.
    node_row = np.concatenate([up, up, down, down])
    node_col = np.concatenate([left, right, left, right])
    if tile is not None:
        node_row, node_col = _held(terrain, node_row, node_col, np.tile(tile, 4))
    return read_nodes(terrain, node_row, node_col).reshape(4, -1)


def _held(
    terrain: Terrain, rows: IntArray, cols: IntArray, tile: IntArray
) -> tuple[IntArray, IntArray]:
    """Return cells with those on no tile moved to the nearest cell of the tile named."""
    bare = np.flatnonzero(terrain.index.owners(rows, cols) < 0)
    if not bare.size:
        return rows, cols
    boxes = terrain.index.boxes[tile[bare]]
    rows, cols = rows.copy(), cols.copy()
    rows[bare] = np.clip(rows[bare], boxes[:, 0], boxes[:, 2] - 1)
    cols[bare] = np.clip(cols[bare], boxes[:, 1], boxes[:, 3] - 1)
    return rows, cols


def read_nodes(terrain: Terrain, rows: IntArray, cols: IntArray) -> FloatArray:
    """Return the elevations of cells of the grid, NaN where missing [m]."""
    if len(terrain.tiles) == 1:
        return _read_tile(terrain.tiles[0], rows, cols) * terrain.metres_per_unit
    with settled():
        return _read_mosaic(terrain, rows, cols)


def _read_mosaic(terrain: Terrain, rows: IntArray, cols: IntArray) -> FloatArray:
    """Return the elevations of cells on several tiles, each cell from the first that has it [m]."""
    heights = np.full(rows.shape, np.nan)
    owner = terrain.index.owners(rows, cols)
    order = np.argsort(owner, kind="stable")
    numbers, starts = np.unique(owner[order], return_index=True)
    for number, wanted in zip(numbers.tolist(), np.split(order, starts[1:]), strict=True):
        if number >= 0:
            heights[wanted] = _on_tile(terrain, number, rows[wanted], cols[wanted])
    if not terrain.index.single:
        _fill_from_below(terrain, rows, cols, heights, owner)
    return heights


def _on_tile(terrain: Terrain, number: int, rows: IntArray, cols: IntArray) -> FloatArray:
    """Return the elevations of cells that lie on one tile [m]."""
    tile = terrain.tiles[number]
    return _read_tile(tile, rows - tile.row0, cols - tile.col0) * terrain.metres_per_unit


def _fill_from_below(
    terrain: Terrain, rows: IntArray, cols: IntArray, heights: FloatArray, owner: IntArray
) -> None:
    """Fill cells that are missing on the first of several tiles from the tiles beneath it."""
    missing = np.flatnonzero(np.isnan(heights) & terrain.index.shared(rows, cols))
    for number, tile in enumerate(terrain.tiles):
        if not missing.size:
            return
        row, col = rows[missing] - tile.row0, cols[missing] - tile.col0
        inside = (row >= 0) & (row < tile.shape[0]) & (col >= 0) & (col < tile.shape[1])
        wanted = missing[inside & (owner[missing] < number)]
        if wanted.size:
            heights[wanted] = _on_tile(terrain, number, rows[wanted], cols[wanted])
            missing = missing[np.isnan(heights[missing])]


def clean(tile: Raster, raw: NDArray[Any], valid: NDArray[np.bool_] | None) -> FloatArray:
    """Return raw cell values as elevations in the raster's unit, NaN where missing."""
    with np.errstate(all="ignore"):  # what overflows is missing
        values = raw.astype(np.float64)
        missing = ~np.isfinite(values)
        if valid is not None:
            missing |= ~valid
        if tile.nodata is not None and np.isfinite(tile.nodata):
            # Equal within a few units of the last place of float32: fill values get rounded.
            missing |= np.abs(values - tile.nodata) <= 5e-7 * abs(tile.nodata)
        if tile.scale == 1.0 and tile.offset == 0.0:
            if np.nanmin(values, initial=0.0) <= max(SENTINELS):
                missing |= np.isin(values, SENTINELS)
            if np.nanmax(values, initial=0.0) >= min(HIGH_SENTINELS):
                missing |= np.isin(values, HIGH_SENTINELS)
        else:
            values = values * tile.scale + tile.offset
        missing |= ~(np.abs(values) < HUGE)
    values[missing] = np.nan
    return values


def _read_tile(tile: Raster, rows: IntArray, cols: IntArray) -> FloatArray:
    """Return the elevations of cells of one file, in its own unit, NaN where missing."""
    if not rows.size:
        return np.empty(0)
    height, width = (_chunk_side(side) for side in tile.block)
    across = -(-tile.shape[1] // width)
    chunk = (rows // height) * across + cols // width
    order = np.argsort(chunk, kind="stable")
    rows, cols, chunk = rows[order], cols[order], chunk[order]
    # Neighbours in a row of chunks are read in one call: the same blocks, fewer calls.
    breaks = np.flatnonzero(chunk[1:] != chunk[:-1]) + 1
    here, before = chunk[breaks], chunk[breaks - 1]
    apart = (here != before + 1) | (here % across % MOST_CHUNKS_JOINED == 0)
    starts = np.concatenate([[0], breaks[apart]])
    # The least window of each run, and each cell's place in its window read row by row.
    top, left = np.minimum.reduceat(rows, starts), np.minimum.reduceat(cols, starts)
    wide = np.maximum.reduceat(cols, starts) - left + 1
    high = np.maximum.reduceat(rows, starts) - top + 1
    ends = np.append(starts[1:], rows.size)
    span = ends - starts
    place = (rows - np.repeat(top, span)) * np.repeat(wide, span) + cols - np.repeat(left, span)
    raw = np.empty(rows.shape, dtype=tile.dtype)
    has_mask = tile.masked or tile.alpha is not None
    valid = np.empty(rows.shape, dtype=np.bool_) if has_mask else None
    boxes = np.stack([left, top, wide, high, starts, ends], axis=1).tolist()
    with opened(tile.path, tile.driver) as dataset:
        for x, y, columns, lines, begin, end in boxes:
            window, inside = Window(x, y, columns, lines), place[begin:end]
            raw[begin:end] = dataset.read(tile.band, window=window).reshape(-1)[inside]
            mask = read_valid(dataset, tile, window)
            if mask is not None and valid is not None:
                valid[begin:end] = mask.reshape(-1)[inside]
    heights = np.empty(rows.shape)
    heights[order] = clean(tile, raw, valid)
    return heights


def _chunk_side(block: int) -> int:
    """Return the side of a chunk: the block's, or so many blocks that a read is worth its call."""
    return block * max(1, LEAST_CHUNK // block)
