"""What is told and shown of a terrain."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from rasterio.io import MemoryFile

from routing.errors import OutsideTerrain
from routing.terrain import Terrain, describe_terrain, open_terrain, relief_image
from routing.terrain import describe as describe_module

# Reading a picture back has no georeference to offer.
pytestmark = pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")

Make = Callable[..., Path]


def hill(rows: int, cols: int) -> np.ndarray:
    row, col = np.mgrid[0:rows, 0:cols]
    return 300 + 200 * np.exp(-((row - rows / 2) ** 2 + (col - cols / 2) ** 2) / (rows * cols / 20))


def picture(relief: object) -> np.ndarray:
    with MemoryFile(relief.image) as memory, memory.open() as dataset:  # type: ignore[attr-defined]
        return np.asarray(dataset.read()).astype(float)


def box(terrain: Terrain, shrink: float = 0.0) -> dict[str, float]:
    rows, cols = terrain.shape
    share = np.array([shrink, 1 - shrink])
    lon, lat = terrain.reference.to_lonlat(share * rows - 0.5, share * cols - 0.5)
    return {"west": lon[0], "east": lon[1], "south": lat[1], "north": lat[0]}


def test_describe_terrain__facts(make_raster: Make) -> None:
    z = hill(80, 100)
    z[:8] = -9999.0
    terrain = open_terrain([make_raster(z, nodata=-9999.0, unit="ft", tiled=True)], rmse_m=0.8)
    facts = describe_terrain(terrain)
    assert (facts["rows"], facts["columns"], facts["format"]) == (80, 100, "GeoTIFF")
    assert facts["missing_share"] == pytest.approx(0.1)
    assert facts["lowest_m"] == pytest.approx(float(z[8:].min()) * 0.3048, abs=1e-3)
    assert facts["highest_m"] == pytest.approx(float(z.max()) * 0.3048, abs=1e-3)
    assert (facts["unit"], facts["rmse_m"], facts["read_share"]) == ("foot", 0.8, 1.0)
    assert facts["bounds_deg"]["west"] < facts["bounds_deg"]["east"]


def test_describe_terrain__nothing_but_voids(make_raster: Make) -> None:
    facts = describe_terrain(open_terrain([make_raster(np.full((5, 5), np.nan))]))
    assert (facts["lowest_m"], facts["highest_m"], facts["missing_share"]) == (None, None, 1.0)


def test_describe_terrain__large_raster_by_sample(
    make_raster: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(describe_module, "MOST_CELLS", 20_000)
    monkeypatch.setattr(describe_module, "PART_CELLS", 4096)
    facts = describe_terrain(open_terrain([make_raster(hill(256, 256), tiled=True)]))
    assert 0.2 < facts["read_share"] < 0.35
    assert facts["lowest_m"] >= 299.9


def test_relief_image__bounds_range_and_size(make_raster: Make) -> None:
    terrain = open_terrain([make_raster(hill(200, 300), tiled=True)])
    bounds = box(terrain, 0.1)
    relief = relief_image(terrain, **bounds, max_pixels=240)
    assert relief.media_type == "image/jpeg"
    assert (relief.west, relief.east) == (bounds["west"], bounds["east"])
    assert 300 <= relief.low_m < 310
    assert 495 < relief.high_m <= 500
    image = picture(relief)
    assert max(image.shape[1:]) == 240
    assert image.shape[2] > image.shape[1]


def test_relief_image__lit_from_the_north_west(make_raster: Make) -> None:
    terrain = open_terrain([make_raster(hill(200, 200))])
    image = picture(relief_image(terrain, **box(terrain, 0.02), max_pixels=200)).mean(axis=0)
    size = image.shape[0]
    north_west = image[size // 4 : size // 2, size // 4 : size // 2].mean()
    south_east = image[size // 2 : 3 * size // 4, size // 2 : 3 * size // 4].mean()
    assert north_west > south_east + 15


def test_relief_image__a_peak_stands_where_it_is(make_raster: Make) -> None:
    z = np.full((200, 200), 100.0)
    z[49:52, 149:152] = 5000.0  # one bright tower at row 50, column 150
    terrain = open_terrain([make_raster(z)])
    bounds = box(terrain)
    lon, lat = terrain.reference.to_lonlat([50.0], [150.0])
    image = picture(relief_image(terrain, **bounds, max_pixels=400)).mean(axis=0)
    flat = np.median(image)
    at_row, at_col = np.nonzero(np.abs(image - flat) > 25)
    share = (lon[0] - bounds["west"]) / (bounds["east"] - bounds["west"])
    down = (bounds["north"] - lat[0]) / (bounds["north"] - bounds["south"])
    assert at_col.mean() / image.shape[1] == pytest.approx(share, abs=0.02)
    assert at_row.mean() / image.shape[0] == pytest.approx(down, abs=0.02)


def test_relief_image__plain_where_missing(make_raster: Make) -> None:
    z = hill(100, 100)
    z[:50] = np.nan
    terrain = open_terrain([make_raster(z)])
    image = picture(relief_image(terrain, **box(terrain), max_pixels=200))
    assert np.abs(image[:, 10:80, 20:-20] - 232).max() < 12


def test_relief_image__tiles_without_a_seam(make_raster: Make) -> None:
    z = hill(200, 200)
    whole = open_terrain([make_raster(z, name="whole.tif")])
    parts = open_terrain(
        [
            make_raster(z[:, :90], name="a.tif"),
            make_raster(z[:, 90:], name="b.tif", origin=(500_900.0, 5_200_000.0)),
        ]
    )
    one, two = (picture(relief_image(t, **box(whole), max_pixels=200)) for t in (whole, parts))
    assert np.abs(one - two).mean() < 2.0


def test_relief_image__nothing_there(make_raster: Make) -> None:
    terrain = open_terrain([make_raster(hill(50, 50))])
    bounds = box(terrain)
    away = {**bounds, "west": bounds["west"] + 1, "east": bounds["east"] + 1}
    with pytest.raises(OutsideTerrain, match="no elevation"):
        relief_image(terrain, **away)
