"""The yield of a line: its intake as built, and the energy of a year; pure, as the pressure side.

``study`` calls this once the pipe lies. The intake is judged where anything of it was stated, the
energy where the settings have [energy].
"""

from __future__ import annotations

from dataclasses import dataclass

from routing.finding import Finding
from routing.flow import line_resistance
from routing.judge.energy_side import EnergyResult, energy_of_year
from routing.judge.intake_side import IntakeResult, intake_result
from routing.laid_line import LaidLine
from routing.settings import Settings
from routing.settings.yields import asked_of_intake

__all__ = ["YieldSide", "yield_side"]


@dataclass(frozen=True, slots=True, kw_only=True)
class YieldSide:
    """Intake and energy, each None where it was not asked for."""

    intake: IntakeResult | None
    energy: EnergyResult | None
    findings: tuple[Finding, ...]


def yield_side(settings: Settings, line: LaidLine) -> YieldSide:
    """Judge the intake and estimate the energy of a year.

    Parameters
    ----------
    settings : Settings
        What the user stated of stream, intake, machine and prices
    line : LaidLine
        The line as laid; without pipes the mouth is left out, and there is no energy

    Returns
    -------
    YieldSide
        Both parts with their findings
    """
    intake = energy = None
    if asked_of_intake(settings.given):
        bore = None if line.schedule is None else line.schedule.runs[0].pipe.inside_diameter_m
        intake = intake_result(settings, line.levels, float(line.pipe_m[0]), bore, line.water)
    design = settings.flow.design
    if "energy" in settings.given and design is not None and line.schedule is not None:
        resistance = line_resistance(line)
        energy = energy_of_year(settings, design, line.gross_head_m, resistance, line.water)
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
