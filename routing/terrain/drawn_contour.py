"""DrawnContour lines of a terrain about a line, for drawings."""

from __future__ import annotations

import math

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.errors import ProfileError, TerrainError
from routing.terrain.terrain import Terrain
from routing.terrain.window import GridWindow, read_window
from routing.value import dataclass

__all__ = ["DrawnContour", "contour_lines"]

MOST_LINES = 60
"""Levels between the lowest and the highest ground before a wider interval is taken [-]."""
MOST_NODES = 1_000_000
"""Cells that contours are drawn from; a larger area is thinned first [-]."""
INDEX_EVERY = 5
"""Every fifth contour is a heavy one: common drawing practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnContour:
    """A line of one elevation, WGS 84; ``index`` lines are drawn heavier and lettered.

    ``sheet`` is the plan that the line is for, by its place in the set; None: for all others.
    """

    level_m: float
    lon: FloatArray
    lat: FloatArray
    index: bool = False
    sheet: int | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "lon", frozen(self.lon))
        object.__setattr__(self, "lat", frozen(self.lat))


def contour_lines(
    terrain: Terrain,
    *,
    west: float,
    south: float,
    east: float,
    north: float,
    interval: float | None = None,
    unit_m: float = 1.0,
    window: GridWindow | None = None,
) -> tuple[DrawnContour, ...]:
    """Return the contours of a box of longitude and latitude, through the raster's cell centres.

    Parameters
    ----------
    terrain : Terrain
        Elevations
    west, south, east, north : float
        The box, WGS 84; ``east`` may run past 180 [deg]
    interval : float, optional
        Between levels, > 0 [units]; else the smallest of 1, 2, 5, 10 ... with at most 60 levels
    unit_m : float
        The unit in which levels are round: 1, or 0.3048 for feet [m]
    window : GridWindow, optional
        The box, when it is already in memory

    Returns
    -------
    tuple of DrawnContour
        Lines in order of level; none where elevation is missing. Empty for a box off the terrain
        or beyond what a window may hold, since a drawing is still one without them.
    """
    from contourpy import contour_generator

    try:
        part = window or read_window(terrain, west, south, east, north)
    except (ProfileError, TerrainError):
        return ()
    thin = max(math.ceil(math.sqrt(part.heights_m.size / MOST_NODES)), 1)
    heights = part.heights_m[::thin, ::thin]
    if min(heights.shape) < 2 or not np.isfinite(heights).any():
        return ()
    low, high = float(np.nanmin(heights)), float(np.nanmax(heights))
    step = (interval or _interval((high - low) / unit_m)) * unit_m
    lines = contour_generator(z=np.ma.masked_invalid(heights), name="serial")
    found: list[DrawnContour] = []
    for number in range(math.ceil(low / step), math.floor(high / step) + 1):
        for path in lines.lines(number * step):
            lon, lat = terrain.reference.to_lonlat(
                part.row0 + thin * path[:, 1], part.col0 + thin * path[:, 0]
            )
            found.append(
                DrawnContour(
                    level_m=round(number * step, 6),
                    lon=lon,
                    lat=lat,
                    index=number % INDEX_EVERY == 0,
                )
            )
    return tuple(found)


def _interval(span: float) -> float:
    power = 10.0 ** math.floor(math.log10(max(span / MOST_LINES, 0.1)))
    return next(power * m for m in (1.0, 2.0, 5.0, 10.0) if power * m * MOST_LINES >= span)
