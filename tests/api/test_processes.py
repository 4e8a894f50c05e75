"""Several processes behind one socket: jobs and counts are one; whichever dies is started anew."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import psutil
import pytest
from api_service import is_problem, upload
from leatline_command import ROOT
from waiting import PATIENCE_SECONDS, answers, until

from api.access.store import AccessFile
from api.jobs import Jobs
from api.processes import LEAST_SECONDS, Desk, SharedJobs, served
from api.watch import Counts

Body = dict[str, Any]
SUPPORT = str(ROOT / "tests" / "support")


class Running:
    """The command, serving in two processes."""

    def __init__(self, folder: Path) -> None:
        access = AccessFile(folder / "access", make=True)
        self.token = access.add("Ann", "planner")
        command = "serve --port 0 --data data --access access --access-log log"
        self.log = (folder / "said").open("w+b")
        self.process = subprocess.Popen(
            [sys.executable, "-m", "api.cli", *command.split()],
            cwd=folder,
            env={**os.environ, "PYTHONPATH": str(ROOT), "LEATLINE_PROCESSES": "2"},
            stderr=self.log,
        )
        self.base = self._place()
        self.parent = psutil.Process(self.process.pid)

    def _place(self) -> str:
        def told() -> re.Match[bytes] | None:
            self.log.seek(0)
            found = re.search(rb"at (http://\S+)/ ", self.log.read())
            assert found or self.process.poll() is None
            return found

        found = until(told, "the address")
        assert found is not None
        base = found[1].decode()
        until(lambda: answers(base), "the service to answer")
        return base

    def client(self) -> httpx.Client:
        """A client on a connection of its own, which one of the processes takes up."""
        bearer = {"authorization": f"Bearer {self.token}"}
        return httpx.Client(base_url=self.base, headers=bearer, timeout=300)

    def serving(self) -> list[psutil.Process]:
        """The processes that hold the listening socket besides the first."""
        port = httpx.URL(self.base).port
        return [
            child
            for child in self.parent.children(recursive=True)
            if any(c.laddr.port == port for c in child.net_connections("tcp"))
        ]


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    running = Running(tmp_path_factory.mktemp("two"))
    yield running  # the last test of the module ends it
    running.process.kill()
    running.log.close()


def test_processes__share_studies_jobs_and_sessions(two: Running, hill: Path, line: Body) -> None:
    until(lambda: len(two.serving()) == 2, "two processes")
    with two.client() as one:
        body = {"terrain": upload(one, hill).json()["id"], "route": line}
        asked = one.post("/api/studies", json=body, headers={"prefer": "respond-async"})
        assert asked.status_code == 202

    def seen() -> bool:  # a new connection each time, so that either process is asked
        with two.client() as other:
            job = other.get(asked.headers["location"]).json()
            assert job["state"] in ("waiting", "running", "done"), job
            return bool(job["state"] == "done")

    until(seen, "the job to be done")
    for _ in range(8):
        with two.client() as other:
            job = other.get(asked.headers["location"]).json()
            study = other.get(f"/api/studies/{job['result']['id']}")
            assert study.status_code == 200
            assert other.delete(asked.headers["location"]).json()["state"] == "done"
            is_problem(other.get(f"/api/jobs/{'0' * 16}"), 404, "not_found")
    (row,) = one_row(two, f"/api/studies/{study.json()['id']}/revisions")
    assert row["who"] == "Ann"


def one_row(two: Running, path: str) -> list[Body]:
    with two.client() as client:
        rows: list[Body] = client.get(path).json()
    return rows


def test_processes__counts_are_of_all(two: Running) -> None:
    def counted() -> int:
        with two.client() as client:
            text = client.get("/metrics").text
        found = re.search(r'operation="/api/problems",status="200"} (\d+)', text)
        return int(found[1]) if found else 0

    before = counted()
    for _ in range(20):
        with two.client() as client:
            client.get("/api/problems")
    until(lambda: counted() == before + 20, "20 more")  # whichever process is asked, now and later
    assert {counted() for _ in range(6)} == {before + 20}


def test_processes__whichever_is_killed_comes_back(two: Running) -> None:
    until(lambda: len(two.serving()) == 2, "two processes")
    dead = two.serving()[0]
    until(  # else it did not start well
        lambda: time.time() - dead.create_time() > LEAST_SECONDS, f"{LEAST_SECONDS} s"
    )
    dead.kill()
    until(lambda: dead.pid not in {each.pid for each in two.serving()}, f"{dead} to end")
    with two.client() as client:  # the other one answers meanwhile
        assert client.get("/api/health").status_code == 200
    until(lambda: len(two.serving()) == 2, "two processes")


def test_processes__none_outlives_the_first(two: Running) -> None:
    all_of_them = two.parent.children(recursive=True)
    assert len(all_of_them) >= 2
    os.kill(two.process.pid, signal.SIGKILL)
    two.process.wait()
    _, alive = psutil.wait_procs(all_of_them, timeout=PATIENCE_SECONDS)
    assert not alive


def test_desk__jobs_are_those_of_another_process(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.syspath_prepend(SUPPORT)
    import job_work

    pool = Jobs(workers=1, waiting=0, seconds=30.0)
    shared = SharedJobs(served(Desk(pool)).desk())
    job = shared.start(job_work.sleep, str(tmp_path / "pid"))
    assert shared.alive == 1
    shared.close()  # leaves the job alone
    assert not pool.get(job.id).finished
    assert shared.stop(job.id).state == pool.get(job.id).state == "stopped"
    pool.close()


def test_counts__of_all_are_their_sum() -> None:
    counts = [Counts(), Counts()]
    for number, each in enumerate(counts):
        each.add("GET", "/a", 200, "other", 0.02 * (number + 1))
    counts[0].add("GET", "/b", 404, "tile", 5.0)
    whole = Counts.of_all(counts)
    assert whole.requests == {("GET", "/a", 200): 2, ("GET", "/b", 404): 1}
    assert whole.classes["other"][0.03] == 1
    assert whole.classes["other"][float("inf")] == 2
    assert whole.seconds == {"other": pytest.approx(0.06), "tile": 5.0}
