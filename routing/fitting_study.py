"""The fittings of a line: placed, sized for its pressures, and held against what is asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from routing.arrays import FloatArray
from routing.check import Check
from routing.finding import Finding
from routing.fittings import (
    Advised,
    AirPocket,
    Drain,
    FittingInputs,
    FrostData,
    GivenRelief,
    Loads,
    SizedFittings,
    Vent,
    place_drains,
    place_vents,
    placing_checks,
    placing_notes,
    size_fittings,
    trapped_air,
)
from routing.fittings.requirements import tightest
from routing.flow.design import DesignFlow
from routing.laid_line import LaidLine
from routing.pressure_study import PressureSide
from routing.settings import Settings
from routing.terrain import Terrain
from routing.value import dataclass

__all__ = ["NO_FITTINGS", "FittingSide", "fitting_side"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FittingSide:
    """Vents and drains as they are to be built, and what they ask.

    ``folded`` are the places where published practice advises a vent that would save nothing
    measurable. ``sized`` is None without a pipe, and for a line being dragged; the fittings then
    have the least sizes of the tables.
    """

    vents: tuple[Vent, ...]
    folded: tuple[Advised, ...]
    drains: tuple[Drain, ...]
    air: tuple[AirPocket, ...]
    sized: SizedFittings | None
    loaded: FittingInputs | None
    """What they were sized for; None as ``sized`` is."""
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]
    """Notes; what a check asks and does not get is said by the check."""


NO_FITTINGS = FittingSide(
    vents=(), folded=(), drains=(), air=(), sized=None, loaded=None, checks=(), findings=()
)
"""What stands where fittings were not asked for."""


def fitting_side(
    settings: Settings,
    terrain: Terrain,
    line: LaidLine,
    flow: DesignFlow | None,
    side: PressureSide | None,
    chances: Mapping[int, float],
) -> FittingSide:
    """Place the fittings of a laid line and size them; without ``side`` they are only placed."""
    given = _given(settings, terrain, flow, chances)
    placed = place_vents(line, given)
    drains = place_drains(line, given)
    air = trapped_air(line, placed.vents)
    checks = placing_checks(line, given, drains, air)
    notes = placing_notes(given, placed, drains)
    if side is None:
        return FittingSide(
            vents=placed.vents,
            folded=placed.folded,
            drains=drains,
            air=air,
            sized=None,
            loaded=None,
            checks=tightest(checks),
            findings=notes,
        )
    loaded = replace(given, loads=_loads(given, line, side))
    sized = size_fittings(line, placed.vents, drains, loaded)
    return FittingSide(
        vents=sized.vents,
        folded=placed.folded,
        drains=sized.drains,
        air=air,
        sized=sized,
        loaded=loaded,
        checks=tightest((*checks, *sized.checks)),
        findings=(*notes, *sized.findings),
    )


def _given(
    settings: Settings,
    terrain: Terrain,
    flow: DesignFlow | None,
    chances: Mapping[int, float],
) -> FittingInputs:
    site = settings.site
    return FittingInputs(
        flow_m3_s=None if flow is None else flow.aged.flow_m3_s,
        flowing_head_m=None if flow is None else flow.aged.flowing_head_m,
        valves_m=tuple(valve.at for valve in settings.valve),
        relief=tuple(
            GivenRelief(one.at, one.diameter, one.opens_at, one.side, one.reason)
            for one in settings.relief
        ),
        rmse_m=terrain.rmse_m,
        cell_m=terrain.cell_m,
        chances=chances,
        flood_rise_m=site.flood_rise,
        vents_may_freeze=site.vents_may_freeze,
        frost=FrostData(
            depth_m=site.frost_depth,
            air_c=site.winter_air,
            drained_in_winter=site.drained_in_winter,
        ),
        drain_hours=site.drain_hours,
        units=settings.study.units,
    )


def _loads(given: FittingInputs, line: LaidLine, side: PressureSide) -> Loads:
    """Return what the fittings must bear: in use, with the outlet blocked, and in the test."""
    weight = line.water.weight_n_m3

    def total(rise_m: FloatArray) -> FloatArray:
        return (line.static_head_m + given.flood_rise_m + rise_m) * weight

    def highest(emergency: bool) -> FloatArray | None:
        rises = [case.rise_m for case in side.surges if case.emergency is emergency]
        return total(np.max(rises, axis=0)) if rises else None

    return Loads(
        operating_pa=highest(False),
        emergency_pa=highest(True),
        test_pa=side.strength.test.pressure_pa,
    )
