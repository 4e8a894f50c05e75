"""What a flow loses down to each gauge: the table from which a field sheet tells what is wrong."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.flow import line_capacity_m3_s, steady_flow
from routing.laid_line import LaidLine
from routing.value import dataclass
from routing.works.causes import PLACES, Limb, falling_limbs_of
from routing.works.gauge import Tap

__all__ = ["LossTable", "loss_table"]

ROWS = 48
"""Flows of the table, closer together where they are small [-]."""
MOST_RUNNING = 1.4
"""Flow with the outlet open over the design flow, the most that is looked for [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LossTable:
    """Losses by flow (f,) and place (p,): places of a leak first, then the gauge taps.

    ``lost_m`` (f, p) is the head lost down to a place without the velocity head, ``area_m2`` and
    ``static_m`` (p,) bore area and head at rest there; ``limbs`` are those that may hold air.
    """

    flow_m3_s: FloatArray
    at_m: FloatArray
    lost_m: FloatArray
    area_m2: FloatArray
    static_m: FloatArray
    limbs: tuple[Limb, ...]

    def __post_init__(self) -> None:
        for name in ("flow_m3_s", "at_m", "lost_m", "area_m2", "static_m"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


def loss_table(line: LaidLine, taps: Sequence[Tap], design_m3_s: float | None) -> LossTable:
    """Return the table of losses of a line with its gauge taps, in aged pipe.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    taps : sequence of Tap
        Its gauge taps
    design_m3_s : float or None
        Design flow [m3/s]

    Returns
    -------
    table : LossTable
        From no flow to twice what the line can carry and what runs besides
    """
    most = 2.0 * line_capacity_m3_s(line) + MOST_RUNNING * (design_m3_s or 0.0)
    flows = most * np.linspace(0.0, 1.0, ROWS) ** 1.5
    station = line.station_m
    leaks = np.linspace(0.0, float(station[-1]), PLACES + 1)[1:]
    at = np.concatenate([leaks, [tap.station_m for tap in taps]])
    lost = np.empty((ROWS, at.size))
    for number, flow in enumerate(flows):
        steady = steady_flow(line, float(flow))
        speed = steady.velocity_m_s**2 / (2.0 * line.water.gravity_m_s2)
        total = line.levels.intake_m - steady.hydraulic_grade_m - speed
        lost[number] = np.interp(at, station, total)
    return LossTable(
        flow_m3_s=flows,
        at_m=at,
        lost_m=lost,
        area_m2=np.interp(at, station, 0.25 * np.pi * line.inside_diameter_m**2),
        static_m=np.interp(at, station, line.static_head_m),
        limbs=falling_limbs_of(line),
    )
