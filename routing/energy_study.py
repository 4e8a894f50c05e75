"""The energy of a year through a study's line, where the stream over the year is known."""

from __future__ import annotations

from functools import partial

import numpy as np

from routing.finding import Finding
from routing.flow import (
    FlowDuration,
    PartLoad,
    YearlyEnergy,
    find_turbine,
    level_efficiency,
    line_resistance,
    part_load,
    yearly_energy,
)
from routing.laid_line import LaidLine
from routing.settings import Settings
from routing.stream_study import days_read
from routing.value import dataclass

__all__ = ["EnergyResult", "energy_of_year", "machine_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyResult:
    """The energy of a year; ``year`` is None where it cannot honestly be estimated.

    ``lossless_kwh`` is what the same year would give without any loss of head.
    """

    curve: FlowDuration | None
    days: int
    residual_m3_s: float | None
    design_m3_s: float
    machine: PartLoad
    availability: float
    year: YearlyEnergy | None
    lossless_kwh: float | None
    price_per_kwh: float | None
    findings: tuple[Finding, ...]


def machine_of(settings: Settings) -> PartLoad:
    """Return what the machine makes of part of its design flow.

    ``energy.least_share`` with a machine of no known curve stands for one efficiency from that
    share up; with a known curve it only moves the end of its range.
    """
    turbine = find_turbine(settings.turbine.kind)
    efficiency, least = settings.turbine.efficiency, settings.energy.least_share
    known = part_load(turbine, efficiency)
    if least is None:
        return known
    if len(turbine.part_load_fraction) == 1:
        return level_efficiency(efficiency or turbine.water_to_wire, least)
    return PartLoad(share=known.share, efficiency=known.efficiency, least_share=least)


def energy_of_year(
    settings: Settings, line: LaidLine, design_m3_s: float, curve: FlowDuration | None
) -> EnergyResult:
    """Return the energy of a year through a line in aged pipe.

    Parameters
    ----------
    settings : Settings
        [energy], residual flow, machine
    line : LaidLine
        The line as laid, with its pipes
    design_m3_s : float
        Design flow, > 0 [m3/s]
    curve : FlowDuration or None
        The stream over the year at the intake, where it is known

    Returns
    -------
    EnergyResult
        The year, or None with a finding that says what is missing
    """
    resistance, gross_head_m = line_resistance(line), line.gross_head_m
    energy, residual = settings.energy, settings.intake.residual
    machine, days = machine_of(settings), days_read(energy)
    findings = list(() if curve is None else curve.findings)
    year = lossless = None
    if curve is None:
        findings.append(_no_curve(days))
    elif residual is not None:
        made = partial(
            yearly_energy,
            curve=curve,
            residual_m3_s=residual,
            design_m3_s=design_m3_s,
            machine=machine,
            availability=energy.availability,
            water=line.water,
        )
        year = made(net_head_m=lambda flow: gross_head_m - resistance.head_losses_m(flow))
        lossless = made(net_head_m=lambda flow: np.full(flow.shape, gross_head_m)).energy_kwh
    return EnergyResult(
        curve=curve,
        days=days,
        residual_m3_s=residual,
        design_m3_s=design_m3_s,
        machine=machine,
        availability=energy.availability,
        year=year,
        lossless_kwh=lossless,
        price_per_kwh=energy.price_per_kwh,
        findings=tuple(findings),
    )


def _no_curve(days: int) -> Finding:
    held = f"The record holds {days} days" if days else "There is no record of the stream's flow"
    return Finding(
        code="energy_not_estimated",
        severity="warning",
        message=f"{held}, so the energy of a year is not estimated: spot gaugings are no curve. "
        "Give energy.record with the daily flows of a wet and of a dry year, or energy.curve.",
    )
