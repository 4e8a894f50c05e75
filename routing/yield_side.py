"""The yield of a line: its intake as built, and the energy of a year; pure, as the pressure side.

``study`` calls this once the pipe lies and the design flow is solved. The intake is judged where
anything of it was stated, the energy where the settings have [energy].
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np

from routing.finding import Finding
from routing.flow import (
    FlowDuration,
    LineResistance,
    PartLoad,
    Water,
    YearlyEnergy,
    find_turbine,
    flow_duration,
    flow_duration_from_days,
    level_efficiency,
    part_load,
    yearly_energy,
)
from routing.flow.flow_duration import FEWEST_DAYS
from routing.flow.intake import (
    Gauging,
    MouthCheck,
    Screen,
    StreamShare,
    bar_gap_m,
    basin_area_m2,
    check_mouth,
    check_storage,
    crest_width_m,
    flushed_grain_m,
    gauge_stream,
    residual_notch_head_m,
    settling_velocity_m_s,
    share_stream,
    size_screen,
    start_up_volume_m3,
)
from routing.flow.intake.trade_data import limit
from routing.inputs import Levels
from routing.pipe import PipeSchedule
from routing.settings import EnergySettings, IntakeSettings, Settings
from routing.yield_settings import asked_of_intake

__all__ = [
    "EnergyResult",
    "IntakeResult",
    "Settling",
    "YieldSide",
    "energy_of_year",
    "intake_result",
    "machine_of",
    "stream_over_year",
    "yield_side",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Settling:
    """A basin for grains of one size: how they sink, its plan area, and what its flushing moves."""

    grain_m: float
    velocity_m_s: float
    needed_m2: float
    built_m2: float | None
    flushed_grain_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeResult:
    """What is known of an intake; each part is None where too little was stated for it."""

    residual_m3_s: float | None
    notch_angle_deg: float
    notch_head_m: float | None
    gaugings: tuple[Gauging, ...]
    share: StreamShare | None
    mouth: MouthCheck | None
    screen: Screen | None
    screen_built_m2: float | None
    bar_gap_m: float | None
    widest_gap_m: float | None
    settling: Settling | None
    storage_m3: float | None
    storage_least_m3: float | None
    storage_advised_m3: float | None
    crest_width_m: float | None
    crest_needed_m: float | None
    findings: tuple[Finding, ...]


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


@dataclass(frozen=True, slots=True, kw_only=True)
class YieldSide:
    """Intake and energy, each None where it was not asked for."""

    intake: IntakeResult | None
    energy: EnergyResult | None
    findings: tuple[Finding, ...]


def yield_side(
    *,
    settings: Settings,
    levels: Levels,
    mouth_centre_m: float,
    schedule: PipeSchedule | None,
    resistance: LineResistance | None,
    water: Water,
) -> YieldSide:
    """Judge the intake and estimate the energy of a year.

    Parameters
    ----------
    settings : Settings
        What the user stated of stream, intake, machine and prices
    levels : Levels
        Water at the intake, outlet [m]
    mouth_centre_m : float
        Elevation of the pipe's centreline at its upper end, as laid [m]
    schedule : PipeSchedule or None
        The pipes along the line; None leaves the mouth out
    resistance : LineResistance or None
        What resists the flow in aged pipe; None without a flow or a pipe, and then no energy
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
        intake = intake_result(settings, levels, mouth_centre_m, bore, water)
    design = settings.flow.design
    if "energy" in settings.given and design is not None and resistance is not None:
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


def intake_result(
    settings: Settings, levels: Levels, mouth_centre_m: float, bore_m: float | None, water: Water
) -> IntakeResult:
    """Return what is known of the intake.

    Parameters
    ----------
    settings : Settings
        [intake], design flow and kind of machine
    levels : Levels
        Water at the intake [m]
    mouth_centre_m : float
        Elevation of the pipe's centreline at its upper end, as laid [m]
    bore_m : float or None
        Bore of the first pipe; None leaves the mouth out [m]
    water : Water
        Cold water holds grains longest

    Returns
    -------
    IntakeResult
        Each part that enough was stated for, with findings
    """
    given, design = settings.intake, settings.flow.design
    gaugings = tuple(
        gauge_stream(
            row.weir,  # type: ignore[arg-type]
            row.head,
            angle_deg=row.angle,
            width_m=row.width,
            crest_m=row.crest,
            tailwater_below_m=row.tailwater_below,
        )
        for row in given.gauging
    )
    share = _share(given, gaugings, design)
    mouth = _mouth(given, levels, mouth_centre_m, bore_m, design)
    screen = _screen(given, design)
    settling = _settling(given, design, water)
    storage = None if design is None or given.storage is None else given.storage
    crest = None
    if given.crest_head is not None and design is not None:
        crest = crest_width_m(design, given.crest_head)
    findings = [
        *(note for gauging in gaugings for note in gauging.findings),
        *(() if share is None else share.findings),
        *(() if mouth is None else mouth.findings),
        *_clean_screen(given, mouth),
        *(() if screen is None else screen.findings),
        *_bars(settings),
        *_bars_unjudged(settings),
        *_grains(settling),
        *(() if storage is None or design is None else check_storage(storage, design)),
        *_crest(given, crest),
    ]
    least = limit("start_up_least_time")
    return IntakeResult(
        residual_m3_s=given.residual,
        notch_angle_deg=given.residual_notch_angle,
        notch_head_m=residual_notch_head_m(given.residual, given.residual_notch_angle)
        if given.residual
        else None,
        gaugings=gaugings,
        share=share,
        mouth=mouth,
        screen=screen,
        screen_built_m2=given.screen_area,
        bar_gap_m=given.bar_gap,
        widest_gap_m=_widest_gap_m(settings),
        settling=settling,
        storage_m3=given.storage,
        storage_least_m3=None if design is None else start_up_volume_m3(design, least),
        storage_advised_m3=None if design is None else start_up_volume_m3(design),
        crest_width_m=given.crest_width,
        crest_needed_m=crest,
        findings=tuple(findings),
    )


def _share(
    given: IntakeSettings, gaugings: tuple[Gauging, ...], design: float | None
) -> StreamShare | None:
    """Return how the least flow gauged is shared, the bed first."""
    if given.residual is None or design is None:
        return None
    if not gaugings and given.mean_annual_flow is None:
        return None
    # Without a gauging only the residual flow is judged, by a stream that gives enough.
    least = min((each.flow_m3_s for each in gaugings), default=given.residual + design)
    return share_stream(least, given.residual, design, mean_annual_m3_s=given.mean_annual_flow)


def _mouth(
    given: IntakeSettings,
    levels: Levels,
    mouth_centre_m: float,
    bore_m: float | None,
    design: float | None,
) -> MouthCheck | None:
    if bore_m is None or design is None:
        return None
    return check_mouth(
        working_level_m=levels.intake_m - given.working_drop,
        centreline_m=mouth_centre_m if given.mouth_level is None else given.mouth_level,
        velocity_m_s=design / (0.25 * np.pi * bore_m**2),
        bore_m=bore_m,
        screen_loss_m=given.screen_loss or 0.0,
        symmetric=given.straight_approach,
    )


def _clean_screen(given: IntakeSettings, mouth: MouthCheck | None) -> Iterator[Finding]:
    if mouth is not None and given.screen_loss is None:
        yield Finding(
            code="screen_loss_missing",
            severity="note",
            message="No head lost in a dirty screen was given, so the mouth's depth is judged "
            "behind a clean one. Enter it as intake.screen_loss.",
            station_m=0.0,
        )


def _screen(given: IntakeSettings, design: float | None) -> Screen | None:
    if design is None or given.bar is None or given.bar_gap is None:
        return None
    return size_screen(
        design,
        open_share=given.bar_gap / (given.bar_gap + given.bar),
        clogged_share=given.clogged,
        built_m2=given.screen_area,
    )


def _widest_gap_m(settings: Settings) -> float | None:
    passage, kind = settings.intake.machine_passage, find_turbine(settings.turbine.kind).kind
    if passage is None or kind not in ("pelton", "turgo", "francis"):
        return None
    return bar_gap_m(kind, passage)


def _bars(settings: Settings) -> Iterator[Finding]:
    gap, widest = settings.intake.bar_gap, _widest_gap_m(settings)
    if gap is not None and widest is not None and gap > widest:
        yield Finding(
            code="bars_wide",
            severity="warning",
            message=f"The gap of {gap * 1000:.1f} mm between the bars lets through what the "
            f"machine does not pass; {widest * 1000:.1f} mm is the widest. Set the bars closer.",
            station_m=0.0,
        )


def _bars_unjudged(settings: Settings) -> Iterator[Finding]:
    if settings.intake.machine_passage is not None and _widest_gap_m(settings) is None:
        yield Finding(
            code="bars_unjudged",
            severity="note",
            message="The gap between the bars is judged for pelton, turgo and francis machines "
            "alone. Ask the maker for the largest grain that the machine passes.",
            station_m=0.0,
        )


def _settling(given: IntakeSettings, design: float | None, water: Water) -> Settling | None:
    if given.grain is None or design is None:
        return None
    flushed = None
    if given.flushing_depth is not None and given.floor_slope is not None:
        flushed = flushed_grain_m(given.flushing_depth, given.floor_slope, water)
    return Settling(
        grain_m=given.grain,
        velocity_m_s=settling_velocity_m_s(given.grain, water),
        needed_m2=basin_area_m2(design, given.grain, water),
        built_m2=given.basin_area,
        flushed_grain_m=flushed,
    )


def _grains(settling: Settling | None) -> Iterator[Finding]:
    if settling is None:
        return
    grain = f"grains of {settling.grain_m * 1000:.2f} mm"
    if settling.built_m2 is not None and settling.built_m2 < settling.needed_m2:
        yield Finding(
            code="grains_stay",
            severity="warning",
            message=f"The basin's {settling.built_m2:.1f} m2 do not hold {grain} back; "
            f"{settling.needed_m2:.1f} m2 do. Enlarge it, or take the wear of the machine.",
            station_m=0.0,
        )
    if settling.flushed_grain_m is not None and settling.flushed_grain_m < settling.grain_m:
        yield Finding(
            code="grains_stay",
            severity="warning",
            message=f"Flushing moves grains up to {settling.flushed_grain_m * 1000:.2f} mm; "
            f"{grain} stay. Lay the floor steeper, or flush deeper.",
            station_m=0.0,
        )


def _crest(given: IntakeSettings, needed_m: float | None) -> Iterator[Finding]:
    if needed_m is not None and given.crest_width is not None and given.crest_width < needed_m:
        yield Finding(
            code="crest_narrow",
            severity="warning",
            message=f"The overflow crest of {given.crest_width:.2f} m does not pass the design "
            f"flow at the head allowed; {needed_m:.2f} m does. When the machine trips the water "
            "leaves over the walls: widen the crest.",
            station_m=0.0,
        )


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


def energy_of_year(
    settings: Settings,
    design_m3_s: float,
    gross_head_m: float,
    resistance: LineResistance,
    water: Water,
) -> EnergyResult:
    """Return the energy of a year through a line.

    Parameters
    ----------
    settings : Settings
        [energy], residual flow, machine
    design_m3_s : float
        Design flow, > 0 [m3/s]
    gross_head_m : float
        Intake level less outlet level [m]
    resistance : LineResistance
        What resists the flow in aged pipe
    water : Water
        Gives density and gravity

    Returns
    -------
    EnergyResult
        The year, or None with a finding that says what is missing
    """
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
            water=water,
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
