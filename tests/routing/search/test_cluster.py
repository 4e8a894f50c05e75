"""The screening on a real Dask scheduler with two workers, one of which dies on the way."""

from __future__ import annotations

import os
import pickle
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_valley import CELL_M, told, valley
from waiting import until

from routing.arrays import frozen
from routing.errors import InputError
from routing.search.valley import screen as screening
from routing.search.valley import screen_valley
from routing.search.valley.batch import Batch
from routing.search.valley.chain import Rated
from routing.search.valley.cluster import packed
from routing.search.valley.places import Chains
from routing.search.valley.wire import batches_in, pack_of, rated_in, reply_of

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
    assert max(map(len, packs)) <= 32
    # Whoever takes a pack leaves at least as much to each of the others.
    left = count
    for pack in packs:
        assert len(pack) <= max(left / workers / 2, 1)
        left -= len(pack)


@given(
    lengths=st.lists(st.lists(st.integers(1, 9), min_size=1, max_size=4), min_size=1, max_size=5),
    far=st.sampled_from([1, 200, 70_000]),
    seed=st.integers(0, 10**6),
)
def test_pack__comes_out_as_it_went_in(lengths, far, seed):
    """Batches of chains, whose cells are neighbours or lie far apart, to the last bit."""
    draw = np.random.default_rng(seed)
    batches = []
    for number, cells in enumerate(lengths):
        size = sum(cells)
        chains = Chains(
            first=frozen(np.cumsum([0, *cells]), np.int64),
            row=frozen(np.cumsum(draw.integers(-far, far + 1, size)), np.int64),
            col=frozen(np.cumsum(draw.integers(-far, far + 1, size)), np.int64),
            along_m=frozen(draw.uniform(0.0, 1e4, size)),
            stop=frozen(draw.integers(0, 2, size), np.int64),
            area_m2=frozen(draw.uniform(0.0, 1e8, len(cells))),
        )
        flow = draw.uniform(0.0, 1.0, len(cells))
        batches.append(Batch(number=3 * number + 1, chains=chains, flow_m3_s=flow))
    out = list(batches_in(pickle.loads(pickle.dumps(pack_of(batches)))))
    assert [each.number for each in out] == [each.number for each in batches]
    for one, other in zip(out, batches, strict=True):
        np.testing.assert_array_equal(one.flow_m3_s, other.flow_m3_s)
        for name in ("first", "row", "col", "along_m", "stop", "area_m2"):
            found, held = getattr(one.chains, name), getattr(other.chains, name)
            assert found.dtype == held.dtype
            np.testing.assert_array_equal(found, held)


def test_reply__comes_out_as_it_went_in():
    draw = np.random.default_rng(4)
    found = []
    for number, size in ((7, 5), (2, 0), (9, 1)):
        whole = (draw.integers(0, 10**6, size) for _ in range(4))
        found.append((number, Rated(*whole, *(draw.standard_normal(size) for _ in range(5)))))
    out = list(rated_in(pickle.loads(pickle.dumps(reply_of(found)))))
    assert [number for number, _ in out] == [7, 2, 9]
    for (_, one), (_, other) in zip(out, found, strict=True):
        for name in Rated._fields:
            assert getattr(one, name).dtype == getattr(other, name).dtype
            np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
