"""Reading corners: missing values of every kind, scales, units, tiles, windows."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from routing.errors import OutsideTerrain, RasterTooLarge, UnreadableRaster
from routing.terrain import GridWindow, open_terrain, read_corners, read_window
from routing.terrain import window as window_module

Make = Callable[..., Path]


def ramp(rows: int, cols: int) -> np.ndarray:
    return 100.0 + 10.0 * np.arange(rows)[:, None] + np.arange(cols)[None, :]


def test_read_corners__order_and_edge_values(make_raster: Make) -> None:
    terrain = open_terrain([make_raster(ramp(3, 4))])
    corners = read_corners(terrain, [0, -1, 2], [1, -1, 3])
    assert corners.T.tolist() == [
        [101.0, 102.0, 111.0, 112.0],
        [100.0, 100.0, 100.0, 100.0],
        [123.0, 123.0, 123.0, 123.0],
    ]
    assert read_corners(terrain, [], []).shape == (4, 0)


@pytest.mark.parametrize("layout", [{}, {"tiled": True}, {"blockysize": 7}, {"compress": "lzw"}])
@pytest.mark.parametrize("dtype", ["int16", "uint16", "int32", "float32", "float64"])
def test_read_corners__every_layout_and_type(
    make_raster: Make, layout: dict[str, object], dtype: str
) -> None:
    rng = np.random.default_rng(3)
    z = np.round(rng.uniform(200, 900, (300, 211)))
    terrain = open_terrain([make_raster(z, dtype=dtype, **layout)])
    rows, cols = rng.integers(-1, 300, 500), rng.integers(-1, 211, 500)
    corners = read_corners(terrain, rows, cols)
    for index, (down, right) in enumerate(((0, 0), (0, 1), (1, 0), (1, 1))):
        expected = z[np.clip(rows + down, 0, 299), np.clip(cols + right, 0, 210)]
        assert np.array_equal(corners[index], expected)


@pytest.mark.parametrize(
    ("nodata", "stored"),
    [
        (-9999.0, -9999.0),
        (np.nan, np.nan),
        (None, np.nan),
        (None, np.inf),
        (None, -np.inf),
        (None, -9999.0),
        (None, -3.4028234663852886e38),
        (-3.40282306e38, -3.4028234663852886e38),  # a fill value rounded on its way
        (-32768.0, -32768.0),
        (0.0, 0.0),
    ],
)
def test_read_corners__missing(make_raster: Make, nodata: float | None, stored: float) -> None:
    z = ramp(3, 4)
    z[1, 2] = stored
    terrain = open_terrain([make_raster(z, nodata=nodata)])
    corners = read_corners(terrain, [0], [1])[:, 0]
    assert np.isnan(corners[3])
    assert corners[:3].tolist() == [101.0, 102.0, 111.0]


def test_read_corners__internal_mask_and_alpha(make_raster: Make) -> None:
    z = ramp(3, 4)
    mask = np.ones(z.shape, dtype=bool)
    mask[1, 2] = False
    masked = open_terrain([make_raster(z, mask=mask, name="mask.tif")])
    alpha = np.stack([z, np.where(mask, 255.0, 0.0)])
    with_alpha = open_terrain([make_raster(alpha, name="alpha.tif", alpha="YES")])
    for terrain in (masked, with_alpha):
        corners = read_corners(terrain, [0, 1], [1, 2])
        assert np.isnan(corners).tolist() == [
            [False, True], [False, False], [False, False], [True, False]
        ]  # fmt: skip


def test_read_corners__scale_and_offset_before_unit(make_raster: Make) -> None:
    z = np.array([[1000, 1010], [1020, -32768]])
    path = make_raster(z, dtype="int16", nodata=-32768, scale=0.1, offset=500.0, unit="ft")
    corners = read_corners(open_terrain([path]), [0], [0])[:, 0]
    assert corners[:3] == pytest.approx([600 * 0.3048, 601 * 0.3048, 602 * 0.3048], abs=1e-9)
    assert np.isnan(corners[3])


def test_read_corners__chosen_band(make_raster: Make) -> None:
    path = make_raster(np.stack([ramp(3, 4), ramp(3, 4) + 500.0]), photometric="MINISBLACK")
    assert read_corners(open_terrain([path], band=2), [0], [0])[0, 0] == 600.0


def test_read_corners__text_is_not_rounded_to_float32(make_raster: Make, tmp_path: Path) -> None:
    path = tmp_path / "grid.asc"
    path.write_text(
        "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 25\n1391.9 390\n370.9 361.1\n"
    )
    corners = read_corners(open_terrain([path], crs="EPSG:32633"), [0], [0])
    assert corners[:, 0].tolist() == [1391.9, 390.0, 370.9, 361.1]


def test_read_corners__tiles_first_given_wins_where_valid(make_raster: Make) -> None:
    first = ramp(4, 4)
    first[1, 2] = np.nan
    paths = [
        make_raster(first, name="first.tif"),
        make_raster(ramp(4, 4) + 0.5, name="second.tif"),
        make_raster(ramp(4, 4) + 1000, name="right.tif", origin=(500_040.0, 5_200_000.0)),
    ]
    corners = read_corners(open_terrain(paths), [0, 0], [1, 3])
    assert corners.T.tolist() == [[101.0, 102.0, 111.0, 112.5], [103.0, 1100.0, 113.0, 1110.0]]


def test_read_corners__damaged_block(make_raster: Make) -> None:
    path = make_raster(np.random.default_rng(1).random((400, 400)), tiled=True, compress="deflate")
    path.write_bytes(path.read_bytes()[:200_000])

    def read_all() -> None:
        read_corners(open_terrain([path]), np.arange(390), np.arange(390))

    with pytest.raises(UnreadableRaster, match="damaged"):
        read_all()


def test_read_window__same_as_files(make_raster: Make) -> None:
    rng = np.random.default_rng(4)
    z = rng.uniform(100, 200, (120, 90))
    z[40:44, 30:33] = np.nan
    terrain = open_terrain([make_raster(z, tiled=True)])
    lon, lat = terrain.reference.to_lonlat([100.0, 20.0], [10.0, 80.0])
    window = read_window(terrain, lon.min(), lat.min(), lon.max(), lat.max())
    rows, cols = rng.integers(20, 99, 300), rng.integers(10, 79, 300)
    assert window.covers(rows, cols, terrain.shape)
    expected = read_corners(terrain, rows, cols)
    assert np.array_equal(window.read_corners(rows, cols), expected, equal_nan=True)
    assert not window.covers(np.array([2]), np.array([40]), terrain.shape)


def test_read_window__whole_raster_covers_its_edge(make_raster: Make) -> None:
    terrain = open_terrain([make_raster(ramp(6, 5))])
    lon, lat = terrain.reference.to_lonlat([-0.5, 5.5], [-0.5, 4.5])
    window = read_window(terrain, lon.min(), lat.min(), lon.max(), lat.max(), margin_cells=2)
    rows, cols = np.array([-1, 5]), np.array([-1, 4])
    assert window.covers(rows, cols, terrain.shape)
    assert np.array_equal(window.read_corners(rows, cols), read_corners(terrain, rows, cols))


def test_read_window__refusals(make_raster: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    terrain = open_terrain([make_raster(ramp(60, 50))])
    lon, lat = terrain.reference.to_lonlat([0.0, 40.0], [0.0, 40.0])
    box = (lon.min(), lat.min(), lon.max(), lat.max())
    with pytest.raises(OutsideTerrain):
        read_window(terrain, box[0] + 1, box[1], box[2] + 1, box[3])
    monkeypatch.setattr(window_module, "MAX_WINDOW_NODES", 100)
    with pytest.raises(RasterTooLarge, match="smaller area"):
        read_window(terrain, *box)


def test_grid_window__is_read_only() -> None:
    window = GridWindow(row0=0, col0=0, heights_m=np.zeros((2, 2)))
    with pytest.raises(ValueError, match="read-only"):
        window.heights_m[0, 0] = 1.0
