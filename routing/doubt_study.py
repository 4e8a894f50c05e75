"""How sure the laid pipe is, from what the raster and the levels on the ground can tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from pyproj import Geod

from routing.arrays import FloatArray
from routing.doubt import (
    Doubt,
    DoubtedLine,
    ElevationError,
    Levels,
    Question,
    bounded_error,
    doubt_of,
    exceeded_head_m,
    find_error,
    head_sd_m,
    head_sds_m,
    length_excess_m,
    limits,
    questions_settled,
    rough_probability,
    whole_units,
)
from routing.finding import Finding
from routing.fittings import summit_standing
from routing.laid_line import LaidLine
from routing.line import GroundProfile
from routing.settings import Settings
from routing.survey import PlacedSurvey
from routing.survey.blend import correction_at
from routing.terrain import Terrain
from routing.terrain.blocks import read_nodes
from routing.trench import DepthOffer, build_corridor, depth_offers, lay_pipe
from routing.value import dataclass

__all__ = ["DoubtSide", "built_doubt_side", "doubt_side", "rough_doubt_side"]

_GUESSED = ("ground", "centreline")
"""How the sources of levels begin that come from the raster."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtSide:
    """What is doubtful: the raster's error, chances of turns by station index, the head's error.

    ``exceeded_m`` is by how much the head at rest may be greater than computed, exceeded with the
    chance of :func:`~routing.doubt.limits`, (n,); None where no error is known. ``depths`` are
    what a deeper trench saves. ``doubt`` is None for a line being dragged, whose chances are
    ``rough``.
    """

    error: ElevationError
    chances: Mapping[int, float]
    gross_head_sd_m: float | None
    exceeded_m: FloatArray | None
    length_excess_m: float | None
    depths: tuple[DepthOffer, ...] = ()
    questions: tuple[Question, ...] = ()
    """What was doubtful before levels were taken, and what they say of it."""
    doubt: Doubt | None = None

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Return what the levels on the ground settled, as a note."""
        answers = [each.answer for each in self.questions]
        if not answers:
            return ()
        there, gone = answers.count(True), answers.count(False)
        left = len(answers) - there - gone
        message = (
            f"The levels on the ground settled {there + gone} of {len(answers)} doubtful summits "
            f"and sags: {there} there, {gone} not there, {left} still open."
        )
        return (Finding(code="levels_settled", severity="note", message=message),)

    @property
    def rough(self) -> bool:
        """Whether the chances look at two points each and at no ground between cells."""
        return self.doubt is None


def doubt_side(
    settings: Settings,
    terrain: Terrain,
    profile: GroundProfile,
    survey: PlacedSurvey | None,
    line: LaidLine,
) -> DoubtSide:
    """Return how sure a line is: grounds are drawn that the raster and the levels allow."""
    cells, bends = _cells(terrain, profile)
    step = terrain.metres_per_unit if whole_units(cells / terrain.metres_per_unit) else 0.0
    error = bounded_error(_told(settings, terrain, profile, step), bends, terrain.cell_m)
    raster = profile.ground_m
    if survey is not None and survey.knot_m.size:
        raster = raster - correction_at(
            profile.station_m, survey.knot_m, survey.correction_m, survey.fade_m
        )
    corridor = build_corridor(line.station_m, line.ground_m, line.pipe.limits, line.pipe.spans)
    doubted = DoubtedLine(
        station_m=line.station_m,
        raster_m=raster,
        floor_below_m=line.ground_m - corridor.lowest_m,
        ceiling_below_m=line.ground_m - corridor.highest_m,
        free=corridor.in_span,
        summit_m=line.station_m[line.pipe.summits],
        sag_m=line.station_m[line.pipe.sags],
        cell_m=terrain.cell_m,
        error=error,
        levels=_levels(survey, error),
    )
    found = doubt_of(doubted, line.ground_m)
    chances: dict[int, float] = {}
    for places, chance, settled in (
        (line.pipe.summits, found.chances.summit, found.chances.summit_settled),
        (line.pipe.sags, found.chances.sag, found.chances.sag_settled),
    ):
        for at, index in enumerate(places.tolist()):
            if chance is not None:
                chances[index] = float(chance[at])
            elif settled[at]:
                chances[index] = 1.0
    offers = depth_offers(line.pipe, found.depths, settings.prices.trench_per_m3)
    side = _side(error, chances, line, terrain.cell_m, survey)
    return replace(side, doubt=found, depths=offers, questions=_questions(doubted, line))


def _questions(doubted: DoubtedLine, line: LaidLine) -> tuple[Question, ...]:
    """Return what levels say of the pipe that would be laid without them."""
    if not doubted.levels.station_m.size:
        return ()
    station, pipe = line.station_m, line.pipe
    bare = lay_pipe(station, doubted.raster_m, pipe.limits, pipe.spans, dragging=True)
    return questions_settled(doubted, station[bare.summits], station[bare.sags])


def built_doubt_side(
    settings: Settings, terrain: Terrain, profile: GroundProfile, line: LaidLine
) -> DoubtSide:
    """Return how sure a line is that was levelled as built: its turns are there."""
    side = rough_doubt_side(settings, terrain, profile, line)
    turns = (*line.pipe.summits.tolist(), *line.pipe.sags.tolist())
    return replace(side, chances=dict.fromkeys(turns, 1.0))


def rough_doubt_side(
    settings: Settings, terrain: Terrain, profile: GroundProfile, line: LaidLine
) -> DoubtSide:
    """Return a first value for a line that is being dragged; no cell is read for it."""
    error = _told(settings, terrain, profile, 0.0)
    chances: dict[int, float] = {}
    for heights, places in ((line.pipe_m, line.pipe.summits), (-line.pipe_m, line.pipe.sags)):
        standings = summit_standing(line.station_m, heights, places)
        for index, standing in zip(places.tolist(), standings, strict=True):
            chance = rough_probability(standing.prominence_m, standing.distance_m, error)
            if chance is not None:
                chances[index] = chance
    return _side(error, chances, line, terrain.cell_m)


def _side(
    error: ElevationError,
    chances: Mapping[int, float],
    line: LaidLine,
    cell_m: float,
    survey: PlacedSurvey | None = None,
) -> DoubtSide:
    """Return how sure heads and length are, beside the chances."""
    length = float(line.station_m[-1])
    slope = abs(float(line.ground_m[0] - line.ground_m[-1])) / length
    return DoubtSide(
        error=error,
        chances=chances,
        gross_head_sd_m=_head_sd(error, line),
        exceeded_m=_exceeded(error, line, survey),
        length_excess_m=length_excess_m(error, cell_m, length, slope),
    )


def _told(
    settings: Settings, terrain: Terrain, profile: GroundProfile, step_m: float
) -> ElevationError:
    """Return the raster's error from what settings, file and kind tell of it."""
    slope = np.abs(np.diff(profile.ground_m) / np.diff(profile.station_m))
    weight = np.diff(profile.station_m)
    steep = float(weight[slope > limits().steep_from].sum()) > 0.5 * float(weight.sum())
    return find_error(
        rmse_m=terrain.rmse_m,
        range_m=settings.terrain.error_range,
        kind=None if terrain.kind is None else terrain.kind.id,
        kind_rmse_m=None if terrain.kind is None else terrain.kind.rmse_m,
        step_m=step_m,
        steep=steep,
    )


def _cells(terrain: Terrain, profile: GroundProfile) -> tuple[FloatArray, FloatArray]:
    """Return cells along the line and second differences there along rows and columns [m]."""
    count = max(round(float(profile.station_m[-1]) / terrain.cell_m), 2)
    at = np.linspace(0.0, float(profile.station_m[-1]), count)
    lon = np.interp(at, profile.station_m, np.unwrap(profile.lon, period=360.0))
    lat = np.interp(at, profile.station_m, profile.lat)
    row, col = terrain.reference.to_nodes(lon, lat)
    rows, cols = terrain.shape
    if min(rows, cols) < 3:
        return np.zeros(0), np.zeros((0, 2))
    r = np.clip(np.round(row).astype(np.int64), 1, rows - 2)
    c = np.clip(np.round(col).astype(np.int64), 1, cols - 2)
    spots = [(0, 0), (-1, 0), (1, 0), (0, -1), (0, 1)]
    nodes = read_nodes(
        terrain,
        np.concatenate([r + down for down, _ in spots]),
        np.concatenate([c + right for _, right in spots]),
    ).reshape(5, -1)
    middle = 2.0 * nodes[0]
    bends = np.stack([nodes[1] + nodes[2] - middle, nodes[3] + nodes[4] - middle], axis=1)
    return nodes.reshape(-1), bends


def _levels(survey: PlacedSurvey | None, error: ElevationError) -> Levels:
    """Return a survey's levels of the line; those beside it are as sure as the raster allows."""
    if survey is None or not survey.knot_m.size:
        return Levels()
    sds = []
    for knot in survey.knot_m.tolist():
        near = np.argmin(np.abs(survey.station_m - knot))
        sd = survey.points[int(near)].error_m
        aside = abs(float(survey.offset_m[near]))
        if survey.use[int(near)] != "on the line" and error.local_sigma_m and error.range_m:
            sd = float(
                np.hypot(sd, error.local_sigma_m * np.sqrt(-2.0 * np.expm1(-aside / error.range_m)))
            )
        sds.append(sd)
    order = np.argsort(survey.station_m, kind="stable")
    ground = np.interp(survey.knot_m, survey.station_m[order], survey.ground_m[order])
    return Levels(station_m=survey.knot_m, level_m=ground + survey.correction_m, sd_m=np.array(sds))


def _known(source: str) -> bool:
    return not source.startswith(_GUESSED)


def _exceeded(
    error: ElevationError, line: LaidLine, survey: PlacedSurvey | None
) -> FloatArray | None:
    """Return by how much the head at rest may be greater than computed, (n,) [m].

    A station is as sure as the raster from the nearest level, or from the intake if that is nearer
    and has no level of its own.
    """
    if error.local_sigma_m is None:
        return None
    station, known = line.station_m, _known(line.levels.intake_source)
    _, _, apart = Geod(ellps="WGS84").inv(
        np.full(station.size, line.lon[0]), np.full(station.size, line.lat[0]), line.lon, line.lat
    )
    sd = head_sds_m(error, apart, int(known))
    knots = np.zeros(0) if survey is None else np.sort(survey.knot_m)
    if knots.size:
        own = head_sds_m(error, _nearest_m(knots, station), 0)
        first = 0.0 if known else float(head_sds_m(error, _nearest_m(knots, station[:1]), 0)[0])
        sd = np.minimum(sd, np.hypot(own, first))
    return exceeded_head_m(1.0, limits().exceeded_chance) * sd


def _nearest_m(knots: FloatArray, station: FloatArray) -> FloatArray:
    after = np.clip(np.searchsorted(knots, station), 0, knots.size - 1)
    before = np.maximum(after - 1, 0)
    return np.minimum(np.abs(knots[after] - station), np.abs(knots[before] - station))


def _head_sd(error: ElevationError, line: LaidLine) -> float | None:
    """Return the standard error of the gross head [m]; levels that were given have none."""
    known = int(_known(line.levels.intake_source)) + int(_known(line.levels.outlet_source))
    _, _, apart = Geod(ellps="WGS84").inv(line.lon[0], line.lat[0], line.lon[-1], line.lat[-1])
    return head_sd_m(error, float(apart), known)
