"""Relief tiles: shading against matplotlib's LightSource, a gigabyte against a small raster.

Run: python tests/bench/bench_relief.py
"""

from __future__ import annotations

import tempfile
import time
from functools import partial
from pathlib import Path

import numpy as np
import rasterio
from matplotlib import colormaps
from matplotlib.colors import LightSource
from timing import best

from api.relief import ReliefStore
from routing.terrain import open_terrain
from routing.terrain.contour import contour_tile
from routing.terrain.map_tile import map_share, relief_tile, tile_source
from routing.terrain.reduced import reduced_copies
from routing.terrain.shade import shaded

CRS = "EPSG:32628"
WINDOW = 1024
LARGE = 16_384
"""Cells a side of the large raster: a gigabyte of float32."""


def heights(rows: int, cols: int, top: int = 0) -> np.ndarray:
    row = np.arange(top, top + rows, dtype=np.float32)[:, None]
    col = np.arange(cols, dtype=np.float32)[None, :]
    return 900 - 0.03 * col + 60 * np.sin(row / 70) * np.cos(col / 90) + 6 * np.sin(col / 7)


def write(path: Path, side: int) -> Path:
    with rasterio.open(
        path, "w", driver="GTiff", width=side, height=side, count=1, dtype="float32", crs=CRS,
        transform=rasterio.Affine(2.0, 0, 400_000, 0, -2.0, 6_900_000), tiled=True,
        blockxsize=512, blockysize=512,
    ) as out:  # fmt: skip
        for top in range(0, side, 512):
            out.write(heights(512, side, top), 1, window=((top, top + 512), (0, side)))
    return path


def middle(source: object, zoom: int) -> tuple[int, int]:
    x, y = map_share(
        np.array([(source.west + source.east) / 2]), np.array([(source.south + source.north) / 2])
    )
    return int(x[0] * 2**zoom), int(y[0] * 2**zoom)


def shading() -> None:
    """Print the ratio to matplotlib on the same window."""
    window = heights(WINDOW + 2, WINDOW + 2)
    pixel_m = np.full(WINDOW + 2, 2.0)
    low, high = float(window.min()), float(window.max())
    shaded(window, pixel_m, low, high, 1.0)
    ours = best(lambda: shaded(window, pixel_m, low, high, 1.0))
    light = LightSource(315, 45)
    theirs = best(lambda: light.shade(window, colormaps["gist_earth"], dx=2, dy=2), 3)
    grey = best(lambda: light.hillshade(window, dx=2, dy=2), 3)
    print(f"window of {WINDOW} x {WINDOW}: three lights and colour {ours * 1e3:.1f} ms")
    print(f"  LightSource.shade {theirs * 1e3:.0f} ms, ratio {theirs / ours:.0f}")
    print(f"  hillshade (one light, no colour) {grey * 1e3:.0f} ms, ratio {grey / ours:.0f}")


def opening(folder: Path) -> None:
    """Print what the first view of all of a raster costs, small and large."""
    times = {}
    for name, side in (("small", 1024), ("large", LARGE)):
        path = write(folder / f"{name}.tif", side)
        store = ReliefStore(2**26)

        def open_it(path: Path = path):
            return open_terrain([path])

        start = time.perf_counter()
        source = store.source(name, open_it, folder / name)
        zoom = 13 if name == "small" else 10
        relief_tile(source, zoom, *middle(source, zoom))
        times[name] = time.perf_counter() - start
        size = path.stat().st_size / 1e6
        print(f"{name} raster, {size:.0f} MB: first view of all of it {times[name] * 1e3:.0f} ms")
        start = time.perf_counter()
        while source.draft:
            time.sleep(0.05)
            source = store.source(name, open_it, folder / name)
        print(f"  sharp {time.perf_counter() - start:.1f} s later")
        for closer in (zoom, 15, 17):
            at = middle(source, closer)
            relief = best(partial(relief_tile, source, closer, *at), 5)
            contours = best(partial(contour_tile, source, closer, *at), 5)
            times_ms = f"relief {relief * 1e3:.1f} ms, contours {contours * 1e3:.1f} ms"
            print(f"  zoom {closer}: {times_ms}")
        store.close()
    print(f"large against small: {times['large'] / times['small']:.1f}")


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        warm = open_terrain([write(folder / "warm.tif", 512)])
        source = tile_source(warm, reduced_copies(warm))
        relief_tile(source, 15, *middle(source, 15))
        contour_tile(source, 15, *middle(source, 15))
        shading()
        opening(folder)


if __name__ == "__main__":
    main()
