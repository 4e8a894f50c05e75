"""What must hold of every steady flow."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from known_lines import of_lengths

from routing.errors import InputError
from routing.flow import line_capacity_m3_s, line_resistance, steady_flow
from routing.heads import static_heads
from routing.laid_line import LaidLine
from routing.pipe import schedule_pipes

ANY_LINE = settings(
    deadline=None, max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
FLOWS = st.floats(1e-6, 0.3)


def at_head(line: LaidLine, head_m: float) -> LaidLine:
    """Return the line with its outlet ``head_m`` below the intake's water."""
    intake = line.levels.intake_m
    return replace(line, levels=replace(line.levels, outlet_m=intake - head_m))


@ANY_LINE
@given(flow=FLOWS, level=st.floats(390.0, 420.0))
def test_steady_flow__energy_balances_at_every_station(
    line: LaidLine, flow: float, level: float
) -> None:
    line = replace(line, levels=replace(line.levels, intake_m=level))
    got = steady_flow(line, flow)
    velocity_head = got.velocity_m_s**2 / (2 * line.water.gravity_m_s2)
    energy = got.hydraulic_grade_m + velocity_head
    assert np.all(np.diff(energy) < 0)
    assert level - energy[0] == pytest.approx(got.entrance_m, abs=1e-9)
    assert level - energy[-1] == pytest.approx(got.head_loss_m, rel=1e-9, abs=1e-9)
    assert got.head_loss_m == pytest.approx(got.friction_m + got.local_m + got.entrance_m)
    assert np.allclose(got.flowing_head_m, got.hydraulic_grade_m - line.pipe_m)
    assert np.all(got.flowing_head_m < static_heads(level, line.pipe_m))
    assert sum(reach.friction_m for reach in got.reaches) == pytest.approx(got.friction_m)


@ANY_LINE
@given(one=FLOWS, two=FLOWS)
def test_steady_flow__more_flow_loses_more(line: LaidLine, one: float, two: float) -> None:
    resistance = line_resistance(line)
    small, large = sorted((one, two))
    if large > small * (1 + 1e-9):
        assert resistance.head_loss_m(small) < resistance.head_loss_m(large)


@ANY_LINE
@given(flow=FLOWS, joint=st.floats(1.0, 611.0))
def test_steady_flow__splitting_a_reach_changes_nothing(
    line: LaidLine, flow: float, joint: float
) -> None:
    whole = steady_flow(line, flow)
    first, second = line.pipes.runs
    split = schedule_pipes([(0.0, first.pipe), (joint, first.pipe), (612.5, second.pipe)], 1200.0)
    parts = steady_flow(line.with_pipes(split), flow)
    assert parts.head_loss_m == pytest.approx(whole.head_loss_m, rel=1e-12)
    assert np.allclose(parts.hydraulic_grade_m, whole.hydraulic_grade_m, rtol=0, atol=1e-9)


@ANY_LINE
@given(head=st.floats(1e-5, 500.0))
def test_line_capacity_m3_s__loses_the_whole_head(line: LaidLine, head: float) -> None:
    line = at_head(line, head)
    lost = line_resistance(line).head_loss_m(line_capacity_m3_s(line))
    assert lost == pytest.approx(line.gross_head_m, rel=1e-11)


@ANY_LINE
@given(flow=st.floats(1e-3, 0.3))
def test_line_capacity_m3_s__inverse_of_head_loss(line: LaidLine, flow: float) -> None:
    head = line_resistance(line).head_loss_m(flow)
    assert line_capacity_m3_s(at_head(line, head)) == pytest.approx(flow, rel=1e-9)


@pytest.mark.parametrize("head", [0.0, -3.0])
def test_line_capacity_m3_s__no_fall_no_flow(line: LaidLine, head: float) -> None:
    assert line_capacity_m3_s(at_head(line, head)) == 0.0


def test_line_capacity_m3_s__not_a_number(line: LaidLine) -> None:
    with pytest.raises(InputError, match="gross head"):
        line_capacity_m3_s(at_head(line, math.nan))


def test_line_capacity_m3_s__new_pipe_carries_more(line: LaidLine) -> None:
    assert line_capacity_m3_s(line, new=True) > 1.02 * line_capacity_m3_s(line)


def test_line_resistance__is_gathered_once(line: LaidLine) -> None:
    assert line_resistance(line) is line_resistance(line)
    assert line_resistance(line, new=True) is line_resistance(line, new=True)
    assert line_resistance(line) is not line_resistance(line, new=True)


def test_steady_flow__still_water_is_the_static_line(line: LaidLine) -> None:
    still = steady_flow(line, 0.0)
    assert np.array_equal(still.flowing_head_m, line.static_head_m)
    assert still.head_loss_m == 0.0
    assert still.findings == ()


def test_steady_flow__bends_and_joint_step_the_grade_line(line: LaidLine) -> None:
    with_bends = steady_flow(line, 0.03)
    straight = steady_flow(replace(line, bends=(), bend_k=np.zeros(0)), 0.03)
    lost = straight.hydraulic_grade_m - with_bends.hydraulic_grade_m
    steps = np.diff(lost)
    assert np.flatnonzero(steps > 1e-9).tolist() == [39, 89, 199]
    g = line.water.gravity_m_s2
    expected = line.bend_k * with_bends.velocity_m_s[line.bend_index] ** 2 / (2 * g)
    assert steps[[39, 89, 199]] == pytest.approx(expected)
    # the bore changes at 612.5 m, between stations: the next one at 615 m has the new velocity
    assert with_bends.velocity_m_s[122] < with_bends.velocity_m_s[123]
    assert with_bends.velocity_m_s[123] == with_bends.velocity_m_s[-1]


def test_steady_flow__own_sum_of_losses_is_spread_and_replaces_bends(line: LaidLine) -> None:
    uniform = line.with_pipes(schedule_pipes([(0.0, line.pipes.runs[0].pipe)], 1200.0))
    none = steady_flow(replace(uniform, local_k=0.0), 0.03)
    some = steady_flow(replace(uniform, local_k=6.0), 0.03)
    velocity_head = none.velocity_m_s[0] ** 2 / (2 * line.water.gravity_m_s2)
    assert none.local_m == 0.0
    assert some.local_m == pytest.approx(6.0 * velocity_head)
    lost = none.hydraulic_grade_m - some.hydraulic_grade_m
    share = line.slope_station_m / line.slope_station_m[-1]
    assert lost == pytest.approx(6.0 * velocity_head * share, abs=1e-9)


def test_steady_flow__friction_goes_along_the_slope(line: LaidLine) -> None:
    flat = steady_flow(of_lengths(line, line.station_m), 0.03)
    steep = steady_flow(line, 0.03)
    assert steep.friction_m == pytest.approx(1.01 * flat.friction_m)
    assert steep.local_m == pytest.approx(flat.local_m)


def test_steady_flow__transition_is_said(line: LaidLine) -> None:
    slow = steady_flow(line, 0.0006)
    assert {finding.code for finding in slow.findings} == {"transition_flow"}
    assert [finding.station_m for finding in slow.findings] == [
        reach.from_m for reach in slow.reaches if 2000 < reach.reynolds < 4000
    ]


@pytest.mark.parametrize("flow", [-0.01, math.nan, math.inf])
def test_steady_flow__bad_flow(line: LaidLine, flow: float) -> None:
    with pytest.raises(InputError, match="design flow"):
        steady_flow(line, flow)


def test_steady_flow__arrays_are_read_only(line: LaidLine) -> None:
    got = steady_flow(line, 0.03)
    for array in (got.hydraulic_grade_m, got.flowing_head_m, got.velocity_m_s):
        assert not array.flags.writeable
        assert array.dtype == np.float64
