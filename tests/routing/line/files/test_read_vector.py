"""GeoPackages and shapefiles as GDAL writes them, in degrees, in metres and without a system."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import geopandas
import pytest
import shapely
from geographiclib.geodesic import Geodesic

from routing.errors import RouteError
from routing.line import read_route

LON, LAT = [7.1, 7.11, 7.12], [46.3, 46.31, 46.29]
LINE = shapely.LineString(list(zip(LON, LAT, strict=True)))


def _write(
    path: Path, shapes: list[object], crs: str | None = "EPSG:4326", **columns: object
) -> Path:
    frame = geopandas.GeoDataFrame(columns, geometry=shapes, crs=crs)
    frame.to_file(path, engine="pyogrio")
    return path


@pytest.mark.parametrize("name", ["pipe.gpkg", "pipe.shp"])
@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:25832", "EPSG:32632", "EPSG:3857", "EPSG:2056"])
def test_read_route__own_system_is_honoured(tmp_path: Path, name: str, crs: str) -> None:
    shape = geopandas.GeoSeries([LINE], crs="EPSG:4326").to_crs(crs)[0]
    route = read_route(_write(tmp_path / name, [shape], crs, Name=["Otter"]))
    assert route.name == "Otter"
    metres = [
        Geodesic.WGS84.Inverse(y, x, b, a)["s12"]
        for x, y, a, b in zip(LON, LAT, route.lon, route.lat, strict=True)
    ]
    # Leaving heights out of a datum shift costs 1.3 mm in the Swiss system, less elsewhere.
    assert max(metres) < 0.002


@pytest.mark.parametrize("name", ["pipe.gpkg", "pipe.shp"])
def test_read_route__height_and_parts(tmp_path: Path, name: str) -> None:
    parts = shapely.MultiLineString(
        [[(7.1, 46.3, 9), (7.11, 46.31, 8)], [(7.11, 46.31, 8), (7.12, 46.29, 7)]]
    )
    route = read_route(_write(tmp_path / name, [parts], id=[1]))
    assert (route.name, route.lon.tolist(), route.lat.tolist()) == ("pipe", LON, LAT)


def test_read_route__shapefile_without_a_system_is_wgs84(tmp_path: Path) -> None:
    path = _write(tmp_path / "pipe.shp", [LINE], id=[1])
    path.with_suffix(".prj").unlink()
    assert read_route(path).lon.tolist() == LON


@pytest.mark.filterwarnings("ignore:'crs' was not provided")
def test_read_route__metres_without_a_system_are_refused(tmp_path: Path) -> None:
    shape = shapely.LineString([(430000, 5130000), (430100, 5130100)])
    with pytest.raises(RouteError, match="map grid"):
        read_route(_write(tmp_path / "pipe.shp", [shape], None, id=[1]))


def test_read_route__wrong_system_is_refused(tmp_path: Path) -> None:
    shape = shapely.LineString([(1e12, 1e12), (2e12, 1e12)])
    with pytest.raises(RouteError, match=r"pipe\.gpkg cannot be converted|map grid|not a place"):
        read_route(_write(tmp_path / "pipe.gpkg", [shape], "EPSG:25832", id=[1]))


def test_read_route__second_layer_may_hold_the_line(tmp_path: Path) -> None:
    path = _write(tmp_path / "pipe.gpkg", [shapely.Point(1, 2)], id=[1])
    geopandas.GeoDataFrame(geometry=[LINE], crs="EPSG:4326").to_file(path, layer="line")
    assert read_route(path).lat.tolist() == LAT


@pytest.mark.parametrize("name", ["pipe.gpkg", "pipe.shp"])
def test_read_route__several_lines_are_named(tmp_path: Path, name: str) -> None:
    path = _write(tmp_path / name, [LINE, LINE], name=["east", None])
    with pytest.raises(RouteError, match="2 lines: east, line 2"):
        read_route(path)


@pytest.mark.parametrize("name", ["pipe.gpkg", "pipe.shp"])
def test_read_route__other_shapes_are_counted(tmp_path: Path, name: str) -> None:
    square = shapely.box(7, 46, 8, 47)
    with pytest.raises(RouteError, match="no line, only 2 Polygon"):
        read_route(_write(tmp_path / name, [square, square], id=[1, 2]))


def test_read_route__shapefile_without_index_is_refused(tmp_path: Path) -> None:
    path = _write(tmp_path / "pipe.shp", [LINE], id=[1])
    path.with_suffix(".shx").unlink()
    with pytest.raises(RouteError, match=r"\.shx"):
        read_route(path)


@pytest.mark.parametrize("keep", [120, 1000, 5000])
def test_read_route__cut_short_geopackage_is_refused(tmp_path: Path, keep: int) -> None:
    path = _write(tmp_path / "pipe.gpkg", [LINE], id=[1])
    path.write_bytes(path.read_bytes()[:keep])
    with pytest.raises(RouteError, match=r"pipe\.gpkg"):
        read_route(path)


@pytest.mark.parametrize("keep", [60, 100, 130, 150])
def test_read_route__cut_short_shapefile_is_refused(tmp_path: Path, keep: int) -> None:
    path = _write(tmp_path / "pipe.shp", [LINE], id=[1])
    path.write_bytes(path.read_bytes()[:keep])
    with pytest.raises(RouteError, match=r"pipe\.shp"):
        read_route(path)


def test_read_route__database_that_is_no_geopackage(tmp_path: Path) -> None:
    path = tmp_path / "pipe.db"
    with sqlite3.connect(path) as database:
        database.execute("create table t (a)")
    database.close()
    with pytest.raises(RouteError, match="no GeoPackage"):
        read_route(path)


def test_read_route__part_of_a_shapefile(tmp_path: Path) -> None:
    path = _write(tmp_path / "pipe.shp", [LINE], id=[1])
    with pytest.raises(RouteError, match=r"not the \.shp"):
        read_route(path.with_suffix(".shx"))


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.geojson", b"", "is empty"),
        ("a.geojson", b" \n\t ", "is empty"),
        ("a.geojson", b"\xef\xbb\xbf", "is empty"),
        ("a.geojson", b"<!DOCTYPE html><html><body>Log in</body></html>", "web page"),
        ("a.gpx", b"<html><body>gpx</body></html>", "web page"),
        ("a.kmz", b"PK\x03\x04rest", "packed"),
        ("a.geojson", b"\x89PNG\r\n\x1a\n", "no format that is known"),
        ("a.csv", b"lon,lat\n1,2\n", "at one place"),
        ("a.gpx", b"<osm/>", "starts with <osm>"),
        ("a.tif", b"II*\x00\x08\x00\x00\x00", "no format that is known"),
        ("a.vrt", b"<OGRVRTDataSource/>", "no format that is known"),
    ],
)
def test_read_route__refuses_what_is_no_route(
    tmp_path: Path, name: str, data: bytes, words: str
) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(RouteError, match=words) as caught:
        read_route(path)
    assert caught.value.remedy


def test_read_route__refuses_missing_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(RouteError, match="cannot be opened"):
        read_route(tmp_path / "nowhere.gpx")
    with pytest.raises(RouteError, match="is a folder"):
        read_route(tmp_path)


def test_read_route__refuses_huge_files_unread(tmp_path: Path) -> None:
    path = tmp_path / "a.geojson"
    with path.open("wb") as file:
        file.write(b"{")
        file.truncate(70 * 1024 * 1024)
    with pytest.raises(RouteError, match="73 MB"):
        read_route(path)
