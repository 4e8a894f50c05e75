"""GPX and KML, as the programs that write them do."""

from __future__ import annotations

from pathlib import Path

import gpxpy.gpx
import pytest

from routing.errors import RouteError
from routing.line import Route, read_route

GPX = '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">{}</gpx>'
KML = (
    '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>{}</Document></kml>'
)
LON, LAT = [7.1, 7.11, 7.12], [46.3, 46.31, 46.29]


def _read(folder: Path, name: str, text: str | bytes) -> Route:
    path = folder / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_route(path)


def _points(tag: str, lon: list[float] = LON, lat: list[float] = LAT) -> str:
    return "".join(
        f'<{tag} lon="{x}" lat="{y}"><ele>3</ele></{tag}>' for x, y in zip(lon, lat, strict=True)
    )


def _track(*segments: str, name: str = "walk") -> str:
    return f"<trk><name>{name}</name>{''.join(f'<trkseg>{s}</trkseg>' for s in segments)}</trk>"


def _placemark(*coordinates: str, name: str = "pipe") -> str:
    lines = "".join(f"<LineString><coordinates>{c}</coordinates></LineString>" for c in coordinates)
    return f"<Placemark><name>{name}</name><MultiGeometry>{lines}</MultiGeometry></Placemark>"


@pytest.mark.parametrize(
    "body",
    [
        f"<rte><name>walk</name>{_points('rtept')}</rte>",
        _track(_points("trkpt")),
        f'<wpt lon="1" lat="2"/>{_track("", _points("trkpt"), "")}',
        _track(_points("trkpt", LON[:2], LAT[:2]), _points("trkpt", LON[1:], LAT[1:])),
        _track(
            _points("trkpt", LON[:1], LAT[:1]),
            _points("trkpt", [7.1003, *LON[1:]], [46.3, *LAT[1:]]),
        ),
    ],
)
def test_read_route__gpx_route_or_track(tmp_path: Path, body: str) -> None:
    route = _read(tmp_path, "a.gpx", GPX.format(body))
    assert route.name == "walk"
    assert [x for x in route.lon.tolist() if x != 7.1003] == LON
    assert route.lat[-1] == LAT[-1]


def test_read_route__gpx_written_by_a_library(tmp_path: Path) -> None:
    document = gpxpy.gpx.GPX()
    track = gpxpy.gpx.GPXTrack(name="by gpxpy")
    track.segments.append(
        gpxpy.gpx.GPXTrackSegment(
            [gpxpy.gpx.GPXTrackPoint(y, x, elevation=9) for x, y in zip(LON, LAT, strict=True)]
        )
    )
    document.tracks.append(track)
    route = _read(tmp_path, "a.gpx", document.to_xml())
    assert (route.name, route.lon.tolist(), route.lat.tolist()) == ("by gpxpy", LON, LAT)


def test_read_route__name_of_the_file_does_not_matter(tmp_path: Path) -> None:
    assert _read(tmp_path, "a.txt", GPX.format(_track(_points("trkpt")))).lon.tolist() == LON


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("", "holds no line"),
        ('<wpt lon="1" lat="2"/><wpt lon="1" lat="3"/>', "no line, only 2 waypoints"),
        (_track(_points("trkpt")) + _track(_points("trkpt"), name="b"), "2 lines: walk, b"),
        (_track(_points("trkpt")) + f"<rte>{_points('rtept')}</rte>", "2 lines"),
        (_track('<trkpt lon="7.1"/><trkpt lon="1" lat="2"/>'), "Point 1 .*lat=None"),
        (_track('<trkpt lon="7,1" lat="2"/>'), "Point 1 .*lon='7,1'"),
        (_track('<trkpt lon="nan" lat="2"/><trkpt lon="1" lat="2"/>'), "not a place"),
        (_track(_points("trkpt"), _points("trkpt", [8.0, 8.1], [46.0, 46.1])), "broken: part 2"),
        (_track("<trkpt"), "not sound XML"),
    ],
)
def test_read_route__refuses_gpx(tmp_path: Path, body: str, words: str) -> None:
    with pytest.raises(RouteError, match=words):
        _read(tmp_path, "a.gpx", GPX.format(body))


@pytest.mark.parametrize(
    "body",
    [
        _placemark("7.1,46.3,10 7.11,46.31,20\n 7.12,46.29,5\n"),
        _placemark("7.1,46.3 7.11,46.31", "7.12,46.29 7.11,46.31"),
        "<Folder>" + _placemark("7.1,46.3 7.11,46.31 7.12,46.29") + "</Folder>"
        "<Placemark><Point><coordinates>1,2</coordinates></Point></Placemark>",
        "<Placemark><name>pipe</name><gx:Track xmlns:gx='http://www.google.com/kml/ext/2.2'>"
        "<gx:coord>7.1 46.3 1</gx:coord><gx:coord>7.11 46.31 1</gx:coord>"
        "<gx:coord>7.12 46.29 1</gx:coord></gx:Track></Placemark>",
    ],
)
def test_read_route__kml_line(tmp_path: Path, body: str) -> None:
    route = _read(tmp_path, "a.kml", KML.format(body))
    assert (route.name, route.lon.tolist(), route.lat.tolist()) == ("pipe", LON, LAT)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("", "holds no line"),
        (_placemark(""), "holds no line"),
        ("<Placemark><Point><coordinates>1,2</coordinates></Point></Placemark>", "only 1 Point"),
        (_placemark("1,2 3,4") + _placemark("1,2 3,4", name="b"), "2 lines: pipe, b"),
        (_placemark("1,2 3,4", "5,6 7,8"), "2 parts that do not join"),
        (_placemark("1, 2 3, 4"), "Position 1"),
        (_placemark("1,2 3"), "Position 2 .*'3'"),
        (_placemark("1,2 3,x"), "Position 2 .*'3,x'"),
    ],
)
def test_read_route__refuses_kml(tmp_path: Path, body: str, words: str) -> None:
    with pytest.raises(RouteError, match=words):
        _read(tmp_path, "a.kml", KML.format(body))


@pytest.mark.parametrize("name", ["a.gpx", "a.kml"])
@pytest.mark.parametrize(
    "doctype",
    [
        '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>',
        '<!DOCTYPE x SYSTEM "file:///etc/passwd">',
        '<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>',
    ],
)
def test_read_route__refuses_document_types(tmp_path: Path, name: str, doctype: str) -> None:
    body = GPX.format("&b;") if name == "a.gpx" else KML.format("&a;").partition("?>")[2]
    with pytest.raises(RouteError, match="declares a document type"):
        _read(tmp_path, name, doctype + body)
