"""Steady flow, capacity and findings of a line of 2 000 stations, against a loop over stations."""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np
from fluids.friction import Colebrook

from routing.flow import bend_loss_k, flow_findings, line_capacity_m3_s, steady_flow
from routing.pipe import load_catalogue, schedule_pipes
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
    schedule = schedule_pipes(
        [(0.0, find("PE100-SDR26-200")), (500.0, find("PE100-SDR17-200"))], 1600.0
    )
    bends = np.arange(10, STATIONS - 10, 50)
    line = {
        "entrance_k": 0.5,
        "station_m": station,
        "slope_station_m": slope,
        "schedule": schedule,
        "water": water,
        "bend_index": bends,
        "bend_k": bend_loss_k(np.linspace(0.0, 60.0, len(bends))),
    }
    gross_head_m = 401.0 - float(pipe_m[-1])

    def steady() -> object:
        return steady_flow(flow_m3_s=0.02, intake_level_m=401.0, pipe_m=pipe_m, **line)

    def loop() -> list[float]:
        heads, lost = [], 0.0
        bores = schedule.per_station(station, "inside_diameter_m").tolist()
        for bore, step in zip(bores, steps.tolist(), strict=False):
            velocity = 0.02 / (math.pi / 4 * bore * bore)
            reynolds = velocity * bore / water.kinematic_viscosity_m2_s
            lost += Colebrook(reynolds, 0.05e-3 / bore) * step / bore * velocity**2 / 19.6133
            heads.append(401.0 - lost - velocity**2 / 19.6133)
        return heads

    flow = steady()
    steady_s = best_s(steady)
    capacity_s = best_s(lambda: line_capacity_m3_s(gross_head_m=gross_head_m, **line))
    findings_s = best_s(
        lambda: flow_findings(
            flow=flow,
            schedule=schedule,
            station_m=station,
            pipe_m=pipe_m,
            summits=bends,
            gross_head_m=gross_head_m,
            capacity_m3_s=0.08,
            water=water,
        )
    )
    loop_s = best_s(loop, repeats=3, calls=3)
    print(f"{STATIONS} stations: steady flow {steady_s * 1e3:.3f} ms")
    print(f"capacity {capacity_s * 1e3:.3f} ms, findings {findings_s * 1e3:.3f} ms")
    print(f"loop over stations / steady flow: {loop_s / steady_s:.0f} x")


if __name__ == "__main__":
    main()
