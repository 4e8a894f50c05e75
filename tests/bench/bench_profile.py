"""How fast the exact profile is, against decoding its blocks and against the bounding window.

Run as a script: ``python tests/bench/bench_profile.py``. It writes a raster of 20 000 x 20 000
cells of 1 m (about 1 GB) to a temporary folder, lays a diagonal of 20 km over it and prints ratios;
memory is measured in child processes.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import rasterio
from rasterio.transform import from_origin
from rasterio.windows import Window
from timing import best

SIDE = 20_000
BLOCK = 256
ORIGIN = (500_000.0, 5_220_000.0)
ENDS = ((2_900.3, 17_071.6), (17_040.8, 2_931.1))
"""First and last point of the line as column and row of cells: 20 km from corner to corner."""

ROOT = Path(__file__).resolve().parents[2]


def make_raster(path: Path) -> None:
    """Write the raster: ridges with centimetres of noise, so that deflate works as on real data."""
    rng = np.random.default_rng(7)
    cols = np.arange(SIDE, dtype=np.float32)
    profile = {
        "driver": "GTiff", "width": SIDE, "height": SIDE, "count": 1, "dtype": "float32",
        "crs": "EPSG:32633", "transform": from_origin(*ORIGIN, 1.0, 1.0), "nodata": -9999.0,
        "tiled": True, "blockxsize": BLOCK, "blockysize": BLOCK, "compress": "deflate",
        "zlevel": 1, "num_threads": "ALL_CPUS", "bigtiff": "YES",
    }  # fmt: skip
    with rasterio.open(path, "w", **profile) as dataset:
        for top in range(0, SIDE, BLOCK):
            rows = np.arange(top, min(top + BLOCK, SIDE), dtype=np.float32)[:, None]
            z = (
                900
                + 300 * np.sin(rows / 1700) * np.cos(cols / 2300)
                + 20 * np.sin((rows + cols) / 90)
            )
            z = z + rng.normal(0, 0.05, z.shape).astype(np.float32)
            dataset.write(
                np.round(z, 2).astype(np.float32), 1, window=Window(0, top, SIDE, len(rows))
            )


def line(path: Path) -> tuple[object, object]:
    """Return the terrain and the route of the benchmark."""
    from routing.line import Route
    from routing.terrain import open_terrain

    terrain = open_terrain([path])
    (col0, row0), (col1, row1) = ENDS
    lon, lat = terrain.reference.to_lonlat(np.array([row0, row1]), np.array([col0, col1]))
    return terrain, Route(name="diagonal", lon=lon, lat=lat)


def run_profile(path: Path) -> float:
    """Open, profile, and return the last elevation: the whole job from the path."""
    from routing.line import ground_profile

    terrain, route = line(path)
    return float(ground_profile(terrain, route).ground_m[-1])


def touched_blocks(path: Path) -> list[tuple[int, int]]:
    """Return the blocks that hold a cell centre the profile needs, by dense sampling."""
    (col0, row0), (col1, row1) = ENDS
    share = np.linspace(0, 1, 400_001)
    found: set[tuple[int, int]] = set()
    row, col = row0 + (row1 - row0) * share, col0 + (col1 - col0) * share
    for down in (0, 1):
        for right in (0, 1):
            block_row = (np.floor(row).astype(int) + down) // BLOCK
            block_col = (np.floor(col).astype(int) + right) // BLOCK
            found.update(zip(block_row.tolist(), block_col.tolist(), strict=True))
    return sorted(found)


def run_decode(path: Path, blocks: list[tuple[int, int]]) -> None:
    """Decode just these blocks with rasterio, on one thread."""
    with rasterio.Env(GDAL_NUM_THREADS=1), rasterio.open(path) as dataset:
        for row, col in blocks:
            dataset.read(1, window=Window(col * BLOCK, row * BLOCK, BLOCK, BLOCK))


def run_window(path: Path) -> float:
    """Read the bounding window and sample it with scipy at half a cell."""
    from scipy.ndimage import map_coordinates

    (col0, row0), (col1, row1) = ENDS
    top, left = int(min(row0, row1)), int(min(col0, col1))
    window = Window(left, top, int(abs(col1 - col0)) + 3, int(abs(row1 - row0)) + 3)
    with rasterio.open(path) as dataset:
        z = dataset.read(1, window=window)
    share = np.linspace(0, 1, 40_001)
    at = [row0 + (row1 - row0) * share - top, col0 + (col1 - col0) * share - left]
    return float(map_coordinates(z, at, order=1, output=np.float64)[-1])


def peak_mb(job: str, path: Path) -> float:
    """Return the peak memory of a child process that does one job, over its imports [MB]."""
    code = (
        "import sys, json; sys.path[:0] = [sys.argv[2], sys.argv[3]]\n"
        "import bench_profile as bench, routing.line, routing.terrain\n"
        "from pathlib import Path\n"
        "path = Path(sys.argv[1])\n"
        "status = '/proc/self/status'\n"
        "peak = lambda: int(next(l for l in open(status) if 'VmHWM' in l).split()[1])\n"
        "floor = peak()\n"
        f"bench.{job}(path)\n"
        "print(json.dumps([floor, peak()]))"
    )
    arguments = [sys.executable, "-c", code, str(path), str(ROOT), str(Path(__file__).parent)]
    done = subprocess.run(arguments, check=True, capture_output=True, text=True)
    floor, top = json.loads(done.stdout)
    return float(top - floor) / 1024


def main() -> None:
    """Print times, ratios and memory."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--raster", type=Path, help="keep the raster here and use it again")
    chosen = parser.parse_args().raster
    with tempfile.TemporaryDirectory() as folder:
        path = chosen or Path(folder) / "large.tif"
        if not path.exists():
            make_raster(path)
        blocks = touched_blocks(path)
        for _ in range(2):
            run_decode(path, blocks)
        decode, profile = (
            best(lambda: run_decode(path, blocks), 15),
            best(lambda: run_profile(path), 15),
        )
        from routing.line import ground_profile

        terrain, route = line(path)
        alone = best(lambda: ground_profile(terrain, route), 15)
        window = best(lambda: run_window(path), 1)
        print(f"raster {os.path.getsize(path) / 2**20:.0f} MB, {len(blocks)} blocks touched")
        print(f"decode the touched blocks   {decode * 1e3:8.1f} ms")
        print(f"exact profile               {alone * 1e3:8.1f} ms   {alone / decode:.2f} x decode")
        print(
            f"open and exact profile      {profile * 1e3:8.1f} ms   {profile / decode:.2f} x decode"
        )
        print(
            f"bounding window, scipy      {window * 1e3:8.1f} ms   {window / profile:.1f} x slower"
        )
        print(f"peak memory over imports    {peak_mb('run_profile', path):8.1f} MB")
        print(f"  of the bounding window    {peak_mb('run_window', path):8.1f} MB")


if __name__ == "__main__":
    main()
