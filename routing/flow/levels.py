"""What is wrong with the levels of a line before any water moves."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray
from routing.finding import Finding

__all__ = ["level_findings"]

LEVEL_M = 0.005
"""Ends closer than this lie level [m]."""


def level_findings(
    *,
    station_m: FloatArray,
    static_head_m: FloatArray,
    outside_diameter_m: float,
    intake_level_m: float,
    outlet_level_m: float,
) -> tuple[Finding, ...]:
    """Return faults of an outlet that is not below the intake, and of pipe above the intake.

    Stations and static heads of the centreline, (n,) [m]; the crown is half an outside diameter
    above it. A line that reaches above the intake's water cannot fill by gravity; it is a fault
    that says by how much and where, not an error, so that the planner sees it.
    """
    findings = []
    gross = intake_level_m - outlet_level_m
    if abs(gross) < LEVEL_M:
        findings.append(
            Finding(
                code="no_fall",
                severity="fault",
                message=(
                    f"The outlet at {outlet_level_m:.2f} m lies level with the water at the "
                    "intake: there is no head. Move one end or check their levels."
                ),
            )
        )
    elif gross < 0.0:
        findings.append(
            Finding(
                code="uphill",
                severity="fault",
                message=(
                    f"The outlet at {outlet_level_m:.2f} m lies {-gross:.2f} m above the water "
                    f"at the intake, {intake_level_m:.2f} m. Draw the line from the intake down, "
                    "or turn it round."
                ),
            )
        )
    crown = static_head_m - outside_diameter_m / 2.0
    above = crown < 0.0
    edges = np.flatnonzero(np.diff(np.concatenate(([False], above, [False]))))
    for first, stop in zip(edges[::2], edges[1::2], strict=True):
        worst = int(first + np.argmin(crown[first:stop]))
        findings.append(
            Finding(
                code="above_intake",
                severity="fault",
                message=(
                    f"From station {station_m[first]:.1f} m to "
                    f"{station_m[stop - 1]:.1f} m the pipe rises above the intake's water "
                    f"level of {intake_level_m:.2f} m, by {-crown[worst]:.2f} m at station "
                    f"{station_m[worst]:.1f} m: it cannot fill by gravity. Raise the intake, "
                    "lower the line there, or lead it around."
                ),
                station_m=float(station_m[worst]),
            )
        )
    return tuple(findings)
