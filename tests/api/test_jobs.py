from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import nullcontext
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from waiting import gone, until, written

from api.access.person import Person, acting, acts
from api.errors import Busy, NotFound
from api.job_places import MAKING_READY, _said
from api.jobs import Job, Jobs

SUPPORT = Path(__file__).parents[1] / "support"


@pytest.fixture
def work(monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.syspath_prepend(str(SUPPORT))
    import job_work

    return job_work


@pytest.fixture
def jobs() -> Iterator[Jobs]:
    pool = Jobs(workers=1, waiting=1, seconds=30.0)
    yield pool
    pool.close()


def until_finished(jobs: Jobs, job: Job) -> Job:
    until(lambda: jobs.get(job.id).finished, "the job to end")
    return jobs.get(job.id)


def until_written(path: Path) -> int:
    return int(written(path))


def test_start__runs_in_a_process_of_its_own(jobs: Jobs, work: Any, tmp_path: Path) -> None:
    job = jobs.start(work.count, str(tmp_path / "pid"))
    assert job.state == "waiting"
    done = until_finished(jobs, job)
    assert (done.state, done.progress) == ("done", 1.0)
    assert done.result is not None
    assert done.result["pid"] != os.getpid()


def test_start__error_of_the_input_becomes_a_problem(jobs: Jobs, work: Any) -> None:
    done = until_finished(jobs, jobs.start(work.refuse))
    assert done.state == "failed"
    assert done.problem is not None
    assert (done.problem["code"], done.problem["status"]) == ("outside_terrain", 422)
    assert done.problem["station_m"] == 12.5


def test_start__process_that_dies_is_a_fault(jobs: Jobs, work: Any) -> None:
    done = until_finished(jobs, jobs.start(work.crash))
    assert done.problem is not None
    assert done.problem["code"] == "fault"


def test_start__time_limit_ends_the_process(work: Any, tmp_path: Path) -> None:
    mark = tmp_path / "pid"
    for seconds in (2.0, 10.0, 50.0):  # a busy machine may take longer to start a process
        jobs = Jobs(workers=1, waiting=0, seconds=seconds)
        done = until_finished(jobs, jobs.start(work.sleep, str(mark)))
        assert done.problem is not None
        assert done.problem["code"] == "time_limit"
        jobs.close()
        if mark.exists():
            break
    gone(int(mark.read_text()))


def test_stop__ends_the_process_and_frees_the_place(jobs: Jobs, work: Any, tmp_path: Path) -> None:
    sleeping = jobs.start(work.sleep, str(tmp_path / "pid"))
    waiting = jobs.start(work.count, str(tmp_path / "other"))
    with pytest.raises(Busy):
        jobs.start(work.refuse)
    pid = until_written(tmp_path / "pid")
    assert jobs.stop(sleeping.id).state == "stopped"
    gone(pid)
    assert until_finished(jobs, waiting).state == "done"
    assert jobs.stop(waiting.id).state == "done"


def test_close__leaves_no_process(work: Any, tmp_path: Path) -> None:
    jobs = Jobs(workers=1, waiting=0, seconds=60.0)
    job = jobs.start(work.sleep, str(tmp_path / "pid"))
    pid = until_written(tmp_path / "pid")
    jobs.close()
    gone(pid)
    with pytest.raises(Busy):
        jobs.start(work.sleep, str(tmp_path / "pid"))
    assert jobs.get(job.id).id == job.id


def test_get__unknown_job(jobs: Jobs) -> None:
    with pytest.raises(NotFound, match="no job"):
        jobs.get("0" * 16)


def test_stop__of_a_job_that_has_not_saved_saves_nothing(
    jobs: Jobs, work: Any, tmp_path: Path
) -> None:
    saved: list[Any] = []
    job = jobs.start(work.sleep, str(tmp_path / "pid"), finish=lambda value: saved.append(value))
    until_written(tmp_path / "pid")
    assert jobs.stop(job.id).state == "stopped"
    jobs.close()
    assert saved == []


def test_stop__of_a_job_that_is_saving_comes_too_late(
    jobs: Jobs, work: Any, tmp_path: Path
) -> None:
    saving, go_on = threading.Event(), threading.Event()

    def finish(value: dict[str, Any]) -> dict[str, Any]:
        saving.set()
        assert go_on.wait(30)
        return {**value, "saved": True}

    job = jobs.start(work.count, str(tmp_path / "pid"), finish=finish)
    assert saving.wait(30)
    assert jobs.stop(job.id).state == "running"
    go_on.set()
    done = until_finished(jobs, job)
    assert done.state == "done"
    assert done.result is not None
    assert done.result["saved"]


def test_finish__that_is_refused_is_the_jobs_problem(jobs: Jobs, work: Any, tmp_path: Path) -> None:
    def finish(value: dict[str, Any]) -> dict[str, Any]:
        raise NotFound("The terrain is gone.", "Bring it again.")

    done = until_finished(jobs, jobs.start(work.count, str(tmp_path / "pid"), finish=finish))
    assert done.problem is not None
    assert done.problem["code"] == "not_found"


def test_start__no_job_outlives_a_service_that_is_killed(tmp_path: Path) -> None:
    script = (
        "import os, signal, sys, time, pathlib\n"
        "import job_work\n"
        "from api.jobs import Jobs\n"
        "if __name__ == '__main__':\n"
        "    place = pathlib.Path(sys.argv[1])\n"
        "    Jobs(workers=1, waiting=0, seconds=60.0).start(job_work.sleep, str(place))\n"
        "    while not place.exists() or not place.read_text():\n"
        "        time.sleep(0.05)\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    (tmp_path / "serve.py").write_text(script)
    paths = os.pathsep.join([str(SUPPORT), str(SUPPORT.parents[1])])
    subprocess.run(
        [sys.executable, "serve.py", "pid"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": paths},
        timeout=300,
        check=False,
    )
    gone(until_written(tmp_path / "pid"))


def test_start__the_second_finds_a_process_that_is_ready(
    work: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It got ready when the first had ended; the pool takes it along when it closes."""
    said = tmp_path / "ready"
    said.write_text("nobody")
    monkeypatch.setenv("JOB_WORK_READY", str(said))
    pool = Jobs(workers=1, waiting=1, seconds=30.0)
    try:
        first = until_finished(pool, pool.start(work.readily, "first")).result
        assert first is not None
        assert first["ready"] == "nobody"
        until(
            lambda: any(each.pipe.poll() for each in pool._place._ready.values()),
            "a process that is ready",
        )
        second = until_finished(pool, pool.start(work.readily, "second")).result
        assert second is not None
        assert str(second["pid"]) == second["ready"] != str(first["pid"])
    finally:
        pool.close()
    gone(second["pid"])


def test_start__one_who_asks_for_many_leaves_room_and_turns_for_others(
    work: Any, tmp_path: Path
) -> None:
    jobs = Jobs(workers=1, waiting=7, seconds=60.0)
    ann, ben = (Person(name=name, role="planner") for name in ("Ann", "Ben"))
    try:
        with acts(ann):
            own = [jobs.start(work.sleep, str(tmp_path / "first"))]
            until_written(tmp_path / "first")
            own += [jobs.start(work.count, str(tmp_path / f"{number}")) for number in range(3)]
            with pytest.raises(Busy, match="4 jobs of Ann"):
                jobs.start(work.refuse)
        with acts(ben):
            other = jobs.start(work.sleep, str(tmp_path / "ben"))
        jobs.stop(own[0].id)
        until_written(tmp_path / "ben")  # though three of Ann's came before
        assert [jobs.get(job.id).state for job in own[1:]] == ["waiting"] * 3
        jobs.stop(other.id)
        assert all(until_finished(jobs, job).state == "done" for job in own[1:])
    finally:
        jobs.close()


@pytest.mark.parametrize(("after_s", "state"), [(90.0, "done"), (110.0, "failed")])
def test_limit__counts_from_when_the_work_has_got_ready(
    after_s: float, state: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = [0.0]
    said: Iterator[tuple[float, tuple[str, Any] | None]] = iter(
        [
            (0.0, ("progress", (0.0, MAKING_READY))),
            (1000.0, ("progress", (0.0, "starting"))),
            (after_s, None),
            (0.0, ("done", {})),
        ]
    )

    def told(_seconds: float) -> tuple[str, Any] | None:
        passed, what = next(said)
        now[0] += passed
        return what

    place = SimpleNamespace(begin=lambda *_: nullcontext(told), close=lambda: None)
    monkeypatch.setattr("api.jobs.monotonic", lambda: now[0])
    jobs = Jobs(workers=1, waiting=1, seconds=100.0, place=place)
    try:
        assert until_finished(jobs, jobs.start(dict)).state == state
    finally:
        jobs.close()


def test_said__what_comes_first_is_told_and_done_before_the_work() -> None:
    steps: list[object] = []

    def work(report: Any) -> dict[str, Any]:
        steps.append("work")
        return {}

    work.first = lambda: steps.append("first")  # type: ignore[attr-defined]
    assert _said(acting(), work, (), lambda _, doing: steps.append(doing)) == ("done", {})
    assert steps == [MAKING_READY, "first", "starting", "work"]
