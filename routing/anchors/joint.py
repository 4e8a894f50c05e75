"""Curves that turned joints and bent pipe can lay."""

from __future__ import annotations

import math

from routing.errors import InputError
from routing.need import need
from routing.pipe import material_family
from routing.trade_table import trade_table

__all__ = [
    "joint_offset_m",
    "joint_radius_m",
    "least_bend_radius_m",
]


def joint_radius_m(stick_m: float, allowance_deg: float) -> float:
    r"""Return the radius that sticks lie in when every joint turns by its allowance.

    .. math::
        R = \frac{L}{2 \sin(\delta / 2)}

    Parameters
    ----------
    stick_m : float
        Laying length of a stick, > 0 [m]
    allowance_deg : float
        Turn of each joint, 0 to below 180 [deg]

    Returns
    -------
    radius_m : float
        Radius through the joints, infinite where they do not turn [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: straight sticks. Some makers of gasketed PVC allow no turn at all.
    Checked by ``tests/reference/test_joints.py``.

    Examples
    --------
    >>> joint_radius_m(6.1, 1.0)
    349.5

    References
    ----------
    .. [1] Geometry of a chord.
    """
    need("The length of a stick", stick_m, above=0.0, unit="m")
    need("The allowance of a joint", allowance_deg, least=0.0, below=180.0, unit="degrees")
    if allowance_deg == 0.0:
        return math.inf
    return stick_m / (2.0 * math.sin(math.radians(allowance_deg) / 2.0))


def joint_offset_m(stick_m: float, allowance_deg: float) -> float:
    """Return how far one turned joint carries the far end of the next stick aside [m].

    Parameters
    ----------
    stick_m : float
        Length of a stick, > 0 [m]
    allowance_deg : float
        Turn of the joint, >= 0 [deg]

    Returns
    -------
    offset_m : float
        Distance aside [m]

    Examples
    --------
    >>> joint_offset_m(6.1, 1.0)
    0.1065
    """
    need("The length of a stick", stick_m, above=0.0, unit="m")
    need("The allowance of a joint", allowance_deg, least=0.0, unit="degrees")
    return stick_m * math.sin(math.radians(allowance_deg))


def least_bend_radius_m(
    material: str, outside_diameter_m: float, wall_m: float, *, fitting_in_bend: bool = False
) -> float:
    r"""Return the radius that a fused pipe may be bent to when it is laid [1]_ [2]_.

    .. math::
        R = n D

    Parameters
    ----------
    material : str
        PVC or one of the polyethylenes; no table knows another [-]
    outside_diameter_m : float
        Outside diameter, > 2 walls [m]
    wall_m : float
        Least wall, > 0; the dimension ratio decides for polyethylene [m]
    fitting_in_bend : bool
        Whether a fitting, flange or saddle lies in the bend [-]

    Returns
    -------
    radius_m : float
        Radius of the centreline, infinite where no table allows a bend [m]

    Raises
    ------
    InputError
        If a size is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: fused joints, laid once and left. Between the rows the one of the thinner wall.
    Checked by ``tests/reference/test_joints.py``.

    Examples
    --------
    >>> least_bend_radius_m("PE100", 0.315, 0.0286)
    7.875

    References
    ----------
    .. [1] PVC: a maker's dimensional data of fused pipe.
    .. [2] PE: *PPI comparison of PE4710 and PE3608* (DR 11 to 13.5); the rest from memory of the
       *PPI Handbook of polyethylene pipe*.
    """
    need("The outside diameter", outside_diameter_m, above=0.0, unit="m")
    need("The wall", wall_m, above=0.0, unit="m")
    if 2.0 * wall_m >= outside_diameter_m:
        raise InputError(
            f"A wall of {wall_m:g} m leaves no bore in {outside_diameter_m:g} m.",
            "Check their units.",
        )
    family = material_family(material)
    fitted = fitting_in_bend and family == "PE"
    wanted = "fused with a fitting" if fitted else "fused"
    # Walls are rounded to 0.1 mm, so a ratio a little above its name still belongs to it.
    ratio = outside_diameter_m / wall_m / 1.02
    for row in trade_table(__file__, "bend_radii.csv"):
        if row["material"] != family or row["joint"] != wanted:
            continue
        if not row["up_to_dr"] or ratio <= float(row["up_to_dr"]):
            return float(row["radius_over_od"]) * outside_diameter_m
    return math.inf
