"""Straight grades against laying the pipe itself, over rough ground and the worst we can make.

Run: python tests/bench/bench_grades.py

Each figure is the least processor time of several runs; the ratio pairs it with the best grade line
of the same corridor, which every laying needs first.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from timing import spent

from routing.compiled import prefer_compiled
from routing.line import ground_profile, read_route
from routing.terrain import open_terrain
from routing.trench.grade_line import best_grade_line
from routing.trench.straight import DRAGGED_PASSES, FULL_PASSES, BreakTerms, straighten
from sample_dem import sample_paths

GOAL_MS, GOAL_STATIONS = 50.0, 2000
RISING, FALLING, WIDTH = 0.002, 1.0 / 300.0, 0.6
Corridor = tuple[np.ndarray, np.ndarray, np.ndarray]


def hill(stations: int, step: float, seed: int = 3, play: float = 0.2) -> Corridor:
    """Return a falling slope with waves of all lengths, as a raster of hill country shows it."""
    rng = np.random.default_rng(seed)
    station = np.concatenate(([0.0], np.cumsum(rng.uniform(0.1, 1.9, stations - 1) * step)))
    ground = 2000.0 - 0.06 * station
    length = 20.0 * step
    while length > 2.0 * step:
        knots = np.arange(0.0, station[-1] + 2.0 * length, length)
        ground = ground + np.interp(station, knots, rng.normal(0.0, 0.03 * length, knots.size))
        length /= 2.0
    return station, ground - 0.9, ground - 0.9 - play


def noise(stations: int, step: float = 2.5, play: float = 0.2) -> Corridor:
    """Return ground that walks at random: a turn every few stations."""
    station = np.arange(stations) * step
    walk = np.cumsum(np.random.default_rng(7).normal(0.0, 0.25, stations))
    ground = 2000.0 - 0.05 * station + walk
    return station, ground - 0.9, ground - 0.9 - play


def even(stations: int, play: float = 1.9) -> Corridor:
    """Return the worst we found: a station a metre, ground so even that all of 200 m is seen."""
    station = np.arange(float(stations))
    ground = 2000.0 - 0.1 * station + 0.3 * np.sin(station / 90.0)
    return station, ground - 0.9, ground - 0.9 - play


def sample() -> Corridor:
    """Return the corridor of the sample's line, 0.2 m deep."""
    terrain = open_terrain([sample_paths().terrain])
    profile = ground_profile(terrain, read_route(sample_paths().line))
    return profile.station_m, profile.ground_m - 0.9, profile.ground_m - 1.1


def finer(corridor: Corridor, most_m: float) -> Corridor:
    """Return the same corridor with stations at most so far apart: breaks may lie there too."""
    station, *levels = corridor
    parts = [
        np.linspace(a, b, int(np.ceil((b - a) / most_m)) + 1) for a, b in pairwise(station.tolist())
    ]
    dense = np.unique(np.concatenate(parts))
    highest, lowest = (np.interp(dense, station, level) for level in levels)
    return dense, highest, lowest


def report(name: str, corridor: Corridor) -> None:
    """Print times, ratios, pieces and digging of one corridor."""
    station, highest, lowest = corridor
    width = np.full(station.size - 1, WIDTH)
    terms = BreakTerms(break_price_m3=0.5, least_piece_m=3.0, rising=RISING, falling=FALLING)
    line = best_grade_line(station, highest, lowest, rising=RISING, falling=FALLING)
    lay = 1e3 * spent(
        lambda: best_grade_line(station, highest, lowest, rising=RISING, falling=FALLING), 8
    )
    parts = [f"{name:22s} {station.size:6d} stations: line {lay:6.1f} ms"]
    for label, passes in (("dragging", DRAGGED_PASSES), ("full", FULL_PASSES)):
        took = 1e3 * spent(
            lambda p=passes: straighten(station, highest, lowest, width, line, terms, p), 8
        )
        found = straighten(station, highest, lowest, width, line, terms, passes)
        dug = WIDTH * float(np.trapezoid(highest - found.elevation_m, station))
        parts.append(
            f"{label} {took:7.1f} ms = {took / lay:5.1f} lines, {found.breaks.size - 1} grades, "
            f"{dug:.0f} m3 beyond least cover"
        )
    print("; ".join(parts))
    if station.size == GOAL_STATIONS:
        print(f"    goal / time: {GOAL_MS / took:.1f} x")


def main() -> None:
    prefer_compiled()
    for stations in (500, 2000, 20_000):
        report("hill, 2.5 m", hill(stations, 2.5))
        report("random walk, 2.5 m", noise(stations))
    report("hill, 0.7 m", hill(2000, 0.7))
    report("sample", sample())
    for most in (5.0, 2.5, 1.25):
        report(f"sample, {most:g} m apart", finer(sample(), most))
    for stations in (2000, 20_000):
        report("even and deep, 1 m", even(stations))


if __name__ == "__main__":
    main()
