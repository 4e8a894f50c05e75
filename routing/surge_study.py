"""The surge of a study: how the settings say that the flow stops, and how slow it must stop."""

from __future__ import annotations

from functools import partial

import numpy as np

from routing.arrays import FloatArray
from routing.check import Check
from routing.flow.design import DesignFlow
from routing.flow.requirements import asked
from routing.flow.surge import (
    ClosingLaw,
    SafeClosing,
    SurgeCase,
    blocked_line,
    slowest_safe_closing_time,
    surge_cases,
    table_law,
    uniform_closure,
)
from routing.laid_line import LaidLine
from routing.settings import Settings
from routing.strength import allowance

__all__ = ["closing_checks", "closing_law", "safe_closing", "stopped_flow"]


def stopped_flow(
    settings: Settings, line: LaidLine, flow: DesignFlow | None
) -> tuple[SurgeCase, ...]:
    """Return the ways in which the flow may stop, the closure as given first, the blockage last.

    Without a flow there is none.
    """
    return surge_cases(
        blocked_line(line, flow),
        flow,
        closing_law(settings),
        follow=settings.surge.run is not False,
        recurring=settings.surge.recurring,
    )


def safe_closing(
    settings: Settings, line: LaidLine, flow: DesignFlow | None, vacuum_limit_pa: FloatArray
) -> SafeClosing | None:
    """Return the shortest even closure that the pipe bears, if the settings ask for it.

    Every station keeps to its pipe's allowance for static pressure with surge, the intake in flood,
    and to the vacuum that the pipe stands, in new and in aged pipe, as the checks of the class ask;
    ``vacuum_limit_pa`` is (n,), NaN where it is not known.
    """
    blocked = blocked_line(line, flow)
    if blocked is None or flow is None or not settings.surge.find_closing:
        return None
    return slowest_safe_closing_time(
        blocked,
        _allowed_pa(settings, line) - settings.site.flood_rise * line.water.weight_n_m3,
        aged=flow.aged.head_loss_m < line.gross_head_m,
        lowest_pa=-vacuum_limit_pa,
        family=partial(uniform_closure, valve=settings.surge.valve),
    )


def _allowed_pa(settings: Settings, line: LaidLine) -> FloatArray:
    allowed = [
        allowance(
            run.pipe,
            line.water.temperature_c,
            recurring=settings.surge.recurring,
            surge_factor=settings.surge.factor,
        ).total_pa
        for run in line.pipes.runs
    ]
    by_run = np.array([np.nan if value is None else value for value in allowed])
    return by_run[line.run_index]


def closing_law(settings: Settings) -> ClosingLaw | None:
    """Return the law of the closure as given: point by point, even, or None."""
    surge, closing = settings.surge, settings.turbine.closure_time
    if surge.step:
        return table_law(
            [0.0, *(step.time for step in surge.step)],
            [1.0, *(step.open for step in surge.step)],
            valve=surge.valve,
            label=f"{surge.valve} moving by {len(surge.step)} steps in {surge.step[-1].time:g} s",
        )
    return None if closing is None else uniform_closure(closing, surge.valve)


def closing_checks(settings: Settings, safe: SafeClosing | None) -> tuple[Check, ...]:
    """Return whether the closing time as given is one of those that were found safe."""
    given_s = settings.turbine.closure_time
    if safe is None:
        return ()
    if safe.time_s is None or given_s is None:
        return safe.checks
    return (
        asked("closing_safe").judge(
            given_s,
            f"The outlet closes in {given_s:g} s; {safe.time_s:.1f} s is the shortest even closure "
            f"that the whole line bears, and at {safe.station_m:.1f} m it bears least. Close more "
            "slowly.",
            limit=safe.time_s,
            place="outlet",
            station_m=safe.station_m,
        ),
    )
