"""Named revisions, and other lines kept along."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import Serve, is_problem, upload

RING = [(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)]


@pytest.fixture
def saved(client: httpx.Client, body: dict[str, Any]) -> Iterator[httpx.Response]:
    answer = client.post("/api/studies", json={**body, "label": "as walked"})
    assert answer.status_code == 201, answer.text
    yield answer
    client.delete(f"/api/studies/{answer.json()['id']}")


def address(saved: httpx.Response) -> str:
    return f"/api/studies/{saved.json()['id']}"


def test_revisions__named_and_fetched_again(
    client: httpx.Client, saved: httpx.Response, body: dict[str, Any]
) -> None:
    second = client.put(address(saved), json=body, headers={"if-match": saved.headers["etag"]})
    assert second.status_code == 200
    listed = client.get(f"{address(saved)}/revisions").json()
    assert [(row["revision"], row["label"]) for row in listed] == [(2, None), (1, "as walked")]
    assert listed[1]["etag"] == saved.headers["etag"]
    old = client.get(address(saved), params={"revision": 1})
    assert old.content == saved.content
    assert client.get(address(saved)).content == second.content
    is_problem(client.get(address(saved), params={"revision": 3}), 404, "not_found")
    is_problem(client.get("/api/studies/0000000000000000/revisions"), 404, "not_found")


def test_revisions__named_ones_are_kept_longer(
    serve: Serve, tmp_path: Path, hill: Path, line: dict[str, Any]
) -> None:
    with serve(tmp_path / "data", max_revisions=2) as client:
        body = {"terrain": upload(client, hill).json()["id"], "route": line}
        first = client.post("/api/studies", json={**body, "label": "offer"})
        etag = first.headers["etag"]
        for _ in range(3):
            etag = client.put(address(first), json=body, headers={"if-match": etag}).headers["etag"]
        kept = [row["revision"] for row in client.get(f"{address(first)}/revisions").json()]
        assert kept == [4, 3, 1]


def test_alternatives__and_the_plan_come_back_as_sent(
    client: httpx.Client, body: dict[str, Any]
) -> None:
    more = {
        "alternatives": [{"name": "Over the knoll", "route": body["route"], "settings": {}}],
        "plan": {"prices": {"pipe": 21.5}, "nogo": [[[1, 2], [3, 4], [5, 6]]]},
    }
    study = client.post("/api/studies", json={**body, **more}).json()
    assert study["alternatives"] == more["alternatives"]
    assert study["plan"] == more["plan"]
    bare = client.post("/api/studies", json=body).json()
    assert not {"alternatives", "plan", "records", "label"} & bare.keys()


def test_alternatives__over_the_same_land_are_judged_by_layers_sent_once(
    client: httpx.Client, body: dict[str, Any]
) -> None:
    (x, y), *_, (far, low) = body["route"]["geometry"]["coordinates"]
    middle = [(x + far) / 2, (y + low) / 2]
    ring = [[middle[0] + i * 2e-4, middle[1] + j * 2e-4] for i, j in RING]
    area = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon"}}
    area["geometry"] = {"type": "Polygon", "coordinates": [ring]}
    layer = {"kind": "no-go", "features": {"type": "FeatureCollection", "features": [area]}}
    other = {"name": "The same again", "route": body["route"], "settings": {}}
    land = {**body, "settings": {"layer": [layer]}}
    sent = {**land, "alternatives": [{**other, "same_land": True}, {**other, "name": "Bare"}]}
    study = client.post("/api/studies", json=sent).json()
    own, same, bare = study["lines"]
    assert own["verdict"]["faults"] == same["verdict"]["faults"] > bare["verdict"]["faults"]
    assert [each.get("same_land") for each in study["alternatives"]] == [True, None]
    assert all("layer" not in each["settings"] for each in study["alternatives"])


def test_alternatives__a_line_that_is_none_is_refused(
    client: httpx.Client, body: dict[str, Any]
) -> None:
    before = len(client.get("/api/studies").json())
    wrong = [{"name": "B", "route": {"type": "LineString", "coordinates": [[1, 2]]}}]
    answer = client.post("/api/studies", json={**body, "alternatives": wrong})
    is_problem(answer, 422, "route")
    setting = [{"name": "B", "route": body["route"], "settings": {"flow": {"desing": "1 L/s"}}}]
    is_problem(client.post("/api/studies", json={**body, "alternatives": setting}), 422, "settings")
    assert len(client.get("/api/studies").json()) == before
