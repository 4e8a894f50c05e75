"""What a design flow does to a line: losses old and new, head left, power, and what is unwise."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from routing.arrays import FloatArray, IntArray
from routing.finding import Finding
from routing.flow.capacity import line_capacity_m3_s
from routing.flow.empirical import hazen_williams_total
from routing.flow.findings import flow_findings
from routing.flow.power import find_turbine, power_kw
from routing.flow.steady import SteadyFlow, steady_flow
from routing.pipe import PipeSchedule
from routing.water import Water

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
    findings: tuple[Finding, ...]


def design_flow(
    *,
    flow_m3_s: float,
    intake_level_m: float,
    outlet_level_m: float,
    entrance_k: float,
    local_k: float | None,
    station_m: FloatArray,
    pipe_m: FloatArray,
    slope_station_m: FloatArray,
    summits: IntArray,
    schedule: PipeSchedule,
    water: Water,
    bend_index: IntArray,
    bend_k: FloatArray,
    efficiency: float | None,
    turbine_kind: str | None,
) -> DesignFlow:
    """Return what the design flow does; aged pipe decides head and power.

    Parameters
    ----------
    flow_m3_s : float
        Design flow, > 0 [m3/s]
    intake_level_m, outlet_level_m : float
        Water surface at the intake, centreline of the outlet [m]
    entrance_k : float
        Loss coefficient of entrance and screen, >= 0 [-]
    local_k : float or None
        Sum of K along the line; None takes bends and changes of bore [-]
    station_m, pipe_m, slope_station_m : FloatArray
        Stations, centreline and length along the pipe, (n,) [m]
    summits : IntArray
        Interior summits, (k,) indices [-]
    schedule : PipeSchedule
        The pipes along the line [-]
    water : Water
        Gives density, viscosity and gravity [-]
    bend_index, bend_k : IntArray, FloatArray
        Stations and coefficients of the bends, (b,) [-]
    efficiency : float or None
        From water to wire; None takes what the turbine's kind usually reaches [-]
    turbine_kind : str or None
        Kind of machine, in words [-]

    Returns
    -------
    DesignFlow
        Heads [m], power [kW], findings
    """
    gross = intake_level_m - outlet_level_m
    run = partial(
        steady_flow,
        flow_m3_s=flow_m3_s,
        intake_level_m=intake_level_m,
        pipe_m=pipe_m,
        entrance_k=entrance_k,
        schedule=schedule,
        water=water,
        local_k=local_k,
        bend_index=bend_index,
        bend_k=bend_k,
        station_m=station_m,
        slope_station_m=slope_station_m,
    )
    aged, new = run(), run(new_pipe=True)
    capacity = 0.0
    if gross > 0.0:
        capacity = line_capacity_m3_s(
            gross_head_m=gross,
            entrance_k=entrance_k,
            schedule=schedule,
            water=water,
            local_k=local_k,
            bend_index=bend_index,
            bend_k=bend_k,
            station_m=station_m,
            slope_station_m=slope_station_m,
        )
    hazen = hazen_williams_total(
        flow_m3_s=flow_m3_s,
        station_m=station_m,
        slope_station_m=slope_station_m,
        schedule=schedule,
    )
    findings = flow_findings(
        flow=aged,
        schedule=schedule,
        station_m=station_m,
        pipe_m=pipe_m,
        summits=summits,
        gross_head_m=gross,
        capacity_m3_s=capacity,
        water=water,
        flow_new=new,
        hazen_williams_m=hazen,
    )
    source = "as given"
    if efficiency is None:
        efficiency, source, note = _usual_efficiency(turbine_kind)
        findings = (*findings, note)
    net = gross - aged.head_loss_m
    return DesignFlow(
        aged=aged,
        new=new,
        capacity_m3_s=capacity,
        hazen_williams_m=hazen,
        efficiency=efficiency,
        efficiency_source=source,
        turbine_kind=turbine_kind,
        net_head_m=net,
        power_kw=power_kw(flow_m3_s, net, efficiency, water),
        findings=findings,
    )


def _usual_efficiency(turbine_kind: str | None) -> tuple[float, str, Finding]:
    turbine = find_turbine(turbine_kind)
    machine = "a machine of unknown kind" if turbine.kind == "any" else f"a {turbine.kind}"
    note = Finding(
        code="efficiency_assumed",
        severity="note",
        message=(
            f"No efficiency was given; {turbine.water_to_wire * 100:.0f} % from water to wire was "
            f"assumed for {machine}. Enter the maker's figure as turbine.efficiency."
        ),
    )
    return turbine.water_to_wire, turbine.source, note
