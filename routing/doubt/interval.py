"""How sure heads, pressures and lengths are."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np

from routing.arrays import FloatArray
from routing.doubt.error import ElevationError

__all__ = ["exceeded_head_m", "head_sd_m", "head_sds_m", "length_excess_m"]


def head_sd_m(error: ElevationError, distance_m: float, known_ends: int = 0) -> float | None:
    r"""Return the standard error of the difference of two elevations of the raster.

    .. math::
        \sigma_H^2 = \sum 2 \sigma^2 (1 - e^{-D / L}) + q^2 / 6

    over both parts of the error.

    Parameters
    ----------
    error : ElevationError
        The raster's error
    distance_m : float
        Straight distance D between the two in plan, >= 0 [m]
    known_ends : int
        How many of the two are levelled on the ground: 0, 1 or 2

    Returns
    -------
    sd : float or None
        [m]; with one end levelled half the variance is left, with both none; None where no error
        is known

    Notes
    -----
    Over more than three ranges this is the root of 2 times the error of one elevation.

    Examples
    --------
    >>> error = ElevationError(local_sigma_m=0.82, range_m=100.0, long_sigma_m=0.0,
    ...     long_range_m=3000.0, step_m=0.0, source="stated")
    >>> round(head_sd_m(error, 100.0), 3), round(head_sd_m(error, 1000.0), 2)
    (0.922, 1.16)
    """
    if error.local_sigma_m is None or error.range_m is None:
        return 0.0 if known_ends == 2 else None
    return float(head_sds_m(error, np.array([distance_m]), known_ends)[0])


def head_sds_m(error: ElevationError, distance_m: FloatArray, known_ends: int = 0) -> FloatArray:
    """Return :func:`head_sd_m` over many distances, (n,) [m]; 0 where no error is known."""
    variance = np.zeros(distance_m.shape)
    if error.local_sigma_m is not None and error.range_m is not None:
        long = error.long_sigma_m or 0.0
        variance += error.step_m**2 / 6.0
        for sigma, reach in ((error.local_sigma_m, error.range_m), (long, error.long_range_m)):
            variance -= 2.0 * sigma * sigma * np.expm1(-distance_m / reach)
    sd: FloatArray = np.sqrt(variance * (2 - known_ends) / 2.0)
    return sd


def exceeded_head_m(sd_m: float, chance: float) -> float:
    r"""Return by how much a head may be greater than computed, exceeded with a small chance.

    .. math::
        \Delta h = z_{1 - p} \, \sigma_h

    Parameters
    ----------
    sd_m : float
        Standard error of the head sigma_h, >= 0 [m]
    chance : float
        Chance p of more, 0 to 1 [-]; z is the normal quantile

    >>> round(exceeded_head_m(2.0, 0.05), 2)
    3.29
    """
    return sd_m * NormalDist().inv_cdf(1.0 - chance)


def length_excess_m(
    error: ElevationError, cell_m: float, plan_m: float, slope: float
) -> float | None:
    r"""Return by how much the raster's local error lengthens a line along the slope.

    .. math::
        n \sigma^2 (1 - e^{-c / L_c}) \cos^3 \beta / c

    Parameters
    ----------
    error : ElevationError
        The raster's error
    cell_m : float
        Cell c, > 0 [m]
    plan_m : float
        Length of the line in plan, n cells [m]
    slope : float
        Mean slope, the tangent of its angle [-]

    Returns
    -------
    excess : float or None
        [m]; ground smaller than a cell makes the line longer again, so nothing is corrected

    Notes
    -----
    To the second order in the error's slope from one cell to the next.

    Examples
    --------
    >>> error = ElevationError(local_sigma_m=3.0, range_m=150.0, long_sigma_m=0.0,
    ...     long_range_m=3000.0, step_m=0.0, source="stated")
    >>> round(length_excess_m(error, 26.0, 1000.0, 0.1), 1)
    2.1
    """
    if error.local_sigma_m is None or error.range_m is None:
        return None
    cosine = 1.0 / math.sqrt(1.0 + slope * slope)
    apart = -math.expm1(-cell_m / error.range_m)
    return plan_m / cell_m * error.local_sigma_m**2 * apart * cosine**3 / cell_m
