"""The drawn line in plan: checked once, so that nothing after it has to ask again."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.errors import RouteError
from routing.finding import Finding
from routing.value import dataclass

__all__ = ["MEAN_RADIUS_M", "Route", "local_distance_m"]

REPEAT_DISTANCE_M: Final = 1e-3
"""Points closer than this to the point before are repeats [m]; profile stations are no finer."""

MEAN_RADIUS_M: Final = 6_371_008.8
"""Mean radius of the Earth [m], for telling repeated points only; never for a station.

Source: H. Moritz, "Geodetic Reference System 1980", table of derived constants (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """A line from the intake to the outlet, in WGS 84 degrees.

    Attributes
    ----------
    name : str
        What the line is called [-]
    lon, lat : FloatArray, shape (n,), n >= 2
        Vertices, intake first; no vertex repeats the one before it. Longitudes start within 180
        either side of Greenwich and run on past 180 where the line crosses the antimeridian, so
        neighbours are never more than 180 apart [deg]
    dropped : int
        Repeated points that were left out [-]
    recorded : bool
        Whether a receiver recorded the line on a walk, so that it may need cleaning
    findings : tuple of Finding
        What was done to the line before it came here

    Raises
    ------
    RouteError
        If the arrays do not pair up, a value is not finite or no place on Earth, or fewer than two
        distinct points remain.

    Examples
    --------
    >>> line = Route(name="over the date line", lon=[179.9, 179.9, -179.9], lat=[-17.0, -17.0, -17])
    >>> line.lon.tolist(), line.dropped
    ([179.9, 180.1], 1)
    """

    name: str
    lon: FloatArray
    lat: FloatArray
    dropped: int = 0
    recorded: bool = False
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        lon, lat = _degrees(self.lon, "lon"), _degrees(self.lat, "lat")
        if lon.shape != lat.shape:
            raise RouteError(
                f"The line has {lon.size} longitudes but {lat.size} latitudes.",
                "Give one of each for every point.",
            )
        _check_places(lon, lat)
        lon = _continuous(lon)
        keep = _distinct(lon, lat)
        if np.count_nonzero(keep) < 2:
            raise RouteError(
                f"The line has {lon.size} point(s), all at one place"
                + (f" ({lon[0]:.6f}, {lat[0]:.6f})." if lon.size else "."),
                "Draw at least two points that lie apart, the intake first.",
            )
        object.__setattr__(self, "lon", frozen(lon[keep]))
        object.__setattr__(self, "lat", frozen(lat[keep]))
        object.__setattr__(self, "dropped", self.dropped + int(np.count_nonzero(~keep)))

    def reversed(self) -> Route:
        """Return the same line from its other end."""
        return Route(
            name=self.name,
            lon=self.lon[::-1],
            lat=self.lat[::-1],
            dropped=self.dropped,
            recorded=self.recorded,
            findings=self.findings,
        )


def local_distance_m(lon: FloatArray, lat: FloatArray) -> FloatArray:
    """Return the distance of each point from the one before it, good to a part in 200 [m]."""
    turn = np.diff(lon)
    turn = turn - 360.0 * np.round(turn / 360.0)
    east = np.radians(turn) * np.cos(np.radians(0.5 * (lat[1:] + lat[:-1])))
    distance: FloatArray = np.hypot(east, np.radians(np.diff(lat))) * MEAN_RADIUS_M
    return distance


def _degrees(values: object, what: str) -> FloatArray:
    """Return ``values`` as a float64 vector."""
    try:
        array = np.asarray(values)
        if array.dtype.kind not in "fiu":
            raise TypeError(f"they are of type {array.dtype}")
        vector: FloatArray = array.astype(np.float64)
    except (TypeError, ValueError) as error:
        raise RouteError(
            f"{what}: the places of the line are not numbers: {error}.",
            "Give them in decimal degrees.",
        ) from error
    if vector.ndim != 1:
        raise RouteError(
            f"{what}: the places of the line come in {vector.ndim} dimensions.",
            "Give one list of numbers.",
        )
    return vector


def _check_places(lon: FloatArray, lat: FloatArray) -> None:
    """Refuse a line with a point that is nowhere on Earth."""
    broken = ~(np.isfinite(lon) & np.isfinite(lat))
    if broken.any():
        at = int(np.argmax(broken))
        raise RouteError(
            f"Point {at + 1} of the line is ({lon[at]}, {lat[at]}): not a place.",
            "Every point needs a finite longitude and latitude.",
        )
    outside = (np.abs(lat) > 90.0) | (np.abs(lon) > 360.0)
    if not outside.any():
        return
    at = int(np.argmax(outside))
    place = f"({lon[at]:g}, {lat[at]:g})"
    problem = f"Point {at + 1} of the line, {place}, is no longitude and latitude."
    if np.all(np.abs(lon) <= 90.0) and np.all(np.abs(lat) <= 360.0):
        remedy = "Latitude and longitude look swapped: give longitude first, then latitude."
    else:
        remedy = (
            "The numbers look like metres or feet of a map grid: convert the line to WGS 84"
            " degrees, or use a file that states its coordinate system."
        )
    raise RouteError(problem, remedy, lon=float(lon[at]), lat=float(lat[at]))


def _continuous(lon: FloatArray) -> FloatArray:
    """Return longitudes without jumps, the first of them from -180 to 180.

    Whole turns only: a vertex that needs none keeps its value to the last bit.
    """
    turns = np.round(np.diff(lon, prepend=0.0) / 360.0)
    if not turns.any():
        return lon
    lon = lon - 360.0 * np.cumsum(turns)
    if np.abs(lon).max() > 360.0:
        raise RouteError(
            "The line runs round the Earth.",
            "Draw the pipeline from the intake to the outlet, each point near the one before.",
        )
    return lon


def _distinct(lon: FloatArray, lat: FloatArray) -> np.ndarray:
    """Return which points to keep: the first, and each that lies apart from the last kept one."""
    keep = np.ones(lon.size, dtype=np.bool_)
    near = local_distance_m(lon, lat) < REPEAT_DISTANCE_M
    if not near.any():
        return keep
    # A run of tiny steps adds up: what counts is the distance from the last point kept. Points
    # after a run of near ones are looked at one by one, in plain numbers: that is quick and linear.
    x, y = np.radians(lon).tolist(), np.radians(lat).tolist()
    least = REPEAT_DISTANCE_M / MEAN_RADIUS_M
    last, at, count = 0, 1, lon.size
    following = np.flatnonzero(near) + 1
    for start in following.tolist():
        if start < at:
            continue
        at, last = start, start - 1
        while at < count and (at == start or last != at - 1 or near[at - 1]):
            east = (x[at] - x[last]) * math.cos(0.5 * (y[at] + y[last]))
            if math.hypot(east, y[at] - y[last]) < least:
                keep[at] = False
            else:
                last = at
            at += 1
    return keep
