"""What is unwise or impossible about a flow along the line."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.finding import Finding, Severity
from routing.flow.air import HIGHEST_M, LOWEST_M, atmosphere_pa
from routing.flow.steady import SteadyFlow
from routing.heads import pressure_pa
from routing.pipe import PipeSchedule, is_plastic
from routing.water import Water

__all__ = ["flow_findings"]

VELOCITY_FAULT_M_S = 6.0
"""Faster than this no pipe here is run; common practice [m/s]."""

VELOCITY_PLASTIC_M_S = 3.0
"""Caution for plastic pipe; common practice [m/s]."""

VELOCITY_CLOSURE_M_S = 1.524
"""5 ft/s, the makers' caution for lines with quick closures (vdocuments.mx/05-engineering) [m/s]"""

VELOCITY_SLOW_M_S = 0.6
"""Slower than this sediment settles and air stays; common practice [m/s]."""

SEALING_HEAD_M = 3.5
"""Least head at a summit's crown; common practice [m]."""

WISE_HEAD_M = 5.0
"""Recommended head at a summit's crown; common practice [m]."""

COLUMN_PARTS_PA = 20_000.0
"""Absolute pressure above that of vapour at which a siphon's column parts; common practice [Pa]."""

LOSS_NOTE, LOSS_WARNING, LOSS_MOST_POWER = 0.10, 0.15, 1.0 / 3.0
"""Shares of the gross head lost: aim, limit of Leon and Zhu (studylib.net/doc/11667080), and where
more flow gives less power [-]."""

CHECK_APART = 0.20
"""Difference of the two friction formulas that is worth a word [-]."""

OPTIMISTIC_C = 150.0
"""A coefficient C from here on is optimistic in small pipe and slow flow [-]."""


def flow_findings(
    *,
    flow: SteadyFlow,
    schedule: PipeSchedule,
    station_m: FloatArray,
    pipe_m: FloatArray,
    summits: IntArray,
    gross_head_m: float,
    capacity_m3_s: float | None,
    water: Water,
    flow_new: SteadyFlow | None = None,
    hazen_williams_m: float | None = None,
) -> tuple[Finding, ...]:
    """Return what is unwise or impossible about a flow, those of ``flow`` itself first.

    Parameters
    ----------
    flow : SteadyFlow
        The design flow in aged pipe [-]
    schedule : PipeSchedule
        The pipes along the line [-]
    station_m : FloatArray
        Plan stations, (n,) [m]
    pipe_m : FloatArray
        Elevation of the pipe's centreline, (n,) [m]
    summits : IntArray
        High points of the pipe, (k,) indices [-]
    gross_head_m : float
        Fall from the intake's water to the outlet [m]
    capacity_m3_s : float or None
        The most the line carries; None leaves that check out [m3/s]
    water : Water
        Gives density, gravity and vapour pressure [-]
    flow_new : SteadyFlow, optional
        The same flow in new pipe, for the cross-check [-]
    hazen_williams_m : float, optional
        Friction of the whole line after Hazen and Williams, for the cross-check [m]

    Returns
    -------
    findings : tuple of Finding
        Flow beyond capacity, siphons, low pressure at summits, velocities, share of head lost,
        cross-check; each with a place where it has one, and what to do

    Notes
    -----
    Valid for: the design flow; heads are judged at the crown, half a bore above the centreline.

    Examples
    --------
    >>> import numpy as np
    >>> from routing.flow import steady_flow
    >>> from routing.water import water_at
    >>> from routing.pipe import load_catalogue, schedule_pipes
    >>> line = schedule_pipes([(0.0, load_catalogue().find("PE100-SDR17-200"))], 800.0)
    >>> station, pipe = np.array([0.0, 400.0, 800.0]), np.array([410.0, 409.8, 350.0])
    >>> cold = water_at(10.0)
    >>> flow = steady_flow(flow_m3_s=0.025, intake_level_m=411.0, entrance_k=0.5, station_m=station,
    ...                    pipe_m=pipe, slope_station_m=station, schedule=line, water=cold)
    >>> found = flow_findings(flow=flow, schedule=line, station_m=station, pipe_m=pipe,
    ...                       summits=np.array([1]), gross_head_m=61.0, capacity_m3_s=0.1,
    ...                       water=cold)
    >>> [(each.code, each.severity, each.station_m) for each in found]
    [('siphon', 'fault', 400.0)]
    """
    bore = schedule.per_station(station_m, "inside_diameter_m")
    crown_head = flow.flowing_head_m - 0.5 * bore
    return (
        *flow.findings,
        *_capacity(flow, capacity_m3_s),
        *_siphons(crown_head, station_m, pipe_m, water),
        *_low_pressure(crown_head, station_m, summits),
        *_velocities(flow, schedule),
        *_losses(flow, gross_head_m),
        *_cross_check(flow_new, hazen_williams_m, schedule),
    )


def _capacity(flow: SteadyFlow, capacity_m3_s: float | None) -> Iterator[Finding]:
    if capacity_m3_s is not None and flow.flow_m3_s > capacity_m3_s:
        yield Finding(
            code="flow_exceeds",
            severity="fault",
            message=f"The design flow of {flow.flow_m3_s * 1000:.1f} L/s is more than the "
            f"{capacity_m3_s * 1000:.1f} L/s that the pipe carries with its whole head. "
            "Take a larger pipe or less flow.",
        )


def _stretches(mask: BoolArray) -> Iterator[tuple[int, int]]:
    """Return first and last index of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False]))))
    for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        yield start, stop - 1


def _siphons(
    crown_head: FloatArray, station_m: FloatArray, pipe_m: FloatArray, water: Water
) -> Iterator[Finding]:
    for first, last in _stretches(crown_head < 0.0):
        worst = first + int(np.argmin(crown_head[first : last + 1]))
        head_m = float(crown_head[worst])
        altitude_m = min(max(float(pipe_m[worst]), LOWEST_M), HIGHEST_M)
        absolute_pa = atmosphere_pa(altitude_m) + pressure_pa(head_m, water)
        parts = absolute_pa < water.vapour_pressure_pa + COLUMN_PARTS_PA
        yield Finding(
            code="siphon",
            severity="fault",
            message=f"From {station_m[first]:.1f} m to {station_m[last]:.1f} m the pipe lies above "
            f"the hydraulic grade line, by up to {-head_m:.1f} m: a siphon that draws air"
            f"{', and the column of water would part' if parts else ''}. Lower the pipe here, or "
            "take a larger pipe above this place or less flow.",
            station_m=float(station_m[worst]),
        )


def _low_pressure(
    crown_head: FloatArray, station_m: FloatArray, summits: IntArray
) -> Iterator[Finding]:
    for index in np.asarray(summits, dtype=np.int64).tolist():
        head_m = float(crown_head[index])
        if 0.0 <= head_m < WISE_HEAD_M:
            low = head_m < SEALING_HEAD_M
            yield Finding(
                code="low_pressure",
                severity="warning" if low else "note",
                message=f"At the summit at {station_m[index]:.1f} m the flowing water stands only "
                f"{head_m:.1f} m above the pipe"
                f"{', too little to seal an air valve' if low else ''}; "
                f"{WISE_HEAD_M:g} m or more is advised. Lower the pipe here, or take a larger "
                "pipe above this place.",
                station_m=float(station_m[index]),
            )


def _velocities(flow: SteadyFlow, schedule: PipeSchedule) -> Iterator[Finding]:
    for reach, run in zip(flow.reaches, schedule.runs, strict=True):
        velocity = reach.velocity_m_s
        place = f"From {reach.from_m:.1f} m to {reach.to_m:.1f} m the water runs at "
        place += f"{velocity:.2f} m/s"
        if velocity > VELOCITY_FAULT_M_S:
            text = f", faster than any pipe here should ({VELOCITY_FAULT_M_S:g} m/s). "
            yield _fast(reach.from_m, "fault", place + text + "Take a larger pipe.")
        elif velocity > VELOCITY_PLASTIC_M_S and is_plastic(run.pipe.material):
            text = f", above the {VELOCITY_PLASTIC_M_S:g} m/s advised for plastic pipe. "
            yield _fast(reach.from_m, "warning", place + text + "Take a larger pipe.")
        elif velocity > VELOCITY_CLOSURE_M_S:
            text = ", above the 1.5 m/s (5 ft/s) that makers advise where valves may close "
            yield _fast(reach.from_m, "note", place + text + "quickly. Close slowly.")
        elif 0.0 < velocity < VELOCITY_SLOW_M_S:
            yield Finding(
                code="velocity_low",
                severity="warning",
                message=f"{place}, below {VELOCITY_SLOW_M_S:g} m/s: sediment settles and air "
                "stays. Take a smaller pipe, or provide for flushing.",
                station_m=reach.from_m,
            )


def _fast(station_m: float, severity: Severity, message: str) -> Finding:
    return Finding(code="velocity_high", severity=severity, message=message, station_m=station_m)


def _losses(flow: SteadyFlow, gross_head_m: float) -> Iterator[Finding]:
    if gross_head_m <= 0.0:
        return
    share = flow.head_loss_m / gross_head_m
    if share <= LOSS_NOTE:
        return
    text = f"{share * 100:.0f} % of the gross head is lost; "
    if share > LOSS_MOST_POWER:
        text += "beyond a third more flow gives less power. Take a larger pipe or less flow."
    elif share > LOSS_WARNING:
        text += "more than 15 % is seldom wise. Try a larger pipe."
    else:
        text += "10 % or less is a common aim. Compare a larger pipe."
    severe = share > LOSS_WARNING
    yield Finding(code="loss_high", severity="warning" if severe else "note", message=text)


def _cross_check(
    flow_new: SteadyFlow | None, hazen_williams_m: float | None, schedule: PipeSchedule
) -> Iterator[Finding]:
    if flow_new is None or hazen_williams_m is None or flow_new.friction_m <= 0.0:
        return
    apart = hazen_williams_m / flow_new.friction_m - 1.0
    reasons: list[str] = []
    for reach, run in zip(flow_new.reaches, schedule.runs, strict=True):
        bore_m, velocity = run.pipe.inside_diameter_m, reach.velocity_m_s
        if bore_m < 0.05:
            reasons.append(f"a bore of {bore_m * 1000:.0f} mm is below its range (50 mm)")
        if not 0.3 <= velocity <= 3.0:
            reasons.append(f"{velocity:.2f} m/s is outside its range (0.3 to 3 m/s)")
        c = run.pipe.hazen_williams_c
        if c is not None and c >= OPTIMISTIC_C and (bore_m < 0.1 or velocity < 1.0):
            reasons.append(f"C = {c:g} is optimistic below 100 mm or below 1 m/s")
    if abs(apart) > CHECK_APART or reasons:
        why = "; ".join(dict.fromkeys(reasons)) or "check roughness and temperature"
        yield Finding(
            code="hazen_williams_apart",
            severity="note",
            message=f"The formula of Hazen and Williams gives {hazen_williams_m:.2f} m of friction "
            f"in new pipe, {abs(apart) * 100:.0f} % {'more' if apart > 0 else 'less'} than "
            f"Darcy and Weisbach ({flow_new.friction_m:.2f} m): {why}. "
            "The study uses Darcy and Weisbach.",
        )
