"""The line as the geometry of the land takes it: short straight legs in longitude and latitude."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.line import GroundProfile
from routing.line.ground.places import degree_m

__all__ = ["Leg", "Track", "near_turn", "track_of"]

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

    def legs(self) -> Iterator[Leg]:
        """Yield the legs, from the intake on."""
        for number in range(self.lon.size - 1):
            yield Leg(
                number=number,
                start=np.array([self.lon[number], self.lat[number]]),
                end=np.array([self.lon[number + 1], self.lat[number + 1]]),
                from_m=float(self.station_m[number]),
                to_m=float(self.station_m[number + 1]),
            )


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

    def meets_box(self, starts: FloatArray, ends: FloatArray, margin_m: float) -> np.ndarray:
        """Return which segments (m, 2) come within a margin of the leg's box, (m,) of truths."""
        margin = margin_m / self.scale
        low, high = np.minimum(self.start, self.end) - margin, np.maximum(self.start, self.end)
        high = high + margin
        found: np.ndarray = np.all(
            (np.maximum(starts, ends) >= low) & (np.minimum(starts, ends) <= high), axis=1
        )
        return found


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
