"""The water at a study's intake: its catchment, and what of the flow is known or guessed.

The catchment is followed over the raster where the settings have [catchment], or where a flow is
carried over from a gauged place by areas. Nothing is assumed of a stream of which nothing was said.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from routing.catchment_study import StudyCatchment, catchment_of, followed
from routing.check import Check, failed_findings
from routing.finding import Finding
from routing.flow import FlowDuration, flow_duration, flow_duration_from_days
from routing.flow.area_ratio import area_ratio_checks, flow_by_area_ratio
from routing.flow.flow_duration import FEWEST_DAYS
from routing.laid_line import LaidLine
from routing.settings import EnergySettings, Settings
from routing.terrain import Terrain
from routing.value import dataclass

if TYPE_CHECKING:
    pass

__all__ = [
    "FlowBasis",
    "StreamFlow",
    "days_read",
    "settings_at_intake",
    "stream_at_intake",
    "stream_over_year",
]

FlowBasis = Literal["as given", "record", "ratio of areas", "specific yield"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamFlow:
    """Catchment and flow at the intake, and the settings as they then stand.

    ``settings`` hold the flows at the intake: record or curve carried over, mean annual flow and
    residual flow filled in where they follow. ``basis`` says from what the mean flow is known, None
    where it is not; ``guess`` that it, and all that follows, is an estimate. ``ratio`` is the
    intake's catchment over the gauged place's; ``curve`` the stream over the year at the intake.
    """

    settings: Settings
    catchment: StudyCatchment | None
    curve: FlowDuration | None
    mean_m3_s: float | None
    basis: FlowBasis | None
    guess: bool
    ratio: float | None
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[str, ...]


def stream_at_intake(
    settings: Settings, terrain: Terrain, lon: float, lat: float, *, wait: bool = True
) -> StreamFlow:
    """Return what is known of the water at the intake.

    Parameters
    ----------
    settings : Settings
        [catchment], [energy] and [intake] as the user stated them
    terrain : Terrain
        The elevation raster; followed only where the settings ask for the catchment
    lon, lat : float
        The intake, WGS 84 [deg]
    wait : bool
        False takes a catchment only if the raster's water is in memory already, as for a line
        being dragged; flows that hang on it are then left out, with a note

    Returns
    -------
    StreamFlow
        Catchment, mean flow, and the settings with the flows at the intake
    """
    asked = settings.catchment
    needed = asked.specific_yield is not None or settings.energy.gauged_area is not None
    catchment: StudyCatchment | None = None
    findings: list[Finding] = []
    if asked.area is not None:
        catchment = StudyCatchment(
            area_m2=asked.area,
            at_least=False,
            snapped_m=None,
            method="as given",
            threshold_m2=asked.threshold,
            lon=lon,
            lat=lat,
        )
    elif needed or "catchment" in settings.given:
        network = followed(terrain, asked.threshold, wait=wait)
        if network is None:
            findings.append(_later())
        else:
            catchment, notes = catchment_of(asked, network, lon, lat)
            findings += notes
    return _with_flows(settings, catchment, findings)


def settings_at_intake(settings: Settings, terrain: Terrain, line: LaidLine) -> Settings:
    """Return the settings with the flows at the intake of a line, as its study would have them.

    The raster's water is followed only where a flow hangs on it.
    """
    if settings.energy.gauged_area is None and settings.intake.residual_share is None:
        return settings
    return stream_at_intake(settings, terrain, float(line.lon[0]), float(line.lat[0])).settings


def _with_flows(
    settings: Settings, catchment: StudyCatchment | None, findings: list[Finding]
) -> StreamFlow:
    """Return the settings with the flows at the intake, and where those come from."""
    energy, intake, gauged = settings.energy, settings.intake, settings.energy.gauged_area
    ratio: float | None = None
    checks: tuple[Check, ...] = ()
    if gauged is not None and (energy.record or energy.curve):
        if catchment is None:
            energy = replace(energy, record=(), curve=())
        else:
            ratio, checks = catchment.area_m2 / gauged, area_ratio_checks(catchment.area_m2, gauged)
            energy = _carried(settings, catchment.area_m2, gauged)
    curve = stream_over_year(energy)
    mean, basis = _mean(settings, curve, catchment, ratio)
    residual = intake.residual
    if residual is None and intake.residual_share is not None and mean is not None:
        residual = intake.residual_share * mean
    intake = replace(
        intake,
        residual=residual,
        residual_share=None,
        mean_annual_flow=intake.mean_annual_flow if mean is None else mean,
    )
    guess = basis in ("ratio of areas", "specific yield") or ratio is not None
    if guess:
        findings.append(_guessed(basis, catchment))
    return StreamFlow(
        settings=replace(settings, energy=energy, intake=intake),
        catchment=catchment,
        curve=curve,
        mean_m3_s=mean,
        basis=basis,
        guess=guess,
        ratio=ratio,
        checks=checks,
        findings=(*findings, *failed_findings(checks)),
        assumptions=_assumed(settings, basis, ratio, mean),
    )


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


def _carried(settings: Settings, area_m2: float, gauged_m2: float) -> Any:
    """Return [energy] with record or curve as at the intake."""
    energy = settings.energy
    factor = float(flow_by_area_ratio(1.0, area_m2, gauged_m2, energy.area_exponent))
    return replace(
        energy,
        gauged_area=None,  # carried once, and not again
        record=tuple(factor * flow for flow in energy.record),
        curve=tuple(replace(point, flow=factor * point.flow) for point in energy.curve),
    )


def _mean(
    stated: Settings,
    curve: FlowDuration | None,
    catchment: StudyCatchment | None,
    ratio: float | None,
) -> tuple[float | None, FlowBasis | None]:
    """Return the mean annual flow at the intake, from the surest of what was said."""
    if stated.intake.mean_annual_flow is not None:
        return stated.intake.mean_annual_flow, "as given"
    if curve is not None:
        share = np.linspace(0.0, 1.0, 1001)
        mean = float(np.trapezoid(curve.at(share), share))
        return mean, "record" if ratio is None else "ratio of areas"
    yields = stated.catchment.specific_yield
    if yields is not None and catchment is not None:
        return yields * catchment.area_m2, "specific yield"
    return None, None


def _assumed(
    settings: Settings, basis: FlowBasis | None, ratio: float | None, mean: float | None
) -> tuple[str, ...]:
    words = []
    if ratio is not None:
        words.append(
            f"Flows of the gauged place were carried to the intake by {ratio:.3g} to the power "
            f"{settings.energy.area_exponent:g}, the ratio of the catchments; what follows from "
            "them is an estimate."
        )
    if basis == "specific yield" and mean is not None:
        words.append(
            f"Mean annual flow {mean * 1e3:.3g} L/s from the specific yield given, a guess until "
            "the stream is gauged."
        )
    if settings.intake.residual_share is not None and mean is not None:
        words.append(
            f"Residual flow {settings.intake.residual_share * mean * 1e3:.3g} L/s, "
            f"{settings.intake.residual_share:.0%} of the mean annual flow; the permit's figure "
            "counts."
        )
    return tuple(words)


def _guessed(basis: FlowBasis | None, catchment: StudyCatchment | None) -> Finding:
    source = {
        "ratio of areas": "carried over from a gauged place by the ratio of the catchments",
        "specific yield": "from a specific yield and the catchment",
    }.get(basis or "", "carried over from a gauged place by the ratio of the catchments")
    least = " of which the raster holds a part only" if catchment and catchment.at_least else ""
    return Finding(
        code="flow_guessed",
        severity="warning",
        message=f"The flow at the intake is a guess, {source}{least}: so are mean annual flow, "
        "residual flow by share and energy of a year. Gauge the stream over a dry and a wet "
        "season before money is spent.",
        station_m=0.0,
    )


def _later() -> Finding:
    return Finding(
        code="catchment_later",
        severity="note",
        message="The catchment, and what hangs on it, is worked out when the study is saved: this "
        "raster's water was not followed yet.",
        station_m=0.0,
    )
