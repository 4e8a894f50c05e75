"""What every gauge should show at rest and running: the table that faults are looked for in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from routing.flow import steady_flow
from routing.laid_line import LaidLine
from routing.works.gauge import Tap

__all__ = ["SHARES", "Expected", "expected_readings"]

SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Shares of the design flow at which readings are told [-]."""


class Expected(NamedTuple):
    """What the gauge at one tap should show at a flow, and within what it agrees [Pa]."""

    tap: Tap
    flow_m3_s: float
    gauge_pa: float
    tolerance_pa: float


def expected_readings(
    line: LaidLine, taps: Sequence[Tap], design_m3_s: float | None
) -> tuple[Expected, ...]:
    """Return what each gauge should show at 0, 25, 50, 75 and 100 % of the design flow.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    taps : sequence of Tap
        Its gauge taps
    design_m3_s : float or None
        Design flow; None gives the readings at rest alone [m3/s]

    Returns
    -------
    readings : tuple of Expected
        By flow, then by tap; in aged pipe

    Notes
    -----
    A gauge shows what is left of the head without the velocity head. Checked by
    ``tests/routing/works/test_diagnose.py``.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> from routing.works.gauge import place_taps
    >>> line = simple_line([0.0, 800.0], [410.0, 350.0], "PE100-SDR17-200", intake_m=411.0)
    >>> found = expected_readings(line, place_taps(line), 0.02)
    >>> [round(each.gauge_pa / 1e3) for each in found if each.tap.place == "powerhouse"]
    [598, 596, 589, 580, 567]

    References
    ----------
    .. [1] As :func:`routing.flow.steady_flow`.
    """
    weight = line.water.weight_n_m3
    found = []
    for share in SHARES if design_m3_s else SHARES[:1]:
        flow = share * (design_m3_s or 0.0)
        grade = steady_flow(line, flow).hydraulic_grade_m
        for tap in taps:
            head = float(np.interp(tap.station_m, line.station_m, grade)) - tap.level_m
            gauge = max(head, 0.0) * weight
            found.append(Expected(tap, flow, gauge, tap.tolerance_pa(weight)))
    return tuple(found)
