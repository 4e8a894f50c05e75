"""What the placing of vents and drains needs to know about a laid pipe."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray, frozen
from routing.errors import InputError
from routing.units import UnitSystem
from routing.water import Water

__all__ = ["FittingInputs", "Place"]

_COLUMNS = (
    "station_m",
    "lon",
    "lat",
    "ground_m",
    "pipe_m",
    "slope_station_m",
    "static_head_m",
    "inside_diameter_m",
    "outside_diameter_m",
)


class Place(NamedTuple):
    """The line's values at one station, in SI units; the depth is from ground to invert."""

    station_m: float
    lon: float
    lat: float
    ground_m: float
    pipe_m: float
    depth_m: float
    static_head_m: float
    flowing_head_m: float | None
    inside_diameter_m: float
    outside_diameter_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FittingInputs:
    """A laid pipe with its heads, station by station; everything in SI units.

    Arrays have one value per station, shape (n,), except ``summits`` and ``sags``: the indices of
    the interior high and low points of the pipe, rising, a level top given by its downstream end.
    A diameter at station i is that of the pipe from station i to the next. ``valves_m`` are the
    stations of valves in the line, ``units`` the units in which reasons are written.
    """

    station_m: FloatArray
    lon: FloatArray
    lat: FloatArray
    ground_m: FloatArray
    pipe_m: FloatArray
    in_span: BoolArray
    summits: IntArray
    sags: IntArray
    slope_station_m: FloatArray
    static_head_m: FloatArray
    flowing_head_m: FloatArray | None
    inside_diameter_m: FloatArray
    outside_diameter_m: FloatArray
    intake_level_m: float
    outlet_level_m: float
    water: Water
    rmse_m: float | None
    cell_m: float
    rating_pa: FloatArray | None = None
    valves_m: tuple[float, ...] = ()
    units: UnitSystem = "metric"

    def __post_init__(self) -> None:
        put = object.__setattr__
        for name in _COLUMNS:
            put(self, name, frozen(getattr(self, name)))
        put(self, "in_span", frozen(self.in_span, np.bool_))
        put(self, "summits", frozen(self.summits, np.int64))
        put(self, "sags", frozen(self.sags, np.int64))
        given = [
            name for name in ("flowing_head_m", "rating_pa") if getattr(self, name) is not None
        ]
        for name in given:
            put(self, name, frozen(getattr(self, name)))
        self._check_columns([*_COLUMNS, "in_span", *given])
        self._check_extremes()
        for valve in self.valves_m:
            if not self.station_m[0] <= valve <= self.station_m[-1]:
                raise InputError(
                    f"The valve at station {valve} m does not lie on the line, which runs from "
                    f"{self.station_m[0]:.1f} to {self.station_m[-1]:.1f} m.",
                    "Give its distance from the intake along the line.",
                    station_m=float(valve),
                )

    def _check_columns(self, names: list[str]) -> None:
        shape = self.station_m.shape
        if len(shape) != 1 or shape[0] < 2:
            raise InputError(
                f"The line has stations of shape {shape}.", "Give two or more, in one dimension."
            )
        for name in names:
            values = getattr(self, name)
            if values.shape != shape:
                raise InputError(
                    f"{name} has shape {values.shape}, but the line has {shape[0]} stations.",
                    "Give one value per station.",
                )
            if name not in ("rating_pa", "in_span") and not np.isfinite(values).all():
                place = float(self.station_m[int(np.argmin(np.isfinite(values)))])
                raise InputError(
                    f"{name} is not a finite number at station {place} m.",
                    "Give every station a value.",
                )
        for name in ("station_m", "slope_station_m"):
            if not (np.diff(getattr(self, name)) > 0.0).all():
                raise InputError(f"{name} does not rise strictly.", "Order the stations.")
        if not (self.inside_diameter_m > 0.0).all():
            raise InputError("inside_diameter_m is not above zero.", "Give the bore of the pipe.")

    def _check_extremes(self) -> None:
        last = self.station_m.size - 1
        for name in ("summits", "sags"):
            index = getattr(self, name)
            rising = bool((np.diff(index) > 0).all())
            if not rising or (index.size and not (0 < index[0] and index[-1] < last)):
                raise InputError(
                    f"{name} = {index.tolist()} are not rising indices of interior stations.",
                    f"Give whole numbers from 1 to {last - 1}, in order.",
                )

    def places(self, stations_m: Sequence[float]) -> list[Place]:
        """Return the line's values at any stations on it, interpolated between its own."""
        at = np.asarray(stations_m, dtype=np.float64)
        own = self.station_m
        run = np.clip(np.searchsorted(own, at, side="right") - 1, 0, own.size - 1)
        bore = self.inside_diameter_m[run]
        ground = np.interp(at, own, self.ground_m)
        pipe = np.interp(at, own, self.pipe_m)
        flowing: list[float | None] = [None] * at.size
        if self.flowing_head_m is not None:
            flowing = np.interp(at, own, self.flowing_head_m).tolist()
        columns = zip(
            at.tolist(),
            np.interp(at, own, self.lon).tolist(),
            np.interp(at, own, self.lat).tolist(),
            ground.tolist(),
            pipe.tolist(),
            (ground - pipe + 0.5 * bore).tolist(),
            np.interp(at, own, self.static_head_m).tolist(),
            flowing,
            bore.tolist(),
            self.outside_diameter_m[run].tolist(),
            strict=True,
        )
        return [Place(*row) for row in columns]

    @property
    def near_span(self) -> BoolArray:
        """Which stations lie above ground or next to one that does."""
        near = self.in_span.copy()
        near[1:] |= self.in_span[:-1]
        near[:-1] |= self.in_span[1:]
        return near

    def falls_at(self, station_m: float) -> bool:
        """Whether the pipe that arrives at a station falls, or lies level."""
        k = max(int(np.searchsorted(self.station_m, station_m, side="left")), 1)
        return bool(self.pipe_m[k] <= self.pipe_m[k - 1])

    @property
    def falls_to_end(self) -> bool:
        """Whether the last limb falls, so that the end of the line is a low point."""
        if self.summits.size or self.sags.size:
            return int(self.summits.max(initial=-1)) > int(self.sags.max(initial=-1))
        return bool(self.pipe_m[-1] <= self.pipe_m[0])

    @property
    def rises_from_intake(self) -> bool:
        """Whether the first limb rises, so that the intake end of the line is a low point."""
        last = self.station_m.size
        if self.summits.size or self.sags.size:
            return int(self.summits.min(initial=last)) < int(self.sags.min(initial=last))
        return bool(self.pipe_m[0] < self.pipe_m[-1])
