"""Flow by the ratio of catchments, and areas on the ellipsoid, against published values."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import gives, published, table, value
from pyproj import Geod

from routing.catchment.cells import equal_area_y
from routing.errors import InputError
from routing.flow.area_ratio import area_ratio_checks, flow_by_area_ratio

test_flow_by_area_ratio__published = published(
    table(
        "TxDOT Hydraulic Design Manual, chapter 4 section 9, example of transposition: 420 cfs at "
        "450 square miles, wanted at 200, exponent 0.5",
        [(420.0, 200.0, 450.0, 0.5, 280.0)],
        gives(lambda flow, area, gauged, n: float(flow_by_area_ratio(flow, area, gauged, n))),
    ),
    table(
        "USGS SIR 2008-5126, drainage-area ratio: the unit-area runoff of both basins is the same",
        [(12.0, 30.0, 40.0, 9.0), (0.5, 6.0, 4.0, 0.75)],
        gives(lambda flow, area, gauged: float(flow_by_area_ratio(flow, area, gauged))),
    ),
)

test_equal_area_y__published = published(
    value(
        "Snyder 1987, authalic radius: half the area of WGS 84 is 2 pi a y of the pole, "
        "510 065 621.724 km2 in all",
        510_065_621.724e6,
        lambda: float(4.0 * np.pi * 6_378_137.0 * equal_area_y(90.0)),
        rel=1e-10,
    )
)


@pytest.mark.parametrize("lat", [0.0, 12.0, 47.0, 63.0, 81.0])
def test_equal_area_y__is_the_geodesic_area_of_a_strip(lat):
    """One degree of longitude, between two parallels, by Karney's algorithm along 400 points."""
    east = np.linspace(0.0, 1.0, 400)
    lon = np.concatenate((east, east[::-1]))
    lats = np.concatenate((np.full(400, lat), np.full(400, lat + 1.0)))
    area, _ = Geod(ellps="WGS84").polygon_area_perimeter(lon, lats)
    strip = 6_378_137.0 * np.radians(1.0) * (equal_area_y(lat + 1.0) - equal_area_y(lat))
    assert float(strip) == pytest.approx(area, rel=1e-7)


@given(
    ratio=st.floats(0.05, 20.0),
    exponent=st.floats(0.3, 1.5),
    flow=st.floats(0.0, 100.0),
)
def test_flow_by_area_ratio__properties(ratio, exponent, flow):
    there = float(flow_by_area_ratio(flow, ratio, 1.0, exponent))
    back = float(flow_by_area_ratio(there, 1.0, ratio, exponent))
    assert back == pytest.approx(flow, rel=1e-9, abs=1e-12)
    assert (there >= flow) == (ratio >= 1.0 or flow == 0.0) or there == pytest.approx(flow)
    twice = float(flow_by_area_ratio(2.0 * flow, ratio, 1.0, exponent))
    assert twice == pytest.approx(2.0 * there)


def test_flow_by_area_ratio__keeps_days_without_reading():
    flow = flow_by_area_ratio([1.0, np.nan, 3.0], 2.0, 4.0)
    np.testing.assert_array_equal(flow, [0.5, np.nan, 1.5])


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        ((1.0, 0.0, 1.0), "catchment area"),
        ((1.0, 1.0, -1.0), "gauged place"),
        ((-1.0, 1.0, 1.0), "flow of the gauged place"),
        ((1.0, 1.0, 1.0, 0.0), "exponent"),
    ],
)
def test_flow_by_area_ratio__refuses(arguments, named):
    with pytest.raises(InputError, match=named):
        flow_by_area_ratio(*arguments)


@pytest.mark.parametrize(
    ("ratio", "passed"), [(0.49, False), (0.5, True), (1.0, True), (1.5, True), (1.51, False)]
)
def test_area_ratio_checks__range_of_the_survey(ratio, passed):
    """USGS SIR 2008-5126: "between 0.5 and 1.5"."""
    checks = area_ratio_checks(ratio * 4e6, 4e6)
    assert all(check.passed for check in checks) == passed
    assert all("2008-5126" in check.source for check in checks)
