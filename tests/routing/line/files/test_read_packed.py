"""KMZ, zipped files, tables of points, well-known text, and the choice among several lines."""

from __future__ import annotations

import json
from pathlib import Path

import geopandas
import pytest
import shapely
from hostile_lines import CSV, GEOJSON, GPX, KML, WKT, line_samples, shapefile, zipped

from routing.errors import InputError, RouteError
from routing.line import read_route, route_from_geojson

LON, LAT = [7.1, 7.11, 7.12], [46.3, 46.31, 46.29]


def put(tmp_path: Path, name: str, data: bytes | str) -> Path:
    path = tmp_path / name
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return path


@pytest.mark.parametrize(
    "name", ["a.geojson", "a.gpx", "a.kml", "a.kmz", "a.csv", "a.wkt", "a.gpkg", "a.zip"]
)
def test_read_route__every_format_gives_the_same_line(tmp_path: Path, name: str) -> None:
    route = read_route(put(tmp_path, name, line_samples(tmp_path)[name]))
    assert (route.lon.tolist(), route.lat.tolist()) == (LON, LAT)
    assert route.recorded == (name == "a.gpx")


@pytest.mark.parametrize(
    ("member", "data"),
    [
        ("hill/line.geojson", GEOJSON),
        ("line.gpx", GPX.encode()),
        ("line.csv", CSV.encode()),
        ("line.wkt", WKT.encode()),
        ("sub\\line.kml", KML.encode()),
    ],
)
def test_read_route__packed(tmp_path: Path, member: str, data: bytes) -> None:
    junk = [("readme.md", b"x"), ("__MACOSX/._line.kml", b"x"), ("photo.png", b"\x89PNG")]
    path = put(tmp_path, "a.zip", zipped(*junk, (member, data)))
    assert read_route(path).lon.tolist() == LON


def test_read_route__packed_geopackage_and_shapefile_keep_their_system(tmp_path: Path) -> None:
    frame = geopandas.GeoDataFrame(
        {"name": ["Otter"]},
        geometry=[shapely.LineString(list(zip(LON, LAT, strict=True)))],
        crs="EPSG:4326",
    ).to_crs("EPSG:25832")
    (tmp_path / "own").mkdir()
    frame.to_file(tmp_path / "own" / "line.gpkg")
    frame.to_file(tmp_path / "own" / "line.shp")
    package = (tmp_path / "own" / "line.gpkg").read_bytes()
    shape = [
        (f"in/line{part.suffix.upper()}", part.read_bytes())
        for part in (tmp_path / "own").iterdir()
        if part.suffix != ".gpkg"
    ]
    for data in (zipped(("a.gpkg", package)), zipped(*shape)):
        route = read_route(put(tmp_path, "packed.zip", data))
        assert route.name == "Otter"
        assert route.lon.tolist() == pytest.approx(LON, abs=1e-9)
        assert route.lat.tolist() == pytest.approx(LAT, abs=1e-9)


def test_read_route__several_files_in_a_pack_are_named(tmp_path: Path) -> None:
    path = put(tmp_path, "a.zip", zipped(("a.gpx", GPX.encode()), ("b.geojson", GEOJSON)))
    with pytest.raises(RouteError, match=r"2 route files: a\.gpx, b\.geojson"):
        read_route(path)


def test_read_route__kmz_takes_the_main_document(tmp_path: Path) -> None:
    other = KML.replace("weir", "other").encode()
    path = put(tmp_path, "a.kmz", zipped(("extra/b.kml", other), ("doc.kml", KML.encode())))
    assert read_route(path).name == "weir"


def test_read_route__links_of_kml_are_named_not_followed(tmp_path: Path) -> None:
    text = (
        "<kml><NetworkLink><Link><href>http://127.0.0.1:9/a.kml</href></Link></NetworkLink></kml>"
    )
    with pytest.raises(RouteError, match="link to another file, which is not followed"):
        read_route(put(tmp_path, "a.kml", text))


@pytest.mark.parametrize(
    "text",
    [
        "Longitude,Latitude\n7.1,46.3\n7.11,46.31\n7.12,46.29\n",
        "# walked in May\nlat;lon;note\n46,3;7,1;a\n46,31;7,11;b\n46,29;7,12;c\n",
        "lon\tlat\n7.1\t46.3\n\n7.11\t46.31\n7.12\t46.29\n",
        "lng|lat\r\n7.1|46.3\r\n7.11|46.31\r\n7.12|46.29\r\n",
    ],
)
def test_read_route__tables(tmp_path: Path, text: str) -> None:
    for name, data in (("a.csv", text.encode()), ("b.csv", text.encode("utf-16"))):
        route = read_route(put(tmp_path, name, data))
        assert (route.lon.tolist(), route.lat.tolist()) == (LON, LAT)


def test_read_route__table_on_a_map_grid(tmp_path: Path) -> None:
    # Easting 500 000 m is the central meridian of a UTM zone, northing 0 its equator.
    text = "x,y,crs\n500000,0,EPSG:32632\n500000,1000,EPSG:32632\n"
    route = read_route(put(tmp_path, "a.csv", text))
    assert route.lon.tolist() == pytest.approx([9.0, 9.0], abs=1e-12)
    assert route.lat[0] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a,b\n1,2\n", "no columns lon and lat, nor x and y"),
        ("x,y\n1,2\n3,4\n", "no coordinate system"),
        ("lon,lat\n1,2\n3,four\n", r"Row 3 of a\.csv is '3, four'"),
        ("lon,lat\n1,2\n3\n", "Row 3"),
        ("x,y,crs\n1,2,32632\n3,4,32633\n", "mixes the systems"),
        ("lon,lat\n1_0,2\n3,4\n", "Row 2"),
    ],
)
def test_read_route__bad_tables_are_named(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        read_route(put(tmp_path, "a.csv", text))


@pytest.mark.parametrize(
    "text",
    [
        WKT,
        "linestring z (7.1 46.3 5, 7.11 46.31 6, 7.12 46.29 7)",
        "LINESTRING ZM(7.1 46.3 5 1,7.11 46.31 6 2,7.12 46.29 7 3)\n",
        "SRID=4326;LINESTRING(7.1 46.3, 7.11 46.31, 7.12 46.29)",
        "MULTILINESTRING ((7.1 46.3, 7.11 46.31), (7.11 46.31, 7.12 46.29))",
        "POINT (1 2)\nLINESTRING EMPTY;\nLINESTRING(7.1 46.3, 7.11 46.31, 7.12 46.29)\n",
    ],
)
def test_read_route__well_known_text(tmp_path: Path, text: str) -> None:
    route = read_route(put(tmp_path, "a.wkt", text))
    assert (route.lon.tolist(), route.lat.tolist()) == (LON, LAT)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("LINESTRING (1 2, 3", "bracket is not closed"),
        ("LINESTRING (1 2, 3)", "position 2 is '3'"),
        ("LINESTRING (1 2, 3 x)", "position 2 is '3 x'"),
        ("POINT (1 2)", "no line, only 1 Point"),
        ("LINESTRING (1 2, 3 4) and more", "'and more' is no geometry"),
    ],
)
def test_read_route__bad_well_known_text_is_named(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(RouteError, match=words):
        read_route(put(tmp_path, "a.wkt", text))


def lines(*names: str | None) -> dict[str, object]:
    """Return GeoJSON of lines that differ in their latitude."""
    return {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {"name": name} if name else {},
                "geometry": {"type": "LineString", "coordinates": [[7, at], [7.1, at]]},
            }
            for at, name in enumerate(names)
        ],
    }


@pytest.mark.parametrize(
    ("line", "at"),
    [("east", 0), ("EAST", 0), ("West branch", 1), ("line 3", 2), ("3", 2), (3, 2), (" 1 ", 0)],
)
def test_read_route__line_is_chosen(tmp_path: Path, line: str | int, at: int) -> None:
    document = lines("east", "west branch", None)
    assert route_from_geojson(document, line=line).lat[0] == at
    path = put(tmp_path, "a.geojson", json.dumps(document))
    assert read_route(path, line=line).lat[0] == at


def test_read_route__a_number_that_is_a_name_is_the_name() -> None:
    assert route_from_geojson(lines("2", "1"), line="1").lat[0] == 1


@pytest.mark.parametrize(
    ("names", "line", "words"),
    [
        (("east", "west"), None, "2 lines: east, west.*--line"),
        (("east", "west"), "north", "no line of the name or number 'north'.*east, west"),
        (("east", "west"), 3, "no line of the name or number '3'"),
        (("east", "west"), 0, "no line of the name or number '0'"),
        (("east", "east"), "east", "2 lines of the name"),
        (("east",), "west", "no line of the name or number 'west'; names in it: east"),
    ],
)
def test_read_route__wrong_choice_lists_the_choices(
    names: tuple[str, ...], line: str | int | None, words: str
) -> None:
    with pytest.raises(RouteError, match=words):
        route_from_geojson(lines(*names), line=line)


def test_read_route__pack_with_a_nameless_file(tmp_path: Path) -> None:
    # Kept from fuzzing: the library itself stumbles over an empty name.
    data = zipped(("doc.kml", KML.encode()))
    at = data.rindex(b"PK\x01\x02")
    nameless = data[: at + 28] + b"\x00\x00" + data[at + 30 : at + 46] + data[at + 53 :]
    with pytest.raises(RouteError, match=r"a\.kmz"):
        read_route(put(tmp_path, "a.kmz", nameless))


def test_read_route__shapefile_that_is_a_sound_line_with_no_number_in_it(tmp_path: Path) -> None:
    # Kept from fuzzing: a coordinate that is no number made a warning of a library's.
    parts = shapefile(tmp_path)
    broken = parts[".shp"][:-8] + b"\xff" * 8
    path = put(tmp_path, "a.shp", broken)
    put(tmp_path, "a.shx", parts[".shx"])
    with pytest.raises(RouteError, match="not a place"):
        read_route(path)
