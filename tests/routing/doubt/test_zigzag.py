"""Turning points that no pipe avoids."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.compiled import compiling
from routing.doubt import forced_turns
from routing.trench import Span, TrenchLimits, lay_pipe

HEIGHTS = st.lists(st.floats(0.0, 3.0).map(lambda x: round(x, 2)), min_size=3, max_size=7)


def fewest_summits(floor, ceiling):
    """Return the fewest interior summits of any path between two bounds, by trying all of them.

    Every floor and ceiling is a level; some best path keeps to these.
    """
    levels = sorted({*floor, *ceiling})
    ways = [
        [x for x in levels if low <= x <= high] for low, high in zip(floor, ceiling, strict=True)
    ]
    best = len(floor)
    for path in itertools.product(*ways):
        signs = [np.sign(b - a) for a, b in itertools.pairwise(path) if a != b]
        best = min(best, sum(a > 0 > b for a, b in itertools.pairwise(signs)))
    return best


@settings(max_examples=60, deadline=None)
@given(HEIGHTS, st.sampled_from([0.0, 0.4, 1.0]))
def test_forced_turns__no_path_has_fewer_summits(ground, play):
    ground = np.array(ground[:5])
    turns = forced_turns(ground - play, ground)
    assert int(turns.summit.sum()) == fewest_summits(ground - play, ground)


@pytest.mark.parametrize("seed", range(6))
def test_forced_turns__as_many_as_the_laid_pipe_has(seed):
    rng = np.random.default_rng(seed)
    station = np.cumsum(rng.uniform(2.0, 9.0, 300))
    ground = 300.0 - 0.04 * station + np.cumsum(rng.normal(0.0, 0.3, station.size))
    limits = TrenchLimits(outside_diameter_m=0.2, cover_m=0.8, max_depth_m=1.6)
    pipe = lay_pipe(station, ground, limits)
    play = 0.5  # 1.6 m less cover, pipe and bedding of 0.8, 0.2 and 0.1 m
    turns = forced_turns(ground - play, ground)
    assert turns.summit.sum() == pipe.summits.size
    assert (~turns.summit).sum() == pipe.sags.size
    apart = np.abs(station[turns.place[turns.summit]] - station[pipe.summits])
    assert np.mean(apart < 25.0) > 0.9, "and where it has them"


def test_forced_turns__a_span_frees_the_pipe():
    station = np.arange(0.0, 100.0, 10.0)
    ground = np.array([20.0, 18.0, 16.0, 10.0, 9.0, 10.5, 14.0, 12.0, 10.0, 8.0])
    limits = TrenchLimits(outside_diameter_m=0.2, cover_m=0.8, max_depth_m=1.3)
    pipe = lay_pipe(station, ground, limits, [Span(from_m=20.0, to_m=60.0)])
    floor, ceiling = ground - 0.2, ground.copy()
    inside = (station > 20.0) & (station < 60.0)
    assert forced_turns(floor, ceiling).summit.sum() == 1
    floor[inside], ceiling[inside] = -np.inf, np.inf
    turns = forced_turns(floor, ceiling)
    assert turns.place.size == pipe.summits.size + pipe.sags.size == 0


@given(HEIGHTS, st.floats(0.0, 2.0))
def test_forced_turns__the_other_way_round_there_are_as_many(heights, play):
    ground = np.array(heights)
    there = forced_turns(ground - play, ground)
    back = forced_turns(ground[::-1] - play, ground[::-1])
    assert there.summit.sum() == back.summit.sum()
    assert (~there.summit).sum() == (~back.summit).sum()


@given(HEIGHTS, st.floats(0.0, 2.0), st.floats(0.0, 1.0))
def test_forced_turns__more_play_never_costs_a_turn(heights, play, more):
    ground = np.array(heights)
    assert (
        forced_turns(ground - play - more, ground).place.size
        <= forced_turns(ground - play, ground).place.size
    )


def test_forced_turns__many_grounds_are_each_by_itself():
    rng = np.random.default_rng(5)
    ground = np.cumsum(rng.normal(0.0, 1.0, (60, 9)), axis=0)
    together = forced_turns(ground - 0.7, ground)
    for column in range(9):
        alone = forced_turns(ground[:, column] - 0.7, ground[:, column])
        mine = together.ground == column
        assert together.place[mine].tolist() == alone.place.tolist()
        assert together.summit[mine].tolist() == alone.summit.tolist()
    assert together.summits_of(9).sum() == together.summit.sum()


@pytest.mark.parametrize("count", [1, 2, 63, 200, 700])
def test_forced_turns__compiled_and_in_arrays_are_the_same(count):
    """Grounds that begin early, late and never; stations where the pipe is free; level grounds."""
    draw = np.random.default_rng(count)
    ground = np.cumsum(draw.normal(0.0, 0.3, (count, 40)), axis=0)
    ground[: count // 2, 5:10] = 0.0
    ground[:, 10:12] = 0.0
    ground[:, 12:20] = np.linspace(9.0, 0.0, count)[:, None]
    ground[:, 20:30] = np.round(ground[:, 20:30], 1)
    floor = ground - draw.uniform(0.0, 1.0, count)[:, None]
    free = draw.random(count) < 0.1
    floor[free], ground[free] = -np.inf, np.inf
    plain = forced_turns(floor, ground)
    with compiling():
        quick = forced_turns(floor, ground)
    assert count < 3 or plain.place.size > 0
    for name in ("ground", "place", "summit"):
        assert np.array_equal(getattr(plain, name), getattr(quick, name))
