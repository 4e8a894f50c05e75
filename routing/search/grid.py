"""The part of a terrain that a search looks at, as one grid of heights of moderate size."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from pyproj import Geod

from routing.arrays import FloatArray, IntArray
from routing.errors import OutsideTerrain
from routing.terrain import GridReference, GridWindow, Terrain
from routing.terrain.reduced import means, read_cells
from routing.value import dataclass

__all__ = ["MOST_CELLS", "SearchGrid", "search_grid", "steps_m"]

MOST_CELLS = 160_000
"""Cells of a search's grid, unless told otherwise [-]; larger ground is looked at in means."""
MOST_KEPT = 9_000_000
"""Most cells of the raster that are kept in full beside it [-], 72 MB."""
STRIP_CELLS = 4_000_000
"""Cells read at a time [-]."""

Place = tuple[float, float]
"""Longitude and latitude, WGS 84 [deg]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchGrid:
    """Mean heights of squares of ``factor`` x ``factor`` cells of the raster, NaN where missing.

    ``row0``, ``col0`` is the raster's cell in the corner; ``south_m``, ``east_m`` are the distances
    of neighbouring rows and columns on the ground. ``window`` holds the same ground in full, None
    where that is too large.
    """

    reference: GridReference
    row0: int
    col0: int
    factor: int
    heights: NDArray[np.float32]
    south_m: float
    east_m: float
    window: GridWindow | None

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        rows, cols = self.heights.shape
        return rows, cols

    @property
    def cell_m(self) -> float:
        """Mean size of a cell [m]."""
        return 0.5 * (self.south_m + self.east_m)

    def places(self, row: FloatArray, col: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return longitudes and latitudes of rows and columns of this grid [deg]."""
        half = 0.5 * (self.factor - 1)
        return self.reference.to_lonlat(
            self.row0 + half + self.factor * row, self.col0 + half + self.factor * col
        )

    def nodes(self, lon: FloatArray, lat: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return rows and columns of this grid of longitudes and latitudes [deg]."""
        row, col = self.reference.to_nodes(lon, lat)
        half = 0.5 * (self.factor - 1)
        return (row - self.row0 - half) / self.factor, (col - self.col0 - half) / self.factor

    def cell_of(self, place: Place) -> int:
        """Return the number of the cell that holds a place, the nearest one at the rim."""
        row, col = self.nodes(np.array([place[0]]), np.array([place[1]]))
        rows, cols = self.shape
        r = min(max(round(float(row[0])), 0), rows - 1)
        return r * cols + min(max(round(float(col[0])), 0), cols - 1)

    def centres(self, cells: IntArray) -> tuple[FloatArray, FloatArray]:
        """Return longitudes and latitudes of cells [deg]."""
        row, col = np.divmod(cells, self.shape[1])
        return self.places(row.astype(np.float64), col.astype(np.float64))


def search_grid(
    terrain: Terrain, places: list[Place], reach: float, most_cells: int = MOST_CELLS
) -> SearchGrid:
    """Return the ground about some places: a box around them, wider by a share of its size.

    Parameters
    ----------
    terrain : Terrain
        What is searched; further grids in its ``others`` are left out
    places : list of Place
        All of them must lie on it [deg]
    reach : float
        How far to look beyond them, as share of the greatest distance between two [-]
    most_cells : int
        Most cells of the grid [-]

    Returns
    -------
    SearchGrid
        Means of as many cells as needed to keep within ``most_cells``

    Raises
    ------
    OutsideTerrain
        If a place lies outside the raster.
    """
    reference = terrain.reference
    lon, lat = np.array(places).T
    row, col = reference.to_nodes(lon, lat)
    rows, cols = terrain.shape
    for at, (r, c) in enumerate(zip(row.tolist(), col.tolist(), strict=True)):
        if not (-0.5 <= r <= rows - 0.5 and -0.5 <= c <= cols - 0.5):
            raise OutsideTerrain(
                f"The place {lon[at]:.6f}, {lat[at]:.6f} lies outside the raster.",
                "Give longitude first, then latitude, in degrees, of a place on the raster.",
                lon=float(lon[at]),
                lat=float(lat[at]),
            )
    south_m, east_m = steps_m(reference, float(row.mean()), float(col.mean()))
    far_m = math.hypot(float(np.ptp(row)) * south_m, float(np.ptp(col)) * east_m)
    margin_m = max(reach * far_m, 10.0 * max(south_m, east_m))
    top, bottom = _around(row, margin_m / south_m, rows)
    left, right = _around(col, margin_m / east_m, cols)
    factor = max(1, math.ceil(math.sqrt((bottom - top) * (right - left) / most_cells)))
    heights, full = _heights(terrain, (top, bottom, left, right), factor)
    window = None if full is None else GridWindow(row0=top, col0=left, heights_m=full)
    return SearchGrid(
        reference=reference,
        row0=top,
        col0=left,
        factor=factor,
        heights=heights,
        south_m=south_m * factor,
        east_m=east_m * factor,
        window=window,
    )


def steps_m(reference: GridReference, row: float, col: float) -> tuple[float, float]:
    """Return how far one row and one column lead on the ground [m]."""
    lon, lat = reference.to_lonlat(
        np.array([row - 0.5, row + 0.5, row, row]), np.array([col, col, col - 0.5, col + 0.5])
    )
    _, _, steps = Geod(ellps="WGS84").inv(lon[::2], lat[::2], lon[1::2], lat[1::2])
    return float(steps[0]), float(steps[1])


def _around(at: FloatArray, margin: float, size: int) -> tuple[int, int]:
    """Return the first and one past the last row or column to look at."""
    first = max(math.floor(float(at.min()) - margin), 0)
    return first, min(math.ceil(float(at.max()) + margin) + 1, size)


def _heights(
    terrain: Terrain, box: tuple[int, int, int, int], factor: int
) -> tuple[NDArray[np.float32], FloatArray | None]:
    """Return the mean heights of squares of cells in a box, read strip by strip [m].

    And all its heights in full, None where they are too many.
    """
    top, bottom, left, right = box
    shape = bottom - top, right - left
    full = np.empty(shape) if shape[0] * shape[1] <= MOST_KEPT else None
    strips = []
    step = max(STRIP_CELLS // (right - left) // factor, 1) * factor
    for first in range(top, bottom, step):
        last = min(first + step, bottom)
        fine = read_cells(terrain, first, last, left, right)
        strips.append(means(fine, factor))
        if full is not None:
            full[first - top : last - top] = fine
            full[first - top : last - top] *= terrain.metres_per_unit
        del fine  # before the next strip is read
    found: NDArray[np.float32] = np.concatenate(strips)
    found *= np.float32(terrain.metres_per_unit)
    return found, full
