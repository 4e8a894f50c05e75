"""Who may do what: every operation with every role, tokens, sessions, links and the log."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import Serve, is_problem, upload
from leatline_command import clean, leatline
from waiting import until

from api.access.operations import operation_of, operations
from api.access.person import LINK_ROLES, ROLES
from api.access.store import AccessFile
from api.access.tokens import moment_text
from api.app import create_app
from api.settings import ServiceSettings

Body = dict[str, Any]
NOBODY = "0" * 16
TILE = {"z": "1", "x": "0", "y": "0", "path:path": "x.js"}


def filled(path: str, study: str = NOBODY) -> str:
    """Return an address with something in each part that varies."""
    parts = {**TILE, "study_id": study}
    return re.sub(r"\{([^}]+)\}", lambda part: parts.get(part[1], NOBODY), path)


NEVER = ("GET", "HEAD")


@dataclass
class House:
    """A service that keeps access, a study in it, and what each person sends."""

    client: httpx.Client
    study: str
    other: str
    sends: dict[str, dict[str, str]]
    links: dict[str, str]
    access: AccessFile
    folder: Path


def bearer(token: str) -> dict[str, str]:
    return {"authorization": f"Bearer {token}"}


@pytest.fixture(scope="module")
def house(
    tmp_path_factory: pytest.TempPathFactory, serve: Serve, hill: Path, line: Body
) -> Iterator[House]:
    folder = tmp_path_factory.mktemp("house")
    access = AccessFile(folder / "access", make=True)
    sends = {role: bearer(access.add(f"a {role}", role)) for role in ROLES}
    sends["nobody"] = {}
    sends["made up"] = bearer(f"{NOBODY}.{'a' * 43}")
    sends["wrong secret"] = bearer(f"{sends['planner']['authorization'][7:23]}.{'a' * 43}")
    sends["revoked"] = bearer(access.add("gone", "planner"))
    access.revoke("gone")
    sends["expired"] = bearer(access.add("late", "planner", "2000-01-01T00:00:00.000Z"))
    with serve(folder / "data", access=access) as client:
        client.headers.update(sends["planner"])
        terrain = upload(client, hill).json()["id"]
        body = {"terrain": terrain, "route": line}
        study, other = (client.post("/api/studies", json=body).json()["id"] for _ in range(2))
        links = {}
        for role in LINK_ROLES:
            made = client.post(f"/api/studies/{study}/links", json={"role": role})
            links[role] = made.json()["url"].rpartition("/")[2]
        sends["a link as token"] = bearer(links["client"])
        del client.headers["authorization"]
        yield House(client, study, other, sends, links, access, folder)


def routes() -> set[tuple[str, str]]:
    """Return every method and address that the service has, mounted files aside."""
    app = create_app(ServiceSettings(data=Path("nowhere")))
    found = set()
    for one in app.router.routes:
        for route in getattr(getattr(one, "original_router", None), "routes", [one]):
            for method in getattr(route, "methods", None) or ():
                found.add((method, route.path))
    return {row for row in found if row[0] != "HEAD"}


def rows() -> list[tuple[str, str]]:
    return [(row.method, row.path) for row in operations()]


def test_table__every_operation_has_a_row() -> None:
    missing = sorted(routes() - set(rows()))
    assert not missing, f"add a row for each to api/access/data/operations.csv: {missing}"
    assert ("GET", "/api/studies/{study_id}") in routes()


def test_table__every_row_is_an_operation_once() -> None:
    files = [row for row in rows() if row[1].endswith("{path:path}")]
    assert sorted(set(rows()) - routes()) == sorted(files)
    assert len(set(rows())) == len(rows())
    known = {*ROLES, *LINK_ROLES.values(), "anyone"}
    assert all(row.who and row.who <= known for row in operations())


def test_table__a_row_is_found_by_its_own_address() -> None:
    for row in operations():
        path = row.path.replace("{path:path}", "main.js").replace("{", "").replace("}", "")
        found = operation_of(row.method, path)
        assert found is row, (row.method, row.path)
    assert operation_of("GET", "/api/new-noun") is None


def test_table__who_may_change_what() -> None:
    # The policy in words, apart from the table: only planners change plans; crews bring home what
    # they found; a link reaches one study and nothing else, and a client's link changes nothing.
    brought_home = {"/api/studies/{study_id}/records"}
    entrance = {"/sign-in", "/sign-out"}
    for row in operations():
        if row.method != "GET" and row.path not in entrance:
            assert row.who <= {"planner", "crew", "crew-link"}, row.path
            if row.path not in brought_home:
                assert row.who == {"planner"}, row.path
        if row.who & {"crew-link", "client-link"}:
            assert "{study_id}" in row.path or row.path == "/api/who", row.path
        if row.path.startswith("/api/") and "anyone" in row.who:
            assert row.path in ("/api/health", "/api/problems", "/api/openapi.json")


def request(house: House, method: str, path: str, who: str) -> httpx.Response:
    body: Body = {"json": {}} if method in ("POST", "PUT") else {}
    return house.client.request(method, path, headers=house.sends[who], **body)


@pytest.mark.parametrize("who", [*ROLES, "nobody", "made up", "wrong secret", "revoked", "expired",
                                 "a link as token"])  # fmt: skip
def test_every_operation__with_every_person(house: House, who: str) -> None:
    for row in operations():
        path = filled(row.path)
        answer = request(house, row.method, path, who)
        where = (row.method, row.path, who)
        if row.path == "/sign-in":  # asks for a token, and says 401 itself where it is wrong
            continue
        if "anyone" in row.who or who in row.who:
            assert answer.status_code != 401, where
            assert not (answer.status_code == 403), where
        elif who in ROLES:
            assert is_problem(answer, 403, "not_allowed")["detail"].startswith("The role"), where
        else:
            is_problem(answer, 401, "sign_in_needed")
            assert answer.headers["www-authenticate"].startswith("Bearer"), where


@pytest.mark.parametrize("role", LINK_ROLES)
def test_every_operation__with_a_link(house: House, role: str) -> None:
    token, holder = house.links[role], LINK_ROLES[role]
    opened = set()
    for row in operations():
        if not row.path.startswith(("/api/studies/{study_id}", "/field/{study_id}", "/shared/")):
            continue
        path = filled(row.path, token)
        body: Body = {"json": {}} if row.method in ("POST", "PUT") else {}
        answer = house.client.request(row.method, path, **body)
        if holder in row.who:
            assert answer.status_code not in (401, 403), (row.method, row.path)
            opened.add(row.path.rpartition("/")[2])
        else:
            is_problem(answer, 403, "not_allowed")
        # the same link says nothing about another study, whoever shows it how
        if holder in row.who and row.path != "/shared/{study_id}":
            elsewhere = filled(row.path, house.other)
            for headers in ({}, bearer(token), {"cookie": f"leatline_session={token}"}):
                refused = house.client.request(row.method, elsewhere, headers=headers, **body)
                assert refused.status_code == 401, elsewhere
    assert opened >= ({"map", "profile", "sheet.pdf", "report.pdf"} if role == "client" else
                      {"field", "records"})  # fmt: skip


def test_link__opens_its_pages(house: House) -> None:
    page = house.client.get(f"/shared/{house.links['client']}")
    assert page.status_code == 200
    assert house.study not in page.text
    assert f"../api/studies/{house.links['client']}/map" in page.text
    assert house.client.get(f"/api/studies/{house.links['client']}/map").status_code == 200
    sheet = house.client.get(f"/field/{house.links['crew']}")
    assert sheet.status_code == 200
    assert f"/api/studies/{house.links['crew']}" in sheet.text
    led = house.client.get(f"/shared/{house.links['crew']}")
    assert led.headers["location"] == f"../field/{house.links['crew']}"


def test_link__dots_do_not_lead_out(house: House) -> None:
    for way in (f"../{house.other}/map", f"%2e%2e/{house.other}/map", f"map/../../{house.other}"):
        url = f"/api/studies/{house.links['client']}/{way}"
        raw = httpx.Request("GET", house.client.base_url, headers={})
        raw.url = raw.url.copy_with(raw_path=url.encode())
        assert house.client.send(raw).status_code in (401, 403, 404)


def test_link__ends_by_time_and_by_hand(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    path = f"/api/studies/{house.study}/links"
    planner = house.sends["planner"]
    soon, later = (moment_text(datetime.now(UTC) + timedelta(hours=each)) for each in (1, 2))
    made = house.client.post(path, json={"role": "client", "expires": soon}, headers=planner).json()
    address = httpx.URL(made["url"]).path
    assert house.client.get(address).status_code == 200
    monkeypatch.setattr("api.links.now_text", lambda: later)
    is_problem(house.client.get(address), 401, "sign_in_needed")
    again = house.client.post(path, json={"role": "crew"}, headers=planner)
    assert again.status_code == 201
    sheet = httpx.URL(again.json()["url"]).path
    assert house.client.get(sheet).status_code == 200
    one = f"{path}/{again.json()['id']}"
    is_problem(house.client.delete(f"/api/studies/{house.other}/links/{again.json()['id']}",
                                   headers=planner), 404)  # fmt: skip
    assert house.client.delete(one, headers=planner).status_code == 204
    is_problem(house.client.get(sheet), 401)
    is_problem(house.client.delete(one, headers=planner), 404, "not_found")
    listed = house.client.get(path, headers=planner).json()
    states = {row["id"]: row["state"] for row in listed}
    assert states[again.json()["id"]] == "revoked"
    assert states[made["id"]] == "expired"
    assert all("url" not in row and row["who"] == "a planner" for row in listed)


@pytest.mark.parametrize(
    "body",
    [{}, {"role": "planner"}, {"role": "client", "expires": "soon"},
     {"role": "client", "expires": "2001-01-01"}, {"role": "crew", "study": "x"}],
    ids=str,
)  # fmt: skip
def test_link__bad_ones_are_refused(house: House, body: Body) -> None:
    path = f"/api/studies/{house.study}/links"
    is_problem(house.client.post(path, json=body, headers=house.sends["planner"]), 422)


def test_session__sign_in_and_out(house: House) -> None:
    token = house.sends["crew"]["authorization"][7:]
    with httpx.Client(base_url=house.client.base_url) as browser:
        asked = browser.get("/list", headers={"accept": "text/html"})
        assert asked.status_code == 303
        assert asked.headers["location"] == "/sign-in?next=%2Flist"
        page = browser.get(asked.headers["location"])
        assert page.status_code == 200
        assert 'value="/list"' in page.text
        wrong = browser.post("/sign-in", data={"token": "x" * 60, "next": "/list"})
        assert wrong.status_code == 401
        assert "opens nothing" in wrong.text
        done = browser.post("/sign-in", data={"token": f" {token}\n", "next": "/list"})
        assert done.status_code == 303
        assert done.headers["location"] == "/list"
        cookie = done.headers["set-cookie"].lower()
        assert "httponly" in cookie
        assert "samesite=lax" in cookie
        assert "secure" not in cookie  # this test speaks plain HTTP
        assert token not in cookie
        assert browser.get("/list").status_code == 200
        assert browser.get("/api/who").json() == {
            "name": "a crew",
            "role": "crew",
            "signed_in": True,
        }
        is_problem(browser.post("/api/preview", json={}), 403, "not_allowed")
        kept = dict(browser.cookies)
        assert browser.post("/sign-out").status_code == 303
        stolen = {"cookie": f"leatline_session={kept['leatline_session']}"}
        is_problem(browser.get("/api/who", headers=stolen), 401)


@pytest.mark.parametrize(
    "wanted", ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example", "x\r\ny"]
)
def test_session__leads_nowhere_else(house: House, wanted: str) -> None:
    token = house.sends["planner"]["authorization"][7:]
    with httpx.Client(base_url=house.client.base_url) as browser:
        done = browser.post("/sign-in", data={"token": token, "next": wanted})
        assert done.headers["location"] == "/"
        assert "elsewhere" not in browser.get("/sign-in", params={"next": wanted}).text


def test_revoke__ends_token_and_sessions_at_once(house: House) -> None:
    token = house.access.add("short", "planner")
    with httpx.Client(base_url=house.client.base_url) as browser:
        browser.post("/sign-in", data={"token": token})
        assert browser.get("/api/studies").status_code == 200
        assert house.client.get("/api/studies", headers=bearer(token)).status_code == 200
        house.access.revoke("short")
        is_problem(browser.get("/api/studies"), 401)
        is_problem(house.client.get("/api/studies", headers=bearer(token)), 401)


def test_who__is_kept_with_each_revision(house: House) -> None:
    path = f"/api/studies/{house.study}/revisions"
    rows = house.client.get(path, headers=house.sends["client"]).json()
    assert [row["who"] for row in rows] == ["a planner"]


def test_who__is_kept_with_each_record(house: House) -> None:
    record = {"kind": "note", "of": None, "station_m": 10.0, "note": "wet", "device": "d",
              "time": "2026-01-01T10:00:00Z"}  # fmt: skip
    path = f"/api/studies/{house.study}/records"
    sent = house.client.post(path, json={"records": [record]}, headers=house.sends["crew"])
    assert sent.json() == {"taken": 1}, sent.text
    with closing(sqlite3.connect(house.folder / "data" / "leatline.sqlite3")) as connection:
        assert connection.execute("SELECT sent_by FROM records").fetchall() == [("a crew",)]


def test_quota__of_each_person(serve: Serve, tmp_path: Path, hill: Path, line: Body) -> None:
    access = AccessFile(tmp_path / "access", make=True)
    ann, ben = (bearer(access.add(name, "planner")) for name in ("Ann", "Ben"))
    with serve(tmp_path / "data", access=access, max_studies_each=2) as client:
        client.headers.update(ann)
        body = {"terrain": upload(client, hill).json()["id"], "route": line}
        studies = [client.post("/api/studies", json=body).json()["id"] for _ in range(2)]
        problem = is_problem(client.post("/api/studies", json=body), 413, "too_large")
        assert problem["detail"].startswith("Ann has 2 studies")
        assert client.post("/api/studies", json=body, headers=ben).status_code == 201
        client.delete(f"/api/studies/{studies[0]}")
        assert client.post("/api/studies", json=body).status_code == 201


def test_log__names_who_changed_and_who_tried(house: House, serve: Serve, tmp_path: Path) -> None:
    want = {("a planner", "DELETE", 404), ("a client", "DELETE", 403), ("", "GET", 401)}
    with serve(tmp_path, access=house.access) as client:  # fresh: refusals are not logged endlessly
        client.delete(f"/api/studies/{NOBODY}", headers=house.sends["planner"])
        client.delete(f"/api/studies/{NOBODY}", headers=house.sends["client"])
        client.get("/api/studies", headers=house.sends["revoked"])
        until(  # a row is written once its answer has gone
            lambda: {(row.name, row.method, row.status) for row in house.access.logged(3)} == want,
            f"rows {want} in the log",
        )
    house.client.post(f"/api/studies/{house.links['crew']}/records", json={"records": []})
    until(lambda: house.access.logged(1)[0].role == "crew-link", "the row of the link")
    assert house.links["crew"][17:] not in house.access.logged(1)[0].path


def test_file__holds_no_token(house: House) -> None:
    kept = house.access.path.read_bytes()
    wal = house.access.path.with_name(house.access.path.name + "-wal")
    kept += wal.read_bytes() if wal.exists() else b""
    for who in ROLES:
        assert house.sends[who]["authorization"][7:].partition(".")[2].encode() not in kept
    assert house.access.path.stat().st_mode & 0o077 == 0


def test_hash__is_memory_hard() -> None:
    # RFC 7914 (scrypt): memory is 128 N r bytes. The least asked here, 16 MiB, is a common floor.
    from api.access import tokens

    assert 128 * tokens.COST * tokens.BLOCK >= 16 * 2**20


def test_command__add_list_revoke_log(tmp_path: Path) -> None:
    file = ("--access", "who")
    clean(leatline("access", "list", *file, cwd=tmp_path), 2)
    done = leatline("access", "add", "Ann", "--role", "planner", *file, cwd=tmp_path)
    said = clean(done, 0)
    token = done.stdout.decode().strip()
    assert token not in said
    assert AccessFile(tmp_path / "who").person_of_token(token) is not None
    twice = leatline("access", "add", "Ann", "--role", "crew", *file, cwd=tmp_path)
    assert "Revoke it first" in clean(twice, 2)
    for more in (["--role", "owner"], ["--role", "crew", "--expires", "2001-01-01"]):
        clean(leatline("access", "add", "Ben", *more, *file, cwd=tmp_path), 2)
    shown = leatline("access", "list", *file, cwd=tmp_path).stdout.decode()
    assert "Ann" in shown
    assert "valid" in shown
    assert token[17:] not in shown
    clean(leatline("access", "revoke", "Ann", *file, cwd=tmp_path), 0)
    assert "no token" in clean(leatline("access", "revoke", "Ann", *file, cwd=tmp_path), 2)
    assert "revoked" in leatline("access", "list", *file, cwd=tmp_path).stdout.decode()
    assert leatline("access", "log", *file, cwd=tmp_path).returncode == 0
    assert AccessFile(tmp_path / "who").person_of_token(token) is None


def test_serve__not_beyond_this_machine_unguarded(tmp_path: Path) -> None:
    for host in ("0.0.0.0", "::"):
        done = leatline("serve", "--host", host, "--port", "0", cwd=tmp_path)
        said = clean(done, 2)
        if "Nothing can listen" in said and host == "::":
            continue  # a machine without IPv6
        assert "--access" in said
        assert "--access by-proxy" in said
    (tmp_path / "no.txt").write_text("not an access file")
    broken = leatline("serve", "--host", "0.0.0.0", "--access", "no.txt", cwd=tmp_path)
    assert "no.txt" in clean(broken, 2)


def test_file__of_another_kind(tmp_path: Path) -> None:
    sqlite3.connect(tmp_path / "other").close()
    assert AccessFile(tmp_path / "other").tokens() == []


def test_method__that_an_address_lacks_is_told_to_whoever_may_use_the_address(house: House) -> None:
    # RFC 9110, 15.5.6; nobody learns what there is at an address that he may not use
    for path, who, status in (
        ("/api/health", "nobody", 405),
        ("/api/studies", "client", 405),
        ("/api/trash", "client", 403),
        ("/api/studies", "nobody", 401),
    ):
        answer = house.client.request("PATCH", path, headers=house.sends[who])
        is_problem(answer, status)
        assert (status == 405) == ("allow" in answer.headers), path
