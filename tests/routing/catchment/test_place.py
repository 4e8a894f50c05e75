"""The catchment of a place: snapped, outlined, and what is said where it cannot be known."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Geod
from shapely.geometry import shape

from routing.catchment import (
    catchment_areas,
    catchment_at,
    drain,
    outline,
    reach_between,
    stream_lines,
    stream_network,
)
from routing.errors import InputError, MissingElevation, OutsideTerrain
from routing.terrain import open_terrain

CELL = 100.0


@pytest.fixture
def valley(make_raster):
    """A V-shaped valley to the south between ridges 15 cells away, which shed to the east."""
    col, row = np.meshgrid(np.abs(np.arange(-20.0, 21.0)), np.arange(30.0))
    side = np.where(col > 15, 30 - col, col) * 10.0
    return drain(open_terrain([make_raster(side - 0.1 * row)]))


def rough_network(make_raster, threshold=5e4):
    rng = np.random.default_rng(4)
    walk = np.cumsum(np.cumsum(rng.normal(size=(60, 50)), axis=0), axis=1)
    drainage = drain(open_terrain([make_raster(walk)]))
    return drainage, stream_network(drainage, threshold)


def place(drainage, row, col):
    (lon,), (lat,) = drainage.terrain.reference.to_lonlat([row], [col])
    return float(lon), float(lat)


def test_catchment_at__valley_is_what_lies_between_its_ridges(valley):
    network = stream_network(valley, 50 * CELL)
    found = catchment_at(network, *place(valley, 19, 20), snap_m=0.0)
    assert found.cells == 20 * 30
    assert found.area_m2 == pytest.approx(20 * 30 * CELL, rel=1e-3)
    assert found.snapped_m == 0.0
    assert found.on_stream
    assert found.at_least


def test_catchment_at__snaps_and_says_how_far(valley):
    network = stream_network(valley, 50 * CELL)
    asked = place(valley, 19, 22.3)
    found = catchment_at(network, *asked, snap_m=30.0)
    assert (found.row, found.col) == (19, 20)
    away = Geod(ellps="WGS84").inv(*asked, found.lon, found.lat)[2]
    assert found.snapped_m == pytest.approx(away, abs=1e-6)
    assert found.snapped_m == pytest.approx(23.0, rel=1e-3)
    missed = catchment_at(network, *asked, snap_m=22.0)
    assert not missed.on_stream
    assert (missed.row, missed.col, missed.snapped_m) == (19, 22, 0.0)
    assert missed.cells == 13


def test_catchment_at__names_a_greater_stream_nearby(make_raster):
    col, row = np.meshgrid(np.arange(21.0), np.arange(20.0))
    large, small = 10.0 * np.abs(col - 4), 10.0 * np.abs(col - 8) + 5.0
    heights = np.where(col < 7, large, np.where(col < 10, small, 16.0 - 8.0 * (col - 10))) - row
    drainage = drain(open_terrain([make_raster(heights)]))
    area = catchment_areas(drainage).area_m2[10]
    network = stream_network(drainage, 0.9 * area[8])
    found = catchment_at(network, *place(drainage, 10, 8), snap_m=60.0)
    assert found.col == 8
    assert area[4] > 2.0 * area[8]
    assert found.rival_m2 == pytest.approx(area[4] * 15 / 11, rel=1e-3)
    assert catchment_at(network, *place(drainage, 10, 8), snap_m=20.0).rival_m2 is None


def test_catchment_at__is_the_area_added_up(make_raster):
    drainage, network = rough_network(make_raster)
    added = catchment_areas(drainage)
    for row, col in np.random.default_rng(1).integers(0, [60, 50], (30, 2)):
        found = catchment_at(network, *place(drainage, row, col), snap_m=0.0)
        assert (found.row, found.col) == (row, col)
        assert found.area_m2 == pytest.approx(added.area_m2[row, col], rel=1e-9)
        assert found.at_least == bool(added.at_least[row, col])


def test_outline__holds_the_area(make_raster):
    drainage, network = rough_network(make_raster)
    for index in np.argsort(network.area_m2)[-5:]:
        (row,), (col,) = network.places([index])
        found = catchment_at(network, *place(drainage, row, col), snap_m=0.0)
        border = shape(outline(found))
        assert border.is_valid
        area = abs(Geod(ellps="WGS84").geometry_area_perimeter(border)[0])
        assert area == pytest.approx(found.area_m2, rel=1e-6)
        assert all(ring.exterior.is_ccw for ring in border.geoms)
        assert border.buffer(1e-9).contains(
            shape({"type": "Point", "coordinates": [found.lon, found.lat]})
        )


def test_catchment_at__refuses_what_is_not_on_the_ground(make_raster):
    heights = np.tile(-np.arange(9.0), (9, 1))
    heights[4, 4] = np.nan
    drainage = drain(open_terrain([make_raster(heights, nodata=np.nan)]))
    network = stream_network(drainage, 1e6)
    assert not network.cell.size
    with pytest.raises(OutsideTerrain, match="not on the terrain"):
        catchment_at(network, *place(drainage, 4, 9.0), snap_m=100.0)
    with pytest.raises(MissingElevation, match="no elevation"):
        catchment_at(network, *place(drainage, 4, 4), snap_m=0.0)
    assert catchment_at(network, *place(drainage, 4, 8.49), snap_m=0.0).col == 8


def test_reach_between__is_the_stream_in_order(valley):
    network = stream_network(valley, 50 * CELL)
    reach = reach_between(network, place(valley, 25, 20), place(valley, 10, 20), snap_m=0.0)
    np.testing.assert_array_equal(reach.row, np.arange(10, 26))
    assert np.all(np.diff(reach.area_m2) > 0.0)
    with pytest.raises(InputError, match=r"No stream of 0\.005 km2"):
        reach_between(network, place(valley, 25, 20), place(valley, 10, 4), snap_m=5.0)


def test_reach_between__refuses_two_valleys(make_raster):
    col, row = np.meshgrid(np.arange(40.0), np.arange(20.0))
    drainage = drain(open_terrain([make_raster(np.abs(col % 20 - 10) * 10.0 - row)]))
    network = stream_network(drainage, 50 * CELL)
    with pytest.raises(InputError, match="not lie on one stream"):
        reach_between(network, place(drainage, 5, 10), place(drainage, 15, 30), snap_m=0.0)


def test_stream_lines__run_down_to_confluences(make_raster):
    _, network = rough_network(make_raster)
    lines = stream_lines(network)
    ends = {int(line.index[-1]) for line in lines}
    seen = np.zeros(network.cell.size, dtype=int)
    for line in lines:
        assert np.all(network.below[line.index[:-1]] == line.index[1:])
        assert np.all(np.diff(network.area_m2[line.index]) > 0.0)
        assert not ends & {int(each) for each in line.index[1:-1]}
        seen[line.index[:-1]] += 1
    assert seen.max() == 1
    # What no line leaves are the raster's edges; a lone cell at the edge makes no line.
    assert np.all(network.below[seen == 0] == -1)


def test_stream_lines__order_rises_where_equals_meet(make_raster):
    """Strahler 1957: 1 and 1 make 2, 2 and 1 stay 2, 2 and 2 make 3."""
    _, network = rough_network(make_raster, threshold=1e3)
    lines = stream_lines(network)
    above = {}
    for line in lines:
        above.setdefault(int(line.index[-1]), []).append(line.order)
    for line in lines:
        orders = sorted(above.get(int(line.index[0]), []), reverse=True)
        if len(orders) < 2:
            assert line.order == 1
        else:
            assert line.order == orders[0] + (orders[0] == orders[1])
    assert max(line.order for line in lines) >= 3


def test_stream_lines__fewer_with_a_higher_threshold_or_in_a_box(make_raster):
    drainage, network = rough_network(make_raster, threshold=1e3)
    all_lines = stream_lines(network)
    large = stream_lines(network, threshold_m2=1e4)
    assert 0 < len(large) < len(all_lines)
    assert all(line.area_m2 >= 1e4 for line in large)
    fresh = stream_lines(stream_network(drainage, 1e4))
    assert [line.area_m2 for line in large] == [line.area_m2 for line in fresh]
    assert [line.order for line in large] == [line.order for line in fresh]
    boxed = stream_lines(network, box=(0, 20, 0, 20))
    assert 0 < len(boxed) < len(all_lines)
    lon, lat = boxed[0].lonlat()
    assert lon.shape == lat.shape == boxed[0].index.shape
