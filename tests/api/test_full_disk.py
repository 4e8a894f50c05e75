"""A full volume: refused in time, still readable, still deletable, and a restart works."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import Serve, is_problem, upload

from api.errors import NoRoom
from api.room import Room
from api.settings import ServiceSettings
from api.storage import Storage

Body = dict[str, Any]
MEGABYTE = 2**20


@pytest.fixture
def small(tmp_path: Path) -> Iterator[Path]:
    """A volume of 16 MB."""
    place = tmp_path / "small"
    place.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=16m", "tmpfs", str(place)]
    if os.geteuid() or subprocess.run(command, capture_output=True, check=False).returncode:
        # Not a failure in continuous integration either: containers take the right away from root.
        pytest.skip("no right to mount a small volume; only root outside a container has it")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


def fill(place: Path) -> Path:
    """Leave no byte of the volume."""
    filler = place / "filler"
    with filler.open("wb", buffering=0) as stream:
        for size in (MEGABYTE, 4096, 1):
            try:
                while True:
                    stream.write(bytes(size))
            except OSError:
                continue
    return filler


def saved(client: httpx.Client, body: Body) -> list[str]:
    """Save studies, made large by what the page keeps along, until there is no room."""
    studies, large = [], {**body, "plan": {"kept": "x" * MEGABYTE}}
    for _ in range(40):
        answer = client.post("/api/studies", json=large)
        if answer.status_code != 201:
            assert "Delete" in is_problem(answer, 507, "no_room")["hint"]
            return studies
        studies.append(answer.json()["id"])
    raise AssertionError("the volume was never full")


def test_full__by_its_own_studies_and_then_by_others(
    small: Path, serve: Serve, hill: Path, line: Body
) -> None:
    data = small / "data"
    with serve(data) as client:
        terrain = upload(client, hill).json()["id"]
        body = {"terrain": terrain, "route": line}
        studies = saved(client, body)
        assert len(studies) > 3
        fill(small)
        is_problem(upload(client, hill), 507, "no_room")
        readable(client, studies, body)
        is_problem(client.post("/api/studies", json=body), 507, "no_room")
    with serve(data) as client:  # a restart on the full volume
        readable(client, studies, body)
        for study in studies[:-1]:
            assert client.delete(f"/api/studies/{study}").status_code == 204
        assert [row["id"] for row in client.get("/api/studies").json()] == studies[-1:]
        (small / "filler").unlink()
        assert client.post("/api/studies", json=body).status_code == 201


def readable(client: httpx.Client, studies: list[str], body: Body) -> None:
    assert client.get("/api/health").status_code == 200
    assert len(client.get("/api/studies").json()) == len(studies)
    assert client.get(f"/api/studies/{studies[0]}").status_code == 200
    assert client.post("/api/preview", json=body).status_code == 200
    assert client.get(f"/api/studies/{studies[0]}/map").status_code == 200


def test_full__deleting_gives_room_back(small: Path, serve: Serve, hill: Path, line: Body) -> None:
    with serve(small / "data") as client:
        body = {"terrain": upload(client, hill).json()["id"], "route": line}
        studies = saved(client, body)
        database = small / "data" / "leatline.sqlite3"
        before = database.stat().st_size
        for study in studies[: len(studies) // 2]:
            assert client.delete(f"/api/studies/{study}").status_code == 204
        assert database.stat().st_size == before  # they can still be brought back
        assert client.delete("/api/trash").json() == {"removed": len(studies) // 2}
        assert database.stat().st_size < 0.8 * before
        assert saved(client, body)


def test_room__keeps_what_was_asked(tmp_path: Path) -> None:
    Room(tmp_path, 0).check()
    assert (tmp_path / "reserve").stat().st_size > 0
    with pytest.raises(NoRoom, match="MB left"):
        Room(tmp_path, 10).check(coming_bytes=2**60)
    with pytest.raises(NoRoom, match="LEATLINE_MAX_DATA_BYTES"):
        Room(tmp_path, 0, 1000).check()
    assert Room(tmp_path, 0).give_way()
    assert not Room(tmp_path, 0).give_way()


def test_storage__new_databases_can_shrink(tmp_path: Path) -> None:
    storage = Storage(ServiceSettings(data=tmp_path))
    with storage.database.read() as connection:
        # SQLite, PRAGMA auto_vacuum: 2 is incremental.
        assert connection.execute("PRAGMA auto_vacuum").fetchone() == (2,)
