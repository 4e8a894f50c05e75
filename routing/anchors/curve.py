"""Turns of the line: left to joints, bent into the pipe, or made of fittings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from routing.anchors.joint import joint_radius_m
from routing.anchors.trade_data import made_angles_deg
from routing.arrays import FloatArray
from routing.errors import InputError
from routing.need import need
from routing.trench import Bend

__all__ = ["Curve", "MadeBend", "available_radius_m", "check_curves", "split_deflection"]

Verdict = Literal["one joint", "curve", "fittings", "cannot be made"]


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
    if not 0.0 <= deflection_deg <= 180.0:
        raise InputError(
            f"The deflection of a bend is {deflection_deg:g} degrees.",
            "Give an angle from 0 to 180 degrees.",
        )
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
    if not 0.0 <= deflection_deg <= 180.0:
        raise InputError(
            f"The deflection of a bend is {deflection_deg:g} degrees.",
            "Give an angle from 0 to 180 degrees.",
        )
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """How one turn of the line is made; ``made`` is None where no fitting is needed."""

    bend_id: str
    station_m: float
    deflection_deg: float
    tangent_m: float
    available_radius_m: float
    least_radius_m: float
    allowance_deg: float
    verdict: Verdict
    made: MadeBend | None
    formula: str


def check_curves(
    bends: Sequence[Bend],
    slope_station_m: FloatArray,
    *,
    allowance_deg: Sequence[float],
    stick_m: Sequence[float],
    bend_radius_m: Sequence[float],
) -> tuple[Curve, ...]:
    """Return how each turn of the line can be made.

    A turn is left to one joint where that allows it, laid as a curve where the pipe can follow the
    arc that the drawn line leaves room for, and else made of fittings.

    Parameters
    ----------
    bends : sequence of Bend
        The turns in order of station, with the angle in space [deg]
    slope_station_m : FloatArray
        Distance along the pipe at every station, rising, shape (n,) [m]
    allowance_deg, stick_m, bend_radius_m : sequence of float
        For each bend: what a joint may turn, laying length of a stick, and the least radius that
        the pipe itself may be bent to, infinite where it may not [deg], [m], [m]

    Returns
    -------
    curves : tuple of Curve
        One per bend; ``cannot be made`` where fittings leave more than the joints take

    Raises
    ------
    InputError
        If the sequences differ in length or a value is outside the bounds of the formulas.

    Notes
    -----
    Valid for: a tangent of half the shorter leg, so that neighbouring curves never overlap.
    Checked by ``tests/reference/test_joints.py``.

    Examples
    --------
    >>> bend = Bend(id="B1", index=1, station_m=50.0, plan_deg=12.0, vertical_deg=0.0,
    ...             deflection_deg=12.0)
    >>> curve = check_curves([bend], np.array([0.0, 50.0, 130.0]), allowance_deg=[1.0],
    ...                      stick_m=[6.1], bend_radius_m=[math.inf])[0]
    >>> curve.available_radius_m, curve.least_radius_m, curve.verdict
    (237.86, 349.5, 'fittings')

    References
    ----------
    .. [1] Geometry; fittings common practice, no source.
    """
    if not len(bends) == len(allowance_deg) == len(stick_m) == len(bend_radius_m):
        raise InputError(
            f"{len(bends)} bends have {len(allowance_deg)} allowances, {len(stick_m)} sticks and "
            f"{len(bend_radius_m)} radii.",
            "Give one of each per bend.",
        )
    if not bends:
        return ()
    at = slope_station_m[[bend.index for bend in bends]]
    knots = np.concatenate(([slope_station_m[0]], at, [slope_station_m[-1]]))
    legs = np.diff(knots)
    tangents = np.minimum(legs[:-1], legs[1:]) / 2.0
    return tuple(
        _curve(bend, float(tangent), float(allowance), float(stick), float(radius))
        for bend, tangent, allowance, stick, radius in zip(
            bends, tangents, allowance_deg, stick_m, bend_radius_m, strict=True
        )
    )


def _curve(
    bend: Bend, tangent_m: float, allowance_deg: float, stick_m: float, radius_m: float
) -> Curve:
    theta = bend.deflection_deg
    room = available_radius_m(tangent_m, theta)
    least = min(joint_radius_m(stick_m, allowance_deg), radius_m)
    made: MadeBend | None = None
    verdict: Verdict = "curve"
    if theta <= allowance_deg:
        verdict, formula = "one joint", "block.joint"
    elif room >= least:
        formula = "curve.bend" if radius_m <= least else "curve.joints"
    else:
        made, formula = split_deflection(theta, allowance_deg), "curve.fittings"
        verdict = "fittings" if made.possible else "cannot be made"
    return Curve(
        bend_id=bend.id,
        station_m=bend.station_m,
        deflection_deg=theta,
        tangent_m=tangent_m,
        available_radius_m=room,
        least_radius_m=least,
        allowance_deg=allowance_deg,
        verdict=verdict,
        made=made,
        formula=formula,
    )
