"""Every address names its methods, answers HEAD as GET, and opens to no link that has ended."""

from __future__ import annotations

import re
import sqlite3
from collections import defaultdict
from contextlib import closing
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import Serve, is_problem, upload

from api.access.operations import operations
from api.access.person import LINK_ROLES
from api.access.store import AccessFile

NOBODY = "0" * 16
PARTS = {"z": "1", "x": "0", "y": "0", "path:path": "none.js"}


def filled(path: str, study: str = NOBODY) -> str:
    parts = {**PARTS, "study_id": study}
    return re.sub(r"\{([^}]+)\}", lambda part: parts.get(part[1], NOBODY), path)


def test_methods__all_are_named_where_one_is_not_there(client: httpx.Client) -> None:
    methods: dict[str, set[str]] = defaultdict(set)
    for row in operations():
        methods[row.path] |= {row.method, "HEAD"} if row.method == "GET" else {row.method}
    assert len(methods) > 50
    for path, known in methods.items():
        for method in ("PATCH", "TRACE", "OPTIONS"):
            refused = client.request(method, filled(path))
            is_problem(refused, 405, "method_not_allowed")
            # RFC 9110, 15.5.6: an answer 405 lists the methods of the address in Allow.
            assert refused.headers["allow"] == ", ".join(sorted(known)), path


def test_head__is_answered_as_get_without_the_body(client: httpx.Client) -> None:
    for row in operations():
        if row.method == "GET" and row.path != "/metrics":  # counts while it is asked
            head, whole = (client.request(method, filled(row.path)) for method in ("HEAD", "GET"))
            assert head.content == b"", row.path
            assert head.status_code == whole.status_code, row.path
            assert head.headers.get("content-type") == whole.headers.get("content-type"), row.path


@pytest.mark.parametrize("ended", ["revoked", "expired", "study deleted"])
def test_link__that_has_ended_opens_nothing(
    serve: Serve, tmp_path: Path, hill: Path, line: dict[str, Any], ended: str
) -> None:
    access = AccessFile(tmp_path / "access", make=True)
    planner = {"authorization": f"Bearer {access.add('Ann', 'planner')}"}
    with serve(tmp_path / "data", access=access) as client:
        client.headers.update(planner)
        body = {"terrain": upload(client, hill).json()["id"], "route": line}
        study = client.post("/api/studies", json=body).json()["id"]
        links = f"/api/studies/{study}/links"
        made = [client.post(links, json={"role": role}).json() for role in LINK_ROLES]
        if ended == "revoked":
            for link in made:
                assert client.delete(f"{links}/{link['id']}").status_code == 204
        elif ended == "study deleted":
            assert client.delete(f"/api/studies/{study}").status_code == 204
        else:
            with closing(sqlite3.connect(tmp_path / "data" / "leatline.sqlite3")) as connection:
                connection.execute("UPDATE links SET expires = '2026-01-01T00:00:00.000Z'")
                connection.commit()
        del client.headers["authorization"]
        tried = 0
        for row in operations():
            if not row.path.startswith(
                ("/api/studies/{study_id}", "/field/{study_id}", "/shared/")
            ):
                continue
            for link in made:
                tried += 1
                path = filled(row.path, link["url"].rpartition("/")[2])
                sent: Any = {"json": {}} if row.method in ("POST", "PUT") else {}
                is_problem(client.request(row.method, path, **sent), 401, "sign_in_needed")
        assert tried > 40
