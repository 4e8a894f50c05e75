"""The pressure side of a line: surge, class, vacuum, thrust, spans and uplift, in one pass.

Needs a pipe; the surge also needs a design flow. ``study`` calls this once the pipe lies and the
heads are known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from routing.anchors import (
    AnchorInputs,
    Block,
    Curve,
    FloatingReach,
    PipeBody,
    Section,
    SlopeAnchor,
    SpanCheck,
    SpanConditions,
    block_findings,
    check_curves,
    check_flotation,
    check_spans,
    curve_findings,
    flotation_findings,
    governing_pressure,
    least_bend_radius_m,
    place_blocks,
    place_slope_anchors,
    slope_findings,
    span_findings,
)
from routing.arrays import FloatArray, frozen
from routing.check import Check, failed_findings
from routing.finding import Finding
from routing.flow import SteadyFlow
from routing.flow.design import DesignFlow
from routing.flow.surge import SafeClosing, SurgeCase
from routing.laid_line import LaidLine
from routing.pipe import Pipe, material_family
from routing.settings import Settings
from routing.strength import (
    BurialCredit,
    ClassCheck,
    LowPressure,
    VacuumCheck,
    check_class,
    check_low_pressure,
    check_vacuum,
)
from routing.surge_study import closing_checks, safe_closing, stopped_flow

__all__ = ["PressureSide", "pressure_side"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureSide:
    """What the pressures ask of pipe, ground and structures; arrays over stations (n,)."""

    surges: tuple[SurgeCase, ...]
    safe_closing: SafeClosing | None
    """The shortest safe even closure, where the settings ask for it."""
    class_check: ClassCheck
    vacuum: VacuumCheck
    low_pressure: LowPressure | None
    governing_pa: FloatArray
    test_bottom_pa: float
    blocks: tuple[Block, ...]
    curves: tuple[Curve, ...]
    slope_anchors: tuple[SlopeAnchor, ...]
    floating: tuple[FloatingReach, ...]
    spans: tuple[SpanCheck, ...]
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]

    @property
    def rise_m(self) -> FloatArray | None:
        """The greatest rise of any case at each station, (n,) [m]; None without a flow."""
        if not self.surges:
            return None
        return frozen(np.max([case.rise_m for case in self.surges], axis=0))


def pressure_side(settings: Settings, line: LaidLine, flow: DesignFlow | None) -> PressureSide:
    """Judge a laid line under its pressures.

    Parameters
    ----------
    settings : Settings
        Closing time, surge, site and joints as the user stated them
    line : LaidLine
        The line as laid, with its pipes
    flow : DesignFlow or None
        The design flow in aged and new pipe; None without one

    Returns
    -------
    PressureSide
        Results of each room with their findings
    """
    pipe, schedule, water, static_pa = line.pipe, line.pipes, line.water, line.static_pressure_pa
    aged = None if flow is None else flow.aged
    weight = water.weight_n_m3
    flood = settings.site.flood_rise * weight
    highest_static = np.maximum(static_pa + flood, 0.0)
    surges = stopped_flow(settings, line, flow)
    rise = np.max([case.rise_m for case in surges], axis=0) * weight if surges else None
    classes = check_class(
        station_m=pipe.station_m,
        static_pa=static_pa + flood,
        surge_pa=rise,
        schedule=schedule,
        temperature_c=water.temperature_c,
        recurring=settings.surge.recurring,
        surge_factor=settings.surge.factor,
    )
    vacuum = check_vacuum(
        station_m=pipe.station_m,
        pipe_m=pipe.pipe_m,
        schedule=schedule,
        vents_may_freeze=settings.site.vents_may_freeze,
        burial=_burial(settings, line),
        in_span=pipe.in_span,
    )
    closing = safe_closing(settings, line, flow, vacuum.limit_pa)
    searched = closing_checks(settings, closing)
    low = None
    if surges and aged is not None:
        crown = line.inside_diameter_m / 2.0
        low = check_low_pressure(
            station_m=pipe.station_m,
            crown_m=line.crown_m,
            intake_level_m=line.levels.intake_m,
            rise_m=np.maximum(line.static_head_m - surges[0].lowest_head_m, 0.0),
            water=water,
            flowing_head_m=aged.flowing_head_m - crown,
        )
    bottom = float(np.max(highest_static)) * settings.site.test_factor
    test = np.maximum(bottom - (pipe.pipe_m - pipe.pipe_m.min()) * weight, 0.0)
    governing, _ = governing_pressure(highest_static, surge_pa=rise, test_pa=test)
    anchors = _anchor_inputs(settings, line, governing, aged)
    blocks = place_blocks(anchors)
    curves = _curves(line)
    slope = place_slope_anchors(pipe.station_m, pipe.pipe_m)
    floating = _floating(line)
    spans, materials = _spans(line, governing)
    return PressureSide(
        surges=surges,
        safe_closing=closing,
        checks=(*(check for case in surges for check in case.checks), *searched),
        class_check=classes,
        vacuum=vacuum,
        low_pressure=low,
        governing_pa=frozen(governing),
        test_bottom_pa=bottom,
        blocks=blocks,
        curves=curves,
        slope_anchors=slope,
        floating=floating,
        spans=spans,
        findings=(
            *(finding for case in surges for finding in case.findings),
            *failed_findings(searched),
            *classes.findings,
            *vacuum.findings,
            *(() if low is None else low.findings),
            *block_findings(blocks),
            *curve_findings(curves),
            *slope_findings(slope),
            *flotation_findings(floating),
            *span_findings(spans, materials),
        ),
    )


def _burial(settings: Settings, line: LaidLine) -> BurialCredit | None:
    """Return the support of the soil where the user asks for it, the ground full of water."""
    if settings.site.soil_modulus is None:
        return None
    cover = np.maximum(line.cover_m, 0.0)
    return BurialCredit(soil_modulus_pa=settings.site.soil_modulus, cover_m=cover, water_m=cover)


def _anchor_inputs(
    settings: Settings, line: LaidLine, governing_pa: FloatArray, aged: SteadyFlow | None
) -> AnchorInputs:
    runs = line.pipes.runs
    return AnchorInputs(
        station_m=line.station_m,
        lon=line.lon,
        lat=line.lat,
        ground_m=line.ground_m,
        pipe_m=line.pipe_m,
        in_span=line.pipe.in_span,
        slope_station_m=line.slope_station_m,
        outside_diameter_m=line.outside_diameter_m,
        inside_diameter_m=line.inside_diameter_m,
        pressure_pa=governing_pa,
        bends=line.bends,
        joints=tuple((run.from_m, run.pipe.jointing.joint.name) for run in runs),
        velocity_m_s=None if aged is None else aged.velocity_m_s,
        soil=settings.site.soil,
        joint_allowance_deg=settings.site.joint_allowance,
        water_density_kg_m3=line.water.density_kg_m3,
        gravity_m_s2=line.water.gravity_m_s2,
    )


def _curves(line: LaidLine) -> tuple[Curve, ...]:
    allowances, sticks, radii = [], [], []
    for bend in line.bends:
        made = line.pipes.runs[int(line.run_index[bend.index])].pipe
        jointing = made.jointing
        allowances.append(jointing.allowance_deg)
        sticks.append(jointing.stick_m)
        plastic = material_family(made.material) in ("PE", "PVC")
        radii.append(
            least_bend_radius_m(made.material, made.outside_diameter_m, made.wall_m)
            if plastic and jointing.joint.name == "fused"
            else np.inf
        )
    return check_curves(
        line.bends,
        line.slope_station_m,
        allowance_deg=allowances,
        stick_m=sticks,
        bend_radius_m=radii,
    )


def _floating(line: LaidLine) -> tuple[FloatingReach, ...]:
    mass = line.pipes.per_station(line.station_m, "mass_kg_m")
    # A pipe of unknown mass is taken as weightless, the safe side.
    weight = np.nan_to_num(mass, nan=0.0) * line.water.gravity_m_s2
    return check_flotation(
        line.station_m, line.cover_m, line.pipe.in_span, line.outside_diameter_m, weight
    )


def _spans(line: LaidLine, governing_pa: FloatArray) -> tuple[tuple[SpanCheck, ...], list[str]]:
    checked: list[SpanCheck] = []
    materials = []
    station = line.station_m
    for span in line.pipe.spans:
        index = int(np.searchsorted(station, span.from_m - 1e-6))
        made = line.pipes.runs[int(line.run_index[index])].pipe
        body = _body(made)
        if body is None:
            continue
        inside = (station >= span.from_m - 1e-6) & (station <= span.to_m + 1e-6)
        checked += check_spans(
            [span],
            station,
            line.pipe_m,
            bodies=[body],
            pressure_pa=[float(np.max(governing_pa[inside]))],
            conditions=SpanConditions(spacing_m=span.support_spacing_m),
        )
        materials.append(made.material)
    return tuple(checked), materials


def _body(made: Pipe) -> PipeBody | None:
    """Return a pipe as a structure; None where its stiffness is not known."""
    density, long_term, short_term, expansion = (
        made.density_kg_m3,
        made.elastic_long_pa,
        made.elastic_short_pa,
        made.expansion_per_c,
    )
    if density is None or long_term is None or short_term is None or expansion is None:
        return None
    return PipeBody(
        material=made.material,
        section=Section(
            outside_diameter_m=made.outside_diameter_m,
            inside_diameter_m=made.inside_diameter_m,
        ),
        density_kg_m3=density,
        elastic_long_pa=long_term,
        elastic_short_pa=short_term,
        expansion_per_c=expansion,
    )
