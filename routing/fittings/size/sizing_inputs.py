"""What the sizing of vents and drains needs to know beyond where they stand."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.errors import InputError
from routing.fittings.frost.cold_line import FrostData
from routing.fittings.place.drains import Drain
from routing.fittings.place.inputs import FittingInputs
from routing.fittings.place.vent import Vent
from routing.fittings.sizing_data import sizing
from routing.need import need
from routing.pipe import PipeSchedule
from routing.strength import vent_vacuum_pa

__all__ = ["AllowedVacuum", "SizingInputs"]


class AllowedVacuum(NamedTuple):
    """The vacuum [Pa] that vents may let arise on a stretch, and what sets it."""

    vacuum_pa: float
    source: str
    known: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SizingInputs:
    """A line with its placed vents and drains, and what they must serve; SI units.

    ``schedule`` is None where no pipe was chosen. ``surge_highest_pa`` and ``test_pa`` are the
    highest pressure of a surge run and the test pressure at each station, (n,), gauge.
    ``flood_rise_m`` is the intake's flood level over its water level. ``vent_bore_m`` holds bores
    already fitted, by the vent's id; others are as sized here. ``winter_flow_m3_s`` is what runs
    in frost.
    """

    line: FittingInputs
    vents: tuple[Vent, ...]
    drains: tuple[Drain, ...]
    schedule: PipeSchedule | None
    flow_m3_s: float | None = None
    surge_highest_pa: FloatArray | None = None
    test_pa: FloatArray | None = None
    flood_rise_m: float = 0.0
    vents_may_freeze: bool = False
    frost: FrostData | None = None
    winter_flow_m3_s: float | None = None
    drain_hours: float | None = None
    drain_cd: float | None = None
    vent_bore_m: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    roughness_m: FloatArray = field(init=False)
    """Roughness of the aged pipe at each station, which makes times long [m]."""
    roughness_new_m: FloatArray = field(init=False)
    """Roughness of the new pipe at each station, which makes flows of water and air large [m]."""

    def __post_init__(self) -> None:
        put, station = object.__setattr__, self.line.station_m
        need("The rise of the flood", self.flood_rise_m, least=0.0)
        for name in ("flow_m3_s", "winter_flow_m3_s"):
            if getattr(self, name) is not None:
                need(f"The flow ({name})", getattr(self, name), least=0.0)
        if self.drain_hours is not None:
            need("The time to drain in hours", self.drain_hours, above=0.0)
        if self.drain_cd is not None:
            need("The discharge coefficient of a drain", self.drain_cd, above=0.0, most=1.0)
        for vent_id, bore in self.vent_bore_m.items():
            need(f"The fitted bore of {vent_id}", bore, above=0.0)
        for name in ("surge_highest_pa", "test_pa"):
            values = getattr(self, name)
            if values is None:
                continue
            if np.shape(values) != station.shape or not np.isfinite(values).all():
                raise InputError(
                    f"{name} has shape {np.shape(values)} or a missing value, but the line has "
                    f"{station.size} stations.",
                    "Give one finite pressure per station.",
                )
            put(self, name, frozen(values))
        for name in ("roughness_m", "roughness_new_m"):
            if self.schedule is None:
                # Without a pipe nothing but its size was assumed; taken as new plastic.
                values = np.full(station.size, sizing().assumed_roughness_m)
            else:
                values = self.schedule.per_station(station, name)
            put(self, name, frozen(values))

    @property
    def cd(self) -> float:
        """Discharge coefficient of a drain [-]."""
        return sizing().drain_cd if self.drain_cd is None else self.drain_cd

    @property
    def hours(self) -> float:
        """Time in which a stretch should be empty [h]."""
        return sizing().drain_hours if self.drain_hours is None else self.drain_hours

    def vacuum(self, from_m: float, to_m: float) -> AllowedVacuum:
        """Return the vacuum that the weakest pipe between two stations stands."""
        unknown = AllowedVacuum(
            sizing().unknown_pipe_vacuum_pa, "stiffness of the pipe not known", known=False
        )
        if self.schedule is None:
            return unknown
        allowed = []
        for run in self.schedule.runs:
            if run.to_m < from_m or run.from_m > to_m:
                continue
            alone = vent_vacuum_pa(run.pipe)
            allowed.append(
                unknown if alone is None else AllowedVacuum(alone, run.pipe.label, known=True)
            )
        return min(allowed, key=lambda each: each.vacuum_pa, default=unknown)

    def surge_head_m(self, station_m: float) -> float:
        """Return the highest level [m] to which a surge drives the water; minus infinity if none.

        The level is that of the water in an open pipe at the station.
        """
        if self.surge_highest_pa is None:
            return -math.inf
        line = self.line
        weight = line.water.weight_n_m3
        levels = line.pipe_m + self.surge_highest_pa / weight
        return float(np.interp(station_m, line.station_m, levels))
