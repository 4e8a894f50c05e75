"""The screening on a real Dask scheduler with two workers, one of which dies on the way."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from made_valley import CELL_M, told, valley
from waiting import until

from routing.errors import InputError
from routing.search.valley import screen as screening
from routing.search.valley import screen_valley
from routing.search.valley.cluster import packed

ROOT = Path(__file__).parents[3]
QUIET = ["--no-dashboard"]


def started(log: Path, tool: str, *arguments: str) -> subprocess.Popen[bytes]:
    with log.open("wb") as stream:
        return subprocess.Popen(
            [sys.executable, "-W", "ignore", "-m", f"distributed.cli.{tool}", *arguments],
            stdout=stream,
            stderr=subprocess.STDOUT,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )


def until_said(log: Path, pattern: str) -> str:
    def said() -> re.Match[str] | None:
        return re.search(pattern, log.read_text("utf-8", "replace"))

    found = until(said, f"{pattern} in {log}")
    assert found is not None
    return found[1]


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """A scheduler and two workers without nannies: one that is killed stays dead."""
    log = tmp_path / "scheduler.log"
    running = [started(log, "dask_scheduler", "--port", "0", "--host", "127.0.0.1", *QUIET)]
    try:
        address = until_said(log, r"Scheduler at:\s+(tcp://127\.0\.0\.1:\d+)")
        for name in ("one", "two"):
            place = tmp_path / name
            running.append(
                started(
                    tmp_path / f"{name}.log", "dask_worker", address, "--no-nanny", *QUIET,
                    "--nthreads", "1", "--local-directory", str(place),
                )
            )  # fmt: skip
            until_said(tmp_path / f"{name}.log", r"(Registered to)")
        yield address, running[1:]
    finally:
        for process in reversed(running):
            process.kill()
            process.wait(10)


@pytest.mark.filterwarnings("default")
def test_screen__a_killed_worker_loses_nothing(make_raster, cluster, monkeypatch):
    address, workers = cluster
    raster = make_raster(valley(), cell=CELL_M)
    monkeypatch.setattr(screening, "BATCH", 10)
    alone = screen_valley([raster], told(screen={"sample": 0}))
    killed = []

    def watch(share: float, doing: str) -> None:
        if "of the pairs" in doing and not killed:
            workers[0].send_signal(signal.SIGKILL)
            killed.append(share)

    found = screen_valley([raster], told(screen={"sample": 0}), scheduler=address, report=watch)
    assert killed
    assert killed[0] < 0.69, "the worker died when all was done"
    workers[0].wait(10)
    assert workers[1].poll() is None
    for name in alone.rated._fields:
        np.testing.assert_array_equal(getattr(found.rated, name), getattr(alone.rated, name))
    assert found.best == alone.best


@pytest.mark.filterwarnings("default")
def test_screen__no_scheduler_is_told(make_raster, monkeypatch):
    monkeypatch.setattr("routing.search.valley.cluster.CONNECT", "1s")
    raster = make_raster(valley(), cell=CELL_M)
    with pytest.raises(InputError, match="No Dask scheduler answers"):
        screen_valley([raster], told(), scheduler="tcp://127.0.0.1:9")


@pytest.mark.parametrize(("count", "workers"), [(1, 2), (40, 2), (200, 2), (5000, 16)])
def test_packed__every_batch_once_and_no_worker_is_left_without(count, workers):
    batches = [SimpleNamespace(number=number) for number in range(count)]
    packs = packed(batches, workers)
    assert [batch.number for pack in packs for batch in pack] == list(range(count))
    assert max(map(len, packs)) <= 8
    # At the end a worker waits for an eighth of the work of one at the most.
    assert max(map(len, packs)) <= max(count / workers / 8, 1)
