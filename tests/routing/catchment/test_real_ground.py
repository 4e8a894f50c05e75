"""Catchments of real ground, against an independent library that finds its own directions.

The raster is the sample of public elevations that the plotting library carries: 344 x 403 cells of
three arc-seconds in whole metres, with pits and terraces as such rasters have them.
"""

from __future__ import annotations

import numpy as np
import pyflwdir
import pytest
from filled_ground import highest_on_the_way
from matplotlib.cbook import get_sample_data
from rasterio.transform import Affine

from routing.catchment import catchment_areas, drain, stream_network
from routing.terrain import open_terrain


@pytest.fixture(scope="module")
def sample():
    with get_sample_data("jacksboro_fault_dem.npz") as held:
        heights = held["elevation"].astype(np.float64)
        west, north = float(held["xmin"]), float(held["ymax"])
        across, down = float(held["dx"]), float(held["dy"])
    return heights, Affine(across, 0.0, west, 0.0, -down, north)


@pytest.fixture
def found(sample, make_raster):
    heights, transform = sample
    path = make_raster(heights, crs="EPSG:4326", transform=transform, nodata=-9999)
    return drain(open_terrain([path]))


def test_catchment_areas__the_same_ways_add_up_to_the_same(found):
    ways = found.directions.astype(int)
    codes = np.where(ways < 8, 1 << np.minimum(ways, 7), np.where(ways == 8, 0, 247))
    theirs = pyflwdir.from_array(codes.astype(np.uint8), ftype="d8").upstream_area("cell")
    ours = catchment_areas(found).area_m2 / found.sizes.area_m2.mean()
    # Cells of three arc-seconds differ by some thousandths from the south to the north.
    np.testing.assert_allclose(ours, theirs, rtol=5e-3)


def test_catchment_areas__streams_are_those_of_a_library_of_its_own_ways(sample, found):
    """Most of the larger streams hold the same water, within one cell to either side.

    Whole metres leave ties on terraces and at the rims of pits, which each side breaks in its own
    way; a tie that turns a whole side valley is seen all the way down. Measured: 83 of 100 cells
    agree within 2 %, 88 within 5 %.
    """
    heights, _ = sample
    theirs = pyflwdir.from_dem(heights.astype(np.float32), outlets="edge").upstream_area("cell")
    ours = catchment_areas(found).area_m2 / found.sizes.area_m2.mean()
    large = np.argwhere(theirs >= 1000)
    agree = []
    for row, col in large:
        near = ours[max(row - 1, 0) : row + 2, max(col - 1, 0) : col + 2]
        agree.append(np.min(np.abs(near / theirs[row, col] - 1.0)) < 0.02)
    assert large.shape[0] > 500
    assert np.mean(agree) > 0.8


def test_stream_network__no_water_is_lost_on_the_way(found):
    network = stream_network(found, 1e6)
    down = network.below >= 0
    assert (network.area_m2[down] < network.area_m2[network.below[down]]).all()
    out = catchment_areas(found).area_m2[found.directions == 8].sum()
    assert out == pytest.approx(found.sizes.area_m2.mean() * found.directions.size, rel=1e-3)


def test_filled_levels__on_real_ground(sample, found):
    """What the library fills each pit to is the highest cell on our ways out, to the last bit."""
    heights = sample[0].astype(np.float32)
    theirs, _ = pyflwdir.dem.fill_depressions(heights, outlets="edge")
    np.testing.assert_array_equal(highest_on_the_way(heights, found.directions), theirs)
