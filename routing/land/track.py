"""The line as the geometry of the land takes it: short straight legs in longitude and latitude."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from routing.arrays import FloatArray, IntArray, frozen
from routing.line import GroundProfile
from routing.line.ground.places import degree_m
from routing.value import dataclass

__all__ = ["Leg", "Track", "near_turn", "track_of"]

MOST_PAIRS = 4_000_000
"""Pairs of a leg and a piece that are looked at in one go [-], some 16 MB."""
LEG_M = 100.0
"""Longest leg taken as straight in degrees [m]: between its ends a line that is straight in any
map system strays from it by less than a millimetre below 60 degrees of latitude."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """Places of the line (n,), longitudes without jumps [deg], and their stations [m]."""

    station_m: FloatArray
    lon: FloatArray
    lat: FloatArray

    def __post_init__(self) -> None:
        for name in ("station_m", "lon", "lat"):
            object.__setattr__(self, name, frozen(getattr(self, name)))

    def at(self, station_m: float) -> tuple[float, float]:
        """Return longitude and latitude of a station [deg]."""
        return (
            float(np.interp(station_m, self.station_m, self.lon)),
            float(np.interp(station_m, self.station_m, self.lat)),
        )

    def meetings(
        self, starts: FloatArray, ends: FloatArray, margin_m: float
    ) -> Iterator[tuple[Leg, IntArray]]:
        """Yield each leg that comes near pieces of other lines, intake first, and which pieces.

        Near are those whose boxes come within a margin of each other; ``starts`` and ``ends`` are
        the pieces' ends, (m, 2) [deg].
        """
        middle = np.clip((starts[:, 1] + ends[:, 1]) / 2.0, -89.0, 89.0)
        margin = margin_m / degree_m(middle).T
        low, high = np.minimum(starts, ends) - margin, np.maximum(starts, ends) + margin
        places = np.column_stack([self.lon, self.lat])
        least = np.minimum(places[:-1], places[1:])
        most = np.maximum(places[:-1], places[1:])
        rows = max(MOST_PAIRS // max(len(starts), 1), 1)
        for first in range(0, len(least), rows):
            part = slice(first, first + rows)
            near = np.all(
                (most[part, np.newaxis] >= low) & (least[part, np.newaxis] <= high), axis=2
            )
            for row in np.flatnonzero(near.any(axis=1)).tolist():
                number = first + row
                leg = Leg(
                    number=number,
                    start=places[number],
                    end=places[number + 1],
                    from_m=float(self.station_m[number]),
                    to_m=float(self.station_m[number + 1]),
                )
                yield leg, np.flatnonzero(near[row])


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """One leg: its ends, longitude and latitude (2,) [deg], and their stations [m]."""

    number: int
    start: FloatArray
    end: FloatArray
    from_m: float
    to_m: float

    @property
    def scale(self) -> FloatArray:
        """Return metres in a degree of longitude and of latitude here, (2,)."""
        return degree_m(float(self.start[1] + self.end[1]) / 2.0)


def track_of(profile: GroundProfile) -> Track:
    """Return the line of a profile: its vertices, and stations between them where legs are long."""
    wanted = np.arange(LEG_M, float(profile.station_m[-1]), LEG_M)
    between = np.searchsorted(profile.station_m, wanted)
    index = np.unique(np.concatenate([np.flatnonzero(profile.vertex), between]))
    lon = profile.lon[index]
    return Track(
        station_m=profile.station_m[index],
        lon=lon - 360.0 * np.cumsum(np.round(np.diff(lon, prepend=lon[0]) / 360.0)),
        lat=profile.lat[index],
    )


def near_turn(parts: Sequence[FloatArray], lon: float) -> list[FloatArray]:
    """Return parts of a shape, each moved by whole turns of the globe to lie near a longitude."""
    turns = [round((lon - float(np.mean(part[:, 0]))) / 360.0) for part in parts]
    return [part + np.array([360.0 * turn, 0.0]) for part, turn in zip(parts, turns, strict=True)]
