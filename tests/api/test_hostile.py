from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import Serve, is_problem, upload

Body = dict[str, Any]
JSON = {"content-type": "application/json"}


@pytest.mark.parametrize(
    "value", ["NaN", "Infinity", "-Infinity", "1e999", '"\\ud800"', "[" * 5000], ids=lambda v: v[:9]
)
def test_body__what_is_no_json_is_one_clear_422(
    client: httpx.Client, body: Body, value: str
) -> None:
    text = json.dumps({**body, "settings": {"intake": {"loss": 0.5}}}).replace("0.5", value, 1)
    for path in ("/api/studies", "/api/preview"):
        response = client.post(path, content=text, headers=JSON)
        problem = is_problem(response, 422, "invalid_request")
        assert problem["fields"][0]["where"].startswith("body")


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"terrain": "0" * 16}, "not_found"),
        ({"terrain": "../../etc/passwd"}, "invalid_request"),
        ({"terrain": []}, "invalid_request"),
        ({"terrain": None}, "invalid_request"),
        ({"name": ""}, "invalid_request"),
        ({"name": "x" * 201}, "invalid_request"),
        ({"colour": "red"}, "invalid_request"),
        ({"route": 5}, "invalid_request"),
        ({"route": {}}, "route"),
        ({"route": {"type": "Polygon", "coordinates": []}}, "route"),
        ({"route": {"type": {}}}, "route"),
        ({"route": {"type": []}}, "route"),
        ({"route": {"type": "Feature", "geometry": {"type": {}}}}, "route"),
        ({"route": {"type": "GeometryCollection", "geometries": [{"type": {}}]}}, "route"),
        ({"route": {"type": "LineString", "coordinates": [[1, 2]]}}, "route"),
        ({"route": {"type": "LineString", "coordinates": [["a", "b"], [1, 2]]}}, "route"),
        ({"route": {"type": "LineString", "coordinates": [[62.2, -160.0], [62.3, -161]]}}, "route"),
        ({"settings": []}, "invalid_request"),
        ({"settings": {"trenhc": {}}}, "settings"),
        ({"settings": {"trench": {"covr": "1 m"}}}, "settings"),
        ({"settings": {"trench": {"cover": "1 kPa"}}}, "quantity"),
        ({"settings": {"trench": {"cover": 1}}}, "quantity"),
        ({"settings": {"trench": {"cover": "1e400 m"}}}, "quantity"),
        ({"settings": {"pipe": {}}}, "settings"),
        ({"settings": {"pipe": [{"catalogue": "no-such"}]}}, "pipe"),
        ({"settings": {"study": "x"}, "name": "n"}, "settings"),
        ({"settings": {"terrain": {"crs": "EPSG:0"}}}, "missing_crs"),
        ({"settings": {"terrain": {"crs": "EPSG:4326"}}}, "missing_crs"),
        ({"settings": {"terrain": {"crs": "EPSG:4979"}}}, "missing_crs"),
        ({"settings": {"terrain": {"band": 2}}}, "not_elevation"),
        ({"settings": {"survey": {"points": "/etc/passwd"}}}, "settings"),
    ],
    ids=str,
)
def test_create__bad_input_is_one_clear_problem(
    client: httpx.Client, body: Body, change: Body, code: str
) -> None:
    problem = is_problem(
        client.post("/api/studies", json={**body, **change}),
        404 if code == "not_found" else 422,
        code,
    )
    assert problem["hint"]
    assert "Traceback" not in str(problem)
    assert "/terrains/" not in problem["detail"]


def test_create__unknown_key_names_the_nearest(client: httpx.Client, body: Body) -> None:
    body["settings"] = {"trench": {"covr": "1 m"}}
    assert "cover" in is_problem(client.post("/api/studies", json=body), 422)["hint"]


def test_create__a_million_vertices_are_refused(client: httpx.Client, body: Body) -> None:
    points = [[-16.9 + i * 1e-9, 62.2] for i in range(1_000_000)]
    body["route"] = {"type": "LineString", "coordinates": points}
    for _ in range(5):
        try:
            answer = client.post("/api/studies", json=body)
        except httpx.TransportError:
            continue  # closed before all was sent, the answer may be lost (RFC 9112, 9.6)
        break
    is_problem(answer, 413, "too_large")


def test_create__vertex_and_sample_limits(
    serve: Serve, tmp_path: Path, hill: Path, line: Body
) -> None:
    with serve(tmp_path / "a", max_vertices=4) as client:
        body = {"terrain": upload(client, hill).json()["id"], "route": line}
        problem = is_problem(client.post("/api/studies", json=body), 413, "too_large")
        assert "LEATLINE_MAX_VERTICES" in problem["hint"]
    with serve(tmp_path / "b", max_profile_samples=20) as client:
        body = {"terrain": upload(client, hill).json()["id"], "route": line}
        problem = is_problem(client.post("/api/preview", json=body), 413, "too_large")
        assert "LEATLINE_MAX_PROFILE_SAMPLES" in problem["hint"]


def test_body__limit_holds_without_a_length(serve: Serve, tmp_path: Path) -> None:
    def chunks() -> Any:
        for _ in range(100):
            yield b" " * 1024

    with serve(tmp_path, max_body_bytes=10_000) as client:
        for path in ("/api/studies", "/api/preview"):
            response = client.post(path, content=chunks(), headers=JSON)
            is_problem(response, 413, "too_large")


def test_problems__have_one_shape_everywhere(client: httpx.Client) -> None:
    is_problem(client.get("/api/nowhere"), 404, "not_found")
    is_problem(client.get("/nowhere"), 404, "not_found")
    is_problem(client.get("/js/nowhere.js"), 404, "not_found")
    is_problem(client.get("/js/../build.py"), 404, "not_found")
    is_problem(client.get("/js/%2e%2e/build.py"), 404, "not_found")
    response = client.delete("/api/health")
    is_problem(response, 405, "method_not_allowed")
    assert "GET" in response.headers["allow"]
    is_problem(client.get("/api/studies?limit=0"), 422, "invalid_request")
    is_problem(client.get("/api/studies?limit=x"), 422, "invalid_request")
    is_problem(client.post("/api/studies", content=b"x", headers={"content-type": "text/x"}), 422)


def test_problems__every_code_is_explained(client: httpx.Client) -> None:
    kinds = client.get("/api/problems").json()
    assert kinds["outside_terrain"]["status"] == 422
    assert all(kind["meaning"].endswith(".") for kind in kinds.values())


def test_names__are_text_wherever_they_come_out(client: httpx.Client, body: Body) -> None:
    name = '</script><script>alert(1)</script> & "q" \'é 🚰'
    saved = client.post("/api/studies", json={**body, "name": name})
    assert saved.json()["name"] == name
    path = saved.headers["location"]
    page = client.get(f"{path}/map")
    assert "<script>alert(1)" not in page.text
    assert "default-src 'none'" in page.headers["content-security-policy"]
    for form in ("gpkg", "geojson", "kml", "gpx", "csv"):
        response = client.get(f"{path}/export", params={"format": form})
        assert response.status_code == 200
        response.headers["content-disposition"].encode("ascii")


def test_fault__is_a_problem_without_insides(serve: Serve, tmp_path: Path) -> None:
    with serve(tmp_path) as client:
        with sqlite3.connect(tmp_path / "leatline.sqlite3") as connection:
            connection.execute("DROP TABLE revisions")
        connection.close()
        problem = is_problem(client.get("/api/studies"), 500, "fault")
        assert "sqlite" not in str(problem).lower()
        assert str(tmp_path) not in str(problem)


def test_problem__quotes_no_endless_value(client: httpx.Client, body: Body) -> None:
    body["settings"] = {"trench": {"cover": "9" * 100_000}}
    response = client.post("/api/preview", json=body)
    is_problem(response, 422, "quantity")
    assert len(response.content) < 3000
