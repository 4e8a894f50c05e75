"""Straight pipe for a fitting: how far it may stand from its place, and how far bends keep it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from routing.arrays import BoolArray, FloatArray, frozen
from routing.fittings.trade_data import limits
from routing.laid_line import LaidLine
from routing.trench import Bend
from routing.units import UnitSystem, show

__all__ = ["Stand", "flat_reach", "stand_on_straight_pipe", "stand_text"]


class Stand(NamedTuple):
    """Where a fitting stands [m], and the bend that it could not keep clear of, if any."""

    station_m: float
    bend_id: str | None


def flat_reach(line: LaidLine, index: int) -> tuple[float, float]:
    """Return the stretch of pipe around a summit or sag that is as high or low as it [m].

    That is where its elevation differs by at most a tenth of the bore, on the same side of the ends
    of a span.
    """
    most = limits().flat_share * float(line.inside_diameter_m[index])
    station, level = line.station_m, line.pipe_m
    same = line.pipe.in_span == line.pipe.in_span[index]
    ends = []
    for step in (-1, 1):
        k = index
        while _inside(same, k + step) and abs(level[k + step] - level[index]) <= most:
            k += step
        at = float(station[k])
        if _inside(same, k + step):
            # Part of the next piece is still within the limit.
            rise = abs(float(level[k + step] - level[index]))
            own = abs(float(level[k] - level[index]))
            share = (most - own) / (rise - own)
            at += share * float(station[k + step] - station[k])
        ends.append(at)
    return ends[0], ends[1]


def _inside(same: BoolArray, k: int) -> bool:
    return 0 <= k < same.size and bool(same[k])


def stand_on_straight_pipe(line: LaidLine, at_m: float, reach_m: tuple[float, float]) -> Stand:
    """Return where on a reach a fitting has straight pipe on both sides, near its place.

    A tee or saddle wants five bores from any bend of 5 degrees or more. Where the reach has no
    such place the fitting stays, and the nearest bend is named.

    References
    ----------
    Five bores: common practice, no source.
    """
    bends, along = line.once(_sharp_bends)
    if not bends:
        return Stand(at_m, None)
    bore = float(np.interp(at_m, line.station_m, line.inside_diameter_m))
    clear = limits().straight_bores * bore
    low, at, high = np.interp(
        (reach_m[0], at_m, reach_m[1]), line.station_m, line.slope_station_m
    ).tolist()
    off = np.abs(along - at)
    nearest = int(off.argmin())
    if off[nearest] >= clear - 1e-6:
        return Stand(at_m, None)
    tried = np.concatenate((along - clear, along + clear))
    tried = tried[(tried >= low - 1e-9) & (tried <= high + 1e-9)]
    apart = np.abs(tried[:, None] - along).min(axis=1)
    good = tried[apart >= clear - 1e-6]
    if not good.size:
        return Stand(at_m, bends[nearest].id)
    best = float(good[np.abs(good - at).argmin()])
    return Stand(float(np.interp(best, line.slope_station_m, line.station_m)), None)


def _sharp_bends(line: LaidLine) -> tuple[list[Bend], FloatArray]:
    """Return the bends that a fitting keeps clear of, and where they are along the pipe [m]."""
    least = limits().bend_least_deg
    bends = [bend for bend in line.bends if bend.deflection_deg >= least]
    at = np.interp([bend.station_m for bend in bends], line.station_m, line.slope_station_m)
    return bends, frozen(at)


def stand_text(stand: Stand, serves_m: float, units: UnitSystem) -> list[str]:
    """Return how a fitting stands to the bends beside it, in whole sentences."""
    clear = f"{limits().straight_bores:g} bores"
    if stand.bend_id is not None:
        return [f"Bend {stand.bend_id} is nearer than {clear}."]
    off = stand.station_m - serves_m
    if abs(off) <= 0.01:
        return []
    side = "below" if off > 0.0 else "above"
    return [
        f"It stands {show(abs(off), 'depth', units)} {side} its point, with {clear} of straight "
        "pipe to the next bend."
    ]
