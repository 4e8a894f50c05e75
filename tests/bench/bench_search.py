"""The search against csgraph on the same graph, proposals on a small site, the screening's rate.

Times are of the processor, so that other work on the machine does not count, but for rows that say
"by the clock": these want a quiet machine of two cores. With ``short`` each is done once and
without job and cluster; with ``large`` a raster of 4000 x 4000 too. Flow directions and areas
against pyflwdir stand in ``bench_catchment.py``.
"""

from __future__ import annotations

import json
import math
import multiprocessing
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from affine import Affine
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra
from timing import best, both_times, spent

import sample_dem
from routing.compiled import prefer_compiled
from routing.search import propose
from routing.search.cheapest import least_cost, least_to_go
from routing.search.graph import MOVES, Field, Terms, field_of, graph_of, moves_on
from routing.search.valley import screen as screening
from routing.search.valley.batch import Task, run_batch
from routing.search.valley.cluster import on_cluster
from routing.settings import read_settings, settings_from_mapping
from routing.study import open_study_terrain
from routing.terrain import open_terrain

ENDS = (-16.0696748, 47.2980052), (-16.055734, 47.2947241)
"""Intake and powerhouse on the sample [deg]."""
REPEATS = 1 if "short" in sys.argv else 3
"""Times that work is done for the least time of it [-]."""
EDGE, LARGE_EDGE = 240, 1000
"""Cells a side of the ground on which csgraph gets the whole graph of states."""
LARGE = 4000
"""Cells a side of the raster that is searched with ``large``."""


def hill(n: int, seed: int = 1) -> np.ndarray:
    """Return a hillside, made row by row, so that making it takes little memory [m]."""
    draw = np.random.default_rng(seed)
    x = np.arange(n)
    found = np.empty((n, n), dtype=np.float32)
    for y in range(n):
        smooth = 8.0 * np.sin(x / 37.0) * np.cos(y / 53.0) + 3.0 * np.sin(x / 9.0 + y / 13.0)
        found[y] = 600.0 - 0.5 * x + smooth + 0.1 * draw.standard_normal(n)
    return found


def most_mb() -> float:
    """Return the most memory that this process had so far [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e6


def terms() -> Terms:
    return Terms(
        intake_m=640.0, depth_m=0.9, trench=0.7, bench=0.6, bench_from=0.2, cut=2.0,
        steep_from=0.35, steep_factor=1.5, vent=4.0, drain=3.0, slack_m=0.3, span=4.0,
        longest_m=0.0,
    )  # fmt: skip


def field(heights: np.ndarray) -> Field:
    shape = heights.shape
    return field_of(
        heights=heights,
        shut=np.zeros(shape, np.uint8),
        extra=np.zeros(shape, np.float32),
        strain=np.ones(shape, np.float32),
        by_head=0.3 + 0.004 * np.arange(900.0),
    )


def state_graph(held: Field, told: Terms, steps) -> csr_matrix:
    """Return every move from every state, priced in arrays; turns and summits included."""
    z = held.heights.astype(np.float64)
    rows, cols = z.shape
    south, east = steps.length_m[4], steps.length_m[0]
    by_row = np.gradient(z, axis=0) / south
    by_col = np.gradient(z, axis=1) / east
    row, col = np.mgrid[0:rows, 0:cols]
    one, other, price = [], [], []
    for h, (down, right) in enumerate(MOVES):
        r, c = row + down, col + right
        held_in = (r >= 0) & (r < rows) & (c >= 0) & (c < cols)
        a, b = row[held_in], col[held_in]
        r, c = r[held_in], c[held_in]
        rise, flat = z[r, c] - z[a, b], steps.length_m[h]
        side = np.abs(by_row[a, b] * right * east - by_col[a, b] * down * south) / flat
        ditch = told.trench * np.where(np.abs(rise) > told.steep_from * flat, told.steep_factor, 1)
        ditch = ditch + np.where(
            side > told.bench_from, told.bench * side / (1.0 - side / told.cut), 0.0
        )
        head = told.intake_m - 0.5 * (z[r, c] + z[a, b]) + told.depth_m
        pipe = held.by_head[np.clip(head.astype(int), 0, held.by_head.size - 1)]
        step = np.hypot(flat, rise) * pipe + flat * ditch
        for before in range(16):
            if not math.isfinite(steps.turn[before, h]):
                continue
            i, j = a - MOVES[before][0], b - MOVES[before][1]
            known = (i >= 0) & (i < rows) & (j >= 0) & (j < cols)
            was = z[a[known], b[known]] - z[i[known], j[known]]
            now = rise[known]
            turn = np.where(
                (was <= 0) & (now > 0), told.drain * np.minimum(1, now / told.slack_m), 0.0
            ) + np.where((was > 0) & (now <= 0), told.vent * np.minimum(1, was / told.slack_m), 0.0)
            one.append(((a[known] * cols + b[known]) * 16 + before).astype(np.int32))
            other.append(((r[known] * cols + c[known]) * 16 + h).astype(np.int32))
            price.append(step[known] + turn + steps.turn[before, h])
    joined = []
    for parts in (price, one, other):  # each is let go as soon as it is one array
        joined.append(np.concatenate(parts))
        parts.clear()
    size = rows * cols * 16
    return csr_matrix((joined[0], (joined[1], joined[2])), shape=(size, size))


def moves() -> Any:
    return moves_on(5.0, 5.0, lambda a: math.inf if a > 91.0 else 0.5 * min(1.0, a / 45.0))


def across(n: int) -> tuple[int, int]:
    """Return the cells from which and to which ground is searched from side to side."""
    return n // 2 * n + 2, n // 2 * n + n - 3


def sought(held: Field, told: Terms, steps: Any) -> Any:
    """Return the way across some ground, from its heights."""
    n = held.heights.shape[1]
    start, end = across(n)
    to, graph = np.array([end]), graph_of(held, told, steps)
    return least_cost(graph, n, least_to_go(graph, n, to, start), start, to)


def against_csgraph(n: int = EDGE) -> None:
    held, told, steps = field(hill(n)), terms(), moves()
    start, end = across(n)
    sought(field(hill(50)), told, steps)  # kernels are loaded
    before = most_mb()
    found = sought(held, told, steps)
    needed = most_mb() - before
    graph = state_graph(held, told, steps)
    starts = [start * 16 + h for h in range(16)]
    cost = math.inf

    def theirs():
        nonlocal cost
        reached = dijkstra(graph, indices=starts, min_only=True)
        cost = reached[end * 16 : end * 16 + 16].min()

    slow, quick = spent(theirs, 1), spent(lambda: sought(held, told, steps), 3)
    again = spent(lambda: state_graph(held, told, steps), 1) if n == EDGE else math.nan
    made = "" if math.isnan(again) else (
        f", and {again * 1e3:.0f} ms for its graph, 1/{(slow + again) / quick:.0f}"
    )  # fmt: skip
    print(
        f"search of {n} x {n} cells, 16 headings, {graph.nnz / 1e6:.1f} million moves: "
        f"{quick * 1e3:.0f} ms from the raster to the line, {needed:.0f} MB; csgraph "
        f"{slow * 1e3:.0f} ms for the search alone, 1/{slow / quick:.1f}{made}; costs "
        f"{found.cost:.1f} and {cost:.1f}; the most memory {most_mb():.0f} MB"
    )


def large_graph() -> None:
    """Search every cell and heading of a large raster, as no proposal has to."""
    held = field(hill(LARGE))._replace(strain=np.ones((1, 1), dtype=np.float32))
    begun = time.process_time()
    found = sought(held, terms(), moves())
    print(
        f"search of {LARGE} x {LARGE} cells, 16 headings: {time.process_time() - begun:.1f} s, "
        f"{found.cells.size} cells long, {found.opened} states opened; the most memory of the "
        f"process {most_mb():.0f} MB, raster and libraries in it"
    )


def large_raster(folder: Path, n: int = LARGE) -> Path:
    """Write a large raster, block row by block row."""
    path, heights = folder / "large.tif", hill(n) + np.float32(1600.0)
    with rasterio.open(
        path, "w", driver="GTiff", width=n, height=n, count=1, dtype="float32", crs="EPSG:32633",
        transform=Affine(5.0, 0.0, 500_000.0, 0.0, -5.0, 5_200_000.0), tiled=True,
    ) as out:  # fmt: skip
        out.write(heights, 1)
    return path


def large_proposals(path: Path) -> None:
    terrain = open_terrain([path])
    lon, lat = terrain.reference.to_lonlat(np.array([2000.0, 2100.0]), np.array([200.0, 3800.0]))
    ends = [(float(lon[k]), float(lat[k])) for k in (0, 1)]
    before = most_mb()
    settings = settings_from_mapping({"search": {"reach": 1.0}})
    begun = time.process_time()
    found = propose(terrain, *ends, settings, tries=0)
    rows, cols = terrain.shape
    print(
        f"{len(found.lines)} lines of {found.lines[0].study.profile.station_m[-1] / 1000:.1f} km "
        f"on {rows} x {cols} cells: {time.process_time() - begun:.1f} s; the most memory of the "
        f"process {most_mb():.0f} MB, {before:.0f} MB before the search"
    )


def alone(work: Callable[..., None], *told: Any) -> None:
    """Do some work in a process of its own, so that what it needs is not another's."""
    process = multiprocessing.get_context("spawn").Process(target=_ready, args=(work, told))
    process.start()
    process.join()


def _ready(work: Callable[..., None], told: tuple[Any, ...]) -> None:
    prefer_compiled()
    work(*told)


def large() -> None:
    alone(against_csgraph, LARGE_EDGE)
    alone(large_graph)
    with tempfile.TemporaryDirectory() as folder:
        path = large_raster(Path(folder))
        alone(large_proposals, path)


def proposals() -> None:
    sample = sample_dem.sample_paths()
    given = dict(read_settings(sample.settings).given)
    settings = settings_from_mapping({**given, "search": {"alternatives": 5}})
    terrain = open_study_terrain([sample.terrain], settings)
    found = propose(terrain, *ENDS, settings)
    took = spent(lambda: propose(terrain, *ENDS, settings), REPEATS)
    print(f"{len(found.lines)} studied lines on the sample: {took:.2f} s of one core")


def from_click_to_lines() -> None:
    """Time the job that the page starts, in a process that has got ready, by the clock."""
    from api.job_places import OwnProcess
    from api.jobs import Jobs
    from api.search_job import TerrainRequest, run_search

    sample = sample_dem.sample_paths()
    given = dict(read_settings(sample.settings).given)
    asked = TerrainRequest(
        settings={**given, "search": {"alternatives": 5}},
        names=("sample",),
        paths=(Path(sample.terrain),),
    )
    place = OwnProcess()
    pool = Jobs(workers=1, waiting=1, seconds=600.0, place=place)
    took = []
    for again in range(3):
        while again and not any(each.pipe.poll() for each in place._ready.values()):
            time.sleep(0.1)
        begun = time.perf_counter()
        job = pool.start(run_search, asked, *ENDS)
        while not (job := pool.get(job.id)).finished:
            time.sleep(0.01)
        took.append(time.perf_counter() - begun)
    pool.close()
    count = len((job.result or {})["alternatives"])
    print(
        f"from click to {count} studied lines in the service (by the clock): {took[0]:.2f} s the "
        f"first time, then {min(took[1:]):.2f} s"
    )


def screened() -> tuple[Task, list[Any]]:
    """Return what a screening of the sample asks of its workers, and all batches."""
    sample = sample_dem.sample_paths()
    tables = {
        "catchment": {"threshold": "0.02 km2", "specific_yield": "30 L/s/km2"},
        "screen": {"spacing": "5 m", "least_head": "5 m", "sample": 0, "top": 0},
    }
    kept = []

    def keep(task, batches, *_):
        kept.extend(batches)
        return {batch.number: run_batch(task, batch) for batch in batches}

    usual, screening._all = screening._all, keep
    screening.screen_valley([sample.terrain], settings_from_mapping(tables))
    screening._all = usual
    return Task(paths=(str(sample.terrain),), tables=json.dumps(tables)), kept


def screening_rate() -> None:
    task, kept = screened()
    pairs = sum(batch.chains.candidates for batch in kept)
    took = spent(lambda: [run_batch(task, batch) for batch in kept], 3)
    print(f"screening: {pairs} pairs, {pairs / took:.0f} a second and core")
    one = best(lambda: list(screening._locally(task, kept, 1)), REPEATS)
    two = best(lambda: list(screening._locally(task, kept, 2)), REPEATS)
    print(f"two cores: {one / two:.2f} x (by the clock)")


def cluster_overhead() -> None:
    """Compare two workers of a Dask cluster on this machine with two threads.

    What scheduler, workers and their keepers use up while they wait is said apart: it goes by the
    clock, and counts the more the busier the machine is.
    """
    from distributed import LocalCluster

    task, kept = screened()
    for times in (1, 4):
        batches = kept * times
        pairs = sum(batch.chains.candidates for batch in batches)
        with LocalCluster(
            n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None
        ) as cluster:
            address = cluster.scheduler_address

            def there(address: str = address, batches: list[Any] = batches) -> None:
                list(on_cluster(address, task, batches))

            def here(batches: list[Any] = batches) -> None:
                list(screening._locally(task, batches, 2))

            there()  # kernels are loaded, the terrain is open
            idle = both_times(lambda: time.sleep(2.0))
            fixed = both_times(lambda: list(on_cluster(address, task, kept[:2])))  # noqa: B023
            # One after the other, so that what else the machine does meets both alike.
            runs = [(both_times(there), both_times(here)) for _ in range(REPEATS)]
        clock = min(there[0] / here[0] for there, here in runs)
        processor = min(there[1] / here[1] for there, here in runs)
        apart = min((there[1] - there[0] * idle[1] / idle[0]) / here[1] for there, here in runs)
        print(
            f"Dask: {len(batches)} batches of {pairs // len(batches)} pairs, "
            f"{runs[0][1][1]:.1f} s of processor in threads here; in two workers "
            f"{100.0 * (clock - 1.0):.0f} % more by the clock, {100.0 * (processor - 1.0):.0f} % "
            f"by the processor time of all processes, {100.0 * (apart - 1.0):.0f} % without the "
            f"{1000.0 * idle[1] / idle[0]:.0f} ms a second of a cluster that waits; two batches "
            f"take {fixed[0]:.2f} s"
        )


def main() -> None:
    prefer_compiled()
    against_csgraph()
    proposals()
    screening_rate()
    if "large" in sys.argv:
        large()
    if "short" in sys.argv:
        return
    from_click_to_lines()
    cluster_overhead()


if __name__ == "__main__":
    main()
