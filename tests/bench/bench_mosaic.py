"""How fast a profile over a hundred tiles is, against the same profile over the merged raster.

Run as a script: ``python tests/bench/bench_mosaic.py``. It writes a raster of 10 240 x 10 240 cells
and its hundred tiles of 1 024 x 1 024 to a temporary folder (about 500 MB), lays a diagonal over
both and prints ratios; the two are timed in turn, so that both see the same machine.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import rasterio
from rasterio.transform import Affine

SIDE, TILES = 10_240, 10
WEST, NORTH = 500_000.0, 5_220_000.0
ENDS = ((151.3, 203.6), (10_090.8, 9_987.1))
"""First and last point of the line as column and row of cells."""


def write(path: Path, z: np.ndarray, row: int, col: int) -> None:
    """Write cells whose first one lies at a row and column of the whole."""
    profile = {
        "driver": "GTiff", "height": z.shape[0], "width": z.shape[1], "count": 1,
        "dtype": "float32", "crs": "EPSG:32633", "tiled": True, "blockxsize": 256,
        "blockysize": 256, "compress": "deflate", "zlevel": 1, "num_threads": "ALL_CPUS",
        "transform": Affine(1, 0, WEST + col, 0, -1, NORTH - row),
    }  # fmt: skip
    with rasterio.open(path, "w", **profile) as dataset:
        dataset.write(z, 1)


def make_rasters(folder: Path) -> None:
    """Write the merged raster and the folder of its tiles."""
    rng = np.random.default_rng(7)
    rows, cols = np.arange(SIDE, dtype=np.float32)[:, None], np.arange(SIDE, dtype=np.float32)
    z = 900 + 300 * np.sin(rows / 1700) * np.cos(cols / 2300) + 20 * np.sin((rows + cols) / 90)
    z += rng.normal(0, 0.05, z.shape).astype(np.float32)
    z = np.round(z, 2).astype(np.float32)
    write(folder / "merged.tif", z, 0, 0)
    (folder / "tiles").mkdir()
    side = SIDE // TILES
    for row in range(0, SIDE, side):
        for col in range(0, SIDE, side):
            path = folder / "tiles" / f"{row:05}_{col:05}.tif"
            write(path, z[row : row + side, col : col + side], row, col)


def best_in_turn(times: int, *functions: Callable[[], object]) -> list[float]:
    """Return the shortest of several runs of each function, run one after the other [s]."""
    best = [float("inf")] * len(functions)
    for _ in range(times):
        for number, function in enumerate(functions):
            begin = time.perf_counter()
            function()
            best[number] = min(best[number], time.perf_counter() - begin)
    return best


def main() -> None:
    """Print times and ratios."""
    from routing.line import Route, ground_profile
    from routing.terrain import open_terrain

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--folder", type=Path, help="keep the rasters here and use them again")
    chosen = parser.parse_args().folder
    with tempfile.TemporaryDirectory() as temporary:
        folder = chosen or Path(temporary)
        folder.mkdir(exist_ok=True)
        if not (folder / "tiles").exists():
            make_rasters(folder)
        merged, tiles = open_terrain([folder / "merged.tif"]), open_terrain([folder / "tiles"])
        (col0, row0), (col1, row1) = ENDS
        lon, lat = merged.reference.to_lonlat(np.array([row0, row1]), np.array([col0, col1]))
        route = Route(name="diagonal", lon=lon, lat=lat)
        one, many = ground_profile(merged, route), ground_profile(tiles, route)
        print(f"greatest difference         {np.abs(one.ground_m - many.ground_m).max():.1e} m")
        opened = best_in_turn(
            5,
            lambda: open_terrain([folder / "merged.tif"]),
            lambda: open_terrain([folder / "tiles"]),
        )
        print(f"open one, open a hundred    {opened[0] * 1e3:.1f} ms, {opened[1] * 1e3:.1f} ms")
        times = best_in_turn(
            15, lambda: ground_profile(merged, route), lambda: ground_profile(tiles, route)
        )
        print(f"profile, merged raster      {times[0] * 1e3:8.1f} ms")
        print(f"profile, hundred tiles      {times[1] * 1e3:8.1f} ms   {times[1] / times[0]:.2f} x")


if __name__ == "__main__":
    main()
