"""The intake of a study as built: gaugings, residual flow, mouth, screen, basin, storage, crest."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from routing.finding import Finding
from routing.flow import find_turbine
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
from routing.laid_line import Levels
from routing.settings import IntakeSettings, Settings
from routing.water import Water

__all__ = ["IntakeResult", "Settling", "intake_result"]


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
