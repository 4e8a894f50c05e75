"""The slope across the line, on planes whose slope is known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyproj import Transformer

from routing.line import Route, ground_profile, side_slope
from routing.terrain import open_terrain

BACK = Transformer.from_crs("EPSG:32633", "EPSG:4326", always_xy=True)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=20)
@given(st.floats(-0.6, 0.6), st.floats(-0.6, 0.6), st.floats(0.0, 360.0))
def test_side_slope__on_a_plane_in_any_direction(make_raster, east, north, bearing) -> None:
    """On a plane the slope across is the gradient along the normal to the right of the line."""
    cell = 5.0
    x, y = np.meshgrid(np.arange(80) * cell, np.arange(80) * cell)
    path = make_raster(900.0 + east * x - north * y, cell=cell, unit="metre")
    terrain = open_terrain([path])
    row, col = 40.0, 40.0
    a, b, c, d, e, f = terrain.transform
    middle = (c + a * (col + 0.5) + b * (row + 0.5), f + d * (col + 0.5) + e * (row + 0.5))
    way = math.radians(bearing)
    ends = [
        (middle[0] + side * 60.0 * math.sin(way), middle[1] + side * 60.0 * math.cos(way))
        for side in (-1.0, 1.0)
    ]
    lon, lat = BACK.transform([end[0] for end in ends], [end[1] for end in ends])
    profile = ground_profile(terrain, Route(name="line", lon=np.array(lon), lat=np.array(lat)))
    # To the right of a way with that bearing: east by its cosine, north by minus its sine.
    expected = east * math.cos(way) - north * math.sin(way)
    # Grid north turns from true north by the convergence, below 0.05 degrees here.
    assert side_slope(terrain, profile) == pytest.approx(expected, abs=2e-3)


def test_side_slope__beside_the_raster_it_is_not_known(make_raster) -> None:
    height = np.tile(500.0 - 0.1 * np.arange(60) * 5.0, (20, 1))
    terrain = open_terrain([make_raster(height, cell=5.0, unit="metre")])
    _, _, c, _, e, f = terrain.transform
    lon, lat = BACK.transform([c + 20.0, c + 250.0], [f + e * 0.3, f + e * 0.3])
    profile = ground_profile(terrain, Route(name="edge", lon=np.array(lon), lat=np.array(lat)))
    assert np.isnan(side_slope(terrain, profile)).all()
