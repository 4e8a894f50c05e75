"""Holding a pipe along its length: drag of the ground, restrained joints, pull on an anchor."""

from __future__ import annotations

import math

from routing.anchors.trade_data import anchor_limits
from routing.need import need

__all__ = [
    "downslope_force_n",
    "restrained_length_m",
    "soil_drag_n_m",
]


def soil_drag_n_m(
    *, cover_m: float, outside_diameter_m: float, pipe_n_m: float, soil_n_m3: float, friction: float
) -> float:
    r"""Return the drag of the ground on a metre of buried pipe [1]_.

    .. math::
        F_f = \mu (2 \gamma H D + w)

    Parameters
    ----------
    cover_m : float
        Ground to crown, >= 0 [m]
    outside_diameter_m : float
        Outside diameter, > 0 [m]
    pipe_n_m : float
        Weight of the pipe and its water, >= 0 [N/m]
    soil_n_m3 : float
        Weight of the soil, under water less its buoyancy, > 0 [N/m3]
    friction : float
        Friction of soil on pipe, > 0 [-]

    Returns
    -------
    drag_n_m : float
        Drag [N/m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: bare pipe in compacted backfill; adhesion is not counted, a plastic wrap lowers it.
    Checked by ``tests/reference/test_thrust.py``.

    Examples
    --------
    >>> soil_drag_n_m(cover_m=0.8, outside_diameter_m=0.2, pipe_n_m=350.0, soil_n_m3=9190.0,
    ...               friction=0.4)
    1316.3

    References
    ----------
    .. [1] Ductile Iron Pipe Research Association. *Thrust restraint design*, from memory of it.
    """
    need("The cover", cover_m, least=0.0, unit="m")
    need("The outside diameter", outside_diameter_m, above=0.0, unit="m")
    need("The weight of the pipe", pipe_n_m, least=0.0, unit="N/m")
    need("The weight of the soil", soil_n_m3, above=0.0, unit="N/m3")
    need("The friction of soil on pipe", friction, above=0.0)
    return friction * (2.0 * soil_n_m3 * cover_m * outside_diameter_m + pipe_n_m)


def restrained_length_m(
    end_force_n: float,
    deflection_deg: float,
    *,
    drag_n_m: float,
    passive_n_m: float = 0.0,
    safety: float | None = None,
) -> float:
    r"""Return how far on each side of a bend the joints must be restrained [1]_.

    .. math::
        L_r = \frac{S P A \tan(\theta/2)}{F_f + R_s/2}

    Parameters
    ----------
    end_force_n : float
        Force P A through either end of the bend, >= 0 [N]
    deflection_deg : float
        Change of direction in space, 0 to below 180 [deg]
    drag_n_m : float
        Drag of the ground along the pipe, > 0 [N/m]
    passive_n_m : float
        Passive resistance square to the pipe, >= 0; zero is the safe side [N/m]
    safety : float, optional
        Factor of safety, >= 1; None takes 1.5 [-]

    Returns
    -------
    length_m : float
        Length on each side [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: horizontal bends in the ground. A dead end is restrained over S P A / F_f.
    Checked by ``tests/reference/test_thrust.py``.

    Examples
    --------
    >>> restrained_length_m(37703.0, 45.0, drag_n_m=1316.3)
    17.797

    References
    ----------
    .. [1] Ductile Iron Pipe Research Association. *Thrust restraint design*, from memory of it.
    """
    need("The force", end_force_n, least=0.0, unit="N")
    need("The drag of the ground", drag_n_m, above=0.0, unit="N/m")
    need("The passive resistance", passive_n_m, least=0.0, unit="N/m")
    factor = anchor_limits().block_safety if safety is None else safety
    need("The factor of safety", factor, least=1.0)
    need("The deflection of a bend", deflection_deg, least=0.0, below=180.0, unit="degrees")
    half = math.tan(math.radians(deflection_deg) / 2.0)
    return factor * end_force_n * half / (drag_n_m + passive_n_m / 2.0)


def downslope_force_n(
    *,
    pipe_n_m: float,
    water_n_m: float,
    length_m: float,
    slope_deg: float,
    friction: float | None = None,
) -> float:
    r"""Return the pull on the anchor at the head of a segment above ground.

    .. math::
        F = w_p L \sin a + \mu (w_p + w_w) L \cos a

    Parameters
    ----------
    pipe_n_m, water_n_m : float
        Weight of the pipe and of the water in it, >= 0 [N/m]
    length_m : float
        Length of the segment along the slope, > 0 [m]
    slope_deg : float
        Slope of the pipe, 0 to 90, whichever way it falls [deg]
    friction : float, optional
        Friction on the saddles, >= 0; None takes 0.6 [-]

    Returns
    -------
    force_n : float
        Pull down the slope [N]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: a segment with an expansion joint. Friction is added because a pipe that cools drags
    downhill over its saddles. The water's weight along the slope is not carried by the wall but is
    pressure on the bend below, and not counted twice.
    Checked by ``tests/reference/test_thrust.py``.

    Examples
    --------
    >>> downslope_force_n(pipe_n_m=300.0, water_n_m=700.0, length_m=30.0, slope_deg=20.0)
    19993.

    References
    ----------
    .. [1] Statics of a pipe on saddles; friction common practice, no source.
    """
    need("The weight of the pipe", pipe_n_m, least=0.0, unit="N/m")
    need("The weight of the water", water_n_m, least=0.0, unit="N/m")
    need("The length of the segment", length_m, above=0.0, unit="m")
    need("The slope", slope_deg, least=0.0, most=90.0, unit="degrees")
    mu = anchor_limits().saddle_friction if friction is None else friction
    need("The friction of the saddles", mu, least=0.0)
    a = math.radians(slope_deg)
    drag = mu * (pipe_n_m + water_n_m) * math.cos(a)
    return length_m * (pipe_n_m * math.sin(a) + drag)
