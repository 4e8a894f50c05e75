"""The yield of a line: its intake as built, and the energy of a year; pure, as the pressure side.

``study`` calls this once the pipe lies. The intake is judged where anything of it was stated, the
energy where the settings have [energy].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from routing.arrays import FloatArray
from routing.finding import Finding
from routing.flow import Water, line_resistance
from routing.inputs import Levels
from routing.judge.energy_side import EnergyResult, energy_of_year
from routing.judge.intake_side import IntakeResult, intake_result
from routing.pipe import PipeSchedule
from routing.settings import Settings
from routing.settings.yields import asked_of_intake
from routing.trench import Bend, LaidPipe

__all__ = ["YieldSide", "yield_side"]


@dataclass(frozen=True, slots=True, kw_only=True)
class YieldSide:
    """Intake and energy, each None where it was not asked for."""

    intake: IntakeResult | None
    energy: EnergyResult | None
    findings: tuple[Finding, ...]


def yield_side(
    *,
    settings: Settings,
    pipe: LaidPipe,
    bends: tuple[Bend, ...],
    bend_k: FloatArray,
    schedule: PipeSchedule | None,
    levels: Levels,
    water: Water,
) -> YieldSide:
    """Judge the intake and estimate the energy of a year.

    Parameters
    ----------
    settings : Settings
        What the user stated of stream, intake, machine and prices
    pipe : LaidPipe
        The pipe as laid
    bends : tuple of Bend
        Its turns
    bend_k : FloatArray
        Loss coefficient of each bend, (b,) [-]
    schedule : PipeSchedule or None
        The pipes along the line; None leaves the mouth out, and then there is no energy
    levels : Levels
        Water at the intake, outlet [m]
    water : Water
        At the design temperature

    Returns
    -------
    YieldSide
        Both parts with their findings
    """
    intake = energy = None
    if asked_of_intake(settings.given):
        bore = None if schedule is None else schedule.runs[0].pipe.inside_diameter_m
        intake = intake_result(settings, levels, float(pipe.pipe_m[0]), bore, water)
    design = settings.flow.design
    if "energy" in settings.given and design is not None and schedule is not None:
        resistance = line_resistance(
            entrance_k=settings.intake.loss,
            station_m=pipe.station_m,
            slope_station_m=pipe.slope_station_m,
            schedule=schedule,
            water=water,
            local_k=settings.flow.local_loss,
            bend_index=np.array([bend.index for bend in bends], dtype=np.int64),
            bend_k=bend_k,
        )
        gross = levels.intake_m - levels.outlet_m
        energy = energy_of_year(settings, design, gross, resistance, water)
    asked = intake is not None or energy is not None
    missing = (_residual_missing(),) if asked and settings.intake.residual is None else ()
    return YieldSide(
        intake=intake,
        energy=energy,
        findings=(
            *missing,
            *(() if intake is None else intake.findings),
            *(() if energy is None else energy.findings),
        ),
    )


def _residual_missing() -> Finding:
    return Finding(
        code="residual_missing",
        severity="warning",
        message="No residual flow was given, and none is assumed: what must stay in the bed comes "
        "before the machine. Enter the permit's figure as intake.residual.",
        station_m=0.0,
    )
