"""What the placing and the sizing of vents and drains need to know beyond the line itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from typing import NamedTuple

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.errors import InputError
from routing.fittings.frost.cold_line import FrostData
from routing.fittings.sizing_data import sizing
from routing.laid_line import LaidLine
from routing.need import need
from routing.units import UnitSystem
from routing.value import dataclass

__all__ = ["FittingInputs", "GivenRelief", "Loads", "Place", "places"]


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


class GivenRelief(NamedTuple):
    """A relief valve that was asked for; what was not said is None."""

    station_m: float | None = None
    bore_m: float | None = None
    setting_pa: float | None = None
    side: str | None = None
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Loads:
    """The pressures along a line that its fittings must bear, (n,), gauge [Pa].

    ``operating_pa`` is the highest of the flood at rest and of every closure that the line is made
    for, ``emergency_pa`` that of the outlet blocked at once, ``test_pa`` that of the pressure test,
    NaN where a fitting is closed off in it. None where it was not computed.
    """

    operating_pa: FloatArray | None = None
    emergency_pa: FloatArray | None = None
    test_pa: FloatArray | None = None

    def __post_init__(self) -> None:
        for name in ("operating_pa", "emergency_pa", "test_pa"):
            values = getattr(self, name)
            if values is None:
                continue
            if name != "test_pa" and not np.isfinite(values).all():
                raise InputError(f"{name} has a missing value.", "Give every station a pressure.")
            object.__setattr__(self, name, frozen(values))


@dataclass(frozen=True, slots=True, kw_only=True)
class FittingInputs:
    """What is asked of the fittings and known of the place, beyond the line; SI units.

    ``flow_m3_s`` and ``flowing_head_m`` (n,) are those of the design flow in aged pipe,
    ``chances`` tells how likely the summits and sags are, by their index,
    ``valves_m`` the stations of valves in the line, ``relief`` the relief valves
    asked for, ``rmse_m`` the stated error of the elevations
    and ``cell_m`` the raster's cell. ``loads`` stays empty until the pressures are known.
    ``flood_rise_m`` is the intake's flood level over its water level, ``drain_hours`` the time in
    which a stretch should be empty. ``units`` are those in which reasons are written.
    """

    flow_m3_s: float | None = None
    flowing_head_m: FloatArray | None = None
    valves_m: tuple[float, ...] = ()
    relief: tuple[GivenRelief, ...] = ()
    rmse_m: float | None = None
    cell_m: float = 1.0
    chances: Mapping[int, float] = field(default_factory=dict)
    loads: Loads = Loads()
    flood_rise_m: float = 0.0
    vents_may_freeze: bool = False
    frost: FrostData | None = None
    drain_hours: float | None = None
    units: UnitSystem = "metric"

    def __post_init__(self) -> None:
        need("The rise of the flood", self.flood_rise_m, least=0.0)
        if self.flow_m3_s is not None:
            need("The flow (flow_m3_s)", self.flow_m3_s, least=0.0)
        if self.drain_hours is not None:
            need("The time to drain in hours", self.drain_hours, above=0.0)
        if self.flowing_head_m is not None:
            object.__setattr__(self, "flowing_head_m", frozen(self.flowing_head_m))

    @property
    def hours(self) -> float:
        """Time in which a stretch should be empty [h]."""
        return sizing().drain_hours if self.drain_hours is None else self.drain_hours

    def check_against(self, line: LaidLine) -> None:
        """Raise InputError where a column, a valve or a relief valve does not fit the line."""
        columns = {"flowing_head_m": self.flowing_head_m} | {
            name: getattr(self.loads, name) for name in ("operating_pa", "emergency_pa", "test_pa")
        }
        for name, values in columns.items():
            if values is not None and values.shape != line.station_m.shape:
                raise InputError(
                    f"{name} has shape {values.shape}, but the line has {line.station_m.size} "
                    "stations.",
                    "Give one value per station.",
                )
        told = [("valve", at) for at in self.valves_m]
        told += [("relief valve", one.station_m) for one in self.relief if one.station_m]
        for what, at in told:
            if not line.station_m[0] <= at <= line.station_m[-1]:
                raise InputError(
                    f"The {what} at station {at} m does not lie on the line, which runs from "
                    f"{line.station_m[0]:.1f} to {line.station_m[-1]:.1f} m.",
                    "Give its distance from the intake along the line.",
                    station_m=float(at),
                )


def places(
    line: LaidLine, stations_m: Sequence[float], flowing_head_m: FloatArray | None = None
) -> list[Place]:
    """Return the line's values at any stations on it, interpolated between its own."""
    at = np.asarray(stations_m, dtype=np.float64)
    own = line.station_m
    run = np.clip(np.searchsorted(own, at, side="right") - 1, 0, own.size - 1)
    bore = line.inside_diameter_m[run]
    ground = np.interp(at, own, line.ground_m)
    pipe = np.interp(at, own, line.pipe_m)
    flowing: list[float | None] = [None] * at.size
    if flowing_head_m is not None:
        flowing = np.interp(at, own, flowing_head_m).tolist()
    columns = zip(
        at.tolist(),
        *(each.tolist() for each in line.lonlat(at)),
        ground.tolist(),
        pipe.tolist(),
        (ground - pipe + 0.5 * bore).tolist(),
        np.interp(at, own, line.static_head_m).tolist(),
        flowing,
        bore.tolist(),
        line.outside_diameter_m[run].tolist(),
        strict=True,
    )
    return [Place(*row) for row in columns]
