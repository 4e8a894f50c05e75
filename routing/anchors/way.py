"""The direction of a pipe in space at one place of the line."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from routing.anchors.given import pipe_at
from routing.laid_line import LaidLine
from routing.trench import Bend

__all__ = ["Way", "way_at"]


class Way(NamedTuple):
    """Directions of flow at a place, in degrees: bearing and slope before and after."""

    bearing: float
    slope: float
    bearing_after: float
    slope_after: float

    @property
    def middle(self) -> float:
        """Return the bearing that halves the turn in plan."""
        return self.bearing + ((self.bearing_after - self.bearing + 180.0) % 360.0 - 180.0) / 2.0


def _azimuth_deg(line: LaidLine, from_m: float, to_m: float) -> float:
    """Return the bearing of the line from one station to another."""
    from pyproj import Geod

    lon, lat = line.lonlat([from_m, to_m])
    return float(Geod(ellps="WGS84").inv(lon[0], lat[0], lon[1], lat[1])[0])


def _slope_deg(line: LaidLine, from_m: float, to_m: float) -> float:
    low, high = np.interp([from_m, to_m], line.station_m, line.pipe_m).tolist()
    return math.degrees(math.atan2(high - low, to_m - from_m))


def way_at(line: LaidLine, index: int, bend: Bend | None = None) -> Way:
    """Return the directions at a station; at a bend they differ by just the bend's own angles.

    They are those of the sticks of pipe beside it, never across another bend.
    """
    place = float(line.station_m[index])
    reach = pipe_at(line, index).jointing.stick_m
    stops = [float(line.station_m[0]), float(line.station_m[-1])]
    stops += [each.station_m for each in line.bends]
    above = max((s for s in stops if s < place - 1e-6), default=None)
    below = min((s for s in stops if s > place + 1e-6), default=None)
    start = place if above is None else max(above, place - reach)
    end = place if below is None else min(below, place + reach)
    # Across a bend only the side above gives the bearing; at the intake there is only that below.
    first, last = (start, place) if start < place else (place, end)
    bearing = _azimuth_deg(line, first, last)
    if bend is None:
        slope = _slope_deg(line, first, last)
        return Way(bearing, slope, bearing, slope)
    middle = (_slope_deg(line, start, place) + _slope_deg(line, place, end)) / 2.0
    half = bend.vertical_deg / 2.0
    return Way(bearing, middle - half, bearing + bend.plan_deg, middle + half)
