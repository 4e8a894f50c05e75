"""Grains: how fast they sink, how large the basin must be, and what flushing moves."""

from __future__ import annotations

import math

from routing.flow.intake.trade_data import limit
from routing.need import need
from routing.water import STANDARD_GRAVITY_M_S2, Water

__all__ = ["basin_area_m2", "flushed_grain_m", "settling_velocity_m_s"]

SUBMERGED_SPECIFIC_WEIGHT = 1.65
"""Weight of quartz under water over that of water: (2650 - 1000)/1000 [-]."""

C_LAMINAR, C_TURBULENT = 18.0, 1.0
"""Ferguson and Church's two constants for natural grains [-]."""

QUARTZ_KG_M3 = 2650.0
"""Density of quartz grains [kg/m3]."""


def settling_velocity_m_s(grain_m: float, water: Water) -> float:
    r"""Return how fast a natural grain sinks in still water, after Ferguson and Church.

    .. math::
        w = \frac{R g d^2}{C_1 \nu + \sqrt{0.75\, C_2 R g d^3}}

    Parameters
    ----------
    grain_m : float
        Diameter of the grain, > 0 [m]
    water : Water
        Gives viscosity; cold water holds grains longer [-]

    Returns
    -------
    velocity_m_s : float
        Settling velocity [m/s]

    Raises
    ------
    InputError
        If the grain is not above zero.

    Notes
    -----
    Valid for: quartz, 0.01 mm to 10 mm, still water. Checked by
    ``tests/reference/test_intake.py``.

    Examples
    --------
    >>> from routing.water import water_at
    >>> 1000.0 * settling_velocity_m_s(0.0002, water_at(5.0))
    17.3903

    References
    ----------
    .. [1] Ferguson, R. I. and Church, M. A simple universal equation for grain settling velocity.
       *Journal of Sedimentary Research* 74, 2004, from memory.
    """
    need("The grain", grain_m, above=0.0)
    weight = SUBMERGED_SPECIFIC_WEIGHT * STANDARD_GRAVITY_M_S2
    drag = math.sqrt(0.75 * C_TURBULENT * weight * grain_m**3)
    return weight * grain_m**2 / (C_LAMINAR * water.kinematic_viscosity_m2_s + drag)


def basin_area_m2(
    flow_m3_s: float, grain_m: float, water: Water, *, factor: float | None = None
) -> float:
    r"""Return the plan area of a basin in which grains of a size settle.

    .. math::
        A = k \frac{Q}{w}

    Parameters
    ----------
    flow_m3_s : float
        Flow through the basin, with that for flushing, >= 0 [m3/s]
    grain_m : float
        Least grain to be caught, > 0; 0.2 mm for more than 50 m of head, 0.3 to 0.5 below [m]
    water : Water
        Coldest water that carries grains [-]
    factor : float, optional
        Allowance k for turbulence, >= 1; None takes 2 [-]

    Returns
    -------
    area_m2 : float
        Length times width of the basin [m2]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: forward velocity up to 0.2 to 0.3 m/s, an even inflow.

    Examples
    --------
    >>> from routing.water import water_at
    >>> basin_area_m2(0.05, 0.0002, water_at(5.0))
    5.75034

    References
    ----------
    .. [1] Surface loading of a settling basin; factor common practice, no source.
    """
    need("The flow through the basin", flow_m3_s, least=0.0)
    allowance = limit("basin_factor") if factor is None else factor
    need("The factor for turbulence", allowance, least=1.0)
    return allowance * flow_m3_s / settling_velocity_m_s(grain_m, water)


def flushed_grain_m(depth_m: float, slope: float, water: Water) -> float:
    r"""Return the largest grain that flushing water moves off the floor of a basin.

    .. math::
        d = \frac{\rho g h S}{0.05\,(\rho_s - \rho) g}

    Parameters
    ----------
    depth_m : float
        Depth of the flushing water, >= 0 [m]
    slope : float
        Slope of the floor, >= 0; 0.02 to 0.05 is usual [-]
    water : Water
        Gives density [-]

    Returns
    -------
    grain_m : float
        Diameter of the grain [m]

    Raises
    ------
    InputError
        If an argument is negative or not finite.

    Notes
    -----
    Valid for: loose quartz, a sheet of water much wider than deep. Checked by
    ``tests/reference/test_intake.py``.

    Examples
    --------
    >>> from routing.water import water_at
    >>> flushed_grain_m(0.10, 0.03, water_at(10.0))
    0.0363463

    References
    ----------
    .. [1] Shields, threshold 0.05, from memory.
    """
    need("The depth of the flushing water", depth_m, least=0.0)
    need("The slope of the floor", slope, least=0.0)
    lighter = (QUARTZ_KG_M3 - water.density_kg_m3) / water.density_kg_m3
    return depth_m * slope / (limit("shields") * lighter)
