"""Corners moved up or down: never out of the corridor, no further turn, no flatter grade."""

from __future__ import annotations

import numpy as np
import pytest

from routing.trench import TrenchLimits, build_corridor, corners_moved, lay_pipe
from routing.trench.laid import turning_points


def hill(seed, n=80):
    rng = np.random.default_rng(seed)
    station = np.concatenate(([0.0], np.cumsum(rng.uniform(1.0, 6.0, n - 1))))
    return station, 300.0 - 0.08 * station + np.cumsum(rng.normal(0.0, 0.25, n))


def laid(station, ground, depth=1.6):
    limits = TrenchLimits(outside_diameter_m=0.2, cover_m=0.8, max_depth_m=depth)
    return lay_pipe(station, ground, limits)


@pytest.mark.parametrize("seed", range(12))
def test_corners_moved__keeps_corridor_turns_grades_and_ends(seed):
    pipe = laid(*hill(seed))
    rng = np.random.default_rng(100 + seed)
    inner = pipe.breaks[1:-1]
    moves = dict(zip(inner.tolist(), rng.uniform(-0.15, 0.15, inner.size).tolist(), strict=True))
    eased = corners_moved(pipe, moves)
    assert np.abs(eased.pipe_m - pipe.pipe_m).max() > 0.01
    corridor = build_corridor(pipe.station_m, pipe.ground_m, pipe.limits)
    assert np.all(eased.pipe_m >= corridor.lowest_m - 1e-6)
    assert np.all(eased.pipe_m <= corridor.highest_m + 1e-6)
    assert eased.pipe_m[[0, -1]].tolist() == pipe.pipe_m[[0, -1]].tolist()
    for before, after in zip(
        turning_points(pipe.pipe_m), turning_points(eased.pipe_m), strict=True
    ):
        assert before.tolist() == after.tolist()
    for was, now in zip(pipe.grades, eased.grades, strict=True):
        least = 0.002 if was.grade > 0.0 else 1.0 / 300.0
        assert abs(now.grade) >= min(least, abs(was.grade)) - 1e-9
        assert now.grade * was.grade >= 0.0


def test_corners_moved__takes_the_next_break_along_where_a_straight_would_be_too_flat():
    # 30 m fall steeply, 20 m at the least grade of 1:300, then steeply again
    station = np.array([0.0, 30.0, 50.0, 80.0])
    ground = np.array([50.0, 40.0, 40.0 - 20.0 / 300.0, 30.0])
    pipe = laid(station, ground)
    eased = corners_moved(pipe, {1: -0.1})
    assert (eased.pipe_m - pipe.pipe_m).tolist() == pytest.approx([0.0, -0.1, -0.1, 0.0])
    dug = 0.1 * (15.0 + 20.0 + 15.0) * eased.excavation.width_m
    assert eased.excavation.volume_m3 - pipe.excavation.volume_m3 == pytest.approx(dug)


def test_corners_moved__half_where_there_is_no_room_for_all_and_nothing_where_there_is_none():
    station = np.array([0.0, 30.0, 60.0])
    ground = np.array([50.0, 40.0, 38.0])
    pipe = laid(station, ground, depth=1.2)  # 0.1 m of play
    assert corners_moved(pipe, {1: -0.15}).pipe_m[1] == pytest.approx(pipe.pipe_m[1] - 0.075)
    assert corners_moved(pipe, {1: -0.3}) is pipe
    assert corners_moved(pipe, {1: 0.05}) is pipe
    assert corners_moved(pipe, {}) is pipe
