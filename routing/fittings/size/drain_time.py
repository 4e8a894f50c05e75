"""How long a stretch of pipe takes to run empty through its drain.

The water is taken as quasi-steady: at every moment the flow is that which the heads of that moment
would drive for ever. One limb is a quadrature, exact for its profile; two limbs that share a tee
are marched through time. Both work in the root of what is left, because the flow falls with it and
the plain integrand has no bound at the end.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from routing.errors import InputError
from routing.fittings.size.drain_march import march, table
from routing.fittings.size.limb import Limb, drain_constant
from routing.value import dataclass

__all__ = ["Emptying", "empty_limbs"]

STEP = 0.06
"""Share of the water left that runs out in one step of the march [-]."""

TAIL = 1e-3
"""Share of all water below which the rest is taken as one stretch of even slope [-]."""

_GAUSS_X, _GAUSS_W = np.polynomial.legendre.leggauss(8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Emptying:
    """How a stretch runs empty: time, flow at the start, volume and what one limb fed the other."""

    time_s: float
    first_flow_m3_s: float
    volume_m3: float
    fed_m3: float


def empty_limbs(
    limbs: Sequence[Limb], *, drain_bore_m: float, cd: float, gravity_m_s2: float
) -> Emptying:
    r"""Return how one limb, or two that share a drain, run empty.

    .. math::
        h_i - R_i Q_i |Q_i| = h_t, \quad \sum Q_i = C_d A_d \sqrt{2 g h_t}, \quad
        \frac{dV_i}{dt} = -Q_i

    Parameters
    ----------
    limbs : sequence of Limb
        One or two limbs, full at the start
    drain_bore_m : float
        Bore of the drain, > 0 and not above that of a limb at the drain [m]
    cd : float
        Discharge coefficient of the drain, above 0 to 1 [-]
    gravity_m_s2 : float
        Acceleration of free fall, > 0 [m/s2]

    Returns
    -------
    emptying : Emptying
        Time and flows

    Raises
    ------
    InputError
        If there is no limb or more than two, or a number is outside the bounds given above.

    Notes
    -----
    The higher limb runs first and may feed a lower one that has begun to empty, until their levels
    meet; a limb that is full to its crest takes nothing more, so that all its water goes through
    the drain and the time errs on the long side. Valid for: vents that let the air in freely; real
    times lie within 20 % either way, and the last drops take longer. Checked by
    ``tests/reference/test_drain_time.py``.

    Examples
    --------
    >>> from routing.fittings.size.limb import make_limb
    >>> limb = make_limb(length_m=np.array([0.0, 400.0]), head_m=np.array([0.0, 40.0]),
    ...     bore_m=np.array([0.3]), friction=np.array([0.015]), gravity_m_s2=9.80665)
    >>> empty_limbs([limb], drain_bore_m=0.1, cd=0.6, gravity_m_s2=9.80665).time_s
    434.7

    References
    ----------
    .. [1] Torricelli's law with Darcy's friction; the scheme is a diagonally implicit one of
       second order, stable for stiff problems (Alexander, SIAM J. Numer. Anal. 14, 1977).
    """
    if not 1 <= len(limbs) <= 2:
        raise InputError(
            f"A drain with {len(limbs)} limbs cannot be computed.", "Give it one limb or two."
        )
    least = min(float(limb.bore_m[0]) for limb in limbs)
    if drain_bore_m > least * (1.0 + 1e-9):
        raise InputError(
            f"The drain is {1e3 * drain_bore_m:.1f} mm wide, more than the pipe's own "
            f"{1e3 * least:.1f} mm.",
            "Give the drain a bore not above that of the pipe.",
        )
    drain = drain_constant(drain_bore_m, cd, gravity_m_s2)
    volume = sum(float(limb.volume_m3[-1]) for limb in limbs)
    if len(limbs) == 1:
        limb = limbs[0]
        first = limb.alone_m3_s(float(limb.length_m[-1]), drain)
        return Emptying(
            time_s=_one_limb_s(limb, drain),
            first_flow_m3_s=first,
            volume_m3=volume,
            fed_m3=0.0,
        )
    out = np.zeros(5)
    march.sized(0)(table(limbs[0]), table(limbs[1]), drain, STEP, TAIL, out)
    return Emptying(
        time_s=float(out[0]),
        first_flow_m3_s=float(out[1] + out[2]),
        volume_m3=volume,
        fed_m3=float(out[3]),
    )


def _one_limb_s(limb: Limb, drain: float) -> float:
    """Return the time of one limb: the integral of A sqrt((K + R) / h) over its length.

    In u = sqrt(l), where it has no pole, eight points of Gauss to each stretch.
    """
    edge = np.sqrt(limb.length_m)
    half = 0.5 * np.diff(edge)
    u = 0.5 * (edge[:-1] + edge[1:])[:, None] + half[:, None] * _GAUSS_X
    along = u * u - limb.length_m[:-1, None]
    step = np.diff(limb.length_m)
    head = limb.head_m[:-1, None] + (np.diff(limb.head_m) / step)[:, None] * along
    lost = limb.resistance[:-1, None] + (np.diff(limb.resistance) / step)[:, None] * along
    area = np.diff(limb.volume_m3) / step
    inner = (2.0 * u * np.sqrt((drain + lost) / head)) @ _GAUSS_W
    return float(np.sum(area * half * inner))
