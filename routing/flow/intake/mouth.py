"""How deep the pipe's mouth must lie so that no vortex draws air."""

from __future__ import annotations

import math

from routing.check import Check
from routing.flow.intake.requirements import judge
from routing.flow.intake.trade_data import limit
from routing.need import need
from routing.value import dataclass
from routing.water import STANDARD_GRAVITY_M_S2

__all__ = ["MouthCheck", "MouthDepths", "check_mouth", "mouth_depths_m"]

GORDON_SYMMETRIC, GORDON_ASYMMETRIC = 0.54, 0.72
"""Gordon's factor in metres and seconds (0.3 and 0.4 in feet), from memory of Gordon 1970."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MouthDepths:
    """Least depths of water above the crown after three authors, and the one to build to [m]."""

    gordon_m: float
    prosser_m: float
    hydraulic_institute_m: float
    least_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MouthCheck:
    """Depth of the mouth's crown below the lowest working level, against the least one."""

    depth_m: float
    depths: MouthDepths
    margin_m: float
    checks: tuple[Check, ...]


def mouth_depths_m(velocity_m_s: float, bore_m: float, *, symmetric: bool = False) -> MouthDepths:
    r"""Return how far the crown of the pipe's mouth must lie below the water.

    .. math::
        S_\mathrm{Gordon} = k V \sqrt{D}, \qquad
        S_\mathrm{Prosser} = 1.5 D - \tfrac{D}{2}, \qquad
        S_\mathrm{HI} = D (1 + 2.3\,\mathrm{Fr}) - \tfrac{D}{2}, \quad
        \mathrm{Fr} = \frac{V}{\sqrt{g D}}

    Parameters
    ----------
    velocity_m_s : float
        Velocity in the mouth, >= 0 [m/s]
    bore_m : float
        Bore of the mouth, > 0 [m]
    symmetric : bool
        The water comes straight on; otherwise the larger factor 0.72 is taken [-]

    Returns
    -------
    depths : MouthDepths
        Depths above the crown; ``least_m`` is Gordon's or 0.3 m, whichever is more [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: a level or sloping mouth in still water. The depths of the last two authors are
    given below the centreline and turned into depths above the crown here. Gordon's is the least
    of the three: below the greatest of them expect vortices. Measured from the lowest working
    level behind the dirtiest screen. Checked by ``tests/reference/test_intake.py``.

    Examples
    --------
    >>> mouth_depths_m(2.0, 0.5, symmetric=True).gordon_m
    0.76368

    References
    ----------
    .. [1] Gordon 1970; Prosser 1977; Hydraulic Institute; all from memory.
    """
    need("The velocity in the mouth", velocity_m_s, least=0.0)
    need("The bore of the mouth", bore_m, above=0.0)
    factor = GORDON_SYMMETRIC if symmetric else GORDON_ASYMMETRIC
    froude = velocity_m_s / math.sqrt(STANDARD_GRAVITY_M_S2 * bore_m)
    gordon = factor * velocity_m_s * math.sqrt(bore_m)
    return MouthDepths(
        gordon_m=gordon,
        prosser_m=bore_m,
        hydraulic_institute_m=bore_m * (0.5 + 2.3 * froude),
        least_m=max(gordon, limit("mouth_least_depth")),
    )


def check_mouth(
    *,
    working_level_m: float,
    centreline_m: float,
    velocity_m_s: float,
    bore_m: float,
    screen_loss_m: float,
    symmetric: bool = False,
) -> MouthCheck:
    """Return whether the pipe's mouth lies deep enough.

    Parameters
    ----------
    working_level_m : float
        Lowest level before the screen at which the machine runs; not the flood or weir level [m]
    centreline_m : float
        Elevation of the pipe's centreline at the mouth [m]
    velocity_m_s : float
        Velocity in the mouth, >= 0 [m/s]
    bore_m : float
        Bore of the mouth, > 0 [m]
    screen_loss_m : float
        Head lost in the dirtiest screen, >= 0 [m]
    symmetric : bool
        The water comes straight on [-]

    Returns
    -------
    check : MouthCheck
        Depth, least depth and margin [m]; a fault where it is too shallow, a warning where only
        the deeper rules are missed

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: as :func:`mouth_depths_m`.

    Examples
    --------
    >>> check = check_mouth(working_level_m=100.0, centreline_m=99.2, velocity_m_s=1.0, bore_m=0.3,
    ...                     screen_loss_m=0.1)
    >>> check.margin_m, [each.code for each in check.checks if not each.passed]
    (0.15564, ['vortex'])

    References
    ----------
    .. [1] As :func:`mouth_depths_m`.
    """
    need("The lowest working level", working_level_m)
    need("The centreline at the mouth", centreline_m)
    need("The head lost in the screen", screen_loss_m, least=0.0)
    depths = mouth_depths_m(velocity_m_s, bore_m, symmetric=symmetric)
    depth = working_level_m - screen_loss_m - centreline_m - 0.5 * bore_m
    safe = max(depths.least_m, depths.hydraulic_institute_m, depths.prosser_m)
    shallow = f"The crown of the pipe's mouth lies {depth:.2f} m below the lowest working level"
    least = judge(
        "mouth_least",
        depth,
        f"{shallow}; {depths.least_m:.2f} m is the least. Lower the mouth by "
        f"{depths.least_m - depth:.2f} m, widen it, or clean the screen.",
        depths.least_m,
    )
    still = judge(
        "mouth_no_vortex",
        depth,
        f"{shallow}, less than the {safe:.2f} m at which vortices are not expected. Fit a cover or "
        "a raft above the mouth.",
        safe,
    )
    return MouthCheck(
        depth_m=depth,
        depths=depths,
        margin_m=depth - depths.least_m,
        checks=(least, still) if least.passed else (least,),
    )
