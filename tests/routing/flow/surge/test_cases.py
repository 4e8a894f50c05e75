"""The ways a flow may be stopped: which envelope, from which state, and what is said of it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from routing.flow.design import design_flow
from routing.flow.surge import (
    SurgeCase,
    blocked_line,
    pipe_wave_speed_m_s,
    surge_assumptions,
    surge_cases,
    uniform_closure,
)
from routing.flow.surge.grid import boiling_head_m
from routing.laid_line import LaidLine
from routing.pipe import schedule_pipes


def _cases(
    line: LaidLine, flow_m3_s: float, closing_s: float | None = None, **more: Any
) -> tuple[SurgeCase, ...]:
    flow = design_flow(line, flow_m3_s)
    law = None if closing_s is None else uniform_closure(closing_s)
    return surge_cases(blocked_line(line, flow), flow, law, **more)


@pytest.fixture
def plain(hill: dict[str, Any]) -> LaidLine:
    """Return the hill in one kind of pipe."""
    line = hill["line"]
    return line.with_pipes(schedule_pipes([(0.0, line.pipes.runs[1].pipe)], 1200.0))


@pytest.mark.parametrize("closing_s", [None, 2.0, 12.0])
def test_surge_cases__the_reservoir_holds_its_level(plain: LaidLine, closing_s: float | None):
    for case in _cases(plain, 0.02, closing_s):
        assert case.rise_m[0] == 0.0
        assert case.highest_head_m[0] == pytest.approx(plain.static_head_m[0])


@pytest.mark.parametrize("flow_m3_s", [0.02, 0.035])
@pytest.mark.parametrize("closing_s", [2.0, 12.0, 60.0])
def test_surge_cases__lowest_is_below_the_flowing_line_and_never_below_vapour(
    hill: dict[str, Any], plain: LaidLine, flow_m3_s: float, closing_s: float
) -> None:
    for line in (plain, hill["line"]):
        flow = design_flow(line, flow_m3_s)
        for case in _cases(line, flow_m3_s, closing_s):
            for state in (flow.aged, flow.new):
                assert np.all(case.lowest_head_m <= state.flowing_head_m)
            # Air presses with 96 to 97 kPa at 340 to 400 m, about 9.8 m of water; the flowing line
            # of this flow stands above the pipe everywhere.
            assert case.lowest_head_m.min() >= -9.9
            assert np.all(case.highest_head_m >= line.static_head_m)


def test_surge_cases__both_states_of_the_pipe_are_in_one_envelope(plain: LaidLine) -> None:
    closing, blocked = _cases(plain, 0.02, 8.0)
    assert (closing.state, blocked.state) == ("new and aged pipe", "new pipe")
    assert closing.result is not None
    assert np.all(closing.rise_m >= closing.result.highest_head_m - plain.static_head_m - 1e-9)
    alone = _cases(plain, 0.02, 8.0, follow=False)[0]
    assert alone.result is None
    assert alone.state == "new pipe, bound"


def test_surge_cases__an_emergency_is_rare_and_not_closed_more_slowly(
    hill: dict[str, Any],
) -> None:
    closing, blocked = _cases(hill["line"], 0.035, 60.0, recurring=True)
    assert (closing.recurring, closing.emergency) == (True, False)
    assert (blocked.recurring, blocked.emergency) == (False, True)
    told = " ".join(each.message for each in blocked.findings)
    assert "column_separation" in [each.code for each in blocked.findings]
    assert "blocked at once" in told
    assert "lose more slowly" not in told + blocked.remedy
    assert "machine shuts" not in told
    assert all(each.severity != "fault" for each in blocked.findings)
    assert blocked.checks == ()
    assert "more slowly" in closing.remedy


def test_surge_cases__after_parting_both_figures_stand(hill: dict[str, Any]) -> None:
    (parted,) = _cases(hill["line"], 0.035)
    assert parted.parted_rise_m is not None
    assert parted.governs is not None
    assert np.array_equal(parted.rise_m, np.maximum(parted.whole_rise_m, parted.parted_rise_m))
    assert not np.allclose(parted.whole_rise_m, parted.parted_rise_m)
    # Held together the water rises within the bound of the first swing and its later ones.
    assert parted.whole_rise_m.max() <= 1.85 * parted.bound.rise_m
    (said,) = [each for each in parted.findings if each.code == "surge_peaks_unreliable"]
    assert "with the water held together" in said.message
    (whole,) = _cases(hill["line"], 0.005)
    assert whole.parted_rise_m is None
    assert whole.governs is None


def test_surge_cases__a_bound_between_unlike_pipes_is_not_silent(hill: dict[str, Any]) -> None:
    line = hill["line"]
    (case,) = _cases(line, 0.02, follow=False)
    (said,) = [each for each in case.findings if each.code == "surge_not_followed"]
    assert (said.severity, "1.8 times" in said.message) == ("warning", True)
    (followed,) = _cases(line, 0.02)
    assert followed.result is not None
    assert "surge_not_followed" not in [each.code for each in followed.findings]
    # Up to 1.6 critical times later swings may pass it, by scans of 3 000 lines.
    for times, told in ((1.58, True), (1.62, False)):
        near = _cases(line, 0.02, times * case.bound.critical_s, follow=False)[0]
        assert ("surge_not_followed" in [each.code for each in near.findings]) == told
    # Slow closures keep to the bound, whatever the pipes.
    slow = _cases(line, 0.02, 60.0, follow=False)[0]
    assert slow.findings == ()


def test_surge_cases__no_head_is_below_that_at_which_water_boils(hill: dict[str, Any]) -> None:
    line = hill["line"]
    for follow in (False, True):
        (case,) = _cases(line, 0.035, follow=follow)
        boils = boiling_head_m(line.pipe_m, line.water)
        assert np.any(line.static_head_m - case.rise_m < boils - 1.0)  # the bound alone goes lower
        assert np.all(case.lowest_head_m >= boils - 1e-9)


def test_surge_cases__wave_speeds_are_those_of_the_pipes(hill: dict[str, Any]) -> None:
    line = hill["line"]
    (case,) = _cases(line, 0.02)
    own = [pipe_wave_speed_m_s(run.pipe, line.water) for run in line.pipes.runs]
    assert case.result is not None
    assert case.result.wave_speed_m_s == pytest.approx(own, rel=1e-12)
    assert np.any(case.result.speed_change != 0.0)


def test_surge_cases__nothing_flows_nothing_surges(plain: LaidLine) -> None:
    assert surge_cases(None, None) == ()
    assert blocked_line(plain, None) is None
    flat = replace(plain, levels=replace(plain.levels, outlet_m=plain.levels.intake_m))
    assert blocked_line(flat, design_flow(flat, 0.02)) is None


def test_surge_assumptions__say_what_is_taken_for_granted(plain: LaidLine) -> None:
    assert surge_assumptions(()) == ()
    alone = surge_assumptions(_cases(plain, 0.02))
    assert "No closing time" in alone[0]
    assert "within 0.1 s" in alone[1]
    given = surge_assumptions(_cases(plain, 0.02, 12.0))
    assert "12 s" in given[0]


def test_surge_cases__one_pipe_whose_water_parts_is_followed_past_its_bound(plain: LaidLine):
    # The bound lets the water boil; what the closing cavities add is in no closed form.
    (bounded,) = _cases(plain, 0.035, follow=False)
    (followed,) = _cases(plain, 0.035)
    assert bounded.parted_rise_m is None
    assert followed.parted_rise_m is not None
    (said,) = [each for each in bounded.findings if each.code == "surge_not_followed"]
    assert "cavities that fall shut" in said.message


def test_surge_cases__the_same_pipe_told_in_two_stretches_is_no_other_pipe(plain: LaidLine):
    pipe = plain.pipes.runs[0].pipe
    twice = plain.with_pipes(schedule_pipes([(0.0, pipe), (480.0, pipe)], 1200.0))
    (one,), (two,) = _cases(plain, 0.035), _cases(twice, 0.035)
    assert two.whole_rise_m.max() == pytest.approx(one.whole_rise_m.max(), rel=0.05)
    # Peaks after parting are an order of size.
    assert two.rise_m.max() == pytest.approx(one.rise_m.max(), rel=0.3)


def test_surge_cases__one_pipe_whose_water_stays_whole_keeps_its_closed_form(plain: LaidLine):
    (case,) = _cases(plain, 0.002)
    assert case.result is None
    assert case.parted_rise_m is None
    assert "surge_not_followed" not in [each.code for each in case.findings]
