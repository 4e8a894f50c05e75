"""GeoJSON in every shape that holds one line, and the ways it can be wrong."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from routing.errors import RouteError
from routing.line import read_route, route_from_geojson

POINTS = [[7.1, 46.3], [7.11, 46.31, 1200.5], [7.12, 46.29]]
LON, LAT = [7.1, 7.11, 7.12], [46.3, 46.31, 46.29]
LINE: dict[str, Any] = {"type": "LineString", "coordinates": POINTS}


def _feature(geometry: object, **properties: object) -> dict[str, Any]:
    return {"type": "Feature", "properties": properties or None, "geometry": geometry}


def _collection(*features: object) -> dict[str, Any]:
    return {"type": "FeatureCollection", "features": list(features)}


def _multi(*parts: object) -> dict[str, Any]:
    return {"type": "MultiLineString", "coordinates": list(parts)}


@pytest.mark.parametrize(
    "document",
    [
        LINE,
        _feature(LINE),
        _collection(_feature(LINE)),
        _collection(
            _feature(None), _feature({"type": "Point", "coordinates": [1, 2]}), _feature(LINE)
        ),
        {
            "type": "GeometryCollection",
            "geometries": [{"type": "Point", "coordinates": [1, 2]}, LINE],
        },
        _feature({"type": "GeometryCollection", "geometries": [LINE]}),
        _multi(POINTS),
        _multi(POINTS[:2], POINTS[1:]),
        _multi(POINTS[1:], POINTS[:2]),
        _multi(POINTS[:2], POINTS[:0:-1]),
        {**LINE, "crs": None},
        {**LINE, "crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}},
        # The older edition kept longitude first whatever the authority's own order of axes.
        {**LINE, "crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::4326"}}},
    ],
)
def test_route_from_geojson__one_line_in_any_shape(document: dict[str, Any]) -> None:
    route = route_from_geojson(document)
    assert route.lon.tolist() == pytest.approx(LON, abs=1e-12)
    assert route.lat.tolist() == pytest.approx(LAT, abs=1e-12)


def test_route_from_geojson__own_name_goes_before_the_given() -> None:
    assert route_from_geojson(_feature(LINE, name="Skarn\n Beck ")).name == "Skarn Beck"
    assert route_from_geojson(_feature(LINE, name=17), name="given").name == "given"
    assert route_from_geojson(LINE, name="\x00").name == "route"
    assert len(route_from_geojson(_feature(LINE, name="x" * 999)).name) == 120


def test_route_from_geojson__own_system_is_honoured() -> None:
    # Worked example of the transverse Mercator method: British grid, point at 52 deg 39 min
    # 27.2531 s N, 1 deg 43 min 4.5177 s E (OSGB36) is E 651409.903, N 313177.270 m. Ordnance
    # Survey, "A guide to coordinate systems in Great Britain", annexe C (from memory).
    crs = {"type": "name", "properties": {"name": "EPSG:27700"}}
    points = [[651409.903, 313177.270], [651409.903, 314177.270]]
    route = route_from_geojson({"type": "LineString", "coordinates": points, "crs": crs})
    # OSGB36 and WGS 84 lie some 130 m apart: half an arc minute tells the grid from a mistake.
    assert route.lat[0] == pytest.approx(52 + 39 / 60 + 27.2531 / 3600, abs=0.002)
    assert route.lon[0] == pytest.approx(1 + 43 / 60 + 4.5177 / 3600, abs=0.002)


def test_route_from_geojson__parts_within_a_metre_join() -> None:
    # 5e-6 degrees of latitude are 0.56 m, 2e-5 degrees are 2.2 m.
    near = _multi([[7, 46], [7, 46.01]], [[7, 46.010005], [7, 46.02]])
    assert route_from_geojson(near).lat.tolist() == [46, 46.01, 46.010005, 46.02]
    with pytest.raises(RouteError, match="2 parts that do not join"):
        route_from_geojson(_multi([[7, 46], [7, 46.01]], [[7, 46.01002], [7, 46.02]]))


def test_route_from_geojson__parts_join_over_the_antimeridian() -> None:
    route = route_from_geojson(_multi([[179.9, 5], [180, 5]], [[-180, 5], [-179.9, 5]]))
    assert route.lon.tolist() == pytest.approx([179.9, 180.0, 180.1])


def test_route_from_geojson__branches_are_refused() -> None:
    hub = [7, 46]
    with pytest.raises(RouteError, match=r"branches at \(7\.0+, 46\.0+\)"):
        route_from_geojson(_multi([[6.9, 46], hub], [hub, [7.1, 46]], [hub, [7, 46.1]]))


def test_route_from_geojson__several_lines_are_named() -> None:
    document = _collection(_feature(LINE, name="upper"), _feature(LINE), _feature(LINE, name="low"))
    with pytest.raises(RouteError, match="3 lines: upper, line 2, low"):
        route_from_geojson(document)


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ({}, "type 'None'"),
        ({"type": "Topology"}, "'Topology'"),
        (_collection(), "holds no line"),
        (_feature(None), "holds no line"),
        (_collection(_feature({"type": "Polygon", "coordinates": []})), "no line, only 1 Polygon"),
        ({"type": "FeatureCollection"}, "no list of members"),
        (_collection("x"), "an object was expected where str stands"),
        ({"type": "LineString"}, "no list of coordinates"),
        ({"type": "MultiLineString", "coordinates": None}, "no list of coordinates"),
        ({"type": "LineString", "coordinates": []}, "holds no line"),
        ({"type": "LineString", "coordinates": [[1, 2]]}, r"1 point\(s\), all at one place \(1\.0"),
        ({"type": "LineString", "coordinates": [[1, 2], None]}, "position 2 is None"),
        ({"type": "LineString", "coordinates": [[1, 2], [3]]}, r"position 2 is \[3\]"),
        ({"type": "LineString", "coordinates": [[1, 2], [3, None]]}, "position 2"),
        ({"type": "LineString", "coordinates": [["1", "2"], [3, 4]]}, "position 1"),
        ({"type": "LineString", "coordinates": [[True, 2], [3, 4]]}, "position 1"),
        (
            {"type": "LineString", "coordinates": [[1, 2], [float("nan"), 4]]},
            "Point 2 .*not a place",
        ),
        ({"type": "LineString", "coordinates": [[1, 2], [10**400, 4]]}, "Point 2 .*not a place"),
        ({"type": "LineString", "coordinates": [[46, 107], [46, 108]]}, "swapped"),
        ({"type": "LineString", "coordinates": [[6e5, 5e6], [6e5, 5.1e6]]}, "map grid"),
        ({"type": "LineString", "coordinates": [[1, 2], [1, 2]]}, "all at one place"),
        ({**LINE, "crs": {"type": "link"}}, "names no coordinate system"),
        ({**LINE, "crs": {"type": "name", "properties": {"name": "EPSG:1"}}}, "not understood"),
        ({**LINE, "crs": {"type": "name", "properties": {"name": "EPSG:4978"}}}, "no map system"),
    ],
)
def test_route_from_geojson__refuses(document: dict[str, Any], words: str) -> None:
    with pytest.raises(RouteError, match=words) as caught:
        route_from_geojson(document)
    assert caught.value.remedy


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_read_route__geojson_in_any_encoding(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "Hávegur.geojson"
    path.write_bytes(json.dumps(LINE, ensure_ascii=False).encode(encoding))
    route = read_route(path)
    assert (route.name, route.lon.tolist()) == ("Hávegur", LON)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"{", "not sound GeoJSON"),
        (b"[[1, 2], [3, 4]]", "bare list"),
        (b'{"type": "LineString", "coordinates": [[1, 2], [NaN, 4]]}', "not a place"),
        (b'{"type": "LineString", "coordinates": [[1, 2], [1e999, 4]]}', "not a place"),
        (b'{"type": "LineString", "name": "\xff"}', "not sound GeoJSON"),
        (b'{"a":' * 100_000, "not sound GeoJSON"),
        (b'{"type":"FeatureCollection","features":' + b"[" * 100_000, "not sound GeoJSON"),
    ],
)
def test_read_route__refuses_broken_geojson(tmp_path: Path, text: bytes, words: str) -> None:
    path = tmp_path / "line.geojson"
    path.write_bytes(text)
    with pytest.raises(RouteError, match=words):
        read_route(path)
