"""Commissioning of a study's line: what the settings, the fittings and the pressures ask of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from routing.doubt import head_sd_m
from routing.doubt_study import DoubtSide
from routing.fitting_study import FittingSide
from routing.flow.design import DesignFlow
from routing.laid_line import LaidLine
from routing.land import Crossing
from routing.pressure_study import PressureSide
from routing.settings import Settings, ValveSettings
from routing.stream_study import StreamFlow
from routing.value import dataclass
from routing.works import (
    DrainStep,
    EndThrust,
    Expected,
    Filling,
    Flush,
    HoldPoint,
    IsolatingValve,
    LossTable,
    Section,
    Spout,
    Tap,
    WaterFront,
    WaterLeft,
    cut_sections,
    drain_down,
    end_thrusts,
    expected_readings,
    fill_line,
    fill_rate,
    flush_line,
    front_table,
    hold_points,
    loss_table,
    place_taps,
    place_valves,
    spouts_of,
    water_left,
)

__all__ = ["WorksSide", "find_valves", "with_valves", "works_side"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WorksSide:
    """The plan of commissioning, each part as its room made it."""

    taps: tuple[Tap, ...]
    holds: tuple[HoldPoint, ...]
    ends: tuple[EndThrust, ...]
    filling: Filling
    front: tuple[WaterFront, ...]
    spouts: tuple[Spout, ...]
    flushing: tuple[Flush, ...]
    tests: tuple[Section, ...]
    expected: tuple[Expected, ...]
    losses: LossTable
    drain_down: tuple[DrainStep, ...]
    water_left: tuple[WaterLeft, ...]


def works_side(
    settings: Settings,
    line: LaidLine,
    flow: DesignFlow | None,
    side: PressureSide | None,
    fittings: FittingSide,
    doubt: DoubtSide,
    water: StreamFlow,
) -> WorksSide | None:
    """Plan the commissioning of a line; None without a pipe, and for a line being dragged."""
    sized = fittings.sized
    if side is None or sized is None:
        return None
    inlet = [vent.station_m for vent in sized.vents if "below the intake" in vent.rules]
    taps = place_taps(
        line,
        first_m=inlet[0] if inlet else None,
        given_m=[tap.at for tap in settings.tap],
        level_sd_m=_level_sd(doubt, float(line.station_m[-1])),
    )
    stream = _spare_m3_s(water)
    rate = fill_rate(line, sized.vent_sizes, stream)
    valves = [valve.at for valve in settings.valve]
    tests = cut_sections(line, side.strength.test.bounds, valves)
    return WorksSide(
        taps=taps,
        holds=hold_points(),
        ends=end_thrusts(line, tests, valves),
        filling=fill_line(line, rate, sized.vent_sizes, taps),
        front=front_table(line),
        spouts=spouts_of(line, sized.vents, rate.rate_m3_s),
        flushing=flush_line(line, sized.drains, sized.drain_sizes, stream),
        tests=tests,
        expected=expected_readings(line, taps, None if flow is None else flow.aged.flow_m3_s),
        losses=loss_table(line, taps, None if flow is None else flow.aged.flow_m3_s),
        drain_down=drain_down(
            line, sized.drains, sized.drain_sizes, sized.vent_sizes, settings.site.frost_depth
        ),
        water_left=water_left(
            line, [drain.serves_m for drain in sized.drains], settings.site.frost_depth
        ),
    )


def find_valves(
    settings: Settings, line: LaidLine, crossings: Sequence[Crossing]
) -> tuple[IsolatingValve, ...]:
    """Return the isolating valves that a study asks for, and those that its line needs."""
    streams = [
        (each.at_m - 0.5 * each.width_m, each.at_m + 0.5 * each.width_m)
        if each.from_m == each.to_m and each.width_m
        else (each.from_m, each.to_m)
        for each in crossings
        if each.kind == "stream" and each.relation in ("inside", "crosses")
    ]
    return place_valves(
        line,
        [valve.at for valve in settings.valve],
        streams,
        [branch.at for branch in settings.branch],
    )


def with_valves(settings: Settings, valves: Sequence[IsolatingValve]) -> Settings:
    """Return settings in which every valve in the line was asked for."""
    return replace(
        settings,
        valve=tuple(ValveSettings(at=valve.station_m) for valve in valves if valve.in_line),
    )


def _spare_m3_s(water: StreamFlow) -> float | None:
    """Return what the stream gives beyond its residual flow half of the year [m3/s]."""
    curve, residual = water.curve, water.settings.intake.residual
    if curve is None or residual is None:
        return None
    spare = float(curve.at(0.5)) - residual
    return spare if spare > 0.0 else None


def _level_sd(doubt: DoubtSide, length_m: float) -> Callable[[float], float]:
    """Return what gives the error of the head between the intake and a station [m]."""
    whole = head_sd_m(doubt.error, length_m)
    known = doubt.gross_head_sd_m
    if not whole or known is None:
        return lambda station: 0.0
    # Levels taken on the ground make the whole head surer; so they do its parts.
    surer = known / whole
    return lambda station: surer * (head_sd_m(doubt.error, station) or 0.0)
