"""Where the work of a job is done: in a process of its own here, or on a Dask cluster.

Either way the work is a function that can be imported, with values that pickle, and what comes
back is a series of pairs: ``progress``, then ``done`` or ``problem``. The end of the block ends it.
"""

from __future__ import annotations

import multiprocessing
import os
import secrets
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from multiprocessing.connection import Connection
from queue import Empty, SimpleQueue
from time import monotonic
from typing import Any, Protocol

from api.access.person import Person, acts
from api.errors import problem_of
from routing.abreast import WAITS
from routing.errors import LeatlineError

__all__ = ["OnCluster", "OwnProcess", "Place", "Told", "end_with_parent"]

Told = Callable[[float], tuple[str, Any] | None]
"""Waits so many seconds for what the work says next; EOFError where it died."""
LOOK_SECONDS = 1.0
"""How often work on a cluster looks whether it should stop, at most [s]."""


class Place(Protocol):
    """Somewhere to work."""

    def begin(
        self, person: Person, function: Callable[..., Any], arguments: tuple[Any, ...]
    ) -> AbstractContextManager[Told]:
        """Let ``function(*arguments, report)`` be done for a person while the block lasts."""


def _said(
    person: Person,
    function: Callable[..., Any],
    arguments: tuple[Any, ...],
    report: Callable[[float, str], None],
) -> tuple[str, Any]:
    """Do the work; return what is said at its end."""
    try:
        with acts(person):
            return "done", function(*arguments, report)
    except LeatlineError as exc:
        return "problem", problem_of(exc)


class OwnProcess:
    """A process for each job, spawned, so that no raster handle or lock is inherited."""

    def __init__(self) -> None:
        self._spawn = multiprocessing.get_context("spawn")

    @contextmanager
    def begin(
        self, person: Person, function: Callable[..., Any], arguments: tuple[Any, ...]
    ) -> Iterator[Told]:
        """Work in a new process, which is killed at the end of the block."""
        ours, theirs = self._spawn.Pipe(duplex=False)
        asked = (theirs, person, function, arguments)
        process = self._spawn.Process(target=_work, args=asked, daemon=True)
        process.start()
        theirs.close()
        try:
            yield lambda seconds: ours.recv() if ours.poll(seconds) else None
        finally:
            process.kill()
            process.join()
            ours.close()


def _work(
    pipe: Connection, person: Person, function: Callable[..., Any], arguments: tuple[Any, ...]
) -> None:
    """Run in the job's own process: do the work and send what comes of it."""
    threading.Thread(target=end_with_parent, name=WAITS, daemon=True).start()

    def report(share: float, doing: str) -> None:
        pipe.send(("progress", (share, doing)))

    try:
        pipe.send(_said(person, function, arguments, report))
    finally:
        pipe.close()


def end_with_parent() -> None:
    """End this process when the service that asked for it is gone, however it went."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


class OnCluster:
    """The workers of a Dask cluster, which see the data folder at the same path as the service."""

    def __init__(self, address: str) -> None:
        self._address = address
        self._lock = threading.Lock()
        self._client: Any = None

    def connect(self) -> Any:
        """Return the one connection; refuse a cluster that cannot be used."""
        from routing.search.valley.cluster import connected

        with self._lock:
            if self._client is None or self._client.status != "running":
                self._client = connected(self._address)
            return self._client

    @contextmanager
    def begin(
        self, person: Person, function: Callable[..., Any], arguments: tuple[Any, ...]
    ) -> Iterator[Told]:
        """Work on the cluster; at the end of the block the work is told to stop and forgotten."""
        from distributed import Event

        client, name = self.connect(), f"leatline-{secrets.token_hex(8)}"
        told: SimpleQueue[tuple[str, Any]] = SimpleQueue()
        client.subscribe_topic(name, lambda event: told.put(("progress", event[1])))
        future = client.submit(_work_there, name, person, function, arguments, key=name)
        future.add_done_callback(lambda _: told.put(("end", None)))

        def next_one(seconds: float) -> tuple[str, Any] | None:
            try:
                kind, value = told.get(timeout=seconds)
            except Empty:
                return None
            if kind != "end":
                return kind, value
            if future.status != "finished":
                raise EOFError
            said: tuple[str, Any] = future.result()
            return said

        try:
            yield next_one
        finally:
            with suppress(OSError, RuntimeError):  # the cluster has gone itself
                if not future.done():
                    Event(name, client=client).set()
                client.unsubscribe_topic(name)
                future.cancel()


class _Stopped(Exception):
    """Nobody waits for the work any more."""


def _work_there(
    name: str, person: Person, function: Callable[..., Any], arguments: tuple[Any, ...]
) -> tuple[str, Any]:
    """Run on a worker of the cluster: do the work, tell how far it is, stop when told so."""
    from distributed import Event, get_worker

    worker, stop, looked = get_worker(), Event(name), monotonic()

    def report(share: float, doing: str) -> None:
        nonlocal looked
        worker.log_event(name, (share, doing))
        if monotonic() - looked > LOOK_SECONDS:
            looked = monotonic()
            if stop.is_set():
                stop.clear()  # so that the scheduler forgets it
                raise _Stopped

    return _said(person, function, arguments, report)
