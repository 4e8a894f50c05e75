"""Where no line may go, and why: one bit for each reason in every cell."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from routing.arrays import FloatArray
from routing.line import Area
from routing.search.grid import SearchGrid

__all__ = ["LAND", "LEVEL", "MISSING", "PRESSURE", "REASONS", "closed_land", "closed_levels"]

MISSING, LAND, LEVEL, PRESSURE = 1, 2, 4, 8

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
}
"""What each reason is called, and what would lift it."""

Cells = NDArray[np.uint8]


def closed_land(grid: SearchGrid, areas: Iterable[Area]) -> Cells:
    """Return the cells that an area touches at all, marked :data:`LAND`."""
    from rasterio import Affine
    from rasterio.features import rasterize

    shut = np.zeros(grid.shape, dtype=np.uint8)
    # Rows and columns count from the centre of the first cell.
    place = {"out_shape": grid.shape, "transform": Affine.translation(-0.5, -0.5)}
    for area in areas:
        inside = np.zeros(grid.shape, dtype=np.uint8)
        for ring in area.rings:
            row, col = grid.nodes(ring[:, 0], ring[:, 1])
            corners = np.column_stack([col, row]).tolist()
            if _far(row, grid.shape[0]) or _far(col, grid.shape[1]):
                continue
            inside ^= rasterize([{"type": "Polygon", "coordinates": [corners]}], **place)
            rim = {"type": "LineString", "coordinates": corners}
            shut |= rasterize([rim], all_touched=True, dtype=np.uint8, **place)
        shut |= inside
    return (shut * LAND).astype(np.uint8)


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
    shut = np.where(np.isnan(heights), MISSING, 0)
    top = np.nan_to_num(heights, nan=0.0) - deepest_crown_m
    # At the intake itself the water stands no higher than it is.
    fall = np.minimum(margin_m, 0.02 * away_m) + gradient * away_m
    shut |= np.where(top > intake_m - fall, LEVEL, 0)
    shut |= np.where(top < intake_m - head_most_m, PRESSURE, 0)
    return shut.astype(np.uint8)
