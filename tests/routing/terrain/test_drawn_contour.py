"""Contours for drawings, on ground whose contours are known."""

from __future__ import annotations

import numpy as np
import pytest

from routing.terrain import open_terrain
from routing.terrain.drawn_contour import contour_lines


@pytest.fixture
def slope(make_raster):
    """Return a plane of known rise: 0.5 m a metre to the east, 0.25 m a metre to the north."""
    rows, cols = np.mgrid[0:60, 0:80]
    return open_terrain([make_raster(100.0 + 5.0 * cols - 2.5 * rows, unit="metre")])


def box(terrain):
    lon, lat = terrain.reference.to_lonlat(np.array([2.0, 57.0]), np.array([2.0, 77.0]))
    return {
        "west": float(lon.min()),
        "east": float(lon.max()),
        "south": float(lat.min()),
        "north": float(lat.max()),
    }


def test_contour_lines__lie_on_the_plane_at_their_level(slope) -> None:
    lines = contour_lines(slope, **box(slope))
    assert lines
    for line in lines:
        rows, cols = slope.reference.to_nodes(line.lon, line.lat)
        assert np.allclose(100.0 + 5.0 * cols - 2.5 * rows, line.level_m, rtol=0, atol=1e-3)
    levels = sorted({line.level_m for line in lines})
    assert np.allclose(np.diff(levels), levels[1] - levels[0])
    step = levels[1] - levels[0]
    assert all(line.index == (round(line.level_m / step) % 5 == 0) for line in lines)


def test_contour_lines__round_feet(slope) -> None:
    lines = contour_lines(slope, **box(slope), interval=50.0, unit_m=0.3048)
    for line in lines:
        assert line.level_m / 0.3048 % 50.0 == pytest.approx(
            0.0, abs=1e-4
        ) or line.level_m / 0.3048 % 50.0 == pytest.approx(50.0, abs=1e-4)


def test_contour_lines__none_off_the_terrain_or_over_gaps(slope, make_raster) -> None:
    assert contour_lines(slope, west=0.0, south=0.0, east=0.1, north=0.1) == ()
    cols = np.mgrid[0:40, 0:40][1]
    heights = 10.0 * cols.astype(float)
    heights[:, 15:25] = -9999.0
    holed = open_terrain([make_raster(heights, nodata=-9999.0, name="holed.tif", unit="metre")])
    for line in contour_lines(holed, **box_of(holed), interval=10.0):
        _, columns = holed.reference.to_nodes(line.lon, line.lat)
        assert not ((columns > 14.01) & (columns < 24.99)).any()


def box_of(terrain):
    lon, lat = terrain.reference.to_lonlat(np.array([1.0, 38.0]), np.array([1.0, 38.0]))
    return {
        "west": float(lon.min()),
        "east": float(lon.max()),
        "south": float(lat.min()),
        "north": float(lat.max()),
    }
