"""Profiles of open data against two other implementations of the bilinear surface.

Data: the tile of SRTM 3 arc-second elevations that matplotlib ships as ``jacksboro_fault_dem.npz``
(public domain, whole metres). References: ``scipy.interpolate.RegularGridInterpolator`` and GDAL's
warper.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from matplotlib.cbook import get_sample_data
from rasterio.transform import Affine
from rasterio.warp import Resampling, reproject
from scipy.interpolate import RegularGridInterpolator

from routing.line import Route, find_extremes, ground_profile
from routing.terrain import open_terrain

Make = Callable[..., Path]
LINES = [
    ([-84.39, -84.25, -84.11], [36.71, 36.58, 36.47]),
    ([-84.30, -84.30], [36.70, 36.50]),
    ([-84.40, -84.10], [36.60, 36.60]),
    ([-84.2003, -84.2111, -84.1957, -84.2044], [36.5007, 36.5123, 36.5231, 36.5008]),
]


def srtm() -> tuple[np.ndarray, Affine]:
    """Return the tile and its place: bounds of pixel corners, north up."""
    with np.load(get_sample_data("jacksboro_fault_dem.npz", asfileobj=False)) as data:
        z = data["elevation"]
        west, north = float(data["xmin"]), max(float(data["ymin"]), float(data["ymax"]))
        dx, dy = float(data["dx"]), float(data["dy"])
    return z, Affine(dx, 0.0, west, 0.0, -dy, north)


@pytest.mark.parametrize("line", LINES, ids=["diagonal", "meridian", "parallel", "short legs"])
def test_ground_profile__scipy_regular_grid_interpolator(
    make_raster: Make, line: tuple[list[float], list[float]]
) -> None:
    z, transform = srtm()
    terrain = open_terrain([make_raster(z, crs="EPSG:4326", transform=transform, dtype="int16")])
    profile = ground_profile(terrain, Route(name="line", lon=line[0], lat=line[1]))
    lat = transform.f + transform.e * (np.arange(z.shape[0]) + 0.5)
    lon = transform.c + transform.a * (np.arange(z.shape[1]) + 0.5)
    surface = RegularGridInterpolator((lat[::-1], lon), z[::-1].astype(np.float64))
    expected = surface(np.column_stack([profile.lat, profile.lon]))
    # The interpolator's own arithmetic in degrees is good to about 1e-8 cells.
    assert profile.ground_m == pytest.approx(expected, abs=1e-6)

    # Ten thousand samples of each leg: nothing higher or lower than the profile knows.
    for leg in range(len(line[0]) - 1):
        share = np.linspace(0.0, 1.0, 10_001)
        dense = surface(
            np.column_stack(
                [
                    line[1][leg] + share * (line[1][leg + 1] - line[1][leg]),
                    line[0][leg] + share * (line[0][leg + 1] - line[0][leg]),
                ]
            )
        )
        begin, end = profile.vertex_station_m[leg : leg + 2]
        part = (profile.station_m >= begin) & (profile.station_m <= end)
        assert dense.max() <= profile.ground_m[part].max() + 1e-6
        assert dense.min() >= profile.ground_m[part].min() - 1e-6
        level = np.round(dense, 9)  # rounding would turn one flat top of whole metres into several
        highs, lows = find_extremes(np.arange(level.size), level, least_prominence_m=0.5)
        ours = find_extremes(
            profile.station_m[part], profile.ground_m[part], least_prominence_m=0.4
        )
        assert len(ours[0]) >= len(highs)
        assert len(ours[1]) >= len(lows)


def test_ground_profile__gdal_warper(make_raster: Make) -> None:
    # GDAL resamples the tile to cells five times finer, bilinear; their centres are vertices here.
    z, transform = srtm()
    source = z[100:180, 120:220].astype(np.float64)
    placed = transform @ Affine.translation(120, 100)
    fine = np.empty((400, 500))
    reproject(
        source, fine,
        src_transform=placed, src_crs="EPSG:4326",
        dst_transform=placed @ Affine.scale(0.2, 0.2), dst_crs="EPSG:4326",
        resampling=Resampling.bilinear, tolerance=0.0,
    )  # fmt: skip
    rng = np.random.default_rng(6)
    rows, cols = rng.integers(10, 390, 60), rng.integers(10, 490, 60)
    lon, lat = (placed @ Affine.scale(0.2, 0.2)) @ (cols + 0.5, rows + 0.5)
    terrain = open_terrain([make_raster(source, crs="EPSG:4326", transform=placed)])
    profile = ground_profile(terrain, Route(name="fine centres", lon=lon, lat=lat))
    assert profile.ground_m[profile.vertex] == pytest.approx(fine[rows, cols], abs=1e-4)
