"""Air through an orifice: how much passes, and how wide it must be."""

from __future__ import annotations

import math

from routing.fittings.sizing_data import sizing
from routing.need import need

__all__ = [
    "air_bore_m",
    "air_mass_flow_kg_s",
    "critical_pressure_ratio",
    "open_vent_cd",
    "orifice_air_m3_s",
]

ZERO_C_K = 273.15
"""0 degC on the absolute scale, exact by definition [K]."""


def critical_pressure_ratio() -> float:
    """Return the pressure after over that before an orifice, below which air passes at sonic speed.

    >>> round(critical_pressure_ratio(), 4)
    0.5283
    """
    ratio = sizing().gas_ratio
    return float((2.0 / (ratio + 1.0)) ** (ratio / (ratio - 1.0)))


def air_mass_flow_kg_s(
    *, cd: float, bore_m: float, before_pa: float, after_pa: float, temperature_c: float
) -> float:
    r"""Return the mass of air that passes an orifice, expanding without loss of heat.

    .. math::
        m = C_d A p_1 \sqrt{\frac{2\gamma}{(\gamma-1) R T_1}
            \left[r^{2/\gamma} - r^{(\gamma+1)/\gamma}\right]},
        \qquad r = \max(p_2/p_1,\ 0.5283)

    Parameters
    ----------
    cd : float
        Discharge coefficient, above 0 to 1 [-]
    bore_m : float
        Bore of the orifice, >= 0 [m]
    before_pa : float
        Absolute pressure of the air before the orifice, > 0 [Pa]
    after_pa : float
        Absolute pressure after it, 0 to ``before_pa`` [Pa]
    temperature_c : float
        Temperature of the air before the orifice, above -273.15 [degC]

    Returns
    -------
    mass_flow_kg_s : float
        Mass of air per second, >= 0 [kg/s]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: dry air as a perfect gas. Below a pressure ratio of 0.5283 (a vacuum of about 48 kPa
    at sea level) the air is as fast as sound and a deeper vacuum draws no more. Checked by
    ``tests/reference/test_air_flow.py``.

    Examples
    --------
    >>> air_mass_flow_kg_s(cd=0.7, bore_m=0.0254, before_pa=101_325.0, after_pa=66_851.0,
    ...                    temperature_c=15.6)
    0.08213

    References
    ----------
    .. [1] The isentropic nozzle of any text on the flow of gases.
    """
    need("The discharge coefficient", cd, above=0.0, most=1.0)
    need("The bore of the orifice", bore_m, least=0.0)
    need("The pressure before the orifice", before_pa, above=0.0)
    need("The pressure after the orifice", after_pa, least=0.0, most=before_pa)
    need("The temperature of the air", temperature_c, above=-ZERO_C_K)
    numbers = sizing()
    gas = numbers.gas_ratio
    share = max(after_pa / before_pa, critical_pressure_ratio())
    expanded = max(share ** (2.0 / gas) - share ** ((gas + 1.0) / gas), 0.0)
    heat = (gas - 1.0) * numbers.gas_constant * (temperature_c + ZERO_C_K)
    area = 0.25 * math.pi * bore_m * bore_m
    return float(cd * area * before_pa * math.sqrt(2.0 * gas / heat * expanded))


def orifice_air_m3_s(
    *,
    cd: float,
    bore_m: float,
    difference_pa: float,
    atmosphere_pa: float,
    inward: bool,
    temperature_c: float | None = None,
) -> float:
    """Return the free air that a vacuum draws in through an orifice, or a pressure drives out.

    Parameters
    ----------
    cd : float
        Discharge coefficient, above 0 to 1 [-]
    bore_m : float
        Bore of the orifice, >= 0 [m]
    difference_pa : float
        Pressure in the pipe above that of the air outside, >= 0; inward below it, up to
        ``atmosphere_pa`` [Pa]
    atmosphere_pa : float
        Absolute pressure of the air outside, > 0 [Pa]
    inward : bool
        True for air drawn in by a vacuum, False for air driven out [-]
    temperature_c : float, optional
        Temperature of the air, inside and out; None takes 15.6 degC [degC]

    Returns
    -------
    free_air_m3_s : float
        Volume per second as measured outside [m3/s]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: as :func:`air_mass_flow_kg_s`. Checked by ``tests/reference/test_air_flow.py``.

    Examples
    --------
    >>> given = {"cd": 0.7, "bore_m": 0.0254, "atmosphere_pa": 101_325.0}
    >>> orifice_air_m3_s(difference_pa=6894.757, inward=True, **given)
    0.0363
    >>> orifice_air_m3_s(difference_pa=13_789.5, inward=False, **given)
    0.0530

    References
    ----------
    .. [1] AWWA Manual M51, from memory of it.
    """
    what, most = ("The vacuum", atmosphere_pa) if inward else ("The pressure in the pipe", math.inf)
    need(what, difference_pa, least=0.0, most=most)
    warm = sizing().air_temperature_c if temperature_c is None else temperature_c
    mass = air_mass_flow_kg_s(
        cd=cd,
        bore_m=bore_m,
        before_pa=atmosphere_pa if inward else atmosphere_pa + difference_pa,
        after_pa=atmosphere_pa - difference_pa if inward else atmosphere_pa,
        temperature_c=warm,
    )
    return mass * sizing().gas_constant * (warm + ZERO_C_K) / atmosphere_pa


def air_bore_m(
    *,
    free_air_m3_s: float,
    difference_pa: float,
    atmosphere_pa: float,
    cd: float,
    inward: bool,
    temperature_c: float | None = None,
) -> float:
    """Return the bore through which an amount of air passes at an allowed pressure difference.

    Parameters
    ----------
    free_air_m3_s : float
        Air as measured outside, >= 0 [m3/s]
    difference_pa : float
        Allowed difference of pressure across the orifice, > 0; a vacuum not above the air's own
        pressure [Pa]
    atmosphere_pa : float
        Absolute pressure of the air outside, > 0 [Pa]
    cd : float
        Discharge coefficient, above 0 to 1 [-]
    inward : bool
        True for air drawn in by a vacuum, False for air driven out [-]
    temperature_c : float, optional
        Temperature of the air; None takes 15.6 degC [degC]

    Returns
    -------
    bore_m : float
        Bore of one round orifice [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: as :func:`air_mass_flow_kg_s`. Checked by ``tests/reference/test_air_flow.py``.

    Examples
    --------
    >>> air_bore_m(free_air_m3_s=0.4583, difference_pa=34_500.0, atmosphere_pa=101_325.0, cd=0.7,
    ...            inward=True)
    0.0663

    References
    ----------
    .. [1] AWWA Manual M51, from memory of it.
    """
    need("The flow of air", free_air_m3_s, least=0.0)
    need("The difference of pressure", difference_pa, above=0.0)
    of_one_metre = orifice_air_m3_s(
        cd=cd,
        bore_m=1.0,
        difference_pa=difference_pa,
        atmosphere_pa=atmosphere_pa,
        inward=inward,
        temperature_c=temperature_c,
    )
    return math.sqrt(free_air_m3_s / of_one_metre)


def open_vent_cd(length_m: float, bore_m: float) -> float:
    r"""Return the discharge coefficient of an open vent: a pipe with a return bend on top.

    .. math::
        C_d = \min\left(0.7,\ 1/\sqrt{1 + K_e + K_b + f L/d}\right)

    Parameters
    ----------
    length_m : float
        Length of the vent from the main pipe to its top, >= 0 [m]
    bore_m : float
        Bore of the vent, > 0 [m]

    Returns
    -------
    cd : float
        Discharge coefficient, never above that of an air valve [-]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: air much slower than sound; the loss counted as of a fluid that keeps its density.
    Coefficients in ``sizing.csv`` (common practice).

    Examples
    --------
    >>> round(open_vent_cd(3.0, 0.05), 3)
    0.471
    """
    need("The length of the vent", length_m, least=0.0)
    need("The bore of the vent", bore_m, above=0.0)
    numbers = sizing()
    lost = numbers.open_vent_entry_k + numbers.open_vent_bends_k
    lost += numbers.open_vent_friction * length_m / bore_m
    return min(numbers.large_orifice_cd, 1.0 / math.sqrt(1.0 + lost))
