"""What crews bring home: taken whole or not at all, once, and shown on everything at once."""

from __future__ import annotations

import base64
import io
import json
import sqlite3
import time
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
import jsonschema
import orjson
import pytest
from api_service import Serve, is_problem, upload

from api.database import CHANGES
from api.records import _sizes
from api.settings import ServiceSettings
from api.storage import Storage
from routing.document import study_schema

PICTURE = b"\xff\xd8\xff\xe0" + b"a hill, a pipe"
PHOTO = "data:image/jpeg;base64," + base64.b64encode(PICTURE).decode()
TICK = {
    "kind": "tick",
    "of": "V1",
    "done": True,
    "time": "2026-06-01T09:30:00Z",
    "device": "phone of the north gang",
}


@pytest.fixture
def saved(client: httpx.Client, body: dict[str, Any]) -> Iterator[httpx.Response]:
    answer = client.post("/api/studies", json=body)
    assert answer.status_code == 201, answer.text
    yield answer
    client.delete(f"/api/studies/{answer.json()['id']}")


def address(saved: httpx.Response) -> str:
    return f"/api/studies/{saved.json()['id']}/records"


def take(client: httpx.Client, saved: httpx.Response, *records: dict[str, Any]) -> int:
    answer = client.post(address(saved), json={"records": list(records)})
    assert answer.status_code == 200, answer.text
    return int(answer.json()["taken"])


def held(client: httpx.Client, saved: httpx.Response) -> list[dict[str, Any]]:
    answer = client.get(address(saved))
    assert answer.status_code == 200, answer.text
    records: list[dict[str, Any]] = answer.json()["records"]
    return records


def test_records__every_kind_comes_back_as_the_schema_says(
    client: httpx.Client, saved: httpx.Response
) -> None:
    tap = saved.json()["taps"][0]["id"]
    given = [
        TICK,
        {**TICK, "kind": "note", "done": None, "note": "union leaks"},
        {**TICK, "kind": "photo", "done": None, "photo": PHOTO},
        {**TICK, "kind": "reading", "of": tap, "gauge_kpa": 312.5, "flow_m3_s": 0.012},
        {**TICK, "kind": "asbuilt", "invert_m": 412.31, "serial": "77", "who": "north gang"},
        {"kind": "asbuilt", "station_m": 33.3, "invert_m": 410.0},
        {
            "kind": "reading",
            "of": "Q1",
            "step": "hold",
            "gauge_kpa": 500.0,
            "water_m3": 0.001,
            "lasted_s": 7200.0,
        },
    ]
    assert take(client, saved, *given) == 7
    part = {"$ref": "#/$defs/Record", "$defs": study_schema()["$defs"]}
    for record in held(client, saved):
        jsonschema.validate(record, part)
    kinds = sorted(record["kind"] for record in held(client, saved))
    assert kinds == ["asbuilt", "asbuilt", "note", "photo", "reading", "reading", "tick"]


def test_records__come_in_once_however_often_they_are_sent(
    client: httpx.Client, saved: httpx.Response
) -> None:
    assert take(client, saved, TICK) == 1
    assert take(client, saved, TICK, TICK) == 0
    # What was given out and comes back by another way is known as well.
    assert take(client, saved, *held(client, saved)) == 0
    assert take(client, saved, {**TICK, "done": False, "time": "2026-06-01T09:31:00Z"}) == 1
    assert [record["done"] for record in held(client, saved)] == [True, False]


def test_records__a_clock_that_is_ahead_has_not_the_last_word(
    client: httpx.Client, saved: httpx.Response
) -> None:
    early = {**TICK, "time": "2099-01-01T10:00:00Z"}
    late = {**TICK, "done": False, "time": "2099-01-01T10:05:00Z"}
    before = datetime.now(UTC).isoformat()
    take(client, saved, late, early)
    first, second = held(client, saved)
    assert (first["done"], second["done"]) == (True, False)  # in the order of that clock
    now = datetime.now(UTC).isoformat()
    assert before[:19] <= second["time"][:19] <= now[:19]
    apart = datetime.fromisoformat(second["time"]) - datetime.fromisoformat(first["time"])
    assert apart.total_seconds() == 300.0
    assert take(client, saved, late, early) == 0
    time.sleep(0.01)
    put_right = {**TICK, "device": "office", "time": datetime.now(UTC).isoformat()}
    take(client, saved, put_right)
    assert held(client, saved)[-1]["device"] == "office"
    assert held(client, saved)[-1]["done"] is True


def test_records__two_crews_lose_nothing_and_see_where_they_differ(
    client: httpx.Client, saved: httpx.Response
) -> None:
    south = {**TICK, "device": "phone of the south gang", "time": "2026-06-01T10:00:00Z"}
    take(client, saved, TICK, {**TICK, "kind": "asbuilt", "of": "D1", "invert_m": 400.00})
    take(client, saved, {**south, "done": False})
    take(client, saved, {**south, "kind": "asbuilt", "of": "D1", "invert_m": 400.02})
    assert len(held(client, saved)) == 4
    (conflict,) = client.get(address(saved)).json()["conflicts"]
    assert (conflict["kind"], conflict["of"]) == ("tick", "V1")
    assert [said["done"] for said in conflict["says"]] == [True, False]
    take(client, saved, {**south, "kind": "asbuilt", "of": "D1", "invert_m": 400.06,
                         "time": "2026-06-01T10:30:00Z"})  # fmt: skip
    assert len(client.get(address(saved)).json()["conflicts"]) == 2
    take(client, saved, {**south, "time": "2026-06-01T11:00:00Z"})
    (left,) = client.get(address(saved)).json()["conflicts"]
    assert left["kind"] == "asbuilt"


def test_records__of_what_is_not_there_are_refused_with_one_message(
    client: httpx.Client, saved: httpx.Response
) -> None:
    answer = client.post(address(saved), json={"records": [TICK, {**TICK, "of": "V4711"}]})
    is_problem(answer, 422)
    assert "V4711" in answer.json()["detail"]
    far = {"kind": "note", "note": "mud", "station_m": 99_000.0}
    is_problem(client.post(address(saved), json={"records": [TICK, far]}), 422)
    assert held(client, saved) == []


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"kind": "wish"}, "kind"),
        ({"kind": None}, "kind"),
        ({"of": "<b>"}, "of"),
        ({"of": None}, "of"),
        ({"photo": "https://example.org/x.png"}, "photograph"),
        ({"photo": "data:text/html;base64,AAAA"}, "photograph"),
        ({"photo": "data:image/jpeg;base64,!!"}, "photograph"),
        ({"photo": "photos/" + 32 * "0" + ".jpg"}, "photograph"),
        ({"time": "yesterday"}, "time"),
        ({"time": "2026-02-30T10:00:00Z"}, "time"),
        ({"time": "2026-02-20T10:00:00"}, "zone"),
        ({"device": 81 * "x"}, "device"),
        ({"done": "perhaps"}, "done"),
        ({"done": None}, "done"),
        ({"station_m": -1.0}, "station_m"),
        ({"kind": "reading", "gauge_kpa": "high"}, "gauge_kpa"),
        ({"kind": "reading", "of": "Q1", "gauge_kpa": 1.0, "step": "shake"}, "step"),
        ({"kind": "reading", "of": "V1", "gauge_kpa": 1.0, "step": "hold"}, "'hold'"),
        ({"of": "Q1", "step": "hold"}, "step"),
        ({"kind": "asbuilt"}, "built"),
        ({"invert": 1.0}, "invert_m"),
        ({"lon": 9.0}, "lat"),
    ],
)
def test_records__wrong_ones_are_refused_whole_and_named(
    client: httpx.Client, saved: httpx.Response, change: dict[str, Any], named: str
) -> None:
    answer = client.post(address(saved), json={"records": [TICK, {**TICK, **change}]})
    is_problem(answer, 422)
    said = answer.json()["detail"] + answer.json().get("hint", "")
    assert "records[1]" in said
    assert named in said
    assert held(client, saved) == []


def test_records__photographs_are_files_and_never_in_the_database(
    serve: Serve, tmp_path: Path, hill: Path, line: dict[str, Any]
) -> None:
    """Save and list stay as fast with many photographs as without: what they read holds none."""
    with serve(tmp_path / "data", max_photo_bytes=2_000_000) as client:
        body = {"terrain": upload(client, hill).json()["id"], "route": line}
        saved = client.post("/api/studies", json=body)
        assert take(client, saved, TICK) == 1
        photos = tmp_path / "data" / "photos" / saved.json()["id"]
        photos.mkdir(parents=True)
        (photos / "gone.jpg").symlink_to("nowhere")  # as one that another request takes away
        size = sum(path.stat().st_size for path in (tmp_path / "data").glob("leatline*"))
        many = [
            {**TICK, "kind": "photo", "done": None, "time": f"2026-06-01T10:00:{n:02}Z",
             "photo": "data:image/jpeg;base64,"
             + base64.b64encode(PICTURE + bytes([n]) + bytes(1_400_000)).decode()}
            for n in range(12)
        ]  # fmt: skip
        for n in range(0, 12, 4):
            assert take(client, saved, *many[n : n + 4]) == 4
        grown = sum(path.stat().st_size for path in (tmp_path / "data").glob("leatline*")) - size
        assert grown < 300_000
        listed = client.get(address(saved))
        assert len(listed.content) < 10_000
        (name, *_) = [record["photo"] for record in listed.json()["records"] if record["photo"]]
        back = client.get(f"/api/studies/{saved.json()['id']}/{name}")
        assert back.content.startswith(PICTURE)
        assert back.headers["content-type"] == "image/jpeg"
        assert "sandbox" in back.headers["content-security-policy"]
        large = {**many[0], "photo": "data:image/jpeg;base64," + 4_000_000 * "A"}
        answer = client.post(address(saved), json={"records": [large]})
        is_problem(answer, 422)
        assert "2.0 MB" in answer.json()["detail"]
        is_problem(client.get(f"/api/studies/{saved.json()['id']}/photos/x.jpg"), 422)
        assert len(_sizes(photos)) == 12
        nowhere = f"photos/{32 * '0'}.jpg"
        is_problem(client.get(f"/api/studies/{saved.json()['id']}/{nowhere}"), 404, "not_found")
        assert client.delete(f"/api/studies/{saved.json()['id']}").status_code == 204
        is_problem(client.get(f"/api/studies/{saved.json()['id']}/{name}"), 404, "not_found")
        assert client.delete("/api/trash").json() == {"removed": 1}
        assert list((tmp_path / "data" / "photos").iterdir()) == []
        is_problem(client.get(address(saved)), 404, "not_found")
        is_problem(client.post(address(saved), json={"records": [TICK]}), 404, "not_found")


def test_records__what_lasts_keeps_its_name_and_a_tick_elsewhere_says_where(
    client: httpx.Client, saved: httpx.Response, body: dict[str, Any]
) -> None:
    first = saved.json()
    (vent, *_) = first["vents"]
    drain = first["drains"][0]
    take(
        client, saved,
        {**TICK, "station_m": vent["station_m"]},
        {**TICK, "of": drain["id"], "station_m": drain["station_m"] - 28.0},
    )  # fmt: skip
    by_name = {record["of"]: record for record in held(client, saved)}
    assert "was_m" not in by_name["V1"]
    moved = by_name[drain["id"]]
    assert moved["was_m"] == pytest.approx(drain["station_m"] - 28.0)
    assert moved["now_m"] == pytest.approx(drain["station_m"])
    trench = {**body["settings"].get("trench", {}), "max_depth": "2.4 m"}
    deeper = {**body, "settings": {**body["settings"], "trench": trench}}
    answer = client.put(f"/api/studies/{first['id']}", json=deeper,
                        headers={"if-match": saved.headers["etag"]})  # fmt: skip
    assert answer.status_code == 200, answer.text
    jsonschema.validate(answer.json(), study_schema())
    assert {record["of"] for record in answer.json()["records"]} == {"V1", drain["id"]}
    changes = answer.json()["changes"]
    # What went may still come home from a phone that was away; it was there once.
    for name in changes["gone"][:1]:
        assert take(client, saved, {**TICK, "of": name, "time": "2026-06-02T09:30:00Z"}) == 1


def test_records__are_on_the_papers_at_once(client: httpx.Client, saved: httpx.Response) -> None:
    where = f"/api/studies/{saved.json()['id']}"
    bare = client.get(f"{where}/map")
    take(client, saved, TICK, {**TICK, "kind": "note", "done": None, "note": "union leaks here"})
    shown = client.get(f"{where}/map")
    assert shown.headers["etag"] != bare.headers["etag"]
    assert "union leaks here" in shown.text
    assert "union leaks here" in client.get(f"{where}/field").text
    document = client.get(f"{where}/export", params={"format": "json"}).json()
    assert [record["kind"] for record in document["records"]] == ["note", "tick"] or [
        record["kind"] for record in document["records"]
    ] == ["tick", "note"]
    workbook = client.get(f"{where}/export", params={"format": "xlsx"}).content
    texts = zipfile.ZipFile(io.BytesIO(workbook)).read("xl/sharedStrings.xml").decode()
    assert "union leaks here" in texts
    # The saved revision itself is not touched: nobody's ETag goes stale.
    assert client.get(where).headers["etag"] == saved.headers["etag"]


def test_records__what_an_older_version_ticked_off_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "leatline.sqlite3"
    tick = {"fitting_id": "V1", "done": True, "note": "tight", "photo": PHOTO,
            "time": "2026-05-01T08:00:00.000Z", "device": "tablet", "station_m": 12.5,
            "revision": 1}  # fmt: skip
    with sqlite3.connect(path) as old:
        for change in CHANGES[:2]:
            for statement in change.split(";\n"):
                old.execute(statement)
        old.execute("INSERT INTO studies VALUES ('ab', 'Old', 'then', 'then', 1)")
        old.execute("INSERT INTO revisions VALUES ('ab', 1, 'tag', 'then', x'7b7d', NULL)")
        row = ("ab", "V1", "tablet", tick["time"], orjson.dumps(tick))
        old.execute("INSERT INTO ticks VALUES (?, ?, ?, ?, ?)", row)
        old.execute("PRAGMA user_version = 2")
    old.close()
    for _ in range(2):  # the second time there is nothing left to do
        storage = Storage(ServiceSettings(data=tmp_path))
        kinds = {record["kind"]: record for record in storage.records.records("ab")}
        assert sorted(kinds) == ["note", "photo", "tick"]
        assert kinds["tick"]["done"] is True
        assert kinds["tick"]["station_m"] == 12.5
        assert kinds["note"]["note"] == "tight"
        name = kinds["photo"]["photo"].removeprefix("photos/")
        assert storage.records.photo("ab", name).read_bytes() == PICTURE
    with storage.database.read() as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (len(CHANGES),)
        tables = "SELECT count(*) FROM sqlite_master WHERE name = 'ticks'"
        assert connection.execute(tables).fetchone() == (0,)


def test_openapi__says_what_a_record_may_hold(client: httpx.Client) -> None:
    described = client.get("/api/openapi.json").json()
    record = described["components"]["schemas"]["RecordIn"]
    jsonschema.validate(TICK, record)
    jsonschema.validate(json.loads(json.dumps({**TICK, "note": None})), record)
    jsonschema.validate({**TICK, "step": None}, record)
    wrongs = ({"kind": "wish"}, {"more": 1}, {"done": "perhaps"}, {"step": "shake"})
    for wrong in ({**TICK, **each} for each in wrongs):
        assert not jsonschema.Draft202012Validator(record).is_valid(wrong)
