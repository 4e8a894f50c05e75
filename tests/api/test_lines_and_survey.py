"""The choice of a line and surveyed points through the command and over HTTP."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import httpx
import pytest
from leatline_command import clean, leatline


@pytest.fixture
def two_lines(line: dict[str, Any], tmp_path: Path) -> Path:
    """Return a file of the line and, first in it, one that leaves the raster."""
    other = {
        "type": "Feature",
        "properties": {"name": "elsewhere"},
        "geometry": {"type": "LineString", "coordinates": [[0, 0], [0.01, 0]]},
    }
    own = {**line, "properties": {"name": "beck"}}
    path = tmp_path / "two.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [other, own]}))
    return path


def test_study__line_of_several(two_lines: Path, hill: Path, tmp_path: Path) -> None:
    asked = ("study", two_lines, "--terrain", hill, "--out", "o", "--format", "json")
    said = clean(leatline(*asked, cwd=tmp_path), 2)
    assert "2 lines: elsewhere, beck" in said
    assert "--line" in said
    assert not (tmp_path / "o").exists()
    done = leatline(*asked, "--line", "beck", cwd=tmp_path)
    clean(done, 0)
    assert json.loads(done.stdout)["route"]["name"] == "beck"
    (tmp_path / "s.toml").write_text("[study]\nline = 2\n")
    by_number = leatline(*asked, "--settings", "s.toml", cwd=tmp_path)
    assert json.loads(by_number.stdout)["route"]["name"] == "beck"


def test_study__survey_file_beside_the_settings(
    line_file: Path, hill: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "settings here"
    folder.mkdir()
    (folder / "levels.csv").write_text("name,station,elevation\nintake,0,300\npeg,100,290.5\n")
    (folder / "s.toml").write_text('[survey]\npoints = "levels.csv"\n')
    done = leatline(
        "study", line_file, "--terrain", hill, "--settings", folder / "s.toml",
        "--out", "o", "--format", "json", cwd=tmp_path,
    )  # fmt: skip
    clean(done, 0)
    document = json.loads(done.stdout)
    assert document["summary"]["intake_level_m"] == 300.0
    at = document["stations"]["station_m"].index(100.0)
    assert document["stations"]["ground_m"][at] == 290.5
    assert [point["name"] for point in document["survey"]["points"]] == ["intake", "peg"]


def test_studies__survey_in_the_request(client: httpx.Client, body: dict[str, Any]) -> None:
    rows = [{"station": "100 m", "elevation": "290.5 m"}]
    features = {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {"station": "100 m", "elevation": "290.5 m"},
                "geometry": None,
            }
        ],
    }
    grounds = []
    for points in (rows, features):
        asked = {**body, "settings": {**body["settings"], "survey": {"points": points}}}
        response = client.post("/api/preview", json=asked)
        assert response.status_code == 200, response.text
        stations = response.json()["stations"]
        grounds.append(stations["ground_m"][stations["station_m"].index(100.0)])
    assert grounds == [290.5, 290.5]


def test_studies__a_server_reads_no_survey_file(client: httpx.Client, body: dict[str, Any]) -> None:
    asked = {**body, "settings": {**body["settings"], "survey": {"points": "/etc/passwd"}}}
    response = client.post("/api/studies", json=asked)
    assert response.status_code == 422
    assert "names a file" in response.text
    assert "root:" not in response.text


def test_studies__line_of_several(client: httpx.Client, body: dict[str, Any]) -> None:
    other = {"type": "LineString", "coordinates": [[0, 0], [0.01, 0]]}
    own = {**body["route"], "properties": {"name": "beck"}}
    several = {
        "type": "FeatureCollection",
        "features": [{"type": "Feature", "properties": {"name": "b"}, "geometry": other}, own],
    }
    refused = client.post("/api/preview", json={**body, "route": several})
    assert refused.status_code == 422
    assert "b, beck" in refused.text
    settings = {**body["settings"], "study": {"line": "beck"}}
    taken = client.post("/api/preview", json={**body, "route": several, "settings": settings})
    assert taken.status_code == 200, taken.text
