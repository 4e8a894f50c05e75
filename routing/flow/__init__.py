"""Room of the flow: water at rest and in motion in the pipes along the line.

``air`` gives the atmosphere; ``friction``, ``empirical`` and ``losses`` the formulas for what
motion costs; ``resistance`` gathers them for one line; ``steady`` and ``capacity`` solve the line;
``power`` turns net head into kilowatts, ``flow_duration`` and ``energy`` a year of flows into
kilowatt hours; ``intake`` is the place where the water enters; ``levels`` and ``flowing`` judge
water at rest and in motion by the rows of ``data/requirements.csv``.
"""

from routing.flow.air import atmosphere_pa, atmospheres_pa
from routing.flow.capacity import line_capacity_m3_s
from routing.flow.empirical import (
    hazen_williams_total,
    head_loss_hazen_williams,
)
from routing.flow.energy import (
    PartLoad,
    YearlyEnergy,
    capital_recovery_factor,
    level_efficiency,
    most_power_loss_share,
    part_load,
    yearly_energy,
)
from routing.flow.flow_duration import FlowDuration, flow_duration, flow_duration_from_days
from routing.flow.flowing import judge_flow
from routing.flow.friction import flow_for_gradient, friction_factor, head_loss_darcy
from routing.flow.losses import (
    LossCoefficient,
    bend_loss_k,
    local_loss_coefficients,
    screen_loss_m,
    sudden_contraction_k,
    sudden_expansion_k,
)
from routing.flow.power import Turbine, find_turbine, power_kw
from routing.flow.resistance import LineResistance, line_resistance
from routing.flow.steady import FlowReach, SteadyFlow, steady_flow

__all__ = [
    "FlowDuration",
    "FlowReach",
    "LineResistance",
    "LossCoefficient",
    "PartLoad",
    "SteadyFlow",
    "Turbine",
    "YearlyEnergy",
    "atmosphere_pa",
    "atmospheres_pa",
    "bend_loss_k",
    "capital_recovery_factor",
    "find_turbine",
    "flow_duration",
    "flow_duration_from_days",
    "flow_for_gradient",
    "friction_factor",
    "hazen_williams_total",
    "head_loss_darcy",
    "head_loss_hazen_williams",
    "judge_flow",
    "level_efficiency",
    "line_capacity_m3_s",
    "line_resistance",
    "local_loss_coefficients",
    "most_power_loss_share",
    "part_load",
    "power_kw",
    "screen_loss_m",
    "steady_flow",
    "sudden_contraction_k",
    "sudden_expansion_k",
    "yearly_energy",
]
