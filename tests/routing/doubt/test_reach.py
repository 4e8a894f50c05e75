"""Where a planned summit or sag may stand: flat tops count as a whole, whichever end is planned."""

from __future__ import annotations

import numpy as np
import pytest
from doubted_lines import doubted_over

from routing.doubt import chances, find_error, sound

PLAY_M = 0.3


def line_over(ground, summit_m, sag_m):
    return doubted_over(
        5.0 * np.arange(ground.size),
        ground,
        PLAY_M,
        (np.array(summit_m), np.array(sag_m)),
        cell_m=5.0,
        error=find_error(rmse_m=0.5, range_m=60.0, kind=None, kind_rmse_m=None, step_m=0.0),
    )


def flat_top(top_m, wide_m=100.0):
    """Return ground that falls to 45 m, climbs to a flat top from 400 m on, and falls away."""
    station = np.arange(0.0, 1001.0, 5.0)
    knots = [0.0, 300.0, 400.0, 400.0 + wide_m, 500.0 + wide_m, 1000.0]
    return np.interp(station, knots, [60.0, 45.0, top_m, top_m, 44.0, 20.0])


@pytest.mark.parametrize("planned", [400.0, 450.0, 500.0])
def test_reach_m__a_flat_top_is_one_place(planned):
    # 0.3 m of play on slopes of 5 in 100 and 6 in 100: 6 and 5 m beyond the ends, whole stations
    line = line_over(flat_top(50.0), [planned], [300.0])
    assert line.reach_m(summits=True).tolist() == [[395.0, 505.0]]
    # 15 in 300 before the sag, 5 in 100 after it
    assert line.reach_m(summits=False).tolist() == [[295.0, 305.0]]


@pytest.mark.parametrize("top_m", [45.6, 46.0, 50.0])
def test_chances__the_same_whichever_end_of_a_flat_top_is_planned(top_m):
    said = []
    for planned in (400.0, 450.0, 500.0):
        line = line_over(flat_top(top_m), [planned], [300.0])
        said.append(float(chances(line, sound(line)).summit[0]))
    assert max(said) - min(said) < 0.01


@pytest.mark.parametrize("top_m", [45.6, 46.0, 50.0])
def test_chances__the_same_from_the_other_end_of_the_line(top_m):
    ground = flat_top(top_m)
    there = line_over(ground, [500.0], [300.0])
    back = line_over(ground[::-1], [600.0], [700.0])
    said = [chances(line, sound(line)) for line in (there, back)]
    # other draws: the standard error of a share of 256 grounds is at most 0.03
    assert said[0].summit[0] == pytest.approx(said[1].summit[0], abs=0.1)
    assert said[0].sag[0] == pytest.approx(said[1].sag[0], abs=0.1)
