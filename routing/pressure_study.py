"""The pressure side of a line: surge, class, vacuum, thrust, spans and uplift, in one pass.

Needs a pipe; the surge also needs a design flow. ``study`` calls this once the pipe lies and the
heads are known.
"""

from __future__ import annotations

import numpy as np

from routing.anchors import Anchorage, Branch, Ground, governing_pressure, hold_line
from routing.arrays import FloatArray, frozen
from routing.check import Check, failed_findings
from routing.finding import Finding
from routing.flow.design import DesignFlow
from routing.flow.surge import SafeClosing, SurgeCase
from routing.laid_line import LaidLine
from routing.settings import Settings
from routing.strength_study import Strength, strength_of
from routing.surge_study import closing_checks, safe_closing, stopped_flow
from routing.value import dataclass

__all__ = ["PressureSide", "pressure_side"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureSide:
    """What the pressures ask of pipe, ground and structures; arrays over stations (n,)."""

    surges: tuple[SurgeCase, ...]
    safe_closing: SafeClosing | None
    """The shortest safe even closure, where the settings ask for it."""
    strength: Strength
    governing_pa: FloatArray
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
    aged = None if flow is None else flow.aged
    weight = line.water.weight_n_m3
    highest_static = np.maximum(line.static_pressure_pa + settings.site.flood_rise * weight, 0.0)
    surges = stopped_flow(settings, line, flow)
    rise = np.max([case.rise_m for case in surges], axis=0) * weight if surges else None
    strength = strength_of(settings, line, surges)
    closing = safe_closing(settings, line, flow, strength.vacuum.limit_pa)
    searched = closing_checks(settings, closing)
    test = strength.test.pressure_pa
    governing, _ = governing_pressure(highest_static, surge_pa=rise, test_pa=test)
    held = hold_line(
        line,
        governing,
        Ground(soil=settings.site.soil),
        velocity_m_s=None if aged is None else aged.velocity_m_s,
        valves_m=[valve.at for valve in settings.valve],
        branches=[
            Branch(station_m=each.at, outside_diameter_m=each.diameter, side=each.side)
            for each in settings.branch
        ],
    )
    return PressureSide(
        surges=surges,
        safe_closing=closing,
        checks=(
            *(check for case in surges for check in case.checks),
            *searched,
            *strength.checks,
            *held.checks,
        ),
        strength=strength,
        governing_pa=frozen(governing),
        anchorage=held,
        findings=(
            *(finding for case in surges for finding in case.findings),
            *failed_findings(searched),
            *failed_findings(strength.checks),
            *held.findings,
        ),
    )
