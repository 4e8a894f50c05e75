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

__all__ = ["MAKING_READY", "OnCluster", "OwnProcess", "Place", "Told", "end_with_parent"]

Told = Callable[[float], tuple[str, Any] | None]
"""Waits so many seconds for what the work says next; EOFError where it died."""
READY = "ready"
"""What a process says once it has got ready for work that it was not given yet."""
MAKING_READY = "making ready"
"""What work is doing while it loads or compiles; that time does not count against its limit."""
IDLE_SECONDS = 900.0
"""How long a process that has got ready waits to be asked [s]."""
LOOK_SECONDS = 1.0
"""How often work on a cluster looks whether it should stop, at most [s]."""


class Place(Protocol):
    """Somewhere to work."""

    def begin(
        self, person: Person, function: Callable[..., Any], arguments: tuple[Any, ...]
    ) -> AbstractContextManager[Told]:
        """Let ``function(*arguments, report)`` be done for a person while the block lasts."""

    def close(self) -> None:
        """Keep nothing ready any more."""


def _said(
    person: Person,
    function: Callable[..., Any],
    arguments: tuple[Any, ...],
    report: Callable[[float, str], None],
) -> tuple[str, Any]:
    """Do the work; return what is said at its end.

    What a function's member ``first`` does comes before, and before its time begins to count.
    """
    try:
        if (first := getattr(function, "first", None)) is not None:
            report(0.0, MAKING_READY)
            first()
            report(0.0, "starting")
        with acts(person):
            return "done", function(*arguments, report)
    except LeatlineError as exc:
        return "problem", problem_of(exc)


class OwnProcess:
    """A process for each job, spawned, so that no raster handle or lock is inherited.

    Work that takes long to get ready (a function with a member ``ready``) finds a process that has
    got ready once it was asked for before: the next one is prepared when a job has ended, and let
    go when nobody asks for long.
    """

    def __init__(self) -> None:
        self._spawn = multiprocessing.get_context("spawn")
        self._lock = threading.Lock()
        self._ready: dict[Callable[..., Any], _Worker] = {}
        self._closed = False

    @contextmanager
    def begin(
        self, person: Person, function: Callable[..., Any], arguments: tuple[Any, ...]
    ) -> Iterator[Told]:
        """Work in a process of its own, which is killed at the end of the block."""
        worker = self._taken(function) or _Worker(self._spawn)
        worker.pipe.send((person, function, arguments))
        try:
            yield lambda seconds: worker.pipe.recv() if worker.pipe.poll(seconds) else None
        finally:
            worker.end()
            self._prepare(function)

    def close(self) -> None:
        """End the processes that have got ready."""
        with self._lock:
            self._closed = True
            workers = list(self._ready.values())
            self._ready.clear()
        for worker in workers:
            worker.end()

    def _taken(self, function: Callable[..., Any]) -> _Worker | None:
        """Return a process that has got ready for some work; None if there is none yet."""
        with self._lock:
            worker = self._ready.get(function)
            said = None if worker is None else worker.said()
            if said is None:
                return None
            del self._ready[function]
        return worker if said == READY else None

    def _prepare(self, function: Callable[..., Any]) -> None:
        """Let a process get ready for some work, unless one does already."""
        ready = getattr(function, "ready", None)
        with self._lock:
            if ready is None or self._closed or function in self._ready:
                return
            worker = self._ready[function] = _Worker(self._spawn)
        worker.pipe.send(ready)
        patience = threading.Timer(IDLE_SECONDS, self._let_go, (function, worker))
        patience.daemon = True
        patience.start()

    def _let_go(self, function: Callable[..., Any], worker: _Worker) -> None:
        """End a process that got ready and was not asked."""
        with self._lock:
            if self._ready.get(function) is not worker:
                return
            del self._ready[function]
        worker.end()


class _Worker:
    """A process and the pipe to it."""

    def __init__(self, spawn: Any) -> None:
        self.pipe, theirs = spawn.Pipe()
        self._process = spawn.Process(target=_work, args=(theirs,), daemon=True)
        self._process.start()
        theirs.close()

    def said(self) -> str | None:
        """Return what it has said, empty where it has died; None as long as it works."""
        try:
            return str(self.pipe.recv()) if self.pipe.poll() else None
        except EOFError:
            return ""

    def end(self) -> None:
        """Kill it."""
        self._process.kill()
        self._process.join()
        self.pipe.close()


def _work(pipe: Connection) -> None:
    """Run in the job's own process: get ready if asked, do the work, send what comes of it."""
    threading.Thread(target=end_with_parent, name=WAITS, daemon=True).start()
    asked = pipe.recv()
    if callable(asked):
        asked()
        pipe.send(READY)
        asked = pipe.recv()
    person, function, arguments = asked

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

    def close(self) -> None:
        """Leave the cluster as it is: the connection ends with this process."""

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
