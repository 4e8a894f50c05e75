"""Levels taken on the ground, and those to take."""

from __future__ import annotations

import numpy as np
import pytest
from doubted_lines import came_true, cases, doubted, doubted_over

from routing.doubt import (
    Levels,
    chances,
    doubt_of,
    expected_wrong,
    find_error,
    levels_to_shoot,
    settled_by_levels,
    sound,
)


def wavy(levels=None, rmse_m=3.0, play=0.3, wave_m=1.5):
    """Return a line with doubtful summits: waves of 1 m on a slope, an error of 3 m."""
    station = np.arange(0.0, 1501.0, 10.0)
    ground = 500.0 - 0.01 * station * wave_m / 1.5 + wave_m * np.sin(station / 60.0)
    return doubted_over(
        station,
        ground,
        play,
        cell_m=30.0,
        error=find_error(rmse_m=rmse_m, range_m=60.0, kind=None, kind_rmse_m=None, step_m=0.0),
        levels=levels or Levels(),
    )


def levelled(line, stations, sd=0.02):
    at = np.array(sorted(stations))
    level = np.interp(at, line.station_m, line.raster_m)
    return Levels(station_m=at, level_m=level, sd_m=np.full(at.size, sd))


def test_chances__a_summit_with_levels_on_it_and_its_lows_is_certain():
    line = wavy()
    before = chances(line, sound(line))
    assert before.summit[2] < 0.95
    low, top, high = line.sag_m[0], line.summit_m[1], line.sag_m[1]
    line = wavy(levelled(line, (low, top, high)))
    after = chances(line, sound(line))
    assert after.summit[1] == 1.0
    assert after.summit_settled.tolist() == [False, True, *[False] * (line.summit_m.size - 2)]
    assert not settled_by_levels(wavy(levelled(line, (low, top))))[0].any(), "one low is missing"


def test_chances__levelled_throughout_everything_is_certain():
    line = wavy()
    line = wavy(levelled(line, line.station_m))
    found = chances(line, sound(line))
    assert (found.summit == 1.0).all()
    assert (found.sag >= 0.99).all()
    assert found.expected.mean == pytest.approx(line.summit_m.size, abs=0.05)
    assert found.expected.sd < 0.3


def test_chances__levels_that_deny_a_summit_make_it_unlikely():
    line = wavy()
    at = line.station_m[(line.station_m > line.sag_m[0]) & (line.station_m < line.sag_m[1])]
    straight = Levels(station_m=at, level_m=500.0 - 0.03 * at, sd_m=np.full(at.size, 0.02))
    after = chances(wavy(straight), sound(wavy(straight)))
    assert after.summit[1] < 0.1


def test_chances__unknown_error_knows_only_levels():
    line = wavy()
    line = wavy(levelled(line, (line.sag_m[0], line.summit_m[1], line.sag_m[1])), rmse_m=None)
    found = chances(line, sound(line))
    assert found.summit is None
    assert found.expected is None
    assert found.summit_settled[1]


def test_sound__the_same_line_has_the_same_doubt():
    line = wavy()
    one, two = doubt_of(line, line.raster_m), doubt_of(line, line.raster_m)
    assert np.array_equal(one.chances.summit, two.chances.summit)
    assert one.shots == two.shots
    assert one.depths == two.depths


def test_doubt__less_error_is_surer_and_more_depth_has_fewer_summits():
    sure = doubt_of(wavy(rmse_m=0.05), wavy().raster_m)
    assert (sure.chances.summit > 0.98).all()
    assert sure.shots == ()
    doubtful = doubt_of(wavy(rmse_m=4.0), wavy().raster_m)
    assert doubtful.chances.summit.mean() < 0.9
    for steps in (sure.depths, doubtful.depths):
        counts = [step.summits for step in steps]
        assert counts == sorted(counts, reverse=True)
        expected = [step.expected for step in steps]
        assert expected == sorted(expected, reverse=True)


@pytest.mark.parametrize(("chance", "left"), [(0.5, 0.3), (0.2, 0.5), (0.05, 0.1), (0.8, 0.7)])
def test_expected_wrong__against_drawn_levels(chance, left):
    from scipy.stats import norm

    rng = np.random.default_rng(0)
    mean = norm.ppf(chance) + np.sqrt(1.0 - left) * rng.standard_normal(400_000)
    drawn = norm.cdf(-np.abs(mean) / np.sqrt(left)).mean()
    got = expected_wrong(np.array([chance]), np.array([left]))[0]
    assert got == pytest.approx(drawn, abs=0.003)


def test_expected_wrong__no_level_changes_nothing_and_certainty_ends_it():
    chance = np.linspace(0.0, 1.0, 41)
    assert np.allclose(
        expected_wrong(chance, np.ones(41)), np.minimum(chance, 1.0 - chance), atol=2e-3
    )
    assert np.allclose(expected_wrong(chance, np.zeros(41)), 0.0, atol=1e-9)


def test_levels_to_shoot__gains_are_summed_over_and_stop():
    line = wavy(rmse_m=1.5)
    drawn = sound(line)
    found = chances(line, drawn)
    shots = levels_to_shoot(line, drawn, found)
    assert shots
    assert sum(shot.gain for shot in shots) >= 0.04 * len(shots)
    places = {*line.summit_m.tolist(), *line.sag_m.tolist(), 0.0, line.length_m}
    assert {shot.station_m for shot in shots} <= places
    assert len({shot.station_m for shot in shots}) == len(shots)
    p = np.concatenate([found.summit, found.sag])
    assert sum(shot.gain for shot in shots) <= np.minimum(p, 1.0 - p).sum() + 0.02


def compared(count):
    """Return the sum of wrong decisions expected and true: now, after chosen, after even levels."""
    total = np.zeros((3, 2))
    for case in cases(count):
        if case["cell_m"] < 30.0:
            continue
        known, line = doubted(case)
        drawn = sound(line)
        first = chances(line, drawn)
        shots = levels_to_shoot(line, drawn, first, 10)
        if not shots:
            continue
        true = np.concatenate(came_true(known, line, case["play_m"]))
        even = np.linspace(0.0, line.length_m, len(shots) + 2)[1:-1]
        for row, at in enumerate((None, [shot.station_m for shot in shots], even)):
            known, then = doubted(case, levels_at=at)
            found = first
            if at is not None:
                # The turns that were planned are judged again, now that there are levels.
                found = chances(then, sound(then))
            p = np.concatenate([found.summit, found.sag])
            total[row] += np.minimum(p, 1.0 - p).sum(), np.sum((p >= 0.5) != true)
    return total


def check(total):
    now, chosen, even = total
    assert now[0] - chosen[0] >= 3.0 * max(now[0] - even[0], 0.0), total
    assert chosen[1] < now[1], total


def test_levels_to_shoot__settle_thrice_as_much_as_even_ones():
    check(compared(20))


@pytest.mark.slow
def test_levels_to_shoot__settle_thrice_as_much_over_many_lines():
    check(compared(100))


@pytest.mark.parametrize("rmse_m", [0.01, 0.02, 0.05])
def test_levels_to_shoot__no_place_is_asked_for_twice(rmse_m):
    line = wavy(rmse_m=rmse_m, play=0.01, wave_m=0.03)  # no wider than levels are sure
    drawn = sound(line)
    stations = [shot.station_m for shot in levels_to_shoot(line, drawn, chances(line, drawn))]
    assert stations
    assert len(stations) == len(set(stations))
