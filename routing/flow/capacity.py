"""The most a line can carry."""

from __future__ import annotations

import math

from routing.errors import InputError
from routing.flow.resistance import LineResistance, line_resistance
from routing.laid_line import LaidLine

__all__ = ["line_capacity_m3_s"]

RELATIVE_TOLERANCE = 1e-13
"""The bracket around the capacity is closed to this share of it [-]."""

MOST_STEPS = 200
"""Far more than the solver takes; bisection alone needs 60."""


def line_capacity_m3_s(line: LaidLine, new: bool = False) -> float:
    """Return the flow that loses the whole gross head on its way.

    Parameters
    ----------
    line : LaidLine
        The line as laid, with its pipes [-]
    new : bool
        Take the roughness of new pipe and not that of aged pipe [-]

    Returns
    -------
    flow_m3_s : float
        Capacity; 0 where the line does not fall [m3/s]

    Raises
    ------
    InputError
        If the levels are not finite.
    PipeError
        If the line has no pipes.

    Notes
    -----
    Valid for: a line that stays below its hydraulic grade line; a summit above it carries less.
    The velocity head with which the water leaves is not taken from the gross head.
    Checked by ``tests/reference/test_steady.py``.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 800.0], [350.0, 350.0], "PE100-SDR17-200", intake_m=411.0)
    >>> line_capacity_m3_s(line)
    0.096579
    """
    if not math.isfinite(line.gross_head_m):
        raise InputError(f"The gross head is {line.gross_head_m:g} m.", "Give finite levels.")
    if line.gross_head_m <= 0.0:
        return 0.0
    return flow_losing(line.gross_head_m, line_resistance(line, new))


def flow_losing(head_m: float, resistance: LineResistance) -> float:
    """Return the flow whose head loss is ``head_m`` > 0, between bounds that close in on it."""
    low, high = 0.0, math.inf
    # A first guess: a friction factor of 0.02 everywhere.
    friction = 0.02 * resistance.length_m / (resistance.bore_m * resistance.area_m2**2)
    per_square = float(friction.sum()) / (2.0 * resistance.gravity_m_s2)
    flow = math.sqrt(head_m / (per_square + resistance.entrance + resistance.local))
    last_flow, last_loss, power = 0.0, 0.0, 1.9
    for _ in range(MOST_STEPS):
        loss = resistance.head_loss_m(flow)
        if loss < head_m:
            low = flow
        else:
            high = flow
        if abs(loss - head_m) <= RELATIVE_TOLERANCE * head_m:
            break
        # The loss is nearly a power of the flow: step along that power, as the last two tell it.
        if last_flow and loss != last_loss and flow != last_flow:
            power = math.log(loss / last_loss) / math.log(flow / last_flow)
        last_flow, last_loss = flow, loss
        step = flow * math.pow(head_m / loss, 1.0 / min(max(power, 0.9), 4.0))
        if not low < step < high:
            step = 2.0 * low if math.isinf(high) else 0.5 * (low + high)
        if abs(step - flow) <= RELATIVE_TOLERANCE * flow:
            return step
        flow = step
    return flow
