"""Laid pipe for 20 000 stations against a plain numpy dynamic programme over 60 depths.

Run: python tests/bench/bench_trench.py
"""

from __future__ import annotations

import numpy as np
from timing import timed

from routing.compiled import prefer_compiled
from routing.trench.grade_line import best_grade_line

STATIONS, DEPTHS = 20_000, 60


def ground(seed: int = 7) -> tuple[np.ndarray, np.ndarray]:
    """Return a falling, rough profile, 1 m between stations."""
    rng = np.random.default_rng(seed)
    station = np.arange(float(STATIONS))
    return station, 2000.0 - 0.05 * station + np.cumsum(rng.normal(0.0, 0.12, STATIONS))


def numpy_programme(station, highest, lowest, depths=DEPTHS):
    """Return (summits, sags, area) of the best line whose depths lie on a grid.

    The textbook way: at each station every depth and direction takes the best of all depths and
    directions before, as one array expression. Directions are up and down; counts are weighted so
    that no area outweighs a summit.
    """
    share = np.linspace(0.0, 1.0, depths)
    height = highest[:, None] - share[None, :] * (highest - lowest)[:, None]
    weight = np.zeros(station.size)
    weight[:-1] += np.diff(station) / 2.0
    weight[1:] += np.diff(station) / 2.0
    dug = weight[:, None] * (highest[:, None] - height)
    summit, sag = 1e9, 1e6
    up = dug[0].copy()
    down = dug[0].copy()
    for i in range(1, station.size):
        rises = height[i][:, None] >= height[i - 1][None, :]
        falls = height[i][:, None] <= height[i - 1][None, :]
        to_up = np.where(rises, np.minimum(up, down + sag)[None, :], np.inf)
        to_down = np.where(falls, np.minimum(down, up + summit)[None, :], np.inf)
        up = to_up.min(axis=1) + dug[i]
        down = to_down.min(axis=1) + dug[i]
    best = min(up.min(), down.min())
    summits = int(best // summit)
    sags = int((best - summits * summit) // sag)
    return summits, sags, best - summits * summit - sags * sag


def ours(station, highest, lowest):
    line = best_grade_line(station, highest, lowest)
    area = float(np.trapezoid(highest - line.elevation_m, station))
    return line.summits.size, line.sags.size, area


def main() -> None:
    prefer_compiled()
    station, surface = ground()
    highest, lowest = surface - 0.9, surface - 1.6
    ours(station, highest, lowest)
    fast, exact = timed(ours, station, highest, lowest, repeat=7)
    slow, grid = timed(numpy_programme, station, highest, lowest, repeat=1)
    print(
        f"laid pipe, {STATIONS} stations: ours {fast * 1e3:.1f} ms, (summits, sags, area) {exact}"
    )
    print(f"numpy over {DEPTHS} depths: {slow:.2f} s, {grid}")
    print(f"ratio: {slow / fast:.0f} x as fast; area ours / grid: {exact[2] / grid[2]:.5f}")


if __name__ == "__main__":
    main()
