"""Sizes of all vents and drains of one hilly line, against the stated limit of 100 ms.

Run: python tests/bench/bench_fittings.py
"""

from __future__ import annotations

import time

import numpy as np

from routing.fittings import FittingInputs, SizingInputs, place_drains, place_vents, size_fittings
from routing.pipe import load_catalogue, schedule_pipes
from routing.water import water_at

LIMIT_S = 0.1


def hilly_line(stations: int = 2000, humps: int = 6) -> SizingInputs:
    """Return a falling line with even humps, its fittings placed."""
    station = np.linspace(0.0, 1500.0, stations)
    pipe = 300.0 - 0.06 * station + 6.0 * np.sin(2 * np.pi * humps * station / 1500.0)
    turn = np.diff(np.sign(np.diff(pipe)))
    chosen = load_catalogue().find("PVC-D2241IPS-SDR26-8in")
    level = float(pipe.max()) + 1.0
    line = FittingInputs(
        station_m=station,
        lon=10.0 + station / 7e4,
        lat=60.0 - station / 1.1e5,
        ground_m=pipe + 1.0,
        pipe_m=pipe,
        in_span=np.zeros(stations, bool),
        summits=np.flatnonzero(turn < 0) + 1,
        sags=np.flatnonzero(turn > 0) + 1,
        slope_station_m=np.concatenate(
            ([0.0], np.cumsum(np.hypot(np.diff(station), np.diff(pipe))))
        ),
        static_head_m=level - pipe,
        flowing_head_m=None,
        inside_diameter_m=np.full(stations, chosen.inside_diameter_m),
        outside_diameter_m=np.full(stations, chosen.outside_diameter_m),
        intake_level_m=level,
        outlet_level_m=float(pipe[-1]),
        water=water_at(10.0),
        rmse_m=None,
        cell_m=1.0,
    )
    return SizingInputs(
        line=line,
        vents=place_vents(line),
        drains=place_drains(line),
        schedule=schedule_pipes([(0.0, chosen)], 1500.0),
        flow_m3_s=0.02,
    )


def main() -> None:
    """Print the best of several runs, and how it compares with the limit."""
    inputs = hilly_line()
    wall = []
    for _ in range(7):
        start = time.perf_counter()
        size_fittings(inputs)
        wall.append(time.perf_counter() - start)
    best = min(wall)
    print(
        f"{len(inputs.vents)} vents and {len(inputs.drains)} drains on "
        f"{inputs.line.station_m.size} stations: {1e3 * best:.0f} ms, "
        f"{LIMIT_S / best:.1f} x under the limit of {1e3 * LIMIT_S:.0f} ms"
    )


if __name__ == "__main__":
    main()
