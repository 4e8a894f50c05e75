"""What a line loses without one of its vents: air that gathers, head, vacuum on a break."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.fittings.air_carry import carrying_velocity_m_s, carrying_velocity_sanks_m_s
from routing.fittings.place.grades import GradeChange
from routing.fittings.vacuum import allowed_vacuum
from routing.flow import atmosphere_pa
from routing.laid_line import LaidLine

__all__ = ["break_vacuum_m", "gathered_air", "vacuum_without"]


def break_vacuum_m(head_m: FloatArray, resistance: FloatArray, at: int) -> float:
    r"""Return the vacuum that a full break draws at a place between two vents.

    .. math::
        h = \max_b \left[ z_c - z_u + (z_u - z_b) \frac{R_c - R_u}{R_b - R_u} \right]

    Parameters
    ----------
    head_m : FloatArray
        Elevation z of the pipe from one vent, u, to the other, (k,) [m]
    resistance : FloatArray
        Head lost from u over the flow squared, R, rising from 0, (k,); any common factor [-]
    at : int
        Index of the place c, 0 < c < k - 1 [-]

    Returns
    -------
    vacuum_m : float
        Water column below the pressure of the air, >= 0 [m]

    Notes
    -----
    Valid for: a pipe cut off at one place b beyond c with both ends of the stretch open to the air,
    steady flow: the hydraulic grade line is then straight in R from the upper vent to the break.
    The break may be on either side; the worse one counts. Kinetic head and the mouth's loss are
    left out, which errs on the wide side. Checked by ``tests/routing/fittings/test_lost.py``.

    Examples
    --------
    >>> z, r = np.array([50.0, 48.0, 18.0]), np.array([0.0, 100.0, 200.0])
    >>> break_vacuum_m(z, r, 1)
    14.0

    References
    ----------
    .. [1] Darcy and Weisbach; the grade line of a uniform pipe is straight along it.
    """
    ways = ((head_m, resistance, at), (head_m[::-1], resistance[-1] - resistance[::-1], -1 - at))
    most = 0.0
    for z, r, c in ways:
        c %= z.size
        beyond = slice(c + 1, None)
        grade = (z[0] - z[beyond]) / r[beyond]
        # Water runs to the break only where that lies lower than the vent it comes from.
        lower = grade > 0.0
        if lower.any():
            most = max(most, float(np.max((z[c] - z[0] + grade * r[c])[lower])))
    return most


def _resistance(line: LaidLine) -> FloatArray:
    """Return length over the fifth power of the bore, summed from the intake, (n,)."""
    step = np.diff(line.slope_station_m) / line.inside_diameter_m[:-1] ** 5
    return frozen(np.concatenate(([0.0], np.cumsum(step))))


def vacuum_without(line: LaidLine, at_m: float, others_m: Sequence[float]) -> tuple[float, float]:
    """Return the vacuum that a full break would draw at a place without a vent there.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    at_m : float
        Station of the place [m]
    others_m : sequence of float
        Stations of the vents that stay, rising; the intake's water counts as one [m]

    Returns
    -------
    vacuum_pa, allowed_pa : float
        The vacuum, which ends at that of the air itself, and what the pipe there stands [Pa]
    """
    station = line.station_m
    above, below = bisect_left(others_m, at_m - 1e-6), bisect_right(others_m, at_m + 1e-6)
    start = others_m[above - 1] if above > 0 else float(station[0])
    end = others_m[below] if below < len(others_m) else float(station[-1])
    allowed = allowed_vacuum(line, start, end).vacuum_pa
    if not start < at_m < end:
        return 0.0, allowed
    cuts = np.array([start, at_m, end])
    first, upper = np.searchsorted(station, cuts[:2], side="right")
    lower, last = np.searchsorted(station, cuts[1:], side="left")
    columns = []
    for values in (line.pipe_m, line.once(_resistance)):
        from_, own, to = np.interp(cuts, station, values)
        columns.append(
            np.concatenate(([from_], values[first:lower], [own], values[upper:last], [to]))
        )
    level, resistance = columns
    at = 1 + int(lower - first)
    drawn = break_vacuum_m(level, resistance - resistance[0], at) * line.water.weight_n_m3
    air = float(atmosphere_pa(float(level[at])))
    return min(drawn, air), allowed


def gathered_air(
    line: LaidLine, change: GradeChange, flow_m3_s: float | None, until_m: float
) -> tuple[float, float]:
    """Return the air that flow may carry to a change of grade and no further, and its head.

    Parameters
    ----------
    line : LaidLine
        The line with its pipes
    change : GradeChange
        The change of grade
    flow_m3_s : float or None
        Design flow; None where there is none [m3/s]
    until_m : float
        Station of the next vent below [m]

    Returns
    -------
    air : tuple of float
        Air that may gather [m3] and head that it may hold back [m]

    Notes
    -----
    Air comes where the flow is faster than the slower of two formulas asks on the reach before,
    and stays where it is slower than the faster one asks on the reach after. It may then fill that
    reach, as far as the next vent, and hold back its whole fall; both are the most that can be.
    Zero without a flow.
    """
    if not flow_m3_s or change.grade_after >= 0.0 or change.grade_before > 0.0:
        return 0.0, 0.0
    bore = float(line.inside_diameter_m[change.at])
    velocity = flow_m3_s / (0.25 * math.pi * bore * bore)
    come = min(_carrying(line, bore, change.grade_before))
    stay = max(_carrying(line, bore, change.grade_after))
    if not come <= velocity < stay:
        return 0.0, 0.0
    last = min(until_m, float(line.station_m[change.to]))
    at = float(line.station_m[change.at])
    if last <= at:
        return 0.0, 0.0
    ends = np.interp([at, last], line.station_m, line.slope_station_m)
    fall = np.interp([at, last], line.station_m, line.pipe_m)
    return 0.25 * math.pi * bore * bore * float(ends[1] - ends[0]), float(fall[0] - fall[1])


def _carrying(line: LaidLine, bore_m: float, grade: float) -> tuple[float, float]:
    angle, gravity = math.atan(max(-grade, 0.0)), line.water.gravity_m_s2
    return (
        carrying_velocity_m_s(inside_diameter_m=bore_m, angle_rad=angle, gravity_m_s2=gravity),
        carrying_velocity_sanks_m_s(
            inside_diameter_m=bore_m, angle_rad=angle, gravity_m_s2=gravity
        ),
    )
