from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from api_service import COLUMNS, CRS, NORTH, ROWS, WEST
from pyproj import Transformer

from api.windows import WindowCache
from routing.line import Route, ground_profile
from routing.terrain import Terrain, open_terrain


@pytest.fixture(scope="module")
def terrain(hill: Path) -> Terrain:
    return open_terrain([hill])


def route(x: list[float], y: list[float]) -> Route:
    to_degrees = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
    lon, lat = to_degrees.transform(WEST + np.array(x), NORTH - np.array(y))
    return Route(name="line", lon=lon, lat=lat)


@pytest.mark.parametrize(
    ("x", "y"),
    [
        ([50.0, 300.0, 550.0], [200.0, 190.0, 230.0]),
        ([0.0, COLUMNS * 5.0], [0.0, ROWS * 5.0]),  # corner to corner
        ([300.0, 300.0], [20.0, 380.0]),
        ([300.0, 301.0], [200.0, 200.0]),
    ],
)
def test_window__profile_is_the_same_as_from_the_file(
    x: list[float], y: list[float], terrain: Terrain
) -> None:
    line = route(x, y)
    window = WindowCache(max_windows=2, max_cells=10**6).window("a", terrain, line)
    assert window is not None
    kept, read = ground_profile(terrain, line, window=window), ground_profile(terrain, line)
    np.testing.assert_array_equal(kept.station_m, read.station_m)
    np.testing.assert_array_equal(kept.ground_m, read.ground_m)


def test_window__is_kept_while_a_line_is_dragged(terrain: Terrain) -> None:
    cache = WindowCache(max_windows=2, max_cells=10**6)
    first = cache.window("a", terrain, route([200.0, 400.0], [200.0, 200.0]))
    assert cache.window("a", terrain, route([200.0, 400.0], [200.0, 240.0])) is first
    assert cache.window("b", terrain, route([200.0, 400.0], [200.0, 200.0])) is not first


def test_window__only_the_last_ones_are_kept(terrain: Terrain) -> None:
    cache = WindowCache(max_windows=2, max_cells=10**6)
    line = route([200.0, 400.0], [200.0, 200.0])
    first = cache.window("a", terrain, line)
    second = cache.window("b", terrain, line)
    assert cache.window("a", terrain, line) is first
    cache.window("c", terrain, line)
    assert cache.window("a", terrain, line) is first
    assert cache.window("b", terrain, line) is not second


def test_window__too_big_is_none(terrain: Terrain) -> None:
    cache = WindowCache(max_windows=2, max_cells=100)
    assert cache.window("a", terrain, route([20.0, 580.0], [20.0, 380.0])) is None


def test_terrain__is_opened_once(terrain: Terrain) -> None:
    cache = WindowCache(max_windows=1, max_cells=100)
    opened = []

    def open_it() -> Terrain:
        opened.append(1)
        return terrain

    for key in ("a", "a", "b", "a"):
        assert cache.terrain(key, open_it) is terrain
    assert len(opened) == 3
