"""Flow directions and catchment areas against pyflwdir, on rough ground of many depressions.

Run: python tests/bench/bench_catchment.py [side] [--memory side]

Both read the same heights from memory or file, find directions with depressions led out, and add up
the areas. The least processor time and the least time on the wall of several runs, after a first
one that compiles; the ratio of both is ours over theirs. With ``--memory`` the peak of a process
that follows the water of a raster of that side is told instead.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import rasterio
from affine import Affine

from routing.catchment import catchment_areas, drain, stream_network
from routing.terrain import open_terrain

CELL = 10.0
GOAL_RATIO, GOAL_BYTES, GOAL_SIDE = 1.0, 2 * 2**30, 20_000


def rough(side: int, seed: int = 1) -> np.ndarray:
    """Return ground whose waves grow with their length, as hill country: 1 % of its cells pits."""
    rng = np.random.default_rng(seed)
    waves = np.fft.rfft2(rng.normal(size=(side, side)).astype(np.float32))
    number = np.hypot(np.fft.fftfreq(side)[:, None], np.fft.rfftfreq(side)[None])
    number[0, 0] = 1.0
    ground = np.fft.irfft2(waves * number**-2.2, (side, side))
    return (1500.0 * (ground - ground.min()) / np.ptp(ground)).astype(np.float32)


def write(path: Path, side: int, tile: np.ndarray) -> Path:
    """Write a raster of any side from mirrored copies of a smaller ground, strip by strip."""
    step = tile.shape[0]
    place = Affine(CELL, 0.0, 300_000.0, 0.0, -CELL, 5_300_000.0)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=side,
        width=side,
        count=1,
        dtype="float32",
        crs="EPSG:32633",
        transform=place,
        tiled=True,
        blockxsize=512,
        blockysize=512,
    ) as out:
        pieces = [tile[:, ::-1] if k % 2 else tile for k in range(-(-side // step))]
        row = np.concatenate(pieces, axis=1)[:, :side]
        for k, top in enumerate(range(0, side, step)):
            part = (row[::-1] if k % 2 else row)[: side - top]
            window = rasterio.windows.Window(0, top, side, part.shape[0])
            out.write(part, 1, window=window)
    return path


def best(call: Callable[[], object], repeat: int) -> tuple[float, float]:
    """Return the least processor time and the least time of a call after a first one [s]."""
    call()
    work, wall = [], []
    for _ in range(repeat):
        begin, start = time.perf_counter(), time.process_time()
        call()
        work.append(time.process_time() - start)
        wall.append(time.perf_counter() - begin)
    return min(work), min(wall)


def race(side: int) -> None:
    """Print both times and their ratio."""
    import pyflwdir

    heights = rough(side)
    with tempfile.TemporaryDirectory() as folder:
        terrain = open_terrain([write(Path(folder) / "rough.tif", side, heights)])
        ours = best(lambda: catchment_areas(drain(terrain)), 3)

    def theirs_once() -> None:
        place = Affine(CELL, 0.0, 0.0, 0.0, -CELL, 0.0)
        found = pyflwdir.from_dem(heights, outlets="edge", transform=place)
        found.upstream_area("m2")

    theirs = best(theirs_once, 1)
    print(f"{side} x {side} cells: directions and areas")
    for name, (work, wall) in (("ours", ours), ("pyflwdir", theirs)):
        print(f"  {name:9} {work:7.2f} s of processor, {wall:7.2f} s")
    ratio = ours[1] / theirs[1]
    print(f"ratio {ratio:.3f} (goal {GOAL_RATIO:g} or less)")


def memory(side: int) -> None:
    """Print the peak of memory with directions and streams of a raster."""
    with tempfile.TemporaryDirectory() as folder:
        path = write(Path(folder) / "large.tif", side, rough(min(side, 2000)))
        begin = time.process_time()
        network = stream_network(drain(open_terrain([path])), 1e6)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    print(
        f"{side} x {side} cells: {peak / 2**30:.2f} GiB at most (goal {GOAL_BYTES / 2**30:g} at "
        f"{GOAL_SIDE}), {time.process_time() - begin:.0f} s of processor, "
        f"{network.cell.size} cells of streams"
    )


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("side", type=int, nargs="?", default=4000)
    asked.add_argument("--memory", type=int)
    given = asked.parse_args()
    memory(given.memory) if given.memory else race(given.side)
