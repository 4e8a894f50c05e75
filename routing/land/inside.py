"""Stretches of a line that lie inside an area."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from routing.arrays import BoolArray, FloatArray
from routing.land.track import Track, near_turn

__all__ = ["stretches_inside"]

SHORTEST_M = 1e-3
"""A shorter stretch inside an area is a touch and no crossing [m]."""


def stretches_inside(track: Track, rings: Sequence[FloatArray]) -> list[tuple[float, float]]:
    """Return the stretches of a line that lie inside an area.

    Parameters
    ----------
    track : Track
        The line [deg, m]
    rings : sequence of FloatArray
        Closed rings of the area, (n, 2), in the same degrees or whole turns away [deg]

    Returns
    -------
    stretches : list of tuple
        First and last station of each, in order [m]

    Notes
    -----
    Edges are straight in longitude and latitude: over the few kilometres of a line that differs
    from the geodesic by less than a raster's cell. A line along an edge that two areas share is
    inside one of the two.

    Examples
    --------
    >>> line = Track(station_m=np.array([0.0, 400.0]), lon=np.array([0.0, 4.0]), lat=np.zeros(2))
    >>> stretches_inside(line, [np.array([[1.0, -1], [3, -1], [3, 1], [1, 1], [1, -1]])])
    [(100.0, 300.0)]
    """
    lon, lat, station = track.lon, track.lat, track.station_m
    near = near_turn(rings, float(np.mean(lon)))
    starts = np.concatenate([ring[:-1] for ring in near])
    ends = np.concatenate([ring[1:] for ring in near])
    low, high = starts.min(axis=0), starts.max(axis=0)
    if lon.max() < low[0] or lon.min() > high[0] or lat.max() < low[1] or lat.min() > high[1]:
        return []
    cuts = [station]
    for leg, met in track.meetings(starts, ends, 0.0):
        along, edge, from_a = leg.end - leg.start, (ends - starts)[met], starts[met] - leg.start
        cross = along[0] * edge[:, 1] - along[1] * edge[:, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (from_a[:, 0] * edge[:, 1] - from_a[:, 1] * edge[:, 0]) / cross
            place = (from_a[:, 0] * along[1] - from_a[:, 1] * along[0]) / cross
            hit = share[(share > 0.0) & (share < 1.0) & (place >= 0.0) & (place <= 1.0)]
        cuts.append(leg.from_m + hit * (leg.to_m - leg.from_m))
    # Between two cuts a line is wholly inside or wholly outside, as its middle is.
    at = np.unique(np.concatenate(cuts))
    middle = (at[:-1] + at[1:]) / 2.0
    x, y = np.interp(middle, station, lon), np.interp(middle, station, lat)
    held = (x >= low[0]) & (x <= high[0]) & (y >= low[1]) & (y <= high[1])
    held[held] = _holds(starts, ends, x[held], y[held])
    steps = np.diff(np.concatenate(([0], held.astype(np.int8), [0])))
    pairs = zip(at[steps == 1], at[steps == -1], strict=True)
    return [(float(a), float(b)) for a, b in pairs if b - a > SHORTEST_M]


def _holds(starts: FloatArray, ends: FloatArray, lon: FloatArray, lat: FloatArray) -> BoolArray:
    """Return which places have an odd number of edges to their east."""
    held = np.zeros(lon.size, dtype=np.bool_)
    y0, y1 = starts[:, 1], ends[:, 1]
    for at, (x, y) in enumerate(zip(lon.tolist(), lat.tolist(), strict=True)):
        beside = np.flatnonzero((y0 > y) != (y1 > y))
        share = (y - y0[beside]) / (y1[beside] - y0[beside])
        edge = starts[beside, 0] + share * (ends[beside, 0] - starts[beside, 0])
        held[at] = np.count_nonzero(x < edge) % 2
    return held
