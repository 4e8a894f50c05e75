"""How the settings ask the trench: the laid line with its bends, its corners eased, its benches."""

from __future__ import annotations

from dataclasses import replace

from routing.anchors import arc_moves_m
from routing.arrays import FloatArray
from routing.check import Check
from routing.flow import bend_loss_k
from routing.inputs import ASSUMED_DIAMETER_M
from routing.laid_line import LaidLine, Levels
from routing.land import ground_stretches
from routing.line import LEAST_REACH_M, GroundProfile, side_slope
from routing.pipe import PipeSchedule
from routing.settings import GroundSettings, Settings
from routing.terrain import Terrain
from routing.trench import (
    Bench,
    LaidPipe,
    corners_moved,
    find_bends,
    ground_slope,
    judge_bench,
    judge_steep_ground,
    lay_bench,
    vertex_turns_rad,
)
from routing.water import water_at

__all__ = [
    "bench_side",
    "eased_line",
    "laid_between",
    "laid_line",
    "trench_diameter_m",
    "with_ground",
]

EASINGS = 3
"""How often corners are moved for their arcs [-]: the second time by a tenth of the first."""


def trench_diameter_m(schedule: PipeSchedule | None) -> float:
    """Return the greatest outside diameter along the line, which the trench is made for [m]."""
    if schedule is None:
        return ASSUMED_DIAMETER_M
    return max(run.pipe.outside_diameter_m for run in schedule.runs)


def laid_line(
    settings: Settings,
    profile: GroundProfile,
    pipe: LaidPipe,
    schedule: PipeSchedule | None,
    levels: Levels,
) -> LaidLine:
    """Return the pipe as laid with its place, its bends and the water in it."""
    turns = vertex_turns_rad(profile.vertex_lon, profile.vertex_lat)
    corners = profile.vertex_station_m[1:-1]
    return laid_between(settings, profile, pipe, schedule, levels, corners, turns)


def laid_between(
    settings: Settings,
    place: GroundProfile | LaidLine,
    pipe: LaidPipe,
    schedule: PipeSchedule | None,
    levels: Levels,
    corner_m: FloatArray,
    turn_rad: FloatArray,
) -> LaidLine:
    """Return the same, with the stations of the line's corners in plan and the turns there.

    ``place`` has the longitudes and latitudes of the stations.
    """
    bends = find_bends(pipe.station_m, pipe.pipe_m, pipe.breaks, corner_m, turn_rad)
    return LaidLine(
        pipe=pipe,
        lon=place.lon,
        lat=place.lat,
        schedule=schedule,
        bends=bends,
        bend_k=bend_loss_k(bends.deflection_deg),
        levels=levels,
        water=water_at(settings.flow.temperature),
        entrance_k=settings.intake.loss,
        local_k=settings.flow.local_loss,
    )


def eased_line(settings: Settings, profile: GroundProfile, line: LaidLine) -> LaidLine:
    """Return the line with corners moved so that the arcs there keep to the trench.

    A moved corner turns a little more, so that its arc is judged anew.
    """
    for _ in range(EASINGS):
        pipe = corners_moved(line.pipe, arc_moves_m(line))
        if pipe is line.pipe:
            break
        line = laid_line(settings, profile, pipe, line.schedule, line.levels)
    return line


def bench_side(
    settings: Settings, terrain: Terrain, profile: GroundProfile, pipe: LaidPipe
) -> tuple[Bench, tuple[Check, ...]]:
    """Return the benches that ground sloping across the line asks for, and what fails there."""
    trench, station = settings.trench, pipe.station_m
    across = side_slope(terrain, profile)
    bench = lay_bench(
        station,
        across,
        pipe.in_span,
        width_m=trench.bench_width,
        from_slope=trench.bench_from,
        face=trench.bench_face,
    )
    checks = tuple(judge_bench(bench, station, trench.bench_from, trench.bench_face))
    if trench.steepest_ground is None:
        return bench, checks
    slope = ground_slope(station, pipe.ground_m, across, max(terrain.cell_m, LEAST_REACH_M))
    return bench, (*checks, *judge_steep_ground(pipe, slope, trench.steepest_ground))


def with_ground(settings: Settings, profile: GroundProfile) -> Settings:
    """Return settings with the classes of ground that layers hold along the line.

    A stretch that the settings name by its stations comes first.
    """
    found = ground_stretches(profile, [each.layer for each in settings.layer])
    if not found:
        return settings
    stretches = (GroundSettings(from_=low, to=high, kind=kind) for low, high, kind in found)
    trench = replace(settings.trench, ground=(*settings.trench.ground, *stretches))
    return replace(settings, trench=trench)
