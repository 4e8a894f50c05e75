"""An empty pipe in a wet trench: what holds it down, and where the cover is too thin."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from routing.anchors.trade_data import anchor_limits
from routing.arrays import BoolArray, FloatArray, stretches
from routing.errors import InputError
from routing.need import need

__all__ = ["FloatingReach", "check_flotation", "flotation_factor", "least_cover_against_uplift_m"]


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
    .. [1] vi.scribd.com/document/366093538; factor eng-tips.com qid=50905.
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
    .. [1] vi.scribd.com/document/366093538; factor eng-tips.com qid=50905.
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


def check_flotation(
    station_m: FloatArray,
    cover_m: FloatArray,
    in_span: BoolArray,
    outside_diameter_m: FloatArray,
    pipe_n_m: FloatArray,
    *,
    saturated_n_m3: float | None = None,
    water_n_m3: float = 9810.0,
    safety: float | None = None,
) -> tuple[FloatingReach, ...]:
    """Return the reaches of a line where an empty pipe would float up through its cover [1]_.

    Parameters
    ----------
    station_m, cover_m : FloatArray
        Stations and cover over the crown, shape (n,) [m]
    in_span : BoolArray
        Stations above ground, which are not judged, shape (n,) [-]
    outside_diameter_m, pipe_n_m : FloatArray
        Outside diameter and weight of the empty pipe, shape (n,) [m], [N/m]
    saturated_n_m3, water_n_m3, safety : float
        As :func:`least_cover_against_uplift_m` [N/m3], [N/m3], [-]

    Returns
    -------
    reaches : tuple of FloatingReach
        In order of station; empty where the cover holds everywhere

    Raises
    ------
    InputError
        If shapes differ or a value is outside the bounds of :func:`flotation_factor`.

    Notes
    -----
    Valid for: water table at the ground. Cover below zero counts as none.
    Checked by ``tests/reference/test_flotation.py``.

    Examples
    --------
    >>> n = np.ones(3)
    >>> reaches = check_flotation(np.array([0.0, 10.0, 20.0]), np.array([0.8, 0.2, 0.8]), n < 0.0,
    ...                           0.315 * n, 171.0 * n)
    >>> reaches[0].station_m, reaches[0].needed_cover_m
    (10.0, 0.3032)

    References
    ----------
    .. [1] vi.scribd.com/document/366093538; factor eng-tips.com qid=50905.
    """
    shapes = {np.shape(a) for a in (station_m, cover_m, in_span, outside_diameter_m, pipe_n_m)}
    if len(shapes) != 1:
        raise InputError(f"The line's columns have shapes {sorted(shapes)}.", "Give equal shapes.")
    if not np.isfinite(cover_m).all():
        raise InputError("The cover is not a finite number somewhere.", "Give every station one.")
    kinds, kind = np.unique(
        np.column_stack((outside_diameter_m, pipe_n_m)), axis=0, return_inverse=True
    )
    by_kind = [
        least_cover_against_uplift_m(
            outside_diameter_m=diameter_m, pipe_n_m=weight_n_m, saturated_n_m3=saturated_n_m3,
            water_n_m3=water_n_m3, safety=safety,
        )
        for diameter_m, weight_n_m in kinds.tolist()
    ]  # fmt: skip
    needed = np.array(by_kind)[kind.reshape(-1)]
    floats = ~in_span & (cover_m < needed - 1e-9)
    reaches = []
    for a, b in stretches(floats):
        worst = int(a + np.argmin(cover_m[a : b + 1] - needed[a : b + 1]))
        reaches.append(
            FloatingReach(
                from_m=float(station_m[a]),
                to_m=float(station_m[b]),
                station_m=float(station_m[worst]),
                cover_m=float(cover_m[worst]),
                needed_cover_m=float(needed[worst]),
                factor=flotation_factor(
                    cover_m=max(float(cover_m[worst]), 0.0),
                    outside_diameter_m=float(outside_diameter_m[worst]),
                    pipe_n_m=float(pipe_n_m[worst]), saturated_n_m3=saturated_n_m3,
                    water_n_m3=water_n_m3,
                ),
            )
        )  # fmt: skip
    return tuple(reaches)
