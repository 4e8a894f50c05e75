"""Whether the flow carries air down a falling reach: information, never a reason to leave a vent.

Two formulas that disagree are both given, and the slower of the flow's chances counts.
"""

from __future__ import annotations

import math

from routing.fittings.sizing_data import pocket_factors, sizing
from routing.need import need

__all__ = ["carrying_velocity_m_s", "carrying_velocity_sanks_m_s", "pocket_factor"]


def pocket_factor(pocket_m3: float, inside_diameter_m: float) -> float:
    r"""Return the factor of an air pocket's size in the velocity that moves it.

    .. math::
        n = \frac{4 V}{\pi D^3}

    Parameters
    ----------
    pocket_m3 : float
        Volume of the pocket, >= 0; infinite for any large one [m3]
    inside_diameter_m : float
        Bore, > 0 [m]

    Returns
    -------
    factor : float
        0.45 for n up to 0.06, then 0.50, 0.57 and 0.61 as n passes 0.06, 0.12 and 0.30 [-]

    Raises
    ------
    InputError
        If the volume is below zero or the bore not above it.

    Notes
    -----
    Valid for: a pocket in a full pipe. Checked by ``tests/reference/test_air_flow.py``.

    Examples
    --------
    >>> pocket_factor(1e-4, 0.2), pocket_factor(1.0, 0.2)
    (0.45, 0.61)

    References
    ----------
    .. [1] HR Wallingford report SR 649, from memory of it.
    """
    if pocket_m3 != math.inf:
        need("The volume of the pocket", pocket_m3, least=0.0)
    need("The inside diameter", inside_diameter_m, above=0.0)
    size = 4.0 * pocket_m3 / (math.pi * inside_diameter_m**3)
    # A hair of slack, so that a pocket of exactly a limit is still below it.
    return next(factor for most, factor in pocket_factors() if size <= most * (1.0 + 1e-9))


def carrying_velocity_m_s(
    *,
    inside_diameter_m: float,
    angle_rad: float,
    gravity_m_s2: float,
    pocket_m3: float = math.inf,
) -> float:
    r"""Return the velocity from which flow carries an air pocket down a falling pipe.

    .. math::
        V_c = 1.1 \sqrt{g D} \left(0.56 \sqrt{\sin\theta} + a\right)

    Parameters
    ----------
    inside_diameter_m : float
        Bore, > 0 [m]
    angle_rad : float
        Fall of the pipe as an angle, 0 to pi/2; not its grade and not degrees [rad]
    gravity_m_s2 : float
        Acceleration of free fall, > 0 [m/s2]
    pocket_m3 : float
        Volume of the pocket; any large one unless given [m3]

    Returns
    -------
    velocity_m_s : float
        Velocity, with the safety of 1.1 [m/s]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: full pipes. Slower flow leaves the pocket where it is. Checked by
    ``tests/reference/test_air_flow.py``.

    Examples
    --------
    >>> carrying_velocity_m_s(inside_diameter_m=0.3, angle_rad=math.radians(5.0),
    ...                       gravity_m_s2=9.80665)
    1.46

    References
    ----------
    .. [1] HR Wallingford report SR 649, from memory of it; the form seen second-hand.
    """
    need("The inside diameter", inside_diameter_m, above=0.0)
    need("The angle of the pipe", angle_rad, least=0.0, most=0.5 * math.pi)
    need("The gravity", gravity_m_s2, above=0.0)
    numbers = sizing()
    relative = numbers.carry_slope * math.sqrt(math.sin(angle_rad))
    relative += pocket_factor(pocket_m3, inside_diameter_m)
    return numbers.carry_safety * math.sqrt(gravity_m_s2 * inside_diameter_m) * relative


def carrying_velocity_sanks_m_s(
    *, inside_diameter_m: float, angle_rad: float, gravity_m_s2: float
) -> float:
    r"""Return the velocity from which flow carries air down, by a second formula.

    .. math::
        V_c = \sqrt{g D} \left(0.825 + 0.25 \sqrt{\sin\theta}\right)

    Parameters
    ----------
    inside_diameter_m : float
        Bore, > 0 [m]
    angle_rad : float
        Fall of the pipe as an angle, 0 to pi/2 [rad]
    gravity_m_s2 : float
        Acceleration of free fall, > 0 [m/s2]

    Returns
    -------
    velocity_m_s : float
        Velocity [m/s]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: full pipes. Checked by ``tests/reference/test_air_flow.py``.

    Examples
    --------
    >>> carrying_velocity_sanks_m_s(inside_diameter_m=0.3, angle_rad=math.radians(5.0),
    ...                             gravity_m_s2=9.80665)
    1.54

    References
    ----------
    .. [1] R. L. Sanks, *Pumping Station Design*, seen second-hand.
    """
    need("The inside diameter", inside_diameter_m, above=0.0)
    need("The angle of the pipe", angle_rad, least=0.0, most=0.5 * math.pi)
    need("The gravity", gravity_m_s2, above=0.0)
    numbers = sizing()
    relative = numbers.sanks_base + numbers.sanks_slope * math.sqrt(math.sin(angle_rad))
    return math.sqrt(gravity_m_s2 * inside_diameter_m) * relative
