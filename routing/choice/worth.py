"""What head and pipe are worth in a year."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray
from routing.flow.energy import PartLoad, capital_recovery_factor, yearly_energy
from routing.flow.flow_duration import FlowDuration
from routing.need import need
from routing.value import dataclass
from routing.water import Water

__all__ = ["Worth", "lost_energy_kwh"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """The user's prices and the year of the machine.

    ``curve`` with ``residual_m3_s`` is the stream over the year; without it the design flow runs
    for ``hours`` a year.
    """

    price_per_kwh: float
    interest: float
    years: float
    machine: PartLoad
    availability: float = 0.92
    curve: FlowDuration | None = None
    residual_m3_s: float = 0.0
    hours: float = 6000.0

    def __post_init__(self) -> None:
        need("The price of a kilowatt hour", self.price_per_kwh, least=0.0)
        need("The availability", self.availability, least=0.0, most=1.0)
        need("The hours of a year", self.hours, least=0.0, most=8784.0)
        need("The residual flow", self.residual_m3_s, least=0.0)

    @property
    def recovery(self) -> float:
        """Return the share of a price that is paid each year [-]."""
        return capital_recovery_factor(self.interest, self.years)


def lost_energy_kwh(
    worth: Worth,
    *,
    design_m3_s: float,
    gross_head_m: float,
    loss_at_design_m: FloatArray,
    water: Water,
) -> FloatArray:
    """Return the energy of a year that each loss of head takes, (p,).

    Parameters
    ----------
    worth : Worth
        Machine, stream and hours
    design_m3_s : float
        Flow at which the losses were taken, > 0 [m3/s]
    gross_head_m : float
        Head without any loss [m]
    loss_at_design_m : FloatArray
        Loss of each pipe, (p,) [m]
    water : Water
        Gives density and gravity

    Returns
    -------
    lost_kwh : FloatArray
        Energy of a year, (p,) [kWh]

    Notes
    -----
    The loss is taken to go with the square of the flow; in smooth pipe that is an eighth low at
    half the design flow, where little is lost. A loss above the gross head takes all.

    Examples
    --------
    >>> from routing.flow import level_efficiency
    >>> from routing.water import water_at
    >>> worth = Worth(price_per_kwh=0.1, interest=0.0, years=20, machine=level_efficiency(0.6, 0.1))
    >>> lost_energy_kwh(worth, design_m3_s=0.05, gross_head_m=60.0,
    ...                 loss_at_design_m=np.array([6.0]), water=water_at(10.0))
    array([10588.03])
    """
    weight = water.weight_n_m3 / 1000.0
    if worth.curve is None:
        efficiency = float(worth.machine.at(np.array([1.0]))[0])
        taken = np.minimum(loss_at_design_m, max(0.0, gross_head_m))
        return weight * design_m3_s * efficiency * worth.hours * taken
    curve = worth.curve

    def made(loss_m: float) -> float:
        return yearly_energy(
            curve=curve,
            residual_m3_s=worth.residual_m3_s,
            design_m3_s=design_m3_s,
            net_head_m=lambda flow: gross_head_m - loss_m * (flow / design_m3_s) ** 2,
            machine=worth.machine,
            availability=worth.availability,
            water=water,
        ).energy_kwh

    whole = made(0.0)
    # Energy falls straight with the loss as long as no net head is below zero.
    below = loss_at_design_m <= gross_head_m
    slope = whole - made(gross_head_m) if gross_head_m > 0.0 else 0.0
    lost = slope * loss_at_design_m / max(gross_head_m, 1e-9)
    for place in np.flatnonzero(~below).tolist():
        lost[place] = whole - made(float(loss_at_design_m[place]))
    return lost
