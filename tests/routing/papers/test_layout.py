"""Ticks and label places."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.papers.layout import nice_step, spread, ticks, wrapped


@given(st.floats(1e-6, 1e7), st.integers(1, 40))
def test_nice_step__few_enough_and_round(span: float, most: int) -> None:
    step = nice_step(span, most)
    assert span / step <= most * (1 + 1e-6)
    lead = step / 10.0 ** np.floor(np.log10(step * (1 + 1e-9)))
    assert min(abs(lead - whole) for whole in (1.0, 2.0, 5.0)) < 1e-6


def test_nice_step__nothing_to_span() -> None:
    assert nice_step(0.0, 5) == 1.0


def test_ticks__ends_included() -> None:
    assert ticks(0.0, 100.0, 10) == pytest.approx([10.0 * i for i in range(11)])


@given(st.lists(st.floats(0.0, 500.0), min_size=1, max_size=40), st.floats(1.0, 60.0))
@settings(max_examples=80)
def test_spread__in_order_apart_and_inside(wanted: list[float], gap: float) -> None:
    wanted = sorted(wanted)
    places = np.array(spread(wanted, gap, 0.0, 500.0))
    room = min(gap, 500.0 / max(len(wanted) - 1, 1))
    assert (np.diff(places) >= room - 1e-6).all()
    assert places[0] >= -1e-6
    assert places[-1] <= 500.0 + 1e-6


@given(st.lists(st.floats(50.0, 450.0), min_size=2, max_size=6))
@settings(max_examples=30, deadline=None)
def test_spread__least_squares_as_a_general_solver_finds(wanted: list[float]) -> None:
    from scipy.optimize import minimize

    wanted = sorted(wanted)
    target = np.array(wanted)
    ours = np.array(spread(wanted, 20.0, -1e6, 1e6))
    rules = [
        {"type": "ineq", "fun": lambda p, i=i: p[i + 1] - p[i] - 20.0}
        for i in range(len(wanted) - 1)
    ]
    best = minimize(
        lambda p: ((p - target) ** 2).sum(),
        target[0] + 20.0 * np.arange(len(target)),
        constraints=rules,
        method="SLSQP",
    )
    assert ((ours - target) ** 2).sum() <= best.fun + 1e-3


@given(st.text(max_size=200), st.integers(1, 30))
def test_wrapped__no_line_too_long_and_no_word_lost(text: str, width: int) -> None:
    lines = wrapped(text, width)
    assert all(len(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())
