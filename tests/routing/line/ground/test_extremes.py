"""Highs and lows against the definition of prominence worked by brute force, and against scipy."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import scipy.signal
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from routing.errors import InputError
from routing.line import Extreme, find_extremes
from routing.line.ground.extremes import _lowest_before

profiles = st.one_of(
    hnp.arrays(np.float64, st.integers(1, 40), elements=st.integers(-4, 4).map(float)),
    hnp.arrays(np.float64, st.integers(1, 60), elements=st.floats(-100, 100)),
)


def _found(height: np.ndarray, least: float = 0.0) -> tuple[list[Extreme], list[Extreme]]:
    highs, lows = find_extremes(np.arange(height.size), height, least_prominence_m=least)
    return list(highs), list(lows)


def _by_definition(height: np.ndarray) -> list[tuple[int, float]]:
    """Every interior high with its prominence, word for word from the definition."""
    found = []
    for i in range(1, height.size - 1):
        end = i
        while end + 1 < height.size and height[end + 1] == height[i]:
            end += 1
        if end == height.size - 1 or height[i - 1] >= height[i] or height[end + 1] > height[i]:
            continue
        lowest = []
        for side in (range(i, -1, -1), range(i, height.size)):
            low = height[i]
            for j in side:
                if height[j] > height[i]:
                    break
                low = min(low, height[j])
            lowest.append(low)
        found.append((i, height[i] - max(lowest)))
    return found


@given(profiles)
def test_find_extremes__highs_and_lows_by_definition(height: np.ndarray) -> None:
    highs, lows = _found(height)
    assert [(e.index, e.prominence_m) for e in highs] == _by_definition(height)
    assert [(e.index, e.prominence_m) for e in lows] == _by_definition(-height)


@pytest.mark.parametrize("length", range(1, 8))
def test_find_extremes__every_small_profile_by_definition(length: int) -> None:
    for levels in itertools.product((0.0, 1.0, 2.0), repeat=length):
        height = np.array(levels)
        highs, lows = _found(height)
        assert [(e.index, e.prominence_m) for e in highs] == _by_definition(height), levels
        assert [(e.index, e.prominence_m) for e in lows] == _by_definition(-height), levels


@given(profiles)
def test_find_extremes__prominence_as_scipy(height: np.ndarray) -> None:
    for found, sign in zip(_found(height), (1.0, -1.0), strict=True):
        turned = sign * height
        peaks, shape = scipy.signal.find_peaks(turned, plateau_size=1)
        expected = scipy.signal.peak_prominences(turned, peaks)[0] if peaks.size else []
        # scipy names the middle of a plateau; a profile names its first station.
        starts = shape["left_edges"] if peaks.size else []
        assert [e.index for e in found] == list(starts)
        assert [e.prominence_m for e in found] == list(expected)


@given(profiles)
def test_find_extremes__turned_upside_down_highs_are_lows(height: np.ndarray) -> None:
    highs, lows = _found(height)
    turned_highs, turned_lows = _found(-height)
    assert [(e.index, e.prominence_m) for e in highs] == [
        (e.index, e.prominence_m) for e in turned_lows
    ]
    assert [(e.index, e.prominence_m) for e in lows] == [
        (e.index, e.prominence_m) for e in turned_highs
    ]


@given(profiles)
def test_find_extremes__mirrored_line_has_mirrored_extremes(height: np.ndarray) -> None:
    def last(index: int) -> int:
        while height[index + 1] == height[index]:
            index += 1
        return index

    for found, mirrored in zip(_found(height), _found(height[::-1].copy()), strict=True):
        expected = [(height.size - 1 - last(e.index), e.prominence_m) for e in reversed(found)]
        assert [(e.index, e.prominence_m) for e in mirrored] == expected


@given(
    hnp.arrays(np.float64, st.integers(3, 40), elements=st.integers(-50, 50).map(float)),
    st.integers(-1000, 1000),
    st.sampled_from([0.25, 0.5, 2.0, 8.0]),
)
def test_find_extremes__shift_changes_nothing_and_scale_scales(
    height: np.ndarray, shift: int, scale: float
) -> None:
    for found, moved in zip(_found(height), _found(scale * (height + shift)), strict=True):
        assert [(e.index, scale * e.prominence_m) for e in found] == [
            (e.index, e.prominence_m) for e in moved
        ]


@given(profiles, st.floats(0, 50))
def test_find_extremes__least_prominence_only_leaves_out(height: np.ndarray, least: float) -> None:
    for every, some in zip(_found(height), _found(height, least), strict=True):
        assert some == [e for e in every if e.prominence_m >= least]


@settings(deadline=None)  # the first call compiles
@given(hnp.arrays(np.float64, st.integers(0, 60), elements=st.integers(-9, 9).map(float)))
def test_lowest_before__compiled_as_interpreted(values: np.ndarray) -> None:
    foot = values - 1.0
    native = _lowest_before.native(values, foot)
    assert native.tolist() == _lowest_before.python(values, foot).tolist()


def test_find_extremes__gives_station_height_and_the_default_least() -> None:
    highs, lows = find_extremes([0, 5, 9, 30, 40], [10.0, 10.05, 10.0, 12.0, 11.0])
    assert highs == (Extreme(index=3, station_m=30.0, height_m=12.0, prominence_m=1.0),)
    assert lows == ()


def test_find_extremes__ends_are_never_extremes() -> None:
    assert _found(np.array([5.0, 1.0, 5.0]))[0] == []
    assert _found(np.array([5.0, 5.0, 1.0, 1.0])) == ([], [])
    assert _found(np.array([1.0])) == ([], [])
    assert _found(np.array([])) == ([], [])
    assert _found(np.full(9, 3.0)) == ([], [])


def test_find_extremes__plateau_counts_once_at_its_first_station() -> None:
    highs, lows = _found(np.array([0.0, 2, 2, 2, 1, 1, 3]))
    assert [e.index for e in highs] == [1]
    assert [e.index for e in lows] == [4]


def test_find_extremes__equal_highs_both_reach_past_each_other() -> None:
    highs, _ = _found(np.array([0.0, 5, 4, 5, 1]))
    assert [(e.index, e.prominence_m) for e in highs] == [(1, 4.0), (3, 4.0)]


def test_find_extremes__hundred_thousand_stations_as_scipy() -> None:
    height = np.cumsum(np.random.default_rng(20).normal(size=100_000))
    highs, _ = _found(height)
    peaks = scipy.signal.find_peaks(height)[0]
    assert [e.index for e in highs] == peaks.tolist()
    assert [e.prominence_m for e in highs] == scipy.signal.peak_prominences(height, peaks)[
        0
    ].tolist()


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_find_extremes__refuses_missing_elevation_and_names_the_station(bad: float) -> None:
    with pytest.raises(InputError, match=r"station 20\.0 m"):
        find_extremes([0, 10, 20, 30], [1.0, 2.0, bad, 1.0])


@pytest.mark.parametrize(("station", "height"), [([0, 1], [1.0]), ([[0, 1]], [[1.0, 2.0]])])
def test_find_extremes__refuses_arrays_that_do_not_pair(station: object, height: object) -> None:
    with pytest.raises(InputError, match="shape"):
        find_extremes(station, height)  # type: ignore[arg-type]
