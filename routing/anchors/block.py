"""Blocks of concrete: faces against the ground, and weight against being lifted."""

from __future__ import annotations

import math
from typing import Literal

from routing.anchors.trade_data import anchor_limits
from routing.errors import InputError
from routing.need import need
from routing.value import dataclass

__all__ = [
    "GravityBlock",
    "bearing_area_m2",
    "bearing_block_volume_m3",
    "block_height_m",
    "gravity_block",
    "soil_hold_n",
]


def bearing_area_m2(thrust_n: float, bearing_pa: float, safety: float | None = None) -> float:
    r"""Return the face that a block needs against undisturbed ground [1]_.

    .. math::
        A = \frac{S T}{q}

    Parameters
    ----------
    thrust_n : float
        Thrust square to the face, >= 0 [N]
    bearing_pa : float
        Pressure that the ground bears, >= 0 [Pa]
    safety : float, optional
        Resistance over thrust, >= 1; None takes 1.5 [-]

    Returns
    -------
    area_m2 : float
        Face, infinite in ground that bears nothing [m2]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: a face centred on the line of the thrust.
    Checked by ``tests/reference/test_thrust.py``.

    Examples
    --------
    >>> bearing_area_m2(18747.7, 47880.26)
    0.58733

    References
    ----------
    .. [1] Municipal standard of thrust blocks.
    """
    need("The thrust", thrust_n, least=0.0, unit="N")
    need("The bearing pressure of the ground", bearing_pa, least=0.0, unit="Pa")
    factor = anchor_limits().block_safety if safety is None else safety
    need("The factor of safety", factor, least=1.0)
    if thrust_n == 0.0:
        return 0.0
    return factor * thrust_n / bearing_pa if bearing_pa > 0.0 else math.inf


def block_height_m(centre_depth_m: float) -> float:
    r"""Return the greatest height of a bearing block centred on the pipe [1]_.

    Half the depth to its base; as the base lies half the height below the centre,

    .. math::
        h = \tfrac{1}{2} (c + \tfrac{h}{2}) = \tfrac{2}{3} c

    Parameters
    ----------
    centre_depth_m : float
        Ground to the centre of the pipe, > 0 [m]

    Returns
    -------
    height_m : float
        Height of the block [m]

    Raises
    ------
    InputError
        If the depth is non-finite or not above zero.

    Notes
    -----
    Valid for: level ground in front of the block.
    Checked by ``tests/reference/test_thrust.py``.

    Examples
    --------
    >>> block_height_m(0.9)
    0.6

    References
    ----------
    .. [1] Municipal standard of thrust blocks.
    """
    need("The depth to the centre of the pipe", centre_depth_m, above=0.0, unit="m")
    share = anchor_limits().block_height_share
    return share * centre_depth_m / (1.0 - share / 2.0)


def bearing_block_volume_m3(
    area_m2: float, height_m: float, outside_diameter_m: float, gap_m: float
) -> float:
    """Return about how much concrete stands between a fitting and a bearing face [m3].

    Parameters
    ----------
    area_m2 : float
        Bearing face [m2]
    height_m : float
        Its height, > 0 [m]
    outside_diameter_m : float
        Outside diameter of the pipe [m]
    gap_m : float
        Space between pipe and wall of the trench [m]

    Returns
    -------
    volume_m3 : float
        Concrete [m3]

    Notes
    -----
    A frustum from a square of one outside diameter at the fitting, no taller than the block, to the
    face, as long as the space beside the pipe or, where the face is wider than that allows, as its
    sides spread at 45 degrees.

    Examples
    --------
    >>> bearing_block_volume_m3(0.6, 0.6, 0.2, 0.25)
    0.1059
    """
    near = outside_diameter_m * min(outside_diameter_m, height_m)
    width = area_m2 / height_m
    length = max(gap_m, (width - outside_diameter_m) / 2.0)
    return length / 3.0 * (near + area_m2 + math.sqrt(near * area_m2))


@dataclass(frozen=True, slots=True, kw_only=True)
class GravityBlock:
    """A block that holds by its weight: what each check asks, and what that makes."""

    uplift_n: float
    sliding_n: float
    weight_n: float
    volume_m3: float
    governs: Literal["uplift", "sliding"]


def gravity_block(
    up_n: float,
    horizontal_n: float,
    *,
    buoyancy_n_m3: float = 0.0,
    friction: float | None = None,
    safety: float | None = None,
) -> GravityBlock:
    r"""Return the block that a thrust neither lifts nor slides.

    .. math::
        W \ge S T_z \quad\text{and}\quad \mu (W - T_z) \ge S T_h

    Parameters
    ----------
    up_n : float
        Vertical thrust, negative where it presses down [N]
    horizontal_n : float
        Horizontal thrust that no face of the ground takes, >= 0 [N]
    buoyancy_n_m3 : float
        Weight of the water that the block displaces, 0 on dry ground [N/m3]
    friction : float, optional
        Friction on the ground, > 0; None takes 0.5 [-]
    safety : float, optional
        Resistance over thrust, >= 1; None takes 1.5 [-]

    Returns
    -------
    block : GravityBlock
        Weight by each check, the greater of them, and its volume of concrete

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: a level base; on a slope the base is cut in steps. The soil above is not counted.
    Weights are those that act on the ground, so under water less the buoyancy.
    Checked by ``tests/reference/test_thrust.py``.

    Examples
    --------
    >>> block = gravity_block(12900.0, 2270.0)
    >>> block.governs, block.weight_n, block.volume_m3
    ('sliding', 19710., 0.8645)

    References
    ----------
    .. [1] Statics of a block; friction and unit weight common practice, no source.
    """
    if not math.isfinite(up_n):
        raise InputError(f"The vertical thrust is {up_n:g} N.", "Give a finite thrust.")
    need("The horizontal thrust", horizontal_n, least=0.0, unit="N")
    need("The buoyancy", buoyancy_n_m3, least=0.0, unit="N/m3")
    numbers = anchor_limits()
    mu = numbers.block_friction if friction is None else friction
    factor = numbers.block_safety if safety is None else safety
    need("The friction of the block", mu, above=0.0)
    need("The factor of safety", factor, least=1.0)
    unit_n_m3 = numbers.concrete_n_m3 - buoyancy_n_m3
    need("The weight of the concrete less its buoyancy", unit_n_m3, above=0.0, unit="N/m3")
    uplift = factor * max(up_n, 0.0)
    sliding = max(up_n + factor * horizontal_n / mu, 0.0)
    weight = max(uplift, sliding)
    return GravityBlock(
        uplift_n=uplift,
        sliding_n=sliding,
        weight_n=weight,
        volume_m3=weight / unit_n_m3,
        governs="sliding" if sliding > uplift else "uplift",
    )


def soil_hold_n(
    *,
    cover_m: float,
    outside_diameter_m: float,
    stick_m: float,
    bearing_pa: float,
    submerged_n_m3: float,
    upward: bool,
) -> float:
    """Return what the ground holds of a pipe's turn at a joint, over one stick [N].

    Parameters
    ----------
    cover_m : float
        Ground over the crown, >= 0 [m]
    outside_diameter_m : float
        Outside diameter, > 0 [m]
    stick_m : float
        Length of a stick, > 0 [m]
    bearing_pa : float
        Bearing pressure of the ground, >= 0 [Pa]
    submerged_n_m3 : float
        Weight of the soil under water, > 0 [N/m3]
    upward : bool
        The turn pushes the pipe up

    Returns
    -------
    hold_n : float
        Force held [N]

    Notes
    -----
    Sideways it is the bearing pressure on the pipe; upward only the weight of the soil above,
    under water. Common practice, no source; shear in the soil is not counted.

    Examples
    --------
    >>> soil_hold_n(cover_m=0.8, outside_diameter_m=0.2, stick_m=6.0, bearing_pa=47880.0,
    ...             submerged_n_m3=9190.0, upward=True)
    8822.4
    """
    need("The cover", cover_m, least=0.0, unit="m")
    for value, what, unit in (
        (outside_diameter_m, "outside diameter", "m"),
        (stick_m, "length of a stick", "m"),
        (submerged_n_m3, "weight of the soil under water", "N/m3"),
    ):
        need(f"The {what}", value, above=0.0, unit=unit)
    need("The bearing pressure of the ground", bearing_pa, least=0.0, unit="Pa")
    load_pa = submerged_n_m3 * cover_m if upward else bearing_pa
    return load_pa * outside_diameter_m * stick_m
