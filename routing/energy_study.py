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
    flow_duration,
    flow_duration_from_days,
    level_efficiency,
    line_resistance,
    part_load,
    yearly_energy,
)
from routing.flow.flow_duration import FEWEST_DAYS
from routing.laid_line import LaidLine
from routing.settings import EnergySettings, Settings
from routing.value import dataclass

__all__ = ["EnergyResult", "days_read", "energy_of_year", "machine_of", "stream_over_year"]


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


def stream_over_year(energy: EnergySettings) -> FlowDuration | None:
    """Return the flow-duration curve; None where there is neither a curve nor record enough."""
    if energy.curve:
        return flow_duration(
            [point.share for point in energy.curve], [point.flow for point in energy.curve]
        )
    if days_read(energy) < FEWEST_DAYS:
        return None
    return flow_duration_from_days(energy.record)


def days_read(energy: EnergySettings) -> int:
    """Return how many days of the record have a reading."""
    return int(np.count_nonzero(~np.isnan(np.array(energy.record, dtype=np.float64))))


def energy_of_year(settings: Settings, line: LaidLine, design_m3_s: float) -> EnergyResult:
    """Return the energy of a year through a line in aged pipe.

    Parameters
    ----------
    settings : Settings
        [energy], residual flow, machine
    line : LaidLine
        The line as laid, with its pipes
    design_m3_s : float
        Design flow, > 0 [m3/s]

    Returns
    -------
    EnergyResult
        The year, or None with a finding that says what is missing
    """
    resistance, gross_head_m = line_resistance(line), line.gross_head_m
    energy, residual = settings.energy, settings.intake.residual
    curve, machine = stream_over_year(energy), machine_of(settings)
    findings = list(() if curve is None else curve.findings)
    year = lossless = None
    if curve is None:
        findings.append(_no_curve(days_read(energy)))
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
        days=days_read(energy),
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
