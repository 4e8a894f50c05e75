"""One level taken on the ground, as a survey states it."""

from __future__ import annotations

import math
from typing import Final, Literal

from routing.errors import InputError
from routing.value import dataclass

__all__ = ["DEFAULT_ACCURACY_M", "DEFAULT_FADE_M", "END_NAMES", "PointUse", "SurveyPoint"]

DEFAULT_ACCURACY_M: Final = 0.03
"""Standard error of a level that states none [m]; common practice for satellite fixes with a base
station, no source."""

DEFAULT_FADE_M: Final = 30.0
"""Distance along the line over which a surveyed level fades into the raster [m]; our choice."""

END_NAMES: Final = ("intake", "outlet")
"""Names of points that give a level of the study."""

LOWEST_M, HIGHEST_M = -11_500.0, 9_000.0
"""Heights that ground on Earth keeps within [m], the sea floor included."""

PointUse = Literal[
    "on the line", "beside the line", "outweighed", "too far off", "no ground there", "off the end"
]
"""What became of a point: on the line its level is met exactly, beside it its difference from the
raster counts, outweighed by a point on the line close by; the others are not used."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyPoint:
    """A level, and its place by station and offset or by longitude and latitude.

    ``offset_m`` is to the right of the line looking downstream. ``label`` names the point in
    messages. A point called intake or outlet may have no place: it stands at that end.
    """

    label: str
    elevation_m: float
    name: str | None = None
    station_m: float | None = None
    offset_m: float = 0.0
    lon: float | None = None
    lat: float | None = None
    accuracy_m: float | None = None

    def __post_init__(self) -> None:
        if not LOWEST_M < self.elevation_m < HIGHEST_M:
            raise InputError(
                f"{self.label} has the elevation {self.elevation_m:g} m, which no ground has.",
                'Check the number, and set unit under [survey] ("m", "ft" or "US survey foot").',
            )
        if self.accuracy_m is not None and not 0.0 < self.accuracy_m < 1000.0:
            raise InputError(
                f"{self.label} has the accuracy {self.accuracy_m:g} m.",
                "Give its standard error, above 0, or leave it out.",
            )
        if self.station_m is not None and not (
            math.isfinite(self.station_m) and math.isfinite(self.offset_m)
        ):
            raise InputError(
                f"{self.label} stands at station {self.station_m:g} m, offset {self.offset_m:g} m.",
                "Give finite numbers.",
            )
        if self.station_m is None and self.lon is not None and self.lat is not None:
            if not (abs(self.lon) <= 360.0 and abs(self.lat) <= 90.0):
                raise InputError(
                    f"{self.label} stands at ({self.lon:g}, {self.lat:g}), no longitude and "
                    "latitude.",
                    "Give longitude before latitude in degrees, or x and y with crs.",
                )
        elif self.station_m is None and self.end is None:
            raise InputError(
                f"{self.label} has no place.",
                "Give station (and offset), lon and lat, or x and y with a crs.",
            )

    @property
    def end(self) -> str | None:
        """Which end of the line the point is named after, if any."""
        called = (self.name or "").strip().casefold()
        return called if called in END_NAMES else None

    @property
    def error_m(self) -> float:
        """Standard error of the level, the usual one where none is stated [m]."""
        return DEFAULT_ACCURACY_M if self.accuracy_m is None else self.accuracy_m
