"""Killed five hundred times: what was answered is there, what was not is whole or not at all."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sqlite3
import time
import zipfile
from collections.abc import Callable
from contextlib import closing, suppress
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from sample_study import sample_document

from api.backup import back_up, restore
from api.errors import NotFound, TerrainInUse
from api.settings import ServiceSettings
from api.storage import Storage

pytestmark = pytest.mark.slow
ROUNDS = int(os.environ.get("LEATLINE_TEST_KILLS", "500"))
PHOTO = "data:image/jpeg;base64,/9j/4GEgaGlsbA=="
State = dict[str, Any]
"""Of each thing what was last answered: a study's tag, ``deleted``, ``gone``; notes by study."""


def encode(identity: str, revision: int) -> bytes:
    return json.dumps({"id": identity, "revision": revision, "kept": "x" * 20_000}).encode()


class Worker:
    """One act after the other on a data folder; each is told before it begins and when done."""

    def __init__(self, folder: Path, state: State, seed: int, pipe: int) -> None:
        self.storage = Storage(ServiceSettings(data=folder))
        self.state, self.chance, self.pipe = state, random.Random(seed), pipe

    def tell(self, *words: str | None) -> None:
        os.write(self.pipe, json.dumps(words).encode() + b"\n")

    def one_in(self, kind: str, *states: str) -> str | None:
        known = [name for name, at in self.state[kind].items() if at in states or not states]
        return self.chance.choice(known) if known else None

    def done(self, kind: str, name: str, at: Any) -> None:
        self.state[kind][name] = at
        self.tell("done", kind, name, at)

    def act(self) -> None:
        acts = (self.add, self.change, self.note, self.delete, self.bring_back, self.remove)
        act = self.chance.choices(acts, (5, 4, 5, 3, 2, 1))[0]
        with suppress(NotFound, TerrainInUse):
            act()

    def add(self) -> None:
        self.tell("begin", None)
        with self.storage.incoming_folder() as folder:
            (folder / "elevation.tif").write_bytes(os.urandom(50_000))
            terrain = self.storage.add_terrain(folder, "hill", {}).id
        saved = self.storage.add_study("line", (terrain,), encode)
        self.done("studies", saved.study, saved.etag)

    def alive(self) -> str | None:
        known = [k for k, at in self.state["studies"].items() if at not in ("deleted", "gone")]
        return self.chance.choice(known) if known else None

    def change(self) -> None:
        study = self.alive()
        if study is not None:
            self.tell("begin", study)
            terrain = self.storage.studies()[0].terrains
            saved = self.storage.replace_study(study, "*", "line", terrain, encode)
            self.done("studies", study, saved.etag)

    def note(self) -> None:
        study = self.alive()
        if study is not None:
            note = {
                "kind": "photo", "of": None, "station_m": 1.0, "note": str(time.time_ns()),
                "photo": PHOTO, "device": "d", "time": "2026-01-01T10:00:00Z",
            }  # fmt: skip
            self.tell("begin", study)
            self.storage.records.take(study, [note], sample_document())
            self.done("notes", study, self.state["notes"].get(study, 0) + 1)

    def delete(self) -> None:
        study = self.alive()
        if study is not None:
            self.tell("begin", study)
            self.storage.delete_study(study)
            self.done("studies", study, "deleted")

    def bring_back(self) -> None:
        study = self.one_in("studies", "deleted")
        if study is not None:
            self.tell("begin", study)
            self.storage.trash.restore(study)
            self.done("studies", study, self.storage.study(study).etag)

    def remove(self) -> None:
        study = self.one_in("studies", "deleted")
        if study is not None:
            self.tell("begin", study)
            self.storage.trash.remove(study)
            self.done("studies", study, "gone")


def killed(work: Callable[[int], None], seconds: float) -> list[list[Any]]:
    """Let a child work and kill it after a while; return what it told."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            work(writing)
        finally:
            os._exit(0)
    os.close(writing)
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    with os.fdopen(reading, "rb") as told:
        lines = told.read().split(b"\n")
    return [json.loads(line) for line in lines if line.endswith(b"]")]


def learn(state: State, told: list[list[Any]]) -> str | None:
    """Take in what was done; return the study that the last act was about, where it was cut off."""
    for words in told:
        if words[0] == "done":
            state[words[1]][words[2]] = words[3]
    if told and told[-1][0] == "begin":
        study: str | None = told[-1][1]
        return study
    return None


def check(folder: Path, state: State, open_act: str | None) -> None:
    """Hold the folder against all that was answered; then take what was open as it is."""
    with closing(sqlite3.connect(folder / "leatline.sqlite3")) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    storage = Storage(ServiceSettings(data=folder))
    there = {row.id: row.etag for row in storage.studies()}
    trash = {row.id for row in storage.trash.rows()}
    for study, at in state["studies"].items():
        now = there.get(study, "deleted" if study in trash else "gone")
        if study != open_act:
            assert now == at, study
        state["studies"][study] = now
    for study, etag in there.items():
        saved = storage.study(study)
        assert saved.etag == etag == f'"{sha256(saved.document).hexdigest()[:32]}"'
        for terrain in next(row.terrains for row in storage.studies() if row.id == study):
            assert storage.terrain_path(terrain).stat().st_size == 50_000
        records = storage.records.records(study)
        known = state["notes"].get(study, 0)
        assert len(records) >= known if study == open_act else len(records) == known
        state["notes"][study] = len(records)
        for record in records:
            name = record["photo"].removeprefix("photos/")
            assert storage.records.photo(study, name).read_bytes().endswith(b"a hill")
    for study in set(there) - set(state["studies"]):  # its answer was cut off
        state["studies"][study] = there[study]


def test_kills__among_writes_backups_and_restores(tmp_path: Path) -> None:
    chance = random.Random(11)
    data, file, new = tmp_path / "data", tmp_path / "all.zip", tmp_path / "new"
    state: State = {"studies": {}, "notes": {}}
    counts = {"writes": 0, "backups": 0, "restores": 0, "acts answered": 0}

    def write(pipe: int) -> None:
        worker = Worker(data, json.loads(json.dumps(state)), chance.randrange(2**30), pipe)
        while True:
            worker.act()

    sample_document()  # once, before any child is made
    Storage(ServiceSettings(data=data))
    back_up(data, file)
    for number in range(ROUNDS):
        kind = ("writes", "writes", "backups", "writes", "restores")[number % 5]
        counts[kind] += 1
        if kind == "writes":
            told = killed(write, chance.uniform(0.01, 0.6))
            counts["acts answered"] += sum(words[0] == "done" for words in told)
            check(data, state, learn(state, told))
        elif kind == "backups":
            killed(lambda _: back_up(data, file) and None, chance.uniform(0.0, 0.3))
        else:
            shutil.rmtree(new, ignore_errors=True)
            killed(lambda _: restore(file, new) and None, chance.uniform(0.0, 0.3))
            if new.exists():
                Storage(ServiceSettings(data=new)).studies()
        with zipfile.ZipFile(file) as archive:
            assert archive.testzip() is None
    shutil.rmtree(new, ignore_errors=True)
    back_up(data, file)
    restore(file, new)
    check(new, state, None)
    assert ROUNDS < 100 or sum(state["notes"].values()) > 0
    print(counts, f"{len(state['studies'])} studies, {sum(state['notes'].values())} notes")
