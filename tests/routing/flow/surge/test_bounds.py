"""The quick bounds against the method of characteristics, over their whole range."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from surge_lines import G, frictionless, opening_in, several_pipes

from routing.errors import InputError
from routing.flow.surge import (
    SurgeReach,
    bound_along_m,
    instant_closure,
    joukowsky_m,
    michaud_m,
    rigid_column_rise_m,
    run_surge,
    surge_bound,
    table_law,
    uniform_closure,
)

COARSE = {"least_segments": 40}


def _friction_for(constant: float, share: float) -> float:
    """Return the friction factor with which the design flow loses ``share`` of the head."""
    velocity = constant * 2.0 * G * 100.0 / 1000.0
    return share * 100.0 * 0.5 / 1000.0 * 2.0 * G / velocity**2


@pytest.mark.parametrize("share", [0.0, 0.1, 0.2])
def test_surge_bound__holds_for_linear_closures(share: float) -> None:
    for constant in np.geomspace(0.1, 15.0, 13).tolist():
        factor = _friction_for(constant, share)
        for slowness in (0.2, 0.5, 1.0, 1.1, 1.4, 1.9, 2.5, 4.0, 8.0, 20.0, 40.0):
            result = run_surge(frictionless(constant, slowness, factor=factor, **COARSE))
            assert result.rise_m <= result.bound.rise_m * 1.001, (constant, slowness)


def test_surge_bound__is_no_more_than_needed() -> None:
    # A bound of twice the truth would hold as well; the worst stays near the truth
    for constant in (0.2, 0.46, 1.0):
        near = min(
            result.bound.rise_m / result.rise_m
            for slowness in (1.5, 2.0, 3.0, 6.0)
            if (result := run_surge(frictionless(constant, slowness, **COARSE)))
        )
        assert 1.0 <= near < 1.4


def test_surge_bound__factor_is_needed_above_one() -> None:
    # With friction of a fifth of the head and a V / (2 g H) near 2.8 the slow formulas fall short
    worst = 0.0
    for constant in (2.0, 2.8, 4.0):
        for slowness in (1.3, 1.9, 2.5):
            factor = _friction_for(constant, 0.2)
            result = run_surge(frictionless(constant, slowness, factor=factor, **COARSE))
            bound = result.bound
            plain = min(bound.joukowsky_m, max(bound.michaud_m, bound.rigid_column_m))
            worst = max(worst, result.rise_m / plain)
    assert 1.03 < worst <= 1.25


@pytest.mark.parametrize("constant", [0.1, 0.46, 1.0, 4.0])
def test_bound_along_m__holds_at_every_station(constant: float) -> None:
    for slowness in (0.2, 0.5, 1.0, 1.5, 2.0, 2.1, 3.0, 6.0, 15.0):
        result = run_surge(frictionless(constant, slowness, **COARSE))
        rise = result.highest_head_m - result.static_head_m
        # A station takes the worse of two nodes, half a percent of the line apart.
        assert np.all(rise <= result.bound_rise_m + 0.02 * result.bound.rise_m + 0.03 * rise.max())


def test_bound_along_m__fast_closure_does_not_taper_to_the_intake() -> None:
    # aV/(2 g H) = 0.46, closed in half the critical time: half-way up the line sees all of the
    # rise; a straight taper would promise half
    result = run_surge(frictionless(0.46, 0.5))
    rise = result.highest_head_m - result.static_head_m
    middle = result.station_m.size // 2
    instant = 2.0 * 0.46 * 100.0
    assert rise[middle] == pytest.approx(instant, rel=1e-3)
    assert result.bound_rise_m[middle] >= rise[middle] * 0.999
    assert 0.5 * result.bound.rise_m < 0.6 * rise[middle]
    # an instant closure: all but the very first stretch, the bound from where a wave is thrown back
    # later than a tenth of a second, 50 m here
    blocked = run_surge(frictionless(0.46, 0.0, law=instant_closure()))
    high = blocked.highest_head_m - blocked.static_head_m
    assert np.all(high[1:] > 0.99 * instant)
    assert np.all(blocked.bound_rise_m[2:] >= 0.999 * high[2:])


def test_bound_along_m__nothing_rises_at_the_reservoir() -> None:
    # The reservoir holds its level. A stop of the flow in 0.1 s is the front: a station 25 m from
    # it, at 1000 m/s, sees the answer after half that time, so half of the rise; as the waves have
    # it that are followed for that very law, with segments of 5 m.
    for slowness in (0.0, 0.5, 1.5, 3.0):
        result = run_surge(frictionless(0.46, slowness, **COARSE))
        assert result.bound_rise_m[0] == 0.0
    front = run_surge(frictionless(0.46, 0.05, least_segments=200))
    bound = run_surge(frictionless(0.46, 0.0, least_segments=200)).bound_rise_m
    rise = front.highest_head_m - front.static_head_m
    assert front.law.stroke_s == pytest.approx(0.1)
    assert bound[1] == pytest.approx(0.5 * bound[-1])
    assert rise[1] <= bound[1] * 1.2
    assert rise[2] <= bound[2] * 1.001


def test_bound_along_m__slow_closure_tapers_with_travel_time() -> None:
    # alike: a / A is the same, as for a stiff wide pipe before a soft narrow one
    fast = SurgeReach(length_m=500.0, wave_speed_m_s=1000.0, velocity_m_s=0.25, area_m2=0.4)
    slow = SurgeReach(length_m=500.0, wave_speed_m_s=250.0, velocity_m_s=1.0, area_m2=0.1)
    bound = surge_bound((fast, slow), static_head_m=80.0, closing_s=30.0)
    along = bound_along_m(bound, np.array([0.0, 500.0, 1000.0]), (fast, slow))
    assert not bound.unlike_pipes
    assert along / bound.rise_m == pytest.approx([0.0, 1.1 * 0.2, 1.0])


@pytest.mark.parametrize("constant", [0.2, 0.46, 1.0, 3.0])
def test_surge_bound__lowest_head_after_closure(constant: float) -> None:
    # the same amount below static, or the running line if that is lower
    for slowness in (0.3, 1.0, 2.5, 6.0):
        result = run_surge(frictionless(constant, slowness, **COARSE))
        fall = result.static_head_m - result.lowest_head_m
        velocity_head = (constant * 2.0 * G * 0.1) ** 2 / (2.0 * G)
        assert np.all(fall <= result.bound_rise_m * 1.03 + velocity_head + 1e-6)


@pytest.mark.parametrize("constant", [0.1, 0.46, 1.0, 3.0, 10.0])
def test_surge_bound__holds_for_openings(constant: float) -> None:
    for slowness in (0.0, 0.5, 1.0, 1.5, 3.0, 8.0):
        law = opening_in(slowness * 2.0)
        result = run_surge(frictionless(constant, 0.0, law=law, **COARSE))
        fall = 100.0 - result.record.level_m.min()
        assert fall <= result.bound.fall_m * 1.001
        assert fall <= 100.0


@given(
    count=st.integers(2, 4),
    bores=st.lists(st.floats(0.15, 0.45), min_size=4, max_size=4),
    speeds=st.lists(st.sampled_from([250.0, 300.0, 400.0, 1000.0]), min_size=4, max_size=4),
    lengths=st.lists(st.integers(1, 6), min_size=4, max_size=4),
    slowness=st.sampled_from([0.0, 0.4, 1.0, 1.6, 3.0, 8.0]),
    factor=st.sampled_from([0.0, 0.01, 0.02]),
)
@settings(max_examples=150, deadline=None)
def test_surge_bound__several_pipes(
    count: int,
    bores: list[float],
    speeds: list[float],
    lengths: list[int],
    slowness: float,
    factor: float,
) -> None:
    long = [100.0 * each for each in lengths[:count]]
    critical = 2.0 * sum(a / b for a, b in zip(long, speeds[:count], strict=True))
    result = run_surge(
        several_pipes(
            tuple(long), tuple(bores[:count]), tuple(speeds[:count]), level_m=400.0,
            flow_m3_s=2.0 * math.pi / 4.0 * min(bores[:count]) ** 2,
            law=uniform_closure(slowness * critical), darcy_factor=factor, least_segments=60,
        )
    )  # fmt: skip
    # Speeds change by up to 1 % for the common time step.
    slack = 1.0 + np.abs(result.speed_change).max()
    rise = result.highest_head_m - result.static_head_m
    if slowness > 1.0:
        assert np.all(rise <= result.bound_rise_m * slack + 0.03 * result.bound.rise_m)
    else:
        first_swing = result.record.time_s <= result.critical_s
        peak = result.record.level_m[first_swing].max() - 400.0
        assert peak <= result.bound.rise_m * slack
        assert rise.max() <= 2.3 * result.bound.rise_m * slack


@pytest.mark.parametrize(
    ("factor", "least", "most"), [(0.0, 2.0, 2.3), (0.02, 1.0, 1.8)], ids=["none", "usual"]
)
def test_surge_bound__later_swings_pass_it_by_as_much_as_is_said(
    factor: float, least: float, most: float
) -> None:
    # The worst of a scan of 3 000 lines, by this tool's own method of characteristics.
    bores, speeds = (0.442, 0.430, 0.237, 0.185), (400.0, 1000.0, 400.0, 300.0)
    result = run_surge(
        several_pipes(
            (200.0, 200.0, 600.0, 500.0), bores, speeds, level_m=400.0,
            flow_m3_s=2.0 * math.pi / 4.0 * min(bores) ** 2,
            law=instant_closure(), darcy_factor=factor, least_segments=60,
        )
    )  # fmt: skip
    times = (result.whole_head_m - result.static_head_m).max() / result.bound.rise_m
    assert least <= times <= most


def test_bound_along_m__wide_pipe_below_a_narrow_one() -> None:
    # In a slow closure the head rises where the water's inertia is: in the narrow pipe up the hill
    inputs = several_pipes(
        (300.0, 500.0), (0.15, 0.4), (1000.0, 1000.0), level_m=400.0, flow_m3_s=0.035,
        law=uniform_closure(16.0), darcy_factor=0.0,
    )  # fmt: skip
    result = run_surge(inputs)
    joint = int(np.searchsorted(inputs.line.station_m, 300.0))
    rise = result.highest_head_m[joint] - result.static_head_m[joint]
    # more than its share of the travel time
    assert rise > 1.1 * 0.375 * result.bound.rise_m
    assert rise <= result.bound_rise_m[joint]


@given(
    first=st.floats(0.5, 20.0), share=st.floats(0.05, 0.95), second=st.floats(0.5, 40.0),
    constant=st.floats(0.1, 4.0),
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_surge_bound__holds_for_two_stages(
    first: float, share: float, second: float, constant: float
) -> None:
    law = table_law([0.0, first, first + second], [1.0, share, 0.0])
    result = run_surge(frictionless(constant, 0.0, law=law, **COARSE))
    assert result.rise_m <= result.bound.rise_m * 1.001


def test_surge_bound__factor_begins_above_one() -> None:
    for constant, factor in ((0.99, 1.0), (1.01, 1.25)):
        velocity = constant * 2.0 * G * 100.0 / 1000.0
        reach = SurgeReach(
            length_m=1000.0, wave_speed_m_s=1000.0, velocity_m_s=velocity, area_m2=0.2
        )
        bound = surge_bound((reach,), static_head_m=100.0, closing_s=12.0)
        assert bound.rise_m == pytest.approx(factor * bound.michaud_m)


def test_surge_bound__every_narrowing_uphill_throws_back() -> None:
    # impedances 2, 1, 2, 1 from the intake: 1 + 2 (2 - 1)/(2 + 1) at each of two joints
    wide, narrow = (
        SurgeReach(length_m=200.0, wave_speed_m_s=1000.0, velocity_m_s=speed, area_m2=0.02 / speed)
        for speed in (1.0, 2.0)
    )
    line = (narrow, wide, narrow, wide)
    bound = surge_bound(line, static_head_m=100.0, closing_s=0.0)
    assert bound.rise_m == pytest.approx(1000.0 / G * (5.0 / 3.0) ** 2)


def test_surge_bound__stroke_is_not_the_closing_time() -> None:
    # A gate valve of 30 s stroke cuts the flow in the last part: the bound for 30 s is unsafe
    gate = run_surge(frictionless(0.46, 0.0, law=uniform_closure(30.0, "gate")))
    taken_for_stroke = surge_bound(
        (SurgeReach(length_m=1000.0, wave_speed_m_s=1000.0,
                    velocity_m_s=0.46 * 2.0 * G * 0.1, area_m2=math.pi / 16.0),),
        static_head_m=100.0, closing_s=30.0,
    )  # fmt: skip
    assert gate.rise_m > 2.0 * taken_for_stroke.rise_m
    assert gate.rise_m <= gate.bound.rise_m
    assert gate.effective_closing_s < 0.3 * 30.0


def test_surge_bound__jump_counts_as_instant() -> None:
    law = table_law([0.0, 50.0], [0.6, 0.0])
    result = run_surge(frictionless(0.46, 0.0, law=law, **COARSE))
    assert result.bound.governs == "instant closure"
    assert result.rise_m <= result.bound.rise_m


def test_surge_bound__falls_with_closing_time() -> None:
    reach = SurgeReach(length_m=800.0, wave_speed_m_s=300.0, velocity_m_s=1.5, area_m2=0.03)
    for head in (10.0, 60.0, 250.0):
        rises = [
            surge_bound((reach,), static_head_m=head, closing_s=time).rise_m
            for time in np.linspace(0.0, 60.0, 200).tolist()
        ]
        assert np.all(np.diff(rises) <= 1e-12)
        assert np.all(np.isfinite(rises))


@given(x=st.floats(0.0, 20.0))
def test_rigid_column__rise_is_the_root_of_its_equation(x: float) -> None:
    # dH^2 - x^2 H0 dH - x^2 H0^2 = 0
    rise = rigid_column_rise_m(static_head_m=50.0, column_ratio=x)
    assert rise**2 - x * x * 50.0 * rise == pytest.approx((50.0 * x) ** 2, rel=1e-9, abs=1e-9)


def test_bounds__refuse_what_cannot_be() -> None:
    for call in (
        lambda: joukowsky_m(wave_speed_m_s=0.0, velocity_change_m_s=1.0),
        lambda: joukowsky_m(wave_speed_m_s=300.0, velocity_change_m_s=math.nan),
        lambda: michaud_m(length_velocity_m2_s=1.0, closing_s=0.0),
        lambda: rigid_column_rise_m(static_head_m=-1.0, column_ratio=0.1),
        lambda: surge_bound((), static_head_m=10.0, closing_s=1.0),
    ):
        with pytest.raises(InputError):
            call()
