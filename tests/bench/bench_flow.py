"""Steady flow, capacity and checks of a line of 2 000 stations, against a loop over stations."""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from fluids.friction import Colebrook

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))

from known_lines import known_line

from routing.flow import SteadyFlow, bend_loss_k, judge_flow, line_capacity_m3_s, steady_flow
from routing.laid_line import LaidLine
from routing.pipe import load_catalogue
from routing.water import water_at

STATIONS = 2000


def best_s(call: Callable[[], object], repeats: int = 5, calls: int = 50) -> float:
    """Return the shortest mean time of one call [s]."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        for _ in range(calls):
            call()
        times.append((time.perf_counter() - start) / calls)
    return min(times)


def main() -> None:
    """Print times and the ratio to a plain loop that solves every piece of the line by itself."""
    find = load_catalogue().find
    station = np.linspace(0.0, 1600.0, STATIONS)
    pipe_m = 400.0 - 0.1 * station + 3.0 * np.sin(station / 40.0)
    steps = np.hypot(np.diff(station), np.diff(pipe_m))
    slope = np.concatenate(([0.0], np.cumsum(steps)))
    water = water_at(10.0)
    bends = np.arange(10, STATIONS - 10, 50)
    k = bend_loss_k(np.linspace(0.0, 60.0, len(bends))).tolist()
    line = known_line(
        station,
        pipe_m,
        [(0.0, find("PE100-SDR26-200")), (500.0, find("PE100-SDR17-200"))],
        slope_m=slope,
        bends=dict(zip(bends.tolist(), k, strict=True)),
        intake_m=401.0,
        water=water,
    )

    def anew() -> LaidLine:
        return replace(line)

    def steady() -> SteadyFlow:
        return steady_flow(anew(), 0.02)

    def loop() -> list[float]:
        heads, lost = [], 0.0
        bores = line.inside_diameter_m.tolist()
        for bore, step in zip(bores, steps.tolist(), strict=False):
            velocity = 0.02 / (math.pi / 4 * bore * bore)
            reynolds = velocity * bore / water.kinematic_viscosity_m2_s
            lost += Colebrook(reynolds, 0.05e-3 / bore) * step / bore * velocity**2 / 19.6133
            heads.append(401.0 - lost - velocity**2 / 19.6133)
        return heads

    flow = steady()
    steady_s = best_s(steady)
    capacity_s = best_s(lambda: line_capacity_m3_s(anew()))
    findings_s = best_s(lambda: judge_flow(line, flow, 0.08))
    loop_s = best_s(loop, repeats=3, calls=3)
    print(f"{STATIONS} stations: steady flow {steady_s * 1e3:.3f} ms")
    print(f"capacity {capacity_s * 1e3:.3f} ms, checks {findings_s * 1e3:.3f} ms")
    print(f"loop over stations / steady flow: {loop_s / steady_s:.0f} x")


if __name__ == "__main__":
    main()
