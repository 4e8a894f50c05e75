"""The drawn line: what is accepted, what is mended, and what is refused in which words."""

from __future__ import annotations

import dataclasses
import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from routing.errors import RouteError
from routing.line import Route


def _route(points: list[tuple[float, float]], name: str = "line") -> Route:
    array = np.array(points, dtype=np.float64).reshape(-1, 2)
    return Route(name=name, lon=array[:, 0], lat=array[:, 1])


def test_route__keeps_sound_points_to_the_last_bit() -> None:
    points = [(7.1, 46.3), (7.1000000001234567, 46.30002), (7.2, 46.4)]
    route = _route(points)
    assert np.column_stack([route.lon, route.lat]).tolist() == [list(p) for p in points]
    assert route.dropped == 0


def test_route__arrays_are_read_only_and_own() -> None:
    lon, lat = np.array([1.0, 2.0]), np.array([3.0, 4.0])
    route = Route(name="a", lon=lon, lat=lat)
    lon[0] = 99.0
    assert route.lon[0] == 1.0
    with pytest.raises(ValueError, match="read-only"):
        route.lat[0] = 0.0


def test_route__is_frozen_and_pickles() -> None:
    route = _route([(1, 2), (3, 4)])
    with pytest.raises(dataclasses.FrozenInstanceError):
        route.name = "b"  # type: ignore[misc]
    again = pickle.loads(pickle.dumps(route))
    assert again.lon.tolist() == route.lon.tolist()


def test_route__drops_repeated_points_and_counts_them() -> None:
    route = _route([(1, 2), (1, 2), (1, 2), (3, 4), (3, 4), (1, 2)])
    assert route.lon.tolist() == [1.0, 3.0, 1.0]
    assert route.dropped == 3


def test_route__line_round_the_earth_is_refused() -> None:
    with pytest.raises(RouteError, match="round the Earth"):
        _route([(170 * (i % 3) - 170, 5) for i in range(9)])


def test_route__keeps_its_count_when_renamed() -> None:
    route = dataclasses.replace(_route([(1, 2), (1, 2), (3, 4)]), name="b")
    assert (route.name, route.dropped) == ("b", 1)


def test_route__drops_points_less_than_a_millimetre_apart() -> None:
    # 1e-9 degrees of latitude are 0.11 mm, 1e-7 degrees are 11 mm.
    route = _route([(5, 60), (5, 60 + 1e-9), (5, 60 + 1e-7)])
    assert route.lat.tolist() == [60.0, 60 + 1e-7]


def test_route__many_tiny_steps_still_add_up() -> None:
    lat = 60.0 + 2e-9 * np.arange(101)  # 0.22 mm each, 22 mm in all
    route = Route(name="slow hand", lon=np.full(101, 5.0), lat=lat)
    steps_mm = np.diff(route.lat) * 111.4e6
    assert route.lat.size > 15
    assert steps_mm.min() >= 1.0


def test_route__line_folding_back_is_kept() -> None:
    assert _route([(1, 2), (1, 3), (1, 2)]).lat.tolist() == [2.0, 3.0, 2.0]


def test_route__runs_on_over_the_antimeridian() -> None:
    assert _route([(179.9, 10), (-179.9, 10), (179.8, 10)]).lon.tolist() == [179.9, 180.1, 179.8]
    assert _route([(-179.9, 10), (179.9, 10)]).lon.tolist() == pytest.approx([-179.9, -180.1])


def test_route__accepts_longitudes_counted_to_360() -> None:
    assert _route([(359.9, 10), (0.1, 10)]).lon.tolist() == pytest.approx([-0.1, 0.1])


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([], "0 point"),
        ([(1, 2)], "1 point"),
        ([(1, 2), (1, 2), (1, 2)], "all at one place"),
        ([(1, 2), (float("nan"), 2)], "Point 2 .*not a place"),
        ([(1, 2), (3, float("inf"))], "Point 2 .*not a place"),
        ([(46, 107), (46, 107.1)], "swapped"),
        ([(-30, 150), (-30, 151)], "swapped"),
        ([(1, 2), (432100.0, 5432100.0)], "map grid"),
        ([(170, 91), (171, 45)], "no longitude and latitude"),
        ([(361, 4), (362, 5)], "no longitude and latitude"),
    ],
)
def test_route__refuses(points: list[tuple[float, float]], words: str) -> None:
    with pytest.raises(RouteError, match=words) as caught:
        _route(points)
    assert caught.value.remedy


@pytest.mark.parametrize(
    ("lon", "lat", "words"),
    [
        ([1.0, 2.0], [3.0], "2 longitudes but 1 latitudes"),
        (["1", "2"], [3.0, 4.0], "not numbers"),
        ([None, 2.0], [3.0, 4.0], "not numbers"),
        ([True, False], [3.0, 4.0], "not numbers"),
        ([[1.0, 2.0]], [[3.0, 4.0]], "2 dimensions"),
    ],
)
def test_route__refuses_what_is_no_list_of_numbers(lon: object, lat: object, words: str) -> None:
    with pytest.raises(RouteError, match=words):
        Route(name="a", lon=lon, lat=lat)  # type: ignore[arg-type]


places = hnp.arrays(
    np.float64,
    st.tuples(st.integers(2, 30), st.just(2)),
    elements=st.floats(-1, 1, width=32),
)


@given(places)
def test_route__any_line_is_continuous_or_refused(unit: np.ndarray) -> None:
    lon, lat = 180.0 * unit[:, 0], 89.0 * unit[:, 1]
    try:
        route = Route(name="any", lon=lon, lat=lat)
    except RouteError as error:
        if "all at one place" in str(error) or "round the Earth" in str(error):
            return
        raise
    assert np.abs(np.diff(route.lon)).max() <= 180.0
    assert route.lon.size + route.dropped == lon.size
    assert route.lon[0] == lon[0]


@given(places)
def test_route__made_again_from_itself_stays_itself(unit: np.ndarray) -> None:
    try:
        route = Route(name="any", lon=100.0 * unit[:, 0], lat=89.0 * unit[:, 1])
    except RouteError:
        return
    again = Route(name="any", lon=route.lon, lat=route.lat)
    assert again.lon.tolist() == route.lon.tolist()
    assert again.dropped == 0
