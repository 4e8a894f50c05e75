from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import Serve, is_problem, upload

Body = dict[str, Any]


def test_create__answers_the_saved_study(client: httpx.Client, body: Body) -> None:
    response = client.post("/api/studies", json={**body, "name": "Line one"})
    assert response.status_code == 201, response.text
    study = response.json()
    assert (study["schema"], study["name"], study["revision"]) == (1, "Line one", 1)
    assert response.headers["location"] == f"/api/studies/{study['id']}"
    again = client.get(response.headers["location"])
    assert again.content == response.content
    assert again.headers["etag"] == response.headers["etag"]
    row = next(row for row in client.get("/api/studies").json() if row["id"] == study["id"])
    assert row["etag"] == response.headers["etag"]
    assert row["terrains"] == [body["terrain"]]


def test_create__name_of_the_line_unless_given(client: httpx.Client, body: Body) -> None:
    assert client.post("/api/studies", json=body).json()["name"] == "East beck"


def test_get__unchanged_is_304(client: httpx.Client, body: Body) -> None:
    saved = client.post("/api/studies", json=body)
    path, tag = saved.headers["location"], saved.headers["etag"]
    assert client.get(path, headers={"if-none-match": tag}).status_code == 304
    assert client.get(path, headers={"if-none-match": f'W/{tag}, "x"'}).status_code == 304
    assert client.get(path, headers={"if-none-match": '"x"'}).status_code == 200


def test_put__needs_the_newest_tag(client: httpx.Client, body: Body) -> None:
    saved = client.post("/api/studies", json=body)
    path = saved.headers["location"]
    is_problem(client.put(path, json=body), 428, "revision_required")
    changed = client.put(
        path, json={**body, "name": "b"}, headers={"if-match": saved.headers["etag"]}
    )
    assert changed.status_code == 200
    assert changed.json()["revision"] == 2
    assert changed.headers["etag"] != saved.headers["etag"]
    stale = client.put(path, json=body, headers={"if-match": saved.headers["etag"]})
    is_problem(stale, 412, "stale_revision")
    assert client.get(path).content == changed.content
    missing = client.put("/api/studies/0000", json=body, headers={"if-match": "*"})
    is_problem(missing, 404, "not_found")
    is_problem(client.put("/api/studies/0000", json=body), 404, "not_found")


def test_put__bad_input_changes_nothing(client: httpx.Client, body: Body) -> None:
    saved = client.post("/api/studies", json=body)
    bad = {**body, "settings": {"trench": {"cover": "0.9"}}}
    response = client.put(
        saved.headers["location"], json=bad, headers={"if-match": saved.headers["etag"]}
    )
    is_problem(response, 422, "quantity")
    assert client.get(saved.headers["location"]).content == saved.content


def test_put__of_two_at_once_exactly_one_wins(client: httpx.Client, body: Body) -> None:
    saved = client.post("/api/studies", json=body)
    path, tag = saved.headers["location"], saved.headers["etag"]
    start = threading.Barrier(6)

    def change(number: int) -> httpx.Response:
        with httpx.Client(base_url=client.base_url, timeout=300) as own:
            start.wait(10)
            return own.put(path, json={**body, "name": f"n{number}"}, headers={"if-match": tag})

    with ThreadPoolExecutor(6) as pool:
        answers = list(pool.map(change, range(6)))
    assert sorted(answer.status_code for answer in answers) == [200] + 5 * [412]
    winner = next(answer for answer in answers if answer.status_code == 200)
    assert client.get(path).content == winner.content


def test_delete__with_and_without_tag(client: httpx.Client, body: Body) -> None:
    path = client.post("/api/studies", json=body).headers["location"]
    is_problem(client.delete(path, headers={"if-match": '"x"'}), 412, "stale_revision")
    assert client.delete(path).status_code == 204
    for response in (client.get(path), client.delete(path), client.get(f"{path}/map")):
        is_problem(response, 404, "not_found")


def test_service__restart_keeps_everything(
    serve: Serve, tmp_path: Path, hill: Path, line: Body, tables: Body
) -> None:
    with serve(tmp_path) as client:
        terrain = upload(client, hill).json()
        body = {"terrain": terrain["id"], "route": line, "settings": tables}
        saved = client.post("/api/studies", json=body)
    with serve(tmp_path) as client:
        assert client.get("/api/terrains").json() == [terrain]
        again = client.get(saved.headers["location"])
        assert (again.content, again.headers["etag"]) == (saved.content, saved.headers["etag"])
        changed = client.put(
            saved.headers["location"], json=body, headers={"if-match": saved.headers["etag"]}
        )
        assert changed.json()["revision"] == 2


def test_preview__is_the_study_without_id(client: httpx.Client, body: Body) -> None:
    before = len(client.get("/api/studies").json())
    preview = client.post("/api/preview", json=body)
    assert preview.status_code == 200
    saved = client.post("/api/studies", json=body).json()
    for key in ("id", "revision", "terrain_ids"):
        del saved[key]
    assert preview.json() == saved
    assert len(client.get("/api/studies").json()) == before + 1


def test_preview__dragging_a_vertex_equals_computing_afresh(
    client: httpx.Client, body: Body
) -> None:
    for step in range(5):
        moved = [list(point) for point in body["route"]["geometry"]["coordinates"]]
        moved[2][1] += step * 4e-5
        asked = {**body, "route": {"type": "LineString", "coordinates": moved}}
        preview = client.post("/api/preview", json=asked).json()
        saved = client.post("/api/studies", json=asked).json()
        assert preview["stations"] == saved["stations"]
        assert preview["summary"] == saved["summary"]


def test_create__tiles_as_one_terrain(client: httpx.Client, body: Body) -> None:
    tiles = {**body, "terrain": [body["terrain"], body["terrain"]]}
    study = client.post("/api/studies", json=tiles).json()
    assert study["terrain_ids"] == tiles["terrain"]
    assert study["stations"] == client.post("/api/studies", json=body).json()["stations"]


def test_create__line_that_leaves_the_terrain_names_the_place(
    client: httpx.Client, body: Body
) -> None:
    body["route"] = {"type": "LineString", "coordinates": [[-16.9, 62.2], [-16.9, 62.3]]}
    problem = is_problem(client.post("/api/studies", json=body), 422, "outside_terrain")
    assert problem["hint"]
    assert -180 <= problem["lon"] <= 180


@pytest.mark.parametrize("method", ["GET", "PUT", "DELETE"])
def test_study__any_text_as_id_is_just_not_found(client: httpx.Client, method: str) -> None:
    for identity in ("x", "..%2f..%2fetc", "%00", "' OR 1=1 --", "é"):
        response = client.request(
            method,
            f"/api/studies/{identity}",
            json={"terrain": "0" * 16, "route": {}, "settings": {}} if method == "PUT" else None,
        )
        is_problem(response, 404)


def test_list__pages(client: httpx.Client, body: Body) -> None:
    for number in range(3):
        client.post("/api/studies", json={**body, "name": f"page {number}"})
    everything = client.get("/api/studies").json()
    assert client.get("/api/studies?limit=2").json() == everything[:2]
    assert client.get("/api/studies?limit=2&offset=1").json() == everything[1:3]
    assert client.get("/api/terrains?limit=1&offset=1000").json() == []
