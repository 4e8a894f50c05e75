"""Reduced copies of a terrain, so that a view of all of it costs no more than a view of a corner.

A reduced cell is the mean of a square of cells, aligned to the grid's first cell: neighbouring
pictures made from it meet without a seam. Heights here are in the raster's own vertical unit.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from rasterio.windows import Window

from routing.compiled import kernel
from routing.terrain.blocks import clean, read_nodes
from routing.terrain.raster import Raster, opened, read_valid
from routing.terrain.terrain import Terrain
from routing.value import dataclass

__all__ = [
    "FACTORS",
    "Floats",
    "Reduced",
    "draft_copy",
    "is_large",
    "read_cells",
    "read_reduced",
    "reduced_copies",
    "saved_copies",
    "write_copies",
]

Floats = NDArray[np.float32]

FACTORS = (4, 32)
"""Cells a side that one cell of each copy stands for [-]; each is a multiple of the one before."""

LARGE_CELLS = 16_000_000
"""Cells from which making the copies is work for the background [-]."""

DRAFT_BLOCKS = 96
"""Blocks decoded for a draft of a large raster whose copies are not made yet [-]."""

STRIP_CELLS = 4_000_000
"""Cells read at a time while the copies are made [-]."""

PIECE_CELLS = 500_000
"""Cells of a file that are made heights at a time [-]; each takes some 25 bytes meanwhile."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reduced:
    """Mean heights of squares of ``factor`` x ``factor`` cells, NaN where all are missing."""

    factor: int
    heights: Floats
    draft: bool = False


def is_large(terrain: Terrain) -> bool:
    """Return whether the terrain's copies take so long to make that nobody should wait."""
    return terrain.shape[0] * terrain.shape[1] > LARGE_CELLS


def read_cells(terrain: Terrain, row0: int, row1: int, col0: int, col1: int) -> Floats:
    """Return the heights of a rectangle of cells of the grid, NaN where missing."""
    heights = np.full((row1 - row0, col1 - col0), np.nan, dtype=np.float32)
    for tile in reversed(terrain.tiles):
        top, bottom = max(row0, tile.row0), min(row1, tile.row0 + tile.shape[0])
        left, right = max(col0, tile.col0), min(col1, tile.col0 + tile.shape[1])
        if bottom <= top or right <= left:
            continue
        with opened(tile.path, tile.driver) as dataset:
            for first, last in _pieces(tile, top - tile.row0, bottom - tile.row0, right - left):
                window = Window(left - tile.col0, first, right - left, last - first)
                raw = dataset.read(tile.band, window=window)
                values = clean(tile, raw, read_valid(dataset, tile, window))
                begin = tile.row0 + first - row0
                part = heights[begin : begin + last - first, left - col0 : right - col0]
                np.copyto(part, values, where=np.isfinite(values), casting="same_kind")
    return heights


def _pieces(tile: Raster, top: int, bottom: int, cols: int) -> Iterator[tuple[int, int]]:
    """Yield the rows of a file piece by piece, each ending where its blocks do."""
    high = tile.block[0]
    step = max(PIECE_CELLS // cols // high, 1) * high
    first = top
    while first < bottom:
        last = min((first // step + 1) * step, bottom)
        yield first, last
        first = last


@kernel
def _means(values: Floats, factor: int, out: Floats) -> None:
    """Fill ``out`` with the means of whole squares of ``values``, the missing left out."""
    for i in range(out.shape[0]):
        for j in range(out.shape[1]):
            total = 0.0
            count = 0
            for r in range(i * factor, (i + 1) * factor):
                for c in range(j * factor, (j + 1) * factor):
                    value = values[r, c]
                    if value == value:
                        total += value
                        count += 1
            out[i, j] = total / count if count else np.nan


def means(values: Floats, factor: int) -> Floats:
    """Return the means of whole squares of cells; what is left over at the far sides is dropped."""
    if factor == 1:
        return values
    out = np.empty((values.shape[0] // factor, values.shape[1] // factor), dtype=np.float32)
    _means.native(np.ascontiguousarray(values), factor, out)
    return out


def _factors(shape: tuple[int, int]) -> list[int]:
    return [factor for factor in FACTORS if min(shape) >= 2 * factor]


def reduced_copies(terrain: Terrain) -> tuple[Reduced, ...]:
    """Return the copies of a terrain, made in memory."""
    kept = {
        factor: np.empty((terrain.shape[0] // factor, terrain.shape[1] // factor), np.float32)
        for factor in _factors(terrain.shape)
    }
    _fill(terrain, kept)
    return tuple(Reduced(factor=factor, heights=heights) for factor, heights in kept.items())


def _fill(terrain: Terrain, kept: dict[int, Any]) -> None:
    """Fill the copies strip by strip."""
    if not kept:
        return
    rows, cols = terrain.shape
    whole = max(kept)
    block = max(tile.block[0] for tile in terrain.tiles)
    step = max(block, STRIP_CELLS // cols, whole) // whole * whole
    for top in range(0, rows, step):
        fine, made = read_cells(terrain, top, min(top + step, rows), 0, cols), 1
        for factor, heights in kept.items():
            fine, made = means(fine, factor // made), factor
            heights[top // factor : top // factor + fine.shape[0]] = fine


def _names(factors: Sequence[int], band: int) -> list[str]:
    return [f"band-{band}-by-{factor}.npy" for factor in factors]


def write_copies(terrain: Terrain, folder: Path) -> tuple[Reduced, ...]:
    """Make the copies of a large terrain as files in ``folder``, each whole or not at all."""
    folder.mkdir(parents=True, exist_ok=True)
    factors, band = _factors(terrain.shape), terrain.tiles[0].band
    drafts = [folder / f".{secrets.token_hex(6)}.part" for _ in factors]
    try:
        kept = {
            factor: np.lib.format.open_memmap(
                draft,
                mode="w+",
                dtype=np.float32,
                shape=(terrain.shape[0] // factor, terrain.shape[1] // factor),
            )
            for factor, draft in zip(factors, drafts, strict=True)
        }
        _fill(terrain, kept)
        for heights in kept.values():
            heights.flush()
        del kept
        for name, draft in zip(_names(factors, band), drafts, strict=True):
            os.replace(draft, folder / name)
    finally:
        for draft in drafts:
            draft.unlink(missing_ok=True)
    found = saved_copies(terrain, folder)
    return () if found is None else found


def saved_copies(terrain: Terrain, folder: Path) -> tuple[Reduced, ...] | None:
    """Return the copies in ``folder``, mapped into memory, or None where they are not all there."""
    found = []
    factors = _factors(terrain.shape)
    for factor, name in zip(factors, _names(factors, terrain.tiles[0].band), strict=True):
        try:
            heights = np.load(folder / name, mmap_mode="r", allow_pickle=False)
        except (OSError, ValueError, EOFError):
            return None
        if heights.shape != (terrain.shape[0] // factor, terrain.shape[1] // factor):
            return None
        found.append(Reduced(factor=factor, heights=heights))
    return tuple(found)


def draft_copy(terrain: Terrain) -> Reduced:
    """Return a coarse draft of a large terrain from a few of its blocks, within about a second."""
    rows, cols = terrain.shape
    high, wide = terrain.tiles[0].block
    factor = FACTORS[-1]
    while min(-(-rows // high), rows // factor) * min(-(-cols // wide), cols // factor) > (
        DRAFT_BLOCKS
    ):
        factor *= 2
    row = np.arange(max(rows // factor, 1)) * factor + factor // 2
    col = np.arange(max(cols // factor, 1)) * factor + factor // 2
    shape = (row.size, col.size)
    nodes = read_nodes(
        terrain,
        np.repeat(np.minimum(row, rows - 1), col.size),
        np.tile(np.minimum(col, cols - 1), row.size),
    )
    heights = (nodes / terrain.metres_per_unit).astype(np.float32).reshape(shape)
    return Reduced(factor=factor, heights=heights, draft=True)


def read_reduced(
    terrain: Terrain,
    copies: Sequence[Reduced],
    factor: int,
    box: tuple[int, int, int, int],
) -> Floats:
    """Return the reduced cells of a box, from the copy that comes nearest to ``factor``.

    ``box`` is first row, end row, first column, end column, counted in squares of ``factor`` cells
    and inside the grid. ``factor`` is a multiple of a copy's, or so small that cells are read.
    """
    row0, row1, col0, col1 = box
    best = max(
        (copy for copy in copies if factor % copy.factor == 0),
        key=lambda copy: copy.factor,
        default=None,
    )
    if best is None:
        cells = read_cells(terrain, row0 * factor, row1 * factor, col0 * factor, col1 * factor)
        return means(cells, factor)
    more = factor // best.factor
    part = best.heights[row0 * more : row1 * more, col0 * more : col1 * more]
    return means(np.asarray(part), more)
