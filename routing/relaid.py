"""A study's line laid again in the same ground, as the settings ask for other pipes in it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from routing.inputs import PIPE_AS_LAID, find_limits
from routing.laid_line import LaidLine
from routing.pipe import PipeSchedule
from routing.settings import Settings
from routing.trench import LaidPipe, TrenchLimits, lay_pipe, vertex_turns_rad
from routing.trench_study import laid_between, trench_diameter_m

__all__ = ["relaid"]

LEAST_TURN_RAD = 1e-5
"""Smaller changes of bearing between stations are the rounding of a straight leg [rad]."""


def relaid(settings: Settings, line: LaidLine, schedule: PipeSchedule) -> LaidLine:
    """Return a line with other pipes, laid again where they ask for another trench.

    A smaller pipe under the same cover has its centreline higher, a larger one may not fit the
    depth allowed: what a study with these pipes judges is the line that they get.
    """
    limits, _ = find_limits(settings.trench, trench_diameter_m(schedule), schedule)
    if limits == line.pipe.limits:
        return line.with_pipes(schedule)
    pipe = line.once(lambda own: _laid_pipe(own, limits), limits)
    corners = np.flatnonzero(np.abs(turns := vertex_turns_rad(line.lon, line.lat)) > LEAST_TURN_RAD)
    levels = line.levels
    if levels.outlet_source == PIPE_AS_LAID:
        levels = replace(levels, outlet_m=float(pipe.pipe_m[-1]))
    return replace(
        laid_between(
            settings, line, pipe, schedule, levels, line.station_m[corners + 1], turns[corners]
        ),
        exceeded_m=line.exceeded_m,
    )


def _laid_pipe(line: LaidLine, limits: TrenchLimits) -> LaidPipe:
    return lay_pipe(line.station_m, line.ground_m, limits, line.pipe.spans, offers=False)
