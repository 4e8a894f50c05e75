"""The direction of a pipe in space at one place of the line."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from routing.anchors.inputs import AnchorInputs
from routing.trench import Bend

__all__ = ["Way", "way_at"]

REACH_M = 6.0
"""How far on either side of a bend the direction of the pipe is taken [m]."""


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


def _azimuth_deg(inputs: AnchorInputs, from_m: float, to_m: float) -> float:
    """Return the bearing of the line from one station to another."""
    from pyproj import Geod

    lon = np.interp([from_m, to_m], inputs.station_m, inputs.lon)
    lat = np.interp([from_m, to_m], inputs.station_m, inputs.lat)
    return float(Geod(ellps="WGS84").inv(lon[0], lat[0], lon[1], lat[1])[0])


def _slope_deg(inputs: AnchorInputs, from_m: float, to_m: float) -> float:
    low, high = np.interp([from_m, to_m], inputs.station_m, inputs.pipe_m).tolist()
    return math.degrees(math.atan2(high - low, to_m - from_m))


def way_at(inputs: AnchorInputs, place_m: float, bend: Bend | None = None) -> Way:
    """Return the directions at a station; at a bend they differ by just the bend's own angles."""
    stops = [float(inputs.station_m[0]), float(inputs.station_m[-1])]
    stops += [each.station_m for each in inputs.bends]
    above = max((s for s in stops if s < place_m - 1e-6), default=None)
    below = min((s for s in stops if s > place_m + 1e-6), default=None)
    start = place_m if above is None else max(above, place_m - REACH_M)
    end = place_m if below is None else min(below, place_m + REACH_M)
    # Across a bend only the side above gives the bearing; at the intake there is only that below.
    bearing = (
        _azimuth_deg(inputs, start, place_m) if start < place_m else
        _azimuth_deg(inputs, place_m, end)
    )  # fmt: skip
    if bend is None:
        slope = _slope_deg(inputs, start, place_m) if start < place_m else (
            _slope_deg(inputs, place_m, end)
        )  # fmt: skip
        return Way(bearing, slope, bearing, slope)
    middle = (_slope_deg(inputs, start, place_m) + _slope_deg(inputs, place_m, end)) / 2.0
    half = bend.vertical_deg / 2.0
    return Way(bearing, middle - half, bearing + bend.plan_deg, middle + half)
