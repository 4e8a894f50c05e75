"""The doubt of lines of 2 and 12 km against the forced turns of their grounds alone.

Run: python tests/bench/bench_doubt.py
"""

from __future__ import annotations

import numpy as np
from timing import best

from routing.doubt import DoubtedLine, doubt_of, find_error, forced_turns, sound

LINES = (
    ("2 km, cells of 26 m", 2000.0, 26.0, 1.6),
    ("2 km, cells of 1 m", 2000.0, 1.0, 0.05),
    ("12 km, cells of 26 m", 12000.0, 26.0, 1.6),
    ("12 km, cells of 10 m", 12000.0, 10.0, 0.4),
    ("12 km, cells of 1 m", 12000.0, 1.0, 0.05),
)
PLAY_M = 0.3


def rough_line(length_m: float, cell_m: float, sigma_m: float, seed: int = 3) -> DoubtedLine:
    """Return a falling line over rough ground with many summits."""
    rng = np.random.default_rng(seed)
    station = np.linspace(0.0, length_m, round(length_m / cell_m) + 1)
    ground = 800.0 - 0.03 * station + np.cumsum(rng.normal(0.0, 0.5 * sigma_m, station.size))
    turns = forced_turns(ground - PLAY_M, ground)
    return DoubtedLine(
        station_m=station,
        raster_m=ground,
        floor_below_m=np.full(station.size, PLAY_M),
        ceiling_below_m=np.zeros(station.size),
        free=np.zeros(station.size, dtype=np.bool_),
        summit_m=station[turns.place[turns.summit]],
        sag_m=station[turns.place[~turns.summit]],
        cell_m=cell_m,
        error=find_error(rmse_m=sigma_m, range_m=None, kind=None, kind_rmse_m=None, step_m=0.0),
    )


def main():
    for name, length, cell, sigma in LINES:
        line = rough_line(length, cell, sigma)
        whole = best(lambda line=line: doubt_of(line, line.raster_m), 3)
        drawn = sound(line)
        ground = np.array(drawn.ground_m)
        turns = best(lambda ground=ground: forced_turns(ground - PLAY_M, ground), 3)
        print(
            f"{name}: {whole:.3f} s, {whole / turns:.1f} times the turns of its "
            f"{drawn.count} grounds; {line.summit_m.size} summits"
        )


if __name__ == "__main__":
    main()
