"""Where the grade of the laid pipe changes so that air may gather, judged over what can be told."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np

from routing.arrays import FloatArray, IntArray
from routing.fittings.simplify import simplified
from routing.fittings.trade_data import limits

__all__ = ["GradeChange", "grade_changes"]

GradeRule = Literal["steepening", "flat reach ends", "flatter climb"]

_HAIR = 1e-9
"""Slack on the limits of grade, so that a change of exactly five points counts as five."""


class GradeChange(NamedTuple):
    """A place (station index) where the pipe turns downward, with its grades [-].

    ``to`` is the index of the station up to which the pipe goes on at the grade after it.
    """

    at: int
    rule: GradeRule
    required: bool
    grade_before: float
    grade_after: float
    to: int


def grade_changes(
    station_m: FloatArray,
    pipe_m: FloatArray,
    extremes: IntArray,
    *,
    tolerance_m: float,
    least_m: float,
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
    least_m : float
        Length before and after a place over which its grades are taken at the least, > 0 [m]

    Returns
    -------
    changes : tuple of GradeChange
        In order of station

    Notes
    -----
    Judged at the nodes of the simplified pipe, whose summits and sags are those of the laid pipe;
    a grade is the mean over the piece beside the node or over ``least_m``, whichever is longer, and
    never beyond a summit or sag. Steepening: falling, then falling more steeply. Flat reach ends:
    flat (0.3 % at most), then falling. Flatter climb: rising, then rising less or level. Each is
    advised from five points of grade and required from 10 degrees. Nodes that turn downward one
    after the other, with pieces of at most 50 m between, are one change: it stands where it
    begins, or at the first node that is required by itself.

    Examples
    --------
    >>> import numpy as np
    >>> s = np.array([0.0, 100.0, 200.0])
    >>> z = np.array([50.0, 48.0, 36.0])
    >>> change = grade_changes(s, z, np.array([], int), tolerance_m=0.1, least_m=6.0)[0]
    >>> change.rule, change.required, round(change.grade_after, 3)
    ('steepening', False, -0.12)

    References
    ----------
    10 degrees: NRCS Conservation Practice Standard 430, from memory of it. The places: AWWA
    Manual M51, from memory of it. Five points of grade and 50 m: common practice, no source.
    """
    numbers = limits()
    ends = np.unique(np.concatenate(([0], extremes, [station_m.size - 1]))).astype(np.int64)
    nodes = simplified(station_m, pipe_m, extremes, tolerance_m)
    inner = nodes[1:-1]
    if not inner.size:
        return ()
    at = station_m[inner]
    low = station_m[ends[np.searchsorted(ends, inner, side="left") - 1]]
    high = station_m[ends[np.searchsorted(ends, inner, side="right").clip(max=ends.size - 1)]]
    start = np.maximum(np.minimum(station_m[nodes[:-2]], at - least_m), low)
    end = np.minimum(np.maximum(station_m[nodes[2:]], at + least_m), high)
    before = (pipe_m[inner] - np.interp(start, station_m, pipe_m)) / (at - start)
    after = (np.interp(end, station_m, pipe_m) - pipe_m[inner]) / (end - at)
    turn_deg = np.degrees(np.arctan(before) - np.arctan(after))
    required = turn_deg >= numbers.steepening_must_deg - _HAIR
    downward = (turn_deg > 0.0) & ~np.isin(inner, ends)
    changes = []
    for group in _groups(downward, at, numbers.curve_piece_m):
        first, last = group[0], group[-1]
        own = [k for k in group if required[k]]
        if not own and before[first] - after[last] < numbers.steepening_advise - _HAIR:
            continue
        k = own[0] if own else first
        rule = _rule(float(before[first]), float(after[last]))
        if rule is None:
            continue
        to = int(np.searchsorted(station_m, end[last] - 1e-9))
        grades = float(before[first]), float(after[last])
        changes.append(GradeChange(int(inner[k]), rule, bool(own), *grades, to))
    return tuple(changes)


def _groups(downward: np.ndarray, at_m: FloatArray, piece_m: float) -> list[list[int]]:
    """Return the runs of nodes that turn downward one after the other, near each other."""
    groups: list[list[int]] = []
    for k in np.flatnonzero(downward).tolist():
        near = groups and groups[-1][-1] == k - 1 and at_m[k] - at_m[k - 1] <= piece_m
        if near:
            groups[-1].append(k)
        else:
            groups.append([k])
    return groups


def _rule(before: float, after: float) -> GradeRule | None:
    numbers = limits()
    if abs(before) <= numbers.flat_reach + _HAIR:
        return "flat reach ends"
    if before < 0.0:
        return "steepening"
    return "flatter climb" if after >= -numbers.level_band else None
