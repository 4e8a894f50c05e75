"""Where no line may go, and why: one bit for each reason in every cell."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.catchment_study import followed
from routing.land import GROUND, Layer, Shape
from routing.search.grid import SearchGrid
from routing.terrain import Terrain

__all__ = [
    "LAND",
    "LEVEL",
    "MISSING",
    "MOST_FOLLOWED",
    "PRESSURE",
    "REASONS",
    "STEEP",
    "bed_cells",
    "bed_tolls",
    "closed_land",
    "closed_levels",
    "closed_steep",
    "ground_tolls",
    "land_tolls",
    "touched_cells",
]

MOST_FOLLOWED = 4_000_000
"""Cells of a raster up to which a search follows its water [-]."""
STRIP_CELLS = 500_000
"""Cells of a raster whose slopes are looked at together [-]."""
MARGIN_FROM_M = 25.0
"""Distance from the intake in which the margin below the hydraulic line grows to its whole [m]."""
MISSING, LAND, LEVEL, PRESSURE, STEEP = 1, 2, 4, 8, 16

REASONS: Mapping[int, tuple[str, str]] = {
    MISSING: (
        "missing elevation",
        "Give a raster that covers this ground.",
    ),
    LAND: (
        "no-go land",
        "Take the area out of the settings if it may be crossed, or leave a gap in it.",
    ),
    LEVEL: (
        "ground above the hydraulic line",
        "Raise the intake, allow a deeper trench (max_depth under [trench]), or lower the flow.",
    ),
    PRESSURE: (
        "ground so low that no pipe on offer holds the pressure",
        "Offer a stronger pipe, or move the powerhouse up.",
    ),
    STEEP: (
        "ground steeper than allowed",
        "Allow steeper ground (steepest_ground under [trench]).",
    ),
}
"""What each reason is called, and what would lift it."""

Cells = NDArray[np.uint8]


class Cellular(Protocol):
    """A grid of cells on which shapes are laid."""

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""

    def nodes(self, lon: FloatArray, lat: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return rows and columns of places."""


Tolls = NDArray[np.float32]


def closed_land(grid: Cellular, layers: Iterable[Layer]) -> Cells:
    """Return the cells that a no-go area or line touches at all, marked :data:`LAND`."""
    shut = np.zeros(grid.shape, dtype=np.bool_)
    for layer in layers:
        if layer.kind == "no-go":
            for shape in layer.shapes:
                shut |= touched_cells(grid, shape)
    return np.where(shut, LAND, 0).astype(np.uint8)


def land_tolls(
    grid: SearchGrid, layers: Iterable[Layer], prices: Mapping[str, tuple[float, float]]
) -> tuple[Tolls, Tolls]:
    """Return what land costs by the metre in each cell: for crossings, and along it [money/m].

    ``prices`` has both for each kind [money, money/m]. A crossing's price is spread over the two
    cells that a line through it passes; the toll along holds in every cell that it touches.
    """
    across, along = (np.zeros(grid.shape, dtype=np.float32) for _ in range(2))
    for layer in layers:
        if layer.kind not in prices:
            continue
        crossing, metre = prices[layer.kind]
        for shape in layer.shapes:
            touched = touched_cells(grid, shape)
            rim = touched_cells(grid, replace(shape, area=False)) if shape.area else touched
            across[rim] += crossing / (2.0 * grid.cell_m)
            along[touched] += metre
    return across, along


def bed_cells(terrain: Terrain, threshold_m2: float) -> tuple[IntArray, IntArray]:
    """Return rows and columns of the raster's cells in which a stream runs, by its water.

    None for a raster so large that following its water takes longer than the search.
    """
    rows, cols = terrain.shape
    if rows * cols > MOST_FOLLOWED:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    network = followed(terrain, threshold_m2)
    assert network is not None
    return network.above(threshold_m2).places(slice(None))


def bed_tolls(
    grid: SearchGrid, beds: tuple[IntArray, IntArray], stream: tuple[float, float]
) -> Tolls:
    """Return what it costs by the metre to lay pipe in the bed of a stream [money/m].

    ``stream`` is the price of a crossing, and of a metre along [money, money/m].
    """
    tolls = np.zeros(grid.shape, dtype=np.float32)
    row, col = (
        (at - first) // grid.factor for at, first in zip(beds, (grid.row0, grid.col0), strict=True)
    )
    held = (row >= 0) & (col >= 0) & (row < grid.shape[0]) & (col < grid.shape[1])
    crossing, along = stream
    tolls[row[held], col[held]] = crossing / (2.0 * grid.cell_m) + along
    return tolls


def ground_tolls(grid: Cellular, layers: Iterable[Layer], dearer: Callable[[str], float]) -> Tolls:
    """Return what a metre of trench costs more in cells of a class of ground [money/m].

    ``dearer`` says so by class; a cheaper one is below 0. The first area that holds the centre of
    a cell counts.
    """
    tolls = np.zeros(grid.shape, dtype=np.float32)
    left = np.ones(grid.shape, dtype=np.bool_)
    for layer in layers:
        for shape in layer.shapes if layer.kind == GROUND else ():
            here = left & _inside(grid, shape)
            tolls[here] = dearer(shape.name)
            left &= ~here
    return tolls


def touched_cells(grid: Cellular, shape: Shape) -> BoolArray:
    """Return the cells that a shape touches at all."""
    found = _inside(grid, shape) if shape.area else np.zeros(grid.shape, dtype=np.bool_)
    for corners in _corners(grid, shape):
        found |= _burnt(grid, {"type": "LineString", "coordinates": corners}, touched=True)
    return found


def _inside(grid: Cellular, shape: Shape) -> BoolArray:
    """Return the cells whose centres lie within an area."""
    found = np.zeros(grid.shape, dtype=np.bool_)
    for corners in _corners(grid, shape):
        found ^= _burnt(grid, {"type": "Polygon", "coordinates": [corners]})
    return found


def _burnt(grid: Cellular, geometry: dict[str, object], *, touched: bool = False) -> BoolArray:
    """Return the cells of a geometry in columns and rows."""
    from rasterio import Affine
    from rasterio.features import rasterize

    # Rows and columns count from the centre of the first cell.
    place = Affine.translation(-0.5, -0.5)
    cells = rasterize([geometry], grid.shape, transform=place, all_touched=touched, dtype=np.uint8)
    return np.asarray(cells > 0)


def _corners(grid: Cellular, shape: Shape) -> Iterator[list[list[float]]]:
    """Yield the parts of a shape that may lie on the grid, as columns and rows."""
    for part in shape.parts:
        row, col = grid.nodes(part[:, 0], part[:, 1])
        if not (_far(row, grid.shape[0]) or _far(col, grid.shape[1])):
            yield np.column_stack([col, row]).tolist()


def _far(at: FloatArray, size: int) -> bool:
    """Return whether a ring lies beyond a side of the grid."""
    return bool(at.max() < -1.0 or at.min() > size)


def closed_levels(
    heights: NDArray[np.float32],
    away_m: FloatArray,
    *,
    intake_m: float,
    deepest_crown_m: float,
    margin_m: float,
    gradient: float,
    head_most_m: float,
) -> Cells:
    """Return the cells that lie too high to fill and flow, or too low for every pipe.

    Parameters
    ----------
    heights : NDArray, shape (rows, columns)
        Ground, NaN where missing [m]
    away_m : FloatArray, shape (rows, columns)
        Distance from the intake, the least that any line has come by then [m]
    intake_m : float
        Water at the intake [m]
    deepest_crown_m : float
        Ground to the crown of a pipe at the bottom of the deepest trench [m]
    margin_m : float
        Least fall from the hydraulic line to the crown [m]
    gradient : float
        Head lost per metre at the design flow [-]
    head_most_m : float
        Greatest head at rest that a pipe holds [m]

    Returns
    -------
    shut : NDArray of uint8, shape (rows, columns)
        :data:`MISSING`, :data:`LEVEL` and :data:`PRESSURE`, 0 where a line may go
    """
    shut = np.isnan(heights) * np.uint8(MISSING)
    top = np.nan_to_num(heights, nan=0.0) - deepest_crown_m
    # At the intake itself the water stands no higher than it is.
    fall = margin_m * np.minimum(away_m / MARGIN_FROM_M, 1.0) + gradient * away_m
    shut |= (top > intake_m - fall) * np.uint8(LEVEL)
    shut |= (top < intake_m - head_most_m) * np.uint8(PRESSURE)
    return shut


def closed_steep(grid: SearchGrid, steepest: float | None) -> Cells:
    """Return the cells that hold ground steeper than allowed, marked :data:`STEEP`.

    Parameters
    ----------
    grid : SearchGrid
        Its raster in full where that is in memory
    steepest : float, optional
        Greatest slope of the ground in its steepest direction, rise over run [-]

    Returns
    -------
    shut : NDArray of uint8, shape (rows, columns)
        By the gradient between neighbours on both sides of each cell of the raster
    """
    if steepest is None:
        return np.zeros(grid.shape, dtype=np.uint8)
    fine = grid.heights if grid.window is None else grid.window.heights_m
    factor = 1 if grid.window is None else grid.factor
    shut = np.zeros(grid.shape, dtype=np.uint8)
    rows = fine.shape[0]
    step = max(STRIP_CELLS // fine.shape[1], 2)
    for first in range(0, rows, step):
        # A row more on either side, so that each row is between its neighbours.
        begin, end = max(min(first, rows - 2) - 1, 0), min(first + step + 1, rows)
        slopes = np.gradient(fine[begin:end], grid.south_m / factor, grid.east_m / factor)
        steep = np.hypot(*slopes)[first - begin : first - begin + step] > steepest
        row, col = np.nonzero(steep)
        row, col = (row + first) // factor, col // factor
        shut[np.minimum(row, grid.shape[0] - 1), np.minimum(col, grid.shape[1] - 1)] = STEEP
    return shut
