"""Layers read from files of every form, written by other libraries, in systems of their own."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import geopandas
import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from routing.errors import InputError, SettingsError
from routing.land import read_layer, shapes_of
from routing.settings import read_settings, settings_from_mapping

SQUARE = [[7.0, 46.0], [7.01, 46.0], [7.01, 46.01], [7.0, 46.01], [7.0, 46.0]]
HOLE = [[7.002, 46.002], [7.004, 46.002], [7.004, 46.004], [7.002, 46.002]]
FAR = [[7.02, 46.0], [7.03, 46.0], [7.03, 46.01], [7.02, 46.0]]
FRAME = geopandas.GeoDataFrame(
    {"Name": ["wood", "two fields"], "width_m": [3.5, np.nan]},
    geometry=[
        shapely.Polygon(SQUARE, [HOLE]),
        shapely.MultiPolygon([shapely.Polygon(SQUARE, [HOLE]), shapely.Polygon(FAR)]),
    ],
    crs="EPSG:4326",
)
ROADS = geopandas.GeoDataFrame(
    {"name": ["mill track"]}, geometry=[shapely.LineString([[7, 46], [7.1, 46.1]])], crs=4326
)


def written(frame: geopandas.GeoDataFrame, folder: Path, form: str) -> Path:
    """Return the frame as a file of a form, in the system that the form's name says."""
    moved = frame.to_crs("EPSG:32632")
    path = folder / f"layer.{form.partition(' ')[0]}"
    if form == "geojson":
        frame.to_file(path, driver="GeoJSON")
    elif form == "geojson moved":
        document = json.loads(moved.to_json())
        document["crs"] = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32632"}}
        path.write_text(json.dumps(document), encoding="utf-8")
    elif form == "gpkg":
        moved.to_file(path, driver="GPKG")
    elif form == "kml":
        frame.to_file(path, driver="LIBKML" if "LIBKML" in DRIVERS else "KML")
    elif form == "shp":
        moved.to_file(path)
    else:
        moved.to_file(folder / "inside.shp")
        with zipfile.ZipFile(path, "w") as pack:
            for part in folder.glob("inside.*"):
                pack.write(part, part.name)
    return path


DRIVERS = __import__("pyogrio").list_drivers()
FORMS = ("geojson", "geojson moved", "gpkg", "kml", "shp", "zip")


@pytest.mark.parametrize("form", FORMS)
def test_read_layer__areas_come_out_where_they_lie(tmp_path: Path, form: str) -> None:
    document = read_layer(written(FRAME, tmp_path, form))
    wood, fields = shapes_of(document, "layer[0].features")
    assert (wood.name, fields.name) == ("wood", "two fields")
    assert [len(part) for part in wood.parts] == [5, 4]
    assert [len(part) for part in fields.parts] == [5, 4, 4]
    if "kml" not in form:
        assert (wood.width_m, fields.width_m) == (3.5, None)
    for shape, wanted in zip((wood, fields), FRAME.geometry, strict=True):
        rings = [shapely.Polygon(part) for part in shape.parts]
        assert shapely.area(shapely.difference(wanted, shapely.union_all(rings))) < 1e-10
        assert shape.area


@pytest.mark.parametrize("form", FORMS)
def test_read_layer__lines(tmp_path: Path, form: str) -> None:
    (track,) = shapes_of(read_layer(written(ROADS, tmp_path, form)), "layer[0].features")
    assert (track.name, track.area) == ("mill track", False)
    assert track.parts[0] == pytest.approx(np.array([[7, 46], [7.1, 46.1]]), abs=1e-7)


def test_settings__a_layer_of_any_form_stands_in_them_in_wgs_84(tmp_path: Path) -> None:
    written(FRAME, tmp_path, "gpkg")
    path = tmp_path / "s.toml"
    path.write_text('[[layer]]\nkind = "parcel"\nfile = "layer.gpkg"\n', encoding="utf-8")
    settings = read_settings(path)
    again = settings_from_mapping(json.loads(json.dumps(dict(settings.given))))
    for shape, twin in zip(settings.layer[0].features, again.layer[0].features, strict=True):
        assert all(np.array_equal(a, b) for a, b in zip(shape.parts, twin.parts, strict=True))


def test_settings__a_system_that_the_file_does_not_state(tmp_path: Path) -> None:
    FRAME.to_crs("EPSG:32632").to_file(tmp_path / "bare.shp")
    (tmp_path / "bare.prj").unlink()
    path = tmp_path / "s.toml"
    table = '[[layer]]\nkind = "parcel"\nfile = "bare.shp"\n'
    path.write_text(table, encoding="utf-8")
    with pytest.raises(SettingsError, match="longitudes and latitudes"):
        read_settings(path)
    path.write_text(table + 'crs = "EPSG:32632"\nlabel = "Name"\n', encoding="utf-8")
    assert read_settings(path).layer[0].features[0].name == "wood"


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("none.geojson", None, "cannot be opened"),
        ("empty.geojson", b"", "is empty"),
        ("bad.geojson", b"{", "not sound GeoJSON"),
        ("page.kml", b"<html></html>", "web page"),
        ("line.gpx", b"<gpx></gpx>", "no file of lines and areas"),
        ("table.csv", b"lon,lat\n1,2\n", "no file of lines and areas"),
        ("picture.png", b"\x89PNG\r\n\x1a\n", "of no format that is known"),
        ("hollow.geojson", b'{"type":"FeatureCollection","features":[]}', "no line and no area"),
        ("bad.gpkg", b"SQLite format 3\x00" + b"\x00" * 100, "cannot be read"),
        ("bad.zip", b"PK\x03\x04 nothing", "cannot be unpacked"),
    ],
)
def test_read_layer__bad_files_are_named(tmp_path: Path, name: str, content, told: str) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(InputError, match=told) as caught:
        read_layer(path)
    assert name in str(caught.value)


def test_read_layer__a_zip_with_two_layers_asks_for_one(tmp_path: Path) -> None:
    path = tmp_path / "two.zip"
    with zipfile.ZipFile(path, "w") as pack:
        pack.writestr("a.geojson", "{}")
        pack.writestr("b.geojson", "{}")
    with pytest.raises(InputError, match="holds 2 layers"):
        read_layer(path)


def geometry(coordinates: object, kind: str = "Polygon") -> dict:
    shape = {"type": kind, "coordinates": coordinates}
    return {"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": shape}]}


@pytest.mark.parametrize(
    ("features", "told"),
    [
        ({}, "FeatureCollection"),
        ({"features": [3]}, "neither line nor polygon"),
        (geometry([0, 0], "Point"), "is Point"),
        (geometry([]), "no ring"),
        (geometry([[[0, 0], [1, 1]]]), "no ring of"),
        (geometry([[0, 0]], "LineString"), "no line of"),
        (geometry([[[0, 0], [1, 1], [1, "x"]]]), "no pair of numbers"),
        (geometry([[[0, 0], [1, 1], [1, 91]]]), "longitudes and latitudes"),
        (geometry([[[0, 0], [1, 1], [1, float("nan")]]]), "longitudes and latitudes"),
    ],
)
def test_layer__bad_shapes_are_named(features, told) -> None:
    with pytest.raises(SettingsError, match=told) as caught:
        settings_from_mapping({"layer": [{"kind": "no-go", "features": features}]})
    assert "layer[0].features" in str(caught.value)


@given(st.binary(max_size=300))
def test_read_layer__any_bytes_are_a_layer_or_a_clear_refusal(tmp_path_factory, data) -> None:
    path = tmp_path_factory.mktemp("layer") / "layer.gpkg"
    path.write_bytes(data)
    with pytest.raises(InputError):
        read_layer(path)
