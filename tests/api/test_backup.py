"""A backup is of one moment, and whole or not there, whatever kills it."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
import time
import zipfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import Serve, upload
from leatline_command import ROOT, clean, leatline

from api import backup
from api.backup import DATABASE, back_up, restore
from routing.errors import InputError, StudyFileError


@pytest.fixture(scope="module")
def data(
    tmp_path_factory: pytest.TempPathFactory, serve: Serve, hill: Path, line: dict[str, Any]
) -> Path:
    folder = tmp_path_factory.mktemp("backup") / "data"
    with serve(folder) as client:
        body = {"terrain": upload(client, hill).json()["id"], "route": line}
        study = client.post("/api/studies", json=body).json()["id"]
    photos = folder / "photos" / study
    photos.mkdir(parents=True)
    (photos / "one.jpg").write_bytes(b"a picture")
    return folder


def left(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def rewritten(file: Path, place: Path, change: Any) -> Path:
    """Copy a backup with its members changed."""
    with zipfile.ZipFile(file) as source, zipfile.ZipFile(place, "w") as out:
        members = {name: source.read(name) for name in source.namelist()}
        change(members)
        for name, content in members.items():
            out.writestr(name, content)
    return place


def test_backup__and_restore_give_the_same(data: Path, tmp_path: Path, serve: Serve) -> None:
    file = tmp_path / "all.zip"
    held = back_up(data, file)
    assert (held["studies"], held["terrains"]) == (1, 1)
    assert left(tmp_path) == {"all.zip"}
    assert left(data / "incoming") == set()
    assert restore(file, tmp_path / "new") == held
    photo = next((tmp_path / "new" / "photos").rglob("*.jpg"))
    assert photo.read_bytes() == b"a picture"
    with serve(data) as before, serve(tmp_path / "new") as after:
        for path in ("/api/studies", "/api/terrains"):
            assert after.get(path).json() == before.get(path).json()
        study = after.get("/api/studies").json()[0]["id"]
        assert after.get(f"/api/studies/{study}/map").status_code == 200
    # what anybody can read, without this program (the zip format and SQLite's own check)
    with zipfile.ZipFile(file) as archive:
        assert archive.testzip() is None
        assert not [name for name in archive.namelist() if "reduced" in name]


def test_backup__takes_what_the_log_still_holds(data: Path, tmp_path: Path) -> None:
    # SQLite, "Write-Ahead Logging": the newest pages lie in the -wal file until a checkpoint.
    shutil.copytree(data, tmp_path / "live")
    live = sqlite3.connect(tmp_path / "live" / DATABASE, isolation_level=None)
    live.execute("PRAGMA wal_autocheckpoint = 0")
    live.execute("UPDATE studies SET name = 'newest'")
    back_up(tmp_path / "live", tmp_path / "all.zip")
    shutil.copyfile(tmp_path / "live" / DATABASE, tmp_path / "alone.sqlite3")
    live.close()
    restore(tmp_path / "all.zip", tmp_path / "new")
    name = "SELECT name FROM studies"
    assert sqlite3.connect(tmp_path / "new" / DATABASE).execute(name).fetchone() == ("newest",)
    assert sqlite3.connect(tmp_path / "alone.sqlite3").execute(name).fetchone() != ("newest",)


@pytest.mark.parametrize("fault", ["cut", "byte", "missing", "more", "outside", "list", "text"])
def test_restore__damaged_backup_leaves_nothing(data: Path, tmp_path: Path, fault: str) -> None:
    good, bad = tmp_path / "good.zip", tmp_path / "bad.zip"
    back_up(data, good)
    content = good.read_bytes()
    if fault == "cut":
        bad.write_bytes(content[: len(content) // 2])
    elif fault == "text":
        bad.write_text("no zip")
    elif fault == "byte":
        rewritten(good, bad, lambda m: m.update({DATABASE: m[DATABASE][:-1] + b"x"}))
    elif fault == "missing":
        rewritten(good, bad, lambda m: m.pop(next(name for name in m if "terrains/" in name)))
    elif fault == "more":
        rewritten(good, bad, lambda m: m.update({"terrains/x/y.tif": b""}))
    elif fault == "list":
        rewritten(good, bad, lambda m: m.update({"manifest.json": b"[]"}))
    else:

        def lead_out(members: dict[str, bytes]) -> None:
            listed = json.loads(members["manifest.json"])
            listed["files"]["terrains/../../out"] = {"bytes": 0, "sha256": ""}
            members["terrains/../../out"] = b""
            members["manifest.json"] = json.dumps(listed).encode()

        rewritten(good, bad, lead_out)
    with pytest.raises(StudyFileError, match=r"bad\.zip"):
        restore(bad, tmp_path / "new")
    assert left(tmp_path) == {"good.zip", "bad.zip"}


def test_command__says_what_stands_in_the_way(data: Path, tmp_path: Path) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine").write_text("mine")
    said = clean(leatline("backup", "all.zip", "--data", data, cwd=tmp_path), 0)
    assert "1 study" in said
    taken = leatline("restore", "all.zip", "--data", "full", cwd=tmp_path)
    assert "full" in clean(taken, 2)
    assert "no.zip" in clean(leatline("restore", "no.zip", "--data", "a/b/d", cwd=tmp_path), 2)
    assert "a folder" in clean(leatline("restore", "full", "--data", "a/b/d", cwd=tmp_path), 2)
    (tmp_path / "full" / "text.zip").write_text("no archive")
    odd = leatline("restore", "full/text.zip", "--data", "a/b/d", cwd=tmp_path)
    assert "no whole backup" in clean(odd, 2)
    assert not (tmp_path / "a").exists()
    assert "empty" in clean(leatline("backup", "b.zip", "--data", "empty", cwd=tmp_path), 2)
    clean(leatline("restore", "all.zip", "--data", "d/new", cwd=tmp_path), 0)
    assert left(tmp_path) == {"full", "all.zip", "d"}
    with pytest.raises(InputError, match="not empty"):
        restore(tmp_path / "all.zip", tmp_path / "d" / "new")


@pytest.fixture
def busy(serve: Serve, tmp_path: Path, hill: Path, line: dict[str, Any]) -> Iterator[Path]:
    """A data folder whose service keeps writing: studies and terrains come and go."""
    stop = threading.Event()
    with serve(tmp_path / "data") as client:
        kept = upload(client, hill).json()["id"]
        client.post("/api/studies", json={"terrain": kept, "route": line})

        def write() -> None:
            with httpx.Client(base_url=client.base_url, timeout=300) as own:
                while not stop.is_set():
                    terrain = upload(own, hill).json()["id"]
                    body = {"terrain": [terrain], "route": line}
                    made = own.post("/api/studies", json=body)
                    own.delete(f"/api/studies/{made.json()['id']}")
                    own.delete(f"/api/terrains/{terrain}")

        thread = threading.Thread(target=write)
        thread.start()
        yield tmp_path / "data"
        stop.set()
        thread.join()


def killed(arguments: list[str | Path], cwd: Path, seconds: float) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "api.cli", *map(str, arguments)],
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stderr=subprocess.DEVNULL,
    )
    time.sleep(seconds)
    process.send_signal(signal.SIGKILL)
    process.wait()


def test_backup__of_a_busy_folder_fits_itself(busy: Path, tmp_path: Path) -> None:
    for number in range(4):
        back_up(busy, tmp_path / "all.zip")  # restore checks keys, terrains and the database
        assert restore(tmp_path / "all.zip", tmp_path / f"new{number}")["studies"] >= 1


def test_backup__killed_at_any_moment(data: Path, tmp_path: Path) -> None:
    file, chance = tmp_path / "all.zip", random.Random(7)
    back_up(data, file)
    before = file.read_bytes()
    for _ in range(4):
        killed(["backup", file, "--data", data], tmp_path, chance.uniform(0.15, 0.9))
        with zipfile.ZipFile(file) as archive:
            assert archive.testzip() is None
        shutil.rmtree(tmp_path / "new", ignore_errors=True)
        killed(["restore", file, "--data", "new"], tmp_path, chance.uniform(0.15, 0.9))
        if (tmp_path / "new").exists():  # then all of it is there
            assert sqlite3.connect(tmp_path / "new" / DATABASE).execute(
                "PRAGMA integrity_check"
            ).fetchone() == ("ok",)
            assert next((tmp_path / "new" / "photos").rglob("*.jpg")).read_bytes() == b"a picture"
    assert len(before) > 0
    old = time.time() - 7200
    for draft in tmp_path.glob(".*-draft-*"):
        os.utime(draft, (old, old))
    back_up(data, file)
    assert not list(tmp_path.glob(".all.zip-draft-*"))


@pytest.mark.parametrize("fault", ["bomb", "list of names", "no name"])
def test_restore__hostile_backup_is_refused_before_it_is_unpacked(
    data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: str
) -> None:
    good, bad = tmp_path / "good.zip", tmp_path / "bad.zip"
    back_up(data, good)

    def change(members: dict[str, bytes]) -> None:
        about = json.loads(members.pop("manifest.json"))
        listed = about["files"]
        if fault == "list of names":
            about["files"] = list(listed)
        elif fault == "bomb":
            name = next(name for name in listed if "terrains/" in name)
            members[name] = bytes(50_000_000)
            about["files"] = {name: listed.pop(name), **listed}
        else:
            listed["."] = {"bytes": 0, "sha256": ""}
            members["."] = b""
        members["manifest.json"] = json.dumps(about).encode()

    copied = backup._copied

    def watched(source: Any, place: Any) -> Any:
        done = copied(source, place)
        assert done["bytes"] < 50_000_000, "unpacked before it was refused"
        return done

    rewritten(good, bad, change)
    monkeypatch.setattr(backup, "_copied", watched)
    with pytest.raises(StudyFileError, match=r"bad\.zip"):
        restore(bad, tmp_path / "new")
    assert left(tmp_path) == {"good.zip", "bad.zip"}


def test_restore__ids_that_lead_out_of_the_folder_are_refused(data: Path, tmp_path: Path) -> None:
    # An id is the name of a folder, which the trash removes with all that is in it.
    live = tmp_path / "live"
    shutil.copytree(data, live)
    with closing(sqlite3.connect(live / DATABASE, isolation_level=None)) as connection:
        for table, column in (
            ("studies", "id"),
            ("revisions", "study"),
            ("study_terrains", "study"),
        ):
            connection.execute(f"UPDATE {table} SET {column} = '../terrains'")
    back_up(live, tmp_path / "all.zip")
    with pytest.raises(StudyFileError, match="does not fit"):
        restore(tmp_path / "all.zip", tmp_path / "new")
    assert left(tmp_path) == {"live", "all.zip"}
