"""Surveys as people write them: field books, satellite receivers, GIS layers."""

from __future__ import annotations

from pathlib import Path

import geopandas
import pytest
import shapely

from routing.errors import InputError
from routing.survey import (
    SurveyPoint,
    read_survey,
    survey_from_geojson,
    survey_from_rows,
)

FOOT = 0.3048


def read(
    tmp_path: Path, text: str, name: str = "levels.csv", **more: str
) -> tuple[SurveyPoint, ...]:
    path = tmp_path / name
    path.write_bytes(text.encode())
    return read_survey(path, **more)


def test_read_survey__station_and_offset(tmp_path: Path) -> None:
    one, two = read(
        tmp_path,
        "# Skarn Beck, May\n\nstation,offset,elevation,name,accuracy\n"
        "0,0,412.6,intake,0.02\n310,-2.5,390.15,,\n",
    )
    assert (one.station_m, one.offset_m, one.elevation_m) == (0.0, 0.0, 412.6)
    assert (one.name, one.accuracy_m, one.end) == ("intake", 0.02, "intake")
    assert (two.station_m, two.offset_m, two.elevation_m, two.name) == (310.0, -2.5, 390.15, None)


def test_read_survey__semicolons_and_decimal_commas(tmp_path: Path) -> None:
    (point,) = read(tmp_path, "Lon;Lat;Height\n7,125;46,25;412,6\n")
    assert (point.lon, point.lat, point.elevation_m) == (7.125, 46.25, 412.6)


@pytest.mark.parametrize(
    ("heading", "cells", "unit"),
    [
        ("station_ft,elevation_ft", "1000,1350", None),
        ("station (ft),elevation [ft]", "1000,1350", None),
        ("station,elevation", "1000 ft,1350 ft", None),
        ("station,elevation,unit", "1000,1350,feet", None),
        ("station,elevation", "1000,1350", "ft"),
        ("station_m,elevation_m", "1000,1350", "ft"),
    ],
)
def test_read_survey__feet(tmp_path: Path, heading: str, cells: str, unit: str | None) -> None:
    more = {} if unit is None else {"unit": unit}
    (point,) = read(tmp_path, f"{heading}\n{cells}\n", **more)
    assert point.station_m == pytest.approx(1000 * FOOT)
    assert point.elevation_m == pytest.approx(1350 * FOOT)


def test_read_survey__us_survey_feet(tmp_path: Path) -> None:
    # 1 US survey foot = 1200/3937 m (Mendenhall order of 1893).
    (point,) = read(tmp_path, "station,elevation\n0,3937\n", unit="US survey foot")
    assert point.elevation_m == pytest.approx(1200.0, abs=1e-9)


@pytest.mark.parametrize("column", [True, False])
def test_read_survey__map_grid(tmp_path: Path, column: bool) -> None:
    # The central meridian of UTM zone 32 has easting 500 000 m.
    text = "e,n,z,epsg\n500000,5100000,9,32632\n" if column else "e,n,z\n500000,5100000,9\n"
    more = {} if column else {"crs": "EPSG:32632"}
    (point,) = read(tmp_path, text, **more)
    assert point.lon == pytest.approx(9.0, abs=1e-9)


def test_read_survey__geojson_and_geopackage(tmp_path: Path) -> None:
    frame = geopandas.GeoDataFrame(
        {"name": ["peg", "outlet"], "elevation": [412.6, 331.2]},
        geometry=[shapely.Point(7.1, 46.3), shapely.Point(7.2, 46.2)],
        crs="EPSG:4326",
    )
    frame.to_file(tmp_path / "a.geojson", driver="GeoJSON")
    frame.to_file(tmp_path / "a.gpkg")
    frame.to_crs("EPSG:25832").to_file(tmp_path / "b.gpkg")
    for name in ("a.geojson", "a.gpkg", "b.gpkg"):
        points = read_survey(tmp_path / name)
        assert [(p.name, p.elevation_m) for p in points] == [("peg", 412.6), ("outlet", 331.2)]
        assert [p.lon for p in points] == pytest.approx([7.1, 7.2], abs=1e-8)


def test_survey_from_geojson__height_of_the_position() -> None:
    feature = {
        "type": "Feature",
        "properties": None,
        "geometry": {"type": "Point", "coordinates": [7.1, 46.3, 412.6]},
    }
    (point,) = survey_from_geojson({"type": "FeatureCollection", "features": [feature]})
    assert (point.lon, point.lat, point.elevation_m) == (7.1, 46.3, 412.6)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("station,offset\n0,0\n", "line 2 has no elevation"),
        ("elevation\n5\n", "line 2 has no place"),
        ("station,elevation\n0,high\n", "line 2, elevation"),
        ("station,elevation\n0,99999\n", "no ground has"),
        ("station,elevation\n0,nan\n", "elevation"),
        ("station,elevation\nnan,5\n", "station"),
        ("x,y,z\n1,2,3\n", "no coordinate system"),
        ("x,y,z,crs\n1,2,3,EPSG:999999\n", "not understood"),
        ("lon,lat,z\n46.3,100,3\n", "no longitude and latitude"),
        ("lon,lat,z\nseven,46,3\n", "'seven'"),
        ("station,elevation,unit\n0,3,cubits\n", "cubits"),
        ("station,elevation,accuracy\n0,3,0\n", "accuracy"),
        ("station,elevation\n", "no surveyed point"),
        ("# nothing\n", "is empty"),
        ("", "is empty"),
    ],
)
def test_read_survey__bad_rows_are_named(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        read(tmp_path, text)
    assert caught.value.remedy


def test_read_survey__not_a_survey(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no file of surveyed points"):
        read(tmp_path, "<gpx></gpx>", "a.gpx")
    with pytest.raises(InputError, match="cannot be opened"):
        read_survey(tmp_path / "nowhere.csv")


def test_survey_from_rows__bad_row_is_named() -> None:
    with pytest.raises(InputError, match=r"survey\.points\[1\]"):
        survey_from_rows([{"station": 0, "elevation": 5}, {"station": 5}])
    with pytest.raises(InputError, match=r"survey\.points\[0\]"):
        survey_from_rows([7])  # type: ignore[list-item]
