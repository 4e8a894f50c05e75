"""Requests under a foreign name or from a foreign page are turned away before anything is read."""

from __future__ import annotations

import json
import socket
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import Serve, is_problem, upload
from own_loop import run_alone

from api.app import create_app
from api.settings import ServiceSettings

Body = dict[str, Any]
FOREIGN_HOSTS = (
    "rebound.example",
    "rebound.example:8765",
    "127.0.0.1.rebound.example",
    "localhost.rebound.example",
    "127.0.0.2",
    "[::2]",
    "localhost@rebound.example",
    "127.0.0.1, rebound.example",
    "",
)


@pytest.mark.parametrize("host", FOREIGN_HOSTS)
def test_guard__foreign_name_gets_nothing(client: httpx.Client, body: Body, host: str) -> None:
    headers = {"host": host}
    before = client.get("/api/studies").json()
    for path in ("/", "/list", "/api/health", "/api/studies", "/js/main.js", "/nowhere"):
        is_problem(client.get(path, headers=headers), 421, "unknown_host")
    is_problem(client.post("/api/studies", json=body, headers=headers), 421, "unknown_host")
    is_problem(client.post("/api/preview", json=body, headers=headers), 421, "unknown_host")
    assert client.get("/api/studies").json() == before


def test_guard__delete_under_a_rebound_name(client: httpx.Client, body: Body) -> None:
    # A page under its own name that now resolves here: Host and Origin agree with each other.
    study = client.post("/api/studies", json=body).json()["id"]
    rebound = {"host": "rebound.example:8765", "origin": "http://rebound.example:8765"}
    path = f"/api/studies/{study}"
    is_problem(client.delete(path, headers=rebound), 421, "unknown_host")
    is_problem(client.put(path, json=body, headers=rebound), 421, "unknown_host")
    assert client.get(path).status_code == 200


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST:1", "127.0.0.1", "[::1]:8765"])
def test_guard__own_names(client: httpx.Client, host: str) -> None:
    assert client.get("/api/studies", headers={"host": host}).status_code == 200


def test_guard__names_of_the_operator(serve: Serve, tmp_path: Path) -> None:
    with serve(tmp_path, allow_hosts="Plans.example") as client:
        for host in ("plans.example", "PLANS.example:443"):
            assert client.get("/api/studies", headers={"host": host}).status_code == 200
        other = client.get("/api/studies", headers={"host": "sub.plans.example"})
        is_problem(other, 421, "unknown_host")


def test_guard__request_without_a_name(client: httpx.Client) -> None:
    with socket.create_connection((client.base_url.host, client.base_url.port or 80)) as stream:
        stream.sendall(b"GET /api/studies HTTP/1.0\r\n\r\n")
        assert b" 421 " in stream.recv(4000).split(b"\r\n")[0]


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "https://elsewhere.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:1"},
        {"origin": "http://127.0.0.1.elsewhere.example"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
    ids=str,
)
def test_guard__foreign_page_changes_nothing(
    client: httpx.Client, body: Body, hill: Path, headers: Body
) -> None:
    study = client.post("/api/studies", json=body).json()["id"]
    path = f"/api/studies/{study}"
    before = client.get("/api/terrains").json()
    is_problem(client.delete(path, headers=headers), 403, "foreign_origin")
    is_problem(client.put(path, json=body, headers=headers), 403, "foreign_origin")
    # what a form can send without asking first
    plain = {**headers, "content-type": "text/plain"}
    is_problem(
        client.post("/api/studies", content=json.dumps(body), headers=plain), 403, "foreign_origin"
    )
    with hill.open("rb") as stream:
        sent = client.post("/api/terrains", files={"file": stream}, headers=headers)
    is_problem(sent, 403, "foreign_origin")
    assert client.get(path).status_code == 200
    assert client.get("/api/terrains").json() == before


def test_guard__own_page_may_change(client: httpx.Client, hill: Path) -> None:
    port = client.base_url.port
    for origin, host in (
        (f"http://127.0.0.1:{port}", f"127.0.0.1:{port}"),
        ("https://localhost", "localhost"),
        ("https://localhost", "localhost:443"),
    ):
        assert client.post(
            "/api/routes",
            content=b"nothing",
            headers={"origin": origin, "host": host, "sec-fetch-site": "same-origin"},
        ).status_code not in (403, 421)
    assert upload(client, hill).status_code == 201


def test_guard__no_page_can_be_framed_elsewhere(client: httpx.Client, body: Body) -> None:
    study = client.post("/api/studies", json=body).json()["id"]
    pages = ("/", "/list", "/guide/index.md", f"/field/{study}", f"/api/studies/{study}/map")
    for path in (*pages, f"/api/studies/{study}/field", "/nowhere", "/api/health"):
        answer = client.get(path)
        assert answer.headers["x-frame-options"] == "SAMEORIGIN", path
        assert answer.headers["cross-origin-resource-policy"] == "same-origin", path
        if answer.headers["content-type"].startswith("text/html"):
            assert "frame-ancestors 'self'" in answer.headers["content-security-policy"], path


def test_methods__every_address_names_all_of_its_own_and_answers_head(
    client: httpx.Client, body: Body
) -> None:
    study = client.post("/api/studies", json=body).json()["id"]
    for path, methods in (
        ("/api/studies", "GET, HEAD, POST"),
        (f"/api/studies/{study}", "DELETE, GET, HEAD, PUT"),
        ("/api/health", "GET, HEAD"),
        ("/", "GET, HEAD"),
        ("/js/main.js", "GET, HEAD"),
    ):
        refused = client.request("PATCH", path)
        is_problem(refused, 405, "method_not_allowed")
        assert refused.headers["allow"] == methods
        head, whole = client.head(path), client.get(path)
        assert head.status_code == whole.status_code == 200
        assert head.content == b""
        assert head.headers["content-type"] == whole.headers["content-type"]


def test_guard__a_call_in_process_needs_no_known_name(tmp_path: Path) -> None:
    app = create_app(ServiceSettings(data=tmp_path))

    async def ask() -> list[int]:
        inside = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=inside, base_url="http://inside") as client:
            own = await client.get("/api/problems")
            foreign = await client.get("/api/problems", headers={"host": "rebound.example"})
            return [own.status_code, foreign.status_code]

    assert run_alone(ask()) == [200, 421]
