"""How far a drain's valve is turned for a share of its flow: by a wheel, or by a lever."""

from __future__ import annotations

import math
from bisect import bisect_left
from functools import cache
from typing import NamedTuple

from routing.need import need
from routing.trade_table import trade_table
from routing.works.trade_data import number

__all__ = ["Turning", "ball_angle_deg", "gate_travel", "turning_of"]

STEPS = 50
"""Halvings in which a travel is found [-]."""


class Turning(NamedTuple):
    """How a valve is opened: turns of a gate's wheel, or degrees of a ball's lever; of how many."""

    valve: str
    turns: float | None
    full_turns: float | None
    angle_deg: float | None


def gate_travel(share: float) -> float:
    r"""Return how far a gate is lifted, of its whole lift, for a share of the open area.

    .. math::
        x = 1 - \frac{2}{\pi} \left(\arccos s - s \sqrt{1 - s^2}\right)

    Parameters
    ----------
    share : float
        Share of the bore's area that is open, 0 <= x <= 1 [-]

    Returns
    -------
    travel : float
        Lift over the bore, s, from 0 shut to 1 open [-]

    Raises
    ------
    InputError
        If the share is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: a round gate that slides off a round bore of its size. Checked by
    ``tests/reference/test_turning.py``.

    Examples
    --------
    >>> round(gate_travel(0.5), 3)
    0.404

    References
    ----------
    .. [1] Area that two equal circles have in common, any handbook of geometry.
    """
    need("The share of the area", share, least=0.0, most=1.0)
    low, high = 0.0, 1.0
    for _ in range(STEPS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if 1.0 - _lens(middle) < share else (low, middle)
    return high if share > 0.0 else 0.0


def ball_angle_deg(share: float) -> float:
    r"""Return how far the lever of a ball valve is turned from shut for a share of its flow.

    .. math::
        x = \frac{1}{\sqrt{2 / a^2 - 1}}, \qquad
        a = \frac{1 + \cos\theta}{\pi} \left(\arccos t - t \sqrt{1 - t^2}\right), \qquad
        t = \tan\frac{\theta}{2}, \qquad \varphi = 90^\circ - \theta

    Parameters
    ----------
    share : float
        Share of the flow under the same head, or of the area of an orifice that passes it,
        0 <= x <= 1 [-]

    Returns
    -------
    angle_deg : float
        From 0 shut to 90 open [deg]

    Raises
    ------
    InputError
        If the share is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: a bore as wide as the pipe in a ball whose mouths stand at 45 degrees; water passes
    the mouths one after the other, each open by a. Checked by ``tests/reference/test_turning.py``.

    Examples
    --------
    >>> round(ball_angle_deg(0.3))
    44

    References
    ----------
    .. [1] Geometry of two circles on a sphere, seen along the pipe; two losses in a row.
    """
    need("The share of the flow", share, least=0.0, most=1.0)
    low, high = 0.0, 90.0
    for _ in range(STEPS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _ball_share(middle) < share else (low, middle)
    return high if share > 0.0 else 0.0


def turning_of(bore_m: float, share: float) -> Turning:
    """Return how the valve of a drain is opened to a share of its area.

    Parameters
    ----------
    bore_m : float
        Bore of the drain, > 0 [m]
    share : float
        Share of its area, 0 to 1 [-]

    Returns
    -------
    turning : Turning
        A ball with a lever up to ``ball_most_m`` of bore, above that a gate with a wheel, whose
        turns ``data/gate_turns.csv`` has by size

    Notes
    -----
    Valves differ from maker to maker: whoever turns one counts its turns first.

    References
    ----------
    .. [1] Turns by size: municipal gate valves, three an inch and two more, from memory.
    """
    need("The bore", bore_m, above=0.0)
    if bore_m <= number("ball_most_m") + 1e-9:
        return Turning("ball", None, None, ball_angle_deg(share))
    bores, turns = _gate_turns()
    full = turns[min(bisect_left(bores, bore_m - 1e-9), len(bores) - 1)]
    return Turning("gate", gate_travel(share) * full, full, None)


def _lens(apart: float) -> float:
    """Return what two circles have in common, their centres so many diameters apart, of one [-]."""
    return (2.0 / math.pi) * (math.acos(apart) - apart * math.sqrt(1.0 - apart * apart))


def _ball_share(angle_deg: float) -> float:
    turned = math.radians(90.0 - angle_deg)
    t = min(math.tan(0.5 * turned), 1.0)
    mouth = (1.0 + math.cos(turned)) / math.pi * (math.acos(t) - t * math.sqrt(1.0 - t * t))
    return 0.0 if mouth <= 0.0 else 1.0 / math.sqrt(2.0 / mouth**2 - 1.0)


@cache
def _gate_turns() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return bores of gate valves [m], rising, and the turns that open each."""
    rows = trade_table(__file__, "gate_turns.csv")
    return tuple(1e-3 * float(r["bore_mm"]) for r in rows), tuple(float(r["turns"]) for r in rows)
