"""From a year of flows to kilowatt hours, and what a head or a pipe is worth in a year."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.flow.flow_duration import FlowDuration
from routing.flow.power import Turbine
from routing.need import need
from routing.value import dataclass
from routing.water import Water

__all__ = [
    "PartLoad",
    "YearlyEnergy",
    "capital_recovery_factor",
    "level_efficiency",
    "most_power_loss_share",
    "part_load",
    "yearly_energy",
]

HOURS = 8760.0
"""Hours of a year of 365 days [h]."""

GAUSS_ORDER = 6
"""Points of the quadrature on each smooth stretch: exact to the eleventh power of the share."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLoad:
    """Efficiency from water to wire over the share of the design flow, and the least share run.

    Below ``least_share`` the machine stands; between the points the efficiency is straight.
    """

    share: FloatArray
    efficiency: FloatArray
    least_share: float

    def at(self, share: FloatArray) -> FloatArray:
        """Return the efficiency at shares of the design flow, zero where the machine stands."""
        running = np.asarray(share) >= self.least_share * (1.0 - 1e-12)
        return np.where(running, np.interp(share, self.share, self.efficiency), 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class YearlyEnergy:
    """A year of the machine: energy, and what it would be at rated power all year."""

    energy_kwh: float
    rated_kw: float
    rated_all_year_kwh: float
    capacity_factor: float
    running_share: float
    volume_m3: float


def level_efficiency(efficiency: float, least_share: float) -> PartLoad:
    """Return one efficiency for every flow from a least share of the design flow on.

    >>> level_efficiency(0.65, 0.2).at(np.array([0.1, 0.5]))
    array([0.  , 0.65])
    """
    need("The efficiency", efficiency, above=0.0, most=1.0)
    need("The least share of the design flow", least_share, least=0.0, most=1.0)
    return PartLoad(
        share=frozen([0.0, 1.0]),
        efficiency=frozen([efficiency, efficiency]),
        least_share=least_share,
    )


def part_load(turbine: Turbine, efficiency: float | None = None) -> PartLoad:
    """Return what a kind of machine makes of part of its design flow, from water to wire.

    ``efficiency`` is the user's own at the design flow; the curve is scaled to it. A machine
    without a curve (a pump run backwards, or one not known) runs at its design flow or not at all.

    >>> from routing.flow import find_turbine
    >>> part_load(find_turbine("crossflow")).at(np.array([0.1, 0.2, 1.0]))
    array([0.   , 0.48 , 0.592])
    """
    at_design = turbine.part_load_efficiency[-1] * turbine.generator_efficiency
    scale = turbine.generator_efficiency
    if efficiency is not None:
        need("The efficiency", efficiency, above=0.0, most=1.0)
        scale *= efficiency / at_design
    least = turbine.least_flow_fraction
    single = len(turbine.part_load_fraction) == 1
    return PartLoad(
        share=frozen(turbine.part_load_fraction),
        efficiency=frozen(np.minimum(1.0, scale * np.array(turbine.part_load_efficiency))),
        least_share=1.0 if single or least is None else least,
    )


def yearly_energy(
    *,
    curve: FlowDuration,
    residual_m3_s: float,
    design_m3_s: float,
    net_head_m: Callable[[FloatArray], FloatArray],
    machine: PartLoad,
    availability: float,
    water: Water,
) -> YearlyEnergy:
    r"""Return the energy of a year from a flow-duration curve.

    .. math::
        E = 8760\, a \int_0^1 \rho g\, q\, H_n(q)\, \eta(q / Q_d)\, \mathrm{d}P, \qquad
        q = \min(Q_d, Q(P) - Q_\mathrm{res})

    Parameters
    ----------
    curve : FlowDuration
        Flow of the stream over the share of the year [m3/s]
    residual_m3_s : float
        Flow that stays in the bed, >= 0 [m3/s]
    design_m3_s : float
        Design flow of the machine, > 0 [m3/s]
    net_head_m : callable
        Net head at flows (k,) -> (k,); below zero counts as none [m]
    machine : PartLoad
        Efficiency from water to wire, and the least share of the design flow [-]
    availability : float
        Share of the time in which the machine can run, 0 to 1; 0.90 to 0.95 is usual [-]
    water : Water
        Gives density and gravity [-]

    Returns
    -------
    energy : YearlyEnergy
        Energy [kWh], rated power [kW], rated power all year [kWh], share of it reached, share of
        the year with the machine running, water used [m3]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: a curve of whole years; the net head is asked again at every flow. Integrated
    exactly between the points of the curve, of the efficiency and the limits of the machine.
    Checked by ``tests/reference/test_energy.py``.

    Examples
    --------
    >>> from routing.water import water_at
    >>> from routing.flow.flow_duration import flow_duration
    >>> curve = flow_duration([0.0, 0.2, 0.4, 0.6, 0.8, 1.0],
    ...                       [0.30, 0.12, 0.07, 0.045, 0.03, 0.015])
    >>> made = yearly_energy(curve=curve, residual_m3_s=0.010, design_m3_s=0.050,
    ...                      net_head_m=lambda q: 60.0 - 6.0 * (q / 0.05) ** 2,
    ...                      machine=level_efficiency(0.65, 0.2), availability=0.92,
    ...                      water=water_at(10.0))
    >>> made.rated_kw, made.capacity_factor
    (17.2056, 0.68737)

    References
    ----------
    .. [1] Definition.
    """
    need("The residual flow", residual_m3_s, least=0.0)
    need("The design flow", design_m3_s, above=0.0)
    need("The availability", availability, least=0.0, most=1.0)
    weight = water.weight_n_m3 / 1000.0

    def power(flow: FloatArray) -> FloatArray:
        head = np.maximum(0.0, net_head_m(flow))
        made: FloatArray = weight * flow * head * machine.at(flow / design_m3_s)
        return made

    bounds = _smooth_stretches(curve, residual_m3_s, design_m3_s, machine)
    points, weights = np.polynomial.legendre.leggauss(GAUSS_ORDER)
    half = 0.5 * np.diff(bounds)
    share = bounds[:-1, None] + half[:, None] * (1.0 + points)
    flow = np.clip(curve.at(share.ravel()) - residual_m3_s, 0.0, design_m3_s)
    kw = power(flow)
    parts = (half[:, None] * weights).ravel()
    running = kw > 0.0
    rated = float(power(np.array([design_m3_s]))[0])
    energy = float(HOURS * availability * (parts @ kw))
    return YearlyEnergy(
        energy_kwh=energy,
        rated_kw=rated,
        rated_all_year_kwh=rated * HOURS,
        capacity_factor=energy / (rated * HOURS) if rated > 0.0 else 0.0,
        running_share=float(availability * parts[running].sum()),
        volume_m3=float(HOURS * 3600.0 * availability * (parts[running] @ flow[running])),
    )


def _smooth_stretches(
    curve: FlowDuration, residual_m3_s: float, design_m3_s: float, machine: PartLoad
) -> FloatArray:
    """Return the shares of the year between which nothing has a kink or a jump."""
    kinks = np.concatenate((machine.share, [machine.least_share, 0.0, 1.0])) * design_m3_s
    falling, share = curve.flow_m3_s[::-1], curve.exceeded_share[::-1]
    # Where the curve is level no one share has the flow; both ends of it are bounds already.
    shares = np.interp(kinks + residual_m3_s, falling, share)
    inside = (kinks + residual_m3_s >= falling[0]) & (kinks + residual_m3_s <= falling[-1])
    return np.unique(np.concatenate(([0.0, 1.0], curve.exceeded_share, shares[inside])))


def most_power_loss_share(flow_exponent: float = 2.0) -> float:
    r"""Return the share of the gross head lost where a given pipe makes the most power.

    .. math::
        \frac{h_f}{H_g} = \frac{1}{1 + m}, \qquad h_f \sim Q^m

    Parameters
    ----------
    flow_exponent : float
        Power m of the flow in the loss, > 0: 2 in rough pipe, 1.852 after Hazen-Williams [-]

    Returns
    -------
    share : float
        Share of the gross head, a limit and no design [-]

    Raises
    ------
    InputError
        If the power is not above zero.

    Notes
    -----
    Valid for: constant efficiency. Aim at 10 % or less; more than 15 % is seldom wise.
    Checked by ``tests/reference/test_energy.py``.

    Examples
    --------
    >>> most_power_loss_share(1.852)
    0.35063

    References
    ----------
    .. [1] Derivative of Q (H - k Q^m); the 15 % after A. S. Leon and L. Zhu, 2014,
       on optimal discharge and diameter for impulse and reaction turbines.
    """
    need("The power of the flow in the loss", flow_exponent, above=0.0)
    return 1.0 / (1.0 + flow_exponent)


def capital_recovery_factor(interest: float, years: float) -> float:
    r"""Return the share of a price to be paid each year, interest and repayment together.

    .. math::
        \mathrm{CRF} = \frac{i (1 + i)^n}{(1 + i)^n - 1}

    Parameters
    ----------
    interest : float
        Rate of interest a year, >= 0; 0.08 is 8 % [-]
    years : float
        Years of payment, > 0 [-]

    Returns
    -------
    factor : float
        Yearly payment over price; 1/n without interest [-]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: equal payments at the end of each year. Checked by
    ``tests/reference/test_energy.py``.

    Examples
    --------
    >>> capital_recovery_factor(0.08, 10)
    0.14903

    References
    ----------
    .. [1] Tables of capital recovery factors in handbooks of engineering economics.
    """
    need("The rate of interest", interest, least=0.0, most=1.0)
    need("The years of payment", years, above=0.0)
    # expm1 and log1p keep the digits at small rates, where the plain form loses them.
    discount = -math.expm1(-years * math.log1p(interest))
    return interest / discount if discount > 0.0 else 1.0 / years
