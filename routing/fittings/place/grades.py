"""Where the grade of the laid pipe changes so that air may gather: the rules V3, V4 and V5."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np

from routing.arrays import FloatArray, IntArray
from routing.fittings.simplify import simplified
from routing.fittings.trade_data import limits

__all__ = ["GradeChange", "grade_changes"]


_HAIR = 1e-9
"""Slack on the limits of grade, so that a change of exactly five points counts as five."""


class GradeChange(NamedTuple):
    """A place (station index) where the pipe turns downward, with its grades [-]."""

    at: int
    rule: Literal["V3", "V4", "V5"]
    need: Literal["must", "advise"]
    grade_before: float
    grade_after: float


def grade_changes(
    station_m: FloatArray, pipe_m: FloatArray, extremes: IntArray, tolerance_m: float
) -> tuple[GradeChange, ...]:
    """Return the places where the pipe turns downward without being a summit.

    Parameters
    ----------
    station_m : array, shape (n,)
        Stations, strictly rising [m]
    pipe_m : array, shape (n,)
        Elevation of the pipe [m]
    extremes : array of int
        Indices of the summits and sags of the pipe [-]
    tolerance_m : float
        How far the simplified pipe may depart from the laid one, > 0 [m]

    Returns
    -------
    changes : tuple of GradeChange
        In order of station

    Notes
    -----
    Judged on the simplified pipe, whose summits and sags are those of the laid pipe. V3: falling,
    then falling more steeply. V4: flat (0.3 % at most), then falling. V5: rising, then rising
    less or level. Each is advised from five points of grade and required from 10 degrees.

    Examples
    --------
    >>> import numpy as np
    >>> s = np.array([0.0, 100.0, 200.0])
    >>> change = grade_changes(s, np.array([50.0, 48.0, 36.0]), np.array([], int), 0.1)[0]
    >>> change.rule, change.need, round(change.grade_after, 3)
    ('V3', 'advise', -0.12)

    References
    ----------
    10 degrees: NRCS Conservation Practice Standard 430, from memory of it. The places: AWWA
    Manual M51, from memory of it. Five points of grade: common practice, no source.
    """
    numbers = limits()
    nodes = simplified(station_m, pipe_m, extremes, tolerance_m)
    grade = np.diff(pipe_m[nodes]) / np.diff(station_m[nodes])
    before, after = grade[:-1], grade[1:]
    turn_deg = np.degrees(np.arctan(before) - np.arctan(after))
    required = turn_deg >= numbers.steepening_must_deg - _HAIR
    wanted = required | (before - after >= numbers.steepening_advise - _HAIR)
    changes: list[GradeChange] = []
    for k in np.flatnonzero(wanted).tolist():
        first, second = float(before[k]), float(after[k])
        rule: Literal["V3", "V4", "V5"]
        if abs(first) <= numbers.flat_reach + _HAIR:
            rule = "V4"
        elif first < 0.0:
            rule = "V3"
        elif second >= -numbers.level_band:
            rule = "V5"
        else:
            continue
        need: Literal["must", "advise"] = "must" if required[k] else "advise"
        changes.append(GradeChange(int(nodes[k + 1]), rule, need, first, second))
    at_extreme = set(extremes.tolist())
    return tuple(change for change in changes if change.at not in at_extreme)
