from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import find_peaks, peak_prominences

from routing.fittings import summit_standing

HEIGHTS = st.lists(st.integers(0, 12), min_size=3, max_size=60)


def by_definition(heights: np.ndarray, top: int) -> float:
    """Prominence straight from its definition, point by point."""
    lows = []
    for step in (-1, 1):
        low, i = heights[top], top
        while 0 <= i < heights.size and heights[i] <= heights[top]:
            low = min(low, heights[i])
            i += step
        lows.append(low)
    return float(heights[top] - max(lows))


@settings(deadline=None)
@given(heights=HEIGHTS)
def test_summit_standing__as_the_definition_says(heights):
    z = np.array(heights, float)
    tops = find_peaks(z, plateau_size=1)[1]["right_edges"]
    standings = summit_standing(np.arange(z.size) * 5.0, z, tops)
    assert [standing.prominence_m for standing in standings] == [by_definition(z, t) for t in tops]


@pytest.mark.parametrize("seed", range(20))
def test_summit_standing__as_scipy_says(seed):
    rng = np.random.default_rng(seed)
    z = np.cumsum(rng.normal(size=500))
    tops = find_peaks(z)[0]
    prominence, left, right = peak_prominences(z, tops)
    station = np.cumsum(rng.uniform(1.0, 9.0, z.size))
    standings = summit_standing(station, z, tops)
    np.testing.assert_allclose([s.prominence_m for s in standings], prominence, rtol=1e-12)
    key = np.where(z[left] > z[right], left, right)
    np.testing.assert_allclose(
        [s.distance_m for s in standings], np.abs(station[tops] - station[key]), rtol=1e-12
    )


def test_summit_standing__no_summit(line):
    assert summit_standing(np.arange(3.0), np.array([3.0, 2.0, 1.0]), np.array([], int)) == ()
