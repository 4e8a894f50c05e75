"""An empty pipe in a wet trench: what holds it down, and where the cover is too thin."""

from __future__ import annotations

import math

import numpy as np

from routing.anchors.ground import Ground
from routing.anchors.requirements import asked
from routing.anchors.trade_data import anchor_limits
from routing.arrays import FloatArray, stretches
from routing.check import Check
from routing.errors import InputError
from routing.laid_line import LaidLine
from routing.need import need
from routing.value import dataclass

__all__ = [
    "FloatingReach",
    "check_flotation",
    "flotation_factor",
    "judge_uplift",
    "least_cover_against_uplift_m",
]


def _check(
    outside_diameter_m: float, pipe_n_m: float, saturated_n_m3: float, water_n_m3: float
) -> None:
    need("The outside diameter", outside_diameter_m, above=0.0, unit="m")
    need("The weight of the empty pipe", pipe_n_m, least=0.0, unit="N/m")
    need("The weight of the water", water_n_m3, above=0.0, unit="N/m3")
    if not (math.isfinite(saturated_n_m3) and saturated_n_m3 > water_n_m3):
        raise InputError(
            f"The saturated soil weighs {saturated_n_m3:g} N/m3, no more than the water.",
            "Give the weight of the soil with its pores full of water, 11 to 21 kN/m3.",
        )


def flotation_factor(
    *,
    cover_m: float,
    outside_diameter_m: float,
    pipe_n_m: float,
    saturated_n_m3: float | None = None,
    water_n_m3: float = 9810.0,
) -> float:
    r"""Return what holds an empty buried pipe down over what lifts it [1]_.

    .. math::
        \frac{W}{U} = \frac{w_p + (\gamma_s - \gamma_w)(H D + 0.1073 D^2)}{\gamma_w \pi D^2 / 4}

    Parameters
    ----------
    cover_m : float
        Ground to crown, >= 0; zero is an open trench with the pipe bare to its crown [m]
    outside_diameter_m : float
        Outside diameter, > 0 [m]
    pipe_n_m : float
        Weight of the empty pipe, >= 0 [N/m]
    saturated_n_m3 : float, optional
        Weight of saturated soil, above that of water; None takes 19 kN/m3 [N/m3]
    water_n_m3 : float
        Weight of water, > 0 [N/m3]

    Returns
    -------
    factor : float
        Hold-down over uplift; 1.5 is asked for, 1.2 where the water table is well known [-]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: water table at the ground, the worst case. Shear in the soil is not counted. In peat
    11 to 13 kN/m3. In an open flooded trench, with no soil at all, see the weight alone.
    Checked by ``tests/reference/test_flotation.py``.

    Examples
    --------
    >>> flotation_factor(cover_m=0.76, outside_diameter_m=0.315, pipe_n_m=171.0)
    3.2295

    References
    ----------
    .. [1] *Flotation of buried pipe*, a published design note; factor common practice.
    """
    numbers = anchor_limits()
    saturated = numbers.saturated_n_m3 if saturated_n_m3 is None else saturated_n_m3
    _check(outside_diameter_m, pipe_n_m, saturated, water_n_m3)
    need("The cover", cover_m, least=0.0, unit="m")
    d = outside_diameter_m
    soil = (saturated - water_n_m3) * (cover_m * d + numbers.soil_shoulder * d**2)
    return (pipe_n_m + soil) / (water_n_m3 * math.pi * d**2 / 4.0)


def least_cover_against_uplift_m(
    *,
    outside_diameter_m: float,
    pipe_n_m: float,
    saturated_n_m3: float | None = None,
    water_n_m3: float = 9810.0,
    safety: float | None = None,
) -> float:
    r"""Return the least cover that holds an empty pipe down [1]_.

    .. math::
        H = \frac{S U - w_p}{(\gamma_s - \gamma_w) D} - 0.1073 D

    Parameters
    ----------
    outside_diameter_m : float
        Outside diameter, > 0 [m]
    pipe_n_m : float
        Weight of the empty pipe, >= 0 [N/m]
    saturated_n_m3 : float, optional
        Weight of saturated soil, above that of water; None takes 19 kN/m3 [N/m3]
    water_n_m3 : float
        Weight of water, > 0 [N/m3]
    safety : float, optional
        Hold-down over uplift, >= 1; None takes 1.5 [-]

    Returns
    -------
    cover_m : float
        Ground to crown, >= 0 [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: as :func:`flotation_factor`. At a stream measure the cover down to scour.
    Checked by ``tests/reference/test_flotation.py``.

    Examples
    --------
    >>> least_cover_against_uplift_m(outside_diameter_m=0.315, pipe_n_m=171.0)
    0.3032

    References
    ----------
    .. [1] *Flotation of buried pipe*, a published design note; factor common practice.
    """
    numbers = anchor_limits()
    saturated = numbers.saturated_n_m3 if saturated_n_m3 is None else saturated_n_m3
    factor = numbers.flotation_safety if safety is None else safety
    _check(outside_diameter_m, pipe_n_m, saturated, water_n_m3)
    need("The factor of safety", factor, least=1.0)
    d = outside_diameter_m
    wanted = factor * water_n_m3 * math.pi * d**2 / 4.0 - pipe_n_m
    cover = wanted / ((saturated - water_n_m3) * d) - numbers.soil_shoulder * d
    return max(cover, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class FloatingReach:
    """A reach where an empty pipe would come up; the worst place gives the numbers."""

    from_m: float
    to_m: float
    station_m: float
    cover_m: float
    needed_cover_m: float
    factor: float
    formula: str = "flotation.uplift"


def check_flotation(line: LaidLine, ground: Ground) -> tuple[FloatingReach, ...]:
    """Return the reaches of a line where an empty pipe would float up through its cover [1]_.

    Parameters
    ----------
    line : LaidLine
        The line as laid; a pipe of unknown mass is taken as weightless, the safe side [-]
    ground : Ground
        The ground, whose weight full of water holds the pipe down [-]

    Returns
    -------
    reaches : tuple of FloatingReach
        In order of station; empty where the cover holds everywhere

    Notes
    -----
    Valid for: water table at the ground. Cover below zero counts as none; spans are not judged.
    Checked by ``tests/reference/test_flotation.py``.

    References
    ----------
    .. [1] As :func:`least_cover_against_uplift_m`.
    """
    floats = ~line.pipe.in_span & (line.cover_m < _needed_m(line, ground) - 1e-9)
    return tuple(_reach(line, ground, first, last) for first, last in stretches(floats))


def judge_uplift(line: LaidLine, ground: Ground) -> tuple[Check, ...]:
    """Return a check for each reach that floats, else one for the least cover in hand."""
    reaches = check_flotation(line, ground)
    if not reaches:
        spare = np.where(line.pipe.in_span, np.inf, line.cover_m - _needed_m(line, ground))
        worst = int(np.argmin(spare))
        reaches = (_reach(line, ground, worst, worst),) if np.isfinite(spare[worst]) else ()
    return tuple(_uplift(reach) for reach in reaches)


def _uplift(reach: FloatingReach) -> Check:
    where = f"{reach.from_m:.1f} m to {reach.to_m:.1f} m"
    return asked("uplift").judge(
        reach.cover_m,
        f"An empty pipe would float up between stations {reach.from_m:.1f} m and "
        f"{reach.to_m:.1f} m once the ground is full of water: the cover of {reach.cover_m:.2f} m "
        f"at station {reach.station_m:.1f} m holds {reach.factor:.2f} times the uplift. Lay it "
        f"under {reach.needed_cover_m:.2f} m, weigh it down, or drain the trench.",
        limit=reach.needed_cover_m,
        place="pipe" if reach.from_m == reach.to_m else where,
        station_m=reach.station_m,
    )


def _pipe_n_m(line: LaidLine, run: int) -> float:
    return (line.pipes.runs[run].pipe.mass_kg_m or 0.0) * line.water.gravity_m_s2


def _needed_m(line: LaidLine, ground: Ground) -> FloatArray:
    """Return the cover that holds the empty pipe down, (n,) [m]."""
    by_run = [
        least_cover_against_uplift_m(
            outside_diameter_m=run.pipe.outside_diameter_m,
            pipe_n_m=_pipe_n_m(line, number),
            saturated_n_m3=ground.saturated_n_m3,
            water_n_m3=line.water.weight_n_m3,
        )
        for number, run in enumerate(line.pipes.runs)
    ]
    return np.array(by_run)[line.run_index]


def _reach(line: LaidLine, ground: Ground, first: int, last: int) -> FloatingReach:
    """Return a reach from one station to another; its worst place gives the numbers."""
    needed = _needed_m(line, ground)
    part = slice(first, last + 1)
    worst = first + int(np.argmin(line.cover_m[part] - needed[part]))
    cover = float(line.cover_m[worst])
    return FloatingReach(
        from_m=float(line.station_m[first]),
        to_m=float(line.station_m[last]),
        station_m=float(line.station_m[worst]),
        cover_m=cover,
        needed_cover_m=float(needed[worst]),
        factor=flotation_factor(
            cover_m=max(cover, 0.0),
            outside_diameter_m=float(line.outside_diameter_m[worst]),
            pipe_n_m=_pipe_n_m(line, int(line.run_index[worst])),
            saturated_n_m3=ground.saturated_n_m3,
            water_n_m3=line.water.weight_n_m3,
        ),
    )
