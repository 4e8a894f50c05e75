"""The classic formulas for instant and slow closure, and for opening."""

from __future__ import annotations

import math

from routing.need import need
from routing.water import STANDARD_GRAVITY_M_S2

__all__ = ["joukowsky_m", "michaud_m", "rigid_column_rise_m"]


def joukowsky_m(
    *,
    wave_speed_m_s: float,
    velocity_change_m_s: float,
    gravity_m_s2: float = STANDARD_GRAVITY_M_S2,
) -> float:
    r"""Return the rise of head where the flow is stopped at once, after Joukowsky.

    .. math::
        \Delta H = \frac{a \Delta V}{g}

    Parameters
    ----------
    wave_speed_m_s : float
        Wave speed, > 0 [m/s]
    velocity_change_m_s : float
        Velocity that is lost, >= 0 [m/s]
    gravity_m_s2 : float
        Acceleration of free fall, > 0 [m/s2]

    Returns
    -------
    rise_m : float
        Rise of head above the running one [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: a closure within the critical time. Line packing then adds up to the friction head,
    so the rise counts from the static level to be safe.
    Checked by ``tests/reference/test_surge.py``.

    Examples
    --------
    >>> joukowsky_m(wave_speed_m_s=305.0, velocity_change_m_s=4.0)
    124.4

    References
    ----------
    .. [1] N. Joukowsky. *On hydraulic shock in water pipes*, 1898.
    """
    need("The wave speed", wave_speed_m_s, above=0.0)
    need("The change of velocity", velocity_change_m_s, least=0.0)
    need("The gravity", gravity_m_s2, above=0.0)
    return wave_speed_m_s * velocity_change_m_s / gravity_m_s2


def michaud_m(
    *, length_velocity_m2_s: float, closing_s: float, gravity_m_s2: float = STANDARD_GRAVITY_M_S2
) -> float:
    r"""Return the rise of head from a slow, uniform closure, after Michaud.

    .. math::
        \Delta H = \frac{2 \sum L V}{g t}

    Parameters
    ----------
    length_velocity_m2_s : float
        Sum of length times velocity of all reaches, >= 0 [m2/s]
    closing_s : float
        Effective closing time, > 0; not the stroke of a gate [s]
    gravity_m_s2 : float
        Acceleration of free fall, > 0 [m/s2]

    Returns
    -------
    rise_m : float
        Rise of head above the static one [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: closing times beyond the critical time, a V / (2 g H) up to 1; above that take
    1.25 times the result.
    Checked by ``tests/reference/test_surge.py``.

    Examples
    --------
    >>> michaud_m(length_velocity_m2_s=1800.0, closing_s=12.0)
    30.59

    References
    ----------
    .. [1] J. Michaud. *Coups de bélier dans les conduites*, 1878.
    """
    need("The length times velocity", length_velocity_m2_s, least=0.0)
    need("The closing time", closing_s, above=0.0)
    need("The gravity", gravity_m_s2, above=0.0)
    return 2.0 * length_velocity_m2_s / (gravity_m_s2 * closing_s)


def rigid_column_rise_m(*, static_head_m: float, column_ratio: float) -> float:
    r"""Return the rise from a slow closure if water and pipe did not stretch.

    .. math::
        \Delta H = H_0 \left[\frac{x^2}{2} + x \sqrt{\frac{x^2}{4} + 1}\right], \quad
        x = \frac{\sum L V}{g H_0 t}

    Parameters
    ----------
    static_head_m : float
        Static head at the valve, > 0 [m]
    column_ratio : float
        The ratio x, >= 0 [-]

    Returns
    -------
    rise_m : float
        Rise of head above the static one [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: a V / (2 g H) well above 1. Below 1, which is nearly every small line, the true rise
    is about twice as much, so this alone never sizes a pipe.
    Checked by ``tests/reference/test_surge.py``.

    Examples
    --------
    >>> rigid_column_rise_m(static_head_m=100.0, column_ratio=0.3)
    34.8356

    References
    ----------
    .. [1] L. Allievi. *Theory of Water-Hammer*, 1925, from memory.
    """
    need("The static head", static_head_m, above=0.0)
    need("The ratio of the column", column_ratio, least=0.0)
    half = 0.5 * column_ratio
    return static_head_m * (2.0 * half * half + column_ratio * math.hypot(half, 1.0))
