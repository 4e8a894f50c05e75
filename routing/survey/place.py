"""Surveyed points on the line: station, offset, the raster there, and what each is good for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from routing.arrays import FloatArray, IntArray, frozen
from routing.line import GroundProfile
from routing.line.ground.places import degree_m, raster_at, set_out, turned
from routing.survey.point import PointUse, SurveyPoint
from routing.terrain import GridWindow, Terrain
from routing.value import dataclass

__all__ = ["SAME_STATION_M", "PlacedSurvey", "place_survey"]

ON_LINE_M: Final = 1.0
"""Offset up to which a point counts as on the line [m]: how well people find a line on a hill."""

SAME_STATION_M: Final = 0.01
"""Points of the line closer than this are one place [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedSurvey:
    """Surveyed points against the line and the raster, each array of shape (n,).

    ``raster_m`` is the raster at the point's own place, NaN where it has none; ``ground_m`` the
    profile at its station. ``knot_m`` (k,) are the stations where the profile is corrected, by
    ``correction_m`` (k,); the correction fades over ``fade_m``.
    """

    points: tuple[SurveyPoint, ...]
    use: tuple[PointUse, ...]
    station_m: FloatArray
    offset_m: FloatArray
    lon: FloatArray
    lat: FloatArray
    raster_m: FloatArray
    ground_m: FloatArray
    knot_m: FloatArray
    correction_m: FloatArray
    fade_m: float

    def __post_init__(self) -> None:
        for name in (
            "station_m",
            "offset_m",
            "lon",
            "lat",
            "raster_m",
            "ground_m",
            "knot_m",
            "correction_m",
        ):
            object.__setattr__(self, name, frozen(getattr(self, name)))

    @property
    def difference_m(self) -> FloatArray:
        """Surveyed level less the raster at the same place, NaN where it has none, (n,) [m]."""
        return np.array([point.elevation_m for point in self.points]) - self.raster_m

    @property
    def break_station_m(self) -> FloatArray:
        """Stations where the correction bends: at its knots and where it has faded out [m]."""
        gap = np.diff(self.knot_m)
        reach = np.minimum(gap, self.fade_m)
        ends = [self.knot_m[:1] - self.fade_m, self.knot_m[-1:] + self.fade_m]
        breaks = [self.knot_m, self.knot_m[:-1] + reach, self.knot_m[1:] - reach, *ends]
        return np.unique(np.concatenate(breaks))

    def level_m(self, end: str) -> float | None:
        """Return the level of the point named after an end of the line, or None [m]."""
        for point in self.points:
            if point.end == end:
                return point.elevation_m
        return None


def place_survey(
    points: Sequence[SurveyPoint],
    profile: GroundProfile,
    terrain: Terrain,
    *,
    fade_m: float,
    window: GridWindow | None = None,
) -> PlacedSurvey:
    """Return surveyed points on the line, and by how much they correct its ground.

    Parameters
    ----------
    points : sequence of SurveyPoint
        The survey, at least one point
    profile : GroundProfile
        The ground along the line from the raster
    terrain : Terrain
        The raster
    fade_m : float
        Distance along the line over which a correction fades, > 0 [m]
    window : GridWindow, optional
        Elevations in memory; used where it covers the points

    Returns
    -------
    PlacedSurvey
        Station and offset of each point and the corrections of the profile

    Notes
    -----
    A point within 1 m of the line corrects the ground at its station to its own level. A point
    further off says how wrong the raster is where it stands, and that difference counts on the
    line, less with the distance and not at all beyond ``fade_m`` of it, nor where a point on the
    line stands nearer than it does. Of several points on the line at one station the mean counts,
    weighted by their accuracy.
    """
    given = np.array([np.nan if p.station_m is None else p.station_m for p in points])
    length = float(profile.station_m[-1])
    for at, point in enumerate(points):
        if point.station_m is None and point.lon is None:
            given[at] = 0.0 if point.end == "intake" else length
    by_station = ~np.isnan(given)
    offset = np.array([point.offset_m for point in points])
    lon = np.array([np.nan if p.lon is None else p.lon for p in points], dtype=np.float64)
    lat = np.array([np.nan if p.lat is None else p.lat for p in points], dtype=np.float64)
    station = np.where(by_station, np.clip(given, 0.0, length), 0.0)
    beyond = by_station & ((given < -ON_LINE_M) | (given > length + ON_LINE_M))
    lon[by_station], lat[by_station] = set_out(profile, station[by_station], offset[by_station])
    placed = np.flatnonzero(~by_station)
    if placed.size:
        lon[placed] = (lon[placed] + 180.0) % 360.0 - 180.0
        station[placed], offset[placed] = _feet(profile, lon[placed], lat[placed])
    raster = raster_at(terrain, lon, lat, window)
    ground = np.interp(station, profile.station_m, profile.ground_m)
    use = _uses(station, offset, raster, beyond, fade_m)
    level = np.array([point.elevation_m for point in points])
    error = np.array([point.error_m for point in points])
    knots, corrections = _knots(use, station, offset, level, error, raster, ground, fade_m)
    return PlacedSurvey(
        points=tuple(points),
        use=use,
        station_m=station,
        offset_m=offset,
        lon=lon,
        lat=lat,
        raster_m=raster,
        ground_m=ground,
        knot_m=knots,
        correction_m=corrections,
        fade_m=fade_m,
    )


def _feet(
    profile: GroundProfile, lon: FloatArray, lat: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return station and offset of the nearest place of the line to each given place [m]."""
    import shapely

    base_lon, base_lat = float(profile.lon[0]), float(profile.lat[0])
    flat = float(np.cos(np.radians(profile.lat.mean())))
    line = np.column_stack([turned(profile.lon - base_lon) * flat, profile.lat - base_lat])
    legs = shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1))
    spots = shapely.points(turned(lon - base_lon) * flat, lat - base_lat)
    # The plane of degrees only finds the leg; the foot on it is worked out in metres.
    which, leg = shapely.STRtree(legs).query_nearest(spots, all_matches=False)
    piece: IntArray = np.empty(lon.size, dtype=np.int64)
    piece[which] = leg
    east_scale, north_scale = degree_m(lat)
    dx = turned(profile.lon[piece + 1] - profile.lon[piece]) * east_scale
    dy = (profile.lat[piece + 1] - profile.lat[piece]) * north_scale
    x = turned(lon - profile.lon[piece]) * east_scale
    y = (lat - profile.lat[piece]) * north_scale
    run = np.hypot(dx, dy)
    share = np.clip((x * dx + y * dy) / (run * run), 0.0, 1.0)
    step = profile.station_m[piece + 1] - profile.station_m[piece]
    right = (x * dy - y * dx) / run
    apart = np.hypot(x - share * dx, y - share * dy)
    return profile.station_m[piece] + share * step, np.copysign(apart, right)


def _uses(
    station: FloatArray,
    offset: FloatArray,
    raster: FloatArray,
    beyond: np.ndarray,
    fade_m: float,
) -> tuple[PointUse, ...]:
    """Return what each point is good for."""
    aside = np.abs(offset)
    on_line = ~beyond & (aside <= ON_LINE_M)
    stations = np.sort(station[on_line])
    uses: list[PointUse] = []
    for at in range(station.size):
        if beyond[at]:
            uses.append("off the end")
        elif on_line[at]:
            uses.append("on the line")
        elif aside[at] >= fade_m:
            uses.append("too far off")
        elif np.isnan(raster[at]):
            uses.append("no ground there")
        else:
            first = np.searchsorted(stations, station[at] - aside[at])
            last = np.searchsorted(stations, station[at] + aside[at])
            uses.append("outweighed" if last > first else "beside the line")
    return tuple(uses)


def _knots(
    use: tuple[PointUse, ...],
    station: FloatArray,
    offset: FloatArray,
    level: FloatArray,
    error: FloatArray,
    raster: FloatArray,
    ground: FloatArray,
    fade_m: float,
) -> tuple[FloatArray, FloatArray]:
    """Return the stations where the profile is corrected, rising, and the corrections [m]."""
    on_line = np.array([entry == "on the line" for entry in use])
    beside = np.array([entry == "beside the line" for entry in use])
    fading = np.maximum(1.0 - np.abs(offset) / fade_m, 0.0)
    correction = np.where(on_line, level - ground, fading * (level - raster))
    order = np.flatnonzero(on_line | beside)
    order = order[np.argsort(station[order], kind="stable")]
    knots: list[float] = []
    corrections: list[float] = []
    begin = 0
    while begin < order.size:
        end = begin + 1
        while end < order.size and (station[order[end]] - station[order[begin]] <= SAME_STATION_M):
            end += 1
        group = order[begin:end]
        if on_line[group].any():
            group = group[on_line[group]]
        weight = 1.0 / np.square(error[group])
        knots.append(float(station[group[0]]))
        corrections.append(float(np.average(correction[group], weights=weight)))
        begin = end
    return np.array(knots), np.array(corrections)
