"""Streams that only the raster shows: counted where a line meets them, as the table says."""

from __future__ import annotations

import csv
import json

import numpy as np
import pytest
from plane_hill import place

from routing.line import Route
from routing.search import propose, write_search
from routing.search.beds import beds_met
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain

TABLES = {"catchment": {"threshold": "0.01 km2"}}


@pytest.fixture
def slope(make_raster):
    """Ground that falls to the south with three gullies, 200 m apart, that run down it."""
    rows, cols = np.mgrid[:60, :80]
    gully = np.min([np.abs(cols - at) for at in (20, 40, 60)], axis=0)
    return make_raster(500.0 - 1.0 * rows + 3.0 * np.minimum(gully, 5))


def met(path, points, tables=TABLES):
    settings = settings_from_mapping(tables)
    lon, lat = np.array([place(*point) for point in points]).T
    return beds_met(
        open_study_terrain([path], settings), settings, Route(name="a", lon=lon, lat=lat)
    )


@pytest.mark.parametrize(
    ("points", "count"),
    [
        ([(105, 205), (705, 205)], 3),
        ([(105, 205), (505, 205)], 2),
        ([(205, 205), (505, 205)], 1),  # its first end stands in a bed
        ([(260, 205), (340, 205)], 0),
        ([(105, 205), (401, 205), (409, 155), (409, 100), (480, 100)], 2),  # along a bed for 100 m
    ],
)
def test_beds_met__each_place_once(slope, points, count):
    assert met(slope, points) == count


def test_beds_met__a_layer_of_streams_leaves_it_to_the_study(slope):
    line = {"type": "LineString", "coordinates": [list(place(305, y)) for y in (10, 590)]}
    feature = {"type": "Feature", "properties": {}, "geometry": line}
    layer = {"kind": "stream", "features": {"type": "FeatureCollection", "features": [feature]}}
    assert met(slope, [(105, 205), (705, 205)], {**TABLES, "layer": [layer]}) is None


def test_write_search__the_table_has_the_streams_of_the_raster_beside_those_of_layers(
    slope, tmp_path
):
    settings = settings_from_mapping({**TABLES, "search": {"alternatives": 1}})
    terrain = open_study_terrain([slope], settings)
    found = propose(terrain, place(105, 155), place(705, 405), settings)
    document = write_search(found, tmp_path)
    with (tmp_path / "alternatives.csv").open(encoding="utf-8") as stream:
        (row,) = csv.DictReader(stream)
    study = json.loads((tmp_path / "1" / "study.json").read_text("utf-8"))
    assert int(row["crossings"]) == len(study.get("crossings") or ()) == 0
    assert int(row["stream_beds"]) == document["alternatives"][0]["stream_beds"] == 3
    assert document["currency"] is None
    assert document["cost_unit"] == "m3 of trench"
