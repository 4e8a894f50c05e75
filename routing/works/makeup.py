"""Water that a test takes: what the rules allow, what the pipe's stretch takes, what air takes."""

from __future__ import annotations

import math

from routing.need import need
from routing.works.trade_data import number

__all__ = ["air_makeup_m3", "elastic_makeup_m3", "indian_makeup_m3", "municipal_makeup_m3"]


def municipal_makeup_m3(
    *, length_m: float, bore_m: float, pressure_pa: float, hold_s: float
) -> float:
    r"""Return the water that may be added to a section of jointed pipe while it is held.

    .. math::
        Q\,[\mathrm{L/h}] = \frac{L\,[\mathrm{m}]\; D\,[\mathrm{mm}]
            \sqrt{p\,[\mathrm{kPa}]}}{794\,797}

    Parameters
    ----------
    length_m : float
        Length of the section, >= 0 [m]
    bore_m : float
        Nominal bore, > 0 [m]
    pressure_pa : float
        Mean pressure in the test, >= 0 [Pa]
    hold_s : float
        Time of the test, >= 0 [s]

    Returns
    -------
    makeup_m3 : float
        Water [m3]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: jointed pipe; fused pipe has no allowance. Checked by
    ``tests/reference/test_commissioning.py``.

    Examples
    --------
    >>> litres = 1e3 * municipal_makeup_m3(length_m=304.8, bore_m=0.254, pressure_pa=689_476.0,
    ...                                    hold_s=3600.0)
    >>> round(litres / 3.785412, 2)  # gallons an hour
    0.68

    References
    ----------
    .. [1] ANSI/AWWA C600 and C605, as quoted by US municipal specifications.
    """
    need("The length of the section", length_m, least=0.0)
    need("The bore", bore_m, above=0.0)
    need("The pressure", pressure_pa, least=0.0)
    need("The time of the test", hold_s, least=0.0)
    litres_h = length_m * 1e3 * bore_m * math.sqrt(pressure_pa / 1e3) / number("municipal_makeup")
    return litres_h * hold_s / 3.6e6


def indian_makeup_m3(
    *, length_m: float, bore_m: float, head_m: float, hold_s: float, plastic: bool = True
) -> float:
    r"""Return the water that may be added to a section by the Indian rule while it is held.

    .. math::
        Q\,[\mathrm{L/d}] = q\; \frac{D\,[\mathrm{mm}]}{10}\; L\,[\mathrm{km}]\;
            \frac{h\,[\mathrm{m}]}{30}, \qquad
        q = 1.5 \text{ of plastic, } 1 \text{ of other pipe}

    Parameters
    ----------
    length_m : float
        Length of the section, >= 0 [m]
    bore_m : float
        Nominal bore, > 0 [m]
    head_m : float
        Mean head of water in the test, >= 0 [m]
    hold_s : float
        Time of the test, >= 0 [s]
    plastic : bool
        Whether the pipe is of plastic [-]

    Returns
    -------
    makeup_m3 : float
        Water that brings it back to its pressure [m3]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: jointed pipe. Checked by ``tests/reference/test_commissioning.py``.

    Examples
    --------
    >>> litres = 1e3 * indian_makeup_m3(length_m=1000.0, bore_m=0.2, head_m=60.0, hold_s=86400.0)
    >>> round(litres, 6)
    60.0

    References
    ----------
    .. [1] Manual on Water Supply and Treatment, New Delhi, clauses 6.4.4 and 6.10.5.
    """
    need("The length of the section", length_m, least=0.0)
    need("The bore", bore_m, above=0.0)
    need("The head", head_m, least=0.0)
    need("The time of the test", hold_s, least=0.0)
    share = number("indian_makeup" if plastic else "indian_makeup_other")
    litres_day = share * 1e3 * bore_m * 1e-3 * length_m * head_m
    return litres_day * hold_s / 8.64e7


def elastic_makeup_m3(
    *,
    volume_m3: float,
    rise_pa: float,
    bulk_modulus_pa: float,
    bore_per_wall: float,
    elastic_pa: float,
) -> float:
    r"""Return the water that raises the pressure in a full pipe, which stretches as it does.

    .. math::
        \Delta V = V\,\Delta p \left(\frac1K + \frac{D}{e E}\right)

    Parameters
    ----------
    volume_m3 : float
        Water in the section, >= 0 [m3]
    rise_pa : float
        Rise of pressure, >= 0 [Pa]
    bulk_modulus_pa : float
        Bulk modulus of the water, > 0 [Pa]
    bore_per_wall : float
        Bore over wall, > 0 [-]
    elastic_pa : float
        Modulus of the wall, > 0 [Pa]

    Returns
    -------
    makeup_m3 : float
        Water pumped in [m3]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: no air, a ring free to stretch. Checked by ``tests/reference/test_commissioning.py``.

    Examples
    --------
    >>> 1e3 * elastic_makeup_m3(volume_m3=10.0, rise_pa=1e6, bulk_modulus_pa=2e9,
    ...                         bore_per_wall=20.0, elastic_pa=4e9)
    55.0

    References
    ----------
    .. [1] Elastic balance of a thin ring.
    """
    need("The volume", volume_m3, least=0.0)
    need("The rise of pressure", rise_pa, least=0.0)
    need("The bulk modulus", bulk_modulus_pa, above=0.0)
    need("The bore over the wall", bore_per_wall, above=0.0)
    need("The modulus of the wall", elastic_pa, above=0.0)
    return volume_m3 * rise_pa * (1.0 / bulk_modulus_pa + bore_per_wall / elastic_pa)


def air_makeup_m3(*, air_m3: float, before_pa: float, after_pa: float) -> float:
    r"""Return the water that trapped air takes as it is pressed together.

    .. math::
        \Delta V = V_a (1 - p_0 / p_1)

    Parameters
    ----------
    air_m3 : float
        Air at the pressure before, >= 0 [m3]
    before_pa, after_pa : float
        Absolute pressures before and after, > 0 and not below it [Pa]

    Returns
    -------
    makeup_m3 : float
        Water [m3]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: air that keeps its temperature. Checked by ``tests/reference/test_commissioning.py``.

    Examples
    --------
    >>> air_makeup_m3(air_m3=0.3, before_pa=1e5, after_pa=3e5)
    0.2

    References
    ----------
    .. [1] Boyle's law.
    """
    need("The air", air_m3, least=0.0)
    need("The pressure before", before_pa, above=0.0)
    need("The pressure after", after_pa, least=before_pa)
    return air_m3 * (1.0 - before_pa / after_pa)
