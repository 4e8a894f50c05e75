"""How high and how far vents throw water while a line fills, and when one is opened under head."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from routing.fittings import Vent
from routing.laid_line import LaidLine
from routing.need import need

__all__ = ["Spout", "spout_m", "spouts_of"]


class Spout(NamedTuple):
    """What one vent throws: speed of its air, height and reach of water in it; under full head."""

    vent_id: str
    station_m: float
    air_m_s: float
    height_m: float
    reach_m: float
    full_height_m: float
    full_reach_m: float


def spout_m(speed_m_s: float, gravity_m_s2: float = 9.80665) -> tuple[float, float]:
    r"""Return how high and how far water thrown at a speed can fly [1]_.

    .. math::
        h = \frac{v^2}{2 g}, \qquad r = \frac{v^2}{g}

    Parameters
    ----------
    speed_m_s : float
        Speed at which it leaves, >= 0 [m/s]
    gravity_m_s2 : float
        Acceleration of gravity, > 0 [m/s2]

    Returns
    -------
    height_m, reach_m : float
        Straight up, and level ground reached at 45 degrees [m]

    Notes
    -----
    Without the drag of the air, so nothing flies farther. Checked by
    ``tests/routing/works/test_spouts.py``.

    Examples
    --------
    >>> height, reach = spout_m(14.0)
    >>> round(height, 2), round(reach, 2)
    (9.99, 19.99)

    References
    ----------
    .. [1] Flight of a projectile, any textbook of mechanics.
    """
    need("The speed", speed_m_s, least=0.0)
    return speed_m_s**2 / (2.0 * gravity_m_s2), speed_m_s**2 / gravity_m_s2


def spouts_of(line: LaidLine, vents: Sequence[Vent], rate_m3_s: float) -> tuple[Spout, ...]:
    """Return what each sized vent throws while a line fills at a rate, and under its full head.

    Parameters
    ----------
    line : LaidLine
        The line
    vents : sequence of Vent
        Its sized vents
    rate_m3_s : float
        Rate of filling: as much air leaves [m3/s]

    Returns
    -------
    spouts : tuple of Spout
        In the order of the vents

    Notes
    -----
    Water goes with the air at the air's speed at most. A vent opened while the head at rest stands
    over it throws as Torricelli has it: as high as that head, twice as far. Gulps of trapped air
    that comes out under pressure lie between the two.
    """
    found = []
    for vent in vents:
        speed = rate_m3_s / (0.25 * math.pi * vent.size_m**2)
        height, reach = spout_m(speed, line.water.gravity_m_s2)
        head = max(float(np.interp(vent.station_m, line.station_m, line.static_head_m)), 0.0)
        found.append(Spout(vent.id, vent.station_m, speed, height, reach, head, 2.0 * head))
    return tuple(found)
