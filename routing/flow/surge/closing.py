"""How slow a closure must be for a line to bear it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from routing.arrays import FloatArray
from routing.check import Check
from routing.errors import InputError
from routing.flow.requirements import asked
from routing.flow.surge.inputs import Progress, SurgeInputs
from routing.flow.surge.laws import ClosingLaw, instant_closure, uniform_closure
from routing.flow.surge.result import SurgeResult
from routing.flow.surge.run import run_line, wave_line
from routing.value import dataclass

__all__ = ["SafeClosing", "slowest_safe_closing_time"]

LONGEST_S = 3600.0
"""No valve of a small line is asked to take longer than an hour [s]."""

SCAN = 12
"""Times that are tried between instant and safe, to see whether slower is always safer."""

TOLERANCE = 0.005
"""Share of itself to which the time is found, always on the safe side [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SafeClosing:
    """The shortest closing time from which on no closure breaks the limits.

    ``time_s`` is 0 where even an instant closure is safe and None where no closure within an hour
    is; ``result`` is the run at that time (at the longest where None). ``monotonic`` is False where
    some faster closure would have been safe as well: waves may cancel, but nobody should count on
    it. ``runs`` counts the runs it took.
    """

    time_s: float | None
    station_m: float
    margin_pa: float
    monotonic: bool
    runs: int
    result: SurgeResult
    checks: tuple[Check, ...]
    """What breaks its limit where no closure within an hour is slow enough; else none."""


class _Trial:
    """Runs closures over one line and measures how far each keeps from the limits."""

    def __init__(
        self,
        inputs: SurgeInputs,
        aged: bool,
        highest_pa: FloatArray | float,
        lowest_pa: FloatArray | float | None,
        family: Callable[[float], ClosingLaw],
        progress: Progress | None,
    ) -> None:
        states = (inputs, replace(inputs, new_pipe=False)) if aged else (inputs,)
        self.lines = [wave_line(state) for state in states]
        self.stations = inputs.line.station_m
        self.highest = np.broadcast_to(np.asarray(highest_pa, float), inputs.line.station_m.shape)
        self.lowest = None if lowest_pa is None else np.asarray(lowest_pa, float)
        self.family, self.progress = family, progress
        self.runs = 0

    def margin(self, result: SurgeResult) -> tuple[float, int]:
        """Return the least distance to a limit, negative beyond it, and where [Pa]."""
        room = self.highest - result.highest_pressure_pa
        if self.lowest is not None:
            room = np.fmin(room, result.lowest_pressure_pa - self.lowest)
        place = int(np.nanargmin(room))
        return float(room[place]), place

    def run(self, time_s: float) -> tuple[SurgeResult, float, int]:
        """Run the closure that takes ``time_s``; the state that has least room counts."""
        law = instant_closure() if time_s == 0.0 else self.family(time_s)
        results = [run_line(line, law, line.inputs.duration_s) for line in self.lines]
        self.runs += len(results)
        if self.progress:
            # The number of runs is not known before; this rises towards 1 and never reaches it.
            self.progress(self.runs / (self.runs + SCAN))
        tried = [(result, *self.margin(result)) for result in results]
        return min(tried, key=lambda each: each[1])


def slowest_safe_closing_time(
    inputs: SurgeInputs,
    highest_pa: FloatArray | float,
    *,
    lowest_pa: FloatArray | float | None = None,
    aged: bool = False,
    family: Callable[[float], ClosingLaw] = uniform_closure,
    progress: Progress | None = None,
) -> SafeClosing:
    """Return how slow a closure must be: the shortest time from which on every one is safe.

    Parameters
    ----------
    inputs : SurgeInputs
        The line and its flow; its own law is not used [-]
    highest_pa : float or FloatArray
        Highest pressure allowed, one or (n,) at the stations, NaN where there is no limit [Pa]
    lowest_pa : float or FloatArray, optional
        Lowest gauge pressure allowed, one or (n,); None sets no limit [Pa]
    aged : bool
        Follow every closure from the aged pipe too: it flows under less head, and a closure may
        strike it harder [-]
    family : callable
        The law for a closing time: even closure of a nozzle, or the user's own kind [-]
    progress : callable, optional
        Called with the share that is done, rising towards 1 [-]

    Returns
    -------
    closing : SafeClosing
        The time, the run at it, and the place that comes nearest its limit [s]

    Raises
    ------
    InputError
        If no station has a limit, or the line is not one for :func:`.run_surge`.

    Notes
    -----
    Valid for: as :func:`.run_surge`; the time is that of ``family``, which for a gate is its
    stroke. The found time is within 0.5 % and itself safe; a scan from instant to safe looks for
    unsafe times beyond safe ones, and the longest of those counts.
    Checked by ``tests/routing/flow/surge/test_closing.py``.
    """
    trial = _Trial(inputs, aged, highest_pa, lowest_pa, family, progress)
    if not np.any(np.isfinite(trial.highest)) and trial.lowest is None:
        raise InputError("No station has a highest pressure.", "Give a limit, or rated pipe.")
    result, margin, place = trial.run(0.0)
    if margin >= 0.0:
        return _found(trial, 0.0, result, margin, place, monotonic=True)
    high = 2.0 * result.critical_s
    best = trial.run(high)
    while best[1] < 0.0 and high < LONGEST_S:
        high = min(2.0 * high, LONGEST_S)
        best = trial.run(high)
    if best[1] < 0.0:
        return _found(trial, None, *best, monotonic=True)
    # From the longest unsafe time of the scan to the next longer one, which is safe.
    scan = np.linspace(0.0, high, SCAN + 1)[1:-1][::-1].tolist()
    safe, low, monotonic = high, 0.0, True
    for time_s in scan:
        tried = trial.run(time_s)
        if low > 0.0:
            monotonic = monotonic and tried[1] < 0.0
        elif tried[1] < 0.0:
            low = time_s
        else:
            safe, best = time_s, tried
    while safe - low > TOLERANCE * safe:
        middle = 0.5 * (low + safe)
        tried = trial.run(middle)
        if tried[1] < 0.0:
            low = middle
        else:
            safe, best = middle, tried
    return _found(trial, safe, *best, monotonic=monotonic)


def _found(
    trial: _Trial,
    time_s: float | None,
    result: SurgeResult,
    margin_pa: float,
    place: int,
    *,
    monotonic: bool,
) -> SafeClosing:
    station_m = float(trial.stations[place])
    checks = () if time_s is not None else (_within_hour(trial, result, place, station_m),)
    if trial.progress:
        trial.progress(1.0)
    return SafeClosing(
        time_s=time_s,
        station_m=station_m,
        margin_pa=margin_pa,
        monotonic=monotonic,
        runs=trial.runs,
        result=result,
        checks=checks,
    )


def _within_hour(trial: _Trial, result: SurgeResult, place: int, station_m: float) -> Check:
    """Return what breaks its limit in the slowest closure: too high a pressure or too low a one."""
    high_pa, most_pa = float(result.highest_pressure_pa[place]), float(trial.highest[place])
    if high_pa > most_pa:
        return asked("closing_hour_highest").judge(
            high_pa / 1000.0,
            f"No closure within an hour keeps the pressure within its limits; "
            f"{(high_pa - most_pa) / 1000:.0f} kPa are missing at {station_m:.1f} m. Take stronger "
            "pipe.",
            limit=most_pa / 1000.0,
            place="line",
            station_m=station_m,
        )
    assert trial.lowest is not None
    low_pa = float(result.lowest_pressure_pa[place])
    least_pa = float(np.broadcast_to(trial.lowest, result.station_m.shape)[place])
    return asked("closing_hour_lowest").judge(
        low_pa / 1000.0,
        f"No closure within an hour keeps the pressure at {station_m:.1f} m above the "
        f"{least_pa / 1000:.0f} kPa that the pipe withstands; it falls to {low_pa / 1000:.0f} kPa. "
        "Take stiffer pipe, or let air in there.",
        limit=least_pa / 1000.0,
        place="line",
        station_m=station_m,
    )
