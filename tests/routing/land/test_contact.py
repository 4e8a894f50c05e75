"""Meetings of two lines, against the geometry library and by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st
from plan_lines import LAT, PLACE, STRAIGHT, line, path

from routing.land.contact import contacts
from routing.land.track import Track, degree_m


@pytest.mark.parametrize(
    ("places", "found"),
    [
        (((50, -20), (50, 20)), [(50, 90, True)]),
        (((40, -10), (60, 10)), [(50, 45, True)]),
        (((100, -20), (100, 20)), [(100, 90, True)]),  # a vertex of the line on the road
        (((50, -20), (50, 0), (50, 20)), [(50, 90, True)]),  # a vertex of the road on the line
        (((100, -20), (100, 0), (130, 30)), [(100, 45, True)]),  # vertex on vertex
        (((40, -20), (50, 0), (60, -20)), [(50, math.degrees(math.atan(2)), False)]),  # and back
        (((100, 30), (100, 0), (130, 30)), [(100, 45, False)]),
        (((50, 0), (50, 20)), [(50, 90, False)]),  # a road that begins on the line
        (((200, -20), (200, 20)), [(200, 90, False)]),  # the line ends on the road
        (((0, 5), (200, 5)), []),
        (((20, 0), (80, 0)), []),  # along it, and no angle
        (((-20, 10), (-20, -10)), []),
        (((30, -9), (30, 9), (60, 9), (60, -9)), [(30, 90, True), (60, 90, True)]),
    ],
)
def test_contacts__by_hand(places, found) -> None:
    seen = [
        (each.station_m, each.angle_deg, each.crosses)
        for each in contacts(STRAIGHT, [path(*places)])
    ]
    assert [each[2] for each in seen] == [each[2] for each in found]
    for mine, wanted in zip(seen, found, strict=True):
        assert mine[0] == pytest.approx(wanted[0], abs=1e-3)
        assert mine[1] == pytest.approx(wanted[1], abs=0.01)


def test_contacts__a_bend_on_the_road_gives_the_sharper_angle() -> None:
    bent = line((0, 0), (100, 0), (200, 100))
    (met,) = contacts(bent, [path((100, -50), (100, 50))])
    assert (met.crosses, met.angle_deg) == (True, pytest.approx(45.0, abs=0.01))


def test_contacts__a_road_that_closes_on_the_line_is_met_once_there() -> None:
    round_road = path((50, 0), (70, 30), (30, 30), (50, 0))
    (met,) = contacts(STRAIGHT, [round_road])
    assert not met.crosses


def test_contacts__over_the_antimeridian() -> None:
    track = Track(
        station_m=np.array([0.0, 400.0]), lon=np.array([179.998, 180.002]), lat=np.array([0.0, 0.0])
    )
    for turn in (0.0, -360.0, 360.0):
        road = np.array([[180.001 + turn, -0.01], [180.001 + turn, 0.01]])
        (met,) = contacts(track, [road])
        assert met.station_m == pytest.approx(300.0, abs=1e-6)


@given(
    st.lists(PLACE, min_size=2, max_size=8, unique=True),
    st.lists(PLACE, min_size=2, max_size=8, unique=True),
)
def test_contacts__the_same_places_as_the_library(own, other) -> None:
    """Two lines at random meet where shapely says they do (in the plane), and always cross."""
    own_line, other_line = shapely.LineString(own), shapely.LineString(other)
    legs = (
        np.hypot(*np.diff(np.array(own), axis=0).T),
        np.hypot(*np.diff(np.array(other), axis=0).T),
    )
    assume(min(each.min() for each in legs) > 1.0)
    met = shapely.intersection(own_line, other_line)
    assume(met.is_empty or met.geom_type in ("Point", "MultiPoint"))
    points = [] if met.is_empty else list(shapely.get_parts(met))
    corners = [*map(shapely.Point, own), *map(shapely.Point, other)]
    # Touches at corners, sharp angles and places met twice are tried by hand above.
    assume(all(point.distance(corner) > 0.5 for point in points for corner in corners))
    near = [c for c in corners if max(own_line.distance(c), other_line.distance(c)) < 0.1]
    assume(not near)
    found = contacts(line(*own), [path(*other)])
    assume(all(each.angle_deg > 0.5 for each in found))
    assert all(each.crosses for each in found)
    track = line(*own)
    for each in found:
        lon, lat = track.at(each.station_m)
        place = shapely.Point(*((np.array([lon, lat]) - [7.0, LAT]) * degree_m(LAT)))
        assert min((place.distance(point) for point in points), default=math.inf) < 0.05
    for point in points:
        places = [track.at(each.station_m) for each in found]
        spots = [shapely.Point(*((np.array(p) - [7.0, LAT]) * degree_m(LAT))) for p in places]
        assert min((point.distance(spot) for spot in spots), default=math.inf) < 0.05


@given(st.floats(5.0, 90.0), st.floats(0.0, 360.0), st.floats(-80.0, 80.0))
def test_contacts__the_angle_does_not_hang_on_the_way_the_map_lies(angle, turn, lat) -> None:
    """Two geodesics laid out from one place by pyproj meet there at the angle between them."""
    import pyproj

    geod = pyproj.Geod(ellps="WGS84")
    ends = [geod.fwd(7.0, lat, turn + side, 40.0)[:2] for side in (0.0, 180.0)]
    road = [geod.fwd(7.0, lat, turn + angle + side, 30.0)[:2] for side in (0.0, 180.0)]
    track = Track(
        station_m=np.array([0.0, 80.0]),
        lon=np.array([end[0] for end in ends]),
        lat=np.array([end[1] for end in ends]),
    )
    (met,) = contacts(track, [np.array(road)])
    assert met.crosses
    assert met.station_m == pytest.approx(40.0, abs=0.01)
    assert met.angle_deg == pytest.approx(min(angle, 180.0 - angle), abs=0.05)
