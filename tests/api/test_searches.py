"""Lines sought over HTTP: a job with progress, its result, its problems, its end on request."""

from __future__ import annotations

import json
import time
from typing import Any

import httpx
import pytest
from api_service import is_problem

Body = dict[str, Any]


@pytest.fixture
def asked(body: Body) -> Body:
    places = body["route"]["geometry"]["coordinates"]
    return {
        "terrain": body["terrain"],
        "from": places[0],
        "to": places[-1],
        "settings": {"flow": {"design": "10 L/s"}, "search": {"alternatives": 2}},
    }


def finished(client: httpx.Client, asked: Body, what: str = "searches") -> Body:
    """Start a search and follow its events to the end; check that progress never falls back."""
    made = client.post(f"/api/{what}", json=asked)
    assert made.status_code == 202, made.text
    place = made.headers["location"]
    assert place == f"/api/jobs/{made.json()['id']}"
    shares, job = [], {}
    with client.stream("GET", f"{place}/events", timeout=180.0) as events:
        for line in events.iter_lines():
            if line.startswith("data: "):
                job = json.loads(line.removeprefix("data: "))
                shares.append(job["progress"])
    assert shares == sorted(shares)
    assert client.get(place).json() == job
    return job


def test_searches__lines_as_studies_that_the_service_takes(
    client: httpx.Client, asked: Body
) -> None:
    job = finished(client, asked)
    assert job["state"] == "done", job["problem"]
    found = job["result"]
    assert found["from"] == asked["from"]
    assert 0.0 < found["bound"] <= 1.0
    for at, each in enumerate(found["alternatives"], start=1):
        assert each["rank"] == at
        again = client.post(
            "/api/preview",
            json={
                "terrain": asked["terrain"],
                "route": each["route"],
                "settings": each["settings"],
            },
        ).json()
        assert again["summary"] == each["study"]["summary"]
        assert again["terrain"]["files"] == each["study"]["terrain"]["files"]


def test_searches__an_end_may_be_a_stretch_of_stream(client: httpx.Client, asked: Body) -> None:
    """Two places for one: here no stream runs there, which is said."""
    asked = {**asked, "from": [asked["from"], asked["from"]]}
    asked["settings"] = {"catchment": {"threshold": "900 km2"}}
    job = finished(client, asked)
    assert job["state"] == "failed"
    assert "No stream of 900 km2" in job["problem"]["detail"]
    is_problem(client.post("/api/searches", json={**asked, "from": [[1.0, 2.0]]}), 422)


def test_searches__no_line_is_a_problem_with_its_place(client: httpx.Client, asked: Body) -> None:
    (x0, y0), (x1, y1) = asked["from"], asked["to"]
    x, far = (x0 + x1) / 2.0, 0.01
    ring = [[x, y0 - far], [x + 4e-4, y0 - far], [x + 4e-4, y1 + far], [x, y1 + far]]
    wall = {
        "type": "Feature",
        "properties": {"name": "wall"},
        "geometry": {"type": "Polygon", "coordinates": [[*ring, ring[0]]]},
    }
    shut = {"kind": "no-go", "features": {"type": "FeatureCollection", "features": [wall]}}
    job = finished(client, {**asked, "settings": {"layer": [shut]}})
    assert job["state"] == "failed"
    assert job["problem"]["code"] == "no_line"
    assert job["problem"]["status"] == 422
    assert job["problem"]["lon"] == pytest.approx(x, abs=3e-4)


def test_searches__can_be_cancelled(client: httpx.Client, asked: Body) -> None:
    place = client.post("/api/searches", json=asked).headers["location"]
    assert client.delete(place).json()["state"] == "stopped"
    time.sleep(0.2)
    assert client.get(place).json()["state"] == "stopped"


def test_searches__bad_input_is_refused_before_it_is_queued(
    client: httpx.Client, asked: Body
) -> None:
    is_problem(client.post("/api/searches", json={**asked, "terrain": "0" * 16}), 404)
    is_problem(client.post("/api/searches", json={**asked, "from": [1.0]}), 422)
    is_problem(client.post("/api/searches", json={**asked, "from": [1.0, 91.0]}), 422)
    bad = {**asked, "settings": {"search": {"alternatives": 0}}}
    is_problem(client.post("/api/searches", json=bad), 422, "settings")
    swapped = {key: value for key, value in asked.items() if key != "from"} | {"start": [0, 0]}
    is_problem(client.post("/api/searches", json=swapped), 422)


def test_screens__candidates_with_a_study_of_the_best(client: httpx.Client, asked: Body) -> None:
    tables = {
        "catchment": {"threshold": "0.004 km2", "specific_yield": "900 L/s/km2"},
        "screen": {"least_head": "5 m", "top": 1, "sample": 4, "spacing": "20 m"},
    }
    job = finished(client, {"terrain": asked["terrain"], "settings": tables}, "screens")
    assert job["state"] == "done", job["problem"]
    found = job["result"]
    assert [each["rank"] for each in found["candidates"]] == list(
        range(1, len(found["candidates"]) + 1)
    )
    assert found["rank_correlation"] is None or -1.0 <= found["rank_correlation"] <= 1.0
    study = found["candidates"][0]["study"]
    assert study is None or study["summary"]["gross_head_m"] > 0.0
    bad = {"terrain": asked["terrain"], "settings": {"catchment": {"threshold": "900 km2"}}}
    job = finished(client, bad, "screens")
    assert job["problem"]["code"] == "input"
