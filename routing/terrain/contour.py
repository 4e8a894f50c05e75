"""Contours of a terrain in the square tiles of web maps, joined at the edges by equal levels."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely

from routing.arrays import FloatArray
from routing.errors import ProfileError
from routing.terrain.map_tile import (
    TILE_PIXELS,
    TileSource,
    latitude,
    map_share,
    squares_below,
    turn_of,
    zoom_facts,
)
from routing.terrain.reduced import read_reduced
from routing.units import FOOT, UnitSystem
from routing.value import dataclass

__all__ = ["Contour", "ContourTile", "contour_interval", "contour_tile"]

APART_PIXELS = 12.0
"""Least distance of contours on ground of the typical slope [pixels]."""

STEPS = {
    "metric": (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0),
    "us": (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0),
}
"""Intervals, in metres and in feet; common practice, no source."""

METRES = {"metric": 1.0, "us": FOOT}

INDEX_EVERY = 5
"""Every so many contours one is drawn heavier and labelled; common practice, no source."""

REFINED_PIXELS = 8.0
"""Pixels along a cell from which its bilinear surface is followed in quarters [-]."""

SMOOTH_PIXELS = 0.15
"""Most that a line is moved to save points [pixels]."""

PIXELS_PER_SQUARE = 2.0
"""Pixels along the squares from whose heights contours are drawn [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contour:
    """The pieces of one level inside a tile; ``index`` marks every fifth level.

    ``level`` is in the tile's unit; each piece has shape (2, points): longitudes and latitudes.
    """

    level_m: float
    level: float
    index: bool
    pieces: tuple[FloatArray, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ContourTile:
    """All contours of one tile; ``interval`` is in ``unit``."""

    interval_m: float
    interval: float
    unit: str
    contours: tuple[Contour, ...]


def contour_interval(source: TileSource, zoom: int, units: UnitSystem = "metric") -> float:
    """Return the interval at a zoom, in metres or in feet: round, and open on typical ground."""
    facts = zoom_facts(source, zoom)
    slope = facts.slope if math.isfinite(facts.slope) else 0.1
    least = APART_PIXELS * facts.pixel_m * max(slope, 0.02) / METRES[units]
    return next((step for step in STEPS[units] if step >= least), STEPS[units][-1])


def contour_tile(
    source: TileSource, zoom: int, x: int, y: int, units: UnitSystem = "metric"
) -> ContourTile | None:
    """Return the contours of one tile, None where it shows nothing.

    Parameters
    ----------
    source : TileSource
        What :func:`~routing.terrain.map_tile.tile_source` returned
    zoom, x, y : int
        The tile, as for :func:`~routing.terrain.map_tile.relief_tile` [-]
    units : "metric" or "us"
        Whether levels are round in metres or in feet [-]

    Returns
    -------
    tile : ContourTile or None
        Lines cut at the tile's edges, where those of its neighbours go on

    Raises
    ------
    UnreadableRaster
        If a block cannot be decoded.

    Notes
    -----
    Level lines of the bilinear surface through cell centres where cells are larger than pixels, of
    the mean heights of squares of about two pixels where they are smaller.
    """
    box = _box(source, zoom, x, y)
    if box is None:
        return None
    interval, metres = contour_interval(source, zoom, units), METRES[units]
    grid, row, col = _grid(source, zoom, box)
    found = []
    for number, lines in _level_lines(grid, row, col, interval * metres):
        pieces = _placed(source, lines, zoom, x, y)
        if pieces:
            level = number * interval
            contour = Contour(
                level_m=round(level * metres, 4),
                level=level,
                index=number % INDEX_EVERY == 0,
                pieces=pieces,
            )
            found.append(contour)
    return ContourTile(
        interval_m=round(interval * metres, 4),
        interval=interval,
        unit="ft" if units == "us" else "m",
        contours=tuple(found),
    )


def _box(source: TileSource, zoom: int, x: int, y: int) -> tuple[float, float, float, float] | None:
    """Return first and last row and column that a tile may show, in node coordinates."""
    count = 2.0**zoom
    turn = turn_of(source, (x + 0.5) / count)
    edge_x, edge_y = map_share(
        np.array([source.west, source.east]), np.array([source.north, source.south])
    )
    margin = 2.0 / TILE_PIXELS / count
    west, east = (
        max(x / count + turn, edge_x[0] - margin),
        min((x + 1) / count + turn, edge_x[1] + margin),
    )
    north, south = max(y / count, edge_y[0] - margin), min((y + 1) / count, edge_y[1] + margin)
    if east <= west or south <= north:
        return None
    side = np.linspace(0.0, 1.0, 9)
    lon = ((west + (east - west) * side) - 0.5) * 360.0
    lat = latitude(north + (south - north) * side)
    try:
        row, col = source.terrain.reference.to_nodes(np.tile(lon, 9), np.repeat(lat, 9))
    except ProfileError:  # the tile reaches where the terrain's map ends
        return None
    return float(row.min()), float(row.max()), float(col.min()), float(col.max())


def _grid(
    source: TileSource, zoom: int, box: tuple[float, float, float, float]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return heights [m] with the rows and columns of their places, in node coordinates."""
    terrain, facts = source.terrain, zoom_facts(source, zoom)
    factor = squares_below(source, PIXELS_PER_SQUARE * facts.pixel_m / terrain.cell_m)
    squares = tuple(max(length // factor, 1) for length in terrain.shape)
    places = [(value + 0.5) / factor - 0.5 for value in box]
    row0, row1 = max(math.floor(places[0]) - 2, 0), min(math.ceil(places[1]) + 3, squares[0])
    col0, col1 = max(math.floor(places[2]) - 2, 0), min(math.ceil(places[3]) + 3, squares[1])
    if row1 - row0 < 2 or col1 - col0 < 2:
        return np.zeros((0, 0)), np.zeros(0), np.zeros(0)
    heights = read_reduced(terrain, source.copies, factor, (row0, row1, col0, col1))
    grid = heights.astype(np.float64) * terrain.metres_per_unit
    row, col = np.arange(row0, row1, dtype=np.float64), np.arange(col0, col1, dtype=np.float64)
    if terrain.cell_m * factor > REFINED_PIXELS * facts.pixel_m:
        grid, row, col = _refined(grid, row, col, 4)
    return grid, (row + 0.5) * factor - 0.5, (col + 0.5) * factor - 0.5


def _refined(
    grid: FloatArray, row: FloatArray, col: FloatArray, parts: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the bilinear surface at ``parts`` places along each side of a cell."""
    fine_row = row[0] + np.arange((row.size - 1) * parts + 1) / parts
    fine_col = col[0] + np.arange((col.size - 1) * parts + 1) / parts
    i = np.minimum((fine_row - row[0]).astype(np.int64), row.size - 2)
    j = np.minimum((fine_col - col[0]).astype(np.int64), col.size - 2)
    t, u = (fine_row - row[0] - i)[:, None], fine_col - col[0] - j
    across = grid[:, j] * (1.0 - u) + grid[:, j + 1] * u
    return across[i] * (1.0 - t) + across[i + 1] * t, fine_row, fine_col


def _level_lines(
    grid: FloatArray, row: FloatArray, col: FloatArray, interval_m: float
) -> Iterator[tuple[int, list[FloatArray]]]:
    """Yield each level's number with its lines, (points, 2) columns and rows."""
    known = grid[np.isfinite(grid)]
    if not known.size:
        return
    from contourpy import contour_generator

    tracer = contour_generator(
        x=col, y=row, z=np.ma.masked_invalid(grid), name="serial", corner_mask=False
    )
    first, last = math.ceil(known.min() / interval_m), math.floor(known.max() / interval_m)
    for number in range(first, last + 1):
        lines = tracer.lines(number * interval_m)
        if lines:
            yield number, lines


def _placed(
    source: TileSource, lines: list[FloatArray], zoom: int, x: int, y: int
) -> tuple[FloatArray, ...]:
    """Return lines in grid coordinates as lines in degrees, cut to a tile and freed of points."""
    every = np.concatenate(lines)
    lon, lat = source.terrain.reference.to_lonlat(every[:, 1], every[:, 0])
    share_x, share_y = map_share(lon, lat)
    count = TILE_PIXELS * 2.0**zoom
    middle = (x + 0.5) * TILE_PIXELS / count
    share_x = share_x - np.round(share_x - middle)
    pixels = np.column_stack([share_x * count - x * TILE_PIXELS, share_y * count - y * TILE_PIXELS])
    owner = np.repeat(np.arange(len(lines)), [len(line) for line in lines])
    placeless = np.bincount(owner, ~np.isfinite(pixels).all(axis=1)) > 0
    good = ~placeless[owner]
    if not good.any():
        return ()
    _, ranks = np.unique(owner[good], return_inverse=True)
    drawn = shapely.linestrings(pixels[good], indices=ranks)
    cut = shapely.clip_by_rect(drawn, 0.0, 0.0, TILE_PIXELS, TILE_PIXELS)
    parts = shapely.get_parts(cut)
    parts = parts[(shapely.get_type_id(parts) == 1) & ~shapely.is_empty(parts)]
    places, which = shapely.get_coordinates(
        shapely.simplify(parts, SMOOTH_PIXELS, preserve_topology=False), return_index=True
    )
    lon = ((places[:, 0] + x * TILE_PIXELS) / count - 0.5) * 360.0
    lat = latitude((places[:, 1] + y * TILE_PIXELS) / count)
    joined = np.round(np.stack([lon, lat]), 7)
    return tuple(
        piece
        for piece in np.split(joined, np.flatnonzero(np.diff(which)) + 1, axis=1)
        if piece.shape[1] > 1
    )
