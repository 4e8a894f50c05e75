"""The catchment on map, in geographic files and among the figures."""

from __future__ import annotations

import io
import zipfile

import geopandas
import numpy as np
import pytest
from pyproj import Geod
from shapely.geometry import shape

from routing.catchment_study import _kept
from routing.outputs import study_streams
from routing.papers import export
from routing.papers.geojson import features
from routing.papers.map import map_html
from routing.papers.study_facts import summary_facts
from routing.record import study_document


@pytest.fixture
def document(make_raster, slope):
    """A study on the plain slope with its catchment, taken for a stream."""
    _kept.clear()
    return study_document(
        slope(catchment={"threshold": "0.0005 km2", "specific_yield": "30 L/s/km2"})
    )


def test_catchment__is_a_polygon_in_geographic_files(document, tmp_path):
    (outline,) = [found for found in features(document) if found[0] == "catchment"]
    border = shape(outline[1])
    assert border.is_valid
    area = abs(Geod(ellps="WGS84").geometry_area_perimeter(border)[0])
    assert area == pytest.approx(document["catchment"]["area_m2"], rel=0.1)
    export(document, "gpkg", tmp_path / "s.gpkg")
    layer = geopandas.read_file(tmp_path / "s.gpkg", layer="catchment")
    assert layer.geometry[0].area == pytest.approx(border.area, rel=1e-6)
    assert layer["at_least"][0] in (True, False, np.True_, np.False_)
    export(document, "shp", tmp_path / "s.zip")
    with zipfile.ZipFile(io.BytesIO((tmp_path / "s.zip").read_bytes())) as archive:
        archive.extractall(tmp_path / "shp")
    drawn = geopandas.read_file(tmp_path / "shp" / "catchment.shp")
    assert drawn.geometry[0].area == pytest.approx(border.area, rel=1e-6)


def test_catchment__is_a_layer_of_the_map(document):
    page = map_html(document, None)
    assert "Catchment of the intake" in page
    without = {key: value for key, value in document.items() if key != "catchment"}
    assert '"Catchment of the intake"' not in map_html(without, None)


def test_streams__are_a_layer_of_the_map(document):
    streams = {
        "features": [
            {
                "geometry": {"coordinates": [[15.0, 46.9], [15.001, 46.9]]},
                "properties": {"order": order},
            }
            for order in (1, 2)
        ]
    }
    page = map_html(document, None, streams)
    assert "Streams of the raster" in page
    assert "Streams of the raster" not in map_html(document, None)
    assert "Streams of the raster" not in map_html(document, None, {"features": []})


def test_study_streams__only_where_the_water_was_followed(make_raster, slope):
    _kept.clear()
    study = slope(catchment={"threshold": "0.0005 km2"})
    asked = study_document(study)
    found = study_streams(asked, study.terrain)
    assert found["features"]
    assert all(each["properties"]["area_m2"] >= 500.0 for each in found["features"])
    _kept.clear()
    assert study_streams(asked, study.terrain, wait=False) is None
    assert study_streams(study_document(slope()), study.terrain) is None
    given = study_document(slope(catchment={"area": "1 km2"}))
    assert study_streams(given, study.terrain) is None


def test_facts__say_how_sure_they_are(document):
    facts = dict(summary_facts(document))
    assert facts["Catchment of the intake"].startswith("at least ")
    assert "km², by d8" in facts["Catchment of the intake"]
    assert facts["Mean annual flow"].endswith("a guess from specific yield")
    us = dict(summary_facts({**document, "units": "us"}))
    assert "mi²" in us["Catchment of the intake"]
    document["catchment"].update(method="as given", at_least=False, snapped_m=None)
    assert dict(summary_facts(document))["Catchment of the intake"].endswith(", as given")
