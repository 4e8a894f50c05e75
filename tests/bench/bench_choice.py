"""Sweep of the catalogue, class line and diameters on a long line, against their goals."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from timing import best

from routing.choice import ChoiceLine, Worth, choose_diameters, sweep_pipes
from routing.choice_study import choose_pipes
from routing.flow import level_efficiency
from routing.heads import pressure_pa
from routing.line import read_route
from routing.pipe import load_catalogue
from routing.settings import read_settings
from routing.strength import LayingRules, Offer, class_line
from routing.study import open_study_terrain, run_study
from routing.water import water_at
from sample_dem import sample_paths

STATIONS, PIPES = 2000, 100
MOST_STUDIES = 5.0
"""The whole choice on the demo line takes no longer than so many whole studies of it."""
GOAL_S = 1.0


def whole_choice() -> None:
    """Print what the choice of a study costs on the demo line, over one study of it."""
    sample = sample_paths()
    given = read_settings(sample.settings)
    terrain, route = open_study_terrain([sample.terrain], given), read_route(sample.line)
    study_s = best(lambda: run_study(terrain, route, given), 4)
    line = run_study(terrain, route, given, pressures=False).line
    choice_s = best(lambda: choose_pipes(line, given), 4)
    ratio = choice_s / study_s
    print(f"every pipe on the demo line: {choice_s:.3f} s, {ratio:.1f} studies of {study_s:.3f} s")
    if ratio > MOST_STUDIES:
        raise SystemExit(f"The choice takes {ratio:.1f} studies, more than {MOST_STUDIES:g}.")


def main() -> None:
    """Print seconds and how many times faster than the goal each choice is."""
    whole_choice()
    station = np.linspace(0.0, 3000.0, STATIONS)
    pipe_m = 500.0 - 0.05 * station + 6.0 * np.sin(station / 90.0) - 6.0 * station / 3000.0
    slope = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(station), np.diff(pipe_m)))))
    line = ChoiceLine(
        station_m=station,
        slope_station_m=slope,
        pipe_m=pipe_m,
        intake_level_m=506.0,
        highest_level_m=506.5,
        flow_m3_s=0.05,
        water=water_at(10.0),
        closing_s=60.0,
        local_k=4.0,
    )
    everything = [
        Offer(pipe=pipe, price_per_m=8.0 + 2.5 * (pipe.mass_kg_m or 0.0))
        for pipe in load_catalogue()
    ]
    worth = Worth(price_per_kwh=0.12, interest=0.06, years=25, machine=level_efficiency(0.65, 0.2))
    near = [
        offer
        for offer in everything
        if 0.17 <= offer.pipe.inside_diameter_m <= 0.40 and offer.pipe.material != "DI"
    ][:PIPES]
    rest = pressure_pa(506.5 - pipe_m, line.water)
    rules = LayingRules(adapter_price=80.0)
    summits = np.full(STATIONS, np.nan)
    summits[1:-1] = np.where(
        (pipe_m[1:-1] > pipe_m[:-2]) & (pipe_m[1:-1] >= pipe_m[2:]), 0.5, np.nan
    )
    jobs: dict[str, Callable[[], object]] = {
        f"sweep of {len(everything)} pipes": lambda: sweep_pipes(
            line, everything, efficiency=0.65, worth=worth
        ),
        f"class line, {len(near)} pipes": lambda: class_line(
            station_m=station,
            slope_station_m=slope,
            static_pa=rest,
            surge_pa=0.1 * np.abs(rest),
            offers=near,
            water=line.water,
            rules=rules,
        ),
        f"diameters within 8 % of the head, {len(near)} pipes": lambda: choose_diameters(
            line, near, most_loss_m=12.0, rules=rules
        ),
        f"the same with heads kept at summits, {len(near)} pipes": lambda: choose_diameters(
            line,
            near,
            most_loss_m=12.0,
            rules=rules,
            least_head_m=summits,
        ),
    }
    for name, job in jobs.items():
        seconds = best(job, 4)
        print(f"{STATIONS} stations, {name}: {seconds:.3f} s, goal / time {GOAL_S / seconds:.1f} x")
        result = job()
        if hasattr(result, "schedule"):
            runs = [(round(run.from_m), run.pipe.id) for run in result.schedule.runs]
            bound = getattr(result, "lower_bound", result.price)
            print(f"    {len(runs)} runs, price {result.price:.0f}, no choice below {bound:.0f}")
            print(f"    {runs}")


if __name__ == "__main__":
    main()
