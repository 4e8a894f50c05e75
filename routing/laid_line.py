"""A laid line as one value: pipe as laid, place, pipes, bends, levels and water.

Whatever a room asks of the line it asks of this value. What follows from it alone (bores, heads,
ratings) is worked out once and kept.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import field, replace
from functools import cached_property
from typing import Any, Self, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from routing.arrays import FloatArray, IntArray, frozen
from routing.errors import InputError, PipeError
from routing.heads import pressure_pa, static_heads
from routing.pipe import (
    Pipe,
    PipeSchedule,
    derated_rating_pa,
    load_catalogue,
    schedule_pipes,
)
from routing.trench import Bend, LaidPipe, TrenchLimits, indices_of, pipe_at_levels
from routing.value import dataclass
from routing.water import Water, water_at

__all__ = ["LaidLine", "Levels", "simple_line"]

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Water surface at the intake, centreline of the outlet, and what says so; elevations in m."""

    intake_m: float
    outlet_m: float
    intake_source: str = "as given"
    outlet_source: str = "as given"

    @property
    def gross_head_m(self) -> float:
        """Return the fall from the intake's water to the outlet [m]."""
        return self.intake_m - self.outlet_m


@dataclass(frozen=True, kw_only=True)
class LaidLine:
    """One line, laid: columns over stations (n,), columns over bends (b,), all read-only.

    ``schedule`` is None where no pipe was given; the bore is then taken as the outside diameter
    that the trench was made for. ``bend_k`` are the loss coefficients of the bends, ``entrance_k``
    that of the intake and its screen, ``local_k`` the user's own sum of all K along the line,
    which replaces bends and changes of bore; None takes those. ``exceeded_m`` is by how much the
    head at rest may be greater than computed, but for a small chance, (n,); None: nothing is known.
    """

    pipe: LaidPipe
    lon: FloatArray
    lat: FloatArray
    schedule: PipeSchedule | None
    bends: Sequence[Bend]
    bend_k: FloatArray
    levels: Levels
    water: Water
    entrance_k: float = 0.5
    local_k: float | None = None
    exceeded_m: FloatArray | None = None
    _kept: dict[Any, Any] = field(default_factory=dict, init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        count = self.pipe.station_m.size
        for name, shape in (("lon", count), ("lat", count), ("bend_k", len(self.bends))):
            values = frozen(getattr(self, name))
            if values.shape != (shape,):
                raise InputError(
                    f"{name} has shape {values.shape}, but the line asks for ({shape},).",
                    "Give one value for each station, and one coefficient for each bend.",
                )
            object.__setattr__(self, name, values)
        if self.exceeded_m is not None:
            object.__setattr__(self, "exceeded_m", frozen(self.exceeded_m))
        for k, what in (
            (self.entrance_k, "the intake"),
            (self.local_k or 0.0, "the line"),
            (float(np.min(self.bend_k, initial=0.0)), "a bend"),
        ):
            if not (np.isfinite(k) and k >= 0.0):
                raise InputError(
                    f"The loss coefficient of {what} is {k:g}.", "Give K of zero or more."
                )

    def once(self, make: Callable[[Self], T], *key: object) -> T:
        """Return ``make(self)``, worked out at the first question for this maker and key."""
        name = (make.__module__, make.__qualname__, *key)
        if name not in self._kept:
            self._kept[name] = make(self)
        found: T = self._kept[name]
        return found

    def with_pipes(self, schedule: PipeSchedule) -> Self:
        """Return the same line, as it lies, with other pipes in it."""
        return replace(self, schedule=schedule)

    @property
    def pipes(self) -> PipeSchedule:
        """Return the pipes along the line; PipeError where none was given."""
        if self.schedule is None:
            raise PipeError("No pipe was given.", "Give a [[pipe]] table.")
        return self.schedule

    @property
    def station_m(self) -> FloatArray:
        """Plan stations, (n,) strictly rising [m]."""
        return self.pipe.station_m

    @property
    def ground_m(self) -> FloatArray:
        """Elevation of the ground, (n,) [m]."""
        return self.pipe.ground_m

    @property
    def pipe_m(self) -> FloatArray:
        """Elevation of the pipe's centreline, (n,) [m]."""
        return self.pipe.pipe_m

    @property
    def slope_station_m(self) -> FloatArray:
        """Length along the pipe from the intake, (n,) [m]."""
        return self.pipe.slope_station_m

    @property
    def gross_head_m(self) -> float:
        """Fall from the intake's water to the outlet [m]."""
        return self.levels.gross_head_m

    @cached_property
    def lon_through(self) -> FloatArray:
        """Longitudes without the jump where the line goes over 180 degrees, (n,) [deg]."""
        return frozen(np.unwrap(self.lon, period=360.0))

    def lonlat(self, station_m: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return where stations lie, between two of the line's own too, WGS 84 [deg]."""
        lon = np.interp(np.asarray(station_m, np.float64), self.station_m, self.lon_through)
        lat = np.interp(np.asarray(station_m, np.float64), self.station_m, self.lat)
        return np.where(np.abs(lon) > 180.0, (lon + 180.0) % 360.0 - 180.0, lon), lat

    @cached_property
    def run_index(self) -> IntArray:
        """Number of the run of pipe that begins or goes on at each station, (n,)."""
        return self.pipes.run_index(self.station_m)

    @cached_property
    def inside_diameter_m(self) -> FloatArray:
        """Bore of the pipe from each station to the next, (n,) [m]."""
        return self._diameter("inside_diameter_m")

    @cached_property
    def outside_diameter_m(self) -> FloatArray:
        """Outside diameter of the pipe from each station to the next, (n,) [m]."""
        return self._diameter("outside_diameter_m")

    def _diameter(self, name: str) -> FloatArray:
        if self.schedule is None:
            return frozen(np.full(self.station_m.size, self.pipe.outside_diameter_m))
        return frozen(self.schedule.per_station(self.station_m, name))

    @cached_property
    def crown_m(self) -> FloatArray:
        """Elevation of the top of the bore, (n,) [m]."""
        return frozen(self.pipe_m + self.inside_diameter_m / 2.0)

    @cached_property
    def cover_m(self) -> FloatArray:
        """Ground to the top of the pipe, (n,), negative above ground [m]."""
        return frozen(self.ground_m - self.pipe_m - self.outside_diameter_m / 2.0)

    @cached_property
    def static_head_m(self) -> FloatArray:
        """Head at rest above the centreline, (n,) [m]."""
        return static_heads(self.levels.intake_m, self.pipe_m)

    @cached_property
    def static_pressure_pa(self) -> FloatArray:
        """Pressure at rest, (n,) gauge [Pa]."""
        return frozen(pressure_pa(self.static_head_m, self.water))

    @cached_property
    def rating_pa(self) -> FloatArray:
        """Rating at the water's temperature, (n,), NaN where there is none [Pa]."""
        if self.schedule is None:
            return frozen(np.full(self.station_m.size, np.nan))
        warm = self.water.temperature_c
        ratings = [derated_rating_pa(run.pipe, warm) for run in self.schedule.runs]
        by_run = np.array([np.nan if value is None else value for value in ratings])
        return frozen(by_run[self.run_index])

    @cached_property
    def bend_index(self) -> IntArray:
        """Stations at which the pipe bends, (b,) indices."""
        return indices_of(self.bends)


def simple_line(
    station_m: FloatArray | Sequence[float],
    pipe_m: FloatArray | Sequence[float],
    pipes: str | Pipe | Sequence[tuple[float, Pipe]],
    *,
    intake_m: float,
    outlet_m: float | None = None,
    **more: Any,
) -> LaidLine:
    """Return a line of known levels, a metre under even ground, for examples and comparisons.

    Parameters
    ----------
    station_m, pipe_m : FloatArray or sequence of float
        Stations and elevations of the centreline, (n,) [m]
    pipes : str, Pipe or sequence of (float, Pipe)
        One pipe, also by its id in the catalogue, or each with the station from which it lies [m]
    intake_m, outlet_m : float
        Water at the intake; outlet, by default the end of the pipe [m]
    more : Any
        Any other field of the line: ``water`` (10 degC unless given), ``bends``, ``bend_k``,
        ``entrance_k``, ``local_k``, ``lon``, ``lat`` [-]

    Examples
    --------
    >>> line = simple_line([0.0, 400.0, 800.0], [410.0, 380.0, 350.0], "PE100-SDR17-200",
    ...                    intake_m=411.0)
    >>> line.gross_head_m, line.static_head_m
    (61.0, array([ 1., 31., 61.]))
    """
    station = np.asarray(station_m, dtype=np.float64)
    if isinstance(pipes, str):
        pipes = load_catalogue().find(pipes)
    entries = [(0.0, pipes)] if isinstance(pipes, Pipe) else list(pipes)
    outside = max(pipe.outside_diameter_m for _, pipe in entries)
    limits = TrenchLimits(outside_diameter_m=outside, cover_m=1.0, max_depth_m=outside + 1.1)
    level = np.asarray(pipe_m, dtype=np.float64)
    laid = pipe_at_levels(station, level + 1.0 + outside / 2.0, level, limits)
    return LaidLine(
        pipe=laid,
        schedule=schedule_pipes(entries, float(station[-1])),
        levels=Levels(
            intake_m=intake_m, outlet_m=float(level[-1]) if outlet_m is None else outlet_m
        ),
        **{
            "lon": np.zeros(station.size),
            "lat": np.zeros(station.size),
            "bends": (),
            "bend_k": np.zeros(len(more.get("bends", ()))),
            "water": water_at(10.0),
            **more,
        },
    )
