"""Thinning for drawing: never beyond the tolerance, never without a point that matters."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.papers.thin import thinned

HEIGHTS = st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=80)


@given(HEIGHTS, st.floats(1e-3, 100.0))
@settings(max_examples=80, deadline=None)
def test_thinned__stays_within_the_tolerance(heights: list[float], tolerance: float) -> None:
    y = np.array(heights)
    x = np.arange(len(y), dtype=float)
    index = thinned(x, [y], [tolerance])
    assert index[0] == 0
    assert index[-1] == len(y) - 1
    assert np.abs(np.interp(x, x[index], y[index]) - y).max() <= tolerance * (1 + 1e-12)


def test_thinned__straight_line_keeps_its_ends_only() -> None:
    x = np.linspace(0.0, 10.0, 1001)
    assert thinned(x, [2.0 * x + 1.0], [1e-9]).tolist() == [0, 1000]


def test_thinned__keeps_what_it_is_told_and_both_sides_of_a_gap() -> None:
    x = np.arange(10.0)
    y = np.zeros(10)
    y[4:6] = np.nan
    assert thinned(x, [y], [1.0], np.array([8])).tolist() == [0, 3, 4, 5, 6, 8, 9]


def test_thinned__a_spike_survives() -> None:
    x = np.arange(1000.0)
    y = np.zeros(1000)
    y[777] = 5.0
    assert 777 in thinned(x, [y], [0.1])
