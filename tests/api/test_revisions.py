"""Named revisions, other lines kept along, and ticks that come home from the hill."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import jsonschema
import pytest
from api_service import Serve, is_problem, upload

from api.database import CHANGES, Database
from routing.document import study_schema

TICK = {
    "fitting_id": "V1",
    "done": True,
    "note": "union leaks a little",
    "photo": "data:image/png;base64,iVBORw0KGgo=",
    "time": "2026-06-01T09:30:00Z",
    "device": "phone of the north gang",
    "station_m": 12.5,
    "revision": 1,
}


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
    assert not {"alternatives", "plan", "ticks", "label"} & bare.keys()


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


def test_ticks__come_in_once_and_the_newest_counts(
    client: httpx.Client, saved: httpx.Response
) -> None:
    ticks = f"{address(saved)}/ticks"
    assert client.post(ticks, json={"ticks": [TICK]}).json() == {"taken": 1}
    assert client.post(ticks, json={"ticks": [TICK]}).json() == {"taken": 0}
    older = {**TICK, "done": False, "time": "2026-06-01T08:00:00.250Z"}
    assert client.post(ticks, json={"ticks": [older]}).json() == {"taken": 0}
    newer = {**TICK, "note": "tight now", "time": "2026-06-01T09:30:00.500Z"}
    other = {**TICK, "device": "tablet", "time": "2026-06-01T07:00:00Z"}
    assert client.post(ticks, json={"ticks": [newer, other]}).json() == {"taken": 2}
    found = client.get(ticks).json()["ticks"]
    assert [(tick["device"], tick["note"]) for tick in found] == [
        ("tablet", TICK["note"]),
        (TICK["device"], "tight now"),
    ]


def test_ticks__block_nobody_who_edits_and_ride_along_with_the_next_save(
    client: httpx.Client, saved: httpx.Response, body: dict[str, Any]
) -> None:
    client.post(f"{address(saved)}/ticks", json={"ticks": [TICK]})
    next_one = client.put(address(saved), json=body, headers={"if-match": saved.headers["etag"]})
    assert next_one.status_code == 200
    (tick,) = next_one.json()["ticks"]
    assert tick["fitting_id"] == "V1"
    assert tick["has_photo"] is True
    assert "photo" not in tick
    part = {"$ref": "#/$defs/Tick", "$defs": study_schema()["$defs"]}
    jsonschema.validate(tick, part)


def test_ticks__of_what_is_not_there_are_refused(
    client: httpx.Client, saved: httpx.Response
) -> None:
    ticks = f"{address(saved)}/ticks"
    answer = client.post(ticks, json={"ticks": [TICK, {**TICK, "fitting_id": "V4711"}]})
    is_problem(answer, 422)
    assert "V4711" in answer.json()["detail"]
    assert client.get(ticks).json() == {"ticks": []}


def test_revisions__what_lasts_keeps_its_name_and_a_tick_elsewhere_is_no_tick(
    client: httpx.Client, saved: httpx.Response, body: dict[str, Any]
) -> None:
    first = saved.json()
    (vent, *_) = first["vents"]
    here = {**TICK, "station_m": vent["station_m"]}
    there = {**TICK, "fitting_id": "D1", "station_m": first["drains"][0]["station_m"] - 28.0}
    client.post(f"{address(saved)}/ticks", json={"ticks": [here, there]})
    trench = {**body["settings"].get("trench", {}), "max_depth": "2.4 m"}
    deeper = {**body, "settings": {**body["settings"], "trench": trench}}
    answer = client.put(address(saved), json=deeper, headers={"if-match": saved.headers["etag"]})
    assert answer.status_code == 200, answer.text
    changes = answer.json()["changes"]
    names = {item["id"] for item in (*first["vents"], *first["drains"])}
    now = {item["id"] for item in (*answer.json()["vents"], *answer.json()["drains"])}
    assert now - names <= set(changes["new"])
    assert names - now <= set(changes["gone"])
    jsonschema.validate(answer.json(), study_schema())
    ticks = {tick["fitting_id"]: tick for tick in answer.json()["ticks"]}
    if "D1" in now:
        assert ticks["D1"]["was_m"] == there["station_m"]
    # What went may still come home from a phone that was away; it was there once.
    for name in changes["gone"][:1]:
        late = {**TICK, "fitting_id": name, "time": "2026-06-02T09:30:00Z"}
        assert client.post(f"{address(saved)}/ticks", json={"ticks": [late]}).json()["taken"] == 1


@pytest.mark.parametrize(
    "change",
    [
        {"fitting_id": "<b>"},
        {"photo": "https://example.org/x.png"},
        {"photo": "data:text/html;base64,AAAA"},
        {"time": "yesterday"},
        {"time": "2026-02-30T10:00:00Z"},
        {"device": ""},
        {"done": "perhaps"},
        {"more": 1},
    ],
)
def test_ticks__wrong_ones_are_refused_whole(
    client: httpx.Client, saved: httpx.Response, change: dict[str, Any]
) -> None:
    ticks = f"{address(saved)}/ticks"
    is_problem(client.post(ticks, json={"ticks": [TICK, {**TICK, **change}]}), 422)
    assert client.get(ticks).json() == {"ticks": []}


def test_ticks__go_with_the_study(client: httpx.Client, body: dict[str, Any]) -> None:
    answer = client.post("/api/studies", json=body)
    client.post(f"{address(answer)}/ticks", json={"ticks": [TICK]})
    assert client.delete(address(answer)).status_code == 204
    is_problem(client.get(f"{address(answer)}/ticks"), 404, "not_found")
    is_problem(client.post(f"{address(answer)}/ticks", json={"ticks": [TICK]}), 404, "not_found")


def test_database__of_the_first_version_is_brought_up_to_date(tmp_path: Path) -> None:
    import sqlite3

    path = tmp_path / "leatline.sqlite3"
    with sqlite3.connect(path) as old:
        for statement in CHANGES[0].split(";\n"):
            old.execute(statement)
        old.execute("INSERT INTO studies VALUES ('a', 'Old', 'then', 'then', 1)")
        old.execute("INSERT INTO revisions VALUES ('a', 1, 'tag', 'then', x'7b7d')")
        old.execute("PRAGMA user_version = 1")
    old.close()
    with Database(path, 5.0).read() as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (len(CHANGES),)
        assert connection.execute("SELECT label FROM revisions").fetchall() == [(None,)]
        assert connection.execute("SELECT count(*) FROM ticks").fetchone() == (0,)
