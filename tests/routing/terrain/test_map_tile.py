"""Relief tiles: seamless, true to the painter, right at edges, voids and the antimeridian."""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from routing.terrain import open_terrain
from routing.terrain.map_tile import (
    TILE_PIXELS,
    TileSource,
    closest_zoom,
    map_share,
    relief_tile,
    tile_source,
    zoom_facts,
)
from routing.terrain.paint import exaggeration, painted, typical_slope
from routing.terrain.reduced import reduced_copies
from routing.terrain.shade import sampled, shaded


def hill(rows: int = 96, cols: int = 120) -> np.ndarray:
    row, col = np.mgrid[0:rows, 0:cols]
    return 300.0 + 40.0 * np.sin(row / 9.0) * np.cos(col / 13.0) - 0.5 * col


def source_of(path: Path, **options) -> TileSource:
    terrain = open_terrain([path], **options)
    return tile_source(terrain, reduced_copies(terrain))


def middle_tile(source: TileSource, zoom: int) -> tuple[int, int]:
    x, y = map_share(
        np.array([(source.west + source.east) / 2]), np.array([(source.south + source.north) / 2])
    )
    return int(x[0] % 1.0 * 2**zoom), int(y[0] * 2**zoom)


def pixels(tile: bytes) -> np.ndarray:
    """Return the picture as (4, rows, columns)."""
    return np.moveaxis(np.asarray(Image.open(io.BytesIO(tile)).convert("RGBA")), 2, 0)


def test_shaded__is_what_the_painter_paints() -> None:
    heights = hill().astype(np.float32)
    pixel_m = np.full(96, 10.0)
    low, high = float(heights.min()), float(heights.max())
    expected = painted(heights, pixel_m, low, high)[:, 1:-1, 1:-1].astype(int)
    raised = exaggeration(typical_slope(heights, pixel_m))
    found = shaded(heights, pixel_m, low, high, raised)
    assert np.abs(found[:3].astype(int) - expected).max() <= 1
    assert (found[3] == 255).all()


def test_shaded__missing_is_clear_and_darkens_nobody() -> None:
    heights = np.full((12, 12), 50.0, dtype=np.float32)
    heights[5, 5] = np.nan
    found = shaded(heights, np.full(12, 10.0), 0.0, 100.0, 1.0)
    assert found[3, 4, 4] == 0
    flat = found[:3, 0, 0]
    known = found[3] > 0
    assert (found[:3, known] == flat[:, None]).all()


@pytest.mark.parametrize("smooth", [True, False])
def test_sampled__a_plane_is_a_plane(smooth: bool) -> None:
    row, col = np.mgrid[0:20, 0:30]
    grid = (3.0 * row - 2.0 * col).astype(np.float32)
    mesh = np.linspace(4.0, 12.0, 5)
    at_row, at_col = np.meshgrid(mesh, mesh + 3.0, indexing="ij")
    out = sampled(grid, at_row, at_col, (-0.5, 19.5, -0.5, 29.5), (33, 33), smooth=smooth)
    fine = np.linspace(4.0, 12.0, 33)
    expected = 3.0 * fine[:, None] - 2.0 * (fine[None, :] + 3.0)
    np.testing.assert_allclose(out, expected, atol=1e-4)


def test_sampled__holds_the_edge_and_stops_beyond_it() -> None:
    grid = np.arange(4, dtype=np.float32).reshape(2, 2)
    row, col = np.meshgrid(np.array([-0.6, 1.6]), np.array([0.0, 1.0]), indexing="ij")
    out = sampled(grid, row, col, (-0.5, 1.5, -0.5, 1.5), (12, 2), smooth=True)
    assert np.isnan(out[0]).all()
    assert np.isnan(out[-1]).all()
    np.testing.assert_allclose(out[1], grid[0])


@pytest.mark.parametrize("zoom", [13, 15, 17])
def test_relief_tile__neighbours_meet_without_a_seam(make_raster: Callable, zoom: int) -> None:
    source = source_of(make_raster(hill(), cell=25.0))
    middle, _ = map_share(np.array([(source.west + source.east) / 2]), np.array([0.0]))
    x, y = round(float(middle[0]) * 2**zoom), middle_tile(source, zoom)[1]
    left, right = (pixels(relief_tile(source, zoom, x + i, y)).astype(int) for i in (-1, 0))
    both = (left[3, :, -1] > 0) & (right[3, :, 0] > 0)
    assert both.any()
    across = np.abs(left[:3, both, -1] - right[:3, both, 0]).mean()
    within = np.abs(right[:3, both, 1] - right[:3, both, 0]).mean()
    assert across <= within + 6.0  # lossy pictures; a seam of the relief would show as tens


def test_relief_tile__scale_two_is_the_same_picture_in_more_pixels(make_raster: Callable) -> None:
    source = source_of(make_raster(hill(), cell=25.0))
    x, y = middle_tile(source, 15)
    one, two = (pixels(relief_tile(source, 15, x, y, scale=s)).astype(float) for s in (1, 2))
    assert two.shape == (4, 2 * TILE_PIXELS, 2 * TILE_PIXELS)
    mean = two[0].reshape(256, 2, 256, 2).mean(axis=(1, 3))
    assert np.abs(mean - one[0]).mean() < 6.0


@pytest.mark.parametrize(
    ("crs", "options"),
    [
        ("EPSG:32633", {}),
        ("EPSG:4326", {"cell": 0.0003, "origin": (15.0, 47.0)}),
        ("EPSG:4326", {"cell": 0.0003, "origin": (179.985, -16.0)}),
        ("EPSG:3995", {"cell": 30.0, "origin": (-900_000.0, -900_000.0)}),
    ],
)
def test_relief_tile__every_pixel_shows_the_ground_that_is_there(
    make_raster: Callable, crs: str, options: dict
) -> None:
    """Known cells of the tile are those whose pixel centre the raster's own reference holds."""
    source = source_of(make_raster(hill(), crs=crs, **options))
    zoom = closest_zoom(source.terrain.cell_m, (source.south + source.north) / 2) - 4
    x, y = middle_tile(source, zoom)
    found = pixels(relief_tile(source, zoom, x, y))
    share = (np.arange(256) + 0.5) / 256
    lon = ((x + share) / 2**zoom - 0.5) * 360.0
    lat = np.degrees(np.arctan(np.sinh(math.pi * (1 - 2 * (y + share) / 2**zoom))))
    row, col = source.terrain.reference.to_nodes(np.tile(lon, 256), np.repeat(lat, 256))
    rows, cols = source.terrain.shape
    inside = (row > -0.5) & (row < rows - 0.5) & (col > -0.5) & (col < cols - 0.5)
    wrong = inside.reshape(256, 256) != (found[3] > 127)
    assert inside.any()
    assert wrong.mean() < 0.01  # pixels on the very edge


def test_relief_tile__none_where_nothing_is(make_raster: Callable) -> None:
    source = source_of(make_raster(hill()))
    x, y = middle_tile(source, 14)
    assert relief_tile(source, 14, (x + 5000) % 2**14, y) is None
    void = source_of(make_raster(np.full((40, 40), -9999.0), nodata=-9999.0, name="void.tif"))
    assert relief_tile(void, 14, *middle_tile(void, 14)) is None


@pytest.mark.parametrize("shape", [(1, 1), (1, 50), (2, 3)])
def test_relief_tile__tiny_rasters(make_raster: Callable, shape: tuple[int, int]) -> None:
    source = source_of(make_raster(np.full(shape, 120.0), cell=50.0))
    tile = relief_tile(source, 15, *middle_tile(source, 15))
    assert tile is not None
    assert (pixels(tile)[3] > 0).any()


def test_relief_tile__zoom_zero_to_the_closest_one(make_raster: Callable) -> None:
    source = source_of(make_raster(hill()))
    for zoom in range(closest_zoom(10.0, 47.0) + 3):
        assert zoom_facts(source, zoom).factor >= 1
        relief_tile(source, zoom, *middle_tile(source, zoom))
