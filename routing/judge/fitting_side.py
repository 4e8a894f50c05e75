"""What vents and drains are placed by, and what they are sized for."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray
from routing.fittings import (
    Drain,
    FittingInputs,
    FrostData,
    SizedFittings,
    SizingInputs,
    Vent,
    size_fittings,
)
from routing.flow import Water
from routing.flow.design import DesignFlow
from routing.inputs import Levels
from routing.judge.pressure_side import PressureSide
from routing.line import GroundProfile
from routing.pipe import PipeSchedule
from routing.settings import Settings
from routing.terrain import Terrain
from routing.trench import LaidPipe

__all__ = ["fitting_inputs", "fitting_sizes"]


def fitting_inputs(
    settings: Settings,
    terrain: Terrain,
    profile: GroundProfile,
    pipe: LaidPipe,
    schedule: PipeSchedule | None,
    levels: Levels,
    water: Water,
    static: FloatArray,
    rating: FloatArray,
    flow: DesignFlow | None,
) -> FittingInputs:
    """Return what the placing of vents and drains needs."""
    station = profile.station_m
    if schedule is None:
        # Without a pipe the assumed outside diameter also stands for the bore.
        outside = inside = np.full(station.size, pipe.outside_diameter_m)
    else:
        outside = schedule.per_station(station, "outside_diameter_m")
        inside = schedule.per_station(station, "inside_diameter_m")
    return FittingInputs(
        station_m=station,
        lon=profile.lon,
        lat=profile.lat,
        ground_m=profile.ground_m,
        pipe_m=pipe.pipe_m,
        in_span=pipe.in_span,
        summits=pipe.summits,
        sags=pipe.sags,
        slope_station_m=pipe.slope_station_m,
        static_head_m=static,
        flowing_head_m=None if flow is None else flow.aged.flowing_head_m,
        inside_diameter_m=inside,
        outside_diameter_m=outside,
        intake_level_m=levels.intake_m,
        outlet_level_m=levels.outlet_m,
        water=water,
        rmse_m=terrain.rmse_m,
        cell_m=terrain.cell_m,
        rating_pa=rating,
        units=settings.study.units,
    )


def fitting_sizes(
    settings: Settings,
    inputs: FittingInputs,
    vents: tuple[Vent, ...],
    drains: tuple[Drain, ...],
    schedule: PipeSchedule | None,
    flow: DesignFlow | None,
    side: PressureSide | None,
) -> SizedFittings | None:
    """Return the sizes of vents and drains; None without a pipe."""
    if schedule is None or side is None:
        return None
    rise = side.rise_m
    weight = inputs.water.density_kg_m3 * inputs.water.gravity_m_s2
    frost = settings.site.frost_depth
    return size_fittings(
        SizingInputs(
            line=inputs,
            vents=vents,
            drains=drains,
            schedule=schedule,
            flow_m3_s=None if flow is None else flow.aged.flow_m3_s,
            surge_highest_pa=None if rise is None else (inputs.static_head_m + rise) * weight,
            flood_rise_m=settings.site.flood_rise,
            vents_may_freeze=settings.site.vents_may_freeze,
            frost=None if frost is None else FrostData(depth_m=frost),
            drain_hours=settings.site.drain_hours,
        )
    )
