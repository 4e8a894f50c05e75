"""Stretches within areas, against the geometry library."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from routing.land.inside import stretches_inside
from routing.land.track import Track

SQUARE = np.array([[1.0, 1.0], [3.0, 1.0], [3.0, 3.0], [1.0, 3.0], [1.0, 1.0]])
HOLE = np.array([[1.5, 1.5], [2.5, 1.5], [2.5, 2.5], [1.5, 2.5], [1.5, 1.5]])


def along(*places: tuple[float, float]) -> Track:
    lon, lat = np.array(places, dtype=float).T
    station = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(lon), np.diff(lat)))))
    return Track(station_m=station, lon=lon, lat=lat)


@pytest.mark.parametrize(
    ("places", "inside"),
    [
        (((0, 2), (4, 2)), [(1, 1.5), (2.5, 3)]),
        (((0, 1.2), (2, 1.2), (4, 1.2)), [(1, 3)]),
        (((2, 1.2), (2, 0)), [(0, 0.2)]),
        (((0, 0), (0, 4)), []),
        (((0, 0), (1, 1), (0, 2)), []),
        (((0, 0.5), (4, 0.5)), []),
    ],
)
def test_stretches_inside__a_square_with_a_hole(places, inside) -> None:
    found = stretches_inside(along(*places), [SQUARE, HOLE])
    assert found == [pytest.approx(pair) for pair in inside]


def test_stretches_inside__a_line_a_turn_away_beyond_the_antimeridian() -> None:
    line = along((179.0, 2.0), (183.0, 2.0))
    rings = [SQUARE - np.array([181.0, 0.0])]
    assert stretches_inside(line, rings) == [pytest.approx((1.0, 3.0))]


PLACE = st.tuples(st.floats(-5, 5), st.floats(-5, 5))


@given(st.lists(PLACE, min_size=2, max_size=6, unique=True), st.integers(3, 9), st.floats(0.5, 4))
def test_stretches_inside__as_long_as_the_library_says(places, corners, radius) -> None:
    turn = np.linspace(0.3, 0.3 + 2 * math.pi, corners, endpoint=False)
    size = radius * (1.0 + 0.5 * np.cos(3 * turn))
    ring = np.column_stack([size * np.cos(turn), size * np.sin(turn)])
    ring = np.vstack([ring, ring[:1]])
    polygon = shapely.Polygon(ring)
    assume(polygon.is_valid)
    line = along(*places)
    assume(np.diff(line.station_m).min() > 1e-3)
    parts = stretches_inside(line, [ring])
    cut = sum(
        shapely.intersection(shapely.LineString(pair), polygon).length
        for pair in zip(
            zip(line.lon, line.lat, strict=True),
            zip(line.lon[1:], line.lat[1:], strict=True),
            strict=False,
        )
    )
    assert sum(b - a for a, b in parts) == pytest.approx(cut, abs=2e-2)


@given(st.lists(PLACE, min_size=2, max_size=6, unique=True))
def test_stretches_inside__parcels_that_share_their_edges_add_up_to_the_line(places) -> None:
    """A line on an edge of two parcels is inside one of them: no metre is lost or counted twice."""
    line = along(*places, (0.0, -5.0), (0.0, 5.0))
    assume(np.diff(line.station_m).min() > 1e-3)
    total = 0.0
    for west in np.arange(-6.0, 6.0, 2.0):
        for south in np.arange(-6.0, 6.0, 2.0):
            square = SQUARE - 1.0 + [west, south]
            total += sum(b - a for a, b in stretches_inside(line, [square]))
    assert total == pytest.approx(line.station_m[-1], abs=0.05)
