"""Bounds on the surge that need no time steps: instant, slow and in between, and along the line."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.errors import InputError
from routing.flow.surge.formulas import rigid_column_rise_m
from routing.flow.surge.wave import critical_time_s
from routing.need import need
from routing.value import dataclass
from routing.water import STANDARD_GRAVITY_M_S2

__all__ = [
    "SurgeBound",
    "SurgeReach",
    "bound_along_m",
    "surge_bound",
]

FACTOR_ABOVE_ONE = 1.25
"""On the slow bounds where a V / (2 g H) > 1, found by a scan with the method of characteristics:
the worst was 1.25 with friction of a fifth of the head [-]."""

TAPER_FACTOR = 1.1
"""On the straight taper to the intake for slow closure, found by the same scan [-]."""

ALIKE = 0.02
"""Pipes whose impedances a / (g A) differ by less throw back no wave worth a thought [-]."""

SHORTEST = 1e-6
"""Closing time over critical time from which the formulas for slow closures are worked out [-]."""

BLOCKED_S = 0.1
"""Quickest stop of the flow that is thought of, by a stone or by ice; a wave that is thrown back by
the reservoir sooner takes its share off the front. Common practice, no source [s]."""

TAPER_FROM = 2.0
"""Closing time over critical time from which the surge tapers at all [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SurgeReach:
    """One pipe as a wave meets it, the intake's first: slope length, wave speed and velocity."""

    length_m: float
    wave_speed_m_s: float
    velocity_m_s: float
    area_m2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SurgeBound:
    """What a closure or an opening can do at most at the valve, and what it follows from.

    ``rise_m`` and ``fall_m`` are counted from the static head, for closing and for opening.
    ``pipeline_constant`` is a V / (2 g H); ``governs`` names the formula of the rise. Where
    ``unlike_pipes`` follow each other and the closure is within the critical time, the rise is that
    of the first swing, and later ones may be higher.
    """

    rise_m: float
    fall_m: float
    governs: str
    closing_s: float
    critical_s: float
    pipeline_constant: float
    joukowsky_m: float
    michaud_m: float
    rigid_column_m: float
    unlike_pipes: bool


def _unlike(reaches: tuple[SurgeReach, ...]) -> bool:
    impedance = [reach.wave_speed_m_s / reach.area_m2 for reach in reaches]
    return max(impedance) > (1.0 + ALIKE) * min(impedance)


def _instant_m(reaches: tuple[SurgeReach, ...], gravity_m_s2: float) -> float:
    """Return the rise for an instant closure, reflections at every narrowing uphill included."""
    impedance = [reach.wave_speed_m_s / reach.area_m2 for reach in reaches]
    flow = reaches[-1].velocity_m_s * reaches[-1].area_m2
    reflected = 1.0
    for upper, lower in pairwise(impedance):
        reflected *= 1.0 + 2.0 * max(0.0, (upper - lower) / (upper + lower))
    return flow * max(max(impedance), reflected * impedance[-1]) / gravity_m_s2


def surge_bound(
    reaches: tuple[SurgeReach, ...],
    *,
    static_head_m: float,
    closing_s: float,
    gravity_m_s2: float = STANDARD_GRAVITY_M_S2,
) -> SurgeBound:
    r"""Return at once what a uniform closure or opening can do at most at the valve.

    .. math::
        \Delta H = \frac{a V}{g} \quad (t \le T_c), \qquad
        \Delta H = \min\left(\frac{a V}{g},\; k \max(\Delta H_\mathrm{Michaud},
            \Delta H_\mathrm{rigid})\right) \quad (t > T_c)

    with k = 1 where a V / (2 g H) <= 1 and 1.25 above.

    Parameters
    ----------
    reaches : tuple of SurgeReach
        The pipes from the intake down [-]
    static_head_m : float
        Static head at the valve above the level it discharges to, > 0 [m]
    closing_s : float
        Effective closing (or opening) time, >= 0; not the stroke of a gate [s]
    gravity_m_s2 : float
        Acceleration of free fall, > 0 [m/s2]

    Returns
    -------
    bound : SurgeBound
        Rise to be **added to the static head**, which covers line packing, and fall [m]

    Raises
    ------
    InputError
        If there is no pipe, or an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: a V / (2 g H) from 0.1 to 15, closing times from 0.2 to 40 critical times, friction
    up to a fifth of the head; a scan of 4 800 runs of one pipe stands behind it. With unlike pipes
    the greatest a V / g of the line and the reflections from every narrowing uphill stand for the
    instant closure. That is its first swing: in scans of 3 000 lines of two to four pipes later
    swings reached 1.80 times that (friction factor 0.02) to 2.24 times (none), while closures
    slower than 1.6 critical times kept to the bound. The method of characteristics has the last
    word there.
    Checked by ``tests/reference/test_surge.py`` and ``tests/routing/flow/surge/test_bounds.py``.

    Examples
    --------
    >>> reach = SurgeReach(length_m=800.0, wave_speed_m_s=300.0, velocity_m_s=1.5, area_m2=0.03)
    >>> bound = surge_bound((reach,), static_head_m=60.0, closing_s=10.0)
    >>> bound.critical_s, bound.pipeline_constant, bound.rise_m
    (5.3333, 0.3824, 24.4732)
    """
    if not reaches:
        raise InputError("There is no pipe for a surge to run in.", "Give the line its pipes.")
    need("The static head", static_head_m, above=0.0)
    need("The closing time", closing_s, least=0.0)
    column = sum(reach.length_m * reach.velocity_m_s for reach in reaches)
    length = sum(reach.length_m for reach in reaches)
    critical = critical_time_s(
        [reach.length_m for reach in reaches], [reach.wave_speed_m_s for reach in reaches]
    )
    # Equivalent single pipe for slow closures: a = L / sum(L/a), V = sum(L V) / L.
    constant = column / (gravity_m_s2 * static_head_m * critical)
    instant = _instant_m(reaches, gravity_m_s2)
    michaud = rigid = fall = math.inf
    rise, governs = instant, "instant closure"
    if closing_s > SHORTEST * critical:
        ratio = column / (gravity_m_s2 * static_head_m * closing_s)
        michaud = 2.0 * ratio * static_head_m
        rigid = rigid_column_rise_m(static_head_m=static_head_m, column_ratio=ratio)
        fall = michaud
        slow = (1.0 if constant <= 1.0 else FACTOR_ABOVE_ONE) * max(michaud, rigid)
        if closing_s > critical and slow < instant:
            rise, governs = slow, "Michaud" if michaud >= rigid else "rigid column"
    if closing_s <= critical or length == 0.0:
        fall = math.inf
    return SurgeBound(
        rise_m=rise,
        fall_m=min(fall, instant, static_head_m),
        governs=governs,
        closing_s=closing_s,
        critical_s=critical,
        pipeline_constant=constant,
        joukowsky_m=instant,
        michaud_m=michaud,
        rigid_column_m=rigid,
        unlike_pipes=_unlike(reaches),
    )


def bound_along_m(
    bound: SurgeBound, slope_station_m: FloatArray, reaches: tuple[SurgeReach, ...]
) -> FloatArray:
    """Return the bound on the rise (and on the fall below static) at each station.

    Parameters
    ----------
    bound : SurgeBound
        The bound at the valve [-]
    slope_station_m : FloatArray
        Length along the pipe to each station, (n,) rising, ending at the valve [m]
    reaches : tuple of SurgeReach
        The pipes from the intake down [-]

    Returns
    -------
    rise_m : FloatArray
        Bound at each station, (n,) [m]

    Notes
    -----
    Valid for: as :func:`surge_bound`. At the reservoir itself there is no rise. Up to twice the
    critical time the whole rise runs up the line, all but the last stretch before the intake, from
    which a wave is thrown back within 0.1 s, quicker than the flow is stopped; only slower closures
    taper, with the travel time of the wave, and held within 2 % of the rise. Unlike pipes throw
    waves to and fro between them and gather the rise where the bore is narrow, so there nothing
    more is taken off.
    Checked by ``tests/routing/flow/surge/test_bounds.py``.

    Examples
    --------
    >>> import numpy as np
    >>> reach = SurgeReach(length_m=800.0, wave_speed_m_s=300.0, velocity_m_s=1.5, area_m2=0.03)
    >>> fast = surge_bound((reach,), static_head_m=60.0, closing_s=6.0)
    >>> bound_along_m(fast, np.array([0.0, 400.0, 800.0]), (reach,))
    array([ 0.    , 40.7887, 40.7887])
    """
    ends = _sums([reach.length_m for reach in reaches])
    times = _sums([reach.length_m / reach.wave_speed_m_s for reach in reaches])
    travel_s = np.interp(slope_station_m - slope_station_m[0], ends, times)
    if bound.unlike_pipes or bound.closing_s <= TAPER_FROM * bound.critical_s:
        share = 2.0 * travel_s / BLOCKED_S
    else:
        share = TAPER_FACTOR * travel_s / times[-1]
    return frozen(bound.rise_m * np.minimum(1.0, share))


def _sums(values: list[float]) -> FloatArray:
    return np.concatenate(([0.0], np.cumsum(values)))
