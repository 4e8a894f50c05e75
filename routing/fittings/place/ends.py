"""Which way the pipe runs where: at a valve, at both ends, beside a span."""

from __future__ import annotations

import numpy as np

from routing.arrays import BoolArray
from routing.laid_line import LaidLine

__all__ = ["falls_at", "falls_to_end", "near_span", "rises_from_intake"]


def near_span(line: LaidLine) -> BoolArray:
    """Return which stations lie above ground or next to one that does, (n,)."""
    inside = line.pipe.in_span
    near = inside.copy()
    near[1:] |= inside[:-1]
    near[:-1] |= inside[1:]
    return near


def falls_at(line: LaidLine, station_m: float) -> bool:
    """Return whether the pipe that arrives at a station falls, or lies level."""
    k = max(int(np.searchsorted(line.station_m, station_m, side="left")), 1)
    return bool(line.pipe_m[k] <= line.pipe_m[k - 1])


def falls_to_end(line: LaidLine) -> bool:
    """Return whether the last limb falls, so that the end of the line is a low point."""
    summits, sags = line.pipe.summits, line.pipe.sags
    if summits.size or sags.size:
        return int(summits.max(initial=-1)) > int(sags.max(initial=-1))
    return bool(line.pipe_m[-1] <= line.pipe_m[0])


def rises_from_intake(line: LaidLine) -> bool:
    """Return whether the first limb rises, so that the intake end of the line is a low point."""
    summits, sags, last = line.pipe.summits, line.pipe.sags, line.station_m.size
    if summits.size or sags.size:
        return int(summits.min(initial=last)) < int(sags.min(initial=last))
    return bool(line.pipe_m[0] < line.pipe_m[-1])
