"""Cutting a line so that all its pipes share one time step."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.errors import InputError, PipeError
from routing.flow import steady_flow
from routing.flow.surge import SurgeInputs, run_surge
from routing.flow.surge.grid import segment_counts, wave_grid
from routing.laid_line import Levels


@given(travel=st.lists(st.floats(0.02, 5.0), min_size=1, max_size=6), least=st.integers(20, 300))
@settings(deadline=None)
def test_segment_counts__even_and_within_tolerance(travel: list[float], least: int) -> None:
    times = np.array(travel)
    counts, step_s = segment_counts(times, least)
    assert counts.sum() % 2 == 0
    # each pipe's share is rounded, by half a segment at most
    assert counts.sum() >= least - 0.5 * len(travel)
    change = np.abs(times / (counts * step_s) - 1.0)
    assert change.max() <= 0.05 + 1e-9
    if travel == [travel[0]]:
        assert change.max() < 1e-12


def test_wave_grid__real_line(hill: dict[str, Any]) -> None:
    grid = wave_grid(SurgeInputs(**hill))
    assert np.abs(grid.speed_change).max() <= 0.01
    # one wave, one segment, one step, in each pipe
    cuts = np.diff(grid.slope_m)
    joint = grid.slope_m[np.argmin(np.abs(grid.slope_m - 1.01 * 612.5))]
    assert joint == pytest.approx(1.01 * 612.5, abs=1e-9)
    speed = np.where(grid.slope_m[1:] <= joint + 1e-9, *grid.wave_speed_m_s)
    assert cuts == pytest.approx(speed * grid.step_s, rel=1e-9)
    assert grid.slope_m[-1] == 1.01 * 1200.0
    # nodes see the summit, though none may stand on it
    assert grid.pipe_m.max() >= hill["line"].pipe_m[135:145].max()


def test_wave_grid__loses_the_head_of_the_steady_flow(hill: dict[str, Any]) -> None:
    inputs = SurgeInputs(**hill, new_pipe=False)
    grid = wave_grid(inputs)
    flow = steady_flow(inputs.line, 0.02)
    assert grid.loss_per_square * 0.02**2 == pytest.approx(flow.head_loss_m, rel=1e-12)
    result = run_surge(inputs)
    # before the valve moves, the lowest head is at most the running one
    assert np.all(result.lowest_head_m <= flow.flowing_head_m + 0.02)


def test_surge_inputs__refuse_what_cannot_be(hill: dict[str, Any]) -> None:
    for change, error in (
        ({"flow_m3_s": 0.0}, InputError),
        ({"flow_m3_s": 5.0}, InputError),
        (
            {"line": replace(hill["line"], levels=Levels(intake_m=402.0, outlet_m=402.0))},
            InputError,
        ),
        ({"least_segments": 5}, InputError),
        ({"duration_s": -1.0}, InputError),
        ({"duration_s": 1e9}, InputError),
        ({"darcy_factor": -0.01}, InputError),
        ({"wave_speed_m_s": (300.0,)}, InputError),
        ({"wave_speed_m_s": (300.0, 2000.0)}, PipeError),
    ):
        with pytest.raises(error) as caught:
            run_surge(SurgeInputs(**{**hill, **change}))
        assert caught.value.remedy


def test_wave_grid__pipe_parts_first_at_the_highest_place_near_a_node(hill: dict[str, Any]) -> None:
    # A column parts where the pipe stands highest: each inner node has the highest centreline of
    # half a segment on either side, by trying every decimetre; the two ends lie as they lie.
    inputs = SurgeInputs(**hill)
    grid = wave_grid(inputs)
    along = np.linspace(0.0, grid.slope_m[-1], 12_121)
    height = np.interp(along, inputs.line.slope_station_m, inputs.line.pipe_m)
    edges = 0.5 * (grid.slope_m[:-1] + grid.slope_m[1:])
    for k in range(1, grid.slope_m.size - 1):
        near = (along >= edges[k - 1]) & (along <= edges[k])
        assert grid.pipe_m[k] == pytest.approx(height[near].max(), abs=0.02)
        assert grid.pipe_m[k] >= height[near].max() - 1e-9
    assert grid.pipe_m[[0, -1]] == pytest.approx(inputs.line.pipe_m[[0, -1]])
