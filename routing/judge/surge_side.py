"""The ways a flow may be stopped, and how high and low the pressures go."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.finding import Finding
from routing.flow import SteadyFlow, Water
from routing.flow.surge import (
    SurgeBound,
    SurgeInputs,
    SurgeResult,
    instant_closure,
    quick_bound,
    run_surge,
    uniform_closure,
)
from routing.inputs import Levels
from routing.pipe import PipeSchedule
from routing.settings import Settings
from routing.trench import Bend, LaidPipe

__all__ = ["SurgeCase", "surge_cases"]

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
    settings: Settings,
    pipe: LaidPipe,
    bends: tuple[Bend, ...],
    schedule: PipeSchedule,
    levels: Levels,
    water: Water,
    new: SteadyFlow | None,
    bend_k: FloatArray,
) -> tuple[tuple[SurgeCase, ...], list[Finding]]:
    """Return the cases of a stopped flow: the closure, if a time is given, and the blockage."""
    closing = settings.turbine.closure_time
    if new is None or levels.intake_m <= levels.outlet_m:
        return (), []
    if new.head_loss_m >= levels.intake_m - levels.outlet_m:
        return (), []

    def inputs(instant: bool) -> SurgeInputs:
        law = instant_closure("blocked at the outlet")
        if not instant and closing is not None:
            law = uniform_closure(closing, settings.surge.valve)
        return SurgeInputs(
            station_m=pipe.station_m,
            pipe_m=pipe.pipe_m,
            slope_station_m=pipe.slope_station_m,
            schedule=schedule,
            water=water,
            intake_level_m=levels.intake_m,
            outlet_level_m=levels.outlet_m,
            flow_m3_s=new.flow_m3_s,
            law=law,
            entrance_k=settings.intake.loss,
            local_k=settings.flow.local_loss,
            bend_index=np.array([bend.index for bend in bends], dtype=np.int64),
            bend_k=bend_k,
            least_segments=SEGMENTS,
        )

    cases: list[SurgeCase] = []
    findings: list[Finding] = []
    if closing is not None:
        case, notes = _case(inputs(instant=False), settings, always=True)
        cases.append(case)
        findings += notes
    # One kind of pipe is bounded in closed form. Where unlike pipes meet, later swings may pass the
    # bound of the first, so the waves are followed.
    case, notes = _case(inputs(instant=True), settings, always=len(schedule.runs) > 1)
    cases.append(case)
    told = {note.code: note for note in reversed(notes) if note.code not in GENERAL_NOTES}
    findings += [_emergency(note) for note in reversed(told.values())]
    return tuple(cases), findings


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
