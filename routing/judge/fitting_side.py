"""What vents and drains are placed by, and what they are sized for."""

from __future__ import annotations

from routing.fittings import (
    Drain,
    FittingInputs,
    FrostData,
    SizedFittings,
    SizingInputs,
    Vent,
    size_fittings,
)
from routing.flow.design import DesignFlow
from routing.judge.pressure_side import PressureSide
from routing.laid_line import LaidLine
from routing.pipe import PipeSchedule
from routing.settings import Settings
from routing.terrain import Terrain

__all__ = ["fitting_inputs", "fitting_sizes"]


def fitting_inputs(
    settings: Settings, terrain: Terrain, line: LaidLine, flow: DesignFlow | None
) -> FittingInputs:
    """Return what the placing of vents and drains needs."""
    return FittingInputs(
        station_m=line.station_m,
        lon=line.lon,
        lat=line.lat,
        ground_m=line.ground_m,
        pipe_m=line.pipe_m,
        in_span=line.pipe.in_span,
        summits=line.pipe.summits,
        sags=line.pipe.sags,
        slope_station_m=line.slope_station_m,
        static_head_m=line.static_head_m,
        flowing_head_m=None if flow is None else flow.aged.flowing_head_m,
        inside_diameter_m=line.inside_diameter_m,
        outside_diameter_m=line.outside_diameter_m,
        intake_level_m=line.levels.intake_m,
        outlet_level_m=line.levels.outlet_m,
        water=line.water,
        rmse_m=terrain.rmse_m,
        cell_m=terrain.cell_m,
        rating_pa=line.rating_pa,
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
    weight = inputs.water.weight_n_m3
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
