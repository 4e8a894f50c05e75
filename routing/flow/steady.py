"""Steady flow along the line: velocity, losses and the hydraulic grade line."""

from __future__ import annotations

import math

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.errors import InputError
from routing.finding import Finding
from routing.flow.friction import LAMINAR_REYNOLDS, TURBULENT_REYNOLDS
from routing.flow.resistance import LineResistance, line_resistance
from routing.laid_line import LaidLine
from routing.pipe import PipeSchedule
from routing.value import dataclass

__all__ = ["FlowReach", "SteadyFlow", "steady_flow"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowReach:
    """The flow in one run of pipe; ``gradient`` is friction head per slope length."""

    from_m: float
    to_m: float
    velocity_m_s: float
    reynolds: float
    friction_factor: float
    friction_m: float
    gradient: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SteadyFlow:
    """A steady flow: arrays over stations (n,), reaches between joints, and the losses' sums.

    ``hydraulic_grade_m`` is the elevation to which water would rise in a tube on the pipe, so it
    leaves the velocity head out; ``flowing_head_m`` is its height above the centreline.
    """

    flow_m3_s: float
    hydraulic_grade_m: FloatArray
    flowing_head_m: FloatArray
    velocity_m_s: FloatArray
    reaches: tuple[FlowReach, ...]
    friction_m: float
    local_m: float
    entrance_m: float
    head_loss_m: float

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Return where the friction is uncertain."""
        return _transition_findings(self.reaches)


def steady_flow(line: LaidLine, flow_m3_s: float, new: bool = False) -> SteadyFlow:
    r"""Return the steady flow of a given amount from the intake's water down the line.

    .. math::
        \mathrm{HGL}(s) = z_0 - \sum h_f(s) - \sum K(s) \frac{V^2}{2 g} - \frac{V(s)^2}{2 g}

    Parameters
    ----------
    line : LaidLine
        The line as laid, with its pipes [-]
    flow_m3_s : float
        Flow, >= 0 [m3/s]
    new : bool
        Take the roughness of new pipe and not that of aged pipe [-]

    Returns
    -------
    flow : SteadyFlow
        Hydraulic grade line, heads, velocities, reaches and losses [m, m/s]; ``head_loss_m`` is
        friction + local + entrance and no exit velocity head

    Raises
    ------
    InputError
        If the flow is negative or not finite.
    PipeError
        If the line has no pipes.

    Notes
    -----
    Valid for: full, steady flow, whatever the outlet does: a flow that the line cannot carry shows
    as a grade line below the outlet. A loss at a station is counted in that station's own head,
    and a station at a joint has the velocity of the pipe below it.
    Checked by ``tests/reference/test_steady.py``.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 400.0, 800.0], [410.0, 380.0, 350.0], "PE100-SDR17-200",
    ...                    intake_m=411.0)
    >>> flow = steady_flow(line, 0.03)
    >>> flow.head_loss_m, flow.flowing_head_m
    (6.6145, array([ 0.8808, 27.5934, 54.306]))
    """
    if not (math.isfinite(flow_m3_s) and flow_m3_s >= 0.0):
        raise InputError(
            f"The design flow is {flow_m3_s:g} m3/s.",
            'Give a flow of zero or more, for example "18 L/s".',
        )
    resistance = line_resistance(line, new)
    factors, frictions = resistance.friction(flow_m3_s)
    square = flow_m3_s * flow_m3_s
    velocity = resistance.velocity_m_s(flow_m3_s)[line.run_index]
    lost = _lost_along(resistance, line.slope_station_m, frictions, square)
    grade = line.levels.intake_m - lost - velocity * velocity / (2.0 * line.water.gravity_m_s2)
    friction_m, local_m = float(frictions.sum()), resistance.local * square
    entrance_m = resistance.entrance * square
    return SteadyFlow(
        flow_m3_s=float(flow_m3_s),
        hydraulic_grade_m=frozen(grade),
        flowing_head_m=frozen(grade - line.pipe_m),
        velocity_m_s=frozen(velocity),
        reaches=_reaches(line.pipes, resistance, flow_m3_s, factors, frictions),
        friction_m=friction_m,
        local_m=local_m,
        entrance_m=entrance_m,
        head_loss_m=friction_m + local_m + entrance_m,
    )


def _lost_along(
    resistance: LineResistance, slope_station_m: FloatArray, frictions: FloatArray, square: float
) -> FloatArray:
    """Return the head lost from the intake's water to each station, (n,)."""
    by_reach = np.concatenate(([0.0], np.cumsum(frictions + resistance.spread * square)))
    lost = np.interp(slope_station_m, resistance.slope_bounds_m, by_reach)
    if len(resistance.point_index):
        at_station = np.bincount(
            resistance.point_index, weights=resistance.point, minlength=len(slope_station_m)
        )
        lost = lost + np.cumsum(at_station) * square
    return lost + resistance.entrance * square


def _reaches(
    schedule: PipeSchedule,
    resistance: LineResistance,
    flow_m3_s: float,
    factors: FloatArray,
    frictions: FloatArray,
) -> tuple[FlowReach, ...]:
    columns = (
        resistance.velocity_m_s(flow_m3_s),
        resistance.reynolds(flow_m3_s),
        factors,
        frictions,
        resistance.length_m,
    )
    return tuple(
        FlowReach(
            from_m=run.from_m,
            to_m=run.to_m,
            velocity_m_s=velocity,
            reynolds=reynolds,
            friction_factor=factor,
            friction_m=friction,
            gradient=friction / length,
        )
        for run, velocity, reynolds, factor, friction, length in zip(
            schedule.runs, *(column.tolist() for column in columns), strict=True
        )
    )


def _transition_findings(reaches: tuple[FlowReach, ...]) -> tuple[Finding, ...]:
    return tuple(
        Finding(
            code="transition_flow",
            severity="note",
            message=f"From {reach.from_m:.1f} m the flow is neither laminar nor turbulent "
            f"(Reynolds number {reach.reynolds:.0f}); its friction was interpolated and is "
            "uncertain. A smaller pipe, or more flow, would leave this range.",
            station_m=reach.from_m,
        )
        for reach in reaches
        if LAMINAR_REYNOLDS < reach.reynolds < TURBULENT_REYNOLDS
    )
