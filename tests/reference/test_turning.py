"""Turns and degrees of a drain's valve, against areas measured on a grid and against figures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.errors import InputError
from routing.works.turning import ball_angle_deg, gate_travel, turning_of

GRID = np.stack(np.meshgrid(np.linspace(-1, 1, 1601), np.linspace(-1, 1, 1601)))
BORE = GRID[0] ** 2 + GRID[1] ** 2 <= 1.0
"""Points of a bore of radius 1."""


@pytest.mark.parametrize("lift", [0.05, 0.2, 0.4, 0.6, 0.9])
def test_gate__open_area_counted_on_a_grid(lift: float) -> None:
    gate = GRID[0] ** 2 + (GRID[1] - 2.0 * lift) ** 2 <= 1.0
    share = float((BORE & ~gate).sum() / BORE.sum())
    assert gate_travel(share) == pytest.approx(lift, abs=0.002)


@pytest.mark.parametrize("angle", [15.0, 30.0, 45.0, 60.0, 80.0])
def test_ball__mouths_counted_on_a_grid(angle: float) -> None:
    """The mouth of the ball, a circle at 45 degrees on its sphere, seen along the pipe."""
    turned = math.radians(90.0 - angle)
    across = (GRID[0] - math.sin(turned)) / math.cos(turned)
    mouth = float((BORE & (across**2 + GRID[1] ** 2 <= 1.0)).sum() / BORE.sum())
    # Two mouths in a row, of which the pipe behind counts one velocity head.
    share = (2.0 / mouth**2 - 1.0) ** -0.5
    assert ball_angle_deg(share) == pytest.approx(angle, abs=0.4)


def test_ball__half_a_turn_of_the_lever_passes_a_quarter_to_a_third() -> None:
    """Flow coefficients of ball valves at 45 degrees: 25 to 32 % of open, from memory."""
    assert ball_angle_deg(0.25) < 45.0 < ball_angle_deg(0.32)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_turning__more_is_never_less(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert gate_travel(low) <= gate_travel(high)
    assert ball_angle_deg(low) <= ball_angle_deg(high) <= 90.0


@pytest.mark.parametrize(("bore_mm", "inches"), [(80, 3), (100, 4), (125, 5), (150, 6), (200, 8),
                                                 (250, 10), (300, 12), (400, 16)])  # fmt: skip
def test_gate__three_turns_an_inch_and_two(bore_mm: float, inches: float) -> None:
    """Municipal gate valves, from memory: 4 in 14, 6 in 20, 8 in 26."""
    found = turning_of(bore_mm / 1e3, 1.0)
    assert (found.valve, found.full_turns) == ("gate", 3 * inches + 2)
    assert found.turns == pytest.approx(found.full_turns)


def test_turning__small_drains_have_a_lever() -> None:
    found = turning_of(0.05, 0.5)
    assert (found.valve, found.turns, found.full_turns) == ("ball", None, None)
    assert turning_of(0.05, 0.0).angle_deg == 0.0
    assert turning_of(0.065, 0.0).turns == 0.0
    with pytest.raises(InputError, match="share"):
        gate_travel(1.2)
