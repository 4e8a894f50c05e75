"""Doubted lines over known grounds, and what came true of them."""

from __future__ import annotations

import numpy as np
from known_ground import GROUNDS, known_line

from routing.doubt import DoubtedLine, Levels, find_error, forced_turns

RASTERS = (
    # cell, local error, its range, relief; whole steps only where the raster is coarse
    (10.0, 0.4, 60.0, 3.0),
    (30.0, 1.6, 100.0, 10.0),
    (30.0, 1.6, 50.0, 20.0),
    (30.0, 4.0, 150.0, 15.0),
    (90.0, 1.6, 100.0, 30.0),
)


def cases(count, first=0):
    """Return lines ``first`` and on: several grounds, cells, errors, steps, plays and falls."""
    made = []
    for number in range(first, first + count):
        rng = np.random.default_rng(1000 + number)
        cell, sigma, reach, relief = RASTERS[number % len(RASTERS)]
        made.append(
            {
                "seed": number,
                "kind": list(GROUNDS)[number % len(GROUNDS)],
                "cell_m": cell,
                "sigma_m": sigma,
                "range_m": reach,
                "relief_m": relief * float(rng.uniform(0.5, 2.0)),
                "step_m": 1.0 if cell >= 30.0 and rng.random() < 0.5 else 0.0,
                "play_m": float(rng.choice([0.14, 0.3, 0.74])),
                "cells": int(rng.choice([60, 110, 200])),
                "fall": float(rng.choice([0.03, 0.08, 0.15])),
            }
        )
    return made


def doubted_over(station, ground, play_m, turns_at=None, **more):
    """Return the line over a ground that stands at its raster, with so much play below it [m].

    Its summits and sags are those that the ground forces, where ``turns_at`` does not give them.
    """
    if turns_at is None:
        turns = forced_turns(ground - play_m, ground)
        turns_at = (station[turns.place[turns.summit]], station[turns.place[~turns.summit]])
    return DoubtedLine(
        station_m=station,
        raster_m=ground,
        floor_below_m=np.full(station.size, play_m),
        ceiling_below_m=np.zeros(station.size),
        free=np.zeros(station.size, dtype=bool),
        summit_m=turns_at[0],
        sag_m=turns_at[1],
        **more,
    )


def doubted(case, *, rmse_m="right", range_m="right", levels_at=None):
    """Return the known line of a case and the line that is doubted, its error told or not."""
    known = known_line(**{name: value for name, value in case.items() if name != "play_m"})
    levels = Levels()
    ground = known.raster_m
    if levels_at is not None:
        at = np.unique(levels_at)
        level = np.interp(at, known.station_m, known.truth_m)
        levels = Levels(station_m=at, level_m=level, sd_m=np.full(at.size, 0.02))
    line = doubted_over(
        known.station_m,
        ground,
        case["play_m"],
        cell_m=known.cell_m,
        error=find_error(
            rmse_m=case["sigma_m"] if rmse_m == "right" else rmse_m,
            range_m=case["range_m"] if range_m == "right" else range_m,
            kind=None,
            kind_rmse_m=None,
            step_m=case["step_m"],
        ),
        levels=levels,
    )
    return known, line


def came_true(known, line, play_m):
    """Return which planned summits and sags the true ground has, by the rule for "there"."""
    turns = forced_turns(known.truth_m - play_m, known.truth_m)
    found = []
    for planned, top in ((line.summit_m, True), (line.sag_m, False)):
        true = known.station_m[turns.place[turns.summit == top]]
        have = np.zeros(planned.size, dtype=bool)
        for station in true if planned.size else ():
            nearest = int(np.argmin(np.abs(planned - station)))
            have[nearest] |= abs(planned[nearest] - station) <= max(2 * known.cell_m, 25.0)
        found.append(have)
    return found
