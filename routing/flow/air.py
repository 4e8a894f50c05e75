"""The weight of the air above the line."""

from __future__ import annotations

import math

import numpy as np

from routing.arrays import FloatArray
from routing.errors import InputError

__all__ = ["atmosphere_pa", "atmospheres_pa"]


LOWEST_M, HIGHEST_M = -1000.0, 9000.0
"""Altitudes for which the standard atmosphere is used here [m]."""


def atmosphere_pa(altitude_m: float) -> float:
    r"""Return the pressure of the standard atmosphere.

    .. math::
        p = 101325 \left(1 - 2.25577\cdot10^{-5}\, h\right)^{5.25588}

    Parameters
    ----------
    altitude_m : float
        Height above sea level, -1000 to 9000 [m]

    Returns
    -------
    pressure_pa : float
        Absolute pressure of the air [Pa]

    Raises
    ------
    InputError
        If the altitude is outside the bound given above.

    Notes
    -----
    Valid for: the standard atmosphere; weather moves the real one by 3 % either way.
    Checked by ``tests/reference/test_water.py``.

    Examples
    --------
    >>> atmosphere_pa(1000.0)
    89874.6

    References
    ----------
    .. [1] *U.S. Standard Atmosphere, 1976*. NOAA, NASA, USAF.
    """
    if not (math.isfinite(altitude_m) and LOWEST_M <= altitude_m <= HIGHEST_M):
        raise InputError(
            f"The altitude is {altitude_m:g} m.",
            f"Give an altitude from {LOWEST_M:g} to {HIGHEST_M:g} m; check the raster's unit.",
        )
    return float(_standard_pa(np.array(altitude_m)))


def atmospheres_pa(altitude_m: FloatArray) -> FloatArray:
    """Return the pressure of the standard atmosphere along a line.

    Parameters
    ----------
    altitude_m : FloatArray
        Heights above sea level, (n,); those beyond -1000 and 9000 are taken as at these ends [m]

    Returns
    -------
    pressure_pa : FloatArray
        Absolute pressure of the air, (n,) [Pa]

    Notes
    -----
    Checked by ``tests/reference/test_water.py``.

    Examples
    --------
    >>> atmospheres_pa(np.array([1000.0, 0.0])).round()
    array([ 89875., 101325.])
    """
    return _standard_pa(np.clip(altitude_m, LOWEST_M, HIGHEST_M))


def _standard_pa(altitude_m: FloatArray) -> FloatArray:
    pressure: FloatArray = 101_325.0 * (1.0 - 2.25577e-5 * altitude_m) ** 5.25588
    return pressure
