"""Long work: one process per job, so many at a time, each with a time limit, each stoppable.

A worker thread starts the job's process (spawned, so that no raster handle or lock is inherited),
listens to it and ends it when its time is up. What crosses between the two are paths, plain
values and errors.
"""

from __future__ import annotations

import multiprocessing
import secrets
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection
from time import monotonic
from typing import Any, Literal

from api.access.person import Person, acting, acts
from api.errors import Busy, NotFound, problem_of
from routing.errors import LeatlineError

__all__ = ["Job", "JobState", "Jobs", "Report"]

JobState = Literal["waiting", "running", "done", "failed", "stopped"]
Report = Callable[[float, str], None]
"""Tells how far the work is, from 0 to 1, and what it is doing."""

FINISHED_KEPT = 200
"""Finished jobs that can still be asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What is known of one job at one moment."""

    id: str
    state: JobState = "waiting"
    progress: float = 0.0
    doing: str = "waiting for its turn"
    result: dict[str, Any] | None = None
    problem: dict[str, Any] | None = None

    @property
    def finished(self) -> bool:
        """Whether nothing more will change."""
        return self.state in ("done", "failed", "stopped")


def _work(
    pipe: Connection, person: Person, function: Callable[..., Any], arguments: tuple[Any, ...]
) -> None:
    """Run in the job's own process: do the work and send what comes of it."""

    def report(progress: float, doing: str) -> None:
        pipe.send(("progress", (progress, doing)))

    try:
        with acts(person):
            pipe.send(("done", function(*arguments, report)))
    except LeatlineError as exc:
        pipe.send(("problem", problem_of(exc)))
    finally:
        pipe.close()


class Jobs:
    """All jobs of one running service."""

    def __init__(self, workers: int, waiting: int, seconds: float) -> None:
        self._room = workers + waiting
        self._seconds = seconds
        self._threads = ThreadPoolExecutor(workers, thread_name_prefix="leatline-job")
        self._spawn = multiprocessing.get_context("spawn")
        self._lock = threading.Lock()
        self._jobs: dict[str, Job] = {}
        self._stopping: set[str] = set()
        self._closed = False

    def start(self, function: Callable[..., dict[str, Any]], *arguments: Any) -> Job:
        """Queue ``function(*arguments, report)``; it must be importable and its values pickle."""
        job = Job(id=secrets.token_hex(8))
        with self._lock:
            alive = sum(not known.finished for known in self._jobs.values())
            if self._closed or alive >= self._room:
                raise Busy(
                    f"{alive} jobs are running or waiting, as many as may.",
                    "Try again when one has finished.",
                )
            finished = [known.id for known in self._jobs.values() if known.finished]
            for old in finished[: max(0, len(finished) - FINISHED_KEPT)]:
                del self._jobs[old]
            self._jobs[job.id] = job
        self._threads.submit(self._attend, job.id, acting(), function, arguments)
        return job

    def get(self, identity: str) -> Job:
        """Return the present state of a job."""
        with self._lock:
            job = self._jobs.get(identity)
        if job is None:
            raise NotFound(
                f"There is no job {identity!r}.",
                "Jobs are forgotten when the service stops; start the work again.",
            )
        return job

    def stop(self, identity: str) -> Job:
        """End a job that has not finished; its process is gone soon after."""
        job = self.get(identity)
        if not job.finished:
            with self._lock:
                self._stopping.add(identity)
            job = self._update(identity, state="stopped", doing="stopped on request")
        return job

    def close(self) -> None:
        """End all jobs and take no more."""
        with self._lock:
            self._closed = True
            self._stopping.update(job.id for job in self._jobs.values() if not job.finished)
        self._threads.shutdown(wait=True, cancel_futures=True)

    def _update(self, identity: str, **changes: Any) -> Job:
        with self._lock:
            job = self._jobs[identity]
            if not job.finished:
                job = self._jobs[identity] = replace(job, **changes)
            return job

    def _attend(
        self,
        identity: str,
        person: Person,
        function: Callable[..., Any],
        arguments: tuple[Any, ...],
    ) -> None:
        if identity in self._stopping:
            return
        self._update(identity, state="running", doing="starting")
        ours, theirs = self._spawn.Pipe(duplex=False)
        work = (theirs, person, function, arguments)
        process = self._spawn.Process(target=_work, args=work, daemon=True)
        process.start()
        theirs.close()
        try:
            self._listen(identity, ours)
        finally:
            process.kill()
            process.join()
            ours.close()
            self._stopping.discard(identity)

    def _listen(self, identity: str, pipe: Connection) -> None:
        deadline = monotonic() + self._seconds
        while identity not in self._stopping:
            if monotonic() > deadline:
                self._fail(identity, 504, "time_limit", f"It took over {self._seconds:g} seconds.")
                return
            if not pipe.poll(0.05):
                continue
            try:
                kind, value = pipe.recv()
            except EOFError:
                self._fail(identity, 500, "fault", "A fault of ours ended the work.")
                return
            if kind == "progress":
                self._update(identity, progress=value[0], doing=value[1])
            elif kind == "done":
                self._update(identity, state="done", progress=1.0, doing="done", result=value)
                return
            else:
                self._update(identity, state="failed", doing="failed", problem=value)
                return

    def _fail(self, identity: str, status: int, code: str, detail: str) -> None:
        hint = "Use a shorter line or a coarser raster, or have the operator raise the time limit."
        if status == 500:
            hint = "Try again; if it stays, report it with what you sent."
        problem = {"status": status, "code": code, "detail": detail, "hint": hint}
        self._update(identity, state="failed", doing="failed", problem=problem)
