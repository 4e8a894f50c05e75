"""Long work: so many jobs at a time, each with a time limit, each stoppable.

A worker thread begins the job's work at its place (:mod:`api.job_places`), listens to it and ends
it when its time is up. What crosses between the two are paths, plain values and errors. Whoever has
the fewest jobs under way is next, of several the one whose last turn is longest ago; a person who
signed in has half of all places at most. So one who asks for many leaves room for others.
"""

from __future__ import annotations

import logging
import secrets
import threading
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from math import inf
from time import monotonic
from typing import Any, Literal

from api.access.person import Person, acting, acts
from api.errors import Busy, NotFound, problem_of
from api.job_places import MAKING_READY, OnCluster, OwnProcess, Place, Told
from api.settings import ServiceSettings
from routing.errors import LeatlineError
from routing.value import dataclass

__all__ = ["Finish", "Job", "JobState", "Jobs", "Report"]

JobState = Literal["waiting", "running", "done", "failed", "stopped"]
Report = Callable[[float, str], None]
"""Tells how far the work is, from 0 to 1, and what it is doing."""

Finish = Callable[[Any], dict[str, Any]]
"""Makes a job's result of what its process sent back."""
log = logging.getLogger("leatline")

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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Order:
    """What a job does, for whom, and what becomes of what comes back."""

    person: Person
    function: Callable[..., Any]
    arguments: tuple[Any, ...]
    finish: Finish | None


class Jobs:
    """All jobs of one running service."""

    def __init__(
        self, workers: int, waiting: int, seconds: float, place: Place | None = None
    ) -> None:
        self._room = workers + waiting
        self._room_each = max(1, self._room // 2)
        self._seconds = seconds
        self._place = place or OwnProcess()
        self._threads = ThreadPoolExecutor(workers, thread_name_prefix="leatline-job")
        self._lock = threading.Lock()
        self._jobs: dict[str, Job] = {}
        self._orders: dict[str, _Order] = {}
        self._last_turn: dict[str, float] = {}
        self._stopping: set[str] = set()
        self._finishing: set[str] = set()
        self._closed = False

    @classmethod
    def of(cls, settings: ServiceSettings) -> Jobs:
        """Return jobs as the settings have them."""
        place = OnCluster(settings.scheduler) if settings.scheduler else None
        return cls(settings.workers, settings.max_waiting_jobs, settings.job_seconds, place)

    def start(
        self,
        function: Callable[..., dict[str, Any]],
        *arguments: Any,
        finish: Finish | None = None,
    ) -> Job:
        """Queue ``function(*arguments, report)``; it must be importable and its values pickle.

        ``finish`` makes the result of what comes back, in this process. From then on the job cannot
        be stopped: what was stopped has saved nothing.
        """
        job = Job(id=secrets.token_hex(8))
        work = _Order(person=acting(), function=function, arguments=arguments, finish=finish)
        with self._lock:
            self._check_room(work.person.name)
            finished = [job for job in self._jobs if job not in self._orders]
            for old in finished[: max(0, len(finished) - FINISHED_KEPT)]:
                del self._jobs[old]
            self._jobs[job.id], self._orders[job.id] = job, work
        self._threads.submit(self._attend_next)
        return job

    def _check_room(self, name: str) -> None:
        """Refuse one more job where as many are alive, of all or of one person, as may be."""
        alive = [job for job in self._orders if not self._jobs[job].finished]
        own = sum(self._whose(job) == name for job in alive) if name else 0
        full = own >= self._room_each
        those = f"{own} jobs of {name}" if full else f"{len(alive)} jobs"
        if self._closed or full or len(alive) >= self._room:
            raise Busy(
                f"{those} are running or waiting, as many as are allowed.",
                "Try again when one has finished.",
            )

    @property
    def alive(self) -> int:
        """How many jobs run or wait."""
        with self._lock:
            return sum(not known.finished for known in self._jobs.values())

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
        with self._lock:
            job = self._jobs.get(identity)
            if job is not None and not job.finished and identity not in self._finishing:
                if job.state == "waiting":
                    del self._orders[identity]
                else:
                    self._stopping.add(identity)
                self._jobs[identity] = replace(job, state="stopped", doing="stopped on request")
        return self.get(identity)

    def close(self) -> None:
        """End all jobs and take no more."""
        with self._lock:
            self._closed = True
            self._stopping.update(job.id for job in self._jobs.values() if not job.finished)
        self._threads.shutdown(wait=True, cancel_futures=True)
        self._place.close()

    def _update(self, identity: str, **changes: Any) -> Job:
        with self._lock:
            job = self._jobs[identity]
            if not job.finished:
                job = self._jobs[identity] = replace(job, **changes)
            return job

    def _attend_next(self) -> None:
        """Attend to the job whose turn it is."""
        with self._lock:
            states = {job: self._jobs[job].state for job in self._orders}
            busy = Counter(self._whose(job) for job in states if states[job] == "running")
            waiting = [job for job in states if states[job] == "waiting"]
            if self._closed or not waiting:  # one was stopped before its turn
                return
            last = self._last_turn
            whose = min(map(self._whose, waiting), key=lambda who: (busy[who], last.get(who, 0.0)))
            identity = next(job for job in waiting if self._whose(job) == whose)
            last[whose] = monotonic()
            self._jobs[identity] = replace(self._jobs[identity], state="running", doing="starting")
            work = self._orders[identity]
        try:
            self._attend(identity, work)
        finally:
            with self._lock:
                del self._orders[identity]

    def _whose(self, identity: str) -> str:
        return self._orders[identity].person.name

    def _attend(self, identity: str, work: _Order) -> None:
        with (
            self._failures_told(identity, "a job was under way", self._stopping),
            self._place.begin(work.person, work.function, work.arguments) as told,
        ):
            self._listen(identity, told, work)

    def _listen(self, identity: str, told: Told, work: _Order) -> None:
        deadline = monotonic() + self._seconds
        while identity not in self._stopping:
            if monotonic() > deadline:
                self._fail(identity, 504, "time_limit", f"It took over {self._seconds:g} seconds.")
                return
            try:
                said = told(0.05)
            except EOFError:
                self._fail(identity, 500, "fault", "A fault of ours ended the work.")
                return
            if said is None:
                continue
            kind, value = said
            if kind == "progress":
                if self._jobs[identity].doing == MAKING_READY:
                    deadline = monotonic() + self._seconds
                elif value[1] == MAKING_READY:
                    deadline = inf
                self._update(identity, progress=value[0], doing=value[1])
            elif kind == "done":
                self._finish(identity, value, work)
                return
            else:
                self._update(identity, state="failed", doing="failed", problem=value)
                return

    def _finish(self, identity: str, value: Any, work: _Order) -> None:
        """Make the result of what came back, unless the job was stopped before."""
        with self._lock:
            if identity in self._stopping:
                return
            self._finishing.add(identity)
        with self._failures_told(identity, "finishing a job", self._finishing):
            with acts(work.person):
                result = value if work.finish is None else work.finish(value)
            self._update(identity, state="done", progress=1.0, doing="done", result=result)

    @contextmanager
    def _failures_told(self, identity: str, what: str, marked: set[str]) -> Iterator[None]:
        """Let a job say why it failed, and take it out of those ``marked`` at the end."""
        try:
            yield
        except LeatlineError as exc:
            self._update(identity, state="failed", doing="failed", problem=problem_of(exc))
        except Exception as exc:
            log.error("fault while %s", what, exc_info=exc)
            self._fail(identity, 500, "fault", "A fault of ours ended the work.")
        finally:
            marked.discard(identity)

    def _fail(self, identity: str, status: int, code: str, detail: str) -> None:
        hint = "Use a shorter line or a coarser raster, or have the operator raise the time limit."
        if status == 500:
            hint = "Try again; if it stays, report it with what you sent."
        problem = {"status": status, "code": code, "detail": detail, "hint": hint}
        self._update(identity, state="failed", doing="failed", problem=problem)
