"""Several rasters as grids: which of them share one grid of cells, and each one's place on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from routing.terrain.raster import Affine6, Raster

__all__ = ["group_tiles", "join_tiles"]

SNAP_CELLS = 1e-3
"""How far a tile may lie beside the grid and still be on it [cells]."""

Place = tuple[int, int]


def group_tiles(rasters: Sequence[Raster]) -> list[list[Raster]]:
    """Return the rasters in groups that share one grid of cells, in the order given."""
    groups: list[list[Raster]] = []
    for raster in rasters:
        for group in groups:
            if place_on(group[0], raster) is not None:
                group.append(raster)
                break
        else:
            groups.append([raster])
    return groups


def join_tiles(rasters: Sequence[Raster]) -> tuple[tuple[Raster, ...], tuple[int, int]]:
    """Return the tiles of one grid with their places on it, and that grid's shape.

    The grid's first cell belongs to the tile that reaches furthest up and left; every tile's
    transform is replaced by the grid's, counted from that cell.
    """
    first = rasters[0]
    places = [place_on(first, other) or (0, 0) for other in rasters]
    top, left = min(row for row, _ in places), min(col for _, col in places)
    a, b, c, d, e, f = first.transform
    corner: Affine6 = (a, b, c + a * left + b * top, d, e, f + d * left + e * top)
    tiles = tuple(
        replace(raster, row0=row - top, col0=col - left, transform=corner)
        for raster, (row, col) in zip(rasters, places, strict=True)
    )
    shape = (
        max(tile.row0 + tile.shape[0] for tile in tiles),
        max(tile.col0 + tile.shape[1] for tile in tiles),
    )
    return tiles, shape


def place_on(first: Raster, other: Raster) -> Place | None:
    """Return row and column of a raster's first cell on the grid of ``first``.

    None where it is not on that grid: its cells differ in size or direction, or lie between.
    """
    a, b, c, d, e, f = first.transform
    det = a * e - b * d
    dx, dy = other.transform[2] - c, other.transform[5] - f
    col, row = (e * dx - b * dy) / det, (a * dy - d * dx) / det
    if not (np.isfinite(row) and np.isfinite(col)):
        return None
    # Cells must be so alike that the far corner of the tile still falls on the grid.
    rows, cols = other.shape
    ga, gb, _, gd, ge, _ = other.transform
    far = ((ga - a) * cols + (gb - b) * rows, (gd - d) * cols + (ge - e) * rows)
    drift = max(abs(e * far[0] - b * far[1]), abs(a * far[1] - d * far[0])) / abs(det)
    beside = max(abs(col - round(col)), abs(row - round(row)))
    if drift > SNAP_CELLS or beside > SNAP_CELLS:
        return None
    return round(row), round(col)
