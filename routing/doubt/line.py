"""The line that is doubted: its profile on the raster, its trench, its levels."""

from __future__ import annotations

from dataclasses import field

import numpy as np

from routing.arrays import BoolArray, FloatArray, frozen
from routing.doubt.error import ElevationError
from routing.value import dataclass

__all__ = ["DoubtedLine", "Levels"]


def _none() -> FloatArray:
    return frozen(np.zeros(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Levels taken on the ground, in order of station, each of shape (k,).

    ``sd_m`` is how far each may be off as a level of the line itself.
    """

    station_m: FloatArray = field(default_factory=_none)
    level_m: FloatArray = field(default_factory=_none)
    sd_m: FloatArray = field(default_factory=_none)

    def __post_init__(self) -> None:
        for name in ("station_m", "level_m", "sd_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtedLine:
    """What the doubt of a laid pipe hangs on.

    ``raster_m`` is the profile as the raster has it, without the levels. The centreline may lie
    from ``floor_below_m`` up to ``ceiling_below_m`` below the ground, and is free where ``free`` is
    set (above ground, in spans). All of these have shape (n,). ``summit_m`` and ``sag_m`` are the
    stations of the laid pipe's summits and sags.
    """

    station_m: FloatArray
    raster_m: FloatArray
    floor_below_m: FloatArray
    ceiling_below_m: FloatArray
    free: BoolArray
    summit_m: FloatArray
    sag_m: FloatArray
    cell_m: float
    error: ElevationError
    levels: Levels = field(default_factory=Levels)

    def __post_init__(self) -> None:
        for name in ("station_m", "raster_m", "floor_below_m", "ceiling_below_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))
        for name in ("summit_m", "sag_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))
        object.__setattr__(self, "free", frozen(self.free, np.bool_))

    @property
    def length_m(self) -> float:
        """Length in plan [m]."""
        return float(self.station_m[-1])

    def corridor_at(self, station_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return how far below ground floor and ceiling lie at stations [m]; inf where free."""
        floor = np.interp(station_m, self.station_m, self.floor_below_m)
        ceiling = np.interp(station_m, self.station_m, self.ceiling_below_m)
        within = np.interp(station_m, self.station_m, self.free.astype(np.float64)) > 0.5
        return np.where(within, np.inf, floor), np.where(within, -np.inf, ceiling)

    def reach_m(self, *, summits: bool) -> FloatArray:
        """Return from where to where each planned summit (or sag) may stand, (k, 2) [m].

        That is where the trench lets the pipe be as high as it must be somewhere between the sags
        beside it, or as low as it must be at a sag: all of a flat top, whichever end is planned.
        """
        station = self.station_m
        below, above = self.corridor_at(station)
        floor, ceiling = self.raster_m - below, self.raster_m - above
        most, must = (ceiling, floor) if summits else (-floor, -ceiling)
        planned, others = (self.summit_m, self.sag_m) if summits else (self.sag_m, self.summit_m)
        ends = np.concatenate((station[:1], others, station[-1:]))
        found = np.stack((planned, planned), axis=1)
        for at, after in enumerate(np.searchsorted(ends, planned).tolist()):
            first, last = np.searchsorted(station, ends[[max(after - 1, 0), after]]).tolist()
            place = first + int(np.argmax(must[first : last + 1]))
            short = first + np.flatnonzero(most[first : last + 1] < must[place])
            cuts = np.concatenate(([first - 1], short, [last + 1]))
            end = int(np.searchsorted(cuts, place))
            found[at, 0] = min(found[at, 0], station[cuts[end - 1] + 1])
            found[at, 1] = max(found[at, 1], station[cuts[end] - 1])
        return found
