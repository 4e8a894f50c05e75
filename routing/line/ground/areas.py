"""Areas that a line must not cross: where it goes in, where it comes out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from routing.arrays import BoolArray, FloatArray, frozen
from routing.finding import Finding
from routing.line.ground.profile import GroundProfile

__all__ = ["Area", "area_findings", "stretches_inside"]

SHORTEST_M = 1e-3
"""A shorter stretch inside an area is a touch and no crossing [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """A named area in WGS 84; a place is inside where an odd number of its rings hold it.

    Each ring has shape (n, 2), longitude and latitude [deg]; so the second ring of an area is a
    hole in it, and rings apart from each other are its parts.
    """

    name: str
    rings: tuple[FloatArray, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "rings", tuple(frozen(ring) for ring in self.rings))


def stretches_inside(
    lon: FloatArray, lat: FloatArray, station_m: FloatArray, area: Area
) -> list[tuple[float, float]]:
    """Return the stretches of a line that lie inside an area.

    Parameters
    ----------
    lon, lat, station_m : FloatArray
        Vertices of the line and their stations, shape (n,) [deg, deg, m]
    area : Area
        The area, in the same degrees or a whole turn away

    Returns
    -------
    stretches : list of tuple
        First and last station of each, in order [m]

    Notes
    -----
    Edges are straight in longitude and latitude: over the few kilometres of a line that differs
    from the geodesic by less than a raster's cell. Stations between vertices are taken by share.

    Examples
    --------
    >>> square = Area(name="", rings=(np.array([[1.0, -1], [3, -1], [3, 1], [1, 1], [1, -1]]),))
    >>> stretches_inside(np.array([0.0, 4.0]), np.zeros(2), np.array([0.0, 400.0]), square)
    [(100.0, 300.0)]
    """
    starts, ends = _edges(area, float(np.mean(lon)))
    cuts = [station_m]
    near = np.ones(lon.size - 1, dtype=np.bool_)
    for axis, places in enumerate((lon, lat)):
        low, high = np.minimum(places[:-1], places[1:]), np.maximum(places[:-1], places[1:])
        near &= (high >= starts[:, axis].min()) & (low <= starts[:, axis].max())
    for leg in np.flatnonzero(near):
        a = np.array([lon[leg], lat[leg]])
        along = np.array([lon[leg + 1], lat[leg + 1]]) - a
        edge = ends - starts
        cross = along[0] * edge[:, 1] - along[1] * edge[:, 0]
        met = cross != 0.0
        from_a = starts[met] - a
        share = (from_a[:, 0] * edge[met, 1] - from_a[:, 1] * edge[met, 0]) / cross[met]
        place = (from_a[:, 0] * along[1] - from_a[:, 1] * along[0]) / cross[met]
        hit = share[(share > 0.0) & (share < 1.0) & (place >= 0.0) & (place <= 1.0)]
        cuts.append(station_m[leg] + hit * (station_m[leg + 1] - station_m[leg]))
    # Between two cuts a line is wholly inside or wholly outside, as its middle is.
    at = np.unique(np.concatenate(cuts))
    middle = (at[:-1] + at[1:]) / 2.0
    held = _holds(
        starts, ends, np.interp(middle, station_m, lon), np.interp(middle, station_m, lat)
    )
    steps = np.diff(np.concatenate(([0], held.astype(np.int8), [0])))
    pairs = zip(at[steps == 1], at[steps == -1], strict=True)
    return [(float(a), float(b)) for a, b in pairs if b - a > SHORTEST_M]


def _edges(area: Area, lon: float) -> tuple[FloatArray, FloatArray]:
    """Return first and last end of every edge, (m, 2), in the turn that a longitude is in."""
    starts = np.concatenate([ring[:-1] for ring in area.rings])
    ends = np.concatenate([ring[1:] for ring in area.rings])
    turn = np.array([360.0 * round((lon - float(np.mean(starts[:, 0]))) / 360.0), 0.0])
    return starts + turn, ends + turn


def _holds(starts: FloatArray, ends: FloatArray, lon: FloatArray, lat: FloatArray) -> BoolArray:
    """Return which places have an odd number of edges to their east."""
    held = np.zeros(lon.size, dtype=np.bool_)
    for (x0, y0), (x1, y1) in zip(starts, ends, strict=True):
        if y0 != y1:
            beside = (y0 > lat) != (y1 > lat)
            held ^= beside & (lon < x0 + (lat - y0) * (x1 - x0) / (y1 - y0))
    return held


def area_findings(profile: GroundProfile, areas: Iterable[Area]) -> tuple[Finding, ...]:
    """Return a fault for each stretch of the line inside an area that it must not cross."""
    return tuple(_crossed(profile, areas))


def _crossed(profile: GroundProfile, areas: Iterable[Area]) -> Iterator[Finding]:
    for number, area in enumerate(areas, start=1):
        name = f"no-go area {area.name!r}" if area.name else f"no-go area {number}"
        for first, last in stretches_inside(
            profile.vertex_lon, profile.vertex_lat, profile.vertex_station_m, area
        ):
            yield Finding(
                code="no_go_crossed",
                severity="fault",
                message=f"The line crosses {name} from station {first:.1f} m to {last:.1f} m. Lead "
                "it round, or take the area out of the settings if it may be crossed.",
                station_m=first,
            )
