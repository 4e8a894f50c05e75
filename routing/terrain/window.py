"""A piece of a terrain held in memory, for a service and for a line that is being dragged."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from rasterio.windows import Window

from routing.arrays import FloatArray, IntArray, frozen
from routing.errors import OutsideTerrain, RasterTooLarge
from routing.terrain.blocks import clean
from routing.terrain.raster import Raster, opened, read_valid
from routing.terrain.terrain import Terrain
from routing.value import dataclass

__all__ = ["GridWindow", "read_window"]

MAX_WINDOW_NODES = 16_000_000
"""Most cells that a window may hold [-], 128 MB."""

EDGE_POINTS = 9
"""Points along each side of a box of longitude and latitude that are placed on the grid."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GridWindow:
    """Elevations of a rectangle of the grid; ``row0``, ``col0`` is its first cell.

    ``heights_m`` has shape (rows, columns) and NaN where elevation is missing.
    """

    row0: int
    col0: int
    heights_m: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "heights_m", frozen(self.heights_m))

    def covers(self, rows: IntArray, cols: IntArray, grid_shape: tuple[int, int]) -> bool:
        """Return whether all corners of these cells, as the grid clips them, lie in the window."""
        if not rows.size:
            return True
        height, width = self.heights_m.shape
        top, bottom = max(int(rows.min()), 0), min(int(rows.max()) + 1, grid_shape[0] - 1)
        left, right = max(int(cols.min()), 0), min(int(cols.max()) + 1, grid_shape[1] - 1)
        return (
            top >= self.row0
            and left >= self.col0
            and bottom < self.row0 + height
            and right < self.col0 + width
        )

    def read_corners(self, rows: ArrayLike, cols: ArrayLike) -> FloatArray:
        """Return the (4, n) elevations at the corners of cells, edge values held beyond it [m]."""
        height, width = self.heights_m.shape
        row = np.asarray(rows, dtype=np.int64) - self.row0
        col = np.asarray(cols, dtype=np.int64) - self.col0
        up = np.clip(row, 0, height - 1) * width
        down = np.clip(row + 1, 0, height - 1) * width
        left, right = np.clip(col, 0, width - 1), np.clip(col + 1, 0, width - 1)
        flat = self.heights_m.reshape(-1)
        corners = np.empty((4, row.size))
        for index, node in enumerate((up + left, up + right, down + left, down + right)):
            np.take(flat, node, out=corners[index])
        return corners


def read_window(
    terrain: Terrain,
    lon_min: float,
    lat_min: float,
    lon_max: float,
    lat_max: float,
    margin_cells: int = 2,
) -> GridWindow:
    """Read the part of a terrain in a box of longitude and latitude into memory.

    Parameters
    ----------
    terrain : Terrain
        What :func:`open_terrain` returned
    lon_min, lat_min, lon_max, lat_max : float
        The box, WGS 84; ``lon_max`` may run past 180 [deg]
    margin_cells : int
        Cells to read around it, >= 0 [-]

    Returns
    -------
    GridWindow
        Elevations in metres, cut to the terrain's own grid, its ``others`` left out

    Raises
    ------
    OutsideTerrain
        If the box does not touch the raster.
    RasterTooLarge
        If the window would hold more than 16 million cells.
    """
    share = np.linspace(0.0, 1.0, EDGE_POINTS)
    lon = lon_min + (lon_max - lon_min) * share
    lat = lat_min + (lat_max - lat_min) * share
    ring_lon = np.concatenate(
        [lon, np.full_like(lat, lon_max), lon[::-1], np.full_like(lat, lon_min)]
    )
    ring_lat = np.concatenate(
        [np.full_like(lon, lat_min), lat, np.full_like(lon, lat_max), lat[::-1]]
    )
    rows, cols = terrain.reference.to_nodes(ring_lon, ring_lat)
    top = max(int(np.floor(rows.min())) - margin_cells, 0)
    left = max(int(np.floor(cols.min())) - margin_cells, 0)
    bottom = min(int(np.ceil(rows.max())) + margin_cells + 1, terrain.shape[0])
    right = min(int(np.ceil(cols.max())) + margin_cells + 1, terrain.shape[1])
    if bottom <= top or right <= left:
        raise OutsideTerrain(
            f"The area from {lon_min:.6f}, {lat_min:.6f} to {lon_max:.6f}, {lat_max:.6f} lies "
            "outside the raster.",
            "Check that the line and the raster belong together.",
            lon=float(lon_min),
            lat=float(lat_min),
        )
    cells = (bottom - top) * (right - left)
    if cells > MAX_WINDOW_NODES:
        raise RasterTooLarge(
            f"The area would hold {cells} cells of the raster; the limit is {MAX_WINDOW_NODES}.",
            "Choose a smaller area.",
        )
    heights = np.full((bottom - top, right - left), np.nan)
    for number in terrain.index.touched(top, left, bottom, right)[::-1].tolist():
        _paste(heights, terrain.tiles[number], top, left, terrain.metres_per_unit)
    return GridWindow(row0=top, col0=left, heights_m=heights)


def _paste(heights: FloatArray, tile: Raster, top: int, left: int, metres: float) -> None:
    """Lay the valid cells of one tile over the window that starts at ``top``, ``left``."""
    row0, row1 = max(top, tile.row0), min(top + heights.shape[0], tile.row0 + tile.shape[0])
    col0, col1 = max(left, tile.col0), min(left + heights.shape[1], tile.col0 + tile.shape[1])
    if row1 <= row0 or col1 <= col0:
        return
    window = Window(col0 - tile.col0, row0 - tile.row0, col1 - col0, row1 - row0)
    with opened(tile.path, tile.driver) as dataset:
        raw = dataset.read(tile.band, window=window)
        valid = read_valid(dataset, tile, window)
    values = clean(tile, raw, valid) * metres
    part = heights[row0 - top : row1 - top, col0 - left : col1 - left]
    np.copyto(part, values, where=np.isfinite(values))
