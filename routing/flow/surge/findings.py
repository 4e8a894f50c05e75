"""What is unwise or doubtful about a surge."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from routing.check import Check
from routing.finding import Finding
from routing.flow.requirements import asked
from routing.flow.surge.bounds import SurgeBound
from routing.flow.surge.inputs import SurgeInputs
from routing.flow.surge.result import SurgeResult
from routing.pipe import is_plastic

__all__ = ["closing_checks", "not_followed", "surge_findings"]

FOLLOWED_FROM, LATER_SWINGS = 1.6, 1.8
"""Closing time over critical time up to which later swings between unlike pipes may pass the bound,
and by how much with usual friction, found by a scan with the method of characteristics [-]."""

SPEED_NOTE, SPEED_WARNING = 0.01, 0.05
"""Shares by which a wave speed may be changed for the common time step [-]."""

COLD_C = 10.0
"""Colder water makes plastic stiffer than the table of moduli has it; common practice [degC]."""


def closing_checks(inputs: SurgeInputs, bound: SurgeBound) -> tuple[Check, ...]:
    """Return whether the outlet closes slower than a wave runs; none for a blockage.

    Parameters
    ----------
    inputs : SurgeInputs
        The line and the law of its outlet [-]
    bound : SurgeBound
        Has the effective closing time and the critical one [-]

    Returns
    -------
    checks : tuple of Check
        One, or none where nothing closes
    """
    law = inputs.law
    if inputs.emergency or law.taken_as_instant or not np.any(np.diff(law.travel) < 0.0):
        return ()
    return (
        asked("closing_critical").judge(
            bound.closing_s,
            f"The outlet cuts its flow as fast as an even closure in {bound.closing_s:.1f} s (its "
            f"whole stroke is {law.stroke_s:.1f} s), within the {bound.critical_s:.1f} s a wave "
            "needs to the intake and back: it strikes as hard as an instant one. Close more "
            "slowly.",
            limit=bound.critical_s,
            place="outlet",
            station_m=float(inputs.line.station_m[-1]),
        ),
    )


def not_followed(inputs: SurgeInputs, bound: SurgeBound, *, parts: bool) -> tuple[Finding, ...]:
    """Return a warning where only the bound on the first swing is known and may be passed.

    It may where unlike pipes meet, and where the water ``parts`` by that bound.
    """
    told = "If the outlet is blocked at once" if inputs.emergency else "In the closure as given"
    follow = "Let the waves be followed: take surge.run = false out of the settings."
    if bound.unlike_pipes and bound.closing_s <= FOLLOWED_FROM * bound.critical_s:
        why = (
            f"{told}, waves run to and fro between unlike pipes and may rise up to "
            f"{LATER_SWINGS:g} times as high as the bound of {bound.rise_m:.1f} m that is judged."
        )
    elif parts:
        why = (
            f"{told}, the water parts, and the cavities that fall shut may raise more than the "
            f"bound of {bound.rise_m:.1f} m that is judged."
        )
    else:
        return ()
    return (Finding(code="surge_not_followed", severity="warning", message=f"{why} {follow}"),)


def surge_findings(inputs: SurgeInputs, result: SurgeResult) -> tuple[Finding, ...]:
    """Return what is unwise or doubtful about a surge, gravest first.

    Parameters
    ----------
    inputs : SurgeInputs
        The line [-]
    result : SurgeResult
        What its run found [-]

    Returns
    -------
    findings : tuple of Finding
        Parting of the water and peaks after it, a closing time that cannot be, wave speeds that
        were changed, plastic in cold water

    Notes
    -----
    Valid for: one run; whether a pipe holds the pressures is a question for its rating, and the
    lowest heads are judged where the vacuum is.
    """
    return (
        *_parting(inputs, result),
        *_instant(result),
        *_speeds(inputs, result),
        *_cold(inputs),
    )


def _parting(inputs: SurgeInputs, result: SurgeResult) -> Iterator[Finding]:
    if result.parted_s is None:
        return
    worst = max(result.cavities, key=lambda each: each.volume_m3)
    count = len(result.cavities)
    when, remedy = f"{result.parted_s:.1f} s after the valve begins to move", "Close more slowly"
    if inputs.emergency:
        when = f"If the outlet is blocked at once: {result.parted_s:.1f} s later"
        remedy = "Fit pressure relief, or screens that keep the outlet free"
    yield Finding(
        code="column_separation",
        severity="warning" if inputs.emergency else "fault",
        message=f"{when} the water parts: it boils at {count} "
        f"{'place' if count == 1 else 'places'}, most at {worst.station_m:.1f} m, where a cavity "
        f"of {worst.volume_m3 * 1000:.2g} litres opens and slams shut. {remedy}, or let air in "
        "there.",
        station_m=worst.station_m,
    )
    doubtful = np.flatnonzero(~result.reliable)
    if doubtful.size:
        place = int(doubtful[np.argmax(result.highest_head_m[doubtful])])
        after, whole = result.highest_head_m[place], result.whole_head_m[place]
        yield Finding(
            code="surge_peaks_unreliable",
            severity="warning",
            message=f"{'If the outlet is blocked at once: at' if inputs.emergency else 'At'} "
            f"{doubtful.size} of {result.station_m.size} stations the highest pressure came after "
            f"the water had parted; at {result.station_m[place]:.1f} m it is {after:.1f} m of "
            f"water, and {whole:.1f} m with the water held together. Both are judged and the "
            "higher governs; peaks after parting are an order of size, so prevent the parting "
            "instead of sizing for them.",
            station_m=float(result.station_m[place]),
        )


def _instant(result: SurgeResult) -> Iterator[Finding]:
    if result.law.taken_as_instant:
        yield Finding(
            code="closure_instant",
            severity="warning",
            message="The closing time is zero or less; the closure was taken as instant. Give the "
            "time that the valve really takes.",
        )


def _speeds(inputs: SurgeInputs, result: SurgeResult) -> Iterator[Finding]:
    for run, change in zip(inputs.line.pipes.runs, result.speed_change.tolist(), strict=True):
        if abs(change) > SPEED_NOTE + 1e-9:
            yield Finding(
                code="wave_speed_adjusted",
                severity="warning" if abs(change) > SPEED_WARNING else "note",
                message=f"The wave speed in the pipe from {run.from_m:.1f} m was changed by "
                f"{change * 100:+.1f} % so that all pipes share one time step. More segments "
                "would change it less.",
                station_m=run.from_m,
            )


def _cold(inputs: SurgeInputs) -> Iterator[Finding]:
    if inputs.wave_speed_m_s is not None or inputs.line.water.temperature_c >= COLD_C:
        return
    if any(is_plastic(run.pipe.material) for run in inputs.line.pipes.runs):
        yield Finding(
            code="plastic_stiff_when_cold",
            severity="note",
            message=f"In water of {inputs.line.water.temperature_c:g} degC plastic pipe is stiffer "
            "than tables have it, by about a fifth at 5 degC; its waves then run "
            "up to a tenth faster, and strike up to a tenth harder, than computed here.",
        )
