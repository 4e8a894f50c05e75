"""What was deleted: nowhere to be seen, brought back whole, gone for good in time or by hand."""

from __future__ import annotations

import json
import os
import random
import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import Serve, is_problem, upload
from leatline_command import clean, leatline

from api.access.person import Person, acts
from api.access.store import AccessFile
from api.backup import back_up, restore
from api.database import CHANGES, Database
from api.errors import NotFound, TerrainInUse, TooLarge
from api.settings import ServiceSettings
from api.storage import STALE_SECONDS, Storage

Body = dict[str, Any]


def store(folder: Path, **limits: float) -> Storage:
    return Storage(ServiceSettings(data=folder, **limits))  # type: ignore[arg-type]


def terrain(storage: Storage) -> str:
    with storage.incoming_folder() as folder:
        (folder / "elevation.tif").write_bytes(b"raster")
        return storage.add_terrain(folder, "hill", {}).id


def study(storage: Storage, hill: str) -> str:
    def encode(identity: str, revision: int) -> bytes:
        return json.dumps({"id": identity}).encode()

    return storage.add_study("line", (hill,), encode).study


@pytest.fixture
def storage(tmp_path: Path) -> Storage:
    return store(tmp_path)


def test_trash__a_study_comes_back_to_the_byte_with_its_terrain(storage: Storage) -> None:
    hill = terrain(storage)
    line = study(storage, hill)
    before = storage.study(line), storage.revisions(line), storage.terrain(hill)
    storage.delete_study(line)
    storage.delete_terrain(hill)
    assert (storage.count("studies"), storage.count("terrains")) == (0, 0)
    assert [(row.kind, row.id) for row in storage.trash.rows()] == [
        ("terrain", hill),
        ("study", line),
    ]
    assert {row.id for row in storage.trash.restore(line)} == {line, hill}
    assert (storage.study(line), storage.revisions(line), storage.terrain(hill)) == before
    assert storage.terrain_path(hill).read_bytes() == b"raster"
    assert storage.trash.rows() == []
    with pytest.raises(NotFound):
        storage.trash.restore(line)


def gone_for(storage: Storage, days: float) -> None:
    """Let it seem so long ago that all in the trash was deleted."""
    with storage.database.write() as connection:
        for table in ("studies", "terrains"):
            connection.execute(
                f"UPDATE {table} SET deleted = strftime('%Y-%m-%dT%H:%M:%fZ', deleted, ?) "
                "WHERE deleted IS NOT NULL",
                (f"-{days} days",),
            )


def test_trash__goes_when_its_time_is_over_and_not_before(tmp_path: Path) -> None:
    storage = store(tmp_path, trash_days=2.0)
    hill = terrain(storage)
    line = study(storage, hill)
    (storage.records.folder / line).mkdir(parents=True)
    storage.delete_study(line)
    storage.delete_terrain(hill)
    gone_for(storage, 1.99)
    assert storage.trash.expire() == 0
    gone_for(storage, 0.02)
    assert storage.trash.expire() == 2
    assert list(storage.terrain_folder.iterdir()) == list(storage.records.folder.iterdir()) == []
    with storage.database.read() as connection:
        for table in ("studies", "revisions", "terrains", "study_terrains"):
            assert connection.execute(f"SELECT count(*) FROM {table}").fetchone() == (0,)


def test_trash__a_terrain_waits_for_the_study_on_it(tmp_path: Path) -> None:
    storage = store(tmp_path, trash_days=2.0)
    hill = terrain(storage)
    line = study(storage, hill)
    storage.delete_study(line)
    storage.delete_terrain(hill)
    with pytest.raises(TerrainInUse, match=line):
        storage.trash.remove(hill)
    gone_for(storage, 3)
    storage.trash.restore(line)
    storage.delete_study(line)  # anew, so the study stays and keeps what it stands on
    assert storage.trash.expire() == 0
    assert storage.terrain(hill).id == hill
    storage.trash.remove(line)
    with pytest.raises(NotFound):
        storage.trash.remove(line)
    storage.delete_terrain(hill)
    storage.trash.remove(hill)
    assert list(storage.terrain_folder.iterdir()) == []


def test_trash__no_time_at_all_deletes_at_once(tmp_path: Path) -> None:
    storage = store(tmp_path, trash_days=0)
    hill = terrain(storage)
    storage.delete_study(study(storage, hill))
    storage.delete_terrain(hill)
    assert storage.trash.rows() == []
    assert list(storage.terrain_folder.iterdir()) == []


@pytest.mark.parametrize("days", [1e9, float("inf")])
def test_trash__a_time_without_end_is_a_long_one(tmp_path: Path, days: float) -> None:
    storage = store(tmp_path, trash_days=days)
    storage.delete_terrain(terrain(storage))
    assert storage.trash.rows()[0].until > "2100"


def test_trash__numbers_do_not_count_it_and_coming_back_does(tmp_path: Path) -> None:
    storage = store(tmp_path, max_studies=1, max_studies_each=1)
    hill = terrain(storage)
    with acts(Person(name="Ann", role="planner")):
        line = study(storage, hill)
        storage.delete_study(line)
        other = study(storage, hill)
    assert storage.trash.rows()[0].who == "Ann"
    with pytest.raises(TooLarge, match="LEATLINE_MAX_STUDIES"):
        storage.trash.restore(line)
    assert [row.id for row in storage.studies()] == [other]


def test_trash__nothing_is_saved_on_a_deleted_terrain_or_study(storage: Storage) -> None:
    hill = terrain(storage)
    first = storage.study(study(storage, hill))

    def deleted_meanwhile(identity: str, revision: int) -> bytes:
        storage.delete_study(first.study)
        return b"{}"

    with pytest.raises(NotFound, match="study"):
        storage.replace_study(first.study, first.etag, "n", (hill,), deleted_meanwhile)
    storage.delete_terrain(hill)
    with pytest.raises(NotFound, match="terrain"):
        study(storage, hill)


def test_trash__many_who_restore_and_remove_at_once_leave_all_or_nothing(storage: Storage) -> None:
    # A race either way: what came back has its row and its files, what went has neither.
    hills = [terrain(storage) for _ in range(20)]
    lines = [study(storage, hill) for hill in hills]
    for line, hill in zip(lines, hills, strict=True):
        storage.delete_study(line)
        storage.delete_terrain(hill)

    def tried(act: Callable[[], object]) -> None:
        try:
            act()
        except (NotFound, TerrainInUse):
            pass

    acts_on = [lambda one=one: storage.trash.restore(one) for one in lines]
    acts_on += [lambda one=one: storage.trash.remove(one) for one in lines]
    acts_on += [lambda: storage.trash.empty()]
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(tried, random.Random(1).sample(acts_on, len(acts_on))))
    back = {row.id for row in storage.studies()}
    for line, hill in zip(lines, hills, strict=True):
        if line in back:
            assert storage.terrain_path(storage.terrain(hill).id).read_bytes() == b"raster"
        else:
            with pytest.raises(NotFound):
                storage.study(line)
    rows = {row.id for row in storage.terrains()} | {row.id for row in storage.trash.rows()}
    assert {path.name for path in storage.terrain_folder.iterdir()} <= rows


def test_trash__photographs_of_a_killed_deletion_are_swept(tmp_path: Path) -> None:
    storage = store(tmp_path)
    kept = study(storage, terrain(storage))
    for name in (kept, "0" * 16):
        folder = storage.records.folder / name
        folder.mkdir(parents=True)
        past = os.stat(folder).st_mtime - STALE_SECONDS - 10
        os.utime(folder, (past, past))
    store(tmp_path)
    assert [path.name for path in storage.records.folder.iterdir()] == [kept]


def test_trash__a_backup_holds_it(storage: Storage, tmp_path: Path) -> None:
    line = study(storage, terrain(storage))
    storage.delete_study(line)
    back_up(storage.folder, tmp_path / "b.zip")
    restore(tmp_path / "b.zip", tmp_path / "again")
    again = store(tmp_path / "again")
    again.trash.restore(line)
    assert again.study(line).study == line


def test_trash__old_databases_get_it(tmp_path: Path) -> None:
    Database(tmp_path / "leatline.sqlite3", 1.0, CHANGES[:-1])
    with closing(sqlite3.connect(tmp_path / "leatline.sqlite3")) as connection:
        connection.execute("INSERT INTO terrains VALUES ('a', 'hill', '2026-01-01', x'7b7d')")
        connection.commit()
    assert [row.id for row in store(tmp_path).terrains()] == ["a"]


# --- over HTTP and by command -------------------------------------------------------------------


def test_http__a_deleted_study_is_nowhere_until_it_is_back(
    serve: Serve, hill: Path, line: Body, tmp_path: Path
) -> None:
    access = AccessFile(tmp_path / "access", make=True)
    token = {"authorization": f"Bearer {access.add('Ann', 'planner')}"}
    with serve(tmp_path / "data", access=access) as client:
        client.headers.update(token)
        body = {"terrain": upload(client, hill).json()["id"], "route": line}
        saved = client.post("/api/studies", json=body).json()
        path = f"/api/studies/{saved['id']}"
        link = client.post(f"{path}/links", json={"role": "client"}).json()
        shared = httpx.URL(link["url"]).path
        assert client.delete(path).status_code == 204
        one = f"/api/trash/{saved['id']}"
        for way in ("", "/map", "/revisions", "/records", "/links", "/field", "/works", "/export"):
            form = {"format": "csv"} if way == "/export" else {}
            is_problem(client.get(path + way, params=form), 404, "not_found")
        is_problem(client.get(f"/field/{saved['id']}"), 404, "not_found")
        is_problem(client.post(f"{path}/links", json={"role": "client"}), 404, "not_found")
        is_problem(client.delete(f"{path}/links/{link['id']}"), 404, "not_found")
        is_problem(client.put(path, json=body, headers={"if-match": "*"}), 404, "not_found")
        is_problem(client.delete(path), 404, "not_found")
        assert client.get("/api/studies").json() == []
        assert client.get("/api/health").json()["studies"] == 0
        del client.headers["authorization"]
        is_problem(client.get(shared), 401, "sign_in_needed")
        client.headers.update(token)
        (row,) = client.get("/api/trash").json()
        assert (row["kind"], row["id"], row["who"]) == ("study", saved["id"], "Ann")
        assert client.post(f"{one}/restore").json() == [row]
        assert client.get(path).json() == saved
        assert client.get(shared).status_code == 200
        assert client.delete(path).status_code == 204
        assert client.delete(one).status_code == 204
        is_problem(client.delete(one), 404, "not_found")
        is_problem(client.post(f"{one}/restore"), 404, "not_found")
        assert client.delete("/api/trash").json() == {"removed": 0}


def test_command__lists_restores_and_empties(tmp_path: Path) -> None:
    storage = store(tmp_path)
    hill = terrain(storage)
    line = study(storage, hill)
    storage.delete_study(line)

    def run(*words: str, code: int = 0) -> tuple[str, str]:
        done = leatline("trash", *words, "--data", str(tmp_path), cwd=tmp_path)
        return done.stdout.decode(), clean(done, code)

    assert run("list")[0].split()[:2] == [line, "study"]
    assert "The study line is back" in run("restore", line)[1]
    assert storage.study(line).study == line
    assert "no 'x' in the trash" in run("remove", "x", code=2)[1]
    storage.delete_study(line)
    assert run("empty")[1].strip() == "Gone for good: 1."
    done = leatline("trash", "list", "--data", str(tmp_path / "none"), cwd=tmp_path)
    assert "no data folder" in clean(done, 2)
    assert not (tmp_path / "none").exists()
