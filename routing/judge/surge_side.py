"""The ways a flow may be stopped, and how high and low the pressures go."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.finding import Finding
from routing.flow import SteadyFlow
from routing.flow.surge import (
    ClosingLaw,
    SafeClosing,
    SurgeBound,
    SurgeInputs,
    SurgeResult,
    instant_closure,
    quick_bound,
    run_surge,
    slowest_safe_closing_time,
    table_law,
    uniform_closure,
)
from routing.laid_line import LaidLine
from routing.settings import Settings
from routing.strength import allowance

__all__ = ["SurgeCase", "blocked_line", "safe_closing", "surge_cases"]

SEGMENTS = 40
"""Pieces into which the line is cut for the surge of one study; 20 and 80 differ by less than
0.05 % in the peak."""

GENERAL_NOTES = ("plastic_stiff_when_cold", "wave_speed_adjusted", "closure_instant")
"""Findings that a closure already carries, or that say nothing of a blockage."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SurgeCase:
    """One way the flow may be stopped: the quick bound, and the run if there was one.

    ``rise_m`` is what the line is judged by, above the static head at each station, (n,) [m]: the
    run's where there was one and it is reliable, else the bound's.
    """

    name: str
    bound: SurgeBound
    rise_m: FloatArray
    result: SurgeResult | None
    recurring: bool


def surge_cases(
    settings: Settings, blocked: SurgeInputs | None
) -> tuple[tuple[SurgeCase, ...], list[Finding]]:
    """Return the cases of a stopped flow: the closure, if one is given, and the blockage.

    ``blocked`` is the line of :func:`blocked_line`; without one there is no case.
    """
    if blocked is None:
        return (), []
    cases: list[SurgeCase] = []
    findings: list[Finding] = []
    law = _closure(settings)
    if law is not None:
        case, notes = _case(replace(blocked, law=law), settings, always=True)
        cases.append(case)
        findings += notes
    # One kind of pipe is bounded in closed form. Where unlike pipes meet, later swings may pass the
    # bound of the first, so the waves are followed.
    case, notes = _case(blocked, settings, always=len(blocked.line.pipes.runs) > 1)
    cases.append(case)
    told = {note.code: note for note in reversed(notes) if note.code not in GENERAL_NOTES}
    findings += [_emergency(note) for note in reversed(told.values())]
    return tuple(cases), findings


def safe_closing(
    settings: Settings, blocked: SurgeInputs | None, vacuum_limit_pa: FloatArray
) -> SafeClosing | None:
    """Return the shortest even closure that the pipe bears, if the settings ask for it.

    Every station keeps to its pipe's allowance for static pressure with surge, and to the vacuum
    that the pipe stands; ``vacuum_limit_pa`` is (n,), NaN where it is not known.
    """
    if blocked is None or not settings.surge.find_closing:
        return None
    allowed = [
        allowance(
            run.pipe,
            blocked.line.water.temperature_c,
            recurring=settings.surge.recurring,
            surge_factor=settings.surge.factor,
        ).total_pa
        for run in blocked.line.pipes.runs
    ]
    by_run = np.array([np.nan if value is None else value for value in allowed])
    return slowest_safe_closing_time(
        blocked,
        by_run[blocked.line.run_index],
        lowest_pa=-vacuum_limit_pa,
        family=partial(uniform_closure, valve=settings.surge.valve),
    )


def _closure(settings: Settings) -> ClosingLaw | None:
    """Return the law of the closure as given: point by point, even, or None."""
    surge, closing = settings.surge, settings.turbine.closure_time
    if surge.step:
        return table_law(
            [0.0, *(step.time for step in surge.step)],
            [1.0, *(step.open for step in surge.step)],
            valve=surge.valve,
            label=f"{surge.valve} moving by {len(surge.step)} steps in {surge.step[-1].time:g} s",
        )
    return None if closing is None else uniform_closure(closing, surge.valve)


def blocked_line(settings: Settings, line: LaidLine, new: SteadyFlow | None) -> SurgeInputs | None:
    """Return the line with its outlet blocked at once; None where nothing flows that could stop."""
    if new is None or line.gross_head_m <= 0.0 or new.head_loss_m >= line.gross_head_m:
        return None
    return SurgeInputs(
        line=line,
        flow_m3_s=new.flow_m3_s,
        law=instant_closure("blocked at the outlet"),
        least_segments=SEGMENTS,
    )


def _emergency(note: Finding) -> Finding:
    """Return a finding of the sudden blockage as what it is: rare, and no fault of the design."""
    return replace(
        note,
        severity="warning" if note.severity == "fault" else note.severity,
        message=f"If the outlet is blocked at once: {note.message}",
    )


def _case(
    given: SurgeInputs, settings: Settings, *, always: bool
) -> tuple[SurgeCase, tuple[Finding, ...]]:
    """Return one way of stopping the flow, followed in time where that is wanted."""
    recurring = settings.surge.recurring and not given.law.instant
    if settings.surge.run is False or not always:
        bound, along = quick_bound(given)
        case = SurgeCase(
            name=given.law.label,
            bound=bound,
            rise_m=frozen(along),
            result=None,
            recurring=recurring,
        )
        return case, ()
    result = run_surge(given)
    rise = np.maximum(result.highest_head_m - result.static_head_m, 0.0)
    # A peak after the water parted is no prediction; there the bound judges if it is higher.
    judged = np.where(result.reliable, rise, np.maximum(rise, result.bound_rise_m))
    case = SurgeCase(
        name=given.law.label,
        bound=result.bound,
        rise_m=frozen(judged),
        result=result,
        recurring=recurring,
    )
    return case, result.findings
