"""Shaded relief in the square tiles of web maps, crisp at every zoom, seamless side by side."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from routing.arrays import FloatArray
from routing.errors import ProfileError
from routing.terrain.describe import bounds_deg
from routing.terrain.paint import exaggeration, typical_slope
from routing.terrain.picture import encoded
from routing.terrain.reduced import Floats, Reduced, read_cells, read_reduced
from routing.terrain.shade import sampled, shaded
from routing.terrain.terrain import Terrain
from routing.value import dataclass

__all__ = [
    "MAX_ZOOM",
    "TILE_PIXELS",
    "TileSource",
    "ZoomFacts",
    "closest_zoom",
    "latitude",
    "map_share",
    "relief_tile",
    "squares_below",
    "tile_heights",
    "tile_source",
    "turn_of",
    "zoom_facts",
]

TILE_PIXELS = 256
"""Pixels along the side of a tile [-]."""

MAX_ZOOM = 24
"""Greatest zoom: pixels of about a centimetre [-]."""

PIXELS_PER_CELL = 16
"""Pixels along a cell beyond which a closer view shows nothing new [-]."""

EARTH_M = 2.0 * math.pi * 6_378_137.0
"""Length of the equator in the map projection of web maps [m]."""

MESH = 17
"""Points a side at which a tile is placed exactly on the grid [-]; linear between."""

OVERVIEW_CELLS = 512
"""Most squares a side of the whole terrain from which its typical slope is taken [-]."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TileSource:
    """A terrain made ready for tiles: its copies, its bounds [deg] and its range [m]."""

    terrain: Terrain
    copies: tuple[Reduced, ...]
    west: float
    south: float
    east: float
    north: float
    low_m: float
    high_m: float

    @property
    def draft(self) -> bool:
        """Whether views of all of it are still made from a few samples."""
        return any(copy.draft for copy in self.copies)

    @property
    def stretch(self) -> float:
        """Ground metres in one metre of the map at the terrain's middle [-]."""
        return _stretch((self.south + self.north) / 2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoomFacts:
    """What all tiles of one zoom have in common, so that they look alike.

    ``pixel_m`` is a pixel's size on the ground at the terrain's middle, ``factor`` the cells along
    the squares that are read, ``slope`` the typical slope and ``raised`` the exaggeration.
    """

    pixel_m: float
    factor: int
    slope: float
    raised: float


def _stretch(lat: float) -> float:
    return max(math.cos(math.radians(lat)), 1e-3)


def closest_zoom(cell_m: float, lat: float) -> int:
    """Return the zoom beyond which a raster of such cells at such a latitude shows nothing new.

    >>> closest_zoom(10.0, 47.0)
    18
    """
    sharp = cell_m / PIXELS_PER_CELL
    zoom = math.ceil(math.log2(EARTH_M * _stretch(lat) / (TILE_PIXELS * sharp)))
    return min(max(zoom, 0), MAX_ZOOM)


def tile_source(terrain: Terrain, copies: tuple[Reduced, ...]) -> TileSource:
    """Return the source of a terrain's tiles; without copies all of it is read for its range."""
    coarse = (
        copies[-1].heights
        if copies
        else read_cells(terrain, 0, terrain.shape[0], 0, terrain.shape[1])
    )
    known = coarse[np.isfinite(coarse)]
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    west, south, east, north = bounds_deg(terrain)
    metres = terrain.metres_per_unit
    return TileSource(
        terrain=terrain,
        copies=copies,
        west=west,
        south=south,
        east=east,
        north=north,
        low_m=low * metres,
        high_m=high * metres,
    )


@lru_cache(maxsize=512)
def zoom_facts(source: TileSource, zoom: int) -> ZoomFacts:
    """Return what the tiles of one zoom have in common."""
    terrain = source.terrain
    pixel_m = EARTH_M * source.stretch / (TILE_PIXELS * 2.0**zoom)
    factor = squares_below(source, pixel_m / terrain.cell_m)
    whole = squares_below(source, max(factor, max(terrain.shape) / OVERVIEW_CELLS))
    rows, cols = (max(side // whole, 1) for side in terrain.shape)
    heights = read_reduced(terrain, source.copies, whole, (0, rows, 0, cols))
    slope = typical_slope(
        heights * np.float32(terrain.metres_per_unit), np.full(rows, terrain.cell_m * whole)
    )
    return ZoomFacts(pixel_m=pixel_m, factor=factor, slope=slope, raised=exaggeration(slope))


def squares_below(source: TileSource, cells: float) -> int:
    """Return the power of two at or below ``cells`` for which squares are at hand."""
    most = max(min(source.terrain.shape) // 2, 1)
    factor = 1 << int(math.log2(max(1.0, min(cells, most))))
    drafts = [copy.factor for copy in source.copies if copy.draft]
    # Reading that many cells of a large raster takes long: a blurred picture first.
    return max(factor, drafts[0]) if drafts and factor > 4 else factor


def relief_tile(source: TileSource, zoom: int, x: int, y: int, *, scale: int = 1) -> bytes | None:
    """Return the shaded relief of one tile as WebP, None where it shows nothing.

    Parameters
    ----------
    source : TileSource
        What :func:`tile_source` returned
    zoom, x, y : int
        The tile: 2**zoom tiles go round the Earth, x from 180 degrees west, y from the north [-]
    scale : int
        1, or 2 for screens with twice the pixels [-]

    Returns
    -------
    picture : bytes or None
        256 x ``scale`` pixels a side, clear where elevation is missing

    Raises
    ------
    UnreadableRaster
        If a block cannot be decoded.
    """
    found = tile_heights(source, zoom, x, y, scale)
    if found is None:
        return None
    heights, pixel_m = found
    raised = zoom_facts(source, zoom + scale - 1).raised
    picture = shaded(heights, pixel_m, source.low_m, source.high_m, raised)
    return encoded(picture, "WEBP") if picture[3].any() else None


def tile_heights(
    source: TileSource, zoom: int, x: int, y: int, scale: int = 1
) -> tuple[Floats, FloatArray] | None:
    """Return the heights of a tile with a margin of one pixel, and the size of a pixel in each row.

    None where it shows nothing; NaN where elevation is missing [m].
    """
    facts = zoom_facts(source, zoom + scale - 1)
    side = TILE_PIXELS * scale
    count = 2**zoom * side
    span = _pixels(source, count, x * side, y * side, side)
    if span is None:
        return None
    heights = np.full((side + 2, side + 2), np.nan, dtype=np.float32)
    top, bottom, left, right = span
    part = _heights(source, facts, count, (x * side, y * side), span)
    if part is None:
        return None
    heights[top:bottom, left:right] = part
    lat = latitude((y * side - 0.5 + np.arange(side + 2)) / count)
    return heights, EARTH_M / count * np.cos(np.radians(lat))


def latitude(share: FloatArray) -> FloatArray:
    """Return latitudes at shares of the map's height from its northern edge [deg]."""
    return np.degrees(np.arctan(np.sinh(np.pi * (1.0 - 2.0 * share))))


def map_share(lon: FloatArray, lat: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return places as shares of the map's width and height from its north-western corner [-]."""
    northing = np.arctanh(np.sin(np.radians(np.clip(lat, -89.9, 89.9))))
    return lon / 360.0 + 0.5, 0.5 - northing / (2.0 * np.pi)


def turn_of(source: TileSource, share: float) -> float:
    """Return the whole turns, as shares of the map, that bring a place beside the terrain."""
    middle = (source.west + source.east) / 720.0 + 0.5
    return float(round(middle - share))


def _pixels(
    source: TileSource, count: int, x0: int, y0: int, side: int
) -> tuple[int, int, int, int] | None:
    """Return the rows and columns of a tile with its margin that may show the terrain."""
    turn = turn_of(source, (x0 + side / 2.0) / count)
    edge_x, edge_y = map_share(
        np.array([source.west, source.east]), np.array([source.north, source.south])
    )
    left, right = (edge_x - turn) * count - x0 + 1.0
    top, bottom = edge_y * count - y0 + 1.0
    first = max(math.floor(top) - 2, 0), max(math.floor(left) - 2, 0)
    last = min(math.ceil(bottom) + 2, side + 2), min(math.ceil(right) + 2, side + 2)
    if last[0] <= first[0] or last[1] <= first[1]:
        return None
    return first[0], last[0], first[1], last[1]


def _heights(
    source: TileSource,
    facts: ZoomFacts,
    count: int,
    corner: tuple[int, int],
    span: tuple[int, int, int, int],
) -> Floats | None:
    """Return the elevations at some pixels of a tile, None where there is none [m]."""
    top, bottom, left, right = span
    across = corner[0] - 0.5 + np.linspace(left, right - 1, MESH)
    down = corner[1] - 0.5 + np.linspace(top, bottom - 1, MESH)
    share = across / count
    share = share + turn_of(source, float(share[MESH // 2]))
    lon = (share - 0.5) * 360.0
    try:
        row, col = source.terrain.reference.to_nodes(
            np.tile(lon, MESH), np.repeat(latitude(down / count), MESH)
        )
    except ProfileError:  # the tile reaches where the terrain's map ends
        return None
    factor = facts.factor
    squares = tuple(max(length // factor, 1) for length in source.terrain.shape)
    row = ((row + 0.5) / factor - 0.5).reshape(MESH, MESH)
    col = ((col + 0.5) / factor - 0.5).reshape(MESH, MESH)
    row0, row1 = max(math.floor(row.min()) - 1, 0), min(math.ceil(row.max()) + 2, squares[0])
    col0, col1 = max(math.floor(col.min()) - 1, 0), min(math.ceil(col.max()) + 2, squares[1])
    if row1 <= row0 or col1 <= col0:
        return None
    grid = read_reduced(source.terrain, source.copies, factor, (row0, row1, col0, col1))
    grid = np.ascontiguousarray(grid * np.float32(source.terrain.metres_per_unit))
    rows, cols = source.terrain.shape
    limits = (
        -0.5 - row0,
        rows / factor - 0.5 - row0,
        -0.5 - col0,
        cols / factor - 0.5 - col0,
    )
    return sampled(
        grid,
        row - row0,
        col - col0,
        limits,
        (bottom - top, right - left),
        smooth=facts.pixel_m < source.terrain.cell_m * factor,
    )
