"""What is unwise or impossible about a flow along the line."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from routing.arrays import FloatArray, stretches
from routing.check import Check
from routing.finding import Finding
from routing.flow.air import HIGHEST_M, LOWEST_M, atmosphere_pa
from routing.flow.requirements import asked
from routing.flow.steady import FlowReach, SteadyFlow
from routing.heads import pressure_pa
from routing.laid_line import LaidLine
from routing.pipe import Pipe, is_plastic

__all__ = ["formulas_apart", "judge_flow"]

OPTIMISTIC_C = 150.0
"""A coefficient C from here on is optimistic in small pipe and slow flow; common practice [-]."""


def judge_flow(line: LaidLine, flow: SteadyFlow, capacity_m3_s: float) -> tuple[Check, ...]:
    """Return what a line asks of a flow: capacity, pressure above the air's, velocities, losses.

    Parameters
    ----------
    line : LaidLine
        The line as laid, with its pipes [-]
    flow : SteadyFlow
        The design flow in aged pipe [-]
    capacity_m3_s : float
        The most the line carries [m3/s]

    Returns
    -------
    checks : tuple of Check
        One for the capacity; one for each stretch above the hydraulic grade line, or for the place
        nearest it; for each summit, each run of pipe, and the share of head lost. Of several limits
        on one value the first that fails is judged, and none below it

    Notes
    -----
    Valid for: the design flow; heads are judged at the crown, half a bore above the centreline.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> from routing.flow import line_capacity_m3_s, steady_flow
    >>> line = simple_line([0.0, 400.0, 800.0], [410.0, 409.8, 350.0], "PE100-SDR17-200",
    ...                    intake_m=411.0)
    >>> checks = judge_flow(line, steady_flow(line, 0.025), line_capacity_m3_s(line))
    >>> [(each.code, each.severity, each.station_m) for each in checks if not each.passed]
    [('siphon', 'fault', 400.0)]
    """
    crown_head = flow.flowing_head_m - 0.5 * line.inside_diameter_m
    return (
        _capacity(flow, capacity_m3_s),
        *_siphons(line, crown_head),
        *_summits(line, crown_head),
        *_velocities(line, flow),
        *_losses(line, flow),
    )


def _capacity(flow: SteadyFlow, capacity_m3_s: float) -> Check:
    return asked("capacity").judge(
        flow.flow_m3_s * 1000.0,
        f"The design flow of {flow.flow_m3_s * 1000:.1f} L/s is more than the "
        f"{capacity_m3_s * 1000:.1f} L/s that the pipe carries with its whole head. "
        "Take a larger pipe or less flow.",
        limit=capacity_m3_s * 1000.0,
    )


def _siphons(line: LaidLine, crown_head: FloatArray) -> Iterator[Check]:
    station = line.station_m
    for first, last in stretches(crown_head < 0.0) or [(0, station.size - 1)]:
        worst = first + int(np.argmin(crown_head[first : last + 1]))
        head_m = float(crown_head[worst])
        altitude_m = min(max(float(line.pipe_m[worst]), LOWEST_M), HIGHEST_M)
        absolute_pa = atmosphere_pa(altitude_m) + pressure_pa(head_m, line.water)
        spare_pa = absolute_pa - line.water.vapour_pressure_pa
        parts = spare_pa < asked("column_whole").bound * 1000.0
        yield asked("siphon").judge(
            float(line.crown_m[worst]),
            f"From {station[first]:.1f} m to {station[last]:.1f} m the pipe lies above "
            f"the hydraulic grade line, by up to {-head_m:.1f} m: a siphon that draws air"
            f"{', and the column of water would part' if parts else ''}. Lower the pipe here, or "
            "take a larger pipe above this place or less flow.",
            limit=float(line.crown_m[worst]) + head_m,
            station_m=float(station[worst]),
        )


def _summits(line: LaidLine, crown_head: FloatArray) -> Iterator[Check]:
    advised = asked("summit_advised").bound
    for index in line.pipe.summits.tolist():
        head_m, station_m = float(crown_head[index]), float(line.station_m[index])
        if head_m < 0.0:
            continue
        for key, text in (
            ("summit_seals", ", too little to seal an air valve"),
            ("summit_advised", ""),
        ):
            check = asked(key).judge(
                head_m,
                f"At the summit at {station_m:.1f} m the flowing water stands only {head_m:.1f} m "
                f"above the pipe{text}; {advised:g} m or more is advised. Lower the pipe here, or "
                "take a larger pipe above this place.",
                place="summit",
                station_m=station_m,
            )
            yield check
            if not check.passed:
                break


def _velocities(line: LaidLine, flow: SteadyFlow) -> Iterator[Check]:
    for reach, run in zip(flow.reaches, line.pipes.runs, strict=True):
        for check in _fast(reach, run.pipe):
            yield check
            if not check.passed:
                break
        else:
            if reach.velocity_m_s > 0.0:
                yield _slow(reach, run.pipe)


def _place(reach: FlowReach) -> str:
    where = f"From {reach.from_m:.1f} m to {reach.to_m:.1f} m"
    return f"{where} the water runs at {reach.velocity_m_s:.2f} m/s"


def _fast(reach: FlowReach, pipe: Pipe) -> Iterator[Check]:
    texts = {
        "velocity_any": "faster than any pipe here should ({:g} m/s). Take a larger pipe.",
        "velocity_plastic": "above the {:g} m/s advised for plastic pipe. Take a larger pipe.",
        "velocity_closing": "above the {:.1f} m/s (5 ft/s) that makers advise where valves may "
        "close quickly. Close slowly.",
    }
    for key, text in texts.items():
        if key == "velocity_plastic" and not is_plastic(pipe.material):
            continue
        row = asked(key)
        yield row.judge(
            reach.velocity_m_s,
            f"{_place(reach)}, {text.format(row.bound)}",
            place=pipe.label,
            station_m=reach.from_m,
        )


def _slow(reach: FlowReach, pipe: Pipe) -> Check:
    row = asked("velocity_slow")
    return row.judge(
        reach.velocity_m_s,
        f"{_place(reach)}, below {row.bound:g} m/s: sediment settles and air stays. Take a smaller "
        "pipe, or provide for flushing.",
        place=pipe.label,
        station_m=reach.from_m,
    )


def _losses(line: LaidLine, flow: SteadyFlow) -> Iterator[Check]:
    if line.gross_head_m <= 0.0:
        return
    share = 100.0 * flow.head_loss_m / line.gross_head_m
    texts = {
        "loss_most_power": "beyond a third more flow gives less power. Take a larger pipe or less "
        "flow.",
        "loss_most": "more than {:g} % is seldom wise. Try a larger pipe.",
        "loss_aim": "{:g} % or less is a common aim. Compare a larger pipe.",
    }
    for key, text in texts.items():
        row = asked(key)
        check = row.judge(
            share, f"{share:.1f} % of the gross head is lost; {text.format(row.bound)}"
        )
        yield check
        if not check.passed:
            return


def formulas_apart(
    line: LaidLine, flow_new: SteadyFlow, hazen_williams_m: float | None
) -> tuple[Finding, ...]:
    """Return a note where Hazen and Williams differ from Darcy and Weisbach, or do not apply.

    Parameters
    ----------
    line : LaidLine
        The line as laid, with its pipes [-]
    flow_new : SteadyFlow
        The design flow in new pipe [-]
    hazen_williams_m : float or None
        Friction of the whole line after Hazen and Williams; None leaves the cross-check out [m]

    Returns
    -------
    findings : tuple of Finding
        At most one note; it is a cross-check of two formulas and nothing that the line must keep
    """
    if hazen_williams_m is None or flow_new.friction_m <= 0.0:
        return ()
    apart = hazen_williams_m / flow_new.friction_m - 1.0
    reasons: list[str] = []
    for reach, run in zip(flow_new.reaches, line.pipes.runs, strict=True):
        bore_m, velocity = run.pipe.inside_diameter_m, reach.velocity_m_s
        if bore_m < 0.05:
            reasons.append(f"a bore of {bore_m * 1000:.0f} mm is below its range (50 mm)")
        if not 0.3 <= velocity <= 3.0:
            reasons.append(f"{velocity:.2f} m/s is outside its range (0.3 to 3 m/s)")
        c = run.pipe.hazen_williams_c
        if c is not None and c >= OPTIMISTIC_C and (bore_m < 0.1 or velocity < 1.0):
            reasons.append(f"C = {c:g} is optimistic below 100 mm or below 1 m/s")
    if abs(apart) * 100.0 <= asked("formulas_apart").bound and not reasons:
        return ()
    why = "; ".join(dict.fromkeys(reasons)) or "check roughness and temperature"
    return (
        Finding(
            code="hazen_williams_apart",
            severity="note",
            message=f"The formula of Hazen and Williams gives {hazen_williams_m:.2f} m of friction "
            f"in new pipe, {abs(apart) * 100:.0f} % {'more' if apart > 0 else 'less'} than "
            f"Darcy and Weisbach ({flow_new.friction_m:.2f} m): {why}. "
            "The study uses Darcy and Weisbach.",
        ),
    )
