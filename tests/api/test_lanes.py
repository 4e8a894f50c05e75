"""One client cannot stall the rest: many heavy requests, slow senders, clients that go away."""

from __future__ import annotations

import json
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
from api_service import Serve, is_problem, upload

from api import guard
from api.access.operations import operations
from api.access.store import AccessFile
from api.server import ImpatientProtocol

Body = dict[str, Any]


def wiggled(line: Body, points: int) -> Body:
    """Return the line with so many points, each a little aside."""
    coordinates = np.array(line["geometry"]["coordinates"])
    t = np.linspace(0, len(coordinates) - 1, points)
    lon, lat = (np.interp(t, np.arange(len(coordinates)), column) for column in coordinates.T)
    lat = lat + 1e-6 * np.sin(np.arange(points))
    return {"type": "LineString", "coordinates": np.column_stack([lon, lat]).tolist()}


@pytest.fixture
def two(
    tmp_path: Path, serve: Serve, hill: Path, line: Body
) -> Iterator[tuple[httpx.Client, str, Body, Body]]:
    """A service that two people use: the first's client, the second's token, heavy and light."""
    access = AccessFile(tmp_path / "access", make=True)
    first, second = (access.add(name, "planner") for name in ("heavy", "light"))
    with serve(tmp_path / "data", access=access, max_waiting_each=4) as client:
        client.headers["authorization"] = f"Bearer {first}"
        terrain = upload(client, hill).json()["id"]
        heavy = {"terrain": terrain, "route": wiggled(line, 4000)}
        light = {"terrain": terrain, "route": wiggled(line, 60)}
        assert client.post("/api/preview", json=light).status_code == 200  # compiled by now
        yield client, second, heavy, light


def test_previews__of_one_client_do_not_stall_another(
    two: tuple[httpx.Client, str, Body, Body],
) -> None:
    client, second, heavy, light = two
    answers: list[httpx.Response] = []

    def ask() -> None:
        with httpx.Client(base_url=client.base_url, headers=client.headers, timeout=300) as own:
            answers.append(own.post("/api/preview", json=heavy))

    start = time.monotonic()
    with httpx.Client(base_url=client.base_url, timeout=300) as own:
        assert own.post("/api/preview", json=heavy, headers=client.headers).status_code == 200
    alone_s = time.monotonic() - start
    threads = [threading.Thread(target=ask) for _ in range(20)]
    for thread in threads:
        thread.start()
    waits, health = [], []
    with httpx.Client(base_url=client.base_url, timeout=300) as other:
        for _ in range(4):
            begun = time.monotonic()
            assert other.get("/api/health").status_code == 200
            health.append(time.monotonic() - begun)
            begun = time.monotonic()
            answer = other.post(
                "/api/preview", json=light, headers={"authorization": f"Bearer {second}"}
            )
            assert answer.status_code == 200
            waits.append(time.monotonic() - begun)
    for thread in threads:
        thread.join()
    refused = [answer for answer in answers if answer.status_code == 503]
    for answer in refused:
        assert is_problem(answer, 503, "busy")["hint"]
        assert int(answer.headers["retry-after"]) > 0
    assert {answer.status_code for answer in answers} == {200, 503}
    assert len(answers) - len(refused) >= 2
    # at most the one that is under way goes before; the rest is the machine's noise
    assert max(waits) < 3 * alone_s + 3.0
    assert max(health) < 10.0


def test_preview__of_a_client_that_left_is_not_computed(
    two: tuple[httpx.Client, str, Body, Body],
) -> None:
    client, second, heavy, light = two
    host, port = client.base_url.host, client.base_url.port or 80
    content = json.dumps(heavy).encode()
    head = (
        f"POST /api/preview HTTP/1.1\r\nhost: {host}\r\ncontent-type: application/json\r\n"
        f"authorization: {client.headers['authorization']}\r\n"
        f"content-length: {len(content)}\r\n\r\n"
    )
    left = []
    for _ in range(5):
        stream = socket.create_connection((host, port))
        stream.sendall(head.encode() + content)
        left.append(stream)
    time.sleep(0.3)
    for stream in left:
        stream.close()
    begun = time.monotonic()
    headers = {"authorization": f"Bearer {second}"}
    assert client.post("/api/preview", json=light, headers=headers).status_code == 200
    assert time.monotonic() - begun < 10.0


def received(stream: socket.socket, seconds: float) -> bytes:
    """Return all that comes until the service closes the connection."""
    stream.settimeout(seconds)
    found = b""
    while part := stream.recv(65536):
        found += part
    return found


def test_slow__heads_are_given_up(client: httpx.Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ImpatientProtocol, "header_seconds", 0.5)
    address = (client.base_url.host, client.base_url.port or 80)
    silent = [socket.create_connection(address) for _ in range(200)]
    for number, stream in enumerate(silent):
        if number % 2:
            stream.sendall(b"GET /api/health HTTP/1.1\r\nhost: localhost\r\nx-slow: ")
    later = socket.create_connection(address)
    later.sendall(b"GET /api/health HTTP/1.1\r\nhost: localhost\r\n\r\n")
    answer = b""
    while b'"status"' not in answer:
        answer += later.recv(65536)
    assert answer.startswith(b"HTTP/1.1 200")
    later.sendall(b"GET /api/hea")  # the second request on a connection that is kept
    for stream in (*silent, later):
        assert received(stream, 10.0) == b""
        stream.close()
    assert client.get("/api/health").status_code == 200


@pytest.mark.parametrize("path", ["/api/preview", "/api/routes", "/api/terrains"])
def test_slow__body_is_given_up(
    client: httpx.Client, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    monkeypatch.setattr(guard, "PATIENCE_SECONDS", 0.5)
    kind = "multipart/form-data; boundary=x" if path == "/api/terrains" else "application/json"
    first = "--x\r\n" if path == "/api/terrains" else "{"
    with socket.create_connection((client.base_url.host, client.base_url.port or 80)) as stream:
        stream.sendall(
            f"POST {path} HTTP/1.1\r\nhost: localhost\r\ncontent-type: {kind}\r\n"
            f"content-length: 100000\r\n\r\n{first}".encode()
        )
        answer = received(stream, 10.0)
    assert answer.startswith(b"HTTP/1.1 408"), answer[:200]
    assert b"too_slow" in answer


def test_work__that_takes_too_long_is_answered(
    serve: Serve, tmp_path: Path, hill: Path, line: Body
) -> None:
    with serve(tmp_path, request_seconds=1.0) as client:
        terrain = upload(client, hill).json()["id"]
        body = {"terrain": terrain, "route": wiggled(line, 20_000)}
        begun = time.monotonic()
        answer = client.post("/api/preview", json=body)
        if answer.status_code != 200:  # a very fast machine is in time
            assert "respond-async" in is_problem(answer, 503, "busy")["hint"]
        assert time.monotonic() - begun < 30.0
        assert client.get("/api/health").status_code == 200


def test_lanes__stand_for_all_that_computes() -> None:
    lanes = {(row.method, row.path): row.lane for row in operations()}
    assert {row.lane for row in operations()} == {"", "preview", "work", "tile"}
    assert lanes["GET", "/api/health"] == ""
    assert lanes["POST", "/api/preview"] == "preview"
    assert lanes["PUT", "/api/studies/{study_id}"] == "work"
