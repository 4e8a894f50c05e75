"""From degrees to the grid and back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Transformer
from rasterio.transform import Affine

from routing.errors import ProfileError
from routing.terrain import open_terrain
from routing.terrain.georeference import reference, split_crs

Make = Callable[..., Path]


@pytest.mark.parametrize(
    "affine",
    [
        (10.0, 0.0, 500_000.0, 0.0, -10.0, 5_200_000.0),
        (10.0, 0.0, 500_000.0, 0.0, 10.0, 5_100_000.0),
        (8.0, 3.0, 500_000.0, 2.0, -9.0, 5_200_000.0),
        (10.0, 0.0, 500_000.0, 0.0, -25.0, 5_200_000.0),
    ],
)
def test_to_nodes__follows_the_affine(affine: tuple[float, ...]) -> None:
    wkt = split_crs("EPSG:32633", named="test").wkt
    grid = reference(wkt, affine, (100, 100))  # type: ignore[arg-type]
    # The centre of pixel (row 30, column 7), by rasterio's own affine and by pyproj.
    x, y = Affine(*affine) @ (7.5, 30.5)
    lon, lat = Transformer.from_crs(32633, 4326, always_xy=True).transform(x, y)
    row, col = grid.to_nodes([lon], [lat])
    assert (row[0], col[0]) == (pytest.approx(30, abs=1e-7), pytest.approx(7, abs=1e-7))
    back = grid.to_lonlat(row, col)
    assert (back[0][0], back[1][0]) == pytest.approx((lon, lat), abs=1e-11)


@given(st.floats(-60, 60), st.floats(-178, 178))
def test_to_nodes__degrees_round_trip(lat: float, lon: float) -> None:
    wkt = split_crs("EPSG:4326", named="test").wkt
    grid = reference(wkt, (0.01, 0, lon - 1, 0, -0.01, lat + 1), (200, 200))
    row, col = grid.to_nodes([lon], [lat])
    assert (row[0], col[0]) == (pytest.approx(99.5, abs=1e-8), pytest.approx(99.5, abs=1e-8))
    back_lon, back_lat = grid.to_lonlat(row, col)
    assert (back_lon[0], back_lat[0]) == pytest.approx((lon, lat), abs=1e-11)


def test_to_nodes__raster_from_0_to_360() -> None:
    wkt = split_crs("EPSG:4326", named="test").wkt
    grid = reference(wkt, (0.1, 0, 0.0, 0, -0.1, 10.0), (200, 3600))
    row, col = grid.to_nodes([-179.95, 179.95, -0.05], [0.05, 0.05, 0.05])
    assert row == pytest.approx([99.0] * 3)
    assert col == pytest.approx([1800.0, 1799.0, -1.0 + 3600 - 3600], abs=3600)
    assert col[:2] == pytest.approx([1800.0, 1799.0])


def test_to_nodes__across_the_antimeridian(make_raster: Make) -> None:
    path = make_raster(np.full((40, 60), 5.0), crs="EPSG:4326", cell=0.01, origin=(179.7, -16.8))
    grid = open_terrain([path]).reference
    row, col = grid.to_nodes([179.905, -179.895], [-17.005, -17.005])
    assert col == pytest.approx([20.0, 40.0])
    lon, lat = grid.to_lonlat(row, col)
    assert lon == pytest.approx([179.905, -179.895])
    assert lat == pytest.approx([-17.005, -17.005])


def test_to_nodes__no_such_place() -> None:
    wkt = split_crs("EPSG:32633", named="test").wkt
    grid = reference(wkt, (10.0, 0.0, 500_000.0, 0.0, -10.0, 5_200_000.0), (10, 10))
    with pytest.raises(ProfileError, match="belong together"):
        grid.to_nodes([15.0, 195.0 - 90.0], [46.0, 0.0])


def test_open_terrain__old_datum_is_noted(make_raster: Make) -> None:
    path = make_raster(np.full((4, 4), 5.0), crs="EPSG:26710", origin=(550_000.0, 4_170_000.0))
    terrain = open_terrain([path])
    assert "datum_shift_coarse" in {found.code for found in terrain.findings}
    modern = open_terrain([make_raster(np.full((4, 4), 5.0), name="utm.tif")])
    assert "datum_shift_coarse" not in {found.code for found in modern.findings}
