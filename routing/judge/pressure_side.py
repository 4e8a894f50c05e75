"""The pressure side of a line: surge, class, vacuum, thrust, spans and uplift, in one pass.

Needs a pipe; the surge also needs a design flow. ``study`` calls this once the pipe lies and the
heads are known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from routing.anchors import Anchorage, Ground, governing_pressure, hold_line
from routing.arrays import FloatArray, frozen
from routing.check import Check, failed_findings
from routing.finding import Finding
from routing.flow.design import DesignFlow
from routing.flow.surge import SafeClosing, SurgeCase
from routing.laid_line import LaidLine
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
    anchorage: Anchorage
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
    held = hold_line(
        line,
        governing,
        Ground(soil=settings.site.soil),
        None if aged is None else aged.velocity_m_s,
    )
    return PressureSide(
        surges=surges,
        safe_closing=closing,
        checks=(
            *(check for case in surges for check in case.checks),
            *searched,
            *held.checks,
        ),
        class_check=classes,
        vacuum=vacuum,
        low_pressure=low,
        governing_pa=frozen(governing),
        test_bottom_pa=bottom,
        anchorage=held,
        findings=(
            *(finding for case in surges for finding in case.findings),
            *failed_findings(searched),
            *classes.findings,
            *vacuum.findings,
            *(() if low is None else low.findings),
            *held.findings,
        ),
    )


def _burial(settings: Settings, line: LaidLine) -> BurialCredit | None:
    """Return the support of the soil where the user asks for it, the ground full of water."""
    if settings.site.soil_modulus is None:
        return None
    cover = np.maximum(line.cover_m, 0.0)
    return BurialCredit(soil_modulus_pa=settings.site.soil_modulus, cover_m=cover, water_m=cover)
