"""Sizes of all vents and drains of one hilly line, against the stated limit of 100 ms.

Run: python tests/bench/bench_fittings.py
"""

from __future__ import annotations

import time

import numpy as np

from routing.fittings import FittingInputs, place_drains, place_vents, size_fittings
from routing.laid_line import LaidLine, simple_line
from routing.pipe import load_catalogue

LIMIT_S = 0.1


def hilly_line(stations: int = 2000, humps: int = 6) -> LaidLine:
    """Return a falling line with even humps."""
    station = np.linspace(0.0, 1500.0, stations)
    pipe = 300.0 - 0.06 * station + 6.0 * np.sin(2 * np.pi * humps * station / 1500.0)
    chosen = load_catalogue().find("PVC-D2241IPS-SDR26-8in")
    return simple_line(station, pipe, chosen, intake_m=float(pipe.max()) + 1.0)


def main() -> None:
    """Print the best of several runs, and how it compares with the limit."""
    line, given = hilly_line(), FittingInputs(flow_m3_s=0.02)
    vents, drains = place_vents(line, given).vents, place_drains(line, given)
    wall = []
    for _ in range(7):
        start = time.perf_counter()
        size_fittings(line, vents, drains, given)
        wall.append(time.perf_counter() - start)
    best = min(wall)
    placing = []
    for _ in range(7):
        start = time.perf_counter()
        place_vents(line, given)
        placing.append(time.perf_counter() - start)
    print(
        f"{len(vents)} vents and {len(drains)} drains on {line.station_m.size} stations: sized in "
        f"{1e3 * best:.0f} ms, {LIMIT_S / best:.1f} x under the limit of {1e3 * LIMIT_S:.0f} ms; "
        f"vents placed in {1e3 * min(placing):.1f} ms"
    )


if __name__ == "__main__":
    main()
