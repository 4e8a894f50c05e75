"""The limbs of pipe that run to a drain, and the air that they draw in while they empty."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from routing.arrays import FloatArray
from routing.fittings.size.limb import Limb, drain_constant, make_limb, with_friction
from routing.fittings.sizing_data import sizing
from routing.fittings.trade_data import limits
from routing.laid_line import LaidLine

__all__ = ["DrainedLimb", "draining_air_m3_s", "levels_of", "line_limb"]

_FIRST_FRICTION = 0.02
"""Darcy's factor from which the flow is taken at which the factors themselves are found [-]."""


class DrainedLimb(NamedTuple):
    """One limb with its friction in aged and in new pipe, and between which stations it runs."""

    drain_id: str
    low_m: float
    far_m: float
    aged: Limb
    new: Limb


def line_limb(
    line: LaidLine, low_m: float, far_m: float, drain: float, roughness: FloatArray
) -> Limb:
    """Return the pipe from a drain to the far end of its limb, as laid.

    ``drain`` is the drain's constant; friction is that of half the greatest flow.
    """
    own = line.station_m
    start, end = min(low_m, far_m), max(low_m, far_m)
    node = np.concatenate(([start], own[(own > start) & (own < end)], [end]))
    slope = np.interp(node, own, line.slope_station_m)
    pipe = np.interp(node, own, line.pipe_m)
    run = np.searchsorted(own, node[:-1], side="right") - 1
    bore, rough = line.inside_diameter_m[run], roughness[run]
    if far_m < low_m:
        slope, pipe, bore, rough = slope[::-1], pipe[::-1], bore[::-1], rough[::-1]
    # The drain leaves the bottom of the pipe, so that a level stretch empties too.
    head = np.maximum(pipe - pipe[0], 0.0) + 0.5 * bore[0]
    gravity = line.water.gravity_m_s2
    limb = make_limb(
        length_m=np.abs(slope - slope[0]),
        head_m=head,
        bore_m=bore,
        friction=np.full(bore.size, _FIRST_FRICTION),
        gravity_m_s2=gravity,
    )
    return with_friction(
        limb,
        roughness_m=rough,
        flow_m3_s=0.5 * limb.most_m3_s(0.0, float(limb.length_m[-1]), drain),
        kinematic_viscosity_m2_s=line.water.kinematic_viscosity_m2_s,
        gravity_m_s2=gravity,
    )


def draining_air_m3_s(
    line: LaidLine,
    limbs: Sequence[DrainedLimb],
    bores_m: Mapping[str, float],
    station_m: float,
    vents_m: Sequence[float],
) -> float:
    """Return the air [m3/s] that a vent must let in while the drains beside it run wide open.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    limbs : sequence of DrainedLimb
        Limbs that run to the drains
    bores_m : mapping of str to float
        Bore of each drain by its id [m]
    station_m : float
        Station that the vent serves [m]
    vents_m : sequence of float
        Stations that all vents serve [m]

    Returns
    -------
    air_m3_s : float
        Free air [m3/s]

    Notes
    -----
    On each limb that passes the vent the water stands at the vent or below, down to the next vent;
    at a summit both limbs may be drained at once, and their flows add up.
    """
    total, reach = 0.0, limits().same_place_m
    for limb in limbs:
        start, end = min(limb.low_m, limb.far_m), max(limb.low_m, limb.far_m)
        at_low = abs(station_m - limb.low_m) < reach
        if at_low or not start - reach < station_m < end + reach:
            continue
        gravity = line.water.gravity_m_s2
        constant = drain_constant(bores_m[limb.drain_id], sizing().drain_cd, gravity)
        levels = levels_of(line, limb.low_m, station_m, vents_m)
        total += limb.new.most_m3_s(*levels, constant)
    return total


def levels_of(
    line: LaidLine, low_m: float, station_m: float, vents_m: Sequence[float]
) -> tuple[float, float]:
    """Return the lengths [m] from a drain of the next vent below one at a station, and its own.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    low_m : float
        Station of the drain [m]
    station_m : float
        Station of the vent [m]
    vents_m : sequence of float
        Stations of all vents [m]

    Returns
    -------
    lengths_m : tuple of float
        Lengths along the slope from the drain [m]
    """
    reach = limits().same_place_m
    low, high = min(low_m, station_m) + reach, max(low_m, station_m) - reach
    nearer = [vent for vent in vents_m if low < vent < high]
    ends = [min(nearer, key=lambda at: abs(at - station_m), default=low_m), station_m]
    slope = np.interp([low_m, *ends], line.station_m, line.slope_station_m)
    below, own = np.abs(slope[1:] - slope[0]).tolist()
    return below, own
