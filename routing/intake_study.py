"""The intake of a study, as the settings have it built."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from routing.check import Check, failed_findings
from routing.finding import Finding
from routing.flow import find_turbine
from routing.flow.intake import (
    Gauging,
    IntakeResult,
    MouthCheck,
    Screen,
    Settling,
    StreamShare,
    bar_gap_m,
    basin_area_m2,
    check_bars,
    check_crest,
    check_mouth,
    check_settling,
    check_storage,
    crest_width_m,
    flushed_grain_m,
    gauge_stream,
    residual_check,
    residual_notch_head_m,
    settling_velocity_m_s,
    share_stream,
    size_screen,
    start_up_volume_m3,
)
from routing.flow.intake.trade_data import limit
from routing.laid_line import LaidLine
from routing.settings import IntakeSettings, Settings
from routing.water import Water

__all__ = ["study_intake"]


def study_intake(settings: Settings, line: LaidLine) -> IntakeResult:
    """Return what is known of the intake.

    Parameters
    ----------
    settings : Settings
        [intake], design flow and kind of machine
    line : LaidLine
        Levels, the upper end of the pipe, and the water; without pipes the mouth is left out

    Returns
    -------
    IntakeResult
        Each part that enough was stated for, with checks and findings
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
    mouth = _mouth(given, line, design)
    screen = _screen(given, design)
    settling = _settling(given, design, line.water)
    crest = None
    if given.crest_head is not None and design is not None:
        crest = crest_width_m(design, given.crest_head)
    widest = _widest_gap_m(settings)
    checks = (
        *_residual(given, share),
        *(() if mouth is None else mouth.checks),
        *(() if screen is None else screen.checks),
        *check_bars(given.bar_gap, widest),
        *check_settling(settling),
        *_storage(given, design),
        *check_crest(given.crest_width, crest),
    )
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
        widest_gap_m=widest,
        settling=settling,
        storage_m3=given.storage,
        storage_least_m3=None
        if design is None
        else start_up_volume_m3(design, limit("start_up_least_time")),
        storage_advised_m3=None if design is None else start_up_volume_m3(design),
        crest_width_m=given.crest_width,
        crest_needed_m=crest,
        checks=checks,
        findings=(
            *(note for gauging in gaugings for note in gauging.findings),
            *failed_findings(checks),
            *_clean_screen(given, mouth),
            *_bars_unjudged(settings, widest),
        ),
    )


def _residual(given: IntakeSettings, share: StreamShare | None) -> tuple[Check, ...]:
    """Return what is asked of the residual flow: by the stream gauged, and by its mean flow."""
    if share is not None:
        return share.checks
    if given.residual is None or given.mean_annual_flow is None:
        return ()
    return (residual_check(given.residual, given.mean_annual_flow),)


def _share(
    given: IntakeSettings, gaugings: tuple[Gauging, ...], design: float | None
) -> StreamShare | None:
    """Return how the least flow gauged is shared, the bed first; None without a gauging."""
    if given.residual is None or design is None or not gaugings:
        return None
    least = min(each.flow_m3_s for each in gaugings)
    return share_stream(least, given.residual, design, mean_annual_m3_s=given.mean_annual_flow)


def _mouth(given: IntakeSettings, line: LaidLine, design: float | None) -> MouthCheck | None:
    if line.schedule is None or design is None:
        return None
    bore_m = line.schedule.runs[0].pipe.inside_diameter_m
    return check_mouth(
        working_level_m=line.levels.intake_m - given.working_drop,
        centreline_m=float(line.pipe_m[0]) if given.mouth_level is None else given.mouth_level,
        velocity_m_s=design / (0.25 * np.pi * bore_m**2),
        bore_m=bore_m,
        screen_loss_m=given.screen_loss or 0.0,
        symmetric=given.straight_approach,
    )


def _storage(given: IntakeSettings, design: float | None) -> tuple[Check, ...]:
    if given.storage is None or design is None:
        return ()
    return (check_storage(given.storage, design),)


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


def _bars_unjudged(settings: Settings, widest_m: float | None) -> Iterator[Finding]:
    if settings.intake.machine_passage is not None and widest_m is None:
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
