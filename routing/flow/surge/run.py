"""One surge over one line: from the steady flow through the closure to the envelopes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.check import failed_findings
from routing.errors import InputError
from routing.flow.surge.bounds import SurgeBound, bound_along_m, surge_bound
from routing.flow.surge.findings import closing_checks, surge_findings
from routing.flow.surge.grid import WaveGrid, interlaced, wave_grid
from routing.flow.surge.inputs import Progress, SurgeInputs
from routing.flow.surge.laws import ClosingLaw, effective_closing_s
from routing.flow.surge.moc import WaveState, advance
from routing.flow.surge.result import Cavity, SurgeResult, ValveRecord
from routing.heads import pressure_pa
from routing.value import dataclass

__all__ = ["WaveLine", "quick_bound", "run_line", "run_surge", "wave_line"]

AFTER_CLOSURE = 6.0
"""Critical times that are simulated after the valve stands still: three full swings."""

MOST_WORK = 2e11
"""Nodes times steps that one run may take, some minutes of computing."""

CHUNKS = 50
"""Times that a run reports its progress."""
SAME_PLACE_M = 1e-3
"""A station nearer than this to a node is at it [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WaveLine:
    """A line made ready for runs: its grid, its boundaries and what its valve was sized for.

    ``valve`` is flow squared over twice the head at the open valve; ``velocity_share`` the
    velocity head in the last pipe over that head.
    """

    inputs: SurgeInputs
    grid: WaveGrid
    static_head_m: float
    valve: float
    velocity_share: float

    def held_together(self) -> WaveLine:
        """Return the same line with water that bears any pull, so that it never parts."""
        never = frozen(np.full(self.grid.boiling_m.shape, -1e9))
        return replace(self, grid=replace(self.grid, boiling_m=never))

    def constants(self) -> FloatArray:
        """Return what the steps' boundaries need, as :mod:`.moc` has them."""
        return np.array(
            [
                self.inputs.line.levels.intake_m,
                self.grid.entrance,
                self.inputs.line.levels.outlet_m,
                self.valve,
                self.grid.step_s,
            ]
        )

    def steady_flow_m3_s(self, opening: float) -> float:
        """Return the steady flow at an opening of the valve."""
        if opening == 0.0:
            return 0.0
        valve_loss = 1.0 / (2.0 * self.valve * opening * opening)
        return math.sqrt(self.static_head_m / (self.grid.loss_per_square + valve_loss))

    def steady_state(self, flow_m3_s: float) -> WaveState:
        """Return the line in steady flow, heads without velocity head."""
        lost = np.concatenate(([0.0], np.cumsum(self.grid.resistance))) + self.grid.entrance
        head = interlaced(self.inputs.line.levels.intake_m - lost * flow_m3_s * flow_m3_s)
        flow = interlaced(np.full(self.grid.slope_m.size, flow_m3_s))
        return WaveState(
            head_m=head,
            into_m3_s=flow.copy(),
            out_m3_s=flow,
            cavity_m3=np.zeros(head.shape),
            highest_m=head.copy(),
            lowest_m=head.copy(),
            largest_cavity_m3=np.zeros(head.shape),
            highest_before_parting_m=head.copy(),
        )


def wave_line(inputs: SurgeInputs) -> WaveLine:
    """Return a line made ready for runs; raise InputError where it cannot carry its flow."""
    grid = wave_grid(inputs)
    static = inputs.line.levels.intake_m - inputs.line.levels.outlet_m
    square = inputs.flow_m3_s * inputs.flow_m3_s
    valve_head = static - grid.loss_per_square * square
    if valve_head <= 0.0:
        raise InputError(
            f"The design flow of {inputs.flow_m3_s * 1000:.1f} L/s loses "
            f"{grid.loss_per_square * square:.1f} m, more than the {static:.1f} m of fall.",
            "Take a larger pipe or less flow.",
        )
    velocity = grid.reaches[-1].velocity_m_s
    return WaveLine(
        inputs=inputs,
        grid=grid,
        static_head_m=static,
        valve=square / (2.0 * valve_head),
        velocity_share=velocity * velocity / (2.0 * inputs.line.water.gravity_m_s2 * valve_head),
    )


def quick_bound(inputs: SurgeInputs) -> tuple[SurgeBound, FloatArray]:
    """Return the bound at the valve and along the stations, without any time steps.

    Parameters
    ----------
    inputs : SurgeInputs
        The line, its flow and the law of its outlet [-]

    Returns
    -------
    bound : SurgeBound
        At the valve, for the law's effective closing time [m]
    rise_m : FloatArray
        Bound on the rise above the static level at each station, (n,) [m]

    Notes
    -----
    Valid for: as :func:`.surge_bound`.
    """
    return _bound(wave_line(inputs), inputs.law)


def _bound(line: WaveLine, law: ClosingLaw) -> tuple[SurgeBound, FloatArray]:
    inputs = line.inputs
    closing = effective_closing_s(law, line.velocity_share)
    bound = surge_bound(
        line.grid.reaches,
        static_head_m=line.static_head_m,
        closing_s=min(closing, 1e12),
        gravity_m_s2=inputs.line.water.gravity_m_s2,
    )
    return bound, bound_along_m(bound, inputs.line.slope_station_m, line.grid.reaches)


def run_surge(inputs: SurgeInputs, progress: Progress | None = None) -> SurgeResult:
    """Run a surge by the method of characteristics.

    Parameters
    ----------
    inputs : SurgeInputs
        The line, its flow and the law of its outlet [-]
    progress : callable, optional
        Called with the share that is done, 0 to 1 [-]

    Returns
    -------
    result : SurgeResult
        Envelopes of head and pressure at every station, what happens at the valve, the quick
        bound, and findings

    Raises
    ------
    InputError
        If the line cannot carry its flow or the run would take more than some minutes.
    PipeError
        If a pipe's wave speed is unknown or cannot be.

    Notes
    -----
    Valid for: water without air, one line without branches, friction as in steady flow (waves die
    out faster in truth). Velocity heads are left out of the waves; no lowest head is above that of
    the steady flow with its velocity head. A station takes the worse of the nodes beside it.
    Checked by ``tests/reference/test_surge.py``.

    Examples
    --------
    >>> from routing.flow.surge import uniform_closure
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 400.0, 800.0], [410.0, 380.0, 350.0], "PE100-SDR17-200",
    ...                    intake_m=411.0)
    >>> result = run_surge(SurgeInputs(line=line, flow_m3_s=0.03, law=uniform_closure(8.0),
    ...                                least_segments=20))
    >>> (result.highest_head_m - result.static_head_m).tolist()
    [0.0, 12.0231, 20.4486]
    """
    line = wave_line(inputs)
    result = run_line(line, inputs.law, inputs.duration_s, progress)
    if result.parted_s is not None:
        whole = run_line(line.held_together(), inputs.law, inputs.duration_s)
        result = replace(result, whole_head_m=whole.highest_head_m)
    checks = closing_checks(inputs, result.bound)
    findings = (*failed_findings(checks), *surge_findings(inputs, result))
    return replace(result, checks=checks, findings=findings)


def run_line(
    line: WaveLine,
    law: ClosingLaw,
    duration_s: float | None = None,
    progress: Progress | None = None,
) -> SurgeResult:
    """Run one law over a line made ready, for ``duration_s`` or the closure and three swings.

    The result says nothing yet of what is unwise about it.
    """
    pair_s = 2.0 * line.grid.step_s
    critical = 2.0 * sum(reach.length_m / reach.wave_speed_m_s for reach in line.grid.reaches)
    duration = duration_s or law.stroke_s + AFTER_CLOSURE * critical
    pairs = max(1, math.ceil(duration / pair_s))
    if pairs * line.grid.slope_m.size > MOST_WORK:
        raise InputError(
            f"{duration:g} s of a surge take {pairs} steps.", "Simulate less time, or cut coarser."
        )
    times = frozen(pair_s * np.arange(1, pairs + 1))
    opening = frozen(law.opening(times, line.velocity_share))
    start = float(law.opening(np.zeros(1), line.velocity_share)[0])
    first_flow = line.steady_flow_m3_s(start)
    state = line.steady_state(first_flow)
    first_head = state.head_m[0, -1]
    grid = {
        "impedance": interlaced(line.grid.impedance),
        "resistance": interlaced(line.grid.resistance),
        "boiling_m": interlaced(line.grid.boiling_m),
        "constants": line.constants(),
    }
    history = [np.array([[first_head, first_flow, first_flow]])]
    stride = max(1, pairs // CHUNKS) if progress else pairs
    for begin in range(0, pairs, stride):
        history.append(advance(state, opening=opening[begin : begin + stride], **grid))
        if progress:
            progress(min(1.0, (begin + stride) / pairs))
    return _result(line, law, state, np.vstack(history), first_flow)


def _nodes(rows: FloatArray) -> FloatArray:
    """Return two interlaced rows as one array over nodes, (n,)."""
    values = np.empty(2 * rows.shape[1] - 1)
    values[::2], values[1::2] = rows[0], rows[1, :-1]
    return values


def _result(
    line: WaveLine, law: ClosingLaw, state: WaveState, history: FloatArray, first_flow: float
) -> SurgeResult:
    inputs, grid = line.inputs, line.grid
    station, pipe_m = inputs.line.station_m, inputs.line.pipe_m
    # The worse of the nodes on either side; a station on a node has that one alone. Where unlike
    # pipes meet the head leaps, so a joint must not miss its node by a hair.
    places = inputs.line.slope_station_m
    after = np.minimum(np.searchsorted(grid.slope_m, places - SAME_PLACE_M), grid.slope_m.size - 1)
    on_node = np.abs(grid.slope_m[after] - places) <= SAME_PLACE_M
    before = np.where(on_node, after, np.maximum(after - 1, 0))
    highest, kept = _nodes(state.highest_m), _nodes(state.highest_before_parting_m)
    lowest = _nodes(state.lowest_m)
    high = np.maximum(highest[before], highest[after])
    reliable = high <= np.maximum(kept[before], kept[after])
    velocity = first_flow / inputs.line.inside_diameter_m**2
    velocity *= 4.0 / math.pi
    steady = _nodes(line.steady_state(first_flow).head_m)
    running = np.interp(inputs.line.slope_station_m, grid.slope_m, steady)
    low = np.minimum(
        np.minimum(lowest[before], lowest[after]),
        running - velocity * velocity / (2.0 * inputs.line.water.gravity_m_s2),
    )
    boiling = np.interp(inputs.line.slope_station_m, grid.slope_m, grid.boiling_m - grid.pipe_m)
    highest_head = np.maximum(high, inputs.line.levels.intake_m) - pipe_m
    lowest_head = np.maximum(low - pipe_m, boiling)
    bound, bound_rise = _bound(line, law)
    peak = int(np.argmax(history[:, 0]))
    pair_s = 2.0 * grid.step_s
    parted = state.parted_pair >= 0
    return SurgeResult(
        law=law,
        station_m=station,
        static_head_m=frozen(inputs.line.levels.intake_m - pipe_m),
        highest_head_m=frozen(highest_head),
        whole_head_m=frozen(highest_head),
        lowest_head_m=frozen(lowest_head),
        highest_pressure_pa=frozen(pressure_pa(highest_head, inputs.line.water)),
        lowest_pressure_pa=frozen(pressure_pa(lowest_head, inputs.line.water)),
        reliable=frozen(reliable if parted else np.ones(station.size, bool), np.bool_),
        peak_level_m=float(history[peak, 0]),
        peak_time_s=peak * pair_s,
        rise_m=float(history[peak, 0]) - inputs.line.levels.intake_m,
        record=ValveRecord(
            time_s=frozen(pair_s * np.arange(history.shape[0])),
            level_m=frozen(history[:, 0]),
            flow_m3_s=frozen(history[:, 1]),
        ),
        critical_s=bound.critical_s,
        effective_closing_s=effective_closing_s(law, line.velocity_share),
        duration_s=pair_s * (history.shape[0] - 1),
        segments=grid.impedance.size,
        step_s=grid.step_s,
        wave_speed_m_s=frozen([reach.wave_speed_m_s for reach in grid.reaches]),
        speed_change=grid.speed_change,
        parted_s=pair_s * state.parted_pair if parted else None,
        cavities=_cavities(line, _nodes(state.largest_cavity_m3)) if parted else (),
        bound=bound,
        bound_rise_m=bound_rise,
        checks=(),
        findings=(),
    )


def _cavities(line: WaveLine, volume_m3: FloatArray) -> tuple[Cavity, ...]:
    """Return the largest cavity of each unbroken stretch of nodes that parted."""
    held = np.flatnonzero(volume_m3 > 0.0)
    stations = np.interp(
        line.grid.slope_m, line.inputs.line.slope_station_m, line.inputs.line.station_m
    )
    found = []
    for stretch in np.split(held, np.flatnonzero(np.diff(held) > 2) + 1):
        worst = stretch[np.argmax(volume_m3[stretch])]
        found.append(Cavity(station_m=float(stations[worst]), volume_m3=float(volume_m3[worst])))
    return tuple(found)
