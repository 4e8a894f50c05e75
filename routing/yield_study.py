"""The yield of a study's line: its intake as built, and the energy of a year.

The intake is judged where anything of it was stated, the energy where the settings have [energy].
"""

from __future__ import annotations

from routing.check import Check
from routing.energy_study import EnergyResult, energy_of_year
from routing.finding import Finding
from routing.flow import FlowDuration
from routing.flow.intake import IntakeResult
from routing.intake_study import study_intake
from routing.laid_line import LaidLine
from routing.settings import Settings
from routing.settings.yields import asked_of_intake
from routing.value import dataclass

__all__ = ["StreamYield", "study_yield"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamYield:
    """Intake and energy, each None where it was not asked for."""

    intake: IntakeResult | None
    energy: EnergyResult | None
    findings: tuple[Finding, ...]

    @property
    def checks(self) -> tuple[Check, ...]:
        """Return what was held against the intake's requirements."""
        return () if self.intake is None else self.intake.checks

    @property
    def residual_checked(self) -> bool:
        """Return whether the residual flow was held against a flow of the stream."""
        return any(check.code in ("residual_first", "residual_low") for check in self.checks)

    @property
    def sediment_checked(self) -> bool:
        """Return whether a basin or its flushing was judged."""
        return any(check.code == "grains_stay" for check in self.checks)


def study_yield(settings: Settings, line: LaidLine, curve: FlowDuration | None) -> StreamYield:
    """Judge the intake and estimate the energy of a year.

    Parameters
    ----------
    settings : Settings
        What the user stated of stream, intake, machine and prices
    line : LaidLine
        The line as laid; without pipes the mouth is left out, and there is no energy
    curve : FlowDuration or None
        The stream over the year at the intake, where it is known

    Returns
    -------
    StreamYield
        Both parts with their findings
    """
    intake = energy = None
    if asked_of_intake(settings.given):
        intake = study_intake(settings, line)
    design = settings.flow.design
    if "energy" in settings.given and design is not None and line.schedule is not None:
        energy = energy_of_year(settings, line, design, curve)
    asked = design is not None or intake is not None
    missing = (_residual_missing(),) if asked and settings.intake.residual is None else ()
    return StreamYield(
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
