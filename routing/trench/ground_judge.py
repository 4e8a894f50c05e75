"""What is asked of the ground about the trench: benches, and no ground that is too steep."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from routing.arrays import FloatArray, stretches
from routing.check import Check
from routing.trench.bench import Bench
from routing.trench.judge import asked
from routing.trench.laid import LaidPipe

__all__ = ["ground_slope", "judge_bench", "judge_steep_ground"]

ROUNDED = 6
"""Decimals of a percent to which slopes are judged [-]: a limit met exactly is kept."""


def judge_bench(
    bench: Bench, station_m: FloatArray, from_slope: float, face: float
) -> Iterator[Check]:
    """Yield whether a machine can stand beside the trench without a bench, and where not."""
    known = np.nan_to_num(np.abs(bench.slope))
    worst = int(np.argmax(known))
    if not bench.stretches:
        yield asked("bench").judge(
            round(100.0 * float(known[worst]), ROUNDED),
            "",
            limit=100.0 * from_slope,
            place="ground",
            station_m=float(station_m[worst]),
        )
    for each in bench.stretches:
        where = f"From station {each.from_m:.0f} m to {each.to_m:.0f} m"
        yield asked("bench").judge(
            round(100.0 * each.steepest, ROUNDED),
            f"{where} the ground slopes by up to {100.0 * each.steepest:.0f} % across the line. "
            f"Dig a bench of {bench.width_m:.1f} m first, {each.volume_m3:.0f} m3 on that "
            "stretch, or lead the line straight up and down the slope there.",
            limit=100.0 * from_slope,
            place=f"{each.from_m:.0f} m to {each.to_m:.0f} m",
            station_m=each.steepest_station_m,
        )
        yield asked("bench_face").judge(
            round(100.0 * each.steepest, ROUNDED),
            f"{where} the ground slopes by up to {100.0 * each.steepest:.0f} % across the line, as "
            "steep as the face of a cut stands: no bench can be cut there. Lead the line elsewhere "
            "or carry the pipe above ground.",
            limit=90.0 * face,
            place=f"{each.from_m:.0f} m to {each.to_m:.0f} m",
            station_m=each.steepest_station_m,
        )


def ground_slope(
    station_m: FloatArray, ground_m: FloatArray, across: FloatArray, reach_m: float
) -> FloatArray:
    """Return the slope of the ground in its steepest direction.

    Parameters
    ----------
    station_m, ground_m : FloatArray
        Stations and ground of the line, (n,) [m]
    across : FloatArray
        Slope across the line, NaN where not known, which counts as none, (n,) [-]
    reach_m : float
        How far to each side along the line the slope is taken over, > 0 [m]

    Returns
    -------
    slope : FloatArray
        Rise over run, (n,) [-]

    Examples
    --------
    >>> at = np.array([0.0, 10.0, 20.0])
    >>> ground_slope(at, 0.3 * at, np.full(3, 0.4), 5.0).round(6).tolist()
    [0.5, 0.5, 0.5]
    """
    before = np.maximum(station_m - reach_m, station_m[0])
    after = np.minimum(station_m + reach_m, station_m[-1])
    rise = np.interp(after, station_m, ground_m) - np.interp(before, station_m, ground_m)
    slope: FloatArray = np.hypot(rise / (after - before), np.nan_to_num(across))
    return slope


def judge_steep_ground(pipe: LaidPipe, slope: FloatArray, steepest: float) -> Iterator[Check]:
    """Yield a check for each stretch of ground that is steeper than allowed, or the steepest."""
    station = pipe.station_m
    runs = stretches(slope > steepest + 1e-9)
    if not runs:
        worst = int(np.argmax(slope))
        runs = [(worst, worst)]
    for first, last in runs:
        worst = first + int(np.argmax(slope[first : last + 1]))
        yield asked("steep_ground").judge(
            round(100.0 * float(slope[worst]), ROUNDED),
            f"From station {station[first]:.0f} m to {station[last]:.0f} m the ground lies at up "
            f"to {100.0 * slope[worst]:.0f} %, steeper than the {100.0 * steepest:.0f} % that "
            "trench.steepest_ground allows. Lead the line round it.",
            limit=100.0 * steepest,
            place=f"{station[first]:.0f} m to {station[last]:.0f} m",
            station_m=float(station[worst]),
        )
