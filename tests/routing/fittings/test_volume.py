from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from routing.fittings.volume import cumulative_volume, pool_volume, segment_integral


def segment_area(depth: float, diameter: float) -> float:
    """Circular segment from the central angle, as in any table of plane figures."""
    depth = min(max(depth, 0.0), diameter)
    angle = 2.0 * math.acos(1.0 - 2.0 * depth / diameter)
    return diameter**2 / 8.0 * (angle - math.sin(angle))


@pytest.mark.parametrize("diameter", [0.025, 0.2, 1.0])
@pytest.mark.parametrize("share", np.linspace(-0.5, 3.0, 29))
def test_segment_integral__is_the_integral_of_the_area(diameter, share):
    depth = share * diameter
    wet = min(max(depth, 0.0), diameter)
    within, _ = quad(segment_area, 0.0, wet, args=(diameter,), epsabs=0.0, epsrel=1e-11)
    expected = within + math.pi * diameter**2 / 4.0 * max(depth - diameter, 0.0)
    got = float(segment_integral(np.array([depth]), np.array([diameter]))[0])
    assert got == pytest.approx(expected, rel=1e-9, abs=1e-13)


def test_pool_volume__a_level_pipe_half_full():
    slope, pipe = np.array([0.0, 40.0]), np.array([5.0, 5.0])
    got = pool_volume(5.0, slope, pipe, np.array([0.3, 0.3]))
    assert got == pytest.approx(40.0 * math.pi * 0.3**2 / 8.0)


LINES = st.lists(st.floats(0.0, 20.0), min_size=2, max_size=12)


@settings(deadline=None, max_examples=50)
@given(heights=LINES, level=st.floats(-1.0, 25.0))
def test_pool_volume__is_the_sum_of_thin_slices(heights, level):
    z = np.array(heights)
    slope = np.concatenate(([0.0], np.cumsum(np.hypot(7.0, np.diff(z)))))
    bore = np.where(np.arange(z.size) < 4, 0.3, 0.15)
    got = pool_volume(level, slope, z, bore)
    cuts = (np.arange(2000) + 0.5) / 2000.0
    total = 0.0
    for i in range(z.size - 1):
        depth = level - (z[i] + cuts * (z[i + 1] - z[i])) + bore[i] / 2.0
        areas = [segment_area(d, bore[i]) for d in depth[::10]]
        total += float(np.mean(areas)) * (slope[i + 1] - slope[i])
    full = cumulative_volume(slope, bore)[-1]
    assert got == pytest.approx(total, abs=0.004 * full + 1e-9)
    assert -1e-12 <= got <= full * (1.0 + 1e-6)


@settings(deadline=None, max_examples=50)
@given(heights=LINES, level=st.floats(-1.0, 25.0))
def test_pool_volume__rises_with_the_level(heights, level):
    z = np.array(heights)
    slope, bore = np.arange(z.size) * 30.0, np.full(z.size, 0.2)
    assert pool_volume(level, slope, z, bore) <= pool_volume(level + 0.1, slope, z, bore) + 1e-9
    assert pool_volume(100.0, slope, z, bore) == pytest.approx(cumulative_volume(slope, bore)[-1])
    assert pool_volume(-100.0, slope, z, bore) == 0.0
