"""How the settings ask the flow: what the design flow does in a line and its machine."""

from __future__ import annotations

from routing.finding import Finding
from routing.flow.design import DesignFlow, design_flow
from routing.laid_line import LaidLine
from routing.settings import Settings

__all__ = ["flow_findings", "flow_of"]


def flow_of(settings: Settings, line: LaidLine) -> DesignFlow | None:
    """Return what the design flow does in a line, None without a flow or without a pipe."""
    design, machine = settings.flow.design, settings.turbine
    if design is None or line.schedule is None:
        return None
    return design_flow(line, design, efficiency=machine.efficiency, turbine_kind=machine.kind)


def flow_findings(settings: Settings, flow: DesignFlow | None) -> tuple[Finding, ...]:
    """Return what is unwise about the flow, or that it has nothing to flow in."""
    if flow is not None:
        return flow.findings
    if settings.flow.design is None:
        return ()
    return (
        Finding(
            code="flow_without_pipe",
            severity="warning",
            message=(
                f"A design flow of {settings.flow.design * 1000:.1f} L/s was given but no pipe, so "
                "there are no flowing pressures, net head or power. Give a [[pipe]] table."
            ),
        ),
    )
