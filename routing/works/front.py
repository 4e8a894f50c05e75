"""The water front while a line is filled: what a reading at the outlet tells of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from routing.errors import InputError
from routing.laid_line import LaidLine
from routing.works.basins import Stage, fill_stages, pool_volume_m3

__all__ = ["WaterFront", "front_table", "water_front"]

ROWS = 64
"""Rows of the table of fronts, even in level; between them it is read straight [-]."""


class WaterFront(NamedTuple):
    """Where the water that stands over the end of the line reaches up to: station, level [m].

    ``volume_m3`` is what the whole line holds then.
    """

    station_m: float
    level_m: float
    volume_m3: float


def water_front(line: LaidLine, gauge_pa: float) -> WaterFront:
    r"""Return the water front that a reading at the outlet tells, while the line is being filled.

    .. math::
        z = z_\mathrm{gauge} + \frac{p}{\rho g}

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    gauge_pa : float
        Pressure at the outlet, >= 0 [Pa]

    Returns
    -------
    front : WaterFront
        Station to which the water reaches up from the end, its level, water in the line

    Raises
    ------
    InputError
        If the reading is below zero or above what the intake's water can give.

    Notes
    -----
    Valid for: no air trapped below the front; a gauge that shows more than the metered volume
    says presses on trapped air. The inverse of :func:`fill_line`.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 800.0], [410.0, 350.0], "PE100-SDR17-200", intake_m=411.0)
    >>> round(water_front(line, 30.0 * line.water.weight_n_m3).station_m, 3)
    400.0

    References
    ----------
    .. [1] Water at rest.
    """
    level = line.levels.outlet_m + gauge_pa / line.water.weight_n_m3
    top = line.levels.intake_m
    if not (math.isfinite(gauge_pa) and gauge_pa >= 0.0 and level <= top + 1e-6):
        most = (top - line.levels.outlet_m) * line.water.weight_n_m3 / 1e3
        raise InputError(
            f"The gauge at the outlet shows {gauge_pa / 1e3:g} kPa, but water from the intake can "
            f"give 0 to {most:.0f} kPa there.",
            "Check the gauge's zero, its unit and the level at which it stands.",
        )
    return _front(line, fill_stages(line), level)


def front_table(line: LaidLine) -> tuple[WaterFront, ...]:
    """Return the water front at even levels from the outlet to the intake's water, lowest first."""
    stages = fill_stages(line)
    levels = np.linspace(line.levels.outlet_m, line.levels.intake_m, ROWS)
    return tuple(_front(line, stages, level) for level in levels.tolist())


def _front(line: LaidLine, stages: Sequence[Stage], level: float) -> WaterFront:
    z, end = line.pipe_m, line.station_m.size - 1
    held = 0.0
    for stage in stages:
        held = stage.after_m3
        if stage.last == end and stage.before_m <= level <= stage.level_m:
            risen = pool_volume_m3(line, stage.first, end, level)
            risen -= pool_volume_m3(line, stage.first, end, stage.before_m)
            held = stage.before_m3 + risen
            break
    above = np.flatnonzero(z[:-1] > level)
    if not above.size:
        return WaterFront(0.0, level, held)
    last = int(above[-1])
    share = (z[last] - level) / (z[last] - z[last + 1]) if z[last + 1] < level else 1.0
    station = line.station_m[last] + share * (line.station_m[last + 1] - line.station_m[last])
    return WaterFront(float(station), level, held)
