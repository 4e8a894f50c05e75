"""One study, every file for people on the hill: each thing to set has one name, place and size.

What is to be set is listed here from the sections of study.json; places are compared by the
geodesic on WGS 84 (pyproj), grids by pyproj's own transformation.
"""

from __future__ import annotations

import csv
import html
import io
import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import ezdxf
import gpxpy
import numpy as np
import openpyxl
import orjson
import pyogrio
import pyproj
import pytest

from routing.fittings import size_text
from routing.line import read_route
from routing.papers import export_bytes, map_html
from routing.papers.field import field_html
from routing.papers.things import made_once, things
from routing.record import study_document, to_json
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain, run_study
from sample_dem import sample_paths

SECTIONS = ("vents", "drains", "valves", "taps", "relief_valves", "blocks", "anchors", "supports",
            "bends", "crossings")  # fmt: skip
WITHIN_M = 0.01
GEOD = pyproj.Geod(ellps="WGS84")


@pytest.fixture(scope="module", params=["metric", "us"])
def doc(request: pytest.FixtureRequest) -> dict[str, Any]:
    """Return the sample study in PVC up to 700 m, so that its bends ask for blocks.

    A road crosses it, and two relief valves were asked for at two places.
    """
    sample = sample_paths()
    tables = tomllib.loads(sample.settings.read_text("utf-8"))
    tables["study"] = {**tables["study"], "units": request.param}
    tables["pipe"][0] = {**tables["pipe"][0], "catalogue": "PVCU-S10-200"}
    route = read_route(sample.line)
    # Square across the first leg, 5 m to either side of its middle.
    lon, lat = (0.5 * float(each[0] + each[1]) for each in (route.lon, route.lat))
    way = GEOD.inv(route.lon[0], route.lat[0], lon, lat)[0]
    ends = [list(GEOD.fwd(lon, lat, way + turn, 5.0)[:2]) for turn in (-90.0, 90.0)]
    road = {"type": "LineString", "coordinates": ends}
    shape = {"type": "Feature", "properties": {"name": "track"}, "geometry": road}
    tables["layer"] = [
        {"kind": "road", "features": {"type": "FeatureCollection", "features": [shape]}}
    ]
    tables["relief"] = [
        {"diameter": "40 mm", "opens_at": "7.6 bar", "side": "right"},
        {"at": "1100 m", "reason": "bench above the yard"},
    ]
    settings = settings_from_mapping(tables)
    terrain = open_study_terrain([sample.terrain], settings)
    study = run_study(terrain, route, settings)
    found: dict[str, Any] = orjson.loads(to_json(study_document(study)))
    return found


def listed(doc: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    for section in SECTIONS:
        for item in doc.get(section) or ():
            slight = section == "bends" and item["deflection_deg"] < 11.25
            carried = section == "blocks" and item["hold"] in ("pipe", "joint")
            if not slight and not carried:
                yield section, item


def far(item: dict[str, Any], lon: float, lat: float) -> float:
    return float(abs(GEOD.inv(item["lon"], item["lat"], lon, lat)[2]))


def all_there(doc: dict[str, Any], places: dict[str, tuple[float, float]]) -> None:
    wrong = [
        item["id"]
        for _, item in listed(doc)
        if item["id"] not in places or far(item, *places[item["id"]]) > WITHIN_M
    ]
    assert wrong == []


def test_study__has_every_kind_with_its_place(doc: dict[str, Any]) -> None:
    kinds = {section for section, _ in listed(doc)}
    assert kinds == set(SECTIONS)
    ids = [item["id"] for _, item in listed(doc)]
    assert len(ids) == len(set(ids))


def test_gpx(doc: dict[str, Any]) -> None:
    points = gpxpy.parse(export_bytes(doc, "gpx").decode()).waypoints
    all_there(doc, {point.name: (point.longitude, point.latitude) for point in points})


def test_kml(doc: dict[str, Any]) -> None:
    space = {"k": "http://www.opengis.net/kml/2.2"}
    places = {}
    for mark in ElementTree.fromstring(export_bytes(doc, "kml")).iterfind(".//k:Placemark", space):
        where = mark.findtext("k:Point/k:coordinates", None, space)
        if where is not None:
            lon, lat, *_ = (float(part) for part in where.split(","))
            places[mark.findtext("k:name", "", space)] = (lon, lat)
    all_there(doc, places)


def test_geojson(doc: dict[str, Any]) -> None:
    features = json.loads(export_bytes(doc, "geojson"))["features"]
    rows = [each for each in features if each["properties"]["layer"] in SECTIONS]
    all_there(
        doc,
        {each["properties"]["id"]: tuple(each["geometry"]["coordinates"][:2]) for each in rows},
    )
    seen = {each["properties"]["id"]: each["properties"] for each in rows}
    for _, item in listed(doc):
        for key in ("size_mm", "rating_kpa", "width_m", "volume_m3", "load_kn", "deflection_deg",
                    "setting_kpa", "height_m", "angle_deg", "kind"):  # fmt: skip
            assert seen[item["id"]].get(key) == item.get(key)


def test_geopackage(doc: dict[str, Any], tmp_path: Path) -> None:
    path = tmp_path / "study.gpkg"
    path.write_bytes(export_bytes(doc, "gpkg"))
    layers = {name for name, _ in pyogrio.list_layers(path)}
    places = {}
    for section in set(SECTIONS) & layers:
        frame = pyogrio.read_dataframe(path, layer=section)
        for identity, place in zip(frame["id"], frame.geometry, strict=True):
            places[identity] = (place.x, place.y)
    all_there(doc, places)


def test_dxf(doc: dict[str, Any]) -> None:
    drawing = ezdxf.read(io.StringIO(export_bytes(doc, "dxf").decode()))
    forward = pyproj.Transformer.from_crs(4326, doc["terrain"]["crs"], always_xy=True)
    places = {}
    for block in drawing.modelspace().query("INSERT"):
        name = block.get_attrib_text("NAME")
        places[name] = (block.dxf.insert.x, block.dxf.insert.y)
    for _, item in listed(doc):
        assert places[item["id"]] == pytest.approx(
            forward.transform(item["lon"], item["lat"]), abs=WITHIN_M
        )


def test_stakes(doc: dict[str, Any]) -> None:
    places = {}
    for row in csv.DictReader(io.StringIO(export_bytes(doc, "stakes").decode())):
        for words in row["note"].split("; "):
            place = (float(row["longitude_deg"]), float(row["latitude_deg"]))
            places[words.split(" ")[0]] = place
    wrong = []
    for _, item in listed(doc):
        # Places closer than 5 cm share a stake.
        if item["id"] not in places or far(item, *places[item["id"]]) > 0.05 + WITHIN_M:
            wrong.append(item["id"])
    assert wrong == []


def test_map(doc: dict[str, Any]) -> None:
    page = map_html(doc, None)
    places = {}
    for match in re.finditer(r"leatlineSigns\(\w+, (\{.*?\})\);\n", page):
        for sign in json.loads(match.group(1))["items"]:
            places[sign["title"].rpartition(" ")[2]] = (sign["lon"], sign["lat"])
    all_there(doc, places)


def test_field_sheet(doc: dict[str, Any]) -> None:
    page = field_html(doc, None)
    data = json.loads(page.split('id="data">')[1].split("</script>")[0])
    all_there(doc, {each["id"]: (each["lon"], each["lat"]) for each in data["places"]})
    for _, item in listed(doc):
        card = html.unescape(page.split(f'data-id="{item["id"]}"')[1].split("</li>")[0])
        assert "Caution" in card


def test_workbook(doc: dict[str, Any]) -> None:
    book = openpyxl.load_workbook(io.BytesIO(export_bytes(doc, "xlsx")), data_only=True)
    rows = list(book["things to set"].iter_rows(values_only=True))
    at = {title: index for index, title in enumerate(rows[0])}
    all_there(doc, {row[at["id"]]: (row[at["longitude"]], row[at["latitude"]]) for row in rows[2:]})


def test_levels_and_changes_of_pipe__stand_on_the_line_in_every_file(doc: dict[str, Any]) -> None:
    """They state a station or come without an id; the place is that of the line, by the table."""
    stations = doc["stations"]
    wanted = {f"L{n}": each["station_m"] for n, each in enumerate(doc["levels_to_shoot"], start=1)}
    wanted |= {f"P{n}": pipe["from_m"] for n, pipe in enumerate(doc["pipes"][1:], start=1)}
    assert {name[0] for name in wanted} == {"L", "P"}
    points = gpxpy.parse(export_bytes(doc, "gpx").decode()).waypoints
    book = openpyxl.load_workbook(io.BytesIO(export_bytes(doc, "xlsx")), data_only=True)
    rows = list(book["things to set"].iter_rows(values_only=True))
    at = {title: index for index, title in enumerate(rows[0])}
    data = json.loads(field_html(doc, None).split('id="data">')[1].split("</script>")[0])
    files = {
        "gpx": {point.name: (point.longitude, point.latitude) for point in points},
        "xlsx": {row[at["id"]]: (row[at["longitude"]], row[at["latitude"]]) for row in rows[2:]},
        "field": {each["name"]: (each["lon"], each["lat"]) for each in data["places"]},
    }
    for name, station in wanted.items():
        place = [np.interp(station, stations["station_m"], stations[key]) for key in ("lon", "lat")]
        for file, places in files.items():
            assert name in places, (file, name)
            assert GEOD.inv(*place, *places[name])[2] < WITHIN_M, (file, name)


def test_bores__are_the_same_in_list_card_waypoint_kit_and_drawing(doc: dict[str, Any]) -> None:
    kits = {kit["of"]: kit["pieces"] for kit in doc["kits"]}
    stakes = export_bytes(doc, "stakes").decode()
    gpx = {p.name: p for p in gpxpy.parse(export_bytes(doc, "gpx").decode()).waypoints}
    page = html.unescape(field_html(doc, None))
    for item in (*doc["vents"], *doc["drains"], *doc["relief_valves"]):
        bore = size_text(item["size_mm"] / 1e3, doc["units"])  # as sold: 2.5 in for 65 mm
        assert re.search(rf"{item['id']} [a-z ]+, {re.escape(bore)}", stakes), item["id"]
        assert bore in (gpx[item["id"]].description or gpx[item["id"]].comment)
        card = page.split(f'data-id="{item["id"]}"')[1].split("</li>")[0]
        assert bore in card.split("</summary>")[0]
        assert any(bore in piece["size"] for piece in kits[item["id"]])


def test_sizes__are_the_same_words_everywhere(doc: dict[str, Any]) -> None:
    """Sides of blocks and anchors are rounded up to a centimetre or a hundredth of a foot."""
    import math

    foot = 0.3048 if doc["units"] == "us" else 1.0
    unit = "ft" if doc["units"] == "us" else "m"
    seen = {
        "gpx": html.unescape(export_bytes(doc, "gpx").decode()),
        "kml": html.unescape(export_bytes(doc, "kml").decode()),
        "field sheet": html.unescape(field_html(doc, None)),
        "stakes": export_bytes(doc, "stakes").decode(),
    }
    for section, item in listed(doc):
        if section not in ("blocks", "anchors") or not item["length_m"]:
            continue
        sides = [
            f"{math.ceil(100.0 * item[key] / foot - 1e-6) / 100.0:.2f}"
            for key in ("width_m", "height_m", "length_m")
        ]
        words = f"{' × '.join(sides)} {unit}"
        assert [where for where, text in seen.items() if words not in text] == []


def test_ratings__a_valve_says_the_one_pressure_it_must_bear(doc: dict[str, Any]) -> None:
    factor, unit, digits = (6.894757293168, "psi", 1) if doc["units"] == "us" else (1.0, "kPa", 0)
    seen = [html.unescape(export_bytes(doc, name).decode()) for name in ("gpx", "kml")]
    book = openpyxl.load_workbook(io.BytesIO(export_bytes(doc, "xlsx")), data_only=True)
    seen.append("; ".join(str(cell) for row in book["things to set"].values for cell in row))
    for vent in doc["vents"]:
        if vent["rating_kpa"] is not None:
            words = f"Must bear: {vent['rating_kpa'] / factor:.{digits}f} {unit}"
            assert all(words in text for text in seen)


def test_relief_and_supports__say_one_setting_and_one_height_everywhere(
    doc: dict[str, Any],
) -> None:
    us = doc["units"] == "us"
    asked = [
        (item["id"], f"{item['setting_kpa'] / (6.894757293168 if us else 1.0):.{1 if us else 0}f} "
         f"{'psi' if us else 'kPa'}") for item in doc["relief_valves"]
    ] + [
        (item["id"], f"{item['height_m'] / (0.3048 if us else 1.0):.{1 if us else 2}f} "
         f"{'ft' if us else 'm'} high") for item in doc["supports"]
    ]  # fmt: skip
    assert {name[0] for name, _ in asked} == {"R", "S"}
    gpx = {p.name: f"{p.description} {p.comment}"
           for p in gpxpy.parse(export_bytes(doc, "gpx").decode()).waypoints}  # fmt: skip
    page, kml = (
        html.unescape(field_html(doc, None)),
        html.unescape(export_bytes(doc, "kml").decode()),
    )
    book = openpyxl.load_workbook(io.BytesIO(export_bytes(doc, "xlsx")), data_only=True)
    rows = {row[0]: "; ".join(map(str, row)) for row in book["things to set"].values}
    stakes = export_bytes(doc, "stakes").decode()
    for name, words in asked:
        card = page.split(f'data-id="{name}"')[1].split("</li>")[0]
        marked = kml.split(f"<name>{name}</name>")[1].split("</Placemark>")[0]
        for where, text in {"gpx": gpx[name], "field": card, "kml": marked, "xlsx": rows[name],
                            "stakes": stakes}.items():  # fmt: skip
            assert words in text, (where, name, words)


def test_made_once__gives_the_same_list_and_keeps_documents_apart(doc: dict[str, Any]) -> None:
    alone = things(doc)
    with made_once():
        first = things(doc)
        first.clear()
        assert things(doc) == alone
        for name in ("V1", "V2"):
            other = {**doc, "vents": [vent for vent in doc["vents"] if vent["id"] == name]}
            assert [each.id for each in things(other) if each.kind == "vent"] == [name]
    assert things({**doc, "vents": []}) == [each for each in alone if each.kind != "vent"]
