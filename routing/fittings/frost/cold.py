"""Frost in the ground, and the time that an exposed pipe has before its water freezes."""

from __future__ import annotations

import math

from routing.errors import InputError
from routing.fittings.sizing_data import sizing
from routing.need import need

__all__ = [
    "frost_depth_m",
    "heat_resistance_m_k_w",
    "least_running_flow_m3_s",
    "standing_time_s",
]

SECONDS_A_DAY = 86_400.0


def frost_depth_m(
    *,
    freezing_index_c_days: float,
    surface_factor: float | None = None,
    conductivity_w_m_k: float | None = None,
    dry_density_kg_m3: float | None = None,
    moisture: float | None = None,
) -> float:
    r"""Return how deep frost reaches into the ground, after Stefan.

    .. math::
        X = \sqrt{\frac{2 k \cdot 86400\, n I}{334000\, \rho_d w}}

    Parameters
    ----------
    freezing_index_c_days : float
        Freezing index of the air over the winter, >= 0 [degC days]
    surface_factor : float, optional
        Index of the surface over that of the air, 0 to 1; None takes 1, bare ground [-]
    conductivity_w_m_k : float, optional
        Conductivity of the frozen ground, > 0; None takes 2.0 [W/(m K)]
    dry_density_kg_m3 : float, optional
        Dry density of the ground, > 0; None takes 1600 [kg/m3]
    moisture : float, optional
        Water over dry weight, above 0 to 1; None takes 0.15 [-]

    Returns
    -------
    depth_m : float
        Depth of frost below the surface [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: ground that starts at 0 degC and holds its heat as freezing water alone, so the
    depth errs on the deep side; dry or stony ground freezes deeper. Checked by
    ``tests/reference/test_cold.py``.

    Examples
    --------
    >>> frost_depth_m(freezing_index_c_days=500.0)
    1.468

    References
    ----------
    .. [1] US Army cold-regions manuals, from memory of them.
    """
    numbers = sizing()
    surface = numbers.bare_surface if surface_factor is None else surface_factor
    conductivity = conductivity_w_m_k or numbers.soil_conductivity_w_m_k
    density = numbers.soil_dry_density_kg_m3 if dry_density_kg_m3 is None else dry_density_kg_m3
    water = numbers.soil_moisture if moisture is None else moisture
    need("The freezing index", freezing_index_c_days, least=0.0)
    need("The surface factor", surface, least=0.0, most=1.0)
    need("The conductivity of the ground", conductivity, above=0.0)
    need("The dry density of the ground", density, above=0.0)
    need("The moisture of the ground", water, above=0.0, most=1.0)
    frozen = numbers.fusion_j_kg * density * water
    drawn = 2.0 * conductivity * SECONDS_A_DAY * surface * freezing_index_c_days
    return math.sqrt(drawn / frozen)


def heat_resistance_m_k_w(
    *,
    outside_diameter_m: float,
    insulation_m: float = 0.0,
    insulation_w_m_k: float | None = None,
    film_w_m2_k: float | None = None,
) -> float:
    r"""Return what resists heat on its way out of one metre of exposed pipe.

    .. math::
        R' = \frac{\ln(D_3/D_2)}{2 \pi k} + \frac{1}{\pi D_3 h}

    Parameters
    ----------
    outside_diameter_m : float
        Outside diameter of the pipe, > 0 [m]
    insulation_m : float
        Thickness of insulation around it, >= 0 [m]
    insulation_w_m_k : float, optional
        Conductivity of the insulation, > 0; None takes 0.035 [W/(m K)]
    film_w_m2_k : float, optional
        Heat passing from the outer surface to the air, > 0, infinite for a surface at the air's
        temperature; None takes 25 [W/(m2 K)]

    Returns
    -------
    resistance : float
        Temperature difference over heat per metre of pipe [m K/W]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: the pipe's own wall left out, which errs on the cold side. Checked by
    ``tests/reference/test_cold.py``.

    Examples
    --------
    >>> heat_resistance_m_k_w(outside_diameter_m=0.219)
    0.0581
    >>> heat_resistance_m_k_w(outside_diameter_m=0.219, insulation_m=0.05)
    1.750

    References
    ----------
    .. [1] Conduction through a round shell, any text on heat transfer.
    """
    numbers = sizing()
    conductivity = numbers.insulation_w_m_k if insulation_w_m_k is None else insulation_w_m_k
    film = numbers.film_w_m2_k if film_w_m2_k is None else film_w_m2_k
    need("The outside diameter", outside_diameter_m, above=0.0)
    need("The insulation", insulation_m, least=0.0)
    need("The conductivity of the insulation", conductivity, above=0.0)
    outer = outside_diameter_m + 2.0 * insulation_m
    shell = math.log(outer / outside_diameter_m) / (2.0 * math.pi * conductivity)
    if film == math.inf:
        return shell
    need("The heat passing to the air", film, above=0.0)
    return shell + 1.0 / (math.pi * outer * film)


def _cooling(start_c: float, end_c: float, air_c: float) -> float:
    """Return ln of the first over the last difference to the air, 0 where nothing may cool."""
    need("The temperature of the water", start_c, most=100.0)
    need("The temperature at the end", end_c)
    need("The temperature of the air", air_c)
    if end_c < air_c:
        raise InputError(
            f"Water does not cool to {end_c:g} degC in air of {air_c:g} degC.",
            "Give an end temperature above that of the air.",
        )
    if start_c <= end_c:
        return 0.0
    return math.inf if end_c == air_c else math.log((start_c - air_c) / (end_c - air_c))


def standing_time_s(
    *,
    inside_diameter_m: float,
    resistance_m_k_w: float,
    start_c: float,
    air_c: float,
    end_c: float = 0.0,
) -> float:
    r"""Return the time in which still water in an exposed pipe cools to freezing.

    .. math::
        t = \rho c_p \frac{\pi D^2}{4} R' \ln\frac{T_i - T_a}{T_f - T_a}

    Parameters
    ----------
    inside_diameter_m : float
        Bore, > 0 [m]
    resistance_m_k_w : float
        Resistance to heat of :func:`heat_resistance_m_k_w`, > 0 [m K/W]
    start_c : float
        Temperature of the water at the start [degC]
    air_c : float
        Temperature of the air, not above ``end_c`` [degC]
    end_c : float
        Temperature at the end; 0 is freezing [degC]

    Returns
    -------
    time_s : float
        Time; 0 for water that arrives at 0 degC, infinite for air that does not freeze [s]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: water mixed throughout, heat of the wall left out, until the first ice and not the
    solid pipe. Checked by ``tests/reference/test_cold.py``.

    Examples
    --------
    >>> standing_time_s(inside_diameter_m=0.2, resistance_m_k_w=0.0581, start_c=1.0,
    ...                 air_c=-20.0) / 60.0
    6.22

    References
    ----------
    .. [1] Published table of the time in which piping freezes, seen second-hand.
    """
    need("The inside diameter", inside_diameter_m, above=0.0)
    need("The resistance to heat", resistance_m_k_w, above=0.0)
    numbers = sizing()
    held = numbers.water_density_kg_m3 * numbers.water_heat_j_kg_k
    held *= 0.25 * math.pi * inside_diameter_m**2
    return held * resistance_m_k_w * _cooling(start_c, end_c, air_c)


def least_running_flow_m3_s(
    *,
    length_m: float,
    resistance_m_k_w: float,
    start_c: float,
    air_c: float,
    end_c: float = 0.0,
) -> float:
    r"""Return the flow that keeps an exposed stretch of pipe from freezing.

    .. math::
        Q = \frac{L}{R' \rho c_p \ln\frac{T_i - T_a}{T_f - T_a}}

    Parameters
    ----------
    length_m : float
        Length of the exposed pipe, >= 0 [m]
    resistance_m_k_w : float
        Resistance to heat of :func:`heat_resistance_m_k_w`, > 0 [m K/W]
    start_c : float
        Temperature at which the water arrives [degC]
    air_c : float
        Temperature of the air, not above ``end_c`` [degC]
    end_c : float
        Temperature at which it may leave; 0 is freezing [degC]

    Returns
    -------
    flow_m3_s : float
        Least flow; infinite for water that arrives at 0 degC, as under ice [m3/s]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: steady flow; heat of friction left out, which errs on the cold side. Checked by
    ``tests/reference/test_cold.py``.

    Examples
    --------
    >>> 1000.0 * least_running_flow_m3_s(length_m=30.0, resistance_m_k_w=0.0581, start_c=1.0,
    ...                                  air_c=-20.0)
    2.52

    References
    ----------
    .. [1] The same balance of heat; method of National Research Council Canada, IRC-1682.
    """
    need("The length", length_m, least=0.0)
    need("The resistance to heat", resistance_m_k_w, above=0.0)
    cooling = _cooling(start_c, end_c, air_c)
    if length_m == 0.0 or cooling == math.inf:
        return 0.0
    if cooling == 0.0:
        return math.inf
    numbers = sizing()
    held = numbers.water_density_kg_m3 * numbers.water_heat_j_kg_k
    return length_m / (resistance_m_k_w * held * cooling)
