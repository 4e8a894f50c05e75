"""Several processes behind one socket: what they share, and who keeps them running.

The first process answers no requests. It starts the others, starts anew whichever dies, and holds
at a desk of its own what must be one for all: the jobs, and what each process has counted. Studies,
records, links, tokens and sessions are in the databases anyway; windows, tiles and turns are each
process's own.
"""

from __future__ import annotations

import multiprocessing
import os
import secrets
import signal
import socket
import threading
import time
from collections.abc import Callable
from multiprocessing.managers import BaseManager
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

from api.access.person import Person, acting, acts
from api.jobs import Finish, Job, Jobs
from api.settings import ServiceSettings
from api.watch import Counts
from routing.value import dataclass

__all__ = ["Desk", "DeskAddress", "SharedJobs", "run_processes"]

STALE_SECONDS = 10.0
"""How long what waits in a process counts after it was last told [s]."""
LOOK_SECONDS = 0.5
"""How often it is looked whether all processes run [s]."""
LEAST_SECONDS = 5.0
"""A process that ends sooner than this after its start does not start well [s]."""


class Desk:
    """What the processes of one service share; each asks it from a process of its own."""

    def __init__(self, jobs: Jobs | SharedJobs) -> None:
        self._jobs = jobs
        self._lock = threading.Lock()
        self._counts: dict[int, Counts] = {}
        self._waiting: dict[int, tuple[float, dict[str, int]]] = {}

    def start(
        self,
        person: Person,
        function: Callable[..., Any],
        arguments: tuple[Any, ...],
        finish: Finish | None,
    ) -> Job:
        """Queue work for a person."""
        with acts(person):
            return self._jobs.start(function, *arguments, finish=finish)

    def get(self, identity: str) -> Job:
        """Return the present state of a job."""
        return self._jobs.get(identity)

    def stop(self, identity: str) -> Job:
        """End a job."""
        return self._jobs.stop(identity)

    def alive(self) -> int:
        """Return how many jobs run or wait."""
        return self._jobs.alive

    def tell(self, process: int, counts: Counts, waiting: dict[str, int]) -> None:
        """Take what a process has counted since its start, and what waits in it now."""
        with self._lock:
            self._counts[process] = counts
            self._waiting[process] = (time.monotonic(), waiting)

    def told(self) -> tuple[Counts, dict[str, int]]:
        """Return what all processes have counted, those that ended too, and what waits."""
        with self._lock:
            waiting: dict[str, int] = {}
            for moment, lanes in self._waiting.values():
                if time.monotonic() - moment < STALE_SECONDS:
                    for lane, count in lanes.items():
                        waiting[lane] = waiting.get(lane, 0) + count
            return Counts.of_all(self._counts.values()), waiting


class _Manager(BaseManager):
    """Serves the desk to the other processes, through a socket that only this user reaches."""


_Manager.register("desk")


@dataclass(frozen=True, slots=True, kw_only=True)
class DeskAddress:
    """Where a process finds the desk."""

    place: Any
    key: bytes

    def desk(self) -> Desk:
        """Return the desk as another process sees it."""
        manager = _Manager(self.place, self.key)
        manager.connect()
        desk: Desk = manager.desk()  # type: ignore[attr-defined]
        return desk


def served(desk: Desk) -> DeskAddress:
    """Let other processes ask a desk of this one."""

    class Served(BaseManager):
        """A manager that hands out this very desk."""

    Served.register("desk", callable=lambda: desk, exposed=[
        "start", "get", "stop", "alive", "tell", "told",
    ])  # fmt: skip
    key = secrets.token_bytes(32)
    server = Served(None, key).get_server()
    threading.Thread(target=server.serve_forever, name="leatline-desk", daemon=True).start()
    return DeskAddress(place=server.address, key=key)


class SharedJobs:
    """The jobs of all processes, as routes use them."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def start(
        self, function: Callable[..., Any], *arguments: Any, finish: Finish | None = None
    ) -> Job:
        """Queue work; see :meth:`api.jobs.Jobs.start`. ``finish`` must pickle too."""
        return self._desk.start(acting(), function, arguments, finish)

    def get(self, identity: str) -> Job:
        """Return the present state of a job."""
        return self._desk.get(identity)

    def stop(self, identity: str) -> Job:
        """End a job that has not finished."""
        return self._desk.stop(identity)

    @property
    def alive(self) -> int:
        """How many jobs run or wait."""
        return self._desk.alive()

    def close(self) -> None:
        """Leave the jobs alone: they are not this process's."""


Serve = Callable[[socket.socket, ServiceSettings, Path | None, DeskAddress], None]
"""Serves at a socket until told to end; it must be importable."""


def run_processes(
    serve: Serve, listening: socket.socket, settings: ServiceSettings, access: Path | None
) -> None:
    """Keep ``settings.processes`` of them serving until a signal ends it."""
    jobs = Jobs.of(settings)
    address = served(Desk(jobs))
    spawn = multiprocessing.get_context("spawn")
    ending = threading.Event()

    def started() -> tuple[BaseProcess, float]:
        asked = (serve, listening, settings, access, address)
        process = spawn.Process(target=_serve, args=asked, name="leatline-serve")
        process.start()
        return process, time.monotonic()

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda *_: ending.set())
    running = [started() for _ in range(settings.processes)]
    try:
        while not ending.wait(LOOK_SECONDS):
            for place, (process, since) in enumerate(running):
                if process.is_alive():
                    continue
                if time.monotonic() - since < LEAST_SECONDS:
                    raise SystemExit(1)  # it has said why
                running[place] = started()
    finally:
        for process, _ in running:
            if process.is_alive():
                process.terminate()
        for process, _ in running:
            process.join()
        jobs.close()


def _serve(
    serve: Serve,
    listening: socket.socket,
    settings: ServiceSettings,
    access: Path | None,
    address: DeskAddress,
) -> None:
    """Run in a process of its own; it ends with the one that started it."""
    threading.Thread(target=_end_with_parent, daemon=True).start()
    serve(listening, settings, access, address)


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os.kill(os.getpid(), signal.SIGTERM)
