"""From net head and flow to kilowatts."""

from __future__ import annotations

import math
from functools import lru_cache

from routing.errors import InputError
from routing.heads import pressure_pa
from routing.trade_table import rows_of
from routing.value import dataclass
from routing.water import Water

__all__ = ["Turbine", "find_turbine", "power_kw"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Turbine:
    """A kind of machine: what it and a small generator make of the water's power.

    ``part_load_efficiency`` belongs to ``part_load_fraction`` of the design flow.
    """

    kind: str
    words: tuple[str, ...]
    efficiency_design: float
    generator_efficiency: float
    least_flow_fraction: float | None
    part_load_fraction: tuple[float, ...]
    part_load_efficiency: tuple[float, ...]
    source: str
    status: str

    @property
    def water_to_wire(self) -> float:
        """Return the efficiency from water to wire at the design flow [-]."""
        return self.efficiency_design * self.generator_efficiency


@lru_cache(maxsize=1)
def load_turbines() -> tuple[Turbine, ...]:
    """Return every kind of machine of the data file."""
    return rows_of(Turbine, __file__, "turbines.csv")


def find_turbine(kind: str | None) -> Turbine:
    """Return what is assumed of a kind of machine; None, or a kind not known, is "any".

    >>> find_turbine("Pelton").water_to_wire
    0.672
    """
    wanted = "any" if kind is None else kind.strip().casefold()
    for turbine in load_turbines():
        if wanted == turbine.kind or wanted in turbine.words:
            return turbine
    return find_turbine(None)


def power_kw(flow_m3_s: float, net_head_m: float, efficiency: float, water: Water) -> float:
    r"""Return the power that a machine makes of a flow and its net head.

    .. math::
        P = \rho g Q H_n \eta

    Parameters
    ----------
    flow_m3_s : float
        Flow, >= 0 [m3/s]
    net_head_m : float
        Gross head less all losses; below zero counts as none [m]
    efficiency : float
        Efficiency from water to wire (or to shaft, if so meant), 0 < eta <= 1 [-]
    water : Water
        Gives density and gravity [-]

    Returns
    -------
    power_kw : float
        Power, >= 0 [kW]

    Raises
    ------
    InputError
        If the flow is negative, or the efficiency outside the bound given above.

    Notes
    -----
    Valid for: the design flow. The most power from one pipe comes when a third of the gross head
    is lost; that is a limit and no design.
    Checked by ``tests/reference/test_power.py``.

    Examples
    --------
    >>> from routing.water import water_at
    >>> power_kw(0.05, 60.0, 0.7, water_at(10.0))
    20.588

    References
    ----------
    .. [1] Definition.
    """
    if not (math.isfinite(flow_m3_s) and flow_m3_s >= 0.0):
        raise InputError(f"The flow is {flow_m3_s:g} m3/s.", "Give a flow of zero or more.")
    if not 0.0 < efficiency <= 1.0:
        raise InputError(
            f"The efficiency is {efficiency:g}.",
            'Give a share above 0 and not above 1, or a percentage such as "64 %".',
        )
    return pressure_pa(max(0.0, net_head_m), water) * flow_m3_s * efficiency / 1000.0
