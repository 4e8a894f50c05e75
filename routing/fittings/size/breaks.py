"""What leaves a broken pipe: the full-bore flow down the reaches below a vent."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from routing.fittings.roughness import roughness_new_m
from routing.fittings.simplify import simplified, simplify_tolerance
from routing.fittings.trade_data import limits
from routing.flow import flow_for_gradient
from routing.laid_line import LaidLine
from routing.value import dataclass

__all__ = ["FallingLimb", "Reach", "break_flow_m3_s", "falling_limbs", "limbs_at"]


class Reach(NamedTuple):
    """A stretch of even slope: its stations [m], their indices, sine, full-bore flow and bore."""

    from_m: float
    to_m: float
    first: int
    last: int
    sine: float
    flow_m3_s: float
    bore_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FallingLimb:
    """The pipe from one high point to the low point beside it, in simplified reaches."""

    high_m: float
    low_m: float
    low_level_m: float
    reaches: tuple[Reach, ...]

    @property
    def from_m(self) -> float:
        """Station at which the limb starts, whichever end that is [m]."""
        return min(self.high_m, self.low_m)

    @property
    def to_m(self) -> float:
        """Station at which the limb ends [m]."""
        return max(self.high_m, self.low_m)


def falling_limbs(line: LaidLine, rmse_m: float | None) -> tuple[FallingLimb, ...]:
    """Return the limbs of a line, each between a high and a low point of the pipe.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    rmse_m : float or None
        Stated error of the elevations, by which the pipe is simplified [m]

    Returns
    -------
    limbs : tuple of FallingLimb
        In order of station, with the flow that each reach would carry full and unpressed

    Notes
    -----
    The pipe is simplified as for the placing of vents. The flow of a reach is that of new pipe,
    whose smoothness makes it large; of several pipes in one reach the greatest flow counts.

    References
    ----------
    .. [1] As :func:`routing.flow.flow_for_gradient`.
    """
    turns = np.concatenate(([0], line.pipe.summits, line.pipe.sags, [line.station_m.size - 1]))
    ends = np.unique(turns).astype(np.int64)
    nodes = simplified(line.station_m, line.pipe_m, ends, simplify_tolerance(rmse_m))
    limbs = []
    for a, b in zip(ends[:-1].tolist(), ends[1:].tolist(), strict=True):
        own = nodes[(nodes >= a) & (nodes <= b)].tolist()
        high, low = (a, b) if line.pipe_m[a] >= line.pipe_m[b] else (b, a)
        limbs.append(
            FallingLimb(
                high_m=float(line.station_m[high]),
                low_m=float(line.station_m[low]),
                low_level_m=float(line.pipe_m[low]),
                reaches=tuple(_reach(line, start, end) for start, end in pairwise(own)),
            )
        )
    return tuple(limbs)


def _reach(line: LaidLine, first: int, last: int) -> Reach:
    length = float(line.slope_station_m[last] - line.slope_station_m[first])
    sine = abs(float(line.pipe_m[last] - line.pipe_m[first])) / length
    pipes = zip(
        line.inside_diameter_m[first:last].tolist(),
        line.once(roughness_new_m)[first:last].tolist(),
        strict=True,
    )
    flow, bore = max(
        (
            flow_for_gradient(
                gradient=sine,
                inside_diameter_m=bore,
                roughness_m=roughness,
                kinematic_viscosity_m2_s=line.water.kinematic_viscosity_m2_s,
                gravity_m_s2=line.water.gravity_m_s2,
            ),
            bore,
        )
        for bore, roughness in set(pipes)
    )
    start, end = float(line.station_m[first]), float(line.station_m[last])
    return Reach(start, end, first, last, sine, flow, bore)


def limbs_at(limbs: tuple[FallingLimb, ...], station_m: float) -> list[FallingLimb]:
    """Return the limbs that start at or pass a station, not those whose low point it is."""
    reach = limits().same_place_m
    return [
        limb
        for limb in limbs
        if limb.from_m - reach < station_m < limb.to_m + reach
        and abs(station_m - limb.low_m) >= reach
    ]


def break_flow_m3_s(line: LaidLine, limbs: tuple[FallingLimb, ...], station_m: float) -> float:
    """Return the greatest flow [m3/s] through a break anywhere below a vent.

    Parameters
    ----------
    line : LaidLine
        The line
    limbs : tuple of FallingLimb
        Its limbs
    station_m : float
        Station of the vent [m]

    Returns
    -------
    flow_m3_s : float
        Flow through the break [m3/s]

    Notes
    -----
    It is the full-bore flow down the steepest reach below, and never more than the fall from the
    vent to the low point could drive without friction.
    """
    top = float(np.interp(station_m, line.station_m, line.pipe_m))
    most = 0.0
    for limb in limbs_at(limbs, station_m):
        fall = max(top - limb.low_level_m, 0.0)
        free = math.sqrt(2.0 * line.water.gravity_m_s2 * fall)
        start, end = min(station_m, limb.low_m), max(station_m, limb.low_m)
        for reach in limb.reaches:
            if reach.to_m > start and reach.from_m < end:
                area = 0.25 * math.pi * reach.bore_m * reach.bore_m
                most = max(most, min(reach.flow_m3_s, area * free))
    return most
