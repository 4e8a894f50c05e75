"""Stations against pyproj's solution of the inverse problem."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod

from routing.errors import RouteError
from routing.line import geodesic_stations

GEOD = Geod(ellps="WGS84")


def exact(lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
    return np.concatenate([[0.0], np.cumsum(GEOD.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])[2])])


def test_geodesic_stations__smooth_line_of_100_000_points() -> None:
    share = np.linspace(0, 1, 100_000)
    lon, lat = 10 + 0.5 * share + 0.01 * np.sin(9 * share), 46 + 0.6 * share
    assert geodesic_stations(lon, lat) == pytest.approx(exact(lon, lat), abs=1e-6)


@pytest.mark.parametrize("step_deg", [1e-7, 1e-5, 1e-3, 0.009, 0.02, 1.0])
@pytest.mark.parametrize("start", [(0.0, 0.0), (-71.0, -53.0), (179.999, 66.0), (20.0, 84.0)])
def test_geodesic_stations__walked_track(step_deg: float, start: tuple[float, float]) -> None:
    rng = np.random.default_rng(5)
    lon = start[0] + np.cumsum(rng.normal(0, step_deg, 3000))
    lat = np.clip(start[1] + np.cumsum(rng.normal(0, step_deg / 40, 3000)), -89.9, 89.9)
    steps = np.diff(geodesic_stations(lon, lat)) - np.diff(exact(lon, lat))
    # Stations of thousands of kilometres are themselves rounded to some nanometres.
    assert np.abs(steps).max() < 4e-9 + 4e-16 * geodesic_stations(lon, lat)[-1]


def test_geodesic_stations__across_the_antimeridian_either_way() -> None:
    lat = np.linspace(-17.0, -17.02, 50)
    running_on = np.linspace(179.99, 180.01, 50)
    wrapped = np.where(running_on > 180.0, running_on - 360.0, running_on)
    assert geodesic_stations(wrapped, lat) == pytest.approx(
        geodesic_stations(running_on, lat), abs=1e-8
    )


def test_geodesic_stations__over_the_pole() -> None:
    lon, lat = np.repeat([0.0, 180.0], 40), np.concatenate([np.linspace(88, 89.9, 40)] * 2)
    assert geodesic_stations(lon, lat) == pytest.approx(exact(lon, lat), abs=1e-7)


@pytest.mark.parametrize("count", [1, 2, 32, 33, 34, 8192, 8193, 8194, 20_000])
def test_geodesic_stations__any_number_of_points(count: int) -> None:
    lon, lat = np.linspace(15, 15.05, count), np.linspace(46, 46.02, count)
    stations = geodesic_stations(lon, lat)
    assert stations.shape == (count,)
    assert stations[0] == 0.0
    assert stations == pytest.approx(exact(lon, lat), abs=1e-7)
    assert not stations.flags.writeable


@given(st.integers(40, 200), st.floats(-80, 80), st.floats(-180, 180), st.integers(0, 2**32 - 1))
def test_geodesic_stations__backwards_is_as_long(
    count: int, lat0: float, lon0: float, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    lon = lon0 + np.cumsum(rng.uniform(-1e-3, 1e-3, count))
    lat = lat0 + np.cumsum(rng.uniform(-1e-4, 1e-4, count))
    there, back = geodesic_stations(lon, lat), geodesic_stations(lon[::-1], lat[::-1])
    assert back[-1] == pytest.approx(there[-1], abs=1e-7)
    assert (np.diff(there) >= 0).all()


def test_geodesic_stations__bad_input() -> None:
    with pytest.raises(RouteError, match="as many longitudes"):
        geodesic_stations([1.0, 2.0], [1.0])
    with pytest.raises(RouteError, match="as many longitudes"):
        geodesic_stations([], [])
    with pytest.raises(RouteError, match="Point 2"):
        geodesic_stations([1.0, np.nan], [1.0, 2.0])
