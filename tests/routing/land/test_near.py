"""Stretches within a distance of another line, against the library's buffer."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st
from plan_lines import PLACE, STRAIGHT, line, path

from routing.land.near import stretches_near


@pytest.mark.parametrize(
    ("places", "distance", "found"),
    [
        (((50, -20), (50, 20)), 3.0, [(47, 53)]),
        (((40, -10), (60, 10)), 3.0, [(50 - 3 * math.sqrt(2), 50 + 3 * math.sqrt(2))]),
        (((0, 4), (200, 4)), 5.0, [(0, 200)]),
        (((20, 4), (80, 4)), 5.0, [(17, 83)]),
        (((0, 6), (200, 6)), 5.0, []),
        (((20, 0), (80, 0)), 1.0, [(19, 81)]),
    ],
)
def test_stretches_near__by_hand(places, distance, found) -> None:
    seen = stretches_near(STRAIGHT, [path(*places)], distance)
    assert seen == [pytest.approx(each, abs=0.01) for each in found]


@given(
    st.lists(PLACE, min_size=2, max_size=6, unique=True),
    st.lists(PLACE, min_size=2, max_size=6, unique=True),
    st.floats(1.0, 80.0),
)
def test_stretches_near__as_long_as_the_buffer_says(own, other, distance) -> None:
    assume(np.hypot(*np.diff(np.array(own), axis=0).T).min() > 1.0)
    parts = stretches_near(line(*own), [path(*other)], distance)
    buffer = shapely.LineString(other).buffer(distance, quad_segs=128)
    cut = sum(shapely.LineString(pair).intersection(buffer).length for pair in pairwise(own))
    total = float(np.hypot(*np.diff(np.array(own), axis=0).T).sum())
    assert sum(b - a for a, b in parts) == pytest.approx(cut, abs=0.005 * total + 0.5)
    assert all(a < b for a, b in parts)
    assert all(b < c for (_, b), (c, _) in pairwise(parts))
