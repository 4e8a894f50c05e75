"""Exported files, each read back by a library that had no part in writing it."""

from __future__ import annotations

import csv
import json
import warnings
from pathlib import Path
from xml.etree import ElementTree

import gpxpy
import numpy as np
import pytest

from routing.errors import InputError
from routing.papers import EXPORTS, export, geojson, need_ending

ODD_NAME = "Beck <b>&\"'</script>{{7*7}} 😀 é\x01"
SEEN_NAME = "Beck <b>&\"'</script>{{7*7}} 😀 é"


def written(doc, name: str, folder: Path) -> Path:
    path = folder / EXPORTS[name].name
    export(doc, name, path)
    return path


# IFC asks for an extra of the tool; test_ifc holds it where that is there.
@pytest.mark.parametrize("name", [name for name in EXPORTS if name != "ifc"])
def test_export__same_file_from_a_saved_study(document, from_disk, tmp_path: Path, name) -> None:
    doc = document(count=200)
    fresh = written(doc, name, tmp_path)
    (tmp_path / "saved").mkdir()
    saved = written(from_disk(doc), name, tmp_path / "saved")
    if name == "gpkg":  # holds the time of writing
        assert abs(fresh.stat().st_size - saved.stat().st_size) < 9000
    else:
        assert fresh.read_bytes() == saved.read_bytes()
    assert sorted(item.name for item in tmp_path.iterdir()) == sorted(["saved", EXPORTS[name].name])


def test_export__unknown_format_names_the_nearest(document, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"'gpg'.*Did you mean 'gpkg'"):
        export(document(count=60), "gpg", tmp_path / "x")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", list(EXPORTS))
def test_export__a_name_that_says_another_kind_is_refused(document, tmp_path: Path, name) -> None:
    ending = EXPORTS[name].ending
    other = "pdf" if ending != "pdf" else "xlsx"
    for wrong in (f"study.{other}", "study", f"study.{ending}.tmp"):
        with pytest.raises(InputError, match=rf"does not end in \.{ending}, as .* {name} does"):
            export(document(count=60), name, tmp_path / wrong)
    with pytest.raises(InputError, match=rf"format that does end in \.{other}: {other}, "):
        need_ending(name, Path(f"study.{other}"))
    need_ending(name, Path(f"STUDY.{ending.upper()}"))
    assert list(tmp_path.iterdir()) == []


def test_export_csv__every_station_to_the_stated_digits(document, tmp_path: Path) -> None:
    doc = document(count=300)
    with written(doc, "csv", tmp_path).open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 300
    for name, digits in (("station_m", 4), ("lon", 8), ("pipe_m", 4), ("static_pressure_kpa", 3)):
        values = np.array([float(row[name]) for row in rows])
        assert np.abs(values - doc["stations"][name]).max() <= 0.5001 * 10.0**-digits


def test_export_csv__missing_is_empty(document, tmp_path: Path) -> None:
    doc = document(count=60)
    doc["stations"]["rating_kpa"][5] = np.nan
    with written(doc, "csv", tmp_path).open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert rows[5]["rating_kpa"] == ""
    assert float(rows[6]["rating_kpa"]) == 750.0


def test_export_gpx__waypoints_and_route(document, tmp_path: Path) -> None:
    doc = document(name=ODD_NAME)
    gpx = gpxpy.parse(written(doc, "gpx", tmp_path).read_text(encoding="utf-8"), version="1.1")
    assert gpx.name == SEEN_NAME
    points = {point.name: point for point in gpx.waypoints}
    assert (gpx.waypoints[0].name, gpx.waypoints[-1].name) == ("Intake", "Powerhouse")
    assert len(points) == len(gpx.waypoints)
    assert "Settles: V3" in points["L1"].description
    for item in (*doc["vents"], *doc["drains"]):
        point = points[item["id"]]
        assert point.longitude == pytest.approx(item["lon"], abs=1e-8)
        assert point.latitude == pytest.approx(item["lat"], abs=1e-8)
        assert point.elevation == pytest.approx(item["ground_m"], abs=5.1e-4)
        assert "Dig to invert" in point.description
    assert len(gpx.routes[0].points) == len(doc["route"]["lon"])
    assert "Preliminary calculation" in gpx.description


def test_export_kml__folders_and_places(document, tmp_path: Path) -> None:
    doc = document(name=ODD_NAME)
    root = ElementTree.parse(written(doc, "kml", tmp_path)).getroot()
    space = {"k": "http://www.opengis.net/kml/2.2"}
    assert root.findtext("k:Document/k:name", namespaces=space) == SEEN_NAME
    vents = root.find("k:Document/k:Folder[k:name='Vents']", space)
    places = vents.findall("k:Placemark/k:Point/k:coordinates", space)
    assert len(places) == len(doc["vents"])
    lon, lat = (float(part) for part in places[0].text.split(","))
    assert (lon, lat) == pytest.approx((doc["vents"][0]["lon"], doc["vents"][0]["lat"]), abs=1e-8)


def test_export_geojson__read_by_geopandas(document, tmp_path: Path) -> None:
    import geopandas

    doc = document(name=ODD_NAME)
    table = geopandas.read_file(written(doc, "geojson", tmp_path))
    assert table.crs.to_epsg() == 4326
    line = table[table.layer == "line"].geometry.iloc[0]
    assert line.geom_type == "LineString"
    assert len(line.coords) == len(doc["stations"]["station_m"])
    np.testing.assert_allclose(
        np.array(line.coords),
        np.column_stack([doc["stations"][name] for name in ("lon", "lat", "pipe_m")]),
        atol=5.1e-4,
    )
    assert (table.layer == "vents").sum() == len(doc["vents"])
    assert (table.layer == "drains").sum() == len(doc["drains"])


def test_export_geojson__strict_json_even_with_nan(document, tmp_path: Path) -> None:
    doc = document(count=60)
    doc["summary"]["efficiency"] = float("nan")

    def refuse(word: str) -> None:
        raise AssertionError(word)

    text = written(doc, "geojson", tmp_path).read_text(encoding="utf-8")
    read = json.loads(text, parse_constant=refuse)
    assert read["summary"]["efficiency"] is None
    assert read["cautions"][0]["id"] == "review"


def test_geojson__span_ends_between_stations(document) -> None:
    doc = document(count=60)
    spans = [item for item in geojson(doc)["features"] if item["properties"]["layer"] == "spans"]
    lon = spans[0]["geometry"]["coordinates"][0][0]
    expected = np.interp(716.0, doc["stations"]["station_m"], doc["stations"]["lon"])
    assert lon == pytest.approx(expected, abs=1e-7)


def test_geojson__cut_at_the_antimeridian(document) -> None:
    # RFC 7946, section 3.1.9: a line over the antimeridian is cut into parts that do not cross it.
    doc = document(count=100)
    table = doc["stations"]
    table["lon"] = table["lon"] - float(table["lon"][50]) + 180.0
    table["lon"] = (table["lon"] + 180.0) % 360.0 - 180.0
    line = geojson(doc)["features"][0]["geometry"]
    assert line["type"] == "MultiLineString"
    first, second = (np.array(part) for part in line["coordinates"])
    assert (first[:, 0] > 179.0).all()
    assert (second[:, 0] < -179.0).all()
    assert first[-1, 0] == 180.0
    assert second[0, 0] == -180.0
    assert len(first) + len(second) in (101, 102)


def test_export_gpkg__every_layer_read_by_geopandas(document, tmp_path: Path) -> None:
    import geopandas

    doc = document(name=ODD_NAME)
    path = written(doc, "gpkg", tmp_path)
    counts = {
        "line": 1,
        "ends": 2,
        "stations": len(doc["stations"]["station_m"]),
        "vents": len(doc["vents"]),
        "drains": len(doc["drains"]),
        "bends": len(doc["bends"]),
        "spans": 1,
        "pipes": 2,
        "grades": len(doc["grades"]),
        "ground_highs": len(doc["ground"]["highs"]),
        "ground_lows": len(doc["ground"]["lows"]),
        "warnings": 2,
        "cautions": len(doc["cautions"]),
    }
    assert sorted(geopandas.list_layers(path).name) == sorted(counts)
    for layer, count in counts.items():
        table = geopandas.read_file(path, layer=layer)
        assert len(table) == count, layer
        if layer not in ("warnings", "cautions"):
            assert table.crs.to_epsg() == 4326
            assert table.geometry.has_z.all()
    stations = geopandas.read_file(path, layer="stations")
    np.testing.assert_array_equal(stations.ground_m, doc["stations"]["ground_m"])
    vents = geopandas.read_file(path, layer="vents")
    assert list(vents.id) == [item["id"] for item in doc["vents"]]
    assert vents.geometry.iloc[2].z == pytest.approx(doc["vents"][2]["pipe_m"], abs=5.1e-4)
    assert geopandas.read_file(path, layer="line").name.iloc[0] == SEEN_NAME


def test_export_gpkg__over_the_antimeridian(document, tmp_path: Path) -> None:
    import geopandas

    doc = document(count=100)
    table = doc["stations"]
    shifted = table["lon"] - float(table["lon"][50]) + 180.0
    table["lon"] = (shifted + 180.0) % 360.0 - 180.0
    path = written(doc, "gpkg", tmp_path)
    assert geopandas.read_file(path, layer="line").geom_type.iloc[0] == "MultiLineString"
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert len(geopandas.read_file(path, layer="pipes")) == 2


def test_export_gpkg__without_fittings(document, tmp_path: Path) -> None:
    import geopandas

    doc = document(count=60, flow=False)
    doc.update(vents=[], drains=[], bends=[], pipes=[], warnings=[])
    doc["ground"].update(highs=[], lows=[])
    layers = set(geopandas.list_layers(written(doc, "gpkg", tmp_path)).name)
    assert layers == {"line", "ends", "stations", "spans", "grades", "cautions"}
