"""What the laid line has within a crossing: least cover, greatest outside, whether it is a span."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray
from routing.laid_line import LaidLine
from routing.land.crossing import Crossing

__all__ = ["least_cover", "on_span", "outside_m"]


def _within(line: LaidLine, crossing: Crossing) -> FloatArray:
    """Return the stations of a crossing: its ends, its middle, and the line's own between."""
    station = line.station_m
    inside = station[(station > crossing.from_m) & (station < crossing.to_m)]
    ends = [crossing.from_m, crossing.at_m, crossing.to_m]
    return np.unique(np.concatenate([ends, inside]))


def least_cover(line: LaidLine, crossing: Crossing) -> tuple[float, float]:
    """Return the least cover within a crossing and its station [m].

    A pipe bridge has no cover: it counts only where there is nothing but bridge.
    """
    at = _within(line, crossing)
    cover = np.interp(at, line.station_m, line.cover_m)
    bridged = np.zeros(at.shape, dtype=bool)
    for span in line.pipe.spans:
        bridged |= (at >= span.from_m) & (at <= span.to_m)
    if not bridged.all():
        cover = np.where(bridged, np.inf, cover)
    least = int(np.argmin(cover))
    return float(cover[least]), float(at[least])


def outside_m(line: LaidLine, crossing: Crossing) -> float:
    """Return the greatest outside diameter of the pipe within a crossing [m]."""
    at = _within(line, crossing)
    index = np.clip(np.searchsorted(line.station_m, at, side="right") - 1, 0, None)
    return float(np.max(line.outside_diameter_m[index]))


def on_span(line: LaidLine, crossing: Crossing) -> bool:
    """Return whether the pipe runs above ground at the middle of a crossing."""
    return any(span.from_m <= crossing.at_m <= span.to_m for span in line.pipe.spans)
