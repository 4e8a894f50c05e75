"""Breaks of grade: curved by the pipe itself or made of a fitting, and where a curve then lies."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

import numpy as np

from routing.anchors.curve import check_curves, pipe_radius_m
from routing.anchors.given import pipe_at
from routing.anchors.requirements import asked
from routing.check import Check
from routing.laid_line import LaidLine
from routing.need import need
from routing.trench import Corridor, build_corridor
from routing.value import dataclass

__all__ = ["GradeBreak", "arc_departure_m", "arc_moves_m", "check_breaks", "judge_arcs"]

WIDER = 2.0
"""How much wider than the pipe may bend a turn in plan is laid to spare the grade [-]: the grade
then has 0.87 of the pipe's curvature (our own choice)."""


def arc_departure_m(radius_m: float, deflection_deg: float) -> float:
    r"""Return how far the middle of an arc lies from the corner that it rounds.

    .. math::
        e = R \left(\frac{1}{\cos(\theta/2)} - 1\right)

    Parameters
    ----------
    radius_m : float
        Radius of the arc, >= 0 [m]
    deflection_deg : float
        Change of direction, 0 to below 180 [deg]

    Returns
    -------
    departure_m : float
        Distance from the corner to the arc [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: an arc that touches both legs.
    Checked by ``tests/reference/test_joints.py``.

    Examples
    --------
    >>> arc_departure_m(6.8, 20.0)
    0.105

    References
    ----------
    .. [1] Geometry of a circle and its tangents.
    """
    need("The radius", radius_m, least=0.0, unit="m")
    need("The deflection of a bend", deflection_deg, least=0.0, below=180.0, unit="degrees")
    return radius_m * (1.0 / math.cos(math.radians(deflection_deg) / 2.0) - 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeBreak:
    """How the pipe turns where one straight ends and the next begins.

    ``radius_m`` is the least that it may be bent to there, None at a fitting or a single joint.
    Where the line turns in plan at the same place and one sharp arc would leave the trench, the
    turn in plan is laid to the wider ``plan_radius_m``, and ``radius_m`` is that of the grades.
    ``rises_m`` is how far the arc lies above the corner, below it negative, and ``outside_m`` how
    far above the least cover or below the greatest depth that is at the worst [m].
    """

    index: int
    station_m: float
    made_as: Literal["curve", "fitting"]
    radius_m: float | None
    plan_radius_m: float | None = None
    rises_m: float = 0.0
    outside_m: float = 0.0


def check_breaks(line: LaidLine) -> tuple[GradeBreak, ...]:
    """Return how each break of grade is made, in order, and whether its arc keeps the trench.

    Turns of the line are as :func:`~routing.anchors.curve.check_curves` judges them; the slighter
    ones are left to the pipe. A fused pipe is taken to be bent as sharply as it may be, which keeps
    it nearest to the corner. Where that leaves the trench and the line turns in plan as well, the
    trench is dug to a wider arc in plan, and most of what the pipe may bend is left to the grade:
    curvatures across and upright add as the sides of a right angle.
    """
    return line.once(_breaks)


def judge_arcs(line: LaidLine) -> tuple[Check, ...]:
    """Return the check of the arc that leaves the trench's limits most; none without an arc."""
    arcs = [each for each in check_breaks(line) if each.radius_m is not None]
    if not arcs:
        return ()
    row = asked("arc")
    worst = max(arcs, key=lambda each: each.outside_m)
    count = sum(each.outside_m > (row.limit or 0.0) for each in arcs)
    more = f" and {count - 1} more breaks" if count > 1 else ""
    what = "above the least cover" if worst.rises_m > 0.0 else "below the greatest depth"
    return (
        row.judge(
            worst.outside_m,
            f"At station {worst.station_m:.1f} m{more} the pipe, bent to {worst.radius_m:.1f} m, "
            f"leaves the corner of the grades by {1000.0 * abs(worst.rises_m):.0f} mm and lies up "
            f"to {1000.0 * worst.outside_m:.0f} mm {what}. Set a fitting there, or dig that much "
            f"{'deeper' if worst.rises_m > 0.0 else 'less'}.",
            station_m=worst.station_m,
        ),
    )


def arc_moves_m(line: LaidLine) -> dict[int, float]:
    """Return by how much to move each break whose arc leaves the trench, by index, up positive."""
    most = asked("arc").limit or 0.0
    return {
        each.index: math.copysign(each.outside_m, -each.rises_m)
        for each in check_breaks(line)
        if each.outside_m > most
    }


def _breaks(line: LaidLine) -> tuple[GradeBreak, ...]:
    if line.schedule is None:
        return ()
    turns = {bend.index: each for bend, each in zip(line.bends, check_curves(line), strict=True)}
    plan = {bend.index: math.radians(bend.plan_deg) for bend in line.bends}
    pipe = line.pipe
    corridor = build_corridor(pipe.station_m, pipe.ground_m, pipe.limits, pipe.spans)
    found = []
    for before, index, after in zip(
        pipe.breaks[:-2].tolist(), pipe.breaks[1:-1].tolist(), pipe.breaks[2:].tolist(), strict=True
    ):
        turn = turns.get(index)
        made = turn is None or turn.verdict in ("one joint", "curve")
        radius = pipe_radius_m(pipe_at(line, index)) if turn is None else turn.least_radius_m
        arc = made and math.isfinite(radius) and (turn is None or turn.verdict == "curve")
        one = GradeBreak(
            index=index,
            station_m=float(pipe.station_m[index]),
            made_as="curve" if made else "fitting",
            radius_m=radius if arc else None,
        )
        if arc:
            steep = _slopes_rad(line, before, index, after)
            upright = abs(steep[1] - steep[0])
            space = upright if turn is None else math.radians(turn.deflection_deg)
            one = _bent(line, one, radius, space, steep, corridor)
            if one.outside_m > (asked("arc").limit or 0.0) and turn is not None and plan[index]:
                wide = min(WIDER * radius, turn.tangent_m / math.tan(abs(plan[index]) / 2.0))
                if wide > radius:
                    rest = 1.0 / math.sqrt(radius**-2 - wide**-2)
                    apart = _bent(line, one, rest, upright, steep, corridor)
                    apart = replace(apart, plan_radius_m=wide)
                    one = min(one, apart, key=lambda each: each.outside_m)
        found.append(one)
    return tuple(found)


def _slopes_rad(line: LaidLine, before: int, index: int, after: int) -> tuple[float, float]:
    """Return the slopes of the straights that meet at a break [rad]."""
    places = [before, index, after]
    first, second = np.arctan2(np.diff(line.pipe_m[places]), np.diff(line.station_m[places]))
    return float(first), float(second)


def _bent(
    line: LaidLine,
    one: GradeBreak,
    radius_m: float,
    turn_rad: float,
    slopes_rad: tuple[float, float],
    corridor: Corridor,
) -> GradeBreak:
    """Return a break with how far its arc rises over the corner and leaves the corridor."""
    if turn_rad == 0.0:
        return one
    index, half = one.index, turn_rad / 2.0
    # The share of the way from corner to arc that is upright; all of it but for a turn in plan.
    upright = (math.sin(slopes_rad[1]) - math.sin(slopes_rad[0])) / (2.0 * math.sin(half))
    tangent = radius_m * math.tan(half)
    station = line.station_m
    first = int(np.searchsorted(station, station[index] - tangent))
    last = int(np.searchsorted(station, station[index] + tangent, side="right"))
    away = station[first:last] - station[index]
    along = np.abs(away) / np.where(away < 0.0, *np.cos(slopes_rad))
    near = first + np.flatnonzero((along < tangent) & ~line.pipe.in_span[first:last])
    beyond = tangent - along[near - first]
    rise = upright * (radius_m - np.sqrt(radius_m**2 - np.minimum(beyond, radius_m) ** 2))
    rise[near == index] = upright * arc_departure_m(radius_m, math.degrees(turn_rad))
    level = line.pipe_m[near] + rise
    # Only what the arc adds: a line at levels of its own may lie outside already.
    above, below = level - corridor.highest_m[near], corridor.lowest_m[near] - level
    over = np.minimum(np.maximum(above, below), np.abs(rise))
    # Beside a span the pipe comes out of the ground.
    buried = not np.any(line.pipe.in_span[index - 1 : index + 2])
    return replace(
        one,
        radius_m=radius_m,
        rises_m=float(rise[near == index].sum()),
        outside_m=float(max(0.0, np.max(over, initial=0.0))) if buried else 0.0,
    )
