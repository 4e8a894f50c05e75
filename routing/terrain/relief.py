"""Shaded relief of a terrain as a picture, the ground of the map where there is no internet."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from rasterio.enums import Resampling
from rasterio.windows import Window

from routing.arrays import FloatArray
from routing.errors import OutsideTerrain, ProfileError
from routing.terrain.blocks import clean
from routing.terrain.paint import painted
from routing.terrain.picture import encoded
from routing.terrain.raster import Raster, opened, read_valid
from routing.terrain.terrain import Terrain
from routing.value import dataclass

__all__ = ["Relief", "relief_image"]

SPHERE_M = 6_378_137.0
"""Radius of the sphere of the map projection of web maps [m]."""

MESH = 33
"""Points a side at which the picture is placed exactly on the grid [-]; linear between."""

PIXELS_PER_CELL = 2
"""Most pixels that a cell of the raster is spread over [-]."""

LEAST_PIXELS = 256
"""Longest side of the picture of a very small area [-]."""

STRIP_ROWS = 32
"""Rows of the picture sampled at a time [-]; intermediate values stay in the cache."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Relief:
    """A picture of the ground in the projection of web maps; bounds in WGS 84 [deg]."""

    image: bytes
    media_type: str
    west: float
    south: float
    east: float
    north: float
    low_m: float
    high_m: float


def relief_image(
    terrain: Terrain,
    *,
    west: float,
    south: float,
    east: float,
    north: float,
    max_pixels: int = 1200,
) -> Relief:
    """Return the shaded relief of a box of longitude and latitude.

    Parameters
    ----------
    terrain : Terrain
        Elevations
    west, south, east, north : float
        The box, WGS 84; ``east`` may run past 180; latitudes within 85 [deg]
    max_pixels : int
        Longest side of the picture [-]

    Returns
    -------
    Relief
        JPEG whose rows are those of the map projection of web maps (EPSG:3857); plain where
        elevation is missing

    Raises
    ------
    OutsideTerrain
        If the box holds no elevation.

    Notes
    -----
    The raster is read at about the picture's own resolution, from its overviews where it has them.
    """
    south, north = max(south, -85.0), min(north, 85.0)
    lon = np.linspace(west, east, MESH)
    lat = _latitude(np.linspace(_northing(north), _northing(south), MESH))
    meshes = [_mesh(grid, lon, lat) for grid in terrain.grids]

    # Size: true to the box's shape on the map, no finer than the cells make sense.
    wide = math.radians(east - west)
    high = float(_northing(north) - _northing(south))
    spans = [max(np.ptp(row), np.ptp(col)) for row, col in (m for m in meshes if m is not None)]
    longest = max(1.0, *(float(span) for span in spans))
    side = int(min(max_pixels, max(LEAST_PIXELS, PIXELS_PER_CELL * longest)))
    width = max(2, round(side * min(1.0, wide / high)))
    height = max(2, round(side * min(1.0, high / wide)))

    heights = np.full((height, width), np.nan, dtype=np.float32)
    for grid, mesh in zip(terrain.grids, meshes, strict=True):
        if mesh is not None and np.isnan(heights).any():
            # The finer grid lies on top.
            below = _sample(grid, *mesh, (height, width))
            np.copyto(heights, below, where=np.isnan(heights))
    known = np.isfinite(heights)
    if not known.any():
        raise OutsideTerrain(
            f"The area from {west:.6f}, {south:.6f} to {east:.6f}, {north:.6f} holds no elevation "
            "of the raster.",
            "Check that the line and the raster belong together.",
            lon=float(west),
            lat=float(south),
        )
    pixel_lat = _latitude(np.linspace(_northing(north), _northing(south), height))
    pixel_m = SPHERE_M * np.cos(np.radians(pixel_lat)) * (wide / width)
    low_m, high_m = float(heights[known].min()), float(heights[known].max())
    return Relief(
        image=encoded(painted(heights, pixel_m, low_m, high_m), "JPEG"),
        media_type="image/jpeg",
        west=west,
        south=south,
        east=east,
        north=north,
        low_m=low_m,
        high_m=high_m,
    )


def _mesh(grid: Terrain, lon: FloatArray, lat: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """Return the mesh's places on a grid, None where its map projection has none for them."""
    try:
        row, col = grid.reference.to_nodes(np.tile(lon, MESH), np.repeat(lat, MESH))
    except ProfileError:
        return None
    return row.reshape(MESH, MESH), col.reshape(MESH, MESH)


def _northing(lat: FloatArray | float) -> FloatArray:
    """Return northings on the map of a sphere of radius 1 [-]."""
    return np.arctanh(np.sin(np.radians(lat)))


def _latitude(northing: FloatArray) -> FloatArray:
    """Return latitudes [deg]."""
    return np.degrees(np.arcsin(np.tanh(northing)))


def _weights(count: int) -> FloatArray:
    """Return the (count, MESH) weights of mesh points at pixel centres."""
    at = (np.arange(count) + 0.5) / count * (MESH - 1)
    first = np.minimum(at.astype(np.int64), MESH - 2)
    weights = np.zeros((count, MESH))
    weights[np.arange(count), first] = 1.0 - (at - first)
    weights[np.arange(count), first + 1] = at - first
    return weights


def _sample(
    terrain: Terrain, row: FloatArray, col: FloatArray, shape: tuple[int, int]
) -> NDArray[np.float32]:
    """Return elevations at the pixels of a picture, NaN where missing or outside [m].

    ``row`` and ``col`` place the points of the mesh on the grid.
    """
    heights = np.full(shape, np.nan, dtype=np.float32)
    top, left = max(int(np.floor(row.min())) - 1, 0), max(int(np.floor(col.min())) - 1, 0)
    bottom = min(int(np.ceil(row.max())) + 2, terrain.shape[0])
    right = min(int(np.ceil(col.max())) + 2, terrain.shape[1])
    if bottom <= top or right <= left:
        return heights
    step = max(1.0, max(bottom - top, right - left) / max(shape))
    coarse = np.full(
        (max(1, round((bottom - top) / step)), max(1, round((right - left) / step))), np.nan
    )
    for number in terrain.index.touched(top, left, bottom, right)[::-1].tolist():
        tile = terrain.tiles[number]
        _paste(coarse, tile, (top, left, bottom, right), terrain.metres_per_unit)
    fine = coarse.astype(np.float32)
    to_row, to_col = fine.shape[0] / (bottom - top), fine.shape[1] / (right - left)
    # From node coordinates to those of the coarse grid, on the mesh already.
    mesh_row = (row - top + 0.5) * to_row - 0.5
    mesh_col = (col - left + 0.5) * to_col - 0.5
    limits = (
        ((-0.5 - top + 0.5) * to_row - 0.5, (terrain.shape[0] - top) * to_row - 0.5),
        ((-0.5 - left + 0.5) * to_col - 0.5, (terrain.shape[1] - left) * to_col - 0.5),
    )
    down, across = _weights(shape[0]), _weights(shape[1]).T
    mesh_row, mesh_col = mesh_row @ across, mesh_col @ across
    for begin in range(0, shape[0], STRIP_ROWS):
        strip = slice(begin, begin + STRIP_ROWS)
        at_row = (down[strip] @ mesh_row).astype(np.float32)
        at_col = (down[strip] @ mesh_col).astype(np.float32)
        values = _bilinear(fine, at_row, at_col)
        for at, (low, high) in zip((at_row, at_col), limits, strict=True):
            values[(at < low) | (at > high)] = np.nan
        heights[strip] = values
    return heights


def _bilinear(
    grid: NDArray[np.float32], row: NDArray[np.float32], col: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Return values between the nodes of a grid, edge values held; for a picture only."""
    r = np.clip(row, 0.0, np.float32(grid.shape[0] - 1))
    c = np.clip(col, 0.0, np.float32(grid.shape[1] - 1))
    r0, c0 = r.astype(np.int32), c.astype(np.int32)
    down = np.where(r0 < grid.shape[0] - 1, grid.shape[1], 0).astype(np.int32)
    right = (c0 < grid.shape[1] - 1).astype(np.int32)
    r, c = r - r0, c - c0
    flat, at = grid.reshape(-1), r0 * np.int32(grid.shape[1]) + c0
    upper, lower = flat[at], flat[at + down]
    upper = upper + (flat[at + right] - upper) * c
    lower = lower + (flat[at + down + right] - lower) * c
    return np.asarray(upper + (lower - upper) * r)


def _paste(coarse: FloatArray, tile: Raster, box: tuple[int, int, int, int], metres: float) -> None:
    """Lay one tile's cells, averaged, over the box: top, left, bottom, right."""
    top, left, bottom, right = box
    row0, row1 = max(top, tile.row0), min(bottom, tile.row0 + tile.shape[0])
    col0, col1 = max(left, tile.col0), min(right, tile.col0 + tile.shape[1])
    rows, cols = coarse.shape
    to_row, to_col = rows / (bottom - top), cols / (right - left)
    y0, y1 = round((row0 - top) * to_row), round((row1 - top) * to_row)
    x0, x1 = round((col0 - left) * to_col), round((col1 - left) * to_col)
    if row1 <= row0 or col1 <= col0 or y1 <= y0 or x1 <= x0:
        return
    window = Window(col0 - tile.col0, row0 - tile.row0, col1 - col0, row1 - row0)
    shape = (y1 - y0, x1 - x0)
    with opened(tile.path, tile.driver) as dataset:
        raw = dataset.read(tile.band, window=window, out_shape=shape, resampling=Resampling.average)
        valid = read_valid(dataset, tile, window, shape)
    values = clean(tile, raw, valid) * metres
    part = coarse[y0:y1, x0:x1]
    np.copyto(part, values, where=np.isfinite(values))
