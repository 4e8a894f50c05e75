"""The most a line can carry."""

from __future__ import annotations

import math

from routing.arrays import FloatArray, IntArray
from routing.errors import InputError
from routing.flow.resistance import LineResistance, line_resistance
from routing.pipe import PipeSchedule
from routing.water import Water

__all__ = ["line_capacity_m3_s"]

RELATIVE_TOLERANCE = 1e-13
"""The bracket around the capacity is closed to this share of it [-]."""

MOST_STEPS = 200
"""Far more than the solver takes; bisection alone needs 60."""


def line_capacity_m3_s(
    *,
    gross_head_m: float,
    entrance_k: float,
    station_m: FloatArray,
    slope_station_m: FloatArray,
    schedule: PipeSchedule,
    water: Water,
    local_k: float | None = None,
    bend_index: IntArray | None = None,
    bend_k: FloatArray | None = None,
    new_pipe: bool = False,
) -> float:
    """Return the flow that loses the whole gross head on its way.

    Parameters
    ----------
    gross_head_m : float
        Fall from the intake's water to the outlet [m]
    entrance_k : float
        Loss coefficient of the intake and its screen, >= 0 [-]
    station_m : FloatArray
        Plan stations, (n,) strictly rising [m]
    slope_station_m : FloatArray
        Length along the pipe to each station, (n,) [m]
    schedule : PipeSchedule
        The pipes along the line [-]
    water : Water
        Gives viscosity and gravity [-]
    local_k : float, optional
        The user's own sum of all K along the line; None takes bends and changes of bore [-]
    bend_index : IntArray, optional
        Stations at which the pipe bends, (k,) indices [-]
    bend_k : FloatArray, optional
        Loss coefficient of each bend, (k,) [-]
    new_pipe : bool
        Take the roughness of new pipe and not that of aged pipe [-]

    Returns
    -------
    flow_m3_s : float
        Capacity; 0 where the line does not fall [m3/s]

    Raises
    ------
    InputError
        If the head is not finite or a loss coefficient is negative.

    Notes
    -----
    Valid for: a line that stays below its hydraulic grade line; a summit above it carries less.
    The velocity head with which the water leaves is not taken from the gross head.
    Checked by ``tests/reference/test_steady.py``.

    Examples
    --------
    >>> import numpy as np
    >>> from routing.water import water_at
    >>> from routing.pipe import load_catalogue, schedule_pipes
    >>> line = schedule_pipes([(0.0, load_catalogue().find("PE100-SDR17-200"))], 800.0)
    >>> ends = np.array([0.0, 800.0])
    >>> line_capacity_m3_s(gross_head_m=61.0, entrance_k=0.5, station_m=ends, slope_station_m=ends,
    ...                    schedule=line, water=water_at(10.0))
    0.096579
    """
    if not math.isfinite(gross_head_m):
        raise InputError(f"The gross head is {gross_head_m:g} m.", "Give finite levels.")
    if gross_head_m <= 0.0:
        return 0.0
    return flow_losing(
        gross_head_m,
        line_resistance(
            entrance_k=entrance_k,
            station_m=station_m,
            slope_station_m=slope_station_m,
            schedule=schedule,
            water=water,
            local_k=local_k,
            bend_index=bend_index,
            bend_k=bend_k,
            new_pipe=new_pipe,
        ),
    )


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
