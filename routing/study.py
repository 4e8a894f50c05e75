"""A study: the whole chain, from a terrain, a drawn line and settings to a laid, checked pipe.

This page is the only place that knows the order of the work. Each step is a pure function of a
room; what a step finds doubtful is kept as a finding and never stops the study. ``routing.record``
makes the document ``study.json`` of a study, ``routing.outputs`` the folder of papers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from routing.check import Check, failed_findings
from routing.commissioning_study import WorksSide, find_valves, with_valves, works_side
from routing.doubt_study import DoubtSide, built_doubt_side, doubt_side, rough_doubt_side
from routing.finding import Finding, by_cause
from routing.fitting_study import NO_FITTINGS, FittingSide, fitting_side
from routing.flow.design import DesignFlow
from routing.flow.levels import judge_levels
from routing.flow.surge import surge_assumptions
from routing.flow_study import flow_findings, flow_of
from routing.inputs import (
    assumed_pipe_finding,
    find_levels,
    find_limits,
    find_line,
    find_pipes,
    find_spans,
    line_findings,
    stations_named,
)
from routing.laid_line import LaidLine
from routing.land import Crossing, find_crossings, judge_crossings
from routing.line import Extreme, GroundProfile, Route, find_extremes
from routing.pipe import (
    joint_assumptions,
    pipe_findings,
    schedule_pipes,
)
from routing.pressure_study import PressureSide, pressure_side
from routing.settings import Settings
from routing.stream_study import StreamFlow, stream_at_intake
from routing.strength_study import rest_checks
from routing.survey import PlacedSurvey, surveyed_profile
from routing.terrain import GridWindow, Terrain, open_terrain
from routing.trench import (
    Bench,
    BuiltLevels,
    GradeChoice,
    built_assumptions,
    built_pipe,
    grade_choices,
    judge_built,
    judge_trench,
    lay_pipe,
)
from routing.trench_study import bench_side, eased_line, laid_line, trench_diameter_m, with_ground
from routing.value import dataclass
from routing.works import IsolatingValve
from routing.yield_study import StreamYield, study_yield

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
    line: LaidLine
    bench: Bench | None
    """Benches on ground that slopes across the line; None while it is dragged."""
    crossings: tuple[Crossing, ...]
    """Where the line meets what the layers of the settings hold."""
    flow: DesignFlow | None
    pressures: PressureSide | None
    water: StreamFlow
    """The catchment of the intake and its flow, as far as the settings ask for them."""
    stream: StreamYield
    """The intake and the energy of a year, as far as the settings ask for them."""
    choices: tuple[GradeChoice, ...]
    """What other prices of a break of grade would give; empty for a line being dragged."""
    fittings: FittingSide
    doubt: DoubtSide
    built: BuiltLevels | None
    """The levels as built that the pipe lies at; None for a plan."""
    valves: tuple[IsolatingValve, ...]
    """Isolating valves, asked for and proposed; those between test sections stand in ``works``."""
    works: WorksSide | None
    """How the line is filled, tested and emptied; None without a pipe or while it is dragged."""
    assumptions: tuple[str, ...]
    checks: tuple[Check, ...]
    """What the rooms held against their requirements; the tightest first."""
    findings: tuple[Finding, ...]
    """One for each cause; faults first."""


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
    fitted: bool = True,
    built: BuiltLevels | None = None,
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
        False leaves out surge, class, vacuum, thrust, spans and the choices of grades, and lays
        the pipe with fewer levels tried, for a line being dragged
    fitted : bool
        False leaves out vents, drains, offers to dig and what hangs on them too, for the first look
        at such a line
    built : BuiltLevels, optional
        Levels as built: the pipe then lies at them and is not laid anew

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
    drawn = find_line(route, settings.study)
    profile, survey = surveyed_profile(
        terrain,
        drawn,
        settings.survey.points,
        fade_m=settings.survey.fade,
        vertical_datum=settings.survey.vertical_datum,
        at_m=[
            *stations_named(settings),
            *(() if built is None else built.stations_m),
        ],
        bridge_m=settings.terrain.bridge,
        window=window,
    )
    water = stream_at_intake(
        settings, terrain, float(profile.lon[0]), float(profile.lat[0]), wait=pressures
    )
    settings = with_ground(water.settings, profile)
    highs, lows = find_extremes(profile.station_m, profile.ground_m)
    schedule = schedule_pipes(entries, float(profile.station_m[-1])) if entries else None
    limits, assumed = find_limits(settings.trench, trench_diameter_m(schedule), schedule)
    if built is not None:
        pipe = built_pipe(built, profile.station_m, profile.ground_m, limits, spans)
    else:
        pipe = lay_pipe(
            profile.station_m,
            profile.ground_m,
            limits,
            spans,
            dragging=not pressures,
            offers=fitted,
        )
    levels, level_notes = find_levels(settings, pipe, survey)
    line = laid_line(settings, profile, pipe, schedule, levels)
    if pressures and built is None:
        line = eased_line(settings, profile, line)
        pipe = line.pipe
    choices = grade_choices(pipe) if pressures and built is None else ()
    crossings = find_crossings(profile, [each.layer for each in settings.layer])
    valves = find_valves(settings, line, crossings)
    # From here on what is proposed in the line counts as what was asked for.
    settings = with_valves(settings, valves)
    if built is not None:
        doubt = built_doubt_side(settings, terrain, profile, line)
    elif pressures:
        doubt = doubt_side(settings, terrain, profile, survey, line)
    else:
        doubt = rough_doubt_side(settings, terrain, profile, line)
    line = replace(line, exceeded_m=doubt.exceeded_m)
    flow = flow_of(settings, line)
    side = pressure_side(settings, line, flow) if pressures and schedule is not None else None
    stream = study_yield(settings, line, water.curve)
    fittings = (
        fitting_side(settings, terrain, line, flow, side, doubt.chances) if fitted else NO_FITTINGS
    )
    level_checks = (*judge_trench(pipe), *judge_levels(line))
    if built is not None:
        level_checks = (*judge_built(built, pipe), *level_checks)
    at_rest = rest_checks(settings, line)
    bench, bench_checks = bench_side(settings, terrain, profile, pipe) if pressures else (None, ())
    land_checks = (*bench_checks, *judge_crossings(line, crossings))
    checks = (
        *level_checks,
        *land_checks,
        *at_rest,
        *(() if flow is None else flow.checks),
        *(() if side is None else side.checks),
        *water.checks,
        *stream.checks,
        *fittings.checks,
    )
    findings = (
        *terrain.findings,
        *line_findings(drawn, profile),
        *failed_findings(land_checks),
        *profile.findings,
        *_pipe_findings(line),
        *failed_findings(at_rest),
        *pipe.findings,
        *doubt.findings,
        *level_notes,
        *failed_findings(level_checks),
        *flow_findings(settings, flow),
        *(() if side is None else side.findings),
        *water.findings,
        *stream.findings,
        *failed_findings(fittings.checks),
        *fittings.findings,
    )
    return Study(
        name=settings.study.name or route.name,
        terrain=terrain,
        route=drawn,
        settings=settings,
        profile=profile,
        survey=survey,
        highs=highs,
        lows=lows,
        line=line,
        bench=bench,
        crossings=crossings,
        flow=flow,
        pressures=side,
        water=water,
        stream=stream,
        choices=choices,
        fittings=fittings,
        doubt=doubt,
        built=built,
        valves=valves,
        works=works_side(settings, line, flow, side, fittings, doubt, water),
        assumptions=(
            *assumed,
            *(() if built is None else built_assumptions(built)),
            *water.assumptions,
            *(joint_assumptions(schedule) if schedule else ()),
            *(() if side is None else surge_assumptions(side.surges)),
            *(() if side is None else side.strength.vacuum.assumed),
        ),
        checks=tuple(sorted(checks, key=lambda check: check.margin)),
        findings=by_cause(findings),
    )


def _pipe_findings(line: LaidLine) -> tuple[Finding, ...]:
    """Return what is wrong or doubtful about the pipes at rest."""
    if line.schedule is None:
        return (assumed_pipe_finding(),)
    return pipe_findings(line.schedule, line.water.temperature_c)
