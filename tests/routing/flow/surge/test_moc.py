"""The steps themselves: water and energy are kept, both forms of the kernel agree, cavities."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from surge_lines import G, frictionless, one_pipe, opening_in, several_pipes

from routing.compiled import prefer_compiled
from routing.flow.surge import (
    SurgeInputs,
    instant_closure,
    run_surge,
    table_law,
    uniform_closure,
)
from routing.flow.surge.grid import interlaced
from routing.flow.surge.moc import advance
from routing.flow.surge.run import WaveLine, wave_line


def _uneven(law: Any, **more: Any) -> SurgeInputs:
    return several_pipes(
        (400.0, 300.0, 500.0), (0.3, 0.2, 0.25), (1000.0, 300.0, 500.0), level_m=90.0,
        flow_m3_s=0.05, law=law, entrance_k=0.5, **more,
    )  # fmt: skip


class _Stepper:
    """Steps a line pair by pair and keeps account of its energy and water."""

    def __init__(self, line: WaveLine, opening: float = 1.0) -> None:
        self.line = line
        self.state = line.steady_state(line.steady_flow_m3_s(opening))
        self.grid = {
            "impedance": interlaced(line.grid.impedance),
            "resistance": interlaced(line.grid.resistance),
            "boiling_m": interlaced(line.grid.boiling_m),
            "constants": line.constants(),
        }
        inputs = line.inputs
        self.level = inputs.line.levels.intake_m
        # Of an even node at an even step: half the segments on both sides.
        storage, inertia = line.grid.storage_m2, line.grid.storage_m2 * line.grid.impedance**2
        self.storage = self._at_even(storage)
        self.inertia = self._at_even(inertia)

    def _at_even(self, values: np.ndarray) -> np.ndarray:
        pairs = np.add.reduceat(values, np.arange(1, values.size - 1, 2))
        return np.concatenate(([values[0]], pairs, [values[-1]]))

    def step(self, opening: float) -> np.ndarray:
        return advance(self.state, opening=np.array([opening]), **self.grid)[0]

    def energy(self) -> float:
        """Return elastic and moving energy about the reservoir's level, over the weight of water.

        The even nodes alone stand for the line, each for the segments beside it.
        """
        head, flow = self.state.head_m[0] - self.level, self.state.out_m3_s[0]
        return 0.5 * float(self.storage @ head**2 + self.inertia @ flow**2)

    def stored_m3(self) -> float:
        """Return the water that the line's stretch holds beyond its state at rest."""
        return float(self.storage @ (self.state.head_m[0] - self.level))


def test_advance__energy_of_a_shut_line_is_kept() -> None:
    # No friction, valve shut, reservoir without loss: waves run for ever. The energy about the
    # reservoir's level is exactly that of the motion that was stopped.
    inputs = frictionless(0.46, 0.0, law=instant_closure(), least_segments=100)
    stepper = _Stepper(wave_line(inputs))
    before = stepper.energy()
    energies = []
    for _ in range(400):
        stepper.step(0.0)
        energies.append(stepper.energy())
    # Up to what stands in the one segment that is just reflected at each end.
    assert np.array(energies) == pytest.approx(before, rel=0.02)
    every_swing = energies[99::100]
    assert every_swing == pytest.approx([before] * 4, rel=1e-9)


def test_advance__friction_takes_energy_and_gives_none() -> None:
    inputs = one_pipe(
        length_m=1000.0, bore_m=0.3, speed_m_s=1000.0, factor=0.03, level_m=100.0, flow_m3_s=0.14,
        law=instant_closure(), least_segments=100,
    )  # fmt: skip
    stepper = _Stepper(wave_line(inputs))
    energies = [stepper.step(0.0) is None or stepper.energy() for _ in range(1000)]
    swings = np.array(energies[::100])
    assert np.all(np.diff(swings) < 0.0)
    assert swings[-1] < 0.5 * swings[0]


@pytest.mark.parametrize("count", [50, 200])
def test_advance__energy_balance_while_closing(count: int) -> None:
    # energy at the end = energy at the start + what the reservoir gives - what the valve takes
    # - friction, all about the reservoir's level
    inputs = one_pipe(
        length_m=1000.0, bore_m=0.3, speed_m_s=1000.0, factor=0.02, level_m=100.0, flow_m3_s=0.14,
        law=uniform_closure(5.0), least_segments=count,
    )  # fmt: skip
    line = wave_line(inputs)
    stepper = _Stepper(line)
    pair_s = 2.0 * line.grid.step_s
    start = stepper.energy()
    per_node = stepper._at_even(line.grid.resistance)
    taken = lost = 0.0
    for k in range(1, int(6.0 / pair_s)):
        head, flow, _ = stepper.step(max(0.0, 1.0 - k * pair_s / 5.0))
        taken += (head - 100.0) * flow * pair_s
        lost += float(per_node @ np.abs(stepper.state.out_m3_s[0]) ** 3) * pair_s
    left = stepper.energy()
    gone = start - left
    # the valve lets water out below the reservoir's level: taken < 0 gives energy to the line
    assert gone == pytest.approx(taken + lost, rel=8.0 / count)


@pytest.mark.parametrize(
    "law",
    [
        uniform_closure(6.0), instant_closure(), uniform_closure(20.0, "butterfly"),
        table_law([0.0, 3.0, 12.0], [1.0, 0.3, 0.0]), opening_in(4.0),
        table_law([0.0, 3.0], [1.0, 0.6]),
    ],
    ids=lambda law: law.label,
)  # fmt: skip
def test_run_surge__water_is_kept(law: Any) -> None:
    inputs = _uneven(law, duration_s=30.0, least_segments=400)
    line = wave_line(inputs)
    stepper = _Stepper(line, float(law.opening(np.zeros(1), line.velocity_share)[0]))
    before = stepper.stored_m3()
    pair_s = 2.0 * line.grid.step_s
    times = pair_s * np.arange(1, int(30.0 / pair_s))
    rows = [stepper.step(each) for each in law.opening(times, line.velocity_share).tolist()]
    _, out, into = np.array(rows).T
    gained = float((into - out).sum()) * pair_s
    moved = float(np.abs(into - out).sum()) * pair_s
    assert stepper.stored_m3() - before == pytest.approx(gained, abs=0.01 * moved)


@pytest.mark.parametrize("place", ["valve", "summit"])
def test_run_surge__water_is_kept_when_it_parts(place: str) -> None:
    station = np.linspace(0.0, 1200.0, 41)
    summit = np.where(np.abs(station - 600.0) < 1.0, 44.0, -100.0)
    inputs = one_pipe(
        length_m=1200.0, bore_m=0.5, speed_m_s=1000.0, factor=0.0, level_m=50.0,
        flow_m3_s=0.157, law=instant_closure(), pipe_m=0.0 if place == "valve" else summit,
        least_segments=400,
    )  # fmt: skip
    line = wave_line(inputs)
    stepper = _Stepper(line)
    pair_s = 2.0 * line.grid.step_s
    before, gained, account = stepper.stored_m3(), 0.0, []
    for _ in range(int(6.0 / pair_s)):
        _, out, into = stepper.step(0.0)
        gained += (into - out) * pair_s
        room = float(stepper.state.cavity_m3.sum())
        account.append((room, stepper.stored_m3() - before - room - gained))
    rooms, missing = np.array(account).T
    assert rooms.max() > 0.05
    assert np.abs(missing).max() < 0.02 * rooms.max()


def test_run_surge__interpreted_and_compiled_agree() -> None:
    for law, pipe_m in ((uniform_closure(6.0), -2000.0), (instant_closure(), (88.0, 0.0))):
        inputs = _uneven(law, pipe_m=pipe_m, least_segments=30, duration_s=12.0)
        prefer_compiled(True)
        native = run_surge(inputs)
        prefer_compiled(False)
        python = run_surge(inputs)
        assert python.highest_head_m == pytest.approx(native.highest_head_m, rel=1e-12)
        assert python.lowest_head_m == pytest.approx(native.lowest_head_m, rel=1e-9, abs=1e-9)
        assert (native.parted_s is None) == (pipe_m == -2000.0)


def test_run_surge__steady_flow_stays_steady() -> None:
    law = table_law([0.0], [1.0])
    result = run_surge(_uneven(law, duration_s=20.0))
    assert result.record.level_m == pytest.approx(result.record.level_m[0], abs=1e-9)
    assert result.record.flow_m3_s == pytest.approx(0.05, abs=1e-12)


def test_run_surge__velocity_head() -> None:
    # 3 m/s carry 9 / (2 g) = 0.4589 m: the running line lies that much below the level, and a gate
    # before the nozzle sees that share of the 80 m at the nozzle
    inputs = one_pipe(
        length_m=500.0, bore_m=0.4, speed_m_s=1000.0, factor=0.0, level_m=80.0,
        flow_m3_s=3.0 * math.pi / 4.0 * 0.16, law=table_law([0.0], [1.0]), duration_s=3.0,
    )  # fmt: skip
    result = run_surge(inputs)
    assert result.static_head_m - result.lowest_head_m == pytest.approx(0.4589, abs=5e-5)
    assert wave_line(inputs).velocity_share == pytest.approx(0.4589 / 80.0, abs=1e-6)


def test_run_surge__comes_to_rest_at_the_static_level() -> None:
    inputs = _uneven(uniform_closure(5.0), duration_s=1500.0, darcy_factor=0.05, least_segments=60)
    result = run_surge(inputs)
    assert result.record.level_m[-1] == pytest.approx(90.0, abs=1.0)


def test_run_surge__independent_full_grid() -> None:
    # the same equations written out plainly over every node at every step
    inputs = _uneven(uniform_closure(4.0), duration_s=12.0, least_segments=60)
    line = wave_line(inputs)
    grid = line.grid
    flow = np.full(grid.slope_m.size, inputs.flow_m3_s)
    lost = grid.entrance + np.concatenate(([0.0], np.cumsum(grid.resistance)))
    head = 90.0 - lost * inputs.flow_m3_s**2
    high = head.copy()
    b, r = grid.impedance, grid.resistance
    levels = [head[-1]]
    for step in range(1, 2 * math.ceil(12.0 / (2.0 * grid.step_s)) + 1):
        cp, bp = head[:-1] + b * flow[:-1], b + r * np.abs(flow[:-1])
        cm, bm = head[1:] - b * flow[1:], b + r * np.abs(flow[1:])
        flow[1:-1] = (cp[:-1] - cm[1:]) / (bp[:-1] + bm[1:])
        head[1:-1] = cp[:-1] - bp[:-1] * flow[1:-1]
        roots = np.roots([grid.entrance, bm[0], cm[0] - 90.0])
        flow[0] = max(roots.real) if cm[0] < 90.0 else (90.0 - cm[0]) / bm[0]
        head[0] = 90.0 - grid.entrance * flow[0] * max(flow[0], 0.0)
        tau = max(0.0, 1.0 - step * grid.step_s / 4.0)
        cv = line.valve * tau**2
        flow[-1] = -bp[-1] * cv + math.sqrt((bp[-1] * cv) ** 2 + 2.0 * cv * max(cp[-1], 0.0))
        head[-1] = cp[-1] - bp[-1] * flow[-1]
        high = np.maximum(high, head)
        if step % 2 == 0:
            levels.append(head[-1])
    result = run_surge(inputs)
    assert result.record.level_m == pytest.approx(np.array(levels), abs=1e-8)
    at_stations = np.interp(inputs.line.station_m, grid.slope_m, high) - inputs.line.pipe_m
    # the full grid sees every node at both kinds of steps, so its envelope is a little wider
    assert result.highest_head_m == pytest.approx(
        np.maximum(at_stations, 90.0 - inputs.line.pipe_m), abs=1.5
    )


def test_run_surge__cavity_and_its_collapse_by_hand() -> None:
    # Level pipe without friction, worked by hand with Joukowsky's rule. The wave of the instant
    # closure comes back after 2 L/a and stops at boiling; the water left of the valve runs uphill
    # with V1 = V - g/a (H0 - Hb) for 2 L/a more. The reservoir's answer then turns it to V2 = 2 g/a
    # (H0 - Hb) - V1; when it has filled the cavity it strikes the valve, and the answer to the
    # boiling head arrives on top of that for a short while.
    boiling = -(101_325.0 - 2_339.0) / (998.207 * G)
    area, fall = math.pi / 16.0, 50.0 - boiling
    inputs = one_pipe(
        length_m=1000.0, bore_m=0.5, speed_m_s=1000.0, factor=0.0, level_m=50.0, flow_m3_s=area,
        law=instant_closure(), pipe_m=0.0, least_segments=400, duration_s=8.0,
    )  # fmt: skip
    result = run_surge(inputs)
    first = 1.0 - G / 1000.0 * fall
    second = 2.0 * G / 1000.0 * fall - first
    assert result.lowest_head_m[-1] == pytest.approx(boiling, abs=1e-3)
    assert result.parted_s == pytest.approx(2.0, abs=0.01)
    at_valve = result.cavities[-1]
    assert at_valve.station_m == 1000.0
    assert at_valve.volume_m3 == pytest.approx(first * area * 2.0, rel=0.005)
    level, time = result.record.level_m, result.record.time_s
    closed_s = 4.0 + 2.0 * first / second
    filled = level[(time > closed_s + 0.05) & (time < 5.9)]
    assert filled == pytest.approx(boiling + 1000.0 / G * second, abs=0.05)
    peak = boiling + 1000.0 / G * second + 2.0 * fall
    assert level.max() == pytest.approx(peak, abs=0.05)
    assert peak > 50.0 + 1000.0 / G  # beyond the first strike, so marked as not reliable
    assert not result.reliable[-1]
    codes = [finding.code for finding in result.findings]
    assert codes[:2] == ["column_separation", "surge_peaks_unreliable"]


@given(
    level=st.floats(15.0, 150.0), velocity=st.floats(0.2, 4.0), summit=st.floats(-30.0, 12.0),
    stroke=st.floats(0.0, 20.0),
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_run_surge__nothing_falls_below_boiling(
    level: float, velocity: float, summit: float, stroke: float
) -> None:
    station = np.linspace(0.0, 1.0, 41)
    pipe = summit * np.exp(-(((station - 0.5) / 0.1) ** 2))
    inputs = one_pipe(
        length_m=900.0, bore_m=0.3, speed_m_s=600.0, factor=0.015, level_m=level + 15.0,
        flow_m3_s=min(velocity, 0.4 * math.sqrt(level)) * math.pi / 4.0 * 0.09,
        law=uniform_closure(stroke),
        pipe_m=pipe, least_segments=60,
    )  # fmt: skip
    result = run_surge(inputs)
    assert np.all(result.lowest_head_m >= -10.4)
    assert np.all(np.isfinite(result.highest_head_m))
    assert np.all(result.highest_head_m >= result.static_head_m)
    assert np.all(result.lowest_head_m <= result.highest_head_m)
    assert (result.parted_s is None) == (not result.cavities)
    if result.parted_s is None:
        assert np.all(result.reliable)


def test_run_surge__progress_changes_nothing() -> None:
    seen: list[float] = []
    inputs = _uneven(uniform_closure(6.0))
    with_it, without = run_surge(inputs, seen.append), run_surge(inputs)
    assert np.array_equal(with_it.record.level_m, without.record.level_m)
    assert seen == sorted(seen)
    assert seen[-1] == 1.0
    assert len(seen) > 20


def test_run_surge__finer_grids_converge() -> None:
    peaks = [
        run_surge(replace(_uneven(uniform_closure(3.0)), least_segments=count)).peak_level_m
        for count in (60, 240, 960)
    ]
    assert abs(peaks[1] - peaks[2]) < 0.005 * peaks[2]
