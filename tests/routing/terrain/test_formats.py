"""Every format and every odd but honest grid is read right, and read alone."""

from __future__ import annotations

import sqlite3
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import rasterio
from pyproj import Geod, Transformer
from rasterio.shutil import copy
from rasterio.transform import Affine

from routing.errors import UnreadableRaster
from routing.line import Route, ground_profile
from routing.terrain import describe_terrain, open_terrain, read_corners

Make = Callable[..., Path]
Z = 400.0 + np.add.outer(np.arange(50.0), 0.5 * np.arange(60.0))


def corner_heights(path: Path, **options: object) -> list[float]:
    """Return elevations around the middle of the first cell's lower right corner."""
    return list(read_corners(open_terrain([path], **options), [0], [0])[:, 0])  # type: ignore[arg-type]


@pytest.mark.parametrize("driver", ["GTiff", "COG", "HFA", "GPKG", "AAIGrid", "BigTIFF"])
def test_open_terrain__formats(make_raster: Make, tmp_path: Path, driver: str) -> None:
    source = make_raster(Z)
    path = tmp_path / {"HFA": "a.img", "GPKG": "a.gpkg", "AAIGrid": "a.asc"}.get(driver, "a.tif")
    if driver in ("COG", "AAIGrid"):
        with rasterio.open(source) as dataset:
            copy(dataset, path, driver=driver)
    elif driver == "BigTIFF":
        path = make_raster(Z, bigtiff="YES", name="a.tif")
    else:
        path = make_raster(Z, driver=driver, name=path.name, nodata=-9999.0)
    terrain = open_terrain([path])
    assert terrain.crs_name == "EPSG:32633"
    assert terrain.cell_m == pytest.approx(10.0)
    lon, lat = Transformer.from_crs(32633, 4326, always_xy=True).transform(
        [500_015.0, 500_515.0], [5_199_985.0, 5_199_685.0]
    )
    profile = ground_profile(terrain, Route(name="r", lon=lon, lat=lat))
    assert profile.ground_m[[0, -1]] == pytest.approx([Z[1, 1], Z[31, 51]], abs=2e-4)
    assert describe_terrain(terrain)["missing_share"] < 0.97  # a GeoPackage has whole tiles


def test_open_terrain__geopackage_is_one_file(make_raster: Make, tmp_path: Path) -> None:
    path = make_raster(Z, driver="GPKG", name="a.gpkg", nodata=-9999.0)
    expected = corner_heights(path)
    before = sorted(item.name for item in tmp_path.iterdir())
    # A journal beside it would be played back into the database, if anything looked at it.
    (tmp_path / "a.gpkg-journal").write_bytes(b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7" + b"\1" * 2000)
    assert corner_heights(path) == expected
    (tmp_path / "a.gpkg-journal").unlink()
    assert sorted(item.name for item in tmp_path.iterdir()) == before
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA journal_mode=WAL")
    connection.close()
    with pytest.raises(UnreadableRaster, match="second file"):
        open_terrain([path])
    other = tmp_path / "b.gpkg"
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE t (a)")
    connection.close()
    with pytest.raises(UnreadableRaster, match="no GeoPackage"):
        open_terrain([other])


@pytest.mark.parametrize("packed", [False, True])
def test_open_terrain__srtm_tile(tmp_path: Path, packed: bool) -> None:
    z = np.full((1201, 1201), 500, dtype=">i2")
    z[0, 1], z[1, 1], z[5, 5] = 510, 530, -32768
    path = tmp_path / "N46E015.hgt"
    path.write_bytes(z.tobytes())
    if packed:
        with zipfile.ZipFile(tmp_path / "t.zip", "w", zipfile.ZIP_DEFLATED) as archive:
            archive.write(path, path.name)
        path = tmp_path / "t.zip"
    terrain = open_terrain([path])
    assert (terrain.unit, terrain.unit_source) == ("metre", "format")
    # Cells lie on the whole degrees: the first centre is 47 N, 15 E.
    lon, lat = terrain.reference.to_lonlat([0.0], [0.0])
    assert (lon[0], lat[0]) == pytest.approx((15.0, 47.0), abs=1e-9)
    assert read_corners(terrain, [0], [0])[:, 0].tolist() == [500, 510, 500, 530]
    assert np.isnan(read_corners(terrain, [5], [5])[0, 0])
    assert terrain.kind is not None
    assert terrain.kind.id == "srtm"
    codes = {found.code for found in terrain.findings}
    assert {"surface_model", "stair_steps", "accuracy_typical"} <= codes


@pytest.mark.parametrize(
    "dtype", ["uint8", "int8", "int16", "uint16", "int32", "uint32", "float32", "float64"]
)
@pytest.mark.parametrize("tiled", [False, True])
def test_read_corners__any_number_type(make_raster: Make, dtype: str, tiled: bool) -> None:
    values = np.array([[1, 2, 3], [4, 5, 6], [7, 8, 9]]) * 10
    path = make_raster(values, dtype=dtype, tiled=tiled, unit="m")
    assert corner_heights(path) == [10.0, 20.0, 40.0, 50.0]


@pytest.mark.parametrize("interleave", ["pixel", "band"])
def test_read_corners__chosen_band(make_raster: Make, interleave: str) -> None:
    bands = np.stack([np.full((4, 4), value, dtype="float32") for value in (1, 2, 3)])
    path = make_raster(bands, interleave=interleave)
    assert corner_heights(path, band=2) == [2.0] * 4


@pytest.mark.parametrize("kind", ["Area", "Point"])
def test_open_terrain__area_or_point(make_raster: Make, kind: str) -> None:
    # The tie point is a corner for areas and a centre for points; the georeference says the same.
    path = make_raster(Z)
    with rasterio.open(path, "r+") as dataset:
        dataset.update_tags(AREA_OR_POINT=kind)
    assert open_terrain([path]).transform == (10.0, 0.0, 500_000.0, 0.0, -10.0, 5_200_000.0)


def test_open_terrain__world_file_is_not_read(make_raster: Make) -> None:
    path = make_raster(Z)
    path.with_suffix(".tfw").write_text("1\n0\n0\n-1\n7\n7\n")
    assert open_terrain([path]).transform[2] == 500_000.0


@pytest.mark.parametrize(
    "transform",
    [
        Affine(10, 0, 500_000, 0, -25, 5_200_000),
        Affine(10, 0, 500_000, 0, 10, 5_199_500),
        Affine(-10, 0, 500_600, 0, -10, 5_200_000),
        Affine(8, 6, 500_000, 6, -8, 5_200_000),
    ],
    ids=["oblong", "south up", "east left", "rotated"],
)
def test_ground_profile__grids_of_any_lie(make_raster: Make, transform: Affine) -> None:
    rows, cols = 50, 60
    col, row = np.meshgrid(np.arange(cols) + 0.5, np.arange(rows) + 0.5)
    x, y = transform @ (col, row)

    def plane(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 900.0 + 0.3 * (x - 500_000) - 0.2 * (y - 5_200_000)

    terrain = open_terrain([make_raster(plane(x, y), transform=transform, dtype="float64")])
    ends_x, ends_y = transform @ (np.array([3.0, 55.0]), np.array([4.0, 47.0]))
    to_map = Transformer.from_crs(4326, 32633, always_xy=True)
    lon, lat = to_map.transform(ends_x, ends_y, direction="INVERSE")
    profile = ground_profile(terrain, Route(name="r", lon=lon, lat=lat))
    known = plane(*to_map.transform(profile.lon, profile.lat))
    assert profile.ground_m == pytest.approx(known, abs=1e-5)


@pytest.mark.parametrize(
    ("crs", "place"),
    [
        ("EPSG:3857", (14.0, 62.0)),
        ("EPSG:3413", (-45.0, 78.0)),  # north polar stereographic
        ("EPSG:3031", (70.0, -71.0)),  # south polar stereographic
        ("EPSG:2193", (170.0, -44.0)),
        ("EPSG:32633", (15.5, 55.0)),
    ],
)
def test_ground_profile__true_lengths_in_any_projection(
    make_raster: Make, crs: str, place: tuple[float, float]
) -> None:
    # Lengths are those of the geodesic, whatever the scale of the map (GeographicLib by pyproj).
    to_map = Transformer.from_crs(4326, crs, always_xy=True)
    x, y = to_map.transform(*place)
    terrain = open_terrain([make_raster(Z, crs=crs, cell=30.0, origin=(x - 900, y + 750))])
    ends = to_map.transform([x - 600, x + 500], [y + 400, y - 300], direction="INVERSE")
    profile = ground_profile(terrain, Route(name="r", lon=ends[0], lat=ends[1]))
    line = Geod(ellps="WGS84").line_length(profile.lon, profile.lat)
    assert profile.station_m[-1] == pytest.approx(line, abs=1e-4)


def test_ground_profile__longitudes_from_0_to_360(make_raster: Make) -> None:
    path = make_raster(Z, crs="EPSG:4326", cell=0.001, origin=(342.97, 62.03))
    profile = ground_profile(
        open_terrain([path]), Route(name="r", lon=[-17.02, -16.98], lat=[62.02, 61.99])
    )
    assert profile.lon[[0, -1]].tolist() == [-17.02, -16.98]
    assert profile.ground_m[0] == pytest.approx(400 + 9.5 + 0.5 * 9.5)
