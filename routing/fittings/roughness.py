"""The roughness of the pipe along a line, aged and new."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.fittings.sizing_data import sizing
from routing.laid_line import LaidLine

__all__ = ["roughness_m", "roughness_new_m"]


def roughness_m(line: LaidLine) -> FloatArray:
    """Return the roughness of the aged pipe at each station, which makes times long [m]."""
    return _column(line, "roughness_m")


def roughness_new_m(line: LaidLine) -> FloatArray:
    """Return that of the new pipe, which makes flows of water and air large, (n,) [m]."""
    return _column(line, "roughness_new_m")


def _column(line: LaidLine, name: str) -> FloatArray:
    if line.schedule is None:
        # Without a pipe nothing but its size was assumed; taken as new plastic.
        return frozen(np.full(line.station_m.size, sizing().assumed_roughness_m))
    return frozen(line.schedule.per_station(line.station_m, name))
