"""Turns of the line: left to joints, bent into the pipe, cut into it or made of fittings."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from routing.anchors.given import pipe_at
from routing.anchors.joint import joint_offset_m, joint_radius_m, least_bend_radius_m
from routing.anchors.requirements import asked
from routing.anchors.trade_data import anchor_limits, made_angles_deg
from routing.check import Check
from routing.laid_line import LaidLine
from routing.need import need
from routing.pipe import Pipe, material_family
from routing.trench import Bend
from routing.value import dataclass

__all__ = [
    "Curve",
    "MadeBend",
    "available_radius_m",
    "check_curves",
    "judge_turns",
    "mitre_cuts",
    "pipe_radius_m",
    "split_deflection",
]

Verdict = Literal["one joint", "curve", "mitred", "fittings", "cannot be made"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeBend:
    """A turn made of fittings; ``rest_deg`` is left to the joints, negative where they turn back.

    ``possible`` is False where the rest is more than the joints allow.
    """

    fittings_deg: tuple[float, ...]
    rest_deg: float
    possible: bool


def available_radius_m(tangent_m: float, deflection_deg: float) -> float:
    r"""Return the radius of the arc that fits into a drawn vertex.

    .. math::
        R = \frac{T}{\tan(\theta/2)}

    Parameters
    ----------
    tangent_m : float
        Room on each side of the vertex, > 0; half the shorter leg at most [m]
    deflection_deg : float
        Change of direction in space, 0 to 180 [deg]

    Returns
    -------
    radius_m : float
        Radius, infinite where the line does not turn [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: one arc that touches both legs.
    Checked by ``tests/reference/test_joints.py``.

    Examples
    --------
    >>> available_radius_m(25.0, 12.0)
    237.86

    References
    ----------
    .. [1] Geometry of a circle and its tangents.
    """
    need("The tangent", tangent_m, above=0.0, unit="m")
    need("The deflection of a bend", deflection_deg, least=0.0, most=180.0, unit="degrees")
    half = math.tan(math.radians(deflection_deg) / 2.0)
    return math.inf if half == 0.0 else tangent_m / half


def split_deflection(deflection_deg: float, allowance_deg: float) -> MadeBend:
    """Return the fittings that make a turn: fewest first, then the least left to the joints.

    Parameters
    ----------
    deflection_deg : float
        Change of direction in space, 0 to 180 [deg]
    allowance_deg : float
        What a joint beside the fitting may turn, either way, >= 0 [deg]

    Returns
    -------
    made : MadeBend
        Fittings of 90, 45, 22.5 and 11.25 degrees; where the joints cannot take the rest, the sum
        nearest to the turn [deg]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: fittings in one plane. Two fittings turned about the pipe make any angle in space
    up to their sum, but shift the line aside; that is not counted on.
    Checked by ``tests/reference/test_joints.py``.

    Examples
    --------
    >>> split_deflection(12.0, 1.0)
    MadeBend(fittings_deg=(11.25,), rest_deg=0.75, possible=True)

    References
    ----------
    .. [1] Common practice, no source.
    """
    need("The deflection of a bend", deflection_deg, least=0.0, most=180.0, unit="degrees")
    need("The allowance of a joint", allowance_deg, least=0.0, unit="degrees")
    angles = made_angles_deg()
    step = angles[-1]
    hair = 1e-9
    lowest = max(math.ceil((deflection_deg - allowance_deg - hair) / step), 0)
    highest = math.floor((deflection_deg + allowance_deg + hair) / step)
    possible = lowest <= highest
    if not possible:
        lowest = highest = round(deflection_deg / step)
    # More than a few steps never helps: the joints would turn further than any maker allows.
    choices = [(_largest_first(k * step, angles), k * step) for k in range(lowest, highest + 1)]
    fittings, total = min(choices, key=lambda one: (len(one[0]), abs(deflection_deg - one[1])))
    return MadeBend(fittings_deg=fittings, rest_deg=deflection_deg - total, possible=possible)


def _largest_first(total_deg: float, angles: tuple[float, ...]) -> tuple[float, ...]:
    chosen: list[float] = []
    for angle in angles:
        count = int((total_deg + 1e-9) // angle)
        chosen += [angle] * count
        total_deg -= count * angle
    return tuple(chosen)


def mitre_cuts(deflection_deg: float) -> int:
    """Return the cuts of a bend that is mitred from the pipe itself [1]_.

    >>> mitre_cuts(22.5), mitre_cuts(30.0), mitre_cuts(90.0)
    (1, 2, 4)

    References
    ----------
    .. [1] AWWA Manual M11, *Steel pipe: a guide for design and installation*, from memory of it.
    """
    return max(1, math.ceil(deflection_deg / anchor_limits().mitre_deg - 1e-9))


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """How one turn of the line is made.

    ``made`` is None where no fitting is needed, ``cuts`` None where nothing is mitred. Where the
    joints make a curve each turns by ``joint_turn_deg``, and ``offset_m`` is how far that carries
    the far end of the next stick aside; both are None where they do not.
    """

    bend_id: str
    station_m: float
    deflection_deg: float
    tangent_m: float
    available_radius_m: float
    least_radius_m: float
    allowance_deg: float
    verdict: Verdict
    made: MadeBend | None
    cuts: int | None
    joint_turn_deg: float | None
    offset_m: float | None
    formula: str


def check_curves(line: LaidLine) -> tuple[Curve, ...]:
    """Return how each turn of the line can be made, with the joints of the pipe that lies there.

    A turn is left to one joint where that allows it, laid as a curve where the pipe can follow the
    arc that the drawn line leaves room for, mitred where pipes are welded, and else made of
    fittings.

    Parameters
    ----------
    line : LaidLine
        The line as laid [-]

    Returns
    -------
    curves : tuple of Curve
        One per bend; ``cannot be made`` where fittings leave more than the joints take

    Notes
    -----
    Valid for: a tangent of half the shorter leg, so that neighbouring curves never overlap.
    Checked by ``tests/reference/test_joints.py``.

    References
    ----------
    .. [1] Geometry; fittings common practice, no source.
    """
    return line.once(_curves)


def judge_turns(line: LaidLine) -> tuple[Check, ...]:
    """Return a check for each turn that cannot be made, and for the sharpest turn.

    Where every turn can be made there is one check, for the turn that leaves most to its joints.
    """
    curves = check_curves(line)
    if not curves:
        return ()
    parts = [
        (round(abs(curve.made.rest_deg), 6), curve) for curve in curves if curve.made is not None
    ]
    parts.sort(key=lambda part: -part[0])
    left = [part for part in parts if part[1].verdict == "cannot be made"] or parts[:1]
    sharpest = max(curves, key=lambda curve: curve.deflection_deg)
    return (
        *(_rest(curve, rest, len(left)) for rest, curve in left),
        asked("sharp").judge(
            sharpest.deflection_deg,
            f"The line turns by {sharpest.deflection_deg:.0f} degrees at station "
            f"{sharpest.station_m:.1f} m, more than one fitting makes. Redraw it there, or make "
            "the turn of two bends with a block each.",
            place=sharpest.bend_id,
            station_m=sharpest.station_m,
        ),
    )


def _rest(curve: Curve, rest_deg: float, count: int) -> Check:
    fittings = "" if curve.made is None else " + ".join(f"{a:g}" for a in curve.made.fittings_deg)
    several = f"{count} turns of the line leave" if count > 1 else "A turn of the line leaves"
    return asked("turn").judge(
        rest_deg,
        f"{several} more beside the fittings than the joints there may turn, "
        f"{curve.allowance_deg:g} degrees. At {curve.bend_id}, station {curve.station_m:.1f} m, "
        f"{rest_deg:.1f} of {curve.deflection_deg:.1f} degrees are left beyond fittings of "
        f"{fittings or 'none'}. Give the maker's joint allowance, move vertices to made angles, "
        "draw wider curves, or order bends to measure.",
        limit=curve.allowance_deg,
        place=curve.bend_id,
        station_m=curve.station_m,
    )


def _curves(line: LaidLine) -> tuple[Curve, ...]:
    if not line.bends:
        return ()
    along = line.slope_station_m
    knots = np.concatenate(([along[0]], along[line.bend_index], [along[-1]]))
    legs = np.diff(knots)
    tangents = np.minimum(legs[:-1], legs[1:]) / 2.0
    return tuple(
        _curve(bend, tangent, pipe_at(line, bend.index))
        for bend, tangent in zip(line.bends, tangents.tolist(), strict=True)
    )


def pipe_radius_m(pipe: Pipe) -> float:
    """Return the least radius that the pipe itself may be bent to, infinite where it may not."""
    if pipe.jointing.joint.name != "fused":
        return math.inf
    return least_bend_radius_m(pipe.material, pipe.outside_diameter_m, pipe.wall_m)


def _curve(bend: Bend, tangent_m: float, pipe: Pipe) -> Curve:
    joints, theta = pipe.jointing, bend.deflection_deg
    room, allowance = available_radius_m(tangent_m, theta), joints.allowance_deg
    radius = pipe_radius_m(pipe)
    least = min(joint_radius_m(joints.stick_m, allowance), radius)
    made: MadeBend | None = None
    cuts: int | None = None
    turn: float | None = None
    verdict: Verdict = "curve"
    if theta <= allowance:
        verdict, formula, turn = "one joint", "block.joint", theta
    elif room >= least:
        formula = "curve.bend" if radius <= least else "curve.joints"
        if radius > least:
            turn = 2.0 * math.degrees(math.asin(min(1.0, joints.stick_m / (2.0 * room))))
    elif joints.joint.bends == "mitred" and material_family(pipe.material) != "PVC":
        verdict, formula, cuts = "mitred", "curve.mitred", mitre_cuts(theta)
    else:
        made, formula = split_deflection(theta, allowance), "curve.fittings"
        verdict = "fittings" if made.possible else "cannot be made"
    return Curve(
        bend_id=bend.id,
        station_m=bend.station_m,
        deflection_deg=theta,
        tangent_m=tangent_m,
        available_radius_m=room,
        least_radius_m=least,
        allowance_deg=allowance,
        verdict=verdict,
        made=made,
        cuts=cuts,
        joint_turn_deg=turn,
        offset_m=None if turn is None else joint_offset_m(joints.stick_m, turn),
        formula=formula,
    )
