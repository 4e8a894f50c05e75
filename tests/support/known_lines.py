"""Lines whose lengths along the pipe and losses at bends are known, for checks of formulas."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from routing.arrays import frozen
from routing.flow import bend_loss_k
from routing.laid_line import LaidLine, simple_line
from routing.pipe import Pipe, load_catalogue
from routing.trench import Bend


def known_line(
    station_m: Any,
    pipe_m: Any,
    pipes: Pipe | Sequence[tuple[float, Pipe]],
    *,
    slope_m: Any = None,
    bends: Mapping[int, float] | None = None,
    **more: Any,
) -> LaidLine:
    """Return a line of known lengths: ``slope_m`` along the pipe, by default the stations.

    ``bends`` has the loss coefficient at each index of a station; ``pipe_m`` may be one level.
    """
    station = np.asarray(station_m, float)
    made = {
        index: Bend(id=f"B{index}", index=index, station_m=float(station[index]), plan_deg=0.0,
                    vertical_deg=0.0, deflection_deg=0.0)
        for index in bends or ()
    }  # fmt: skip
    line = simple_line(
        station, np.broadcast_to(np.asarray(pipe_m, float), station.shape), pipes,
        bends=tuple(made.values()), bend_k=np.array(list((bends or {}).values()), float), **more,
    )  # fmt: skip
    return of_lengths(line, station if slope_m is None else slope_m)


def hump_line(**more: Any) -> LaidLine:
    """Return two pipes with three bends, falling 60 m over 1200 m, with a summit at 700 m."""
    find = load_catalogue().find
    station = np.linspace(0.0, 1200.0, 241)
    k = bend_loss_k(np.array([12.0, 38.0, 61.0])).tolist()
    return known_line(
        station,
        400.0 - 0.05 * station + 14.0 * np.exp(-(((station - 700.0) / 80.0) ** 2)),
        [(0.0, find("PE100-SDR26-225")), (612.5, find("PE100-SDR17-200"))],
        slope_m=1.01 * station,
        bends=dict(zip((40, 90, 200), k, strict=True)),
        **more,
    )


def of_lengths(line: LaidLine, slope_m: Any) -> LaidLine:
    """Return the line with other lengths along the pipe."""
    pipe = replace(line.pipe)
    pipe.__dict__["slope_station_m"] = frozen(slope_m)
    return replace(line, pipe=pipe)
