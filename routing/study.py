"""A study: the whole chain, from a terrain, a drawn line and settings to a laid, checked pipe.

This page is the only place that knows the order of the work. Each step is a pure function of a
room; what a step finds doubtful is kept as a finding and never stops the study. ``routing.record``
makes the document ``study.json`` of a study, ``routing.outputs`` the folder of papers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.finding import Finding
from routing.fittings import (
    AirPocket,
    Drain,
    SizedFittings,
    Vent,
    fitting_findings,
    place_drains,
    place_vents,
    trapped_air,
)
from routing.flow import (
    Water,
    bend_loss_k,
    pressure_pa,
    static_heads,
    water_at,
)
from routing.flow.design import DesignFlow, design_flow
from routing.flow.levels import level_findings
from routing.inputs import (
    ASSUMED_DIAMETER_M,
    Levels,
    assumed_pipe_finding,
    find_levels,
    find_limits,
    find_line,
    find_pipes,
    find_spans,
    flow_without_pipe_finding,
    line_findings,
    survey_level_findings,
)
from routing.judge.fitting_side import fitting_inputs, fitting_sizes
from routing.judge.pressure_side import PressureSide, pressure_side
from routing.judge.yield_side import YieldSide, yield_side
from routing.line import Extreme, GroundProfile, Route, find_extremes
from routing.pipe import (
    PipeSchedule,
    derated_rating_pa,
    over_rating_findings,
    pipe_findings,
    schedule_pipes,
)
from routing.settings import Settings
from routing.survey import PlacedSurvey, surveyed_profile
from routing.terrain import GridWindow, Terrain, open_terrain
from routing.trench import Bend, LaidPipe, find_bends, lay_pipe, vertex_turns_rad

__all__ = ["Study", "open_study_terrain", "run_study"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """Everything a study found, each part as its room made it."""

    name: str
    terrain: Terrain
    route: Route
    settings: Settings
    profile: GroundProfile
    survey: PlacedSurvey | None
    highs: tuple[Extreme, ...]
    lows: tuple[Extreme, ...]
    pipe: LaidPipe
    bends: tuple[Bend, ...]
    schedule: PipeSchedule | None
    levels: Levels
    water: Water
    static_head_m: FloatArray
    static_pressure_pa: FloatArray
    rating_pa: FloatArray
    """Rating at the water's temperature at each station, NaN where there is none [Pa]."""
    flow: DesignFlow | None
    pressures: PressureSide | None
    stream: YieldSide
    """The intake and the energy of a year, as far as the settings ask for them."""
    vents: tuple[Vent, ...]
    drains: tuple[Drain, ...]
    air: tuple[AirPocket, ...]
    sized: SizedFittings | None
    """Sizes of vents and drains; None without a pipe."""
    assumptions: tuple[str, ...]
    findings: tuple[Finding, ...]

    @property
    def gross_head_m(self) -> float:
        """Intake level less outlet level [m]."""
        return self.levels.intake_m - self.levels.outlet_m


def open_study_terrain(paths: Sequence[Path], settings: Settings | None = None) -> Terrain:
    """Open a terrain as the study's settings want it: unit, CRS, band, error, datum, kind."""
    wanted = (settings or Settings()).terrain
    return open_terrain(
        paths,
        unit=wanted.unit,
        crs=wanted.crs,
        band=wanted.band,
        rmse_m=wanted.rmse,
        vertical_datum=wanted.vertical_datum,
        source=wanted.source,
    )


def run_study(
    terrain: Terrain,
    route: Route,
    settings: Settings | None = None,
    *,
    window: GridWindow | None = None,
    pressures: bool = True,
) -> Study:
    """Run the whole chain for one line.

    Parameters
    ----------
    terrain : Terrain
        The elevation raster or tiles
    route : Route
        The drawn line, intake first
    settings : Settings, optional
        What the user stated; all of it has defaults
    window : GridWindow, optional
        The part of the terrain around the line, when it is already in memory
    pressures : bool
        False leaves out surge, class, vacuum, thrust and spans, for a line being dragged

    Returns
    -------
    Study
        The result; a bad line is still a study, with findings of severity "fault"

    Raises
    ------
    LeatlineError
        Where an input cannot be used at all; the message names it and the remedy
    """
    settings = settings or Settings()
    entries, spans = find_pipes(settings), find_spans(settings.trench)
    line = find_line(route, settings.study)
    profile, survey = surveyed_profile(
        terrain,
        line,
        settings.survey,
        at_m=[
            *(start for start, _ in entries if start > 0.0),
            *(end for span in spans for end in (span.from_m, span.to_m)),
        ],
        bridge_m=settings.terrain.bridge,
        window=window,
    )
    highs, lows = find_extremes(profile.station_m, profile.ground_m)
    schedule = schedule_pipes(entries, float(profile.station_m[-1])) if entries else None
    limits, assumed = find_limits(settings.trench, _diameter_m(schedule))
    pipe = lay_pipe(profile.station_m, profile.ground_m, limits, spans)
    turns = vertex_turns_rad(profile.vertex_lon, profile.vertex_lat)
    bends = find_bends(pipe.station_m, pipe.pipe_m, profile.vertex_station_m[1:-1], turns)
    levels, level_notes = _levels(settings, pipe, survey)
    water = water_at(settings.flow.temperature)
    static = static_heads(levels.intake_m, pipe.pipe_m)
    pressure = pressure_pa(static, water)
    rating, pipe_notes = _ratings(schedule, pipe, pressure, water)
    flow, flow_notes = _flow(settings, pipe, bends, schedule, levels, water)
    side = (
        _pressures(settings, pipe, profile, bends, schedule, levels, water, pressure, flow)
        if pressures
        else None
    )
    stream = yield_side(
        settings=settings,
        pipe=pipe,
        bends=bends,
        bend_k=_bend_k(bends),
        schedule=schedule,
        levels=levels,
        water=water,
    )
    inputs = fitting_inputs(
        settings, terrain, profile, pipe, schedule, levels, water, static, rating, flow
    )
    vents, drains = place_vents(inputs), place_drains(inputs)
    air = trapped_air(inputs, vents)
    sized = fitting_sizes(settings, inputs, vents, drains, schedule, flow, side)
    findings = (
        *terrain.findings,
        *line_findings(line, profile),
        *profile.findings,
        *pipe_notes,
        *pipe.findings,
        *level_notes,
        *flow_notes,
        *(() if side is None else side.findings),
        *stream.findings,
        *fitting_findings(inputs, vents, drains, air),
        *(() if sized is None else sized.findings),
    )
    return Study(
        name=settings.study.name or route.name,
        terrain=terrain,
        route=line,
        settings=settings,
        profile=profile,
        survey=survey,
        highs=highs,
        lows=lows,
        pipe=pipe,
        bends=bends,
        schedule=schedule,
        levels=levels,
        water=water,
        static_head_m=static,
        static_pressure_pa=frozen(pressure),
        rating_pa=frozen(rating),
        flow=flow,
        pressures=side,
        stream=stream,
        vents=vents,
        drains=drains,
        air=air,
        sized=sized,
        assumptions=assumed,
        findings=findings,
    )


def _diameter_m(schedule: PipeSchedule | None) -> float:
    """Return the greatest outside diameter along the line, which the trench is made for [m]."""
    if schedule is None:
        return ASSUMED_DIAMETER_M
    return max(run.pipe.outside_diameter_m for run in schedule.runs)


def _levels(
    settings: Settings, pipe: LaidPipe, survey: PlacedSurvey | None
) -> tuple[Levels, tuple[Finding, ...]]:
    """Return the levels at both ends, and what is wrong or doubtful about them."""
    shot = [None if survey is None else survey.level_m(end) for end in ("intake", "outlet")]
    levels = find_levels(
        settings,
        float(pipe.ground_m[0]),
        float(pipe.ground_m[-1]),
        float(pipe.pipe_m[-1]),
        surveyed_intake_m=shot[0],
        surveyed_outlet_m=shot[1],
    )
    faults = level_findings(
        station_m=pipe.station_m,
        static_head_m=static_heads(levels.intake_m, pipe.pipe_m),
        outside_diameter_m=pipe.outside_diameter_m,
        intake_level_m=levels.intake_m,
        outlet_level_m=levels.outlet_m,
    )
    return levels, (*survey_level_findings(settings, *shot), *faults)


def _ratings(
    schedule: PipeSchedule | None, pipe: LaidPipe, static_pa: FloatArray, water: Water
) -> tuple[FloatArray, tuple[Finding, ...]]:
    """Return the rating at each station, NaN where there is none, and what is wrong with pipes."""
    if schedule is None:
        return np.full(pipe.station_m.size, np.nan), (assumed_pipe_finding(),)
    temperature = water.temperature_c
    ratings = [derated_rating_pa(run.pipe, temperature) for run in schedule.runs]
    by_run = np.array([math.nan if value is None else value for value in ratings])
    findings = (
        *pipe_findings(schedule, temperature),
        *over_rating_findings(schedule, pipe.station_m, static_pa, temperature),
    )
    return by_run[schedule.run_index(pipe.station_m)], findings


def _pressures(
    settings: Settings,
    pipe: LaidPipe,
    profile: GroundProfile,
    bends: tuple[Bend, ...],
    schedule: PipeSchedule | None,
    levels: Levels,
    water: Water,
    static_pa: FloatArray,
    flow: DesignFlow | None,
) -> PressureSide | None:
    """Return what the pressures ask of pipe, ground and structures; None without a pipe."""
    if schedule is None:
        return None
    return pressure_side(
        settings=settings,
        pipe=pipe,
        lon=profile.lon,
        lat=profile.lat,
        bends=bends,
        schedule=schedule,
        levels=levels,
        water=water,
        static_pa=static_pa,
        aged=None if flow is None else flow.aged,
        new=None if flow is None else flow.new,
        bend_k=_bend_k(bends),
    )


def _bend_k(bends: tuple[Bend, ...]) -> FloatArray:
    """Return the loss coefficient of each bend, (b,) [-]."""
    return bend_loss_k(np.array([bend.deflection_deg for bend in bends], dtype=np.float64))


def _flow(
    settings: Settings,
    pipe: LaidPipe,
    bends: tuple[Bend, ...],
    schedule: PipeSchedule | None,
    levels: Levels,
    water: Water,
) -> tuple[DesignFlow | None, tuple[Finding, ...]]:
    """Return what the design flow does, and what is unwise about it."""
    design = settings.flow.design
    if design is None:
        return None, ()
    if schedule is None:
        return None, (flow_without_pipe_finding(design),)
    result = design_flow(
        flow_m3_s=design,
        intake_level_m=levels.intake_m,
        outlet_level_m=levels.outlet_m,
        entrance_k=settings.intake.loss,
        local_k=settings.flow.local_loss,
        station_m=pipe.station_m,
        pipe_m=pipe.pipe_m,
        slope_station_m=pipe.slope_station_m,
        summits=pipe.summits,
        schedule=schedule,
        water=water,
        bend_index=np.array([bend.index for bend in bends], dtype=np.int64),
        bend_k=_bend_k(bends),
        efficiency=settings.turbine.efficiency,
        turbine_kind=settings.turbine.kind,
    )
    return result, result.findings
