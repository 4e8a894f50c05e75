"""How steep the ground lies across the line, from the raster on both sides of it."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray
from routing.line.ground.places import raster_at, set_out
from routing.line.ground.profile import GroundProfile
from routing.terrain import GridWindow, Terrain

__all__ = ["LEAST_REACH_M", "side_slope"]

LEAST_REACH_M = 3.0
"""How far on each side of the line the ground is looked at, at least [m]: about the width that a
machine and its bench take; our own choice. A cell of the raster where that is more."""


def side_slope(
    terrain: Terrain, profile: GroundProfile, window: GridWindow | None = None
) -> FloatArray:
    """Return the slope of the ground across the line at each station.

    Parameters
    ----------
    terrain : Terrain
        Elevations
    profile : GroundProfile
        The line over them
    window : GridWindow, optional
        Elevations in memory, where it covers the places

    Returns
    -------
    slope : FloatArray
        Rise over run, positive where the ground rises to the right as seen down the line, NaN
        where the raster has no elevation on one side, (n,) [-]

    Notes
    -----
    The difference of the raster's surface a cell, and at least 3 m, to the right and to the left
    of each station, square to the line; at a corner, to the leg ahead. Levels taken on the line
    play no part. Checked by ``tests/routing/line/ground/test_side.py``.
    """
    reach = max(terrain.cell_m, LEAST_REACH_M)
    count = profile.station_m.size
    station = np.concatenate([profile.station_m, profile.station_m])
    offset = np.repeat([reach, -reach], count)
    height = raster_at(terrain, *set_out(profile, station, offset), window)
    slope: FloatArray = (height[:count] - height[count:]) / (2.0 * reach)
    return slope
