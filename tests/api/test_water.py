"""Streams and catchments over HTTP and by command."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import Serve, is_problem, upload
from leatline_command import clean, leatline
from pyproj import Geod
from shapely.geometry import Point, shape

GEOD = Geod(ellps="WGS84")


def middle(client: httpx.Client, terrain: str) -> tuple[float, float]:
    box = client.get(f"/api/terrains/{terrain}").json()["bounds"]
    return (box["west"] + box["east"]) / 2, (box["south"] + box["north"]) / 2


def test_streams__lines_downstream_with_what_drains_to_them(
    client: httpx.Client, terrain: str
) -> None:
    answer = client.get(f"/api/terrains/{terrain}/streams", params={"threshold_m2": 1000})
    assert answer.status_code == 200, answer.text
    found = answer.json()
    assert found["type"] == "FeatureCollection"
    assert found["threshold_m2"] == 1000
    assert found["truncated"] is False
    assert len(found["features"]) >= 3
    assert all(each["properties"]["area_m2"] >= 1000 for each in found["features"])
    fewer = client.get(f"/api/terrains/{terrain}/streams", params={"threshold_m2": 5000}).json()
    assert 0 < len(fewer["features"]) < len(found["features"])


def test_streams__of_a_box(client: httpx.Client, terrain: str) -> None:
    lon, lat = middle(client, terrain)
    box = {"west": lon, "south": lat, "east": lon + 1e-4, "north": lat + 1e-4}
    address = f"/api/terrains/{terrain}/streams"
    whole = client.get(address, params={"threshold_m2": 1000}).json()
    part = client.get(address, params={"threshold_m2": 1000, **box}).json()
    assert 0 < len(part["features"]) < len(whole["features"])
    far = {"west": lon + 20, "south": lat, "east": lon + 21, "north": lat + 1}
    assert client.get(address, params={"threshold_m2": 1000, **far}).json()["features"] == []


@pytest.mark.parametrize(
    ("query", "code"),
    [
        ({"threshold_m2": 120}, "input"),
        ({"west": 1.0}, "input"),
        ({"threshold_m2": -5}, "invalid_request"),
        ({"crs": "no such system"}, "missing_crs"),
    ],
)
def test_streams__refuses(
    client: httpx.Client, terrain: str, query: dict[str, Any], code: str
) -> None:
    is_problem(client.get(f"/api/terrains/{terrain}/streams", params=query), 422, code)
    is_problem(client.get("/api/terrains/0000000000000000/streams"), 404, "not_found")


def test_catchment__area_outline_and_way_to_the_stream(client: httpx.Client, terrain: str) -> None:
    streams = client.get(f"/api/terrains/{terrain}/streams", params={"threshold_m2": 1000}).json()
    longest = max(streams["features"], key=lambda each: each["properties"]["area_m2"])
    at = longest["geometry"]["coordinates"][-2]
    asked = {"at": [at[0], at[1] + 4e-5], "threshold_m2": 1000, "snap_m": 50}
    answer = client.post(f"/api/terrains/{terrain}/catchment", json=asked)
    assert answer.status_code == 200, answer.text
    found = answer.json()
    assert found["on_stream"] is True
    way = GEOD.inv(*asked["at"], found["lon"], found["lat"])[2]
    assert found["snapped_m"] == pytest.approx(way, abs=0.02) or found["snapped_m"] == 0.0
    border = shape(found["outline"])
    area = abs(GEOD.geometry_area_perimeter(border)[0])
    assert area == pytest.approx(found["area_m2"], rel=1e-5)
    assert border.buffer(1e-7).contains(Point(found["lon"], found["lat"]))


def test_catchment__refuses(client: httpx.Client, terrain: str) -> None:
    address = f"/api/terrains/{terrain}/catchment"
    is_problem(client.post(address, json={"at": [0.0, 0.0]}), 422, "outside_terrain")
    is_problem(client.post(address, json={"at": [0.0]}), 422, "invalid_request")
    is_problem(client.post(address, json={"at": [0.0, 0.0], "more": 1}), 422, "invalid_request")


def test_water__a_raster_beyond_the_limit(serve: Serve, hill: Path, tmp_path: Path) -> None:
    with serve(tmp_path / "data", max_water_cells=100) as client:
        identity = upload(client, hill).json()["id"]
        told = is_problem(client.get(f"/api/terrains/{identity}/streams"), 413, "too_large")
        assert "LEATLINE_MAX_WATER_CELLS" in json.dumps(told)


def test_terrain_command__writes_streams(hill: Path, tmp_path: Path) -> None:
    out = tmp_path / "streams.geojson"
    asked = ("terrain", hill, "--streams", out, "--threshold")
    clean(leatline(*asked, "1000 m2", cwd=tmp_path), 0)
    found = json.loads(out.read_text())
    assert found["features"]
    assert found["threshold_m2"] == 1000.0
    assert "--threshold" in clean(leatline(*asked, "1000", cwd=tmp_path), 2)
    itself = ("terrain", hill, "--streams", hill)
    assert "the raster itself" in clean(leatline(*itself, cwd=tmp_path), 2)
    nowhere = ("terrain", hill, "--streams", tmp_path / "no" / "s.geojson")
    assert "does not exist" in clean(leatline(*nowhere, cwd=tmp_path), 2)
