"""Catchment areas against an independent library, against the ellipsoid, and strip by strip."""

from __future__ import annotations

import numpy as np
import pyflwdir
import pytest
from pyproj import Geod
from rasterio.transform import Affine

from routing.catchment import areas, catchment_areas, drain, strips_of_areas
from routing.catchment.cells import cell_sizes
from routing.errors import RasterTooLarge
from routing.terrain import open_terrain

OUTLINE = {
    "degrees": {"crs": "EPSG:4326", "cell": 0.01, "origin": (11.0, 47.5)},
    "degrees far north": {"crs": "EPSG:4326", "cell": 0.01, "origin": (11.0, 71.0)},
    "UTM": {"crs": "EPSG:32633", "cell": 100.0},
    "far off the middle of its zone": {
        "crs": "EPSG:32633",
        "cell": 100.0,
        "origin": (850_000.0, 5_200_000.0),
    },
    "Mercator": {"crs": "EPSG:3857", "cell": 100.0, "origin": (1.2e6, 6.0e6)},
    "turned": {
        "crs": "EPSG:32633",
        "transform": Affine(78.0, 45.0, 5e5, 45.0, -78.0, 52e5),
    },
}


def ground(seed=2, shape=(90, 70), step=None):
    rng = np.random.default_rng(seed)
    walk = np.cumsum(np.cumsum(rng.normal(size=shape), axis=0), axis=1)
    return walk if step is None else np.round(walk / step) * step


@pytest.fixture
def drained(make_raster):
    """Return the maker: heights in, drainage out."""

    def make(heights, **options):
        return drain(open_terrain([make_raster(heights, nodata=np.nan, **options)]))

    return make


def as_library(found):
    """Return the same directions in pyflwdir, which adds them up by its own means."""
    ways = found.directions.astype(int)
    codes = np.where(ways < 8, 1 << np.minimum(ways, 7), np.where(ways == 8, 0, 247))
    return pyflwdir.from_array(codes.astype(np.uint8), ftype="d8")


@pytest.mark.parametrize("step", [None, 5.0], ids=["rough", "terraces"])
def test_catchment_areas__pyflwdir(drained, step):
    heights = ground(step=step)
    heights[20:30, 40:50] = np.nan
    found = drained(heights)
    theirs = np.maximum(as_library(found).upstream_area("cell"), 0)
    ours = catchment_areas(found).area_m2 / found.sizes.area_m2.mean()
    np.testing.assert_allclose(ours, theirs, rtol=1e-4)


def test_filled_levels__pyflwdir(drained):
    """What pyflwdir fills to is the highest cell on our ways out."""
    from filled_ground import highest_on_the_way

    heights = ground(step=5.0).astype(np.float32)
    found = drained(heights)
    theirs, _ = pyflwdir.dem.fill_depressions(heights, outlets="edge")
    np.testing.assert_array_equal(highest_on_the_way(heights, found.directions), theirs)


@pytest.mark.parametrize("place", OUTLINE.values(), ids=OUTLINE.keys())
def test_cell_sizes__cells_fill_the_outline(make_raster, place):
    """The sum of all cells is the geodesic area of the raster's outline (Karney's algorithm)."""
    terrain = open_terrain([make_raster(np.zeros((60, 80)), **place)])
    sizes = cell_sizes(terrain)
    nodes = sizes.areas(0, 60)
    at = np.arange(80) / sizes.column_step
    total = sum(np.interp(at, np.arange(nodes.shape[1]), row).sum() for row in nodes)
    along = np.linspace(0.0, 1.0, 400)[:-1]
    top, left = along * 80 - 0.5, along * 60 - 0.5
    row = np.concatenate(([-0.5] * 399, left, [59.5] * 399, left[::-1] + 60 / 399))
    col = np.concatenate((top, [79.5] * 399, top[::-1] + 80 / 399, [-0.5] * 399))
    area, _ = Geod(ellps="WGS84").polygon_area_perimeter(*terrain.reference.to_lonlat(row, col))
    assert total == pytest.approx(abs(area), rel=2e-6)


def test_catchment_areas__say_where_the_raster_ends(drained):
    """On a valley whose head is the raster's edge all is at least; an inner cone knows its own."""
    side = np.arange(-10.0, 11.0)
    bowl = np.hypot(*np.meshgrid(side, side))
    found = drained(np.minimum(bowl, 12.0 - bowl) - bowl.max() * (bowl > 9.0))
    flag = catchment_areas(found).at_least
    row, col = np.nonzero(found.directions == 8)
    assert np.all(flag[row, col] == 1)
    assert flag[10, 16] == 0


@pytest.mark.parametrize("step", [None, 3.0], ids=["rough", "terraces"])
def test_strips_of_areas__are_the_whole(drained, monkeypatch, step):
    heights = ground(7, (90, 40), step)
    heights[40:44, 10:20] = np.nan
    found = drained(heights)
    whole = catchment_areas(found)
    monkeypatch.setattr(areas, "ONE_PIECE_CELLS", 100)
    monkeypatch.setattr(areas, "STRIP_CELLS", 200)
    strips = list(strips_of_areas(found))
    assert len(strips) == 18
    assert [strip.first for strip in strips] == list(range(0, 90, 5))
    parts = np.concatenate([strip.area_m2 for strip in strips])
    np.testing.assert_allclose(parts, whole.area_m2, rtol=1e-12)
    flags = np.concatenate([strip.at_least for strip in strips])
    np.testing.assert_array_equal(flags, whole.at_least)
    with pytest.raises(RasterTooLarge, match="90 x 40"):
        catchment_areas(found)
