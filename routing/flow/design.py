"""What a design flow does to a line: losses old and new, head left, power, and what is unwise."""

from __future__ import annotations

from routing.check import Check, failed_findings
from routing.finding import Finding
from routing.flow.capacity import line_capacity_m3_s
from routing.flow.empirical import hazen_williams_total
from routing.flow.flowing import formulas_apart, judge_flow
from routing.flow.power import find_turbine, power_kw
from routing.flow.steady import SteadyFlow, steady_flow
from routing.laid_line import LaidLine
from routing.value import dataclass

__all__ = ["DesignFlow", "design_flow"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignFlow:
    """The design flow in aged and in new pipe, the most the line carries, and the power."""

    aged: SteadyFlow
    new: SteadyFlow
    capacity_m3_s: float
    hazen_williams_m: float | None
    efficiency: float
    efficiency_source: str
    turbine_kind: str | None
    net_head_m: float
    power_kw: float
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]


def design_flow(
    line: LaidLine,
    flow_m3_s: float,
    *,
    efficiency: float | None = None,
    turbine_kind: str | None = None,
) -> DesignFlow:
    """Return what the design flow does; aged pipe decides head and power.

    Parameters
    ----------
    line : LaidLine
        The line as laid, with its pipes [-]
    flow_m3_s : float
        Design flow, > 0 [m3/s]
    efficiency : float or None
        From water to wire; None takes what the turbine's kind usually reaches [-]
    turbine_kind : str or None
        Kind of machine, in words [-]

    Returns
    -------
    DesignFlow
        Heads [m], power [kW], checks and findings
    """
    aged, new = steady_flow(line, flow_m3_s), steady_flow(line, flow_m3_s, new=True)
    capacity = line_capacity_m3_s(line)
    hazen = hazen_williams_total(line, flow_m3_s)
    checks = judge_flow(line, aged, capacity)
    notes = (*aged.findings, *formulas_apart(line, new, hazen))
    source = "as given"
    if efficiency is None:
        efficiency, source, note = _usual_efficiency(turbine_kind)
        notes = (*notes, note)
    net = line.gross_head_m - aged.head_loss_m
    return DesignFlow(
        aged=aged,
        new=new,
        capacity_m3_s=capacity,
        hazen_williams_m=hazen,
        efficiency=efficiency,
        efficiency_source=source,
        turbine_kind=turbine_kind,
        net_head_m=net,
        power_kw=power_kw(flow_m3_s, net, efficiency, line.water),
        checks=checks,
        findings=(*failed_findings(checks), *notes),
    )


def _usual_efficiency(turbine_kind: str | None) -> tuple[float, str, Finding]:
    turbine = find_turbine(turbine_kind)
    called = turbine.kind if "turbine" in turbine.kind else f"{turbine.kind} turbine"
    machine = "a machine of unknown kind" if turbine.kind == "any" else f"a {called}"
    note = Finding(
        code="efficiency_assumed",
        severity="note",
        message=(
            f"No efficiency was given; {turbine.water_to_wire * 100:.0f} % from the water to the "
            f"generator's terminals was assumed for {machine}. Enter the maker's figure as "
            "turbine.efficiency."
        ),
    )
    return turbine.water_to_wire, turbine.source, note
