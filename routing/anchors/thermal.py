"""Heat and cold: movement of a pipe, the force where it may not move, the joint that lets it."""

from __future__ import annotations

import math

from routing.anchors.trade_data import anchor_limits
from routing.errors import InputError
from routing.need import need

__all__ = ["joint_opening_m", "restrained_force_n", "thermal_movement_m"]


def thermal_movement_m(expansion_per_c: float, length_m: float, change_c: float) -> float:
    r"""Return how much longer a free pipe grows as it warms [1]_.

    .. math::
        \Delta L = \alpha L \Delta T

    Parameters
    ----------
    expansion_per_c : float
        Expansion of the material, > 0 [1/degC]
    length_m : float
        Length, >= 0 [m]
    change_c : float
        Change of temperature, negative for cooling [degC]

    Returns
    -------
    movement_m : float
        Growth, negative for shrinking [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: pipe that is free to move. Polyethylene's expansion is published from 1.2e-4 to
    2e-4; take the latter for gaps.
    Checked by ``tests/reference/test_supports.py``.

    Examples
    --------
    >>> 1000.0 * thermal_movement_m(5.0e-5, 6.0, 60.0)
    18.0

    References
    ----------
    .. [1] Published tables of thermal expansion.
    """
    need("The expansion", expansion_per_c, above=0.0, unit="per degC")
    need("The length", length_m, least=0.0, unit="m")
    if not math.isfinite(change_c):
        raise InputError(
            f"The change of temperature is {change_c:g} degC.", "Give a finite change."
        )
    return expansion_per_c * length_m * change_c


def restrained_force_n(
    elastic_pa: float, area_m2: float, expansion_per_c: float, change_c: float
) -> float:
    r"""Return the force on the anchors of a pipe that is held while its temperature changes.

    .. math::
        F = E A \alpha |\Delta T|

    Parameters
    ----------
    elastic_pa : float
        Modulus of elasticity, for plastic the short-term one, > 0 [Pa]
    area_m2 : float
        Cross-section of the wall, > 0 [m2]
    expansion_per_c : float
        Expansion of the material, > 0 [1/degC]
    change_c : float
        Change of temperature, either way [degC]

    Returns
    -------
    force_n : float
        Push when warming, pull when cooling [N]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: ends that do not give. Polyethylene relaxes, so a slow change gives less.
    Checked by ``tests/reference/test_supports.py``.

    Examples
    --------
    >>> restrained_force_n(200e9, 0.005, 1.17e-5, 20.0)
    234000.

    References
    ----------
    .. [1] Elasticity.
    """
    need("The modulus of elasticity", elastic_pa, above=0.0, unit="Pa")
    need("The cross-section", area_m2, above=0.0, unit="m2")
    return elastic_pa * area_m2 * abs(thermal_movement_m(expansion_per_c, 1.0, change_c))


def joint_opening_m(
    expansion_per_c: float, length_m: float, hottest_c: float, fitting_c: float
) -> float:
    r"""Return the gap to leave in an expansion joint on the day it is fitted.

    .. math::
        g = \alpha L (T_{max} - T) + 5\,\mathrm{mm}

    Parameters
    ----------
    expansion_per_c : float
        Expansion of the material, > 0 [1/degC]
    length_m : float
        Anchored length that the joint serves, >= 0 [m]
    hottest_c : float
        Greatest temperature that the pipe will have, >= that of fitting [degC]
    fitting_c : float
        Temperature of the pipe when fitted [degC]

    Returns
    -------
    opening_m : float
        Gap between the pipe's ends [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: one joint per anchored length, just below its upper anchor; its travel must reach
    the coldest day too. Never beside a bend whose thrust no anchor takes.
    Checked by ``tests/reference/test_supports.py``.

    Examples
    --------
    >>> 1000.0 * joint_opening_m(1.17e-5, 30.0, 45.0, 15.0)
    15.53

    References
    ----------
    .. [1] Common practice, no source.
    """
    if not hottest_c >= fitting_c:
        raise InputError(
            f"The greatest temperature {hottest_c:g} degC is below that of fitting, "
            f"{fitting_c:g} degC.",
            "Give the greatest temperature of an empty pipe in the sun.",
        )
    growth = thermal_movement_m(expansion_per_c, length_m, hottest_c - fitting_c)
    return growth + anchor_limits().joint_gap_m
