"""Lengths of a degree on WGS 84, and what crossings ask, against published values."""

from __future__ import annotations

import numpy as np
import pyproj
import pytest

from routing.land.judge import LIMITS, asked
from routing.line.ground.places import degree_m

GEOD = pyproj.Geod(ellps="WGS84")


@pytest.mark.parametrize(
    ("lat", "east", "north"),
    # NGA.STND.0036 (WGS 84) table of lengths of a degree, rounded to metres (from memory).
    [(0.0, 111_320, 110_574), (30.0, 96_486, 110_852), (60.0, 55_800, 111_412)],
)
def test_degree_m__published(lat: float, east: float, north: float) -> None:
    assert degree_m(lat) == pytest.approx([east, north], abs=0.6)


@pytest.mark.parametrize("lat", np.linspace(-85.0, 85.0, 18))
def test_degree_m__as_geodesics_of_a_thousandth_of_a_degree(lat: float) -> None:
    east = GEOD.inv(7.0, lat, 7.001, lat)[2]
    north = GEOD.inv(7.0, lat - 0.0005, 7.0, lat + 0.0005)[2]
    assert degree_m(lat) / 1000.0 == pytest.approx([east, north], rel=1e-6)


def test_cover_below_streams__as_the_rule_has_it() -> None:
    """327 IAC 8-3.2-10: two feet of cover; above fifteen feet of width valves on both sides."""
    assert asked("bed_cover").bound == pytest.approx(2 * 0.3048, abs=0.01)
    assert LIMITS["wide_stream_m"] == pytest.approx(15 * 0.3048, abs=0.03)
    assert asked("road_cover").bound == 0.9  # common practice
    assert asked("angle").bound == 60.0  # common practice
