"""What is unwise or doubtful about a surge."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from routing.arrays import stretches
from routing.finding import Finding
from routing.flow.surge.inputs import SurgeInputs
from routing.flow.surge.result import SurgeResult
from routing.pipe import is_plastic

__all__ = ["surge_findings"]

SPEED_NOTE, SPEED_WARNING = 0.01, 0.05
"""Shares by which a wave speed may be changed for the common time step [-]."""

COLD_C = 10.0
"""Colder water makes plastic stiffer than the table of moduli has it; common practice [degC]."""


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
        Parting of the water and peaks after it, pressure below that of the air, closures within
        the critical time, wave speeds that were changed, plastic in cold water

    Notes
    -----
    Valid for: one run; whether a pipe holds the pressure is a question for its rating.
    """
    return (
        *_parting(result),
        *_below_air(inputs, result),
        *_fast(result),
        *_speeds(inputs, result),
        *_cold(inputs),
    )


def _parting(result: SurgeResult) -> Iterator[Finding]:
    if result.parted_s is None:
        return
    worst = max(result.cavities, key=lambda each: each.volume_m3)
    count = len(result.cavities)
    yield Finding(
        code="column_separation",
        severity="fault",
        message=f"{result.parted_s:.1f} s after the valve begins to move the water parts: it boils "
        f"at {count} {'place' if count == 1 else 'places'}, most at {worst.station_m:.1f} m, where "
        "a cavity of "
        f"{worst.volume_m3 * 1000:.2g} litres opens and slams shut. Close more slowly, or let air "
        "in there.",
        station_m=worst.station_m,
    )
    doubtful = np.flatnonzero(~result.reliable)
    if doubtful.size:
        place = int(doubtful[np.argmax(result.highest_head_m[doubtful])])
        yield Finding(
            code="surge_peaks_unreliable",
            severity="warning",
            message=f"At {doubtful.size} of {result.station_m.size} stations the highest pressure "
            "came after the water had parted; such peaks are an order of size, not a figure. "
            "Prevent the parting instead of sizing for them.",
            station_m=float(result.station_m[place]),
        )


def _below_air(inputs: SurgeInputs, result: SurgeResult) -> Iterator[Finding]:
    bore_m = inputs.line.inside_diameter_m
    crown = result.lowest_head_m - 0.5 * bore_m
    # At the intake itself the crown is near the water's surface in any state.
    for first, last in stretches((crown < 0.0) & (result.static_head_m > bore_m)):
        worst = first + int(np.argmin(crown[first : last + 1]))
        yield Finding(
            code="subatmospheric_after_closure",
            severity="warning",
            message=f"Between {result.station_m[first]:.1f} m and "
            f"{result.station_m[last]:.1f} m the surge draws the pressure below that of the "
            f"air, to {crown[worst]:.1f} m of water at the crown at {result.station_m[worst]:.1f} "
            "m. Check the pipe for vacuum and the joints for suction, close more slowly, or let "
            "air in.",
            station_m=float(result.station_m[worst]),
        )


def _fast(result: SurgeResult) -> Iterator[Finding]:
    law = result.law
    if law.taken_as_instant:
        yield Finding(
            code="closure_instant",
            severity="warning",
            message="The closing time is zero or less; the closure was taken as instant. Give the "
            "time that the valve really takes.",
        )
    elif not law.instant and result.effective_closing_s <= result.critical_s:
        yield Finding(
            code="closing_too_fast",
            severity="warning",
            message=f"The outlet cuts its flow as fast as an even closure in "
            f"{result.effective_closing_s:.1f} s (its whole stroke is {law.stroke_s:.1f} s), "
            f"within the {result.critical_s:.1f} s a wave needs to the intake and back: it strikes "
            "as hard as an instant one. Close more slowly.",
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
            "than tables have it, by about a fifth at 5 degC; its waves then run, and strike, "
            "up to a tenth harder than computed here.",
        )
