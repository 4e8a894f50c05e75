"""Corners of the grades moved up or down, where nothing else speaks against it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.trench.corridor import TrenchLimits, build_corridor
from routing.trench.excavation import excavate
from routing.trench.laid import LaidPipe, below_grades
from routing.trench.pieces import SLACK

__all__ = ["corners_moved"]

SHARES = (1.0, 0.5)
"""What of a move is tried [-]."""


def corners_moved(pipe: LaidPipe, move_m: Mapping[int, float]) -> LaidPipe:
    """Return the pipe with breaks of grade moved up or down, each where it may be.

    Parameters
    ----------
    pipe : LaidPipe
        The pipe as laid
    move_m : mapping of int to float
        How far to move breaks, or half as far, by station index, up positive [m]

    Returns
    -------
    LaidPipe
        A break moves if every straight that this changes stays between cover and depth, goes on
        falling or rising and stays as steep as the least grade, or as it was; a straight that would
        become too flat takes the break at its other end along. The pipe itself if none moves

    Examples
    --------
    >>> from routing.trench import TrenchLimits, lay_pipe
    >>> limits = TrenchLimits(outside_diameter_m=0.2, cover_m=0.8, max_depth_m=1.3)
    >>> station = np.array([0.0, 50.0, 100.0])
    >>> pipe = lay_pipe(station, np.array([50.0, 30.0, 29.0]), limits)
    >>> corners_moved(pipe, {1: -0.05}).pipe_m.round(2).tolist()
    [49.1, 29.05, 28.1]
    """
    limits, station = pipe.limits, pipe.station_m
    corridor = build_corridor(station, pipe.ground_m, limits, pipe.spans)
    low, high = corridor.lowest_m - SLACK, corridor.highest_m + SLACK
    breaks, level = pipe.breaks, pipe.pipe_m
    moved = False
    for at in range(1, breaks.size - 1):
        own = move_m.get(int(breaks[at]), 0.0)
        for share in SHARES if own else ():
            knots = _pushed(station[breaks], level[breaks], at, share * own, limits)
            tried = np.interp(station, station[breaks], knots)
            ends_stay = knots[0] == level[0] and knots[-1] == level[-1]
            stays = np.abs(tried - level) <= SLACK
            if ends_stay and np.all(stays | ((tried >= low) & (tried <= high))):
                level, moved = tried, True
                break
    if not moved:
        return pipe
    return replace(
        pipe,
        pipe_m=frozen(level),
        excavation=excavate(
            station, pipe.ground_m, level, pipe.in_span,
            outside_diameter_m=limits.outside_diameter_m, bedding_m=limits.bedding_m,
        ),
        below_grade=below_grades(station, level, limits) if pipe.below_grade else (),
    )  # fmt: skip


def _pushed(
    station_m: FloatArray, level_m: FloatArray, at: int, own_m: float, limits: TrenchLimits
) -> FloatArray:
    """Return the levels of the breaks with one moved, and those that it takes along."""
    run, rise = np.diff(station_m), np.diff(level_m)
    least = np.where(rise > 0.0, limits.min_grade, limits.min_grade_falling) * run
    keep = np.sign(rise) * np.minimum(least, np.abs(rise))
    found = level_m.copy()
    found[at] += own_m
    for step in (1, -1):
        k = at
        while 0 <= k + step < found.size:
            piece = min(k, k + step)
            if (found[piece + 1] - found[piece]) * np.sign(rise[piece]) >= abs(keep[piece]):
                break
            found[k + step] = found[k] + step * keep[piece]
            k += step
    return found
