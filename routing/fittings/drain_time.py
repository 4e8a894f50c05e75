"""How long a stretch of pipe takes to run empty through its drain.

The water is taken as quasi-steady: at every moment the flow is that which the heads of that moment
would drive for ever. One limb is a quadrature, exact for its profile; two limbs that share a tee
are marched through time. Both work in the root of what is left, because the flow falls with it and
the plain integrand has no bound at the end.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from routing.arrays import FloatArray
from routing.compiled import kernel
from routing.errors import InputError
from routing.fittings.limb import Limb, drain_constant
from routing.flow.checks import need

__all__ = ["Emptying", "empty_limbs", "uniform_emptying_s"]

NODES = 256
"""Steps, even in the root of the volume, in which the marching scheme holds a limb [-]."""

STEP = 0.06
"""Share of the water left that runs out in one step of the march [-]."""

TAIL = 1e-3
"""Share of all water below which the rest is taken as one stretch of even slope [-]."""

_GAUSS_X, _GAUSS_W = np.polynomial.legendre.leggauss(8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Emptying:
    """How a stretch runs empty: time, flow at the start, volume and what one limb fed the other.

    ``limb_first_m3_s`` is the flow at the start of each limb as they run together.
    """

    time_s: float
    first_flow_m3_s: float
    limb_first_m3_s: tuple[float, ...]
    volume_m3: float
    fed_m3: float


def uniform_emptying_s(
    *,
    height_m: float,
    slope_sine: float,
    inside_diameter_m: float,
    drain_bore_m: float,
    cd: float,
    f_darcy: float,
    gravity_m_s2: float,
) -> float:
    r"""Return the time in which one limb of even slope runs empty, in closed form.

    .. math::
        T = \frac{\sqrt{H(a+bH)} + \frac{a}{\sqrt b}\,\mathrm{asinh}\sqrt{bH/a}}
            {\sin\theta\,\sqrt{2g}}, \qquad
        a = \left(\frac{A}{C_d A_d}\right)^2, \quad b = \frac{f}{D \sin\theta}

    Parameters
    ----------
    height_m : float
        Height of the limb's top over the drain, > 0 [m]
    slope_sine : float
        Sine of its slope, above 0 to 1 [-]
    inside_diameter_m : float
        Bore of the pipe, > 0 [m]
    drain_bore_m : float
        Bore of the drain, above 0 to the bore of the pipe [m]
    cd : float
        Discharge coefficient of the drain, above 0 to 1 [-]
    f_darcy : float
        Darcy's friction factor, >= 0 [-]
    gravity_m_s2 : float
        Acceleration of free fall, > 0 [m/s2]

    Returns
    -------
    time_s : float
        Time until the limb is empty [s]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: air let in freely at the top, one factor of friction; the last drops run longer.
    Checked by ``tests/reference/test_drain_time.py``.

    Examples
    --------
    >>> uniform_emptying_s(height_m=40.0, slope_sine=0.1, inside_diameter_m=0.3,
    ...     drain_bore_m=0.1, cd=0.6, f_darcy=0.015, gravity_m_s2=9.80665)
    434.7

    References
    ----------
    .. [1] Integral of Torricelli's law with Darcy's friction, independently computed.
    """
    need("The height of the limb", height_m, above=0.0)
    need("The sine of the slope", slope_sine, above=0.0, most=1.0)
    need("The inside diameter", inside_diameter_m, above=0.0)
    need("The bore of the drain", drain_bore_m, above=0.0, most=inside_diameter_m)
    need("The discharge coefficient", cd, above=0.0, most=1.0)
    need("The friction factor", f_darcy, least=0.0)
    need("The gravity", gravity_m_s2, above=0.0)
    a = ((inside_diameter_m / drain_bore_m) ** 2 / cd) ** 2
    b = f_darcy / (inside_diameter_m * slope_sine)
    ratio = b * height_m / a
    if ratio < 1e-8:
        # The limit without friction; the general form would be 0/0 there.
        length = 2.0 * math.sqrt(a * height_m)
    else:
        length = math.sqrt(height_m * (a + b * height_m))
        length += a / math.sqrt(b) * math.asinh(math.sqrt(ratio))
    return length / (slope_sine * math.sqrt(2.0 * gravity_m_s2))


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
    >>> from routing.fittings.limb import make_limb
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
            limb_first_m3_s=(first,),
            volume_m3=volume,
            fed_m3=0.0,
        )
    tables = [_table(limb) for limb in limbs]
    out = np.zeros(5)
    _march.sized(0)(*tables[0], *tables[1], drain, STEP, TAIL, out)
    return Emptying(
        time_s=float(out[0]),
        first_flow_m3_s=float(out[1] + out[2]),
        limb_first_m3_s=(float(out[1]), float(out[2])),
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


def _table(limb: Limb) -> tuple[float, FloatArray, FloatArray]:
    """Return a limb's volume, and its head and resistance at even steps of the volume's root."""
    full = float(limb.volume_m3[-1])
    volume = full * np.linspace(0.0, 1.0, NODES + 1) ** 2
    return (
        full,
        np.interp(volume, limb.volume_m3, limb.head_m),
        np.interp(volume, limb.volume_m3, limb.resistance),
    )


@kernel
def _at(volume: float, full: float, values: FloatArray) -> tuple[float, float]:
    """Return a tabled value at a volume, with its slope; below nothing its first slope goes on."""
    last = values.size - 1
    k = min(int(math.sqrt(max(volume, 0.0) / full) * last), last - 1)
    start = full * (k / last) ** 2
    # Plain floats: interpreted, they are several times as quick as numpy's own.
    first = float(values[k])
    slope = (float(values[k + 1]) - first) * last * last / (full * (2 * k + 1))
    return first + slope * (volume - start), slope


@kernel
def _together(
    full_1: float,
    head_1: FloatArray,
    lost_1: FloatArray,
    full_2: float,
    head_2: FloatArray,
    lost_2: FloatArray,
    drain: float,
    base_1: float,
    base_2: float,
    time: float,
    q_1: float,
    q_2: float,
    open_1: bool,
    open_2: bool,
) -> tuple[float, float]:
    """Return the flows of both limbs after an implicit step: volumes are base - time x flow.

    Newton's method; the problem is the least of a convex function, a shut limb left out.
    """
    # The resistance follows a limb's volume slowly enough to be taken from before the step.
    r_1 = _at(base_1 - time * q_1, full_1, lost_1)[0]
    r_2 = _at(base_2 - time * q_2, full_2, lost_2)[0]
    for _ in range(40):
        total = q_1 + q_2
        shared = 2.0 * drain * abs(total)
        at_tee = drain * total * abs(total)
        z_1, s_1 = _at(base_1 - time * q_1, full_1, head_1)
        z_2, s_2 = _at(base_2 - time * q_2, full_2, head_2)
        g_1 = z_1 - r_1 * q_1 * abs(q_1) - at_tee
        g_2 = z_2 - r_2 * q_2 * abs(q_2) - at_tee
        a_1 = s_1 * time + 2.0 * r_1 * abs(q_1) + 1e-12 * drain
        a_2 = s_2 * time + 2.0 * r_2 * abs(q_2) + 1e-12 * drain
        if not open_2:
            d_1, d_2 = g_1 / (a_1 + shared), -q_2
        elif not open_1:
            d_1, d_2 = -q_1, g_2 / (a_2 + shared)
        else:
            det = a_1 * a_2 + shared * (a_1 + a_2)
            d_1 = (g_1 * (a_2 + shared) - g_2 * shared) / det
            d_2 = (g_2 * (a_1 + shared) - g_1 * shared) / det
        q_1 += d_1
        q_2 += d_2
        if abs(d_1) + abs(d_2) < 1e-6 * (abs(q_1) + abs(q_2)):
            break
    return q_1, q_2


@kernel
def _stage(
    full_1: float,
    head_1: FloatArray,
    lost_1: FloatArray,
    full_2: float,
    head_2: FloatArray,
    lost_2: FloatArray,
    drain: float,
    base_1: float,
    base_2: float,
    time: float,
    q_1: float,
    q_2: float,
    left_1: bool,
    left_2: bool,
) -> tuple[float, float]:
    """Return the flows of one stage; a full limb takes no more, an empty one gives none."""
    q_1, q_2 = _together(
        full_1, head_1, lost_1, full_2, head_2, lost_2, drain,
        base_1, base_2, time, q_1, q_2, left_1, left_2,
    )  # fmt: skip
    over_1 = left_1 and base_1 - time * q_1 > full_1 * (1.0 + 1e-12)
    over_2 = left_2 and base_2 - time * q_2 > full_2 * (1.0 + 1e-12)
    if over_1 or over_2:
        q_1, q_2 = _together(
            full_1, head_1, lost_1, full_2, head_2, lost_2, drain,
            base_1, base_2, time, q_1, q_2, left_1 and not over_1, left_2 and not over_2,
        )  # fmt: skip
    return q_1, q_2


@kernel
def _march(
    full_1: float,
    head_1: FloatArray,
    lost_1: FloatArray,
    full_2: float,
    head_2: FloatArray,
    lost_2: FloatArray,
    drain: float,
    share: float,
    tail: float,
    out: FloatArray,
) -> None:
    """Empty both limbs.

    ``out`` gets the time, both first flows, the water fed across and the water let out.
    """
    gamma = 1.0 - math.sqrt(0.5)
    v_1, v_2 = full_1, full_2
    whole = full_1 + full_2
    q_1 = math.sqrt(head_1[-1] / (drain + lost_1[-1])) * 0.5
    q_2 = math.sqrt(head_2[-1] / (drain + lost_2[-1])) * 0.5
    passed = 0.0
    for number in range(100_000):
        if number == 0:
            # A step of almost no time gives the flows at the start.
            start = 1e-6 * whole / (q_1 + q_2)
            q_1, q_2 = _stage(
                full_1, head_1, lost_1, full_2, head_2, lost_2, drain,
                v_1, v_2, start, q_1, q_2, True, True,
            )  # fmt: skip
            out[1], out[2] = q_1, q_2
        left_1, left_2 = v_1 > 0.0, v_2 > 0.0
        # While one limb feeds the other little may leave: both flows count, not their sum.
        total = abs(q_1) + abs(q_2)
        if v_1 + v_2 <= tail * whole or total <= 0.0:
            break
        step = share * (v_1 + v_2) / total
        # A small limb would run dry within such a step; it gets shorter ones.
        least = 0.1 * step
        if q_1 > 0.0:
            step = min(step, max(0.3 * v_1 / q_1, least))
        if q_2 > 0.0:
            step = min(step, max(0.3 * v_2 / q_2, least))
        a_1, a_2 = _stage(
            full_1, head_1, lost_1, full_2, head_2, lost_2, drain,
            v_1, v_2, gamma * step, q_1, q_2, left_1, left_2,
        )  # fmt: skip
        back = (1.0 - gamma) * step
        q_1, q_2 = _stage(
            full_1, head_1, lost_1, full_2, head_2, lost_2, drain,
            v_1 - back * a_1, v_2 - back * a_2, gamma * step, a_1, a_2, left_1, left_2,
        )  # fmt: skip
        gone_1, gone_2 = back * a_1 + gamma * step * q_1, back * a_2 + gamma * step * q_2
        out[3] += max(-gone_1, 0.0) + max(-gone_2, 0.0)
        out[4] += gone_1 + gone_2
        v_1 = min(max(v_1 - gone_1, 0.0), full_1)
        v_2 = min(max(v_2 - gone_2, 0.0), full_2)
        passed += step
    # The rest as water under one even slope: the flow falls with the root of the head.
    level = max(_at(v_1, full_1, head_1)[0], _at(v_2, full_2, head_2)[0])
    base = max(head_1[0], head_2[0])
    flow = max(q_1 + q_2, math.sqrt(level / drain) * 1e-3)
    out[4] += v_1 + v_2
    passed += 2.0 * (v_1 + v_2) / (flow * (1.0 + math.sqrt(base / level)))
    out[0] = passed
