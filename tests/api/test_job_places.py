"""Jobs on a Dask cluster: a real scheduler and a worker, in this process to be quick."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from waiting import until, written

from api.access.person import Person, acts
from api.job_places import OnCluster
from api.jobs import Job, Jobs
from api.settings import ServiceSettings
from routing.errors import InputError

pytestmark = pytest.mark.filterwarnings("default")
SUPPORT = Path(__file__).parents[1] / "support"


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=1, threads_per_worker=2, processes=False, dashboard_address=None,
        protocol="tcp://", host="127.0.0.1",
    ) as cluster:  # fmt: skip
        yield cluster.scheduler_address


@pytest.fixture
def work(monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.syspath_prepend(str(SUPPORT))
    import job_work

    return job_work


@pytest.fixture
def jobs(address: str, tmp_path: Path) -> Iterator[Jobs]:
    pool = Jobs.of(ServiceSettings(data=tmp_path, scheduler=address, job_seconds=30.0))
    yield pool
    pool.close()


def until_finished(jobs: Jobs, job: Job) -> tuple[Job, set[str]]:
    doing = set()

    def finished() -> bool:
        now = jobs.get(job.id)
        doing.add(now.doing)
        return now.finished

    until(finished, "the job to end", pause_s=0.01)
    return jobs.get(job.id), doing


def who(report: Any) -> dict[str, Any]:
    from api.access.person import acting

    return {"who": acting().name}


def test_cluster__does_the_work_and_tells_how_far_it_is(
    jobs: Jobs, work: Any, tmp_path: Path
) -> None:
    def finish(value: dict[str, Any]) -> dict[str, Any]:
        return {**value, "saved": True}

    done, doing = until_finished(jobs, jobs.start(work.count, str(tmp_path / "pid"), finish=finish))
    assert (done.state, done.progress) == ("done", 1.0)
    assert done.result is not None
    assert done.result["saved"]
    assert {"step 1", "step 2", "step 3"} & doing


def test_cluster__works_for_whoever_asked(jobs: Jobs) -> None:
    with acts(Person(name="Ann", role="planner")):
        job = jobs.start(who)
    assert until_finished(jobs, job)[0].result == {"who": "Ann"}


def test_cluster__error_of_the_input_becomes_a_problem(jobs: Jobs, work: Any) -> None:
    problem = until_finished(jobs, jobs.start(work.refuse))[0].problem
    assert problem is not None
    assert (problem["code"], problem["station_m"]) == ("outside_terrain", 12.5)


def test_cluster__fault_is_told_as_one(jobs: Jobs) -> None:
    problem = until_finished(jobs, jobs.start(who, "one value too many"))[0].problem
    assert problem is not None
    assert problem["code"] == "fault"


def test_cluster__stopped_work_ends_and_saves_nothing(
    jobs: Jobs, work: Any, tmp_path: Path
) -> None:
    saved: list[Any] = []
    job = jobs.start(work.until_told_to_stop, str(tmp_path / "pid"), finish=saved.append)
    written(tmp_path / "pid")
    assert jobs.stop(job.id).state == "stopped"
    assert written(tmp_path / "pid.ended") == "told to stop"
    assert saved == []


def test_cluster__that_is_away_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("routing.search.valley.cluster.CONNECT", "1s")
    nowhere = "tcp://127.0.0.1:9"
    with pytest.raises(InputError, match="No Dask scheduler answers"):
        OnCluster(nowhere).connect()
    pool = Jobs.of(ServiceSettings(data=tmp_path, scheduler=nowhere))
    problem = until_finished(pool, pool.start(who))[0].problem
    pool.close()
    assert problem is not None
    assert "No Dask scheduler answers" in problem["detail"]
