import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from trench_oracles import area_below, corridors, least_over_levels, taut_string, turns

from routing.trench.choice import choose, lay_stretch
from routing.trench.envelope import chain_totals
from routing.trench.grade_line import best_grade_line
from routing.trench.places import places_from_start
from routing.trench.reach import fewest_extremes, furthest, reach


@given(corridors())
@settings(max_examples=150, deadline=None)
def test_best_grade_line__is_the_least_of_all_lines(corridor):
    station, highest, lowest = corridor
    line = best_grade_line(station, highest, lowest).elevation_m
    levels = np.unique(np.concatenate((highest, lowest)))
    summits, sags, area = least_over_levels(station, highest, lowest, levels)
    assert turns(line) == (summits, sags)
    assert area_below(station, highest, line) == pytest.approx(area, abs=1e-9)


@given(corridors(most=7))
@settings(max_examples=100, deadline=None)
def test_best_grade_line__with_least_grade_is_the_least_of_all_lines(corridor):
    station, highest, lowest = corridor
    line = best_grade_line(station, highest, lowest, rising=0.05, falling=0.1)
    # From any ceiling an envelope sinks by whole lattice steps of 0.05 per metre.
    levels = np.arange(round((lowest.min() - 0.5) / 0.05), round(highest.max() / 0.05) + 1) * 0.05
    best = least_over_levels(station, highest, lowest, levels, rising=0.05, falling=0.1)
    if line.keeps_grade:
        assert best is not None
        assert turns(line.elevation_m) == best[:2]
        assert area_below(station, highest, line.elevation_m) == pytest.approx(best[2], abs=1e-9)
    else:
        plain = least_over_levels(station, highest, lowest, levels)
        assert turns(line.elevation_m) == plain[:2]
        assert best is None or best[:2] > plain[:2]


@given(corridors(most=30), st.floats(0, 0.1), st.floats(0, 0.1))
@settings(max_examples=200, deadline=None)
def test_best_grade_line__never_leaves_the_corridor(corridor, rising, falling):
    station, highest, lowest = corridor
    line = best_grade_line(station, highest, lowest, rising=rising, falling=falling).elevation_m
    assert np.all(line <= highest + 1e-9)
    assert np.all(line >= lowest - 1e-9)


@given(corridors(most=30))
@settings(max_examples=200, deadline=None)
def test_best_grade_line__has_the_turns_of_the_taut_string(corridor):
    station, highest, lowest = corridor
    # The taut string is tied at both ends, so the corridor is too.
    lowest[[0, -1]] = highest[[0, -1]]
    string = taut_string(station, highest, lowest)
    assert np.all(string <= highest + 1e-9)
    assert np.all(string >= lowest - 1e-9)
    line = best_grade_line(station, highest, lowest).elevation_m
    assert turns(line) == turns(string)


@given(corridors(most=40), st.sampled_from([(0.0, 0.0), (0.05, 0.1)]))
@settings(max_examples=100, deadline=None)
def test_best_grade_line__mirrors(corridor, grades):
    station, highest, lowest = corridor
    rising, falling = grades
    line = best_grade_line(station, highest, lowest, rising=rising, falling=falling)
    back = best_grade_line(
        station[-1] - station[::-1], highest[::-1].copy(), lowest[::-1].copy(),
        rising=falling, falling=rising,
    )  # fmt: skip
    assert turns(line.elevation_m) == turns(back.elevation_m)
    if line.keeps_grade:
        assert area_below(station, highest, line.elevation_m) == pytest.approx(
            area_below(station, highest, back.elevation_m[::-1]), abs=1e-9
        )


def test_best_grade_line__no_sag_lies_on_a_summit():
    # The ceiling itself keeps both grades. A stretch whose sag is its own summit would count that
    # station twice and look cheaper than it is.
    station = np.array([0.0, 2.0, 4.0, 6.0, 8.0])
    highest = np.array([0.25, 0.45, 0.55, 0.2, 0.55])
    lowest = np.array([0.0, 0.45, 0.1, 0.1, 0.25])
    for flip in (1, -1):
        grades = {"rising": 0.05, "falling": 0.1} if flip == 1 else {"rising": 0.1, "falling": 0.05}
        line = best_grade_line(station, highest[::flip].copy(), lowest[::flip].copy(), **grades)
        assert line.elevation_m[::flip] == pytest.approx(highest)
        assert not set(line.summits.tolist()) & set(line.sags.tolist())


def test_best_grade_line__mirrors_over_thousands_of_small_corridors():
    rng = np.random.default_rng(0)
    for _ in range(2000):
        size = int(rng.integers(3, 9))
        station = np.concatenate(([0.0], np.cumsum(rng.integers(1, 4, size - 1)))).astype(float)
        lowest = rng.integers(0, 12, size) * 0.05
        highest = lowest + rng.integers(0, 10, size) * 0.05
        line = best_grade_line(station, highest, lowest, rising=0.05, falling=0.1)
        back = best_grade_line(
            station[-1] - station[::-1], highest[::-1].copy(), lowest[::-1].copy(),
            rising=0.1, falling=0.05,
        )  # fmt: skip
        assert line.keeps_grade == back.keeps_grade
        assert turns(line.elevation_m) == turns(back.elevation_m)
        if line.keeps_grade:
            assert area_below(station, highest, line.elevation_m) == pytest.approx(
                area_below(station, highest, back.elevation_m[::-1]), abs=1e-9
            )


@given(corridors(most=40), st.sampled_from([(0.0, 0.0), (0.05, 0.1), (0.02, 0.0)]))
@settings(max_examples=60, deadline=None)
def test_best_grade_line__keeps_the_least_grade_where_it_says_so(corridor, grades):
    station, highest, lowest = corridor
    rising, falling = grades
    line = best_grade_line(station, highest, lowest, rising=rising, falling=falling)
    if line.keeps_grade:
        run, rise = np.diff(station), np.diff(line.elevation_m)
        assert np.all((rise >= rising * run - 1e-9) | (rise <= -falling * run + 1e-9))


def test_best_grade_line__wider_corridor_never_has_more_turns():
    rng = np.random.default_rng(4)
    station = np.arange(300.0)
    ground = 200 - 0.05 * station + np.cumsum(rng.normal(0, 0.2, 300))
    before = (999, 999)
    for depth in (0.0, 0.2, 0.5, 1.0, 2.0, 5.0, 20.0):
        line = best_grade_line(station, ground, ground - depth)
        assert turns(line.elevation_m) <= before
        before = turns(line.elevation_m)
    assert before == (0, 0)


def test_best_grade_line__compiled_equals_interpreted():
    rng = np.random.default_rng(5)
    for falling in (0.0, 0.003):
        station = np.cumsum(rng.uniform(0.2, 3, 400))
        ground = 200 - 0.05 * station + np.cumsum(rng.normal(0, 0.2, 400))
        plain = best_grade_line(station, ground, ground - 0.5, rising=falling, falling=falling)
        kernels = (furthest, chain_totals, places_from_start, choose, lay_stretch)
        saved = [k._python for k in kernels]
        try:
            for k in kernels:
                k._python = k.native
            native = best_grade_line(station, ground, ground - 0.5, rising=falling, falling=falling)
        finally:
            for k, form in zip(kernels, saved, strict=True):
                k._python = form
        assert native.elevation_m.tolist() == plain.elevation_m.tolist()
        assert native.summits.tolist() == plain.summits.tolist()


def test_fewest_extremes__no_room_for_the_grade():
    station = np.array([0.0, 1.0, 2.0])
    level = np.array([1.0, 1.0, 1.0])
    assert fewest_extremes(reach(station, level, level, rising=0.0, falling=0.0)) == (0, 0)
    assert fewest_extremes(reach(station, level, level, rising=0.1, falling=0.1)) is None
