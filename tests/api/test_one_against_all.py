"""What a hostile client sends to stall the others, to fill the log, or to fill the memory."""

from __future__ import annotations

import json
import shutil
import threading
from collections import namedtuple
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
import rasterio
from affine import Affine
from api_service import CRS, NORTH, WEST, Serve, is_problem, upload
from waiting import until

from api import relief
from api.access import tokens
from api.access.seldom import Seldom
from api.access.store import SESSIONS, AccessFile
from api.access.tokens import GUESSES, Checker, new_token
from api.relief import ReliefStore
from routing.terrain import open_terrain

Body = dict[str, Any]
NOBODY = "0" * 16


def bearer(token: str) -> dict[str, str]:
    return {"authorization": f"Bearer {token}"}


# --- secrets -----------------------------------------------------------------------------------


def test_seldom__so_many_of_one_and_of_all_and_then_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    now = 100.0
    monkeypatch.setattr("api.access.seldom.monotonic", lambda: now)
    bound = Seldom(each=2, in_all=3, seconds=60.0)
    taken = [bound.taken(who) for who in "aaabc"]
    assert taken == [0, 0, None, 1, None]
    now = 159.9
    assert bound.full("c")
    now = 160.0
    assert bound.taken("a") == 1


def test_guesses__at_one_secret_cost_a_few_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    made, scrypt = 0, tokens._scrypt

    def counted(secret: str, salt: bytes) -> bytes:
        nonlocal made
        made += 1
        return scrypt(secret, salt)

    known, fresh = new_token(), new_token()
    checker = Checker()
    assert checker.right(known.text[17:], known.hash)
    monkeypatch.setattr(tokens, "_scrypt", counted)
    for number in range(40):
        assert not checker.right(f"{number:043}", known.hash)
    assert made == GUESSES
    assert checker.right(known.text[17:], known.hash)  # its owner is remembered
    assert checker.right(fresh.text[17:], fresh.hash)  # and others are looked at


def test_sessions__of_one_token_do_not_grow_for_ever(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tokens, "_scrypt", lambda secret, salt: secret.encode()[:32])
    access = AccessFile(tmp_path / "access", make=True)
    person = access.person_of_token(access.add("Ann", "crew"))
    other = access.person_of_token(access.add("Ben", "crew"))
    assert person is not None
    assert other is not None
    first, elsewhere = access.open_session(person), access.open_session(other)
    later = [access.open_session(person) for _ in range(SESSIONS)]
    assert access.person_of_session(first) is None
    assert access.person_of_session(later[-1]) == person
    assert access.person_of_session(elsewhere) == other


# --- the log of who did what ---------------------------------------------------------------------


@pytest.fixture
def guarded(serve: Serve, tmp_path: Path) -> Any:
    access = AccessFile(tmp_path / "access", make=True)
    ann, ben = (access.add(name, role) for name, role in (("Ann", "planner"), ("Ben", "client")))
    with serve(tmp_path / "data", access=access) as client:
        yield client, access, bearer(ann), bearer(ben)


def written(access: AccessFile, enough: Callable[[list[Any]], bool]) -> list[Any]:
    """Return the log once it holds enough; a row is written after its answer has gone."""
    until(lambda: enough(access.logged()), "rows of the log")
    return access.logged()


def test_log__cannot_be_flooded_by_who_is_refused(guarded: Any) -> None:
    client, access, ann, ben = guarded
    for _ in range(30):
        is_problem(client.get("/api/studies", headers=bearer(f"{NOBODY}.{'a' * 43}")), 401)
        is_problem(client.post("/api/studies", json={}), 401)
        is_problem(client.get("/api/trash", headers=ben), 403)
    is_problem(client.delete(f"/api/studies/{NOBODY}", headers=ann), 404)
    rows = written(access, lambda rows: bool(rows) and rows[-1].name == "Ann")
    assert (rows[-1].method, rows[-1].status) == ("DELETE", 404)
    of = {name: sum(row.name == name for row in rows) for name in ("", "Ben", "Ann")}
    assert of == {"": 20, "Ben": 20, "Ann": 1}


def test_log__holds_what_changed_something_not_what_was_computed(
    guarded: Any, hill: Path, line: Body
) -> None:
    client, access, ann, _ = guarded
    client.headers.update(ann)
    body = {"terrain": upload(client, hill).json()["id"], "route": line}
    for _ in range(3):
        assert client.post("/api/preview", json=body).status_code == 200
    assert client.post("/api/studies", json=body).status_code == 201
    rows = written(access, lambda rows: any(row.path == "/api/studies" for row in rows))
    assert [row.path for row in rows] == ["/api/terrains", "/api/studies"]


# --- bodies --------------------------------------------------------------------------------------


def test_sign_in__takes_no_large_form(client: httpx.Client) -> None:
    form = {"content-type": "application/x-www-form-urlencoded"}
    answer = client.post("/sign-in", content=b"a&" * 500_000, headers=form)
    is_problem(answer, 413, "too_large")
    small = client.post("/sign-in", data={"token": "x" * 200, "next": "/" + "y" * 1999})
    assert small.status_code == 401


@pytest.mark.parametrize("method_and_path", ["POST /api/preview", "POST /api/studies",
    f"POST /api/studies/{NOBODY}/links", f"POST /api/studies/{NOBODY}/records",
    "POST /api/settings"])  # fmt: skip
def test_body__of_very_many_members_is_refused_in_one_sentence(
    client: httpx.Client, method_and_path: str
) -> None:
    method, path = method_and_path.split()
    content = json.dumps({f"k{number}": 0 for number in range(2000)})
    headers = {"content-type": "application/json"}
    answer = client.request(method, path, content=content, headers=headers)
    problem = is_problem(answer, 422, "invalid_request")
    assert "2000 members" in problem["detail"]
    assert len(problem["fields"]) == 1


def test_settings__very_many_files_are_refused_in_one_sentence(client: httpx.Client) -> None:
    asked = {"toml": "", "files": {f"{number}?": "" for number in range(2000)}}
    problem = is_problem(client.post("/api/settings", json=asked), 422, "invalid_request")
    assert "2000 files" in problem["detail"]
    assert len(problem["fields"]) == 1


def test_upload__ends_where_the_volume_gets_full_meanwhile(
    serve: Serve, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = tmp_path / "data"
    usage = namedtuple("usage", "total used free")

    def measured(_folder: Path) -> Any:
        """Return a volume of 100 GB that has a little room until something large comes in."""
        coming = sum(path.stat().st_size for path in (data / "incoming").rglob("*.tif"))
        return usage(100 * 10**9, 0, 200 * 10**6 if coming < 6 * 2**20 else 10**6)

    def chunks() -> Any:
        yield b'--x\r\nContent-Disposition: form-data; name="file"; filename="a.tif"\r\n\r\n'
        for _ in range(40):
            yield bytes(2**20)
        yield b"\r\n--x--\r\n"

    headers = {"content-type": "multipart/form-data; boundary=x"}
    with serve(data) as client:
        monkeypatch.setattr(shutil, "disk_usage", measured)
        answer = client.post("/api/terrains", content=chunks(), headers=headers)
        is_problem(answer, 507, "no_room")
        assert list((data / "incoming").iterdir()) == []


# --- rasters -------------------------------------------------------------------------------------


def sparse(path: Path, side: int, **profile: Any) -> bytes:
    """Write a picture without one cell: a few kilobytes, whatever its sides say."""
    given = {"crs": CRS, "transform": Affine(1.0, 0.0, WEST, 0.0, -1.0, NORTH), **profile}
    with rasterio.open(
        path, "w", driver="GTiff", width=side, height=side, count=1, dtype="uint8", tiled=True,
        blockxsize=512, blockysize=512, compress="deflate", SPARSE_OK=True, BIGTIFF="YES", **given,
    ):  # fmt: skip
        pass
    return path.read_bytes()


def test_overlay__of_very_many_pixels_is_refused(client: httpx.Client, tmp_path: Path) -> None:
    data = sparse(tmp_path / "a.tif", 60_000)
    assert len(data) < 5 * 2**20
    answer = client.post("/api/overlays", files={"file": ("a.tif", data)})
    assert "60000 x 60000" in is_problem(answer, 413, "raster_too_large")["detail"]


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_overlay__beyond_the_world_is_refused(client: httpx.Client, tmp_path: Path) -> None:
    away = Affine(1e25, 0.0, 1e30, 0.0, -1e25, 1e30)
    data = sparse(tmp_path / "a.tif", 512, transform=away)
    is_problem(client.post("/api/overlays", files={"file": ("a.tif", data)}), 422)


def test_relief__copies_are_made_once_however_the_raster_is_asked_for(
    tmp_path: Path, hill: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    terrain = open_terrain([hill])
    monkeypatch.setattr(relief, "is_large", lambda _: True)
    go, builds = threading.Event(), 0
    write_copies = relief.write_copies

    def counted(*arguments: Any) -> Any:
        nonlocal builds
        builds += 1
        go.wait(300.0)
        return write_copies(*arguments)

    monkeypatch.setattr(relief, "write_copies", counted)
    store = ReliefStore(2**20)
    try:
        keys = [("id", f"EPSG:{number}") for number in range(32601, 32611)]
        for key in keys:
            assert store.source(key, lambda: terrain, tmp_path / "reduced").draft
        go.set()
        until(  # each of them gets sharp all the same
            lambda: (
                not any(
                    store.source(key, lambda: terrain, tmp_path / "reduced").draft for key in keys
                )
            ),
            "sharp reliefs",
        )
        assert builds == 1
    finally:
        go.set()
        store.close()


# --- names ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["CASE STUDY 7", "<!-- name --> NEXT"])
def test_link__its_page_has_the_name_as_it_is(client: httpx.Client, body: Body, name: str) -> None:
    study = client.post("/api/studies", json={**body, "name": name}).json()["id"]
    page = client.get(f"/shared/{study}").text
    assert page.count(name.replace("<", "&lt;").replace(">", "&gt;")) == 2
    assert f'href="../api/studies/{study}/map"' in page
    assert np.all([word not in page for word in ("STUDY/", "<!-- name")])


def test_records__of_a_crew_are_text_to_whoever_opens_the_papers(
    client: httpx.Client, body: Body
) -> None:
    attack = '</noscript></script><img src=x onerror="alert(1)">{{7*7}}'
    study = client.post("/api/studies", json=body).json()["id"]
    said = {"kind": "note", "of": "V1", "station_m": 10.0, "note": attack, "device": attack[:60],
            "time": "2026-01-01T10:00:00Z"}  # fmt: skip
    sent = client.post(f"/api/studies/{study}/records", json={"records": [said]})
    assert sent.status_code == 200, sent.text
    for path in (f"/field/{study}", f"/api/studies/{study}/field", f"/api/studies/{study}/map"):
        page = client.get(path)
        assert "onerror=" in page.text or "/map" in path, "the note is not shown at all"
        assert "<img src=x" not in page.text
        assert "</noscript></script>" not in page.text
