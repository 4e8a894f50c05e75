"""Contours against surfaces whose level lines are known."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from pyproj import Transformer

from routing.terrain import open_terrain, read_corners
from routing.terrain.contour import contour_interval, contour_tile
from routing.terrain.map_tile import TileSource, map_share, tile_source
from routing.terrain.reduced import reduced_copies

ORIGIN = (500_000.0, 5_200_000.0)
TO_MAP = Transformer.from_crs("EPSG:4326", "EPSG:32633", always_xy=True)


def source_of(path: Path, **options) -> TileSource:
    terrain = open_terrain([path], **options)
    return tile_source(terrain, reduced_copies(terrain))


def tiles(source: TileSource, zoom: int) -> list[tuple[int, int]]:
    x, y = map_share(np.array([source.west, source.east]), np.array([source.north, source.south]))
    first, last = (x * 2**zoom).astype(int), (y * 2**zoom).astype(int)
    return [(i, j) for i in range(first[0], first[1] + 1) for j in range(last[0], last[1] + 1)]


def test_contour_tile__on_a_cone_they_are_circles(make_raster: Callable) -> None:
    row, col = np.mgrid[0:200, 0:200]
    distance = 10.0 * np.hypot(row - 99.5, col - 99.5)
    source = source_of(make_raster(800.0 - 0.3 * distance))
    x0, y0 = ORIGIN[0] + 1000.0, ORIGIN[1] - 1000.0
    seen = 0
    for x, y in tiles(source, 15):
        tile = contour_tile(source, 15, x, y)
        for contour in tile.contours if tile else ():
            wanted = (800.0 - contour.level_m) / 0.3
            if not 100.0 < wanted < 980.0:
                continue
            for piece in contour.pieces:
                east, north = TO_MAP.transform(*piece)
                radius = np.hypot(east - x0, north - y0)
                np.testing.assert_allclose(radius, wanted, atol=1.5)  # chords of 10 m cells
                seen += 1
    assert seen > 8


@pytest.mark.parametrize("zoom", [17, 19])
def test_contour_tile__close_up_they_lie_on_the_bilinear_surface(
    make_raster: Callable, zoom: int
) -> None:
    field = np.random.default_rng(2).normal(400.0, 8.0, (30, 30))
    source = source_of(make_raster(field))
    interval = contour_interval(source, zoom)
    checked = 0
    for x, y in tiles(source, zoom)[::7]:
        tile = contour_tile(source, zoom, x, y)
        for contour in tile.contours if tile else ():
            for piece in contour.pieces:
                row, col = source.terrain.reference.to_nodes(*piece)
                r0, c0 = np.floor(row).astype(int), np.floor(col).astype(int)
                a, b, c, d = read_corners(source.terrain, r0, c0)
                t, u = row - r0, col - c0
                height = (a * (1 - u) + b * u) * (1 - t) + (c * (1 - u) + d * u) * t
                # quarters of a cell are followed straight: within a fraction of the interval
                assert np.abs(height - contour.level_m).max() < 0.5 * max(interval, 1.0)
                checked += piece.shape[1]
    assert checked > 20


@pytest.mark.parametrize("zoom", [13, 15, 17])
def test_contour_tile__neighbours_go_on_where_a_tile_ends(make_raster: Callable, zoom: int) -> None:
    row, col = np.mgrid[0:160, 0:160]
    field = 500.0 + 60.0 * np.sin(row / 17.0) * np.cos(col / 23.0) + 0.4 * row
    source = source_of(make_raster(field, cell=20.0))
    middle, down = map_share(
        np.array([(source.west + source.east) / 2]), np.array([(source.south + source.north) / 2])
    )
    x, y = round(float(middle[0]) * 2**zoom) - 1, int(down[0] * 2**zoom)
    edge = ((x + 1) / 2**zoom - 0.5) * 360.0

    def ends(at: int) -> set[tuple[float, int]]:
        tile = contour_tile(source, zoom, at, y)
        assert tile is not None
        return {
            (contour.level_m, round(float(piece[1, end]) * 1e6))
            for contour in tile.contours
            for piece in contour.pieces
            for end in (0, -1)
            if abs(piece[0, end] - edge) < 1.5e-7
        }

    here, there = ends(x), ends(x + 1)
    assert here
    near = {(level, lat + shift) for level, lat in there for shift in (-1, 0, 1)}
    assert here <= near


def test_contour_tile__every_fifth_is_an_index_and_levels_are_round(make_raster: Callable) -> None:
    row, col = np.mgrid[0:100, 0:100]
    source = source_of(make_raster(200.0 + 2.0 * row + 1.0 * col))
    for units, metres in (("metric", 1.0), ("us", 0.3048)):
        x, y = tiles(source, 15)[0]
        tile = contour_tile(source, 15, x, y, units)
        assert tile is not None
        assert tile.unit == ("m" if units == "metric" else "ft")
        for contour in tile.contours:
            number = contour.level / tile.interval
            assert number == pytest.approx(round(number))
            assert contour.level_m == pytest.approx(contour.level * metres, abs=1e-4)
            assert contour.index == (round(number) % 5 == 0)


def test_contour_tile__a_hole_ends_the_lines_and_flat_ground_has_none(
    make_raster: Callable,
) -> None:
    row, _ = np.mgrid[0:100, 0:100]
    field = 200.0 + 2.0 * row
    field[40:60, 40:60] = np.nan
    source = source_of(make_raster(field, nodata=np.nan))
    for x, y in tiles(source, 15):
        tile = contour_tile(source, 15, x, y)
        for contour in tile.contours if tile else ():
            for piece in contour.pieces:
                at_row, at_col = source.terrain.reference.to_nodes(*piece)
                inside = (at_row > 40.5) & (at_row < 58.5) & (at_col > 40.5) & (at_col < 58.5)
                assert not inside.any()
    flat = source_of(make_raster(np.full((50, 50), 123.4), name="flat.tif"))
    x, y = tiles(flat, 15)[0]
    tile = contour_tile(flat, 15, x, y)
    assert tile is None or tile.contours == ()


def test_contour_tile__beside_the_terrain_is_none(make_raster: Callable) -> None:
    source = source_of(make_raster(np.full((50, 50), 10.0)))
    assert contour_tile(source, 15, 3, 3) is None
    for shape in ((1, 1), (1, 40)):
        tiny = source_of(make_raster(np.full(shape, 10.0), name=f"tiny{shape[1]}.tif"))
        x, y = tiles(tiny, 15)[0]
        tile = contour_tile(tiny, 15, x, y)
        assert tile is None or tile.contours == ()


def test_contour_interval__closer_views_never_have_wider_ones(make_raster: Callable) -> None:
    row, col = np.mgrid[0:100, 0:100]
    source = source_of(make_raster(200.0 + 3.0 * row + 10.0 * np.sin(col / 5.0)))
    for units in ("metric", "us"):
        steps = [contour_interval(source, zoom, units) for zoom in range(20)]
        assert steps == sorted(steps, reverse=True)
