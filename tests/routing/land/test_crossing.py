"""Crossings of a whole study: their rows, what they ask, and the checks they fail."""

from __future__ import annotations

import json
import math
from typing import Any

import jsonschema
import numpy as np
import orjson
import pyproj
import pytest
from pyproj import Transformer

from routing.document import study_schema
from routing.errors import SettingsError
from routing.record import study_document, to_json
from routing.settings import settings_from_mapping

BACK = Transformer.from_crs("EPSG:32633", "EPSG:4326", always_xy=True)
NORTH = 5_199_900.0
PE = {"catalogue": "PE100-SDR17-200"}


def feature(
    *places: tuple[float, float], area: bool = False, **properties: object
) -> dict[str, Any]:
    """Return a feature through places in metres along and across the line of ``slope``."""
    lon, lat = BACK.transform([500_020.0 + x for x, _ in places], [NORTH + y for _, y in places])
    where = np.column_stack([lon, lat]).tolist()
    kind, where = ("Polygon", [where]) if area else ("LineString", where)
    return {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": kind, "coordinates": where},
    }


def layer(kind: str, *features: dict[str, Any], **more: object) -> dict[str, Any]:
    return {
        "kind": kind,
        "features": {"type": "FeatureCollection", "features": list(features)},
        **more,
    }


def document(slope, *layers: dict[str, Any], **tables: Any) -> dict[str, Any]:
    study = slope(**{"pipe": [PE], "layer": list(layers), **tables})
    found: dict[str, Any] = orjson.loads(to_json(study_document(study)))
    return found


ROAD = feature((300, -50), (300, 50), name="mill track")
STREAM = feature((500 - 50, -50), (500 + 50, 50), name="Skarn")
WOOD = feature((600, -30), (720, -30), (720, 30), (600, 30), area=True, name="alder wood")


def codes(doc: dict[str, Any]) -> dict[str, str]:
    return {each["code"]: each["severity"] for each in doc["warnings"]}


def test_crossings__a_road_a_stream_and_an_area(slope) -> None:
    doc = document(slope, layer("road", ROAD), layer("stream", STREAM), layer("protected", WOOD))
    jsonschema.validate(doc, study_schema())
    road, stream, wood = doc["crossings"]
    assert [road["id"], stream["id"], wood["id"]] == ["X1", "X2", "X3"]
    # Grid metres against metres on the ellipsoid: 0.9996 at the central meridian of the zone.
    assert road["station_m"] == pytest.approx(300 / 0.9996, abs=0.1)
    assert road["to_m"] == road["station_m"]
    assert road["length_m"] == 0.0
    assert road["angle_deg"] == pytest.approx(90.0, abs=0.1)
    assert stream["angle_deg"] == pytest.approx(45.0, abs=0.1)
    assert (wood["station_m"], wood["to_m"]) == pytest.approx((600 / 0.9996, 720 / 0.9996), abs=0.1)
    assert wood["length_m"] == pytest.approx(wood["to_m"] - wood["station_m"], abs=1e-3)
    assert [each["relation"] for each in doc["crossings"]] == ["crosses", "crosses", "inside"]
    place = pyproj.Geod(ellps="WGS84").inv(
        road["lon"], road["lat"], *BACK.transform(500_320.0, NORTH)
    )[2]
    assert place < 0.05
    assert any("sleeve" in words for words in road["asks"])
    # Common practice: a sleeve 100 mm wider than the pipe of 200 mm, fused, so without sockets.
    assert any("300 mm" in words for words in road["asks"])
    assert any("0.60 m" in words for words in stream["asks"])
    assert any("consent" in words for words in wood["asks"])
    found = codes(doc)
    assert found["crossing_acute"] == "note"
    assert "consent_missing" in found
    assert {"road_cover", "bed_cover"} & found.keys() == {"road_cover"}


def test_crossings__without_layers_there_are_none(slope) -> None:
    doc = document(slope)
    assert doc["crossings"] == []
    assert "consent_missing" not in codes(doc)


def test_consent__one_that_is_named_settles_it(slope) -> None:
    granted = layer("protected", WOOD, consent="letter of 3 May")
    doc = document(slope, granted)
    assert doc["crossings"][0]["consent"] == "letter of 3 May"
    assert "consent_missing" not in codes(doc)
    own = feature((600, -30), (720, -30), (720, 30), (600, 30), area=True, consent="deed 12")
    assert document(slope, layer("parcel", own))["crossings"][0]["consent"] == "deed 12"


def test_protected__is_a_warning_and_a_parcel_a_note(slope) -> None:
    severities = {
        kind: codes(document(slope, layer(kind, WOOD)))["consent_missing"]
        for kind in ("protected", "parcel", "right of way")
    }
    assert severities == {"protected": "warning", "parcel": "note", "right of way": "note"}


def test_width__gives_a_crossing_its_length_and_a_sharp_one_is_longer(slope) -> None:
    wide = document(slope, layer("road", ROAD, width="4 m"))["crossings"][0]
    assert wide["length_m"] == pytest.approx(4.0, abs=0.01)
    sharp = document(slope, layer("stream", STREAM, width="4 m"))["crossings"][0]
    assert sharp["length_m"] == pytest.approx(4.0 / math.sin(math.radians(45)), abs=0.02)
    assert sharp["width_m"] == 4.0


def test_along__a_stream_beside_the_line_is_one_stretch(slope) -> None:
    beside = feature((200, 3), (400, 3), name="leat")
    (row,) = document(slope, layer("stream", beside))["crossings"]
    assert row["relation"] == "along"
    assert row["length_m"] == pytest.approx(200 + 2 * 4.0, abs=0.5)
    assert row["angle_deg"] is None
    assert document(slope, layer("stream", beside, beside="2 m"))["crossings"] == []
    assert document(slope, layer("parcel", beside))["crossings"] == []


def test_cover__a_limit_as_the_message_gives_it_mends_it(slope) -> None:
    plain = document(slope, layer("road", ROAD))
    told = next(each for each in plain["warnings"] if each["code"] == "road_cover")
    assert "trench.limit" in told["message"]
    check = next(each for each in plain["checks"] if each["code"] == "road_cover")
    assert check["demand"] == pytest.approx(plain["crossings"][0]["cover_m"], abs=1e-4)
    limit = {"from": "297 m", "to": "303 m", "cover": "0.9 m", "max_depth": "1.6 m"}
    mended = document(slope, layer("road", ROAD), trench={"limit": [limit]})
    assert mended["crossings"][0]["cover_m"] >= 0.9
    assert "road_cover" not in codes(mended)


def test_scour__a_wide_stream_of_known_flood_asks_for_half_of_it_more(slope) -> None:
    wide = layer("stream", STREAM, width="6 m", flood_depth="1.4 m")
    doc = document(slope, wide)
    check = next(each for each in doc["checks"] if each["code"] == "bed_cover")
    assert check["limit"] == pytest.approx(0.6 + 0.7)
    assert not check["passed"]
    assert any("valve on both sides" in words for words in doc["crossings"][0]["asks"])
    narrow = document(slope, layer("stream", STREAM, width="3 m", flood_depth="1.4 m"))
    check = next(each for each in narrow["checks"] if each["code"] == "bed_cover")
    assert check["limit"] == pytest.approx(0.6)
    unknown = document(slope, layer("stream", STREAM, width="6 m"))["crossings"][0]
    assert any("flood" in words for words in unknown["asks"])


def test_span__a_bridge_over_a_stream_has_no_cover_to_keep(slope) -> None:
    span = {"span": [{"from": "480 m", "to": "520 m", "support_spacing": "4 m"}]}
    doc = document(slope, layer("stream", STREAM), trench=span)
    assert "bed_cover" not in {each["code"] for each in doc["checks"]}
    assert any("bridge" in words for words in doc["crossings"][0]["asks"])


def test_span__an_area_with_a_bridge_in_it_has_the_cover_of_its_trench(slope) -> None:
    span = {"span": [{"from": "480 m", "to": "520 m", "support_spacing": "4 m"}]}
    area = layer(
        "parcel", feature((450, -30), (700, -30), (700, 30), (450, 30), area=True, name="P")
    )
    plain, bridged = (
        document(slope, area, trench=told)["crossings"][0]["cover_m"] for told in ({}, span)
    )
    assert bridged == pytest.approx(plain, abs=0.05)
    assert bridged > 0.0, "the air below the pipe is no cover"


@pytest.mark.parametrize(("depth", "near"), [(0.2, False), (0.8, True), (2.5, False)])
def test_service__pipe_and_service_keep_apart(slope, depth: float, near: bool) -> None:
    cable = feature((300, -50), (300, 50), name="cable", depth_m=depth)
    doc = document(slope, layer("service", cable))
    assert ("service_near" in codes(doc)) is near


def test_no_go__a_line_and_an_area_are_faults(slope) -> None:
    assert codes(document(slope, layer("no-go", WOOD)))["no_go_crossed"] == "fault"
    assert codes(document(slope, layer("no-go", ROAD)))["no_go_crossed"] == "fault"
    away = feature((600, 100), (720, 100), (720, 130), (600, 130), area=True)
    assert "no_go_crossed" not in codes(document(slope, layer("no-go", away)))


def test_us__asks_and_messages_speak_feet(slope) -> None:
    doc = document(slope, layer("road", ROAD), study={"units": "us"})
    words = json.dumps([doc["crossings"][0]["asks"], [w["message"] for w in doc["warnings"]]])
    assert "2.95 ft" in words
    assert "0.90 m" not in words


def test_papers__every_file_names_the_crossings(slope, tmp_path) -> None:
    import io

    import ezdxf
    import openpyxl
    import pyogrio

    from routing.papers import export_bytes, map_html
    from routing.papers.field import field_html

    doc = document(slope, layer("road", ROAD), layer("protected", WOOD))
    for text in (
        export_bytes(doc, "gpx").decode(),
        export_bytes(doc, "kml").decode(),
        export_bytes(doc, "stakes").decode(),
        field_html(doc, None),
        map_html(doc, None),
    ):
        assert "X1" in text
        assert "mill track" in text
        assert "X2" in text
    assert "X2 ends" in export_bytes(doc, "stakes").decode()
    page = map_html(doc, None)
    assert "protected area alder wood" in page
    assert '"#009E73"' in page
    path = tmp_path / "study.gpkg"
    path.write_bytes(export_bytes(doc, "gpkg"))
    frame = pyogrio.read_dataframe(path, layer="crossings")
    assert list(frame["id"]) == ["X1", "X2"]
    assert list(frame["length_m"]) == pytest.approx([row["length_m"] for row in doc["crossings"]])
    rows = [
        each["properties"]
        for each in json.loads(export_bytes(doc, "geojson"))["features"]
        if each["properties"]["layer"] == "crossings"
    ]
    assert [row["name"] for row in rows] == ["mill track", "alder wood"]
    drawing = ezdxf.read(io.StringIO(export_bytes(doc, "dxf").decode()))
    assert len(drawing.modelspace().query('INSERT[layer=="CROSSINGS"]')) == 2
    book = openpyxl.load_workbook(io.BytesIO(export_bytes(doc, "xlsx")), data_only=True)
    table = list(book["crossings"].iter_rows(values_only=True))
    assert [row[0] for row in table[2:]] == ["X1", "X2"]


def test_names__a_crossing_keeps_its_name_when_another_comes_before_it(slope) -> None:
    from routing.record import keep_names

    before = document(slope, layer("protected", WOOD))
    assert [row["id"] for row in before["crossings"]] == ["X1"]
    after = keep_names(document(slope, layer("road", ROAD), layer("protected", WOOD)), before)
    assert [(row["id"], row["kind"]) for row in after["crossings"]] == [
        ("X2", "road"),
        ("X1", "protected"),
    ]


def test_terminal__lists_the_crossings(slope) -> None:
    import io

    from api.summary import print_summary

    said = io.StringIO()
    print_summary(
        document(slope, layer("road", ROAD), layer("parcel", WOOD, consent="deed 7")), said
    )
    assert "X1 at 300.1 m: road mill track, at 90°; consent: none named." in said.getvalue()
    assert "consent: deed 7." in " ".join(said.getvalue().split())


@pytest.mark.parametrize(("angle", "relation"), [(19.5, "along"), (20.5, "crosses")])
def test_relation__flatter_than_twenty_degrees_is_along(slope, angle: float, relation: str) -> None:
    # Our own choice, which the docstring of the constant states.
    across = 200.0 * math.tan(math.radians(angle))
    road = feature((300, -across), (700, across), name="mill track")
    rows = document(slope, layer("road", road))["crossings"]
    assert relation in [row["relation"] for row in rows]
    assert ("along" in [row["relation"] for row in rows]) == (relation == "along")


ROCK = feature((200, -40), (320, -40), (320, 40), (200, 40), area=True, name="rock")
BOG = feature((300, -30), (400, -30), (400, 30), (300, 30), area=True, name="bog")
PRICES = {"trench_per_m3": 10.0, "ground": {"rock": 45.0, "bog": 22.0}, "currency": "EUR"}


def test_ground__stretches_of_the_line_in_each_class_and_their_digging(slope):
    """Areas drawn in metres along a straight line: their ends are the stations (pyproj)."""
    doc = document(slope, layer("ground", ROCK, BOG), prices=PRICES)
    found = [(each["kind"], each["from_m"], each["to_m"]) for each in doc["trench"]["ground"]]
    assert [kind for kind, *_ in found] == ["rock", "bog"]
    assert [end for _, *ends in found for end in ends] == pytest.approx(
        [200.0, 320.0, 300.0, 400.0], abs=0.5
    )
    assert doc["crossings"] == []
    rows = {each["size"]: each for each in doc["quantities"] if each["what"] == "trench"}
    length = doc["stations"]["station_m"][-1]
    # The trench of an even slope is as deep everywhere: digging goes with length, rock comes first.
    share = {name: row["quantity"] / doc["trench"]["volume_m3"] for name, row in rows.items()}
    assert share["rock"] == pytest.approx(120.0 / length, abs=12.0 / length)
    assert share["bog"] == pytest.approx(80.0 / length, abs=12.0 / length)
    assert sum(share.values()) == pytest.approx(1.0, abs=1e-3)
    assert [rows[name]["price"] for name in ("", "rock", "bog")] == [10, 45, 22]


def test_ground__a_stretch_by_its_stations_comes_before_the_layer(slope):
    own = {"ground": [{"from": "210 m", "to": "310 m", "kind": "made ground"}]}
    doc = document(slope, layer("ground", ROCK), trench=own)
    assert [each["kind"] for each in doc["trench"]["ground"]] == ["made ground", "rock"]
    rows = {e["size"]: e["quantity"] for e in doc["quantities"] if e["what"] == "trench"}
    assert rows["made ground"] > 4.0 * rows["rock"]


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        (feature((300, -50), (300, 50), name="rock"), "'rock' in it is no area with a class"),
        (feature((0, 0), (9, 0), (9, 9), (0, 0), area=True), "'' in it is no area with a class"),
    ],
)
def test_ground__wants_areas_that_name_their_class(shape, words):
    with pytest.raises(SettingsError, match=words):
        settings_from_mapping({"layer": [layer("ground", shape)]})


def test_cover__what_is_short_does_not_read_as_enough(slope) -> None:
    message = next(
        each["message"]
        for each in document(slope, layer("road", ROAD), trench={"cover": "0.8967 m"})["warnings"]
        if each["code"] == "road_cover"
    )
    assert "0.89 m of cover" in message
    assert "less than the 0.90 m asked" in message
